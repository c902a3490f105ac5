"""A network with all but a few waves eliminated, against the whole of it."""

import numpy as np
import pytest

from chain.network.elimination import Factors, plan_for
from chain.network.reduced import Reduced, together
from chain.network.waves import Block
from components.nport import NPort

SIZE, POINTS, ROWS = 24, 3, (5, 11)


@pytest.fixture
def system():
    """Return (pattern, entries, kept): a random sparse A, rows ROWS and all their columns kept."""
    rng = np.random.default_rng(8)
    pattern = tuple(
        frozenset(rng.choice(SIZE, 3, replace=False).tolist()) - {row} for row in range(SIZE)
    )
    entries = {
        (row, column): 0.3 * np.exp(2j * np.pi * rng.random(POINTS))
        for row, columns in enumerate(pattern) for column in columns
    }
    kept = frozenset({3, *ROWS, *(column for row in ROWS for column in pattern[row])})
    return pattern, entries, kept


def _whole(pattern, entries, target):
    return Factors(plan_for(pattern, (), target), entries).solve({target: 1.0}, transposed=True)[0]


def test_rows_that_change_are_solved_anew_from_one_elimination(system):
    pattern, entries, kept = system
    reduced = Reduced(pattern, (), kept, entries)
    assert reduced.misfit() < 1e-13
    rng = np.random.default_rng(9)
    several = {
        key: 0.4 * np.exp(2j * np.pi * rng.random((4, 1, POINTS))) if key[0] in ROWS else value
        for key, value in entries.items()
    }
    factors = reduced.factors(several, 3)
    small, _ = factors.solve({reduced.number(3): 1.0}, transposed=True)
    found = reduced.by_wave(small)
    assert set(found) <= kept
    forms = reduced.forms()
    by_form = {
        wave: sum(part * found[one] for one, part in form.items() if one in found)
        for wave, form in forms.items()
    }
    reduced.add_eliminated(found)
    wave = next(iter(kept - {3}))
    number = reduced.number(wave)
    seen = factors.forward({number: 1.0})[number]
    for each in range(4):
        own = {key: value[each, 0] if key[0] in ROWS else value for key, value in several.items()}
        expected = _whole(pattern, own, 3)
        scale = max(np.abs(value).max() for value in expected.values())
        for one, value in expected.items():
            for mine in (found[one], by_form[one]):
                mine = np.broadcast_to(mine, (4, 1, POINTS))[each, 0]
                assert mine == pytest.approx(value, abs=1e-12 * scale)
        back, _ = Factors(plan_for(pattern, (), None), own).solve({wave: 1.0}, transposed=False)
        assert np.broadcast_to(seen, (4, 1, POINTS))[each, 0] == pytest.approx(
            back[wave], rel=1e-10)


def test_what_the_rest_emits_is_one_emission_of_the_kept_waves(system):
    """x C x^H of every block, summed, is that of one n-port at the kept waves."""
    pattern, entries, kept = system
    reduced = Reduced(pattern, (), kept, entries)
    rng = np.random.default_rng(10)
    names = tuple((f"E{wave}", "port", 1) for wave in range(SIZE))
    blocks, dense = [], np.zeros((POINTS, SIZE, SIZE), complex)
    for first in range(0, SIZE, 2):
        root = rng.normal(size=(POINTS, 2, 2)) + 1j * rng.normal(size=(POINTS, 2, 2))
        c = root @ np.conj(np.swapaxes(root, 1, 2))
        dense[:, first:first + 2, first:first + 2] = c
        emission = {(i, j): c[:, i, j] for i in range(2) for j in range(i, 2)}
        nport = NPort.plain(("a", "b"), {}, emission)
        blocks.append(Block(f"{first}", nport, names[first:first + 2]))
    nport, waves = together(blocks, reduced.forms(), names)
    transfers = _whole(pattern, entries, 3)
    x = np.array([np.broadcast_to(transfers.get(k, 0.0), POINTS) for k in range(SIZE)]).T
    expected = np.real(np.einsum("pi,pij,pj->p", x, dense, np.conj(x)))
    c = nport.dense(POINTS)[1][0]
    y = np.array([transfers[names.index(wave)] for wave in waves]).T
    assert np.real(np.einsum("pi,pij,pj->p", y, c, np.conj(y))) == pytest.approx(expected, rel=1e-11)


def test_a_pivot_near_zero_among_the_eliminated_shows(system):
    pattern, entries, kept = system
    away = next(wave for wave in range(SIZE) if wave not in kept)
    loops = (away,)
    entries = {**entries, (away, away): np.full(POINTS, 1.0 - 1e-14)}
    assert Reduced(pattern, loops, kept, entries).misfit() > 1e-6
