"""Loops around amplifiers, as check sees them."""

LAYOUT = """band: {start: 5 GHz, stop: 6 GHz, points: 3}
stages: {base: {temperature: 20 mK}}
lines:
  in:
    - {id: S, kind: port, stage: base}
    - {id: D, kind: device, stage: base}
    - {id: K, kind: circulator, stage: base, insertion_loss: 0.2 dB, isolation: ISOLATION}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump,
       reflects: true, flux_pumped: true}
  out:
    - {join: K.3}
    - {id: R, kind: port, stage: base}
  pump:
    - {id: P, kind: port, stage: base}
    - {join: X.pump}
tones: {pump: {into: P, frequency: 11 GHz, power: 1 uW}}
signals: {up: {from: D.out, to: R}}
"""


def test_a_paramp_in_reflection_behind_20_db_may_oscillate(write_layout):
    """r = 0.09 at each circulator port: over both phases 2 sqrt(G) r = 1.8; with 35 dB 0.35."""
    said = {}
    for isolation in ("20 dB", "35 dB"):
        layout = write_layout(LAYOUT.replace("ISOLATION", isolation))
        said[isolation] = [f for f in layout.check().findings if f.code == "may-oscillate"]
    [finding] = said["20 dB"]
    assert finding.elements[0] == "X"
    assert "with phases that nobody knows" in finding.says
    assert said["35 dB"] == []
