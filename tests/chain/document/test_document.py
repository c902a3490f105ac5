"""Pages: everything on them, the same bytes every time, old pages whole, unkind text harmless."""

import csv
import hashlib
import io
import itertools
import json
import re
import subprocess
import sys
import time
from html.parser import HTMLParser
from importlib import util
from pathlib import Path

import pytest

import chain
from chain.document import document, write_document
from chain.layout.equal_lines import equal_lines
from chain.pages.charts import nice_ticks
from chain.pages.folder import CONTENTS, write_folder
from chain.writing.files import CannotWrite

ROOT = Path(__file__).parents[3]
DEMOS = sorted(ROOT.glob("demo_chains/*.yaml"))
HALOSCOPE = next(path for path in DEMOS if path.stem == "haloscope")
QUBITS = next(path for path in DEMOS if path.stem == "qubit_row")

LINK = r"(?<!\\)\]\(([^)]*)\)"
"""A link of Markdown; brackets behind a backslash are text."""

PRICED = """
title: Priced
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
lines:
  up:
    - {id: S1, kind: port, stage: plate, connectors: {port: SMA female}}
    - {id: W1, kind: cable, from: plate, to: room, length: 0.5 m, coax: cupronickel-2.19,
       connectors: {in: SMA male, out: SMP male}, cost: 80 EUR, serial: "0017"}
    - {id: A1, kind: attenuator, stage: room, loss: 3 dB, torque: 0.5 N m, cost: 12.50 EUR,
       connectors: {in: SMP female, out: SMA female}, tag: =1+1}
    - {id: A2, kind: attenuator, stage: room, loss: 3 dB, torque: 0.5 N m, cost: 12.50 EUR}
    - {id: H1, kind: amplifier, stage: room, gain: 20 dB, noise_temperature: 80 K, cost: 900 USD}
    - {id: R1, kind: port, stage: room}
signals: {up: {from: S1, to: R1}}
"""

BROKEN = """
title: A broken line
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}}
lines:
  cut:
    - {id: S1, kind: port, stage: room}
    - {id: I1, kind: isolator, stage: room, reversed: true}
    - {id: R1, kind: port, stage: room}
signals: {cut: {from: S1, to: R1}}
"""


class Page(HTMLParser):
    """A page as a browser takes it apart: elements with their attributes, text."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.text = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    handle_startendtag = handle_starttag

    def handle_data(self, data):
        self.text.append(data)

    @property
    def words(self):
        return " ".join(self.text)


def of_kind(files, ending):
    return {name: text for name, text in files.items() if name.endswith(ending)}


def rows(files, name):
    return list(csv.DictReader(io.StringIO(files[f"data/{name}.csv"])))


@pytest.fixture(scope="module")
def files():
    """The pages of every demo, by the demo's name."""
    return {path.stem: document(chain.load(str(path))) for path in DEMOS}


# -- what is on the pages -----------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
@pytest.mark.parametrize("ending", [".html", ".md", ".csv"])
def test_every_id_is_on_the_pages(files, path, ending):
    layout = chain.load(str(path))
    found = of_kind(files[path.stem], ending)
    text = " ".join(Page(t).words if ending == ".html" else t for t in found.values())
    words = set(re.findall(r"[A-Za-z0-9_-]+", text))
    assert set(layout.elements) <= words


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_there_is_a_page_for_the_cryostat_and_one_for_each_line_equal_ones_once(files, path):
    layout, own = chain.load(str(path)), files[path.stem]
    titles = [re.search("<h1>(.*?)</h1>", text)[1] for text in of_kind(own, ".html").values()]
    assert titles.count(layout.title) == 1
    for group in equal_lines(layout):
        assert titles.count(f"Line {group.name}") == 1
    lines = [title for title in titles if title.startswith("Line ")]
    assert len(lines) == len(equal_lines(layout))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_links_lead_to_pages_and_pictures_that_are_there(files, path):
    own = files[path.stem]
    for text in of_kind(own, ".html").values():
        for tag, attributes in Page(text).elements:
            assert tag != "link"
            assert "src" not in attributes
            if "href" in attributes:
                assert attributes["href"] in own
    for text in of_kind(own, ".md").values():
        for target in re.findall(LINK, text):
            assert target in own


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_pages_need_no_scripts_and_load_nothing(files, path):
    for text in of_kind(files[path.stem], ".html").values():
        page = Page(text)
        assert not {"script", "iframe", "object", "embed", "img", "link"} & \
            {tag for tag, _ in page.elements}
        assert "url(" not in text
        assert "@import" not in text
        assert not re.search(r'(src|href)="(https?:)?//', text)


