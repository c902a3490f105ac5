"""Means and bands over unknown phases: closed forms of one loop, brute force, laws, invariance."""

import numpy as np
import pytest

from chain.network.assembly import Choices, scattering_network
from chain.network.draws import Draws
from components.nport import magnitude2

STAGES = "stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}\n"
BAND = "band: {start: 5 GHz, stop: 6 GHz, points: 3}\n"
UP = "signals: {up: {from: S, to: R}}\n"


def line(*elements):
    rows = ["{id: S, kind: port, stage: room}", *elements, "{id: R, kind: port, stage: room}"]
    return STAGES + BAND + "lines:\n  main:\n" + "".join(f"    - {row}\n" for row in rows) + UP


def mismatched(number, return_loss, loss="1 dB"):
    return (f"{{id: M{number}, kind: attenuator, stage: base, loss: {loss}, "
            f"return_loss: {return_loss} dB}}")


def test_one_loop_has_the_mean_of_its_closed_form(write_layout):
    """Two amplifier ends face each other: |1/(1 - L z)|^2 has the mean 1/(1 - L^2)."""
    for return_loss in (20, 6, 1, 0.1, 0.01):
        layout = write_layout(line(*(
            f"{{id: H{n}, kind: amplifier, stage: base, gain: 20 dB, noise_temperature: 4 K, "
            f"return_loss: {return_loss} dB}}" for n in (1, 2)
        )))
        loop = 10 ** (-return_loss / 10)
        budget = layout.budget("up")
        expected = 40 - 10 * np.log10(1 - loop**2)
        assert budget.gain_db == pytest.approx(
            expected, abs=4.4e-3 + budget.mean_error["gain_db"].max()
        )
        low, high = budget.ripple["gain_db"]
        assert low == pytest.approx(40 - 20 * np.log10(1 + loop), abs=1e-6)
        assert high == pytest.approx(40 - 20 * np.log10(1 - loop), abs=1e-6)


def test_one_loop_of_0_8_is_exact(write_layout):
    layout = write_layout(line(*(
        f"{{id: H{n}, kind: amplifier, stage: base, gain: 20 dB, noise_temperature: 4 K, "
        f"return_loss: {-10 * np.log10(0.8):.9f} dB}}" for n in (1, 2)
    )))
    budget = layout.budget("up")
    assert budget.gain_db == pytest.approx(40 - 10 * np.log10(1 - 0.8**2), abs=1e-7)
    assert np.all(budget.mean_error["gain_db"] < 1e-6)


SEVERAL = {
    "two loops": [mismatched(1, 8), mismatched(2, 10)],
    "isolators": [
        mismatched(1, 8), "{id: I, kind: isolator, stage: base, insertion_loss: 0.3 dB, "
        "isolation: 10 dB, return_loss: 14 dB}", mismatched(2, 8),
    ],
    "filters": [
        "{id: F1, kind: filter, stage: base, shape: low-pass, order: 3, cutoff: 5.5 GHz}",
        "{id: F2, kind: filter, stage: base, shape: low-pass, order: 3, cutoff: 6 GHz, "
        "insertion_loss: 0.5 dB}",
    ],
    "circulator": [
        mismatched(1, 10), "{id: K, kind: circulator, stage: base, insertion_loss: 0.3 dB, "
        "isolation: 15 dB, loads: ['3']}", mismatched(2, 6, "0.2 dB"),
    ],
    "coupler": [
        mismatched(1, 10), "{id: C, kind: coupler, stage: base, coupling: 10 dB, directivity: 12 dB, "
        "insertion_loss: 0.6 dB, loads: [coupled, isolated]}", mismatched(2, 10),
    ],
}


@pytest.mark.parametrize("name", SEVERAL)
def test_mean_and_band_are_those_of_ten_thousand_random_phases(name, write_layout):
    layout = write_layout(line(*SEVERAL[name]))
    f, count = layout.band.frequency_hz, 10_000
    budget = layout.budget("up")
    ids = layout.connected("S")
    network = scattering_network(
        layout, "R", f, Choices(draws=Draws(layout, ids, count=count, seed=1))
    )
    gain = magnitude2(network.adjoint(network.arriving(("R", "port")))["S", "port", 1])
    gain = np.broadcast_to(gain, (count, len(f)))
    by_chance = 4 * gain.std(axis=0) / gain.mean(axis=0) / np.sqrt(count)
    relative = 10 ** (budget.gain_db / 10) / gain.mean(axis=0) - 1
    unsure = 10 ** (budget.mean_error["gain_db"] / 10) - 1
    assert np.all(np.abs(relative) < by_chance + np.maximum(unsure, 1e-3))
    low, high = budget.ripple["gain_db"]
    span = 10 * np.log10(gain.max(axis=0) / gain.min(axis=0))
    assert low == pytest.approx(10 * np.log10(gain.min(axis=0)), abs=0.1 * span.max() + 1e-3)
    assert high == pytest.approx(10 * np.log10(gain.max(axis=0)), abs=0.1 * span.max() + 1e-3)


