"""Make the invented readings of the paramp line: hot and cold, on and off, and over its pump.

What an analyser at R1 might have read of a line that is not quite the layout: the paramp itself
adds most of another quantum, and the rest is off by no more than its tolerances.  The thermometer
reads 0.6 % low, the gain drifts by a few parts in a thousand between sweeps.  Over the pump's power
and frequency the paramp gains as cosh^2 of a phase that goes with the power, and is noisier the
harder it is driven.
Run from this folder: python make_paramp_readings.py
"""

import numpy as np

import chain
from components.constants import H

LOADS_K = (0.06, 0.5, 1.0, 1.5, 0.06)  # in the order in which they were read
COLD_K = 0.06
THERMOMETER = 1.006  # true over read
POWER, DRIFT, GAIN_DB = 0.004, 0.002, 0.03  # standard deviations: relative, relative, dB
TRUTH = ("X1.excess_noise=0.8", "I1.insertion_loss=0.44 dB", "H1.noise_temperature=2.12 K",
         "H1.gain=35.3 dB", "X1.gain=20.3 dB")


def density_w_hz(load_k, *changes):
    """Return what arrives at R1 with the load at a temperature, W/Hz (points,)."""
    layout = chain.load("paramp_line.yaml", (*TRUTH, *changes, f"L1.temperature={load_k} K"))
    b = layout.budget("receive")
    return b.noise_at_to_quanta * H * b.frequency_hz


def sweep(rng, load_k, *changes):
    """Return one sweep as it was read, dBm/Hz, drift and scatter on it."""
    power = density_w_hz(load_k * THERMOMETER, *changes)
    power = power * (1 + DRIFT * rng.standard_normal())
    return 10 * np.log10(power * (1 + POWER * rng.standard_normal(power.shape)) / 1e-3)


def write(name, head, rows):
    """Write rows under a header."""
    with open(name, "w") as file:
        file.write("# Invented for a demo: nobody measured this.\n")
        file.write("\n".join([head, *rows]) + "\n")


PUMPS_DBM = (-5.5, -5.0, -4.5, -4.0, -3.5, -3.0, -2.5)  # into S1
PUMPS_GHZ = (5.4025, 5.4525, 5.5025, 5.5525, 5.6025)
TWENTY_DB_DBM = -3.35  # gains 20 dB at the best frequency


def pumped_paramp(dbm, ghz):
    """Return the invented gain (dB), excess noise (quanta), drop under a strong tone (dB)."""
    stronger = 10 ** ((dbm - TWENTY_DB_DBM) / 10)
    phase = np.arccosh(10.0) * stronger * np.exp(-(((ghz - 5.49) / 0.2) ** 2))
    gain_db = 20 * np.log10(np.cosh(phase))
    return gain_db, 0.45 + 0.35 * stronger ** (10 / 3), 0.1 * 10 ** ((gain_db - 14) / 10)


def grid_rows(rng, frequency_hz, off_gain_db):
    """Yield the rows of readings over the pump, the load cold."""
    for ghz in PUMPS_GHZ:
        for dbm in PUMPS_DBM:
            gain_db, excess, drop_db = pumped_paramp(dbm, ghz)
            changes = (f"X1.gain={gain_db:.6f} dB", f"X1.excess_noise={excess:.6f}",
                       f"tones.pump.frequency={ghz} GHz")
            on = sweep(rng, COLD_K, *changes)[::6]
            b = chain.load("paramp_line.yaml", (*TRUTH, *changes)).budget("receive")
            change = (b.gain_db - off_gain_db)[::6] + GAIN_DB * rng.standard_normal(on.shape)
            strong = change - drop_db + GAIN_DB * rng.standard_normal(on.shape)
            for cells in zip(frequency_hz[::6], change, strong, on, strict=True):
                yield "{},{},{:.0f},{:.4f},{:.4f},{:.5f}".format(dbm, f"{ghz * 1e9:.0f}", *cells)


def main():
    """Write the four files."""
    rng = np.random.default_rng(16)
    layout = chain.load("paramp_line.yaml")
    f = layout.band.frequency_hz
    sigma = 10 / np.log(10) * POWER

    def rows(load_k, *changes):
        return [f"{hz:.0f},{load_k:g},{dbm:.5f},{sigma:.4f}"
                for hz, dbm in zip(f, sweep(rng, load_k, *changes), strict=True)]

    head = "frequency_hz,load_k,power_dbm_hz,power_sigma"
    off = [row for load_k in LOADS_K for row in rows(load_k, "X1.state=off")]
    write("paramp_off.csv", head, off)
    write("paramp_on.csv", head, rows(COLD_K))
    truth = [chain.load("paramp_line.yaml", (*TRUTH, *more)).budget("receive").gain_db
             for more in ((), ("X1.state=off",))]
    change = truth[0] - truth[1] + GAIN_DB * rng.standard_normal(f.shape)
    write("paramp_gain_change.csv", "frequency_hz,gain_change_db,gain_change_db_sigma",
          [f"{hz:.0f},{db:.4f},{GAIN_DB}" for hz, db in zip(f, change, strict=True)])
    write("paramp_grid.csv", "pump_dbm,pump_hz,frequency_hz,gain_change_db,gain_change_strong_db,"
          "power_dbm_hz", grid_rows(rng, f, truth[1]))


if __name__ == "__main__":
    main()
