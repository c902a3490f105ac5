"""Whether amplifiers see themselves: the loop gain around each."""

import numpy as np


def oscillation_warnings(network):
    """Return a sentence for every amplifier around which the loop gain reaches one.

    A unit wave added to what leaves the amplifier comes back as 1 / (1 - loop gain), whatever the
    paths: H. Nyquist, Regeneration theory, Bell Syst. Tech. J. 11, 126 (1932), return difference
    of H. W. Bode, Network Analysis and Feedback Amplifier Design (1945).
    """
    found = []
    for key in network.ids:
        if not network.amplifies(network.layout.elements[key]):
            continue
        wave = amplified_wave(network, key)
        if network.returns(wave):
            loop = loop_gain(network.forward({wave: 1.0}, checked=False)[wave])
            found += oscillation_warning(key, loop, network.frequency_hz)
    return found


def amplified_wave(network, key):
    """Return the wave that leaves an amplifier by its output, or reflected."""
    element = network.layout.elements[key]
    enter, leave = element.kind.default_route(element.settings)
    return key, leave or enter, 1


def loop_gain(seen):
    """Return the loop gain's amplitude from what a unit added to a wave makes of it."""
    return np.abs(1.0 - 1.0 / seen)


def oscillation_warning(key, loop, frequency_hz):
    """Return [the warning] where a loop gain, (draws, points) or less, reaches one, else []."""
    if not np.any(loop >= 1.0):
        return []
    points = len(frequency_hz)
    full = np.broadcast_to(loop, np.broadcast_shapes(np.shape(loop), (1, points)))
    at = frequency_hz[np.argmax(full) % points]
    return [
        f"{key} may oscillate: the loop gain around it reaches "
        f"{20 * np.log10(np.max(loop)):.1f} dB at {at / 1e9:.4g} GHz; the numbers below "
        "hold only if it does not"
    ]
