"""The form of Touchstone files: what is refused, on which line, in which words."""

import os
import random

import numpy as np
import pytest

from components import touchstone_form
from components.touchstone import DataError, read

HEAD = "# GHz S MA R 50\n"
TWO = "4 0.1 30 0.5 -50 0.4 10 0.2 70\n8 0.1 30 0.5 -150 0.4 10 0.2 70\n"
V2 = (
    "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n"
    "[Number of Frequencies] 2\n[Reference] 50 50\n[Network Data]\n" + TWO
)


@pytest.fixture
def contents(tmp_path):
    """Return a function from text and a name to the Contents of a file with that text."""

    def write(text, name="part.s2p"):
        path = tmp_path / name
        path.write_text(text)
        return read(str(path))

    return write


@pytest.fixture
def refusal(contents):
    """Return a function from text and a name to what is said of the file."""

    def say(text, name="part.s2p"):
        with pytest.raises(DataError) as caught:
            contents(text, name)
        return str(caught.value)

    return say


# References ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("ohm", ["0", "-50", "inf", "nan", "1e300", "1e-300", "1e5"])
def test_references_that_no_port_has(ohm, refusal):
    between = "give a reference between 0.1 and 10000 ohm, as 50"
    written = f"{float(ohm):g} ohm; {between}"
    assert refusal(f"! made up\n# GHz S MA R {ohm}\n{TWO}") == f"part.s2p:2: R is {written}"
    said = refusal(V2.replace("[Reference] 50 50", f"[Reference] 50 {ohm}"))
    assert said == f"part.s2p:6: [Reference] is {written}"
    said = refusal(V2.replace("[Reference] 50 50", f"[Reference]\n50 ! the first\n{ohm}"))
    assert said == f"part.s2p:8: [Reference] is {written}"


@pytest.mark.parametrize(("written", "shown"), [
    ("0 0", "0+0j"), ("-40 15", "-40+15j"), ("1e300 0", "1e+300+0j"), ("nan 0", "nan+0j"),
])
def test_port_impedances_of_a_field_solver_that_no_port_has(written, shown, refusal):
    text = (
        f"{HEAD}! Port Impedance 50 0\n4 0.1 0\n! Port Impedance {written}\n8 0.1 0\n"
    )
    said = refusal(text, "load.s1p")
    assert said.startswith(f"load.s1p:4: port 1 has an impedance of {shown} ohm; give a reference")


def test_port_impedances_of_a_field_solver_for_other_points(refusal):
    said = refusal(f"{HEAD}! Port Impedance 50 0\n4 0.1 0\n8 0.1 0\n", "load.s1p")
    assert said.startswith("load.s1p:2: port impedances for 1 points, and there are 2;")
    said = refusal(f"{HEAD}! Port Impedance 50\n4 0.1 0\n", "load.s1p")
    assert said.startswith("load.s1p:2: port impedances of 1 numbers, and 1 ports have 2;")
    said = refusal(f"{HEAD}! Port Impedance 50 0\n! 1 2\n4 0.1 0\n", "load.s1p")
    assert said.startswith("load.s1p:2: port impedances of 4 numbers, and 1 ports have 2;")


@pytest.mark.parametrize(("line", "said"), [
    ("# GHz S MA R", "R has no impedance"),
    ("# GHz S MA 75", "the option line has '75', which is unknown"),
    ("# GHz SY MA R 50", "the option line has 'sy', which is unknown"),
    ("# GHz MHz S MA R 50", "the option line has 'mhz' beside another of its sort"),
    ("# GHz S MA R 50 75 90", "R has 3 impedances; give one, or one for each port"),
    ("! no option line", "no option line stands before the data"),
])
def test_option_lines(line, said, refusal):
    answer = refusal(f"{line}\n{TWO}")
    assert answer.startswith(f"part.s2p:{2 if line[0] == '!' else 1}: {said}")


