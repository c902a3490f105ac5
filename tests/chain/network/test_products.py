"""Sums of products of what differs between variants: their algebra, and when they serve."""

import numpy as np
import pytest

from chain.network.products import Sum, product, terms_of

A, B = Sum({(0,): 1.0}), Sum({(1,): 1.0})
VALUES = np.array([0.3 + 0.2j, -0.7j])


def _at(value):
    """Return the number that a Sum stands for where the letters have VALUES."""
    return sum(np.prod(VALUES[list(letters)]) * factor
               for letters, factor in terms_of(value).items())


@pytest.mark.parametrize("made", [
    lambda a, b: a + b, lambda a, b: 2.0 + a, lambda a, b: a * b, lambda a, b: a * (b + 3j) * a,
    lambda a, b: np.array([2.0, 5j]) * a * b + b, lambda a, b: (a + b) * (a + 1.0) + a * b,
])
def test_sums_add_and_multiply_as_the_numbers_they_stand_for(made):
    assert np.allclose(_at(made(A, B)), made(*VALUES), rtol=1e-14)


def test_products_are_shared_whatever_the_order_of_their_letters():
    assert set(terms_of(A * B + B * A)) == {(1, 0)}
    known = {(): 1.0, (0,): VALUES[0], (1,): VALUES[1]}
    assert product(known, (1, 0, 0)) == pytest.approx(VALUES[1] * VALUES[0] ** 2)
    assert (1, 0) in known