def test_numbers_on_a_page_are_those_of_the_budget(files):
    layout = chain.load(str(HALOSCOPE))
    budget = layout.budget("receive")
    found = rows(files["haloscope"], "line-receive--receive-band")
    assert len(found) == budget.frequency_hz.size
    for row, f, noise, gain in zip(found, budget.frequency_hz, budget.system_noise_quanta,
                                   budget.gain_db, strict=True):
        assert float(row["frequency_hz"]) == pytest.approx(f, rel=1e-8)  # nine digits are written
        assert float(row["system_noise_quanta"]) == pytest.approx(noise, rel=1e-8)
        assert float(row["gain_db"]) == pytest.approx(gain, rel=1e-8)
        shares = [float(v) for k, v in row.items() if k.startswith("share_quanta")]
        assert sum(shares) == pytest.approx(noise, rel=1e-7)
    middle = budget.frequency_hz.size // 2
    words = Page(files["haloscope"]["line-receive.html"]).words
    assert f"{budget.gain_db[middle]:.2f}" in words
    assert f"{budget.system_noise_quanta[middle]:.3f}" in words


def test_bars_and_points_tell_their_values(files):
    text = files["haloscope"]["line-receive.html"]
    titles = re.findall("<title>(.*?)</title>", text)
    budget = chain.load(str(HALOSCOPE)).budget("receive")
    middle = budget.frequency_hz.size // 2
    share = float(budget.shares_quanta["A2"][middle])
    told = next(title for title in titles if re.match(r"A2: \d", title))
    assert float(told.split(": ")[1].split()[0]) == pytest.approx(share, rel=5e-3)  # three digits
    at = [title for title in titles if title.startswith("system noise at ")]
    assert len(at) > 10
    ghz, quanta = re.match(r"system noise at (\S+) GHz: (\S+) quanta", at[3]).groups()
    import numpy as np

    expected = np.interp(float(ghz) * 1e9, budget.frequency_hz, budget.system_noise_quanta)
    assert float(quanta) == pytest.approx(expected, rel=5e-4)  # four digits


def test_heat_tones_and_findings_are_on_the_page_of_the_cryostat(files):
    layout = chain.load(str(HALOSCOPE))
    own = files["haloscope"]
    heat = {row["stage"]: row for row in rows(own, "heat")}
    for name, stage in layout.heat().stages.items():
        assert float(heat[name]["tones_w"]) == pytest.approx(stage.tones_w, rel=1e-7)
    tone = layout.power().tones["pump"]
    levels = {(r["element"], r["port"]): r for r in rows(own, "line-pump-in--tones")}
    assert float(levels["A3", "in"]["arriving_w"]) == pytest.approx(tone.arriving_w["A3.in"],
                                                                  rel=1e-7)
    words = Page(own["index.html"]).words
    for finding in layout.check().findings:
        assert finding.says in words
    for code, reason in layout.accepted.items():
        assert code in words
        assert reason in words


def test_sources_of_the_coax_used_are_cited(files):
    from components.catalogue import coax, sources

    words = Page(files["haloscope"]["index.html"]).words
    for name in ("cupronickel-2.19", "niobium-titanium-0.86"):
        assert f"coax {name}" in words
        for key in coax()[name].sources:
            assert sources()[key].title in words
    assert "coax copper-2.19" not in words


