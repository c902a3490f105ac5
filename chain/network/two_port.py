"""A signal path as a two-port for others: a scikit-rf Network, a Touchstone file."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.asked import asked_frequencies
from chain.layout.signals import chosen_signal
from chain.network.assembly import Choices, phase_draws, scattering_network
from chain.network.elimination import Factors, plan_for
from chain.writing.files import write_whole
from chain.writing.foreign_text import one_line

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from skrf import Network as SkrfNetwork

    from chain.layout.layout import Layout
    from components.arrays import ComplexArray, FloatArray


def path_scattering(
    layout: Layout, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
) -> tuple[FloatArray, ComplexArray]:
    """Return (Hz, S) of a signal path, S of shape (points, 2, 2), 50 ohm power waves.

    Port 1 lies where the wave leaves `from`, port 2 where it arrives at `to`: the two joints are
    opened, and 50 ohm put to the open ends, as an analyser does.  S21 is from `from` to `to`, S11
    and S22 what comes back at each; everything else of the network stays in place, idlers too.
    |S21|^2 is the budget's gain wherever the elements behind the two joints do not reflect.
    Reflections of unknown phase are taken as real and positive, or as near to it as the element is
    passive.  Raises LayoutError.
    """
    chosen = chosen_signal(layout, signal)
    if chosen.from_port is None:
        raise LayoutError.at(
            chosen.place, f"signal {chosen.name} has no start, so it has no path",
            "add `from:`, the port by which the wave leaves",
        )
    f = asked_frequencies(layout, frequency_hz, chosen)
    network = scattering_network(layout, chosen.to_port[0], f, Choices(phases=False))
    ends = [chosen.from_port, chosen.to_port]
    s = np.zeros((f.size, 2, 2), complex)
    for column, waves in enumerate(_opened(network, ends)):
        for row, end in enumerate(ends):
            s[:, row, column] = waves.get(network.index[network.arriving(end)], 0.0)
    return f, s


def _opened(network, ends):
    """Yield the waves {number: array} that a unit wave from each end makes, both joints opened.

    What leaves an end is then the unit wave alone, and nothing of what its element sends back.
    """
    leaving = [network.index[(*end, 1)] for end in ends]
    entries = {
        (row, column): entry for (row, column), entry in network.entries.items()
        if row not in leaving
    }
    pattern = [set() for _ in network.index]
    for row, column in entries:
        if row != column:
            pattern[row].add(column)
    loops = tuple(row for row, column in entries if row == column)
    factors = Factors(plan_for(tuple(map(frozenset, pattern)), loops, None), entries)
    for wave in leaving:
        if network.active:
            yield factors.solve({wave: 1.0}, transposed=False)[0]
        else:
            yield factors.forward({wave: 1.0})


def path_network(
    layout: Layout, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
) -> SkrfNetwork:
    """Return `path_scattering` as a scikit-rf Network named after the signal."""
    from skrf import Frequency
    from skrf.network import Network as Other

    name = chosen_signal(layout, signal).name
    f, s = path_scattering(layout, name, frequency_hz=frequency_hz)
    comments = "\n".join(_about(layout, name))
    return Other(
        frequency=Frequency.from_f(f, unit="Hz"), s=s, z0=50.0, name=name, comments=comments,
    )


def _about(layout, name):
    signal = layout.signals[name]
    said = [
        one_line(layout.title),
        f"{name}: port 1 where the wave leaves {'.'.join(signal.from_port)}, port 2 where it "
        f"arrives at {'.'.join(signal.to_port)}",
    ]
    if phase_draws(layout, layout.connected(signal.to_port[0])) > 1:
        said.append(
            "reflections of unknown phase are taken as real and positive, or as near to it as the "
            "element is passive"
        )
    return said


def touchstone_text(
    layout: Layout, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
) -> str:
    """Return `path_scattering` as the text of a Touchstone 1 two-port file: Hz, real, imaginary."""
    name = chosen_signal(layout, signal).name
    f, s = path_scattering(layout, name, frequency_hz=frequency_hz)
    lines = [f"! {line}" for said in _about(layout, name) for line in said.splitlines()]
    lines.append("# Hz S RI R 50")
    for at, ((s11, s12), (s21, s22)) in zip(f, s, strict=True):
        # The format has the columns of a two-port before its rows.
        numbers = [part for entry in (s11, s21, s12, s22) for part in (entry.real, entry.imag)]
        lines.append(" ".join([repr(float(at)), *(repr(float(part)) for part in numbers)]))
    return "\n".join(lines) + "\n"


def check_touchstone_name(path: str, option: str = '--touchstone') -> None:
    """Raise LayoutError where a file name does not say that it holds a two-port."""
    if os.path.splitext(path)[1].lower() != ".s2p":
        raise LayoutError.at(
            Place(option), f"{path!r} is no name of a Touchstone file of two ports",
            "let it end in .s2p",
        )


def write_touchstone(
    layout: Layout, path: str, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
) -> None:
    """Write the path of a signal as a .s2p file, whole or not at all.

    Raises LayoutError, and CannotWrite where the file cannot be written.
    """
    check_touchstone_name(path)
    text = touchstone_text(layout, signal, frequency_hz=frequency_hz)
    write_whole(path, text, read=layout.files)
