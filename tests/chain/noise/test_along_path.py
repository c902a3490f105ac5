"""Noise along a signal path: what stands at each place adds up, and in a matched line is Friis'."""

import numpy as np
import pytest

import chain
from chain.errors import LayoutError
from chain.noise.along_path import IDLER, INCOMING, SIDE, path_noise

DEMOS = ["haloscope", "qubit_row", "paramp_line"]

STAGES = """
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
"""

MATCHED = STAGES + """
lines:
  main:
    - {id: D1, kind: device, stage: base, loads: [in]}
    - {id: A1, kind: attenuator, stage: base, loss: 1 dB}
    - {id: H1, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}
    - {id: A2, kind: attenuator, stage: room, loss: 6 dB}
    - {id: H2, kind: amplifier, stage: room, gain: 20 dB, noise_temperature: 150 K}
    - {id: R1, kind: port, stage: room}
signals:
  main: {from: D1.out, to: R1}
  all: {to: R1}
"""


@pytest.mark.parametrize("demo", DEMOS)
def test_the_places_add_up_to_the_system_noise_and_the_gain(request, demo):
    layout = chain.load(request.config.rootpath / f"demo_chains/{demo}.yaml")
    for name, signal in layout.signals.items():
        if signal.from_port is None or signal.number not in (None, 1):
            continue
        budget = layout.budget(name)
        for index in (0, len(budget.frequency_hz) - 1):
            path = path_noise(budget, index)
            assert path.system_noise_k == pytest.approx(budget.system_noise_k[index], rel=1e-9)
            assert sum(s.share_k for s in path.stations) == pytest.approx(path.system_noise_k)
            levels = [s.cumulative_db for s in path.stations if s.cumulative_db is not None]
            assert levels[-1] == pytest.approx(budget.gain_db[index], abs=1e-9)
            assert sum(s.gain_db or 0.0 for s in path.stations) == pytest.approx(levels[-1])


def test_in_a_matched_line_every_part_is_the_own_noise_over_the_gain_before_it(write_layout):
    path = path_noise(write_layout(MATCHED).budget("main"), 1)
    before_db = 0.0
    own = [s for s in path.stations if s.gain_db is not None]
    assert [s.name for s in own] == ["A1", "H1", "A2", "H2"]
    for station in own:
        assert station.share_k == pytest.approx(station.own_noise_k / 10 ** (before_db / 10))
        before_db += station.gain_db
    # H. T. Friis, Noise figures of radio receivers, Proc. IRE 32, 419 (1944); what a pad adds is
    # (L - 1) times its noise: at 295 K that of the pad is as good as its temperature.
    assert own[1].share_k == pytest.approx(3.0 * 10**0.1, rel=1e-9)
    assert own[2].share_k == pytest.approx(295 * (10**0.6 - 1) * 10 ** (0.1 - 3), rel=1e-4)
    assert own[3].share_k == pytest.approx(150 * 10 ** (0.1 - 3 + 0.6), rel=1e-9)
    assert path.stations[0].name == INCOMING
    assert path.stations[0].share_k / path.quantum_k == pytest.approx(0.5, abs=1e-5)
    assert [s.stage for s in own] == ["base", "plate", "room", "room"]


def test_what_comes_through_the_idler_and_by_side_ports_has_a_place_of_its_own(request):
    layout = chain.load(request.config.rootpath / "demo_chains/haloscope.yaml")
    budget = layout.budget("receive")
    path = path_noise(budget, 0)
    parts = {s.name: s.share_k / path.quantum_k for s in path.stations}
    along = {row.id for row in budget.rows if row.where == "path"}
    # The idler's vacuum alone, half a quantum, is there; more from the warm pump line.
    assert parts[IDLER] > 0.5
    assert parts[IDLER] == pytest.approx(sum(
        share[0] for key, share in budget.idler_shares_quanta.items() if key not in along
    ))
    assert parts[SIDE] > 0
    assert parts[INCOMING] == pytest.approx(budget.incoming_quanta[0], abs=2e-3)


def test_a_signal_without_a_start_has_no_path(write_layout):
    with pytest.raises(LayoutError, match="signal all has no start, so no path"):
        path_noise(write_layout(MATCHED).budget("all"), 0)


def test_one_quantum_is_hf_over_k(write_layout):
    path = path_noise(write_layout(MATCHED).budget("main"), 1)
    # CODATA 2018, exact: h = 6.62607015e-34 J s, k = 1.380649e-23 J/K.
    assert path.quantum_k == pytest.approx(6.62607015e-34 * 6e9 / 1.380649e-23)
    assert np.isclose(path.frequency_hz, 6e9)
