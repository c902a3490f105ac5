"""The sparse solve against a slow dense sum, and against scikit-rf's scattering."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chain.network.assembly import Choices, scattering_network
from chain.network.emitted import arrived
from components.nport import magnitude2

ROUNDING = 1e-9
"""Relative: ten digits are left after gains of 90 dB and standing waves."""

FEW = settings(suppress_health_check=[HealthCheck.too_slow])

ONE_PHASE = Choices(phases=False)


def _both(layout, dense_sum, point):
    network = scattering_network(layout, "S", layout.band.frequency_hz, ONE_PHASE)
    idler = None if network.idler_hz is None else network.idler_hz[point]
    return network, dense_sum(layout, network.frequency_hz[point], idler)


def _at(value, point):
    return np.broadcast_to(value, (1, 4))[0, point]


@FEW
@given(data=st.data())
@pytest.mark.parametrize("which", ["passive", "active"])
def test_noise_and_gain_equal_the_dense_sum(data, which, random_layouts, write_layout, dense_sum):
    layout = write_layout(data.draw(getattr(random_layouts, which)()))
    point = data.draw(st.integers(0, 3))
    network, slow = _both(layout, dense_sum, point)
    end = ("R", "port")
    transfers = network.adjoint(network.arriving(end))
    total, shares = slow.noise(end)
    found = {}
    for block in network.blocks:
        noise = _at(arrived(block, transfers).whole, point)
        found[block.id] = found.get(block.id, 0.0) + noise
    assert sum(found.values()) == pytest.approx(total, rel=ROUNDING)
    for key, share in shares.items():
        assert found.get(key, 0.0) == pytest.approx(share, rel=ROUNDING, abs=ROUNDING * total)
    gain = magnitude2(_at(transfers[("S", "port", 1)], point))
    assert gain == pytest.approx(abs(slow.transfer(("S", "port"), end)) ** 2, rel=ROUNDING)


@FEW
@given(data=st.data())
@pytest.mark.parametrize("which", ["passive", "active"])
def test_commutators_add_to_one(data, which, random_layouts, write_layout, dense_sum):
    layout = write_layout(data.draw(getattr(random_layouts, which)()))
    _, slow = _both(layout, dense_sum, 1)
    size = slow.noise(("R", "port"))[0]
    assert slow.commutator(("R", "port")) == pytest.approx(1.0, abs=ROUNDING * max(size, 1.0))
    assert layout.budget("main").laws.commutation < ROUNDING


@FEW
@given(data=st.data())
def test_equal_temperatures_give_the_planck_spectrum(data, random_layouts, write_layout):
    # Where a tone warms a pad temperatures are equal no more.
    layout = write_layout(data.draw(random_layouts.even()), "self_heating=off")
    budget = layout.budget("main")
    # 1/2 coth(hf/2kT) at 3 K, by the formula and not by the tool's own function.
    x = 6.62607015e-34 * budget.frequency_hz / (2 * 1.380649e-23 * 3.0)
    assert budget.noise_at_to_quanta == pytest.approx(0.5 / np.tanh(x), rel=ROUNDING)
    assert budget.laws.equilibrium < ROUNDING
    assert budget.laws.energy < ROUNDING


@FEW
@given(data=st.data())
def test_shares_add_up_to_the_system_noise(data, random_layouts, write_layout):
    layout = write_layout(data.draw(random_layouts.active()))
    budget = layout.budget("main")
    total = sum(budget.shares_quanta.values())
    assert budget.system_noise_quanta == pytest.approx(total, rel=1e-12)
    assert budget.incoming_quanta + budget.added_quanta == pytest.approx(total, rel=1e-12)
    gain = 10 ** (budget.gain_db / 10)
    assert budget.noise_at_to_quanta == pytest.approx(total * gain, rel=1e-12)


@FEW
@given(data=st.data())
def test_the_order_of_joining_does_not_matter(data, random_layouts, write_layout):
    text = data.draw(random_layouts.active())
    one = write_layout(text).budget("main")
    head, tail = text.split("  main:\n")
    items, rest = tail.split("band:", 1)
    rows = items.splitlines()
    turned = "\n".join(rows[::-1]).replace("{id: L", "{reversed: true, id: L")
    for word in ("{id: K", "{id: G", "{id: M"):
        turned = turned.replace(word, word.replace("{id:", "{reversed: true, id:"))
    # A circulator turned round is entered by 2 and left by 1, a line read backward.
    other = write_layout(f"{head}  main:\n{turned}\nband:{rest}").budget("main")
    # Unknown phases are drawn in an order of their own: their means agree as surely as they say.
    unsure = {name: error.max() for name, error in one.mean_error.items()}
    assert other.gain_db == pytest.approx(one.gain_db, abs=1e-6 + unsure.get("gain_db", 0.0))
    assert other.system_noise_quanta == pytest.approx(
        one.system_noise_quanta, rel=1e-6, abs=unsure.get("system_noise_quanta", 0.0)
    )


@FEW
@given(data=st.data())
def test_scattering_equals_scikit_rf(data, random_layouts, write_layout):
    from skrf import Frequency
    from skrf import Network as Other
    from skrf.circuit import Circuit

    layout = write_layout(data.draw(random_layouts.passive()))
    f = layout.band.frequency_hz
    network = scattering_network(layout, "S", f, ONE_PHASE)
    grid = Frequency.from_f(f, unit="Hz")
    parts = {}
    for block in network.blocks:
        if layout.elements[block.id].kind.outside and not block.nport.scattering:
            parts[block.id] = Circuit.Port(grid, block.id, z0=50)
            continue
        s, _ = block.nport.dense(len(f))
        parts[block.id] = Other(frequency=grid, s=s[0], z0=50, name=block.id)
    ports = {block.id: block.nport.ports for block in network.blocks}
    joints = [
        [(parts[key], ports[key].index(port)) for key, port in (joint.first, joint.second)]
        for joint in layout.joints
    ]
    outer = Circuit(joints).network
    names = [row[0][0].name if row[0][0].name in ("S", "R") else row[1][0].name
             for row in joints if {row[0][0].name, row[1][0].name} & {"S", "R"}]
    assert set(names) == {"S", "R"}
    transfers = network.adjoint(network.arriving(("R", "port")))
    mine = np.broadcast_to(transfers[("S", "port", 1)], (1, len(f)))[0]
    back = network.adjoint(network.arriving(("S", "port")))
    mirrored = np.broadcast_to(back.get(("S", "port", 1), 0.0), (1, len(f)))[0]
    i, j = names.index("R"), names.index("S")
    assert outer.s[:, i, j] == pytest.approx(mine, abs=1e-9)
    assert outer.s[:, j, j] == pytest.approx(mirrored, abs=1e-9)
