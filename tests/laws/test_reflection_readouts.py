"""Four reflection readouts that laboratories have, against hand formulas, with their bands.

Run as a script it prints prediction and program side by side.
"""

import numpy as np
import pytest

F = 6e9
BAND = "band: {start: 6 GHz, stop: 6 GHz, points: 1}\n"
STAGES = "stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}\n"
PHASES = np.exp(2j * np.pi * np.arange(720) / 720)
"""Every half degree: the mean of |1/(1 - L z)|^2 is off by L^720."""


def quanta(kelvin, frequency_hz=F):
    """1/2 coth(hf/2kT), by hand."""
    return 0.5 / np.tanh(6.62607015e-34 * frequency_hz / (2 * 1.380649e-23 * kelvin))


def circulator(insertion_db, isolation_db):
    """Amplitudes forward, backward and reflected: l^2 + l i + i^2 = l + i, r = -l i/(l + i)."""
    kept, back = 10 ** (-insertion_db / 20), 10 ** (-isolation_db / 20)
    i = back / kept
    forward = (1 - i + np.sqrt((1 - i) * (1 + 3 * i))) / 2
    return kept * forward, back, kept * forward * i / (forward + i)


def decibels(power):
    return 10 * np.log10(power)


MIRROR = STAGES + BAND + """lines:
  in:
    - {id: S, kind: port, stage: plate}
    - {id: A, kind: attenuator, stage: base, loss: 30 dB}
    - {id: K, kind: circulator, stage: base, insertion_loss: 0.3 dB, isolation: 18 dB}
    - {id: D, kind: device, stage: base, reflects: true}
  out:
    - {join: K.3}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
signals: {round: {from: S, to: R}, at: {from: S, to: D.in}}
"""


def mirror_through_a_circulator():
    """t = i + l^2 z/(1 + r z), z of unknown phase; the amplifier emits as a load at its stage.

    The sign is that of unitarity: with 1 - r z the band would be 2.8 to 7.2 dB, and a lossless
    circulator could send back more than it gets.

    Everything behind the pad is at 20 mK but what the amplifier sends back, which the circulator
    takes to port 1 (absorbed) and, by its leak, to the mirror.
    """
    ahead, i, r = circulator(0.3, 18)
    pad, z = 10 ** (-30 / 10), PHASES
    seen = 1 / np.abs(1 + r * z) ** 2
    round_ = pad * 10**3.6 * np.abs(i + ahead**2 * z / (1 + r * z)) ** 2
    cold, warm = quanta(0.020), quanta(4.0)
    # Into the mirror: from port 1 the pad's quanta, from port 3 the amplifier's 4 K by the leak,
    # its own loss at 20 mK; a passive mix, so the mean of shares weighs excess over 20 mK alone.
    into = pad * warm + (1 - pad) * cold - cold, warm - cold
    photons = np.mean((cold - 0.5) * (1 - r**2) * seen + (ahead**2 * into[0] + i**2 * into[1]) * seen)
    return {
        "round": ("gain", decibels(round_.mean()), decibels(round_.min()), decibels(round_.max())),
        "at": ("photons", photons, None, None),
    }


PARAMP = STAGES + BAND + """lines:
  in:
    - {id: S, kind: port, stage: base}
    - {id: D, kind: device, stage: base}
    - {id: I, kind: isolator, stage: base, insertion_loss: 0.2 dB, isolation: 20 dB}
    - {id: J, kind: isolator, stage: base, insertion_loss: 0.2 dB, isolation: 20 dB}
    - {id: K, kind: circulator, stage: base, insertion_loss: 0.2 dB, isolation: 35 dB}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump,
       reflects: true, flux_pumped: true}
  out:
    - {join: K.3}
    - {id: T, kind: isolator, stage: base, insertion_loss: 0.2 dB}
    - {id: R, kind: port, stage: base}
  pump:
    - {id: P, kind: port, stage: base}
    - {join: X.pump}
tones: {pump: {into: P, frequency: 11 GHz, power: 1 uW}}
signals: {up: {from: D.out, to: R}}
"""


def paramp_in_reflection(isolation_db=35):
    """b = (1 - P R)^-1 P l a over signal and idler; gain |S31 + l b_s|^2, two phases.

    b_s = l e^{js} (sqrt G - r e^{-ji}) / (1 - sqrt G r (e^{js} + e^{-ji}) + r^2 e^{j(s - i)}).
    """
    ahead, i, r = circulator(0.2, isolation_db)
    s, w = PHASES[::4, None], np.conj(PHASES[None, ::4])
    g, before = 10.0, 10 ** (-0.4 / 20)
    r = -r
    b = ahead * s * (g - r * w) / (1 - g * r * (s + w) + r**2 * s * w)
    gain = np.abs(before * (i + ahead * b)) ** 2 * 10 ** (-0.02)
    return {"up": ("gain", decibels(gain.mean()), decibels(gain.min()), decibels(gain.max()))}


HANGER = STAGES + BAND + """lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: I, kind: isolator, stage: base, insertion_loss: 0.4 dB, isolation: 20 dB}
    - {id: C, kind: cavity, stage: base, shape: notch, frequency: 6 GHz, unloaded_q: 30000,
       coupling_q: 10000}
    - {id: J, kind: isolator, stage: base, insertion_loss: 0.4 dB, isolation: 20 dB}
    - {id: R, kind: port, stage: base}
signals: {up: {from: S, to: R}}
"""


def hanger_between_isolators():
    """On resonance the notch passes QL/Q0 in amplitude; matched isolators leave no loop."""
    passed = (1 / 30000) / (1 / 30000 + 1 / 10000)
    gain = decibels(passed**2) - 0.8
    noise = quanta(0.020) / 10 ** (gain / 10)
    return {"up": ("gain", gain, None, None), "noise": noise}


