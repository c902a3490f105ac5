"""Textbook cascades, each written as a layout and run through the whole program.

The books count kT; the layouts stand at 10 MHz, where a load at 20 K emits as kT to 1e-12 and the
vacuum is 0.2 mK.  Each row says how it is held: T, its inputs and results from a transcription of
the book's exercises, the arithmetic redone; M, from memory.  Left out: examples whose transcription
does not close, and those that test_levels.py has.  The formula behind them is that of H. T. Friis,
Noise figures of radio receivers, Proc. IRE 32, 419 (1944).
"""

import numpy as np
import pytest

BOOKS_K = 1.38e-23
"""Boltzmann's constant as the books have it: 2 mdB from the exact one."""


@pytest.fixture
def receiver(write_layout):
    """Return a function from a source's temperature and elements to the Budget from it to the end.

    `start` names the port at which noise is referred; all elements stand at 290 K.
    """

    def budget(source_k, *elements, start="S"):
        items = [f"kind: port, temperature: {source_k!r} K", *elements, "kind: port"]
        names = ["S", *(f"E{number}" for number in range(1, len(elements) + 1)), "R"]
        rows = "".join(
            f"    - {{id: {name}, stage: room, {item}}}\n"
            for name, item in zip(names, items, strict=True)
        )
        return write_layout(
            "band: {start: 10 MHz, stop: 10 MHz, points: 1}\nstages: {room: {temperature: 290 K}}\n"
            f"lines:\n  main:\n{rows}signals: {{main: {{from: {start}, to: R}}}}\n"
        ).budget("main")

    return budget


def amplifier(gain_db, *, kelvin=None, figure_db=None):
    """Return an amplifier's keys."""
    noise = f"noise_figure: {figure_db!r} dB" if kelvin is None else f"noise_temperature: {kelvin!r} K"
    return f"kind: amplifier, gain: {gain_db!r} dB, {noise}"


def pad(loss_db, kelvin=290.0):
    """Return the keys of a matched line of a loss at a temperature."""
    return f"kind: attenuator, loss: {loss_db!r} dB, temperature: {kelvin!r} K"


def in_db(ratio):
    """Return the decibels of a ratio."""
    return float(10 * np.log10(ratio))


def dbm(budget, bandwidth_hz):
    """Return the noise at the end in a bandwidth, dBm."""
    kelvin = float(budget.system_noise_k[0]) * 10 ** (budget.gain_db[0] / 10)
    watt = BOOKS_K * kelvin * bandwidth_hz
    return in_db(watt / 1e-3)


def factor(budget):
    """Return the noise factor of a budget."""
    return float(10 ** (budget.noise_figure_db[0] / 10))


# source, how held, elements, noise factor as printed or recomputed, half its last digit
FACTORS = [
    ("D. M. Pozar, Microwave Engineering, 2nd ed. (1998), Ex. 10.3 p. 558, line first; D. K. Mishra,"
     " Radio-Frequency and Microwave Communication Circuits, 2nd ed. (2004), Ex. 2.11 p. 42", "T",
     [pad(2.0, 300.0), amplifier(15.0, kelvin=150.0)], 2.4248, 5e-5),
    ("the same, amplifier first", "T", [amplifier(15.0, kelvin=150.0), pad(2.0, 300.0)], 1.5364, 5e-5),
    ("Pozar, 4th ed. (2012), Ex. 10.2: amplifier, filter, mixer", "M",
     [amplifier(10.0, figure_db=2.0), pad(1.0), amplifier(-3.0, figure_db=4.0)], 1.80, 5e-3),
    ("A. K. Maini and V. Agrawal, Satellite Communication (2010), Ex. 7.4 p. 270", "T",
     [amplifier(30.0, kelvin=20.0), amplifier(10.0, kelvin=360.0), amplifier(15.0, kelvin=1000.0)],
     1.07, 5e-3),
    ("W. Stanley and J. Jeffords, Electronic Communications, 2nd ed. (2009), Ex. 12.14-15 p. 418", "T",
     [amplifier(in_db(g), kelvin=t) for g, t in ((20, 100.0), (15, 200.0), (12, 300.0))],
     1.3828, 5e-5),
    ("T. S. Rappaport, Wireless Communications, App. B Ex. B.2: coax 3 dB, telephone 6 dB", "T",
     [pad(3.0), amplifier(20.0, figure_db=6.0)], 10**0.9, 5e-3),
]


