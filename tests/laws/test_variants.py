"""Random layouts with random changes: variants against full budgets."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chain.errors import LayoutError
from chain.layout.variants import Variant
from chain.noise.budget import budget
from chain.noise.variants import variant_budgets
from components.quantities import Quantity

AGREED_DB = 1e-9

FEW = settings(
    max_examples=15, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)


@st.composite
def changed(draw, layout):
    """Draw a variant: a few elements in other states or with other numbers, a stage warmer."""
    values = {}
    for key in draw(st.lists(st.sampled_from(sorted(layout.elements)), max_size=3, unique=True)):
        element = layout.elements[key]
        numbers = [name for name, value in element.settings.values.items()
                   if isinstance(value, Quantity)]
        if numbers and draw(st.booleans()):
            name = draw(st.sampled_from(numbers))
            old = element.settings.values[name]
            factor = draw(st.floats(0.7, 1.5))
            values[key] = {name: Quantity(old.value * factor, old.dimension, "")}
        else:
            values[key] = {"state": draw(st.sampled_from(element.kind.states))}
    kelvin = {"base": draw(st.floats(0.01, 3.0))} if draw(st.booleans()) else {}
    return Variant("drawn", values, kelvin)


@FEW
@given(data=st.data())
@pytest.mark.parametrize("which", ["passive", "active"])
def test_variants_equal_their_own_budgets(data, which, random_layouts, write_layout):
    layout = write_layout(data.draw(getattr(random_layouts, which)()))
    variants = [data.draw(changed(layout)) for _ in range(8)]
    found = variant_budgets(layout, variants)
    for number, variant in enumerate(variants):
        try:
            with np.errstate(all="ignore"):
                b = budget(variant.apply(layout))
        except LayoutError as error:
            same = str(error) == str(found.errors[number])
        else:
            if not np.isfinite(b.noise_at_to_quanta).all():
                continue  # a wave is shut in between two ends; the budget itself has no answer
            off_db = 10 * np.log10(found.system_noise_quanta[number] / b.system_noise_quanta)
            same = (
                np.abs(found.gain_db[number] - b.gain_db).max() < AGREED_DB
                and np.abs(off_db).max() < AGREED_DB
            )
        assert same, variant
