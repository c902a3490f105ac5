"""Connectors and clamps."""

import pytest

from chain import LayoutError


@pytest.mark.parametrize(("first", "second", "mate"), [
    ("SMA male", "SMA female", True),
    ("SMA plug", "SMA jack", True),
    ("SMA male", "2.92 mm female", True),
    ("3.5 mm male", "2.92mm female", True),
    ("2.4 mm male", "1.85 mm female", True),
    ("7 mm", "7 mm", True),
    ("SMA male", "SMA male", False),
    ("SMA female", "SMP male", False),
    ("2.92 mm male", "2.4 mm female", False),
    ("N female", "N female", False),
])
def test_which_mate(fires, first, second, mate):
    hit = fires("no-mate", f"W3.connectors={{out: {first}}}", f"H1.connectors={{in: {second}}}")
    assert hit == (None if mate else ("W3", "H1"))


def test_one_side_alone_says_nothing(fires):
    assert fires("no-mate", "W3.connectors={out: SMA male}") is None


@pytest.mark.parametrize("text", ["SMX male", "SMA", "SMA male female", "socket"])
def test_unknown_connectors(fires, text):
    assert fires("connector-unknown", f"H1.connectors={{in: {text}}}") == ("H1",)
    assert fires("no-mate", f"H1.connectors={{in: {text}}}", "W3.connectors={out: SMA male}") is None


@pytest.mark.parametrize(("body", "screws", "loosens"), [
    ("copper", "stainless", True),      # 0.324 % against 0.300 %
    ("copper", "brass", False),         # 0.324 % against 0.384 %: keeps its grip
    ("aluminium", "brass", True),       # 0.4155 % against 0.384 %
    ("copper", "copper", False),
    ("stainless", "stainless", False),
])
def test_clamps(fires, body, screws, loosens):
    hit = fires("clamp-loosens", f"H1.clamp={{body: {body}, screws: {screws}}}")
    assert hit == (("H1",) if loosens else None)


def test_clamp_margin(fires):
    clamp = "H1.clamp={body: copper, screws: stainless}"
    assert fires("clamp-loosens", clamp, "margins.clamp=0.05 %") is None


def test_own_contraction(fires):
    clamp = "H1.clamp={body: copper, screws: titanium}"
    own = "materials: {titanium: {contraction: 0.15 %}}\n"
    assert fires("clamp-loosens", clamp, more=own) == ("H1",)


def test_unknown_contraction_is_a_note(found):
    finding = found("H1.clamp={body: copper, screws: phosphor-bronze}")["clamp-unknown"]
    assert finding.level == "note"
    assert "clamp-unknown" not in found("H1.clamp={body: copper, screws: brass}")


@pytest.mark.parametrize(("clamp", "said"), [
    ("{body: copper}", "needs body and screws"),
    ("{body: copper, screws: unobtainium}", "there is no material 'unobtainium'"),
    ("{body: copper, bolts: brass}", "unknown key 'bolts'"),
    ("copper", "clamp"),
])
def test_clamps_that_cannot_be_read(receiver, clamp, said):
    with pytest.raises(LayoutError, match=said):
        receiver(f"H1.clamp={clamp}")