@pytest.mark.parametrize(("source", "held", "elements", "expected", "digit"), FACTORS,
                         ids=[row[0][:40] for row in FACTORS])
def test_noise_factor(receiver, source, held, elements, expected, digit):
    assert factor(receiver(290.0, *elements)) == pytest.approx(expected, abs=digit)


# source, how held, source temperature, elements, added noise in kelvin, half its last digit
ADDED = [
    ("Pozar 2nd ed. Ex. 10.3 and Mishra Ex. 2.11, line first", "T",
     [pad(2.0, 300.0), amplifier(15.0, kelvin=150.0)], 413.20, 5e-3),
    ("Pozar 4th ed. Ex. 10.2", "M",
     [amplifier(10.0, figure_db=2.0), pad(1.0), amplifier(-3.0, figure_db=4.0)], 232.0, 0.5),
    ("Maini and Agrawal Ex. 7.4", "T",
     [amplifier(30.0, kelvin=20.0), amplifier(10.0, kelvin=360.0), amplifier(15.0, kelvin=1000.0)],
     20.46, 5e-3),
    ("Stanley and Jeffords Ex. 12.14", "T",
     [amplifier(in_db(g), kelvin=t) for g, t in ((20, 100.0), (15, 200.0), (12, 300.0))],
     111.0, 5e-3),
    ("J. D. Kraus, R. J. Marhefka, A. S. Khan, Antennas and Wave Propagation, 4th ed. (2012), "
     "Ex. 17-2.1 p. 629, its receiver of three stages of 80 K and 13 dB", "T",
     [amplifier(13.0, kelvin=80.0)] * 3, 84.2104, 5e-5),
]


@pytest.mark.parametrize(("source", "held", "elements", "kelvin", "digit"), ADDED,
                         ids=[row[0][:40] for row in ADDED])
def test_added_noise(receiver, source, held, elements, kelvin, digit):
    assert receiver(290.0, *elements).added_noise_k[0] == pytest.approx(kelvin, abs=digit)


# source, how held, source temperature, elements, bandwidth, dBm at the end, half its last digit
POWERS = [
    ("Pozar 2nd ed. Ex. 10.1 p. 554, load at 290 K", "T", 290.0, [amplifier(20.0, kelvin=170.0)],
     1e9, -62.0, 0.05),
    ("the same, load at 77 K", "T", 77.0, [amplifier(20.0, kelvin=170.0)], 1e9, -64.7, 0.05),
    ("the same, source of 450 K", "T", 450.0, [amplifier(20.0, kelvin=170.0)], 1e9, -60.7, 0.05),
    ("Mishra Ex. 2.9 p. 36, source of 450 K", "T", 450.0, [amplifier(10.0, kelvin=21.51)],
     1e9, -71.87, 0.005),
    ("Pozar 4th ed. Ex. 10.2, antenna of 150 K", "M", 150.0,
     [amplifier(10.0, figure_db=2.0), pad(1.0), amplifier(-3.0, figure_db=4.0)], 1e7, -96.8, 0.05),
]


@pytest.mark.parametrize(("source", "held", "kelvin", "elements", "hertz", "expected", "digit"),
                         POWERS, ids=[row[0][:40] for row in POWERS])
def test_noise_power_at_the_end(receiver, source, held, kelvin, elements, hertz, expected, digit):
    # The vacuum of the layout's 10 MHz adds 0.2 mK: nothing in these digits.
    assert dbm(receiver(kelvin, *elements), hertz) == pytest.approx(expected, abs=digit)