def test_the_layout_its_hash_and_the_version_are_there(files):
    own = files["haloscope"]
    assert own["layout/haloscope.yaml"] == HALOSCOPE.read_bytes()
    digest = hashlib.sha256(HALOSCOPE.read_bytes()).hexdigest()
    page = Page(own["index.html"])
    assert digest in page.words
    assert HALOSCOPE.read_text().splitlines()[0] in page.words
    assert "cryogenic-chain" in page.words
    names = [row["file"] for row in rows(files["qubit_row"], "files")]
    assert names == ["qubit_row.yaml", "band_filter.s2p"]


def test_a_changed_layout_says_so_and_has_another_hash():
    changed = document(chain.load(str(HALOSCOPE), ["A2.loss=20 dB"]))
    provenance = re.search('class="provenance">(.*?)</p>', changed["index.html"])[1]
    plain = document(chain.load(str(HALOSCOPE)))
    assert "--set A2.loss=20 dB" in provenance
    assert re.search('class="provenance">(.*?)</p>', plain["index.html"])[1] != provenance
    assert "not in the file" in Page(changed["index.html"]).words


def test_parts_are_counted_and_costs_added_up(write_layout):
    own = document(write_layout(PRICED))
    parts = {row["ids"]: row for row in rows(own, "parts")}
    # A1 and A2 are not equal: A1 says its connectors.
    assert parts["A1"]["count"] == "1"
    assert parts["W1"]["cost"] == "80.00 EUR"
    assert parts["W1"]["tag, serial, note"] == "W1: 0017"
    words = Page(own["lists.html"]).words
    assert "105.00 EUR" in words  # 80 + 2 x 12.50
    assert "900.00 USD" in words
    assert "2 of 6 elements have no cost" in words
    cable = rows(own, "cable")
    assert [(row["coax"], row["pieces"], row["length in all"]) for row in cable] == \
        [("cupronickel-2.19", "1", "500 mm")]


def test_equal_parts_stand_on_one_row(files):
    parts = rows(files["qubit_row"], "parts")
    pads = next(row for row in parts if row["part"] == "pad-20")
    assert pads["count"] == "38"  # three on each of twelve drive lines, two on the readout
    assert len(pads["ids"].split(", ")) == 38


def test_joints_have_connectors_and_torque_from_layout_standard_or_maker(write_layout):
    joints = {row["joint"]: row for row in rows(document(write_layout(PRICED)), "joints")}
    assert len(joints) == 5
    assert joints["S1.port / W1.in"]["connectors"] == "SMA female to SMA male"
    assert joints["S1.port / W1.in"]["torque"].startswith("0.8 to 1.1 N m (IEC 61169-15")
    assert "from memory" in joints["S1.port / W1.in"]["torque"]
    assert joints["W1.out / A1.in"]["torque"] == "0.5 N m (the layout)"
    assert joints["H1.out / R1.port"]["torque"] == "as specified by the connector's maker"


def test_each_cable_has_a_label_for_each_end(files):
    labels = {row["label"]: row["beside"] for row in rows(files["haloscope"], "labels")}
    assert labels["W2.in"].startswith("to A1.out")
    assert labels["W2.out"].startswith("to A2.in")
    assert "I1, isolator" in labels["I-1"]  # by its tag


def test_the_warm_sheet_is_that_of_chain_warm(files, run):
    status, out, _ = run("warm", HALOSCOPE, "--json")
    assert status == 0
    trace = next(t for t in json.loads(out)["traces"] if (t["from"], t["to"]) == ("S1", "R1"))
    own = [row for row in rows(files["haloscope"], "warm")
           if (row["from"], row["to"]) == ("S1", "R1")]
    ends = {float(row["frequency_hz"]): float(row["expected_db"]) for row in own}
    assert ends[4e9] == pytest.approx(trace["expected_db"][0], abs=1e-6)
    assert ends[7.5e9] == pytest.approx(trace["expected_db"][-1], abs=1e-6)


