"""Findings on what tones warm by themselves."""

HEAD = """\
band: {start: 6 GHz, stop: 6 GHz, points: 1}
stages:
  room:   {temperature: 295 K}
  middle: {temperature: 110 mK}
  mixing: {temperature: 15 mK}
"""

CABLE = HEAD + """\
lines:
  in:
    - {id: S, kind: port, stage: middle}
    - {id: W, kind: cable, from: middle, to: mixing, length: 0.15 m, coax: cupronickel-0.86}
    - {id: D, kind: device, stage: mixing}
    - {id: R, kind: port, stage: mixing}
tones: {drive: {into: S, frequency: 6 GHz, arriving: {D.in: -40 dBm}}}
signals: {in: {from: S, to: D.in}}
"""

PAD = HEAD + """\
lines:
  in:
    - {id: S, kind: port, stage: middle}
    - {id: B, kind: attenuator, stage: mixing, loss: 20 dB}
    - {id: D, kind: device, stage: mixing}
    - {id: R, kind: port, stage: mixing}
tones: {drive: {into: S, frequency: 6 GHz, arriving: {D.in: -95 dBm}}}
signals: {in: {from: S, to: D.in}}
"""


def _found(layout, code):
    return [finding for finding in layout.check().findings if finding.code == code]


def test_a_cable_that_fills_the_device_is_found(write_layout):
    (finding,) = _found(write_layout(CABLE), "self-heated-cable")
    assert finding.elements == ("W",)
    assert "tones warm W to 401 mK between middle (110 mK) and mixing (15 mK)" in finding.says
    assert "photons more to D.in" in finding.says


def test_a_weak_tone_leaves_the_cable_alone(write_layout):
    assert _found(write_layout(CABLE, "tones.drive.arriving={D.in: -70 dBm}"),
                  "self-heated-cable") == []


def test_a_guess_that_decides_is_a_note(write_layout):
    """B absorbs 31 pW: 43.6 mK give 0.0013 photons, with a tenth of the cooling 69 mK 0.016."""
    layout = write_layout(PAD)
    assert _found(layout, "thermal-photons") == []
    (finding,) = _found(layout, "film-guess")
    assert finding.level == "note"
    assert finding.elements == ("D", "B")
    assert "B at 69 mK and not 43.6 mK" in finding.says


def test_a_measured_film_is_no_guess(write_layout):
    layout = write_layout(PAD, "B.hot_power=2e-4 W", "B.hot_temperature=1 K")
    assert _found(layout, "film-guess") == []


def test_the_margin_decides(write_layout):
    assert _found(write_layout(PAD, "margins.photons=0.05"), "film-guess") == []


def test_more_attenuation_is_no_remedy_for_a_warm_pad(write_layout):
    layout = write_layout(PAD, "tones.drive.arriving={D.in: -75 dBm}")
    (finding,) = _found(layout, "thermal-photons")
    told = " ".join(one.remedy.says for one in finding.tried)
    assert "of tones take B from 15 mK to 109 mK, as is assumed of a film" in told
    assert finding.remedy.startswith("send ")
