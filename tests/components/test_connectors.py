"""Connectors: names as people write them, and which mate."""

import pytest

from components.connectors import TYPES, UnknownConnector, connector


@pytest.mark.parametrize(("text", "said"), [
    ("SMA male", "SMA male"), ("sma Plug", "SMA male"), ("SMA, jack", "SMA female"),
    ("male SMA", "SMA male"), ("2.92mm female", "2.92 mm female"), ("N male", "N male"),
    ("7 mm", "7 mm"), ("7-16 female", "7-16 female"), ("1.0 mm male", "1.0 mm male"),
])
def test_names(text, said):
    assert str(connector(text)) == said


@pytest.mark.parametrize(("text", "part"), [
    ("SMX male", "known are"), ("SMA", "write SMA male or SMA female"),
    ("SMA male female", "does not say one sex"), ("", "names no known"),
])
def test_unknown(text, part):
    with pytest.raises(UnknownConnector, match=part):
        connector(text)


def test_each_type_mates_with_itself_and_only_its_family():
    for one in TYPES.values():
        for other in TYPES.values():
            plugs = [connector(f"{t.name} male" if not t.sexless else t.name) for t in (one, other)]
            jacks = [connector(f"{t.name} female" if not t.sexless else t.name)
                     for t in (one, other)]
            same = one.family == other.family
            assert plugs[0].mates(jacks[1]) == same
            assert plugs[0].mates(plugs[1]) == (same and one.sexless)


def test_every_type_names_an_open_standard():
    for one in TYPES.values():
        assert one.standard.startswith(("IEC", "IEEE", "MIL"))