@pytest.mark.parametrize("line", ["# S GHz R 75 MA", "#ghz r 75", "# R 75", "# GHZ s Ma r 75"])
def test_options_in_any_order_or_left_out(line, contents):
    plain, other = contents(f"# GHz S MA R 75\n{TWO}"), contents(f"{line}\n{TWO}", "other.s2p")
    assert np.array_equal(plain.scattering, other.scattering)
    assert np.array_equal(plain.frequency_hz, other.frequency_hz)


# Frequencies --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("instead", "said"), [
    ("nan", "a value is not a finite number"), ("inf", "a value is not a finite number"),
    ("-8", "a frequency of -8e+09 Hz; give frequencies from 0 to 10 THz"),
    ("1e300", "a frequency of inf Hz"),
    ("1e9", "a frequency of 1e+18 Hz; give frequencies from 0 to 10 THz"),
    ("4", "the frequencies do not rise; sort them and take doubles out"),
    ("3", "the frequencies do not rise; sort them and take doubles out"),
])
def test_frequencies_that_are_none(instead, said, refusal):
    wrong = TWO.replace("\n8 ", f"\n{instead} ")
    assert refusal(HEAD + wrong).startswith(f"part.s2p:3: {said}")
    assert refusal(V2.replace(TWO, wrong)).startswith(f"part.s2p:9: {said}")


def test_noise_frequencies_that_do_not_rise(refusal):
    said = refusal(HEAD + TWO + "4 1 0.3 20 0.2\n6 2 0.5 40 0.4\n5 1 0.1 0 0.2\n")
    assert said.startswith("part.s2p:6: the frequencies do not rise")


def test_noise_may_begin_at_the_last_frequency(contents):
    """The specification lets the lowest of the noise equal the highest of S."""
    figures = contents(HEAD + TWO + "8 1 0.3 20 0.2\n9 2 0.3 20 0.2\n").noise[1]
    assert 10 * np.log10(figures) == pytest.approx([1, 2])


# Orders and modes ---------------------------------------------------------------------------------


def test_two_port_orders(contents, refusal):
    """21_12: S21 before S12; 12_21 the other way round."""
    size = np.abs(contents(V2).scattering[0])
    assert size[1, 0] == pytest.approx(0.5)
    assert np.abs(contents(V2.replace("21_12", "12_21")).scattering[0])[0, 1] == pytest.approx(0.5)
    said = refusal(V2.replace("21_12", "11_22"))
    assert said == "part.s2p:4: two-port data order '11_22' is unknown; write 12_21 or 21_12"
    said = refusal(V2.replace("[Two-Port Data Order] 21_12\n", ""))
    assert said.startswith("part.s2p:6: there is no [Two-Port Data Order] before the data")


@pytest.mark.parametrize("order", ["D1,2 C1,2", "S2 S1", "C2,1 D1,2", "S1", "hello"])
def test_mixed_modes_are_refused(order, refusal):
    said = refusal(V2.replace("[Reference]", f"[Mixed-Mode Order] {order}\n[Reference]"))
    assert said == (
        "part.s2p:6: mixed-mode data is not supported; export the file with single-ended ports"
    )


def test_single_ended_ports_in_their_order_are_no_mixed_mode(contents):
    said = contents(V2.replace("[Reference]", "[Mixed-Mode Order] S1 S2\n[Reference]"))
    assert np.array_equal(said.scattering, contents(V2, "other.s2p").scattering)


@pytest.mark.parametrize("order", ["12_21", "21_12"])
@pytest.mark.parametrize("half", ["Lower", "Upper"])
def test_matrix_formats(half, order, contents, refusal):
    """One half alone: S11, S21, S22 of a reciprocal part; the order of two ports is no matter."""
    text = V2.replace("[Network", f"[Matrix Format] {half}\n[Network").replace(" 0.4 10", "")
    size = np.abs(contents(text.replace("21_12", order)).scattering[0])
    assert size == pytest.approx(np.array([[0.1, 0.5], [0.5, 0.2]]))
    text = text.replace(half, "Lower")
    said = refusal(text.replace("Lower", "Diagonal"))
    assert said.startswith("part.s2p:7: matrix format 'diagonal' is unknown; write Full, Lower")


