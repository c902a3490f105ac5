"""Pumps that go the wrong way, heat where it is cold, and compression."""

import pytest

PROBE = """
tones:
  pump:  {into: S2, frequency: 11.2 GHz, arriving: {X1.in: -70 dBm}}
  probe: {into: S1, frequency: 5.5 GHz, arriving: {X1.in: -70 dBm}}
"""


def _with_probe(*edits):
    from_text = "tones:\n  pump: {into: S2, frequency: 11.2 GHz, arriving: {X1.in: -70 dBm}}\n"
    return ((from_text, PROBE.lstrip("\n")), *edits)


def test_coupler_turned(fires):
    assert fires("pump-to-device") is None
    edit = ("reversed: true, loads: [isolated]", "directivity: 20 dB, insertion_loss: 0.1 dB, "
            "loads: [isolated]")
    assert fires("pump-to-device", edits=(edit,)) == ("C1", "X1")


def test_a_dead_paramp_has_no_pump_to_miss(fires):
    edit = ("reversed: true, loads: [isolated]", "directivity: 20 dB, insertion_loss: 0.1 dB, "
            "loads: [isolated]")
    assert fires("pump-to-device", "X1.state=dead", edits=(edit,)) is None


def test_dumped_cold_against_what_the_stage_carries(found):
    # By T^2 between its points the base carries 2 + 13 (15^2 - 10^2) / (20^2 - 10^2) uW at 15 mK,
    # 7.4 uW.  A4 absorbs 99 times what the coupler gets, and that is 100 times what arrives at X1:
    # 0.99 uW at -70 dBm (13 %), 1.6 uW at -68 dBm (21 %), 7.9 uW at -61 dBm (106 %).
    assert "pump-dumped-cold" not in found()
    some = found("tones.pump.arriving={X1.in: -68 dBm}")["pump-dumped-cold"]
    assert (some.elements, some.level) == (("A4",), "warning")
    assert found("tones.pump.arriving={X1.in: -61 dBm}")["pump-dumped-cold"].level == "error"


def test_dumped_cold_margin(fires):
    assert fires("pump-dumped-cold", "tones.pump.arriving={X1.in: -62 dBm}",
                 "margins.dumped=100 %") is None


def test_a_load_of_its_own_is_told_to_move_up(found):
    more = found("tones.pump.arriving={X1.in: -38 dBm}", "A4.state=bypassed")["pump-dumped-cold"]
    assert more.elements == ("C1",)
    assert "C1.isolated" in more.remedy
    assert "still" in more.remedy


@pytest.mark.parametrize(("p1db", "level"), [("-55 dBm", None), ("-62 dBm", "warning"),
                                             ("-75 dBm", "error")])
def test_compression(found, p1db, level):
    # -70 dBm arrive; the compression point at the output is at p1db_in + gain - 1 dB.
    finding = found(f"X1.p1db_in={p1db}", edits=_with_probe()).get("near-compression")
    assert (None if finding is None else finding.level) == level


def test_its_own_pump_does_not_compress_a_paramp(fires):
    assert fires("near-compression", "X1.p1db_in=-65 dBm") is None
