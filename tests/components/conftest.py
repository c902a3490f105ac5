"""Elements from the values that a layout would give, without a layout."""

import numpy as np
import pytest

import components.kinds  # noqa: F401  (registers them)
from components.conditions import Conditions
from components.declaration import KINDS
from components.parameters import Flag, Measure, Whole
from components.quantities import Table, parse
from components.settings import Settings


def _typed(kind, name, text):
    reads = kind.declared()[name].reads
    if isinstance(reads, Measure) and isinstance(text, dict):
        points = [(parse(f, "frequency").value, parse(v, reads.dimension).value)
                  for f, v in text.items()]
        return Table(*zip(*points, strict=True), reads.dimension)
    if isinstance(reads, Measure):
        return parse(str(text), reads.dimension)
    if isinstance(reads, Whole):
        return int(text)
    if isinstance(reads, Flag):
        return text in (True, "true")
    return tuple(text) if isinstance(text, list) else text


@pytest.fixture(scope="session")
def element():
    """Return a function from a kind's name and values as written to its Settings."""

    def make(name, **values):
        kind = KINDS[name]
        return Settings(kind, {key: _typed(kind, key, value) for key, value in values.items()})

    return make


@pytest.fixture(scope="session")
def conditions():
    """Return a function from frequencies in GHz and a temperature in kelvin to Conditions."""

    def make(*ghz, kelvin=0.015, **more):
        return Conditions(
            frequency_hz=1e9 * np.array(ghz, float), temperature_k=kelvin, **more
        )

    return make


@pytest.fixture(scope="session")
def matrices():
    """Return a function from an NPort to S, C and D = J - S J S^H, (points, n, n), first draw."""

    def of(nport, points):
        s, c = nport.dense(points)
        sign = np.diag(np.array(nport.sidebands, float))
        return s[0], c[0], (sign - s @ sign @ np.conj(np.swapaxes(s, -1, -2)))[0]

    return of


@pytest.fixture(scope="session")
def problems():
    """Return a function from Settings to what the kind's check says of them."""
    return lambda settings: [str(error) for error in settings.kind.check(settings)]
