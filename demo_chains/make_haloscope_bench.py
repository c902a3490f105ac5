"""Make the invented data of the haloscope: gain and noise, the paramp on and off.

What a laboratory might have measured of a line that is not quite the layout: the isolator before
the paramp loses 2.8 dB more than it should, and the paramp gains 3.2 dB more, so that the gain of
the whole line looks right.  Gain and noise ripple by 0.15 dB (rms), each with phases of its own.
Run from this folder: python make_haloscope_bench.py
"""

import numpy as np

import chain

TRUTH = ("I1.extra_loss=2.8 dB", "X1.gain=21.2 dB", "H1.gain=35.5 dB", "H1.noise_temperature=2.1 K")
POINTS = 141
RIPPLE_DB, OWN_DB = 0.15, 0.06  # rms of the ripple, and of each point
PERIODS_HZ = (0.31e9, 0.74e9, 1.9e9)


def ripple_db(rng, frequency_hz):
    """Return a ripple of three standing waves, dB."""
    waves = [np.sin(2 * np.pi * (frequency_hz / period + rng.random())) for period in PERIODS_HZ]
    own = OWN_DB * rng.standard_normal(frequency_hz.size)
    return RIPPLE_DB * np.sqrt(2 / len(waves)) * np.sum(waves, axis=0) + own


def write(name, rng, *changes):
    """Write gain and system noise of the line as it is, with what was changed on purpose."""
    layout = chain.load("haloscope.yaml", (*TRUTH, *changes))
    f = np.linspace(layout.band.start_hz, layout.band.stop_hz, POINTS)
    b = layout.budget("receive", frequency_hz=f)
    gain_db = b.gain_db + ripple_db(rng, f)
    noise = b.system_noise_quanta * 10 ** (ripple_db(rng, f) / 10)
    with open(name, "w") as file:
        file.write("# Invented for a demo: nobody measured this.\n")
        file.write("frequency_hz,gain_db,system_noise_quanta\n")
        for row in zip(f, gain_db, noise, strict=True):
            file.write("{:.0f},{:.3f},{:.4f}\n".format(*row))


if __name__ == "__main__":
    generator = np.random.default_rng(2)
    write("haloscope_on.csv", generator)
    write("haloscope_off.csv", generator, "X1.state=off")
