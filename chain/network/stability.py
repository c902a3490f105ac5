"""Whether amplifiers see themselves: the loop gain around each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chain.network.assembly import Network
    from components.arrays import BoolArray, FloatArray

REACHED = 0.995
"""Real part of a loop that counts as one: the phases drawn come this near to the worst one."""


def loops(network: Network) -> Iterator[Any]:
    """Yield (id, loop gain as an amplitude) of every amplifier that anything comes back to.

    A unit wave added to what leaves the amplifier comes back as 1 / (1 - loop gain), whatever the
    paths: H. Nyquist, Regeneration theory, Bell Syst. Tech. J. 11, 126 (1932), return difference
    of H. W. Bode, Network Analysis and Feedback Amplifier Design (1945).  Shape (draws, points) or
    less.
    """
    for key in network.ids:
        if not network.amplifies(network.layout.elements[key]):
            continue
        wave = amplified_wave(network, key)
        if network.returns(wave):
            seen = network.forward({wave: 1.0}, checked=False)[wave]
            yield key, 1.0 - 1.0 / seen


def oscillation(network: Network) -> tuple[BoolArray, list[str]]:
    """Return (where no mean over phases exists, sentences on what may oscillate).

    The former is True, shape (points,), where `judged` says so of an amplifier.
    """
    unstable, said = np.zeros(len(network.frequency_hz), bool), []
    for key, loop in loops(network) if network.active else ():
        reached, own = judged(
            key, loop, network.frequency_hz, phased=network.phases is not None
        )
        unstable |= reached
        said += own
    return unstable, said


def judged(
    key: str, loop: Any, frequency_hz: FloatArray, *, phased: bool
) -> tuple[BoolArray, list[str]]:
    """Return (where there is no mean over phases, [what is to be said]) of a loop around `key`.

    `loop` is its amplitude, (draws, points) or less.  The former is True, shape (points,), where it
    is one or more and some phase of what nobody knows (`phased`) lets it come round in phase; the
    mean of 1/|1 - L|^2 over phases has no bound there, and a linear solution means nothing.  Where
    every phase is known a loop of one or more is warned of alone.
    """
    points = len(frequency_hz)
    reached, size = np.zeros(points, bool), np.abs(loop)
    if not np.any(size >= 1.0):
        return reached, []
    most = 20 * np.log10(np.max(size))
    at = f"{_worst_frequency(frequency_hz, size) / 1e9:.4g} GHz"
    if phased:
        whole = np.atleast_2d(np.broadcast_to(loop, np.broadcast_shapes(np.shape(loop), (points,))))
        reached = (np.abs(whole).max(axis=0) >= 1.0) & (whole.real.max(axis=0) >= REACHED)
    if np.any(reached):
        return reached, [
            f"{key} may oscillate: with phases that nobody knows the loop around it reaches "
            f"{most:.1f} dB at {at}; from 0 dB on there is no mean gain or noise, which is so "
            f"{_where(frequency_hz, reached)}: isolate it more, or give the phases"
        ]
    return reached, [
        f"{key} may oscillate: the loop gain around it reaches {most:.1f} dB at {at}; the numbers "
        "below hold only if it does not"
    ]


def _where(frequency_hz, reached):
    if np.all(reached):
        return "anywhere in the band"
    f = frequency_hz[reached] / 1e9
    return f"from {f.min():.4g} to {f.max():.4g} GHz"


def amplified_wave(network: Network, key: str) -> Any:
    """Return the wave that leaves an amplifier by its output, or reflected."""
    element = network.layout.elements[key]
    enter, leave = element.kind.default_route(element.settings)
    return key, leave or enter, 1


def _worst_frequency(frequency_hz, loop):
    points = len(frequency_hz)
    full = np.broadcast_to(loop, np.broadcast_shapes(np.shape(loop), (1, points)))
    return frequency_hz[np.argmax(full) % points]
