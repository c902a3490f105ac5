"""Which elements lie on closed runs of waves."""

from chain.network.assembly import scattering_network

LAYOUT = """\
stages: {plate: {temperature: 4 K}}
band: {start: 4 GHz, stop: 8 GHz, points: 3}
lines:
  main:
    - {id: S, kind: port, stage: plate}
    - {id: A, kind: attenuator, stage: plate, loss: 3 dB}
    - {id: M, kind: cavity, stage: plate, shape: notch, frequency: 6 GHz, coupling_q: 9}
    - {id: B, kind: attenuator, stage: plate, loss: 3 dB}
    - {id: N, kind: KIND}
    - {id: D, kind: attenuator, stage: plate, loss: 3 dB}
    - {id: R, kind: port, stage: plate}
signals: {main: {from: S, to: R}}
"""


def test_between_two_that_reflect_waves_come_round(write_layout):
    layout = write_layout(LAYOUT.replace(
        "KIND", "cavity, stage: plate, shape: notch, frequency: 5 GHz, coupling_q: 9"))
    network = scattering_network(layout, "S", layout.band.frequency_hz)
    assert network.looped() == {"M", "B", "N"}


def test_one_that_reflects_closes_no_run(write_layout):
    layout = write_layout(LAYOUT.replace("KIND", "attenuator, stage: plate, loss: 1 dB"))
    network = scattering_network(layout, "S", layout.band.frequency_hz)
    assert network.looped() == set()


def test_only_what_amplifies_on_a_closed_run_has_its_solutions_checked(write_layout):
    """Pivots are sums over closed runs: an amplifier that nothing comes back to is in none."""
    amplifier = "amplifier, stage: plate, gain: 20 dB, noise_temperature: 4 K"
    for more, active in (("", False), (", reverse_isolation: 30 dB, return_loss: 20 dB", True)):
        layout = write_layout(LAYOUT.replace("KIND", amplifier + more))
        network = scattering_network(layout, "S", layout.band.frequency_hz)
        assert network.active is active, more
