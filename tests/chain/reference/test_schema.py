"""The JSON Schema: valid in itself, right on what loads, and marking what it can see to be wrong."""

import json
import re

import jsonschema
import pytest

from chain.errors import LayoutError
from chain.reading import load
from chain.reading.nodes import Mapping, Sequence, compose
from chain.reading.problems import Problems
from chain.reference.schema import layout_schema
from components.declaration import KINDS

DEMOS = ["demo_chains/haloscope.yaml", "demo_chains/qubit_row.yaml",
         "demo_chains/paramp_line.yaml"]

GOOD = """\
format: 1
title: a line
note: every section is there
band: {start: 4 GHz, stop: 8 GHz, points: 11}
include: []
stages:
  room:   {temperature: 295 K}
  plate:  {temperature: 3.8 K, cooling: {3.5 K: 0.8 W, 4.2 K: 1.5 W}, other: {wires: 3 mW}}
  mixing: {temperature: 15 mK, cooling: {10 mK: 2 uW, 20 mK: 15 µW}}
parts:
  pad: {kind: attenuator, loss: 20 dB +/- 0.5 dB}
coax:
  ours: {centre: {material: stainless-304, diameter: 0.2 mm}, dielectric: {material: ptfe,
    diameter: 0.66 mm}, outer: {material: stainless-304, diameter: 0.86 mm},
    loss: {1 GHz: 3 dB/m, 10 GHz: 10 dB/m}}
materials:
  mine: {conductivity: {coefficient: 0.05 W/(m K), exponent: 1.2, from: 0.1 K, to: 300 K},
    resistivity: 49 uohm cm, permittivity: 2.1}
lines:
  main:
    - {id: S1, kind: port, stage: room, emits: -150 dBm/Hz}
    - {id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: ours, via: {room: 0.1 m}}
    - {id: A1, part: pad, stage: plate, warm: {loss: 19.8 dB}, cost: 120 EUR, tag: 7}
    - {id: A2, kind: attenuator, stage: mixing, loss: {4 GHz: 9 dB, 8 GHz: 10 dB, outside: hold}}
    - {id: D1, kind: device, stage: mixing, reversed: true}
    - {id: C1, kind: coupler, stage: mixing, coupling: 20 dB, loads: [isolated],
       connectors: {in: SMA male}}
    - {id: H1, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K,
       band: {start: 3 GHz, stop: 9 GHz}, state: off}
    - {id: R1, kind: port, stage: room}
  side:
    - {join: C1.coupled}
    - {id: T1, kind: termination, temperature: 20 mK}
  drive:
    copies: 3
    except: {2: {P: {loss: 30 dB}}}
    elements:
      - {id: E, kind: port, stage: room}
      - {id: P, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: Q, kind: device, stage: mixing, reflects: true}
tones:
  probe: {into: S1, frequency: 6 GHz, power: -30 dBm, count: 4, spacing: 10 MHz}
  other: {into: E, frequency: 5 GHz, arriving: {Q.in: -100 dBm}}
signals:
  main: {from: D1.out, to: R1}
  drive: {from: E, to: Q.in}
accept: {some-code: it is meant so}
margins: {isolation: 12 dB}
"""

MISTAKES = [
    ("format: 1", "format: 2"),
    ("title: a line", "titel: a line"),
    ("start: 4 GHz", "start: 4"),
    ("start: 4 GHz", "begin: 4 GHz"),
    ("stop: 8 GHz, points: 11", "stop: 8 K, points: 11"),
    ("points: 11", "points: 0"),
    ("points: 11", "points: 1.5"),
    ("room:   {temperature: 295 K}", "room:   {temperature: 295}"),
    ("room:   {temperature: 295 K}", "room:   {}"),
    ("{3.5 K: 0.8 W, 4.2 K: 1.5 W}", "{3.5 K: 0.8 K, 4.2 K: 1.5 W}"),
    ("{3.5 K: 0.8 W, 4.2 K: 1.5 W}", "{3.5 W: 0.8 W, 4.2 K: 1.5 W}"),
    ("{3.5 K: 0.8 W, 4.2 K: 1.5 W}", "1 W"),
    ("other: {wires: 3 mW}", "other: {wires: 3}"),
    ("pad: {kind: attenuator, loss: 20 dB +/- 0.5 dB}", "pad: {loss: 20 dB}"),
    ("loss: 20 dB +/- 0.5 dB", "lose: 20 dB"),
    ("loss: 20 dB +/- 0.5 dB", "loss: 20 dB +/- half"),
    ("diameter: 0.2 mm", "diameter: 0.2"),
    ("1 GHz: 3 dB/m", "1 GHz: 3 dB"),
    ("resistivity: 49 uohm cm", "resistivity: 49 uohm"),
    ("permittivity: 2.1", "permittivity: 0.5"),
    ("exponent: 1.2", "exponents: 1.2"),
    ("kind: port, stage: room, emits: -150 dBm/Hz", "kind: prot, stage: room"),
    ("emits: -150 dBm/Hz", "emits: -150 dBm"),
    ("{id: S1,", "{id: 1S,"),
    ("{id: S1, kind", "{kind"),
    ("from: room, to: plate, length", "from: room, length"),
    ("length: 0.6 m", "length: 60"),
    ("via: {room: 0.1 m}", "via: {room: 0.1 s}"),
    ("part: pad, stage: plate", "part: pad, stage: plate, colour: red"),
    ("warm: {loss: 19.8 dB}", "warm: 19.8 dB"),
    ("cost: 120 EUR", "cost: 120"),
    ("outside: hold", "outside: extend"),
    ("{4 GHz: 9 dB", "{4: 9 dB"),
    ("reversed: true", "reversed: maybe"),
    ("coupling: 20 dB, loads", "loads"),
    ("loads: [isolated]", "loads: {isolated: 1}"),
    ("connectors: {in: SMA male}", "connectors: SMA male"),
    ("band: {start: 3 GHz, stop: 9 GHz}", "band: {start: 3 GHz}"),
    ("state: off", "state: broken"),
    ("{join: C1.coupled}", "{join: C1.coupled, loss: 1 dB}"),
    ("kind: termination, temperature: 20 mK", "kind: termination"),
    ("copies: 3", "copies: 0"),
    ("copies: 3", "copies: many"),
    ("except: {2:", "except: {second:"),
    ("{2: {P: {loss: 30 dB}}}", "{2: {P: {los: 30 dB}}}"),
    ("    elements:\n      - {id: E", "    parts:\n      - {id: E"),
    ("into: S1, frequency", "frequency"),
    ("power: -30 dBm", "power: -30 dB"),
    ("arriving: {Q.in: -100 dBm}", "arriving: {}"),
    ("main: {from: D1.out, to: R1}", "main: {from: D1.out}"),
    ("isolation: 12 dB", "isolation: 12"),
    ("isolation: 12 dB", "insulation: 12 dB"),
]


