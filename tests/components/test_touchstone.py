"""Touchstone files: what is read, how it is interpolated, what is said of bad ones."""

import os

import numpy as np
import pytest

from components import response, touchstone
from components.declaration import KINDS
from components.parameters import ParameterError
from components.settings import Settings
from components.touchstone import DataError, NamedFile

TWO = "4 0.1 30 0.5 -50 0.4 10 0.2 70\n8 0.1 30 0.5 -150 0.4 10 0.2 70\n"
"""Two-port lines: S11 S21 S12 S22, magnitude and degrees."""


@pytest.fixture
def file(tmp_path):
    """Return a function from text and a name to the NamedFile of a file with that text."""

    def write(text, name="part.s2p", *, hold=False):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return NamedFile(str(path), hold)

    return write


def phasor(size, degrees):
    return size * np.exp(1j * np.deg2rad(degrees))


# What is read -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("form", "line"), [
    ("MA", "6 0.1 30 0.5 -50 0.4 10 0.2 70"),
    ("DB", f"6 -20 30 {20 * np.log10(0.5)} -50 {20 * np.log10(0.4)} 10 {20 * np.log10(0.2)} 70"),
    ("RI", "6 " + " ".join(f"{z.real} {z.imag}" for z in (
        phasor(0.1, 30), phasor(0.5, -50), phasor(0.4, 10), phasor(0.2, 70)))),
])
@pytest.mark.parametrize("head", [
    "! a comment\n# GHz S {form} R 50\n",
    "# GHz S {form}\n",  # the reference resistance is 50 ohm where it is left out
    "[Version] 2.0\n# GHz S {form} R 50\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n"
    "[Number of Frequencies] 1\n[Network Data]\n",
])
def test_two_ports_in_every_form(head, form, line, file):
    end = "\n[End]\n" if "Version" in head else "\n"
    s = file(head.format(form=form) + line + end).scattering([6e9])[..., 0]
    expected = [[phasor(0.1, 30), phasor(0.4, 10)], [phasor(0.5, -50), phasor(0.2, 70)]]
    assert s == pytest.approx(np.array(expected), rel=1e-12)


@pytest.mark.parametrize("ports", [1, 3, 4, 6])
def test_any_number_of_ports_by_rows(ports, file):
    rng = np.random.default_rng(ports)
    s = rng.uniform(-0.3, 0.3, (2, ports, ports)) + 1j * rng.uniform(-0.3, 0.3, (2, ports, ports))
    s *= 0.9 / np.linalg.norm(s, 2, axis=(1, 2))[:, None, None]
    rows = []
    for ghz, matrix in zip((4, 8), s, strict=True):
        lines = [" ".join(f"{z.real!r} {z.imag!r}" for z in map(complex, row)) for row in matrix]
        rows.append(f"{ghz} " + "\n  ".join(lines))
    named = file("# GHz S RI R 50\n" + "\n".join(rows) + "\n", f"part.s{ports}p")
    assert named.ports == ports
    assert np.moveaxis(named.scattering([4e9, 8e9]), -1, 0) == pytest.approx(s, rel=1e-12)


@pytest.mark.parametrize(("unit", "number"), [("Hz", 6e9), ("kHz", 6e6), ("MHz", 6e3)])
def test_frequency_units(unit, number, file):
    assert file(f"# {unit} S MA R 50\n{number!r} 0.1 0\n", "load.s1p").data.frequency_hz == 6e9


def test_another_reference_is_changed_to_50_ohm(file):
    """150 ohm in series: S11 = Z / (Z + 2 R), S21 = 2 R / (Z + 2 R) in any reference R."""
    named = file("# GHz S MA R 75\n6 0.5 0 0.5 0 0.5 0 0.5 0\n")
    expected = np.array([[0.6, 0.4], [0.4, 0.6]])
    assert named.scattering([6e9])[..., 0] == pytest.approx(expected, abs=1e-12)


def test_complex_references_that_a_field_solver_writes(file):
    """Ports of 40 - 15j ohm in travelling waves; the load is 20 + 30j ohm all along."""
    load, reference = 20 + 30j, 40 - 15j
    seen = (load - reference) / (load + reference)
    text = (
        "! S-parameter uses the traveling definition\n# GHz S RI R 50\n"
        f"6 {seen.real!r} {seen.imag!r}\n! Gamma 0 0\n! Port Impedance 40 -15\n"
    )
    s = file(text, "load.s1p").scattering([6e9])[0, 0, 0]
    assert s == pytest.approx((load - 50) / (load + 50), rel=1e-12)


def test_a_reference_of_its_own_for_each_port(file):
    """A bare joint from a 50 ohm port to a 75 ohm one is a through in 50 ohm."""
    through = float(2 * np.sqrt(50 * 75) / 125)
    text = (
        "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 2\n[Two-Port Data Order] 12_21\n"
        "[Number of Frequencies] 1\n[Reference] 50 75\n[Network Data]\n"
        f"6 0.2 0 {through!r} 0 {through!r} 0 0.2 180\n[End]\n"
    )
    s = file(text).scattering([6e9])[..., 0]
    assert s == pytest.approx(np.array([[0, 1], [1, 0]]), abs=1e-12)