def test_what_cannot_be_worked_out_is_said_in_its_place(write_layout):
    own = document(write_layout(BROKEN))
    words = Page(own["line-cut.html"]).words
    assert "cannot be worked out" in words
    assert "nothing that leaves S1.port arrives at R1.port" in words
    assert "/" + "tmp" not in words


def test_lines_and_signals_whose_names_look_alike_have_files_of_their_own(write_layout):
    own = document(write_layout("""
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {room: {temperature: 295 K}}
lines:
  Up:  [{id: A, kind: port, stage: room}, {id: B, kind: port, stage: room}]
  up:  [{id: C, kind: port, stage: room}, {id: D, kind: port, stage: room}]
  u.p: [{id: E, kind: port, stage: room}, {id: F, kind: port, stage: room}]
  u p: [{id: G, kind: port, stage: room}, {id: H, kind: port, stage: room}]
signals:
  S: {from: A, to: B}
  s: {from: A, to: B}
"""))
    lower = [name.lower() for name in own]
    assert len(set(lower)) == len(lower)
    assert sum(name.startswith("line-") and name.endswith(".html") for name in own) == 4
    assert sum(name.endswith("-band.csv") for name in own) == 2


# -- the same bytes -----------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_same_layout_gives_the_same_bytes_from_anywhere(path, tmp_path):
    command = [sys.executable, "-m", "chain.command", "document"]
    written = []
    for seed, (named, cwd) in enumerate([(path.relative_to(ROOT), ROOT), (path, tmp_path)]):
        out = tmp_path / f"pages-{seed}"
        subprocess.run([*command, named, "--out", out], cwd=cwd, check=True, capture_output=True,
                       env={"PYTHONPATH": str(ROOT), "PATH": "", "PYTHONHASHSEED": str(seed)})
        written.append(snapshot(out))
    one, two = written
    assert one == two
    assert len(one) > 30


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_no_page_has_a_path_of_this_machine_or_a_date(files, path):
    this_year = re.compile(rf"\b{time.localtime().tm_year}-\d\d")
    for text in files[path.stem].values():
        if isinstance(text, str):
            assert str(ROOT) not in text
            assert not this_year.search(text)


# -- the folder ---------------------------------------------------------------------------------


def snapshot(folder):
    return {str(file.relative_to(folder)): file.read_bytes()
            for file in sorted(folder.rglob("*")) if file.is_file()}


def test_a_second_run_replaces_the_pages_and_leaves_nothing_over(tmp_path, write_layout):
    out = tmp_path / "pages"
    write_document(write_layout(BROKEN), out)
    assert (out / "line-cut.html").exists()
    write_document(write_layout(BROKEN.replace("cut:", "whole:")), out)
    assert not (out / "line-cut.html").exists()
    assert (out / "line-whole.html").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["pages"]
    listed = {line[66:] for line in (out / CONTENTS).read_text().splitlines()}
    assert listed == set(snapshot(out))


def test_a_folder_with_other_peoples_files_is_left_alone(tmp_path, run):
    out = tmp_path / "mine"
    out.mkdir()
    (out / "thesis.txt").write_text("years of work")
    status, _, err = run("document", HALOSCOPE, "--out", out)
    assert status == 3
    assert "thesis.txt" in err
    assert snapshot(out) == {"thesis.txt": b"years of work"}


def test_pages_beside_which_someone_put_a_file_stay(tmp_path, write_layout):
    out = tmp_path / "pages"
    write_document(write_layout(BROKEN), out)
    (out / "notes.md").write_text("mine")
    before = snapshot(out)
    with pytest.raises(CannotWrite, match=r"notes\.md"):
        write_document(write_layout(BROKEN), out)
    assert snapshot(out) == before


