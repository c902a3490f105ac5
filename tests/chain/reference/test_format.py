"""chain format: everything that reading takes is told, and every example loads."""

import re

import pytest

import chain
from chain.reading import declared
from chain.reference.format_text import (
    ELEMENTS,
    READ,
    VALUES,
    format_text,
    section_example,
    subjects,
    whole_example,
)
from components.declaration import COMMON
from components.quantities import UNITS, parse

SECTIONS = [section.name for section in declared.LAYOUT]


def test_the_examples_together_are_a_layout_that_loads(write_layout, tmp_path):
    layout = write_layout(whole_example())
    assert {"receive", "drive-1", "drive-12", "monitor"} <= layout.lines.keys()
    assert layout.elements["A1-7"].settings["loss"].value == 30
    assert layout.elements["A1-8"].settings["loss"].value == 20
    assert layout.check()
    assert layout.budget("receive", frequency_hz=[6e9]).gain_db is not None
    assert layout.power().tones.keys() >= {"drive-1"}


def test_an_include_loads_as_shown(tmp_path):
    parts = next(p for p in declared.LAYOUT if p.name == "parts")
    (tmp_path / "parts.yaml").write_text(section_example(parts))
    include = next(p for p in declared.LAYOUT if p.name == "include")
    text = whole_example().replace(section_example(parts), section_example(include))
    path = tmp_path / "l.yaml"
    path.write_text(text)
    assert "H1" in chain.load(path).elements


@pytest.mark.parametrize("section", SECTIONS)
def test_a_section_tells_every_key_with_its_unit(run, section):
    status, out, err = run("format", section)
    assert (status, err) == (0, "")
    one = declared.by_name(declared.LAYOUT)[section]
    assert out.startswith(f"{section}: {one.meaning}")
    assert f"  {section}:" in out
    fields = getattr(one.reads, "fields", ())
    flat = " ".join(out.split())
    for key in fields:
        assert re.search(rf"^  {key.name} ", out, re.MULTILINE)
        assert key.meaning in flat
        assert key.default is None or f"default {key.default}" in flat


@pytest.mark.parametrize("subject", ["values", "elements"])
def test_what_stands_in_every_section_is_told(run, subject):
    status, out, _ = run("format", subject)
    assert status == 0
    for name in (UNITS if subject == "values" else [p.name for p in COMMON]):
        assert name in out


def test_the_overview_names_every_section(run):
    _, out, _ = run("format")
    for name in SECTIONS:
        assert re.search(rf"^{name} ", out, re.MULTILINE)
    assert set(subjects()) == {*SECTIONS, "values", "elements"}


def test_an_unknown_section_is_told_the_nearest(run):
    status, _, err = run("format", "stage")
    assert status == 2
    assert "there is no section 'stage'; did you mean 'stages'?" in err


@pytest.mark.parametrize("text", [*READ, *VALUES, *ELEMENTS])
def test_what_the_prose_quotes_is_read(text):
    for quoted in re.findall(r"`([0-9][^`]*)`", text):
        assert parse(quoted, "ratio").value == 20
    assert len(text) < 600


def test_every_example_is_what_its_key_reads(write_layout):
    """Examples of keys stand in for those of the section's example, one at a time."""
    sections = {"stages": ("mixing", declared.STAGE), "tones": ("drive", declared.TONE)}
    tried = 0
    layout = write_layout(whole_example())
    for section, (row, keys) in sections.items():
        for key in keys:
            if key.example and key.name not in ("into", "arriving", "spacing", "count", "pulse"):
                tried += 1
                assert layout.changed(f"{section}.{row}.{key.name}={key.example}")
    assert tried >= 2
    assert format_text("stages")
