"""Photons are what is above half the commutator of a wave; what came by the start, by amplitude."""

import numpy as np
import pytest

from chain.network.assembly import scattering_network

F = 5e9
BAND = "band: {start: 5 GHz, stop: 5 GHz, points: 1}\n"
COLD = "stages: {room: {temperature: 295 K}, base: {temperature: 1 mK}}\n"


def quanta(frequency_hz, kelvin):
    """1/2 coth(hf/2kT), not by the tool's own function."""
    return 0.5 / np.tanh(6.62607015e-34 * frequency_hz / (2 * 1.380649e-23 * kelvin))


STANDING = BAND + """lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 13 dB, return_loss: 12 dB}
    - {id: F, kind: filter, stage: base, shape: low-pass, order: 5, cutoff: 4 GHz,
       insertion_loss: 0.2 dB}
    - {id: C, kind: coupler, stage: base, coupling: 10 dB, insertion_loss: 0.6 dB,
       directivity: 14 dB, loads: [isolated]}
    - {id: Q, kind: device, stage: base, reflects: true, loss: 0.1 dB}
  side:
    - {join: C.coupled}
    - {id: B, kind: attenuator, stage: base, loss: 3 dB}
    - {id: E, kind: port, stage: room}
signals: {in: {from: S, to: Q.in}}
"""
KNOWN = (
    "A.phase={return_loss: 0 deg}", "F.phase={shape: 0 deg}", "C.phase={directivity: 40 deg}",
    "Q.phase={reflects: 20 deg}",
)


def stages(room, base):
    return f"stages: {{room: {{temperature: {room}}}, base: {{temperature: {base}}}}}\n"


def test_photons_of_a_passive_network_are_those_above_the_network_at_0_k(write_layout, dense_sum):
    """A dense sum with and without temperature, in a standing wave with every phase known."""
    warm = write_layout(stages("295 K", "20 mK") + STANDING, *KNOWN)
    cold = write_layout(stages("0 K", "0 K") + STANDING, *KNOWN)
    found = warm.budget("in")
    assert found.ripple == {}
    expected = dense_sum(warm, F).noise(("Q", "in"))[0] - dense_sum(cold, F).noise(("Q", "in"))[0]
    assert found.photons_at_to[0] == pytest.approx(expected, rel=1e-9)
    assert abs(found.vacuum_at_to_quanta[0] - 0.5) > 0.01, "a standing wave, not a matched one"


def test_a_cold_standing_wave_holds_no_photons(write_layout):
    """1 mK at 5 GHz: exp(-hf/kT) is 1e-104, whatever the phases do to the vacuum."""
    layout = write_layout(stages("1 mK", "1 mK") + STANDING)
    found = layout.budget("in")
    assert found.ripple, "the phases are unknown and matter"
    assert abs(found.photons_at_to[0]) < 1e-12


def test_amplified_vacuum_is_photons(write_layout):
    """Behind a paramp of 20 dB a cold line carries G - 1 = 99 photons."""
    layout = write_layout(COLD + BAND + """lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump}
    - {id: R, kind: port, stage: base}
tones: {pump: {into: S, frequency: 11 GHz, power: 1 uW}}
signals: {up: {from: S, to: R}}
""")
    assert layout.budget("up").photons_at_to[0] == pytest.approx(99.0, rel=1e-9)


LOOP = BAND + """stages: {base: {temperature: 1 K}}
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: A, kind: attenuator, stage: base, loss: 1 dB, return_loss: 2 dB,
       phase: {return_loss: 0 deg}}
    - {id: D, kind: device, stage: base}
    - {id: W, kind: cable, stage: base, loss: 0.5 dB, length: 7 mm}
    - {id: B, kind: attenuator, stage: base, loss: 2 dB, return_loss: 3 dB,
       phase: {return_loss: 0 deg}}
    - {id: R, kind: port, stage: base}
signals: {up: {from: D.out, to: R}}
"""


def test_incoming_and_interference_at_one_temperature(write_layout):
    """Passive, one temperature, L the loop through the start: incoming (1 - |L|^2) N, interference
    2 (|L|^2 - Re L) N; the noise at the end is N, and its gain the rest."""
    layout = write_layout(LOOP)
    budget = layout.budget("up")
    network = scattering_network(layout, "S", layout.band.frequency_hz)
    seen = np.ravel(network.adjoint(("D", "out", 1))["D", "out", 1])[0]
    loop, n = 1 - 1 / seen, quanta(F, 1.0)
    assert abs(loop) > 0.1
    assert budget.incoming_quanta[0] == pytest.approx((1 - abs(loop) ** 2) * n, rel=1e-9)
    # Past the start and through it: together with the rest they are N over the gain.
    gain = 10 ** (budget.gain_db[0] / 10)
    assert budget.system_noise_quanta[0] == pytest.approx(n / gain, rel=1e-9)
    past = budget.past_quanta[0]
    assert budget.added_quanta[0] == pytest.approx(
        past + budget.interference_quanta[0], rel=1e-12
    )
    assert budget.interference_quanta[0] == pytest.approx(
        2 * (abs(loop) ** 2 - loop.real) * n, rel=1e-9
    )


@pytest.mark.parametrize("isolation", ["", ", isolation: 200 dB", ", isolation: 100 dB"])
def test_a_leak_of_200_db_changes_nothing(isolation, write_layout):
    layout = write_layout(COLD + BAND + f"""lines:
  main:
    - {{id: S, kind: port, stage: base}}
    - {{id: D, kind: device, stage: base}}
    - {{id: I, kind: isolator, stage: base{isolation}}}
    - {{id: H, kind: amplifier, stage: room, gain: 30 dB, noise_temperature: 2.4 K,
       return_loss: 10 dB, reverse_isolation: 150 dB}}
    - {{id: R, kind: port, stage: room, return_loss: 10 dB}}
signals: {{up: {{from: D.out, to: R}}}}
""")
    budget = layout.budget("up")
    assert budget.incoming_quanta[0] == pytest.approx(0.5, rel=1e-4)
    assert abs(budget.interference_quanta[0]) < 1e-3


def test_rows_and_the_summary_agree(write_layout):
    """What arrives with the signal is its rows' shares less what they bring at the idler."""
    layout = write_layout(COLD + BAND + """lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 40 dB}
    - {id: D, kind: device, stage: base}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump}
    - {id: R, kind: port, stage: base}
tones: {pump: {into: S, frequency: 11 GHz, power: 1 uW}}
signals: {up: {from: D.out, to: R}}
""")
    budget = layout.budget("up")
    rows = [row.id for row in budget.rows if row.where == "incoming"]
    parts = sum(budget.shares_quanta[key] - budget.idler_shares_quanta[key] for key in rows)
    assert rows == ["S", "A"]
    assert parts == pytest.approx(budget.incoming_quanta, rel=1e-12)
    assert "by idler" in str(budget)