@pytest.mark.parametrize("name", SEVERAL)
def test_laws_hold_with_phases_drawn(name, write_layout):
    laws = write_layout(line(*SEVERAL[name])).budget("up").laws
    assert all(residual < 1e-9 for residual in laws.as_dict().values())


def circulator_on_a_mirror(millimetres, extra=""):
    cable = "" if millimetres is None else (
        f"    - {{id: W, kind: cable, stage: base, loss: 0 dB, length: {millimetres} mm}}\n")
    return (
        STAGES + BAND + "lines:\n  main:\n    - {id: S, kind: port, stage: base}\n"
        "    - {id: K, kind: circulator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB"
        f"{extra}}}\n{cable}"
        "    - {id: D, kind: device, stage: base, reflects: true}\n  out:\n    - {join: K.3}\n"
        "    - {id: R, kind: port, stage: room}\n"
        "signals: {round: {from: S, to: R}, up: {from: D.in, to: R}, in: {from: S, to: D.in}}\n"
    )


@pytest.mark.parametrize("millimetres", [0, 0.1, 6, 9, 12, 20])
def test_a_cable_beside_an_unknown_phase_changes_no_mean(millimetres, write_layout):
    bare, with_cable = (
        write_layout(circulator_on_a_mirror(mm)) for mm in (None, millimetres)
    )
    for signal in ("round", "up", "in"):
        one, other = bare.budget(signal), with_cable.budget(signal)
        assert other.gain_db == pytest.approx(one.gain_db, abs=1e-9)
        assert other.system_noise_quanta == pytest.approx(one.system_noise_quanta, rel=1e-9)
        assert other.photons_at_to == pytest.approx(one.photons_at_to, abs=1e-9)


def test_no_phase_of_a_lossless_circulator_on_a_mirror_gives_power(write_layout):
    text = circulator_on_a_mirror(None).replace("insertion_loss: 0.3 dB, ", "")
    layout = write_layout(text)
    low, high = layout.budget("round").ripple["gain_db"]
    assert np.all(high <= 1e-9)
    assert np.all(low < -0.1)


def test_what_lies_on_no_loop_and_no_second_way_draws_nothing(write_layout):
    layout = write_layout(line(
        "{id: I, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB}",
        mismatched(1, 20).replace("loss: 1 dB", "loss: 1 dB").replace("attenuator", "attenuator"),
        "{id: J, kind: isolator, stage: base, insertion_loss: 0.3 dB}",
    ).replace("return_loss: 20 dB", "tag: M"))
    assert layout.budget("up").ripple == {}


def test_a_phase_that_is_given_is_taken(write_layout):
    """At the circulator's port 2 everything is known: t = i z + l^2 m / (1 - r m), no band."""
    text = circulator_on_a_mirror(None, ", phase: {isolation: 30 deg}")
    text = text.replace("reflects: true", "reflects: true, phase: {reflects: 70 deg}")
    budget = write_layout(text).budget("round")
    assert budget.ripple == {}
    kept, back = 10 ** (-0.3 / 20), 0.1
    leak = back / kept
    forward = (1 - leak + np.sqrt((1 - leak) * (1 + 3 * leak))) / 2
    forward, reflection = kept * forward, -kept * forward * leak / (forward + leak)
    mirror, turn = np.exp(1j * np.deg2rad(70)), np.exp(1j * np.deg2rad(30))
    seen = forward**2 * mirror / (1 - reflection * np.conj(turn) * mirror)
    expected = 20 * np.log10(abs(back * turn + seen))
    assert budget.gain_db == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("extra", "says"), [
    (", phase: {directivity: 3 deg}", "phase names directivity, of which no phase is asked here"),
    (", phase: {isolation: 3}", "phase.isolation"),
])
def test_a_phase_of_nothing_is_refused(extra, says, write_layout):
    from chain.errors import LayoutError

    with pytest.raises(LayoutError, match=says):
        write_layout(circulator_on_a_mirror(None, extra))