LOW_PASS = STAGES + BAND + """lines:
  readout:
    - {id: S, kind: port, stage: plate}
    - {id: A, kind: attenuator, stage: base, loss: 10 dB}
    - {id: F, kind: filter, stage: base, shape: low-pass, order: 3, cutoff: 5 GHz}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, insertion_loss: 0.1 dB}
    - {id: Q, kind: device, stage: base, reflects: true, loss: 0.05 dB}
  drive:
    - {join: C.coupled}
    - {id: L, kind: termination, stage: base}
  side:
    - {join: C.isolated}
    - {id: B, kind: attenuator, stage: base, loss: 20 dB}
    - {id: E, kind: port, stage: plate}
signals: {at: {from: S, to: Q.in}, drive: {from: E, to: Q.in}}
"""


def qubit_behind_a_low_pass():
    """One loop L z, |L| = |S22| alpha^2 m: the gains have the mean |t|^2/(1 - L^2).

    |S21|^2 = 1/(1 + (f/fc)^6) (Butterworth); the coupler passes alpha and couples beta; the qubit
    sends m back.  `isolated` couples to the qubit's side, `in` - `coupled`, `out` - `isolated`.
    """
    passed = 1 / (1 + (6 / 5) ** 6)
    beta2 = 0.01
    alpha2 = (1 - beta2) * 10 ** (-0.01)
    mirror2 = 10 ** (-0.005)
    loop2 = (1 - passed) * alpha2**2 * mirror2
    at = 0.1 * passed * alpha2 / (1 - loop2)
    low, high = (0.1 * passed * alpha2 / (1 + sign * np.sqrt(loop2)) ** 2 for sign in (1, -1))
    drive = 0.01 * beta2 / (1 - loop2)
    low_d, high_d = (0.01 * beta2 / (1 + sign * np.sqrt(loop2)) ** 2 for sign in (1, -1))
    warm, cold = quanta(4.0) - 0.5, quanta(0.020) - 0.5
    # Everything else is at 20 mK: the excess that 4 K sends, and 20 mK times the commutator, whose
    # mean over the loop's phase is that of (1 - L^2)/|1 - L z|^2, one.
    return {
        "at": ("gain", decibels(at), decibels(low), decibels(high)),
        "drive": ("gain", decibels(drive), decibels(low_d), decibels(high_d)),
        "photons": (at + drive) * (warm - cold) + cold,
    }


CASES = {
    "mirror through a circulator": (MIRROR, mirror_through_a_circulator),
    "paramp in reflection": (PARAMP, paramp_in_reflection),
    "hanger between isolators": (HANGER, hanger_between_isolators),
    "qubit behind a low-pass": (LOW_PASS, qubit_behind_a_low_pass),
}


def comparisons(name, load):
    """Yield (what, predicted, found) of one readout; decibels, or photons and quanta."""
    text, predict = CASES[name]
    layout, expected = load(text), predict()
    for signal, predicted in expected.items():
        if signal == "photons":
            yield "photons at the qubit", predicted, layout.budget("at").photons_at_to[0]
        elif signal == "noise":
            yield "noise, quanta", predicted, layout.budget("up").system_noise_quanta[0]
        elif predicted[0] == "photons":
            yield "photons at the device", predicted[1], layout.budget(signal).photons_at_to[0]
        else:
            budget = layout.budget(signal)
            yield f"{signal}: gain, dB", predicted[1], budget.gain_db[0]
            if predicted[2] is None:
                assert budget.ripple == {}
                continue
            for word, hand, ours in zip(("least", "most"), predicted[2:],
                                        budget.ripple["gain_db"], strict=True):
                yield f"{signal}: {word}, dB", hand, ours[0]


@pytest.mark.parametrize("name", CASES)
def test_readouts_are_as_predicted_by_hand(name, write_layout):
    for what, predicted, found in comparisons(name, write_layout):
        if "dB" in what:
            # A band is that of the draws: a hundredth of it may be missed at its ends.
            assert found == pytest.approx(predicted, abs=0.02), what
        else:
            assert found == pytest.approx(predicted, rel=1e-3), what


def test_signal_and_idler_share_a_phase_where_they_are_one_frequency(write_layout):
    """At fp = 2 fs both phases are one: the mean is over the line i = s of the square."""
    budget = write_layout(PARAMP.replace("11 GHz", "12 GHz")).budget("up")
    ahead, i, r = circulator(0.2, 35)
    s, g, r = PHASES, 10.0, -r
    b = ahead * s * (g - r / s) / (1 - g * r * (s + 1 / s) + r**2)
    gain = np.abs(10 ** (-0.02) * (i + ahead * b)) ** 2 * 10 ** (-0.02)
    assert budget.gain_db[0] == pytest.approx(decibels(gain.mean()), abs=0.01)


def test_a_paramp_whose_loop_can_reach_one_has_no_mean(write_layout):
    """20 dB behind 20 dB of isolation: with r = 0.09 the loop reaches 2 sqrt(G) r = 1.8."""
    layout = write_layout(PARAMP.replace("isolation: 35 dB", "isolation: 20 dB"))
    budget = layout.budget("up")
    assert np.all(np.isnan(budget.gain_db))
    assert np.all(np.isnan(budget.system_noise_quanta))
    assert any("X may oscillate" in text and "0 dB" in text for text in budget.warnings)


if __name__ == "__main__":
    import tempfile

    import chain

    for name in CASES:
        print(name)

        def load(text):
            with tempfile.NamedTemporaryFile("w", suffix=".yaml", delete=False) as file:
                file.write(text)
            return chain.load(file.name)

        for what, predicted, found in comparisons(name, load):
            print(f"  {what:26} by hand {predicted:12.5f}  program {found:12.5f}")
