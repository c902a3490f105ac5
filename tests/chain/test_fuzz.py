"""Mutated layouts through every verb: a refusal in words or an answer, never anything else.

CHAIN_FUZZ sets how many layouts are tried (a hundred thousand take some hours by hand).
"""

import json
import os
import random
import re
import resource
import tempfile
from pathlib import Path

import pytest

import chain
from chain import LayoutError
from chain.command import main
from components.declaration import KINDS

COUNT = int(os.environ.get("CHAIN_FUZZ", "4000"))
SEED = int(os.environ.get("CHAIN_FUZZ_SEED", "20061"))
DEMOS = Path(__file__).parents[2] / "demo_chains"

VERBS = (
    ["budget"], ["budget", "--json"], ["budget", "--at", "5 GHz"], ["power", "--json"], ["power"],
    ["heat", "--json"], ["heat"], ["check", "--json"], ["check"], ["compare", "--each", "--json"],
    ["compare", "--set", "H1.state=dead", "--json"], ["warm", "--json", "--draws", "4"], ["draw"],
    ["service", "--between", "plate", "mixing", "--json"], ["budget", "--draws", "4", "--json"],
    ["budget", "--settled", "--json"], ["budget", "--warm"],
)

NUMBERS = ("0", "-1", "1e-300", "1e300", "nan", "inf", "1", "0.5", "3", "20", "1e9", "1e-9", "", "07",
           "1_000", "0x10", "½", "1,5", "+5", "1e", "1e400")
UNITS = ("dB", "GHz", "Hz", "K", "mK", "m", "mm", "W", "uW", "dBm", "%", "deg", "ohm", "", "dB/m",
         "dBm/Hz", "K/W", "µW", "MHz", "kg")
WORDS = ("true", "false", "null", "~", "[]", "{}", "[1, 2]", "{a: b}", "*x", "&x y", "!!int 3", "'",
         '"', "\\e[31m", "\x1b[31m", "‮", "on", "off", "dead", "open", "shorted", "bypassed",
         "S1", "R1", "D1.out", "X1.in", "H1", "plate", "mixing", "room", "still", "three-wave", "pump",
         "niobium-titanium-0.86", "cupronickel-2.19", "hold", "1", "out", "in", "common", "<script>")


def bases():
    """Return texts that load: the demos, and a line of every kind's example."""
    texts = [path.read_text() for path in sorted(DEMOS.glob("*.yaml"))]
    texts = [re.sub(r"points: \d+", "points: 5", text) for text in texts] * 3
    for kind in KINDS.values():
        if kind.port_names and not kind.outside:
            example = kind.example.replace("stage: room", "stage: mixing")
            texts.append(
                "band: {start: 5 GHz, stop: 6 GHz, points: 3}\nstages:\n  room: {temperature: 295 K}\n"
                "  plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 2 W}}\n"
                "  mixing: {temperature: 20 mK, cooling: {10 mK: 2 uW, 100 mK: 400 uW}}\n"
                f"lines:\n  main:\n    - {{id: S1, kind: port, stage: room}}\n    - {example}\n"
                "    - {id: R1, kind: port, stage: room}\n"
                "tones: {pump: {into: S1, frequency: 11 GHz, power: 1 nW}}\n"
                "signals: {main: {from: S1, to: R1}}\n"
            )
    return [text for text in texts if _loads(text)]


def _loads(text):
    try:
        _layout(text)
    except LayoutError:
        return False
    return True


def _layout(text):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "l.yaml"
        path.write_text(text)
        return chain.load(path, allow=[DEMOS])


def mutated(text, draw):
    """Return a text with a few random edits of tokens, values and structure."""
    for _ in range(draw.choice((1, 1, 1, 2, 3, 6))):
        how = draw.choice((0, 1, 2, 3, 4, 5, 6, 7, 8, 8, 8, 8))
        tokens = list(re.finditer(r"[^\s{},:\[\]]+", text))
        numbers = list(re.finditer(r"(?<![\w.-])[-+]?\d[\d.e+-]*", text))
        lines = text.split("\n")
        if how == 0 and numbers:
            at = draw.choice(numbers)
            text = text[: at.start()] + draw.choice(NUMBERS) + text[at.end() :]
        elif how == 8 and numbers:
            at = draw.choice(numbers)
            scaled = f"{10 ** draw.uniform(-4, 4) * draw.uniform(1, 10):.3g}"
            text = text[: at.start()] + scaled + text[at.end() :]
        elif how == 1 and numbers:
            at = draw.choice(numbers)
            value = f"{draw.choice(NUMBERS)} {draw.choice(UNITS)}"
            text = text[: at.start()] + value + text[at.end() :]
        elif how == 2 and tokens:
            at = draw.choice(tokens)
            text = text[: at.start()] + draw.choice(WORDS) + text[at.end() :]
        elif how == 3 and tokens:
            one, other = draw.choice(tokens), draw.choice(tokens)
            text = text[: one.start()] + other.group() + text[one.end() :]
        elif how == 4 and len(lines) > 2:
            del lines[draw.randrange(len(lines))]
            text = "\n".join(lines)
        elif how == 5:
            lines.insert(draw.randrange(len(lines)), draw.choice(lines))
            text = "\n".join(lines)
        elif how == 6 and len(lines) > 2:
            i, j = draw.randrange(len(lines)), draw.randrange(len(lines))
            lines[i], lines[j] = lines[j], lines[i]
            text = "\n".join(lines)
        elif text:
            at = draw.randrange(len(text))
            text = text[:at] + draw.choice((",", ":", "{", "}", "[", "]", "\t", " ", "#", "-", "é", "%")) \
                + text[at + draw.randrange(2) :]
    return text


def refuse_constants(name):
    raise AssertionError(f"{name} in JSON")


def tried(words, text, path, capsys):
    """Run one verb on one text and check all that has to hold; return the exit status."""
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    status = main([words[0], str(path), "--allow", str(DEMOS), *words[1:]])
    out, err = capsys.readouterr()
    assert status in (0, 1, 2), (words, status)
    if status == 2:
        said = [line for line in err.splitlines() if line and not line.startswith("and ")]
        assert (said and not out) or (words[0] == "check" and out), (words, err)
        for line in said:
            assert re.match(r".+:\d+:\d+: .+; .+", line), (words, line)
    elif "--json" in words:
        found = json.loads(out, parse_constant=refuse_constants)
        assert {"format", "warnings", "laws"} <= found.keys()
        for name, value in found["laws"].items():
            assert value is None or value < 1e-6 or any(
                "missed" in text for text in found["warnings"]), (words, name, value)
    return status


@pytest.mark.long
def test_every_verb_answers_or_refuses_in_words(tmp_path, capsys):
    draw, texts = random.Random(SEED), bases()
    path, counts = tmp_path / "fuzz.yaml", {}
    for number in range(COUNT):
        text = mutated(draw.choice(texts), draw)
        words = draw.choice(VERBS)
        try:
            status = tried(words, text, path, capsys)
        except BaseException:
            kept = Path(os.environ.get("CHAIN_FUZZ_KEEP", tmp_path)) / f"failed-{number}.yaml"
            kept.write_bytes(text.encode("utf-8", "surrogatepass"))
            with capsys.disabled():
                print(f"\n{' '.join(words)} on {kept}")
            raise
        counts[status] = counts.get(status, 0) + 1
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with capsys.disabled():
        print(f"\n{COUNT} layouts by exit status: {dict(sorted(counts.items()))}, {peak // 1024} MB")
    assert counts.get(0, 0) > COUNT // 10, "too few of them load to try anything"