@pytest.fixture(scope="module")
def validator():
    schema = layout_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def as_an_editor_reads(text):
    """Return YAML text as values, by the core schema of YAML 1.2, which editors follow."""
    problems = Problems()
    node = compose(text, "l.yaml", problems)
    problems.refuse_if_any()
    return _plain(node)


def _plain(node):
    if isinstance(node, Mapping):
        return {key: _plain(value) for key, (_, value) in node.entries.items()}
    if isinstance(node, Sequence):
        return [_plain(item) for item in node.items]
    if not node.plain:
        return node.text
    if node.text in ("", "~", "null"):
        return None
    if node.text in ("true", "false"):
        return node.text == "true"
    if re.fullmatch(r"[-+]?[0-9]+", node.text):
        return int(node.text)
    if re.fullmatch(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", node.text):
        return float(node.text)
    return node.text


def _marks(validator, text):
    return sorted(error.message for error in validator.iter_errors(as_an_editor_reads(text)))


@pytest.mark.parametrize("demo", DEMOS)
def test_demos_are_valid(validator, request, demo):
    assert _marks(validator, (request.config.rootpath / demo).read_text()) == []


def test_a_layout_with_everything_loads_and_is_valid(validator, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(GOOD)
    assert len(load(path).elements) == 18
    assert _marks(validator, GOOD) == []


@pytest.mark.parametrize("change", MISTAKES, ids=[f"{i}: {new[:40]}" for i, (_, new) in
                                                   enumerate(MISTAKES)])
def test_reading_and_schema_both_refuse(validator, tmp_path, change):
    old, new = change
    assert GOOD.count(old) == 1
    text = GOOD.replace(old, new)
    path = tmp_path / "l.yaml"
    path.write_text(text)
    with pytest.raises(LayoutError):
        load(path)
    assert _marks(validator, text) != []


@pytest.mark.parametrize("name", sorted(KINDS))
def test_example_lines_are_valid(validator, name):
    text = (
        "band: {start: 4 GHz, stop: 8 GHz}\nstages: {room: {temperature: 295 K}}\n"
        f"lines:\n  main:\n    - {KINDS[name].example}\n"
    )
    assert _marks(validator, text) == []
    unknown = text.replace("kind:", "no_such_key: 1, kind:")
    assert _marks(validator, unknown) != []


def test_every_key_says_what_it_means(validator):
    keys = 0
    for kind in KINDS.values():
        shown = validator.schema["$defs"][f"keys-of-{kind.name}"]["properties"]
        for name, parameter in kind.declared().items():
            keys += 1
            assert shown[name]["description"].startswith(parameter.meaning)
            assert parameter.source in shown[name]["description"]
    assert keys > 300


@pytest.mark.parametrize("name", sorted(KINDS))
def test_examples_are_what_a_part_can_have(validator, name):
    """What an editor offers for a key is valid, and the kind's own line is what it offers whole."""
    keys = validator.schema["$defs"][f"keys-of-{name}"]["properties"]
    for key, shown in keys.items():
        for example in shown.get("examples", ()):
            one = jsonschema.Draft202012Validator({**shown, "$defs": validator.schema["$defs"]})
            assert list(one.iter_errors(example)) == [], key
    noise = keys.get("noise_temperature", {}).get("examples", ["2.2 K"])
    assert all(text.endswith(" K") for text in noise), "no amplifier adds 15 mK"
    [whole] = validator.schema["$defs"][f"kind-{name}"]["examples"]
    assert whole["kind"] == name
    line = {"lines": {"main": [whole]}, "band": {"start": "4 GHz", "stop": "8 GHz"}}
    assert list(validator.iter_errors(line)) == []


def test_catalogue_names_are_offered(validator):
    defs = validator.schema["$defs"]
    assert "cupronickel-2.19" in json.dumps(defs[defs["keys-of-cable"]["properties"]["coax"][
        "$ref"].rpartition("/")[2]])
    assert "phosphor-bronze" in json.dumps(defs[defs["keys-of-loom"]["properties"]["material"][
        "$ref"].rpartition("/")[2]])


def test_the_verb_prints_it_and_writes_it(run, tmp_path):
    status, out, err = run("schema")
    assert (status, err) == (0, "")
    assert json.loads(out) == layout_schema()
    status, printed, _ = run("schema", "--out", tmp_path / "layout.json")
    assert (status, printed) == (0, "")
    assert json.loads((tmp_path / "layout.json").read_text()) == layout_schema()
    status, _, err = run("schema", "--out", tmp_path / "none" / "layout.json")
    assert status == 3
    assert "name a file that can be written" in err