# Between the points -------------------------------------------------------------------------------


def test_magnitude_and_phase_carry_a_long_cable_between_its_points(file):
    """2 ns on a grid of 0.1 GHz turns 72 deg a step: re and im err by 1.8 dB half way."""
    own = np.arange(4e9, 8.05e9, 0.1e9)
    loss = 0.9 - 0.02 * own / 1e9
    delay = loss * np.exp(-2j * np.pi * own * 2e-9)
    lines = "".join(f"{f!r} 0 0 {z.real!r} {z.imag!r} {z.real!r} {z.imag!r} 0 0\n"
                    for f, z in zip(own.tolist(), map(complex, delay), strict=True))
    named = file("# Hz S RI R 50\n" + lines)
    f = own[:-1] + 0.05e9
    exact = (0.9 - 0.02 * f / 1e9) * np.exp(-2j * np.pi * f * 2e-9)
    by_parts = np.interp(f, own, delay.real) + 1j * np.interp(f, own, delay.imag)
    ours = named.scattering(f)[1, 0]
    # 1e-11: the phase at 8 GHz is 100 rad, known to the last digits of 1e-14.
    assert ours == pytest.approx(exact, rel=1e-11)
    error_db = np.max(np.abs(20 * np.log10(np.abs(by_parts / exact))))
    assert error_db == pytest.approx(-20 * np.log10(np.cos(np.deg2rad(36))), rel=0.02)


def test_outside_its_points_a_file_is_refused_or_held(file):
    text = "# GHz S MA R 50\n" + TWO
    with pytest.raises(DataError) as caught:
        file(text).scattering([3e9, 6e9])
    assert str(caught.value) == (
        "part.s2p reaches from 4 GHz to 8 GHz, and 3 GHz to 6 GHz is needed; measure it over all "
        "of that (idler band included), or write `data: {file: ..., outside: hold}`"
    )
    held = file(text, hold=True).scattering([3e9, 4e9, 8e9, 99e9])
    assert held[..., 0] == pytest.approx(held[..., 1])
    assert held[..., 3] == pytest.approx(held[..., 2])


def test_a_single_point_holds_at_that_frequency_alone(file):
    named = file("# GHz S MA R 50\n6 0.1 30 0.5 -50 0.4 10 0.2 70\n")
    assert named.scattering([6e9])[1, 0, 0] == pytest.approx(phasor(0.5, -50))
    with pytest.raises(DataError, match="reaches from 6 GHz to 6 GHz, and 6 GHz to 7 GHz"):
        named.scattering([6e9, 7e9])


def test_a_little_gain_of_a_passive_file_is_calibration_and_scaled_back(file):
    slight = file("# GHz S MA R 50\n6 0 0 1.005 0 1.005 0 0 0\n")
    assert not slight.active
    assert np.linalg.norm(slight.scattering([6e9])[..., 0], 2) == pytest.approx(1.0, abs=1e-12)
    plain = file("# GHz S MA R 50\n6 0 0 1.05 0 1.05 0 0 0\n", "more.s2p")
    assert plain.active
    assert plain.scattering([6e9])[1, 0, 0] == pytest.approx(1.05)


def test_a_file_is_held_once_read_and_read_again_by_who_names_it_anew(file):
    """A layout answers of the files that it was loaded with, whatever becomes of them."""
    named = file("# GHz S MA R 50\n6 0.1 0\n", "load.s1p")
    assert named.scattering([6e9])[0, 0, 0] == pytest.approx(0.1)
    again = file("# GHz S MA R 50\n6 0.25 0\n", "load.s1p")
    os.utime(named.path, ns=(1, 1))
    assert named.scattering([6e9])[0, 0, 0] == pytest.approx(0.1)
    assert again.scattering([6e9])[0, 0, 0] == pytest.approx(0.25)


# Noise --------------------------------------------------------------------------------------------

NOISE = "4 1 0.3 20 0.2\n6 2 0.5 40 0.4\n"


def test_noise_is_taken_at_its_own_frequencies(file):
    """As many points as S has, at others: nothing is mixed up."""
    named = file("# GHz S MA R 50\n" + TWO.replace("0.5", "5") + NOISE)
    figure, optimum, ohm = named.noise([4e9, 5e9, 6e9])
    assert 10 * np.log10(figure[[0, 2]]) == pytest.approx([1, 2], rel=1e-12)
    assert figure[1] == pytest.approx((figure[0] + figure[2]) / 2, rel=1e-12)
    assert optimum == pytest.approx([phasor(0.3, 20), phasor(0.4, 30), phasor(0.5, 40)], rel=1e-12)
    assert ohm == pytest.approx([10, 15, 20], rel=1e-12)
    with pytest.raises(DataError, match="reaches from 4 GHz to 6 GHz, and 8 GHz to 8 GHz"):
        named.noise([8e9])


def test_noise_of_version_2_gives_its_resistance_in_ohm(file):
    text = (
        "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n"
        "[Number of Frequencies] 2\n[Number of Noise Frequencies] 2\n[Network Data]\n"
        f"{TWO}[Noise Data]\n4 1 0.3 20 12\n6 2 0.5 40 13\n[End]\n"
    )
    assert file(text).noise([4e9])[2] == pytest.approx([12])


