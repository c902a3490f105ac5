"""Make warm_trace.s2p: an invented room temperature trace of the haloscope, with a bad joint.

What an analyser at S1 and R1 might have shown: the layout's own expectation, parts off by what
their tolerances let them, a little noise, and a joint that does not sit and takes 7 dB from 5.1 to
5.9 GHz.  Run from this folder: python make_warm_trace.py
"""

import numpy as np

import chain
from chain.measurement.analyser import opened, traces

LOW, HIGH = 5.1e9, 5.9e9  # Hz, where the joint takes its part


def through_db(frequency_hz):
    """Return the invented transmission from S1 to R1, dB (array)."""
    layout = chain.load("haloscope.yaml").warm()
    [expected] = [
        trace.expected_db for trace in traces(opened(layout, ()), frequency_hz=frequency_hz)
        if (trace.first, trace.second) == ("S1", "R1")
    ]
    edge = 0.02e9
    rises, falls = (np.clip((frequency_hz - f) / edge + 0.5, 0, 1) for f in (LOW, HIGH))
    noise = np.random.default_rng(4).normal(0.0, 0.05, frequency_hz.size)
    return expected + 0.3 - 7.0 * (rises - falls) + noise


def main():
    """Write the file."""
    f = np.linspace(4e9, 7.5e9, 351)
    rows = ["! Invented for a demo: nobody measured this.", "# GHz S DB R 50"]
    for hz, s21 in zip(f, through_db(f), strict=True):
        # Back through two isolators and an amplifier without bias nothing is seen.
        rows.append(f"{hz / 1e9:.3f} -24 0 {s21:.4f} 0 -140 0 -21 0")
    with open("warm_trace.s2p", "w") as file:
        file.write("\n".join(rows) + "\n")


if __name__ == "__main__":
    main()
