"""The sparse solve against dense ones, pivots that vanish included."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chain.network.dense import RESIDUAL
from chain.network.elimination import Factors, Plan, plan_for


@st.composite
def systems(draw):
    """Draw A as {(row, column): array over points}, and its size."""
    size, points = draw(st.integers(1, 9)), draw(st.sampled_from([1, 3]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    filled = rng.random((size, size)) < draw(st.floats(0.1, 0.9))
    entries = {}
    for row, column in np.argwhere(filled):
        value = rng.normal(size=points) + 1j * rng.normal(size=points)
        scalar = rng.random() < 0.3
        entries[int(row), int(column)] = complex(value[0]) if scalar else 0.6 * value
    return entries, size, points


def _factors(entries, size, last=None):
    pattern = tuple(
        frozenset(column for row, column in entries if row == number and row != column)
        for number in range(size)
    )
    loops = tuple(row for row, column in entries if row == column)
    return Factors(plan_for(pattern, loops, last), entries)


def _dense(entries, size, points):
    matrix = np.zeros((points, size, size), complex)
    matrix[:] = np.eye(size)
    for (row, column), value in entries.items():
        matrix[:, row, column] -= value
    return matrix


def _stacked(found, size, points):
    return np.array([np.broadcast_to(found.get(key, 0.0), (1, points))[0] for key in range(size)]).T


@given(system=systems(), data=st.data())
@pytest.mark.parametrize("transposed", [False, True])
def test_it_equals_a_dense_solve(system, data, transposed):
    entries, size, points = system
    matrix = _dense(entries, size, points)
    if np.linalg.cond(matrix).max() > 1e6:
        return
    source = data.draw(st.integers(0, size - 1))
    last = data.draw(st.sampled_from([None, source]))
    found, misfit = _factors(entries, size, last).solve({source: 1.0}, transposed=transposed)
    unit = np.zeros((points, size, 1), complex)
    unit[:, source] = 1.0
    whole = np.swapaxes(matrix, 1, 2) if transposed else matrix
    expected = np.linalg.solve(whole, unit)[..., 0]
    # A residual of 1e-10 times a condition of up to 1e6.
    scale = np.abs(expected).max()
    assert _stacked(found, size, points) == pytest.approx(expected, abs=1e-4 * scale)
    assert misfit < RESIDUAL


@pytest.mark.parametrize("transposed", [False, True])
@pytest.mark.parametrize("pivot", [1.0, 1.0 - 1e-13])
def test_a_pivot_that_vanishes_is_solved_densely(transposed, pivot):
    """Two waves that feed each other with a loop of one on the first diagonal: not singular."""
    entries = {(0, 0): np.array([0.2, pivot]), (0, 1): np.array([0.5, 2.0]), (1, 0): 3.0 + 0j}
    found, misfit = _factors(entries, 2, last=1).solve({1: 1.0}, transposed=transposed)
    matrix = _dense(entries, 2, 2)
    whole = np.swapaxes(matrix, 1, 2) if transposed else matrix
    expected = np.linalg.solve(whole, np.array([[0.0], [1.0]]) + np.zeros((2, 2, 1)))[..., 0]
    assert _stacked(found, 2, 2) == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert misfit < RESIDUAL


def test_a_chain_costs_what_it_is_long():
    """Twice the elements, about twice the slots and steps: no fill beyond neighbours."""

    def work(elements):
        waves = 2 * elements
        pattern = [set() for _ in range(waves)]
        for number in range(elements):
            right, left = 2 * number, 2 * number + 1
            for source in (right - 2, left + 2):
                if 0 <= source < waves:
                    pattern[right].add(source)
                    pattern[left].add(source)
        plan = Plan([frozenset(row) for row in pattern], (), waves - 2)
        return sum(len(updates) for *_, updates in plan.steps)

    one, two, four = work(40), work(80), work(160)
    assert two - one == pytest.approx((four - two) / 2, rel=0.05)
    assert four < 4.4 * one


def _ladder(rungs, seed):
    """Return the pattern of two rails of full four-ports and two-ports, waves numbered at random.

    A wave that leaves a port is fed by every port of its element: by what leaves their partners.
    """
    order = iter(np.random.default_rng(seed).permutation(8 * rungs).tolist())
    ports = {name: next(order) for rung in range(rungs)
             for name in [*((rung, "node", k) for k in range(4)),
                          *((rung, rail, k) for rail in "ab" for k in range(2))]}
    partner = {}
    for rung in range(rungs):
        pairs = [((rung, "node", 2), (rung, "a", 0)), ((rung, "node", 3), (rung, "b", 0))]
        if rung + 1 < rungs:
            pairs += [((rung, "a", 1), (rung + 1, "node", 0)),
                      ((rung, "b", 1), (rung + 1, "node", 1))]
        for one, other in pairs:
            partner[one], partner[other] = other, one
    pattern = [set() for _ in ports]
    for rung, part, k in ports:
        for j in range(4 if part == "node" else 2):
            source = partner.get((rung, part, j))
            if source is not None:
                pattern[ports[rung, part, k]].add(ports[source])
    return tuple(frozenset(row) for row in pattern)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_ladder_costs_what_it_is_long_however_its_waves_are_numbered(seed):
    """A front of a few waves is enough: products grow as the rungs do."""

    def products(rungs):
        pattern = _ladder(rungs, seed)
        return sum(len(updates) for *_, updates in Plan(pattern, (), 0).steps)

    short, long = products(20), products(80)
    assert long < 4.4 * short


def test_a_ladder_equals_a_dense_solve():
    pattern, rng = _ladder(12, 5), np.random.default_rng(6)
    entries = {
        (row, column): 0.4 * (rng.normal(size=3) + 1j * rng.normal(size=3))
        for row, columns in enumerate(pattern) for column in columns if column != row
    }
    found, misfit = _factors(entries, len(pattern), 7).solve({7: 1.0}, transposed=True)
    unit = np.zeros((3, len(pattern), 1))
    unit[:, 7] = 1.0
    expected = np.linalg.solve(
        np.swapaxes(_dense(entries, len(pattern), 3), 1, 2), unit)[..., 0]
    assert _stacked(found, len(pattern), 3) == pytest.approx(
        expected, abs=1e-8 * np.abs(expected).max())
    assert misfit < RESIDUAL


def test_plans_of_one_pattern_are_made_once():
    pattern = (frozenset({1}), frozenset({0}))
    assert plan_for(pattern, (), None) is plan_for(pattern, (), None)


def test_a_wave_shut_in_between_two_ends_leaves_the_others_alone():
    """Two full reflections face each other: singular, and the wave past them is still known."""
    entries = {(0, 1): 1.0 + 0j, (1, 0): 1.0 + 0j, (2, 3): np.array([0.5, 0.2j])}
    found, _ = _factors(entries, 4, last=2).solve({2: 1.0, 0: 0.0}, transposed=True)
    assert found[3][0] == pytest.approx(np.array([0.5, 0.2j]))


def test_a_loop_of_one_that_is_fed_has_no_solution():
    entries = {(0, 1): 1.0 + 0j, (1, 0): 1.0 + 0j, (2, 0): 0.5 + 0j}
    found, misfit = _factors(entries, 3, last=2).solve({0: 1.0}, transposed=False)
    assert not np.isfinite(found[2]).all()
    assert misfit == np.inf
