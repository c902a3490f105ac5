"""Which phases of its reflection make a circulator passive."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from components.declaration import KINDS
from components.kinds.nonreciprocal import least_loss_db, passive_phases
from components.parameters import ParameterError
from components.quantities import parse
from components.settings import Settings

CIRCLE = np.exp(2j * np.pi * np.arange(720) / 720)


def amplitude(db):
    return 10.0 ** (-db / 20.0)


def largest(forward, back, reflection):
    """Return the largest singular value, reflections of any phase: a dense matrix for each."""
    i = np.arange(3)
    s = np.zeros((*np.shape(reflection), 3, 3), complex)
    s[..., (i + 1) % 3, i] = forward
    s[..., i, (i + 1) % 3] = back
    s[..., i, i] = np.asarray(reflection)[..., None]
    return np.linalg.norm(s, 2, axis=(-2, -1))


def circulator(**values):
    values = {name: parse(f"{db} dB", "ratio") for name, db in values.items()}
    return Settings(KINDS["circulator"], values)


losses = st.floats(0.0, 6.0)
leaks = st.floats(3.0, 40.0)


@given(losses, leaks, leaks)
def test_phases_are_passive_exactly_where_the_singular_values_are(loss, isolation, return_loss):
    forward, back, r = amplitude(loss), amplitude(isolation), amplitude(return_loss)
    phases = passive_phases(forward=forward, back=back, reflection=r)
    distance = np.abs(np.angle(-CIRCLE))  # from pi
    inside = (distance <= phases.near) | ((distance >= phases.start) & (distance <= phases.end))
    margin = largest(forward, back, r * CIRCLE) - 1.0
    sure = np.abs(margin) > 1e-9  # on the edge itself rounding decides
    assert np.array_equal(inside[sure], (margin < 0)[sure])


@given(losses, leaks, leaks)
def test_every_drawn_phase_becomes_a_passive_one(loss, isolation, return_loss):
    forward, back, r = amplitude(loss), amplitude(isolation), amplitude(return_loss)
    phases = passive_phases(forward=forward, back=back, reflection=r)
    if not phases.exist:
        assert largest(forward, back, r * CIRCLE).min() > 1.0
        return
    turned = phases.phasor(CIRCLE)
    assert np.abs(turned) == pytest.approx(np.ones(720), abs=1e-12)
    assert largest(forward, back, r * turned).max() <= 1.0 + 1e-10


def test_where_every_phase_is_passive_it_is_the_drawn_one():
    phases = passive_phases(forward=0.5, back=0.1, reflection=0.1)
    assert phases.phasor(CIRCLE) == pytest.approx(CIRCLE, abs=1e-12)


def test_even_draws_lie_evenly_on_what_is_passive():
    """0.3 dB, 20 dB and 18 dB: evenly within an arc about pi."""
    phases = passive_phases(forward=amplitude(0.3), back=0.1, reflection=amplitude(18))
    ways = np.sort(np.angle(-phases.phasor(CIRCLE)))
    assert np.ptp(np.diff(ways)) < 1e-9
    assert ways[-1] == pytest.approx(-ways[0], abs=2 * np.pi / 720)
    assert 0.01 < phases.near < np.pi / 3


def test_the_lossless_circulator_has_one_phase():
    """l^2 + i^2 + r^2 = 1 with r = -l i / (l + i): unitary, and at no other phase passive."""
    back = 0.1
    forward = (1.0 - back + np.sqrt((1.0 - back) * (1.0 + 3.0 * back))) / 2.0
    r = forward * back / (forward + back)
    phases = passive_phases(forward=forward, back=back, reflection=r)
    assert phases.exist
    assert phases.phasor(CIRCLE) == pytest.approx(np.full(720, -1.0), abs=1e-7)


def test_a_circulator_from_a_data_sheet_is_taken(conditions):
    """Isolation 20 dB, return loss 18 dB, 0.3 dB of loss: any phase would ask for 2.224 dB."""
    element = circulator(insertion_loss=0.3, isolation=20, return_loss=18)
    for phase in CIRCLE[::45, None]:
        s = element.kind.scattering(element, conditions(5.0, phase=lambda port, p=phase: p))
        assert np.abs(s[0, 0]) == pytest.approx(amplitude(18))
        assert np.abs(s[1, 0]) == pytest.approx(amplitude(0.3))
        assert largest(s[1, 0], s[0, 1], s[0, 0]).max() <= 1.0 + 1e-12


@pytest.mark.parametrize(("isolation", "return_loss"), [(20, 18), (20, 10), (12, 6), (300, 12)])
def test_too_little_loss_is_refused_with_the_least_that_would_do(
    isolation, return_loss, conditions
):
    element = circulator(isolation=isolation, return_loss=return_loss)
    with pytest.raises(ParameterError) as caught:
        element.kind.scattering(element, conditions(5.0))
    least = least_loss_db(back=amplitude(isolation), reflection=amplitude(return_loss))
    assert f"give an insertion_loss of at least {least:.4f} dB" in caught.value.instead
    good = circulator(isolation=isolation, return_loss=return_loss, insertion_loss=least)
    good.kind.scattering(good, conditions(5.0))
    r = amplitude(return_loss) * CIRCLE
    assert largest(amplitude(least - 2e-4), amplitude(isolation), r).min() > 1.0


def test_reflection_and_leak_that_no_loss_lets_stand(conditions):
    """|r|^2 + |i|^2 above one."""
    element = circulator(isolation=1, return_loss=1, insertion_loss=20)
    with pytest.raises(ParameterError) as caught:
        element.kind.scattering(element, conditions(5.0))
    assert caught.value.instead == "raise isolation or return_loss"
