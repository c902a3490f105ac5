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
        element = network.layout.elements[key]
        if not network.amplifies(element):
            continue
        wave = (key, element.kind.ports(element.settings)[-1], 1)
        if not network.returns(wave):
            continue
        seen = network.forward({wave: 1.0}, checked=False)[wave]
        loop = np.abs(1.0 - 1.0 / seen)
        if np.any(loop >= 1.0):
            at = _worst_frequency(network, loop)
            found.append(
                f"{key} may oscillate: the loop gain around it reaches "
                f"{20 * np.log10(np.max(loop)):.1f} dB at {at / 1e9:.4g} GHz; the numbers below "
                "hold only if it does not"
            )
    return found


def _worst_frequency(network, loop):
    points = len(network.frequency_hz)
    full = np.broadcast_to(loop, np.broadcast_shapes(np.shape(loop), (1, points)))
    return network.frequency_hz[np.argmax(full) % points]