# source, how held, hot, cold, amplifier's noise (K), Y, half its last digit
Y_FACTORS = [
    ("Pozar 2nd ed. Ex. 10.1: Y of 2.7 dB gives 170 K", "T", 290.0, 77.0, 170.0, 10**0.27, 0.01),
    ("Mishra Ex. 2.9: Y of 3.1623 gives 21.51 K", "T", 290.0, 77.0, 21.51, 3.1623, 1e-4),
    ("D. Roddy and J. Coolen, Electronic Communications, Ex. 4.19.1 p. 146: 14 dB above 290 K, Y of "
     "9 dB gives 759.1 K", "T", 7574.5, 290.0, 759.1, 10**0.9, 1e-3),
]


@pytest.mark.parametrize(("source", "held", "hot", "cold", "kelvin", "expected", "digit"),
                         Y_FACTORS, ids=[row[0][:40] for row in Y_FACTORS])
def test_y_factor(receiver, source, held, hot, cold, kelvin, expected, digit):
    one, other = (
        receiver(load, amplifier(20.0, kelvin=kelvin)).noise_at_to_quanta[0] for load in (hot, cold)
    )
    assert one / other == pytest.approx(expected, abs=digit)


# source, how held, antenna, elements, kelvin behind the first element, half its last digit
BEHIND_A_FEEDER = [
    ("Maini and Agrawal Ex. 7.8 p. 273, no feeder", "T", 50.0,
     [pad(0.0, 300.0), amplifier(30.0, kelvin=50.0)], 100.0, 0.5),
    ("the same, feeder of 1.413 at 300 K", "T", 50.0,
     [pad(in_db(1.413), 300.0), amplifier(30.0, kelvin=50.0)], 173.07, 5e-3),
    ("R. Blake, Electronic Communication Systems, Ex. 18.4 p. 680: sky of 120 K, feed of 2 dB; "
     "the book carries on with 182 K", "T", 120.0, [pad(2.0), amplifier(30.0, kelvin=0.01)],
     182.74, 2e-2),
]


@pytest.mark.parametrize(("source", "held", "kelvin", "elements", "expected", "digit"),
                         BEHIND_A_FEEDER, ids=[row[0][:40] for row in BEHIND_A_FEEDER])
def test_system_noise_behind_a_feeder(receiver, source, held, kelvin, elements, expected, digit):
    budget = receiver(kelvin, *elements, start="E1.out")
    assert budget.system_noise_k[0] == pytest.approx(expected, abs=digit)


def test_an_antenna_with_loss(receiver):
    """Kraus, Marhefka, Khan Ex. 17-2.1 (T): 180 K, recomputed with the book's formula 179.931 K.

    The book refers the antenna's own noise to the sky and all the rest to the antenna's terminals;
    the program refers everything to the terminals, where 50 K of sky are 49.5: half a kelvin less.
    """
    elements = [pad(in_db(1 / 0.99), 300.0), pad(in_db(1 / 0.9), 300.0)]
    elements += [amplifier(13.0, kelvin=80.0)] * 3
    at_terminals = receiver(50.0, *elements, start="E1.out").system_noise_k[0]
    book = at_terminals - (50.0 * 0.99 + 300.0 * 0.01) + 50.0 + 300.0 * (1 / 0.99 - 1)
    assert book == pytest.approx(179.931, abs=5e-4)
    assert at_terminals == pytest.approx(180.0, abs=1.0)


def test_what_a_mixer_receiver_needs(receiver):
    """Pozar 4th ed. Ex. 10.2 (M): -82.8 dBm at the antenna, 16.2 uV in 50 ohm, for 20 dB."""
    b = receiver(150.0, amplifier(10.0, figure_db=2.0), pad(1.0), amplifier(-3.0, figure_db=4.0))
    needed_dbm = dbm(b, 1e7) - b.gain_db[0] + 20.0
    assert needed_dbm == pytest.approx(-82.8, abs=0.05)
    volt = np.sqrt(10 ** (needed_dbm / 10) * 1e-3 * 50)
    assert volt == pytest.approx(16.2e-6, abs=0.1e-6)
