"""Compression, intercept, bypassed and reordered stages, pump levels against printed numbers."""

import math

import pytest

from chain.design.comparison import compare
from chain.power.signal_path import cascade
from chain.power.tones import power

K, T0 = 1.380649e-23, 290.0

ROOM = """
stages: {room: {temperature: 290 K}}
band: {start: 1 GHz, stop: 1 GHz, points: 1}
"""
ENDS = ("    - {id: S, kind: port, stage: room}\n", "    - {id: R, kind: port, stage: room}\n")


def line(*elements):
    items = "".join(f"    - {element}\n" for element in elements)
    return (f"{ROOM}lines:\n  main:\n{ENDS[0]}{items}{ENDS[1]}"
            "signals: {main: {from: S, to: R}}\n")


PRE = "{id: P, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 6 dB}"
CABLE = "{id: C, kind: cable, stage: room, loss: 3 dB}"
RECEIVER = "{id: X, kind: amplifier, stage: room, gain: 30 dB, noise_figure: 16 dB}"

# H. P. Hsu, Analog and Digital Communications, Ex. 8.14 (inputs from a transcription of the
# exercises; the printed answers close).
HSU = [
    ("preamplifier first", (PRE, CABLE, RECEIVER), (), 6.781),
    ("no preamplifier", (PRE, CABLE, RECEIVER), ("P.state=bypassed",), 19.0),
    ("preamplifier after the cable", (CABLE, PRE, RECEIVER), (), 9.404),
]


@pytest.mark.parametrize(("what", "elements", "changes", "figure_db"), HSU)
def test_bypassed_and_reordered_stages(what, elements, changes, figure_db, write_layout):
    budget = write_layout(line(*elements), *changes).budget("main")
    # 3 dB and 16 dB are taken as exact decibels; the book prints three decimals.
    assert budget.noise_figure_db[0] == pytest.approx(figure_db, abs=2e-3), what


# D. K. Mishra, Radio-Frequency and Microwave Communication Circuits, 2nd ed.
# (2004), Ex. 2.12 p. 43 (transcription).
ONE = "{id: A, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 3 dB}"
TWO = "{id: B, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 5 dB}"
MISHRA = [((ONE, TWO), 3.047), ((TWO, ONE), 5.0136)]


@pytest.mark.parametrize(("elements", "figure_db"), MISHRA)
def test_the_order_of_two_amplifiers(elements, figure_db, write_layout):
    budget = write_layout(line(*elements)).budget("main")
    assert budget.noise_figure_db[0] == pytest.approx(figure_db, abs=1e-3)


def test_exchanging_amplifiers_costs_what_the_figures_say(write_layout):
    first, second = (write_layout(line(*elements)) for elements, _ in MISHRA)
    found = compare(first, second, "main")
    # System noise from a 290 K source goes as the noise figure.
    assert found.noise_ratio[0] == pytest.approx(10 ** ((5.0136 - 3.047) / 10), rel=1e-3)


def test_linear_dynamic_range(write_layout):
    """D. M. Pozar, Microwave Engineering, 2nd ed. (1998), Ex. 10.2 p. 557 (transcription):
    20 dB, 3.5 dB, 2 GHz, compression at 10 dBm out: -57.5 dBm of noise out, 67.5 dB of range."""
    layout = write_layout(line(
        "{id: A, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 3.5 dB, p1db_out: 10 dBm}"
    ))
    budget = layout.budget("main")
    noise_w = budget.system_noise_k[0] * K * 2e9 * 100
    noise_dbm = 10 * math.log10(noise_w / 1e-3)
    assert noise_dbm == pytest.approx(-57.5, abs=0.05)  # printed to a tenth of a decibel
    found = cascade(layout, layout.signals["main"], 1e9)
    out_dbm = 10 * math.log10(found.p1db_w / 1e-3) + 20 - 1
    assert out_dbm - noise_dbm == pytest.approx(67.5, abs=0.05)


def test_cascaded_intercept(write_layout):
    """D. M. Pozar, Microwave Engineering, 3rd ed., ch. 10 (inputs and result from memory):
    amplifier 20 dB with 22 dBm, mixer -6 dB with 13 dBm at its input: 4.4 mW = 6.4 dBm out."""
    layout = write_layout(line(
        "{id: A, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 3 dB, ip3_out: 22 dBm}",
        "{id: M, kind: amplifier, stage: room, gain: -6 dB, noise_figure: 6 dB, ip3_out: 7 dBm}",
    ))
    found = cascade(layout, layout.signals["main"], 1e9)
    # The book rounds 4.45 mW to two digits: half of its last digit, 0.1 dB.
    assert 10 * math.log10(found.ip3_w / 1e-3) + 14 == pytest.approx(6.4, abs=0.1)


def test_a_resonant_paramps_pump_leaks_back_to_the_device(write_layout):
    """D. H. Slichter, PhD thesis, UC Berkeley (2011): pump -95 to -90 dBm at the paramp through a
    20 dB coupler, three circulators of about 20 dB to the cavity: -155 to -150 dBm there
    (order of magnitude: isolation is 'about' 20 dB each)."""
    layout = write_layout("""
stages: {room: {temperature: 290 K}, base: {temperature: 20 mK}}
band: {start: 6 GHz, stop: 6 GHz, points: 1}
lines:
  main:
    - {id: D, kind: device, stage: base, reflects: true}
    - {id: I1, kind: isolator, stage: base, isolation: 20 dB}
    - {id: I2, kind: isolator, stage: base, isolation: 20 dB}
    - {id: I3, kind: isolator, stage: base, isolation: 20 dB}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, reversed: true, loads: [isolated]}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: four-wave, pump: pump, reflects: true}
  pump:
    - {id: P, kind: port, stage: room}
    - {join: C.coupled}
tones: {pump: {into: P, frequency: 5.932 GHz, arriving: {X.in: -92.5 dBm}}}
""")
    found = power(layout).tones["pump"]
    assert found.arriving_dbm["D.in"] == pytest.approx(-152.5, abs=2.5)
    assert found.arriving_dbm["C.coupled"] == pytest.approx(-72.5, abs=0.1)