def test_a_file_in_the_folders_place_is_left_alone(tmp_path, run):
    out = tmp_path / "pages"
    out.write_text("a file")
    assert run("document", HALOSCOPE, "--out", out)[0] == 3
    assert out.read_text() == "a file"
    status, _, err = run("document", HALOSCOPE, "--out", out / "below")
    assert status == 3
    assert "Traceback" not in err


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))  # no file may grow beyond this
from chain.command import main
raise SystemExit(main(["document", sys.argv[1], "--out", sys.argv[2]]))
"""


def test_a_disk_that_fills_leaves_the_old_pages_whole(tmp_path, write_layout):
    out = tmp_path / "pages"
    write_document(write_layout(BROKEN), out)
    before = snapshot(out)
    done = subprocess.run([sys.executable, "-c", LIMITED, HALOSCOPE, out], cwd=ROOT,
                          capture_output=True, text=True, check=False)
    assert done.returncode == 3
    assert "Traceback" not in done.stderr
    assert str(out) in done.stderr
    assert snapshot(out) == before
    assert [path.name for path in tmp_path.iterdir()] == ["pages"]


def test_a_swap_that_fails_puts_the_old_pages_back(tmp_path, monkeypatch):
    import os

    out = tmp_path / "pages"
    write_folder(out, {"a.txt": "old"})
    before, rename, asked = snapshot(out), os.rename, []

    def refusing(source, target):
        asked.append(source)
        if len(asked) == 2:
            raise OSError(5, "Input/output error")
        rename(source, target)

    monkeypatch.setattr("chain.pages.folder._exchanged", lambda one, other: False)
    monkeypatch.setattr("chain.pages.folder.os.rename", refusing)
    with pytest.raises(CannotWrite, match="Input/output"):
        write_folder(out, {"a.txt": "new"})
    assert snapshot(out) == before
    assert [path.name for path in tmp_path.iterdir()] == ["pages"]


def test_a_link_to_a_folder_stays_a_link(tmp_path):
    real, link = tmp_path / "real", tmp_path / "link"
    real.mkdir()
    link.symlink_to(real)
    write_folder(link, {"a.txt": "new"})
    assert link.is_symlink()
    assert (real / "a.txt").read_text() == "new"


# -- unkind text --------------------------------------------------------------------------------


def hostile():
    spec = util.spec_from_file_location("hostile", Path(__file__).parents[1] / "hostile.py")
    module = util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("text", hostile().ALL, ids=["markup", "right-to-left", "long", "broken",
                                                     "formula", "escape"])
def test_unkind_text_is_told_and_does_nothing(text, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(hostile().hostile_layout(text))
    own = document(chain.load(str(path)))
    shown = " ".join(text.split())
    for character in "\u202e\u202c\x1b\x07":
        shown = shown.replace(character, f"\\u{ord(character):04x}")
    for name, content in of_kind(own, ".html").items():
        page = Page(content)
        assert {tag for tag, _ in page.elements} <= ALLOWED, name
        assert not any(key.startswith("on") or "javascript" in str(value)
                       for _, attributes in page.elements for key, value in attributes.items())
        assert not re.search("[\u202a-\u202e\u2066-\u2069\u2028\x1b\x07]", content)
    assert shown in " ".join(Page(own["index.html"]).words.split())
    for content in of_kind(own, ".md").values():
        assert "<" not in content
        assert not re.search("[\u202a-\u202e\u2066-\u2069\u2028\x1b\x07]", content)
        for table in re.findall(r"(?:^\|.*\n)+", content, re.MULTILINE):
            assert len({len(re.findall(r"(?<!\\)\|", line)) for line in table.splitlines()}) == 1
    for content in of_kind(own, ".csv").values():
        table = list(csv.reader(io.StringIO(content)))
        assert {len(row) for row in table} == {len(table[0])}
        assert not any(cell.startswith("=") for row in table for cell in row)


ALLOWED = {
    "html", "head", "meta", "title", "style", "body", "header", "main", "nav", "h1", "h2", "h3",
    "p", "a", "ul", "li", "div", "span", "b", "table", "thead", "tbody", "tr", "th", "td",
    "figure", "figcaption", "pre", "svg", "desc", "g", "path", "rect", "circle", "ellipse", "text",
}


def test_a_layouts_file_name_can_be_unkind_too(tmp_path):
    path = tmp_path / "a<b>&'`[x](y).yaml"
    path.write_text(BROKEN.replace("title: A broken line\n", ""))
    own = document(chain.load(str(path)))
    assert "a<b>" not in own["index.html"]
    assert "a&lt;b&gt;" in own["index.html"]
    assert set(re.findall(LINK, own["index.md"])) <= set(own)


# -- many lines, progress -----------------------------------------------------------------------


def many(count):
    """Return a layout of lines that differ in the length of a cable."""
    lines = "".join(f"""
  line{i}:
    - {{id: E{i}, kind: port, stage: room}}
    - {{id: V{i}, kind: cable, from: room, to: plate, length: {0.5 + i * 1e-4:.4f} m,
       coax: cupronickel-2.19}}
    - {{id: P{i}, kind: attenuator, stage: plate, loss: 20 dB +/- 0.5 dB}}
    - {{id: D{i}, kind: device, stage: plate}}
    - {{id: I{i}, kind: isolator, stage: plate, insertion_loss: 0.3 dB, isolation: 20 dB}}
    - {{id: H{i}, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K, bias: 9 mW}}
    - {{id: X{i}, kind: cable, from: plate, to: room, length: 0.8 m, coax: cupronickel-2.19}}
    - {{id: R{i}, kind: port, stage: room}}""" for i in range(1, count + 1))
    signals = "".join(f"\n  s{i}: {{from: D{i}.out, to: R{i}}}" for i in range(1, count + 1))
    return f"""