def test_noise_in_another_reference_has_the_same_best_source(file):
    """75 ohm: R_n over it, and an optimum of 0 is a source of 75 ohm, 0.2 in 50 ohm."""
    named = file("# GHz S MA R 75\n" + TWO.replace("0.5", "5") + "4 1 0 0 0.2\n")
    _, optimum, ohm = named.noise([4e9])
    assert optimum == pytest.approx([0.2], abs=1e-12)
    assert ohm == pytest.approx([15])


def test_a_file_without_noise_has_none(file):
    assert file("# GHz S MA R 50\n" + TWO).noise([5e9]) is None


# What is said of bad ones -------------------------------------------------------------------------

HEAD = "# GHz S MA R 50\n"
V2 = (
    "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n"
    "[Number of Frequencies] 5\n[Network Data]\n" + TWO
)

BAD = [
    ("part.s2p", "", "part.s2p holds no points; give a complete Touchstone file"),
    ("part.s2p", b"\x00\xff\xfe\x01" * 40, "part.s2p is not text; name a Touchstone file"),
    ("part.s2p", HEAD + TWO + "4 -1 0.3 20 0.2\n", "part.s2p:4: noise that no two-port has"),
    ("part.s2p", HEAD + TWO + "4 1 1.3 20 0.2\n", "part.s2p:4: noise that no two-port has"),
    ("part.s2p", HEAD + TWO + NOISE + "7 1e9 0.3 20 0.2\n",
     "part.s2p:6: a noise figure above 75 dB or a noise resistance above 1000 kohm"),
    ("part.s3p", V2.replace("s] 5", "s] 2"), "part.s3p holds 2 ports and its name says 3"),
    ("part.s1p", HEAD + "4 0.1 0\n8 1e300 0\n",
     "part.s1p:3: the point has an S that is not finite or above 120 dB; measure it again"),
    ("part.s1p", HEAD.replace("MA", "DB") + "4 0.1 0\n8 1e9 0\n",
     "part.s1p:3: the point has an S that is not finite or above 120 dB"),
    ("part.s1p", HEAD.replace("S MA", "Z RI") + "4 0.1 0\n\n8 -1 0\n",  # -R has no S
     "part.s1p cannot be read as Touchstone ("),
]


@pytest.mark.parametrize(("name", "text", "said"), BAD)
def test_bad_files(name, text, said, file):
    named = file(text, name)
    with pytest.raises(DataError) as caught:
        named.scattering([6e9])
    assert said in str(caught.value)
    assert str(named.path) not in str(caught.value)  # the name is enough
    assert "\n" not in str(caught.value)


def test_files_that_are_not_there_or_no_files(tmp_path):
    missing = str(tmp_path / "gone.s2p")
    with pytest.raises(DataError, match=r"gone\.s2p: No such file or directory; name a Touchstone"):
        touchstone.read(missing)
    with pytest.raises(DataError, match="is not a file; name a Touchstone file"):
        touchstone.read(str(tmp_path))


def test_a_file_that_may_not_be_read(file, monkeypatch):
    named = file(HEAD + TWO)

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    with pytest.raises(DataError, match=r"part\.s2p: Permission denied; name a Touchstone file"):
        named.scattering([6e9])


def test_a_file_beyond_all_measure_is_not_read(file, monkeypatch):
    monkeypatch.setattr(touchstone, "MAX_BYTES", 10)
    with pytest.raises(DataError, match="has 0 MB; thin it out to at most 0 MB"):
        file(HEAD + TWO).data  # noqa: B018


@pytest.mark.parametrize(("kind", "name", "text", "said"), [
    ("attenuator", "part.s1p", HEAD + "4 0.1 0\n8 0.1 0\n",
     "part.s1p has 1 ports and the attenuator has 2; "
     "name a file with as many ports as the element"),
    ("coupler", "part.s2p", HEAD + TWO, "part.s2p has 2 ports and the coupler has 4"),
    ("filter", "part.s2p", HEAD + TWO.replace("8 ", "5 "), "reaches from 4 GHz to 5 GHz"),
    ("filter", "part.s2p", HEAD + TWO.replace("0.5", "5"),
     "part.s2p shows gain, and its noise is neither given nor in the file"),
])
def test_files_that_do_not_fit_the_element(kind, name, text, said, file, conditions):
    element = Settings(KINDS[kind], {"data": file(text, name)})
    with pytest.raises(ParameterError) as caught:
        response.respond(element.kind, element, conditions(6.0))
    assert caught.value.parameter == "data"
    assert said in str(caught.value)


def test_a_file_in_place_of_a_filter_is_that_filter(file, conditions, problems):
    element = Settings(KINDS["filter"], {"data": file(HEAD + TWO)})
    assert not problems(element)
    nport = response.respond(element.kind, element, conditions(4.0))
    assert nport.scattering[1, 0] == pytest.approx(phasor(0.5, -50))
    assert nport.scattering[0, 1] == pytest.approx(phasor(0.4, 10))
