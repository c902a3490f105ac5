"""Every quantity has a least and a most."""

import math

import pytest

import components.kinds  # noqa: F401  (registers every kind)
from components.bounds import BOUNDS
from components.declaration import KINDS
from components.parameters import Measure
from components.quantities import UNITS, parse, written

DECLARED = [
    (f"{kind.name}.{name}", kind, parameter)
    for kind in KINDS.values() for name, parameter in kind.declared().items()
    if isinstance(parameter.reads, Measure)
]


def test_every_dimension_has_bounds_and_says_why():
    assert set(BOUNDS) == set(UNITS) - {"number"}
    for bounds in BOUNDS.values():
        assert math.isfinite(bounds.least)
        assert math.isfinite(bounds.most)
        assert bounds.least < bounds.most
        assert len(bounds.why) > 10


def test_a_number_has_to_declare_its_own():
    with pytest.raises(TypeError, match="a number has to declare its most"):
        Measure("number", least=0.0)


@pytest.mark.parametrize(("name", "kind", "parameter"), DECLARED, ids=[d[0] for d in DECLARED])
def test_every_parameter_has_both(name, kind, parameter):
    reads = parameter.reads
    assert math.isfinite(reads.least)
    assert math.isfinite(reads.most)
    assert reads.lowest <= reads.least < reads.most
    if reads.zero:
        assert reads.least > 0  # else zero is inside anyway
    if parameter.default is not None:
        assert reads.outside(parse(parameter.default, reads.dimension).value) is None


@pytest.mark.parametrize(("value", "dimension", "text"), [
    (1e13, "frequency", "10000 GHz"), (1.0, "frequency", "1 Hz"), (1e-6, "temperature", "1 uK"),
    (0.0, "temperature", "0 K"), (1e-30, "power", "1e-30 W"), (1e6, "power", "1000 kW"),
    (0.1, "fraction", "10 %"), (1e13, "number", "1e13"), (-100.0, "ratio", "-100 dB"),
    (1e-12, "conductivity", "1e-12 W/(m K)"), (0.86e-3, "length", "860 um"),
])
def test_bounds_are_written_in_a_unit_that_suits(value, dimension, text):
    assert written(value, dimension) == text
    assert parse(text, dimension).value == pytest.approx(value, rel=1e-12)