# Counts -------------------------------------------------------------------------------------------

COUNTS = [
    (HEAD, "part.s2p holds no points"),
    (HEAD + TWO[:-12], "part.s2p:3: the point has 5 numbers after its frequency, and 2 ports have"),
    (HEAD + TWO[:-7], "part.s2p:3: the point is not complete"),
    (HEAD + "4 0.1 0\n8 0.1 0\n", "part.s2p:2: the point has"),
    (HEAD + TWO.replace("0.2 70", "0.2 70 1 1"), "part.s2p:2: the point has 10 numbers after"),
    (HEAD + TWO + "9 1 0.3 20 0.2\n", "part.s2p:4: the point is not complete"),
    (HEAD + TWO + "4 1 0.3 20 0.2\n" + TWO, "part.s2p:5: 9 numbers among the noise"),
    (HEAD + TWO.replace("0.4", "x0.4"), "part.s2p:2: 'x0.4' is not a number"),
    (HEAD + TWO.replace("0.4", "0_4"), "part.s2p:2: '0_4' is not a number"),
    (HEAD + TWO.replace("0.4", "nan"), "part.s2p:2: a value is not a finite number"),
    (HEAD + TWO.replace("0.4", "-inf"), "part.s2p:2: a value is not a finite number"),
    (HEAD + TWO + "4 1 nan 20 0.2\n", "part.s2p:4: a value is not a finite number"),
    ("a letter to the editor\n", "part.s2p:1: 'a' is not a number"),
    (V2.replace("ies] 2", "ies] 5"), "part.s2p:5: [number of frequencies] is 5, and there are 2"),
    (V2.replace("ies] 2", "ies] two"), "part.s2p:5: the number of frequencies is 'two'"),
    (V2.replace("[Ref", "[Number of Noise Frequencies] 1\n[Ref"),
     "part.s2p:6: [number of noise frequencies] is 1, and there are 0"),
    (V2 + "[Noise Data]\n4 1 0.3 20 0.2\n",
     "part.s2p:11: there is no [Number of Noise Frequencies]"),
    (V2.replace("rts] 2", "rts] 0"), "part.s2p:3: the number of ports is '0'"),
    (V2.replace("rts] 2", "rts] 3"), "part.s2p:6: [Reference] has 2 impedances and there are 3"),
    (V2.replace("[Reference] 50", "[Reference]"), "part.s2p:6: [Reference] has 1 impedances"),
    (V2.replace("[Reference] 50", "[Reference] a"), "part.s2p:6: [Reference] has 'a', which is no"),
    (V2.replace("[Network Data]\n", "[Matrix Format] Full\n"),
     "part.s2p:8: numbers stand before [Network Data]"),
    (V2.replace("2.0", "3.0"), "part.s2p:1: version '3.0' is unknown; give version 2.0 or 2.1"),
    (V2.replace("[Version] 2.0\n", ""), "part.s2p:2: [number of ports] in a file of version 1"),
    (V2.replace("[Ref", "[Sort]\n[Ref"), "part.s2p:6: '[Sort]' is no keyword of Touchstone 2"),
    (V2.replace("[Ref", "[Number of Ports] 2\n[Ref"), "part.s2p:6: [number of ports] stands twice"),
    (V2 + "[End]\n9 1 1\n", "part.s2p:11: something stands after [End]"),
]


@pytest.mark.parametrize(("text", "said"), COUNTS)
def test_wrong_counts_and_numbers(text, said, refusal):
    answer = refusal(text)
    assert answer.startswith(said)
    assert "\n" not in answer


def test_a_point_may_be_broken_into_lines(contents):
    broken = TWO.replace(" 0.5", "\n 0.5").replace("8 0.1", "8\n0.1")
    assert np.array_equal(
        contents(HEAD + TWO).scattering, contents(HEAD + broken, "other.s2p").scattering
    )


