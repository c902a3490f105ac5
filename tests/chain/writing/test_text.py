"""Tables and paragraphs fit the columns there are, and lose nothing by it."""

import re
from pathlib import Path

import pytest

from chain.writing.text import TextTable, fitted, wrapped

DEMO = Path(__file__).parents[3] / "demo_chains" / "haloscope.yaml"


def _table():
    table = TextTable(["name", "first\nvalue", "second", "third"], left={"name"})
    table.add("one", "1.0", "22", "333")
    table.add("-- a heading")
    table.add("two", "10.0", "2", "3")
    return table


def test_a_table_that_fits_is_in_one_piece():
    whole = _table().text()
    with fitted(80):
        assert _table().text() == whole


def test_a_table_that_does_not_is_in_pieces_that_begin_alike():
    table = TextTable([f"{letter * 30}" for letter in "abc"], left={"a" * 30})
    table.add("key", "left", "right")
    with fitted(66):
        first, second = table.text().split("\n\n")
    for block in (first, second):
        assert block.startswith("a" * 30)
        assert "key" in block
        assert max(map(len, block.split("\n"))) <= 66
    assert "left" in first
    assert "right" in second


@pytest.mark.parametrize("verb", [("budget", "--signal", "receive"), ("heat",), ("power",),
                                  ("check",), ("compare", "--each")])
@pytest.mark.parametrize("columns", [80, 100])
def test_reports_fit_and_lose_nothing(run, monkeypatch, verb, columns):
    monkeypatch.chdir(DEMO.parent)  # so that the first line has no long path
    words = (verb[0], DEMO.name, *verb[1:])
    _, whole, _ = run(*words)
    monkeypatch.setenv("COLUMNS", str(columns))
    _, narrow, _ = run(*words)
    tables = [line for line in narrow.split("\n") if re.fullmatch(r"[ -]*--[ -]*", line)]
    assert max(map(len, tables), default=0) <= columns
    words_of = [set(re.findall(r"[\w.]+", text)) for text in (whole, narrow)]
    assert words_of[0] <= words_of[1]
    assert (narrow == whole) == (max(map(len, whole.split("\n"))) <= columns)


def test_a_paragraph_fits():
    with fitted(50):
        assert max(map(len, wrapped("word " * 40).split("\n"))) <= 50
    assert max(map(len, wrapped("word " * 40).split("\n"))) > 50