title: Many
band: {{start: 4 GHz, stop: 8 GHz, points: 101}}
stages: {{room: {{temperature: 295 K}}, plate: {{temperature: 4 K}}}}
lines:{lines}
signals:{signals}
"""


@pytest.mark.long
def test_the_work_of_documenting_lines_grows_as_their_number(write_layout, work):
    told = []
    _, few = work(lambda: document(write_layout(many(20))))
    own, calls = work(lambda: document(
        write_layout(many(40)), progress=lambda done, of: told.append((done, of))
    ))
    assert calls < 2.2 * few
    assert sum(name.startswith("line-") and name.endswith(".html") for name in own) == 40
    assert told[-1][0] == told[-1][1] == len(told)


def test_progress_is_shown_on_a_terminal_and_not_in_a_pipe(run, tmp_path, monkeypatch, capsys):
    assert run("document", HALOSCOPE, "--out", tmp_path / "a")[2] == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    _, _, err = run("document", HALOSCOPE, "--out", tmp_path / "a")
    assert "pages: 1 of" in err


def test_document_says_where_to_begin(run, tmp_path):
    status, out, _ = run("document", HALOSCOPE, "--out", tmp_path / "a")
    assert status == 0
    assert "index.html" in out


# -- charts -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("low", "high"), [(0, 1), (0.5, 0.5), (-80, -60.1), (1.7, 1.8), (0, 0),
                                           (1e-9, 3e-9), (841462, 1258000)])
def test_ticks_are_round_and_span_what_they_mark(low, high):
    ticks = nice_ticks(low, high)
    assert ticks[0] <= low
    assert ticks[-1] >= high
    assert 2 <= len(ticks) <= 8
    steps = {round(b - a, 12) for a, b in itertools.pairwise(ticks)}
    assert max(steps) - min(steps) < 1e-9 * max(abs(ticks[0]), abs(ticks[-1]), 1e-9)