def test_a_point_of_three_ports_that_lacks_a_row(refusal):
    row = " 0.1 0 0.2 0 0.3 0\n"
    good = "4" + 3 * row + "8" + 3 * row
    assert refusal(HEAD + good[: -len(row)], "part.s3p") == (
        "part.s3p:5: the point is not complete; give a complete Touchstone file"
    )
    lacking = "4" + 2 * row + "8" + 3 * row
    assert refusal(HEAD + lacking, "part.s3p").startswith("part.s3p:2: the point has")


def test_names_that_say_no_number_of_ports(contents, refusal):
    said = refusal(HEAD + TWO, "part.txt")
    assert said.startswith("part.txt:2: the file's name does not say how many ports it has")
    assert contents(V2, "part.ts").scattering.shape == (2, 2, 2)


def test_information_and_comments_are_skipped(contents):
    told = V2.replace(
        "[Network Data]", "[Begin Information]\n[Maker] ours\nfree text 5\n[End Information]\n"
        "! Gamma of no matter\n! Port[9] = name\n[Network Data] ! here",
    )
    assert np.array_equal(contents(told).scattering, contents(V2, "other.s2p").scattering)


def test_more_numbers_than_are_read(refusal, monkeypatch):
    monkeypatch.setattr(touchstone_form, "MOST_NUMBERS", 17)
    said = refusal(HEAD + TWO)
    assert said == "part.s2p:3: more than 17 numbers; thin the file out: fewer frequencies"


# Anything at all ----------------------------------------------------------------------------------

SEEDS = [
    HEAD + TWO, V2, "# GHz Z RI R 75\n" + TWO + "4 1 0.3 20 0.2\n8 1 0.3 20 0.2\n",
    V2.replace("[Net", "[Matrix Format] Lower\n[Net").replace(" 0.4 10", ""),
    "# MHz Y DB\n" + "".join(f"! Port Impedance 50 1 40 -2\n{line}\n" for line in TWO.split("\n")[:2]),
    "# Hz H RI R 50 60\n" + TWO,
    V2.replace("[Net", "[Number of Noise Frequencies] 1\n[Net") + "[Noise Data]\n4 1 0.3 20 9\n[End]",
]
TOKENS = [
    "0", "-1", "nan", "inf", "1e300", "1e-300", "1e9", "#", "!", "[", "]", "R", "[Reference]",
    "[End]", "-", "5", "3", "S", "Z", "G", "Y", "DB", "RI", "12_21", "Upper", "1_0", "1j", "0x1",
    "+", "e", ".", "µ", "\n", "\r", " ", "\t", "\x0c", "! Port Impedance", "! Gamma",
    "[Version] 2.1",
]


def mutated(rng):
    """Return a good file's text with one to three accidents."""
    text = rng.choice(SEEDS)
    for _ in range(rng.randint(1, 3)):
        at, words = rng.randrange(len(text)), text.split(" ")
        words[rng.randrange(len(words))] = rng.choice(TOKENS)
        text = rng.choice([
            text[:at] + rng.choice(TOKENS) + text[at:], text[:at] + text[at + rng.randint(1, 8):],
            " ".join(words),
        ])
    return text


def test_whatever_a_file_holds_it_is_sound_or_refused_on_one_line(tmp_path):
    """120,000 more were tried by hand."""
    path, rng, sound = tmp_path / "part.s2p", random.Random(12), 0
    for number in range(400):
        path.write_text(mutated(rng), newline="")
        os.utime(path, ns=(number, number))
        refused = ""
        try:
            found = read(str(path))
        except DataError as error:
            refused = str(error)
        assert "\n" not in refused
        assert "cannot be read" not in refused  # the reader's own words
        if not refused:
            sound += 1
            assert np.all(np.isfinite(found.scattering))
            assert np.all(np.diff(found.frequency_hz) > 0)
            assert all(np.all(np.isfinite(values)) for values in found.noise or ())
    assert sound > 10
