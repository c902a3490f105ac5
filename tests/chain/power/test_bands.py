"""Every verb tells of parts that a tone or an idler uses outside the band that they are made for."""

PUMPED = """\
band: {start: 5 GHz, stop: 6 GHz, points: 3}
stages:
  room: {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 2 W}}
lines:
  main:
    - {id: D, kind: device, stage: plate, loads: [in]}
    - {id: A, kind: attenuator, stage: plate, loss: 1 dB, band: {start: 4.9 GHz, stop: 8 GHz}}
    - {id: C, kind: coupler, stage: plate, coupling: 20 dB, loads: [isolated], reversed: true}
    - {id: X, kind: paramp, stage: plate, gain: 20 dB, mixing: four-wave, pump: p}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K, bias: 1 mW,
       band: {start: 4 GHz, stop: 8 GHz}}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: S, kind: port, stage: room}
    - {join: C.coupled}
tones: {p: {into: S, frequency: PUMP, arriving: {X.in: -60 dBm}}}
signals: {main: {from: D.out, to: R}}
"""

AT_PUMP = "H (plate): its values are believed from 4 to 8 GHz, and are taken at 9 GHz"


def test_a_pump_outside_the_amplifiers_band(write_layout):
    layout = write_layout(PUMPED.replace("PUMP", "9 GHz"))
    for answer in (layout.budget(), layout.power(), layout.heat()):
        assert AT_PUMP in answer.warnings
    inside = write_layout(PUMPED.replace("PUMP", "7 GHz"))
    for answer in (inside.budget(), inside.power(), inside.heat()):
        assert not any("are believed" in text and "H (plate)" in text for text in answer.warnings)


def test_an_idler_outside_a_pads_band(write_layout):
    """2 x 6.4 - 5 .. 6 GHz is 6.8 .. 7.8 GHz; 2 x 7 - 5 .. 6 GHz is 8 .. 9 GHz."""
    inside = write_layout(PUMPED.replace("PUMP", "6.4 GHz")).budget().warnings
    outside = write_layout(PUMPED.replace("PUMP", "7 GHz")).budget().warnings
    said = "A (plate): its values are believed from 4.9 to 8 GHz, and are taken from 8 to 9 GHz"
    assert said in outside
    assert not any(text.startswith("A (plate)") for text in inside)
