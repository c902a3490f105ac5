"""Make band_filter.s2p: an invented band filter, with the ripple and mismatch of a real one.

Run from this folder: python make_band_filter.py
"""

import numpy as np

LOW, HIGH = 3.0, 9.0  # GHz, edges of the file


def scattering(f_ghz):
    """Return S11, S21 of a lossy three-section band-pass around 6 GHz (arrays, dimensionless)."""
    detuning = (f_ghz / 6.0 - 6.0 / f_ghz) / 0.75
    # A third-order Butterworth response, 0.4 dB of dissipation, 4 cm of line on each side.
    s = 1j * detuning
    polynomial = (s + 1) * (s * s + s + 1)
    kept = 10 ** (-0.4 / 20)
    line = np.exp(-2j * np.pi * f_ghz * 1e9 * 0.04 / 2.0e8)
    through = kept * line**2 / polynomial
    reflected = kept * line**2 * s**3 / polynomial
    return reflected, through


def main():
    """Write the file."""
    rows = ["! Invented for a demo: no such filter was measured.", "# GHz S MA R 50"]
    for f in np.arange(LOW, HIGH + 1e-9, 0.02):
        s11, s21 = scattering(np.array(f))
        numbers = [f"{f:.3f}"]
        for s in (s11, s21, s21, s11):
            numbers += [f"{abs(s):.6f}", f"{np.degrees(np.angle(s)):.4f}"]
        rows.append(" ".join(numbers))
    with open("band_filter.s2p", "w") as file:
        file.write("\n".join(rows) + "\n")


if __name__ == "__main__":
    main()
