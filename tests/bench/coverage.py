"""How often the stated intervals of `chain reduce` hold the truth, by simulation.

Every set has its own truth: the thermometer's scale, the loss before the plane and the gain's drift
are drawn from what is stated of them, each power from its own error; the powers follow from the
formula for a load behind a loss.  Each set is reduced as if it were measured.
Run: python tests/bench/coverage.py [--sets 2000]
"""

import argparse
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

import chain
from chain.measurement.common_errors import Sizes
from chain.measurement.estimate import gain_and_added
from chain.measurement.load_noise import Load, LoadNoise
from chain.measurement.on_off import without_paramps
from chain.measurement.readings import Readings
from chain.measurement.readings_model import Pair, Task
from components.quantities import power_ratio
from components.thermal_noise import quanta

LAYOUT = """
band: {{start: 4 GHz, stop: 8 GHz, points: {points}}}
stages: {{room: {{temperature: 295 K}}, plate: {{temperature: 3.8 K}}, base: {{temperature: 30 mK}}}}
lines:
  main:
    - {{id: L, kind: termination, stage: base}}
    - {{id: W, kind: attenuator, stage: base, loss: 1 dB +/- 0.15 dB}}
    - {{id: D, kind: device, stage: base}}
    - {{id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: {noise}}}
    - {{id: R, kind: port, stage: room}}
signals: {{main: {{from: D.out, to: R}}}}
"""


@dataclass(frozen=True)
class Case:
    """One measurement that is simulated many times; errors are standard deviations."""

    name: str
    load_k: tuple[float, ...]
    power: float
    """Relative."""
    scale: float = 0.01
    drift: float = 0.003
    points: int = 21
    noise: str = "2 K"


CASES = (
    Case("0.1, 1, 3 K", (0.1, 1.0, 3.0), 0.01),
    Case("0.1, 4 K, two alone", (0.1, 4.0), 0.01),
    Case("cold, hot, cold, hot", (0.1, 3.0, 0.1, 3.0), 0.01),
    Case("quiet amplifier", (0.05, 0.5, 1.0, 2.0), 0.01, noise="0.4 K"),
    Case("two at 3 % a power", (0.1, 4.0), 0.03),
    Case("no drift, good loss known", (0.1, 1.0, 3.0), 0.002, drift=0.001),
)


@dataclass(frozen=True)
class Coverage:
    """Parts of the sets whose truth lies inside the stated interval, by width in sigma."""

    points: dict
    """{quantity: (68 %, 95 %)} over all frequencies."""
    mean: dict
    """The same of the mean over the band."""
    power_only: tuple
    """Added noise with errors of power alone: (68 %, of the mean over the band)."""
    mean_off: float
    """Mean over the sets of the band's mean less the truth, quanta."""


def coverage(case, sets, seed=0):
    """Return the Coverage of a Case over so many sets."""
    rng = np.random.default_rng(seed)
    layout = _loaded(LAYOUT.format(points=case.points, noise=case.noise))
    f = layout.band.frequency_hz
    steps = len(case.load_k)
    nominal = np.repeat(np.array(case.load_k)[:, None], f.size, axis=1)
    empty = Readings(f, nominal, np.zeros_like(nominal), np.ones_like(nominal),
                     np.full(nominal.shape, case.power), None, (), ())
    sizes = Sizes(load_scale=case.scale, drift=case.drift)
    task = Task(LoadNoise(layout, "main", Load.of(layout, "L"), f), empty, sizes)
    errors = task.errors()
    b = layout.budget("main")
    base = task.model(errors, check=False)
    alone = replace(base, errors=())
    gain = power_ratio(b.gain_db)
    truth = {"added noise": b.added_quanta, "gain": b.gain_db}
    inside = {name: [] for name in truth}
    means = {name: [] for name in truth}
    simple, off = [], []
    for _ in range(sets):
        powers = _powers(rng, case, b, gain, nominal, f, steps)
        estimates = _estimates(replace(base, quanta=powers), errors, case, gain)
        for name, estimate in zip(("gain", "added noise"), estimates, strict=True):
            low, high = estimate.interval_68
            low2, high2 = estimate.interval_95
            t = truth[name]
            inside[name].append(((low <= t) & (t <= high), (low2 <= t) & (t <= high2)))
            miss = abs(estimate.mean - t.mean()) / estimate.mean_sigma
            means[name].append((miss < 1, miss < 2))
        off.append(estimates[1].mean - b.added_quanta.mean())
        plain = _estimates(replace(alone, quanta=powers), (), case, gain)[1]
        simple.append((np.mean(np.abs(plain.value - b.added_quanta) < plain.own),
                       abs(plain.mean - b.added_quanta.mean()) < plain.mean_own))
    return Coverage(
        {name: tuple(np.mean([pair[i] for pair in found]) for i in (0, 1))
         for name, found in inside.items()},
        {name: tuple(np.mean(found, axis=0)) for name, found in means.items()},
        tuple(np.mean(simple, axis=0)), float(np.mean(off)),
    )


PAIR = """
band: {start: 4.6 GHz, stop: 6.4 GHz, points: 9}
stages: {room: {temperature: 295 K}, plate: {temperature: 3.8 K}, base: {temperature: 30 mK}}
lines:
  main:
    - {id: L, kind: termination, stage: base}
    - {id: W, kind: attenuator, stage: base, loss: 1 dB +/- 0.15 dB}
    - {id: D, kind: device, stage: base}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: four-wave, pump: pump, excess_noise: 0.3}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
tones: {pump: {into: R, frequency: 5.503 GHz, power: -60 dBm}}
signals: {main: {from: D.out, to: R}}
"""

ON_LOADS_K, ON_POWER, CHANGE_DB, CHANGE_SCALE_DB = (0.03, 1.0, 2.0, 0.03), 0.005, 0.03, 0.05


def paramp_coverage(sets, seed=0):
    """Return {quantity: (68 %, 95 %)} of the added noise with the paramp on, and of its mean."""
    rng = np.random.default_rng(seed)
    layout = _loaded(PAIR)
    f = layout.band.frequency_hz
    on = LoadNoise(layout, "main", Load.of(layout, "L"), f)
    off = on.with_layout(without_paramps(layout, layout.signals["main"]))
    loads = np.repeat(np.array(ON_LOADS_K)[:, None], f.size, axis=1)
    sizes = Sizes(load_scale=0.01, drift=0.003, gain_change_db=CHANGE_SCALE_DB)

    def readings(kelvin, quanta_read):
        zero = np.zeros_like(kelvin)
        return Readings(f, kelvin, zero, quanta_read, zero + ON_POWER, None, (), ())

    gain_on, gain_off = (power_ratio(noise.budget.gain_db) for noise in (on, off))
    truth = on.budget.added_quanta
    errors = Pair(Task(off, readings(loads, loads), sizes), on, readings(loads[:1], loads[:1])).errors()
    cold = quanta(frequency_hz=f, temperature_k=0.03)
    inside, means = [], []
    db = np.log(10) / 10
    for _ in range(sets):
        scale, loss, ratio = rng.standard_normal(3) * (0.01, 0.15, CHANGE_SCALE_DB)
        eta = 10 ** (-(1.0 + loss) / 10)

        def read(kelvin, gain, added, scale=scale, eta=eta):
            load = quanta(frequency_hz=f, temperature_k=kelvin * (1 + scale))
            drift = 1 + 0.003 * rng.standard_normal((len(kelvin), 1))
            own = 1 + ON_POWER * rng.standard_normal(kelvin.shape)
            return gain * (eta * load + (1 - eta) * cold + added) * drift * own

        pair = Pair(
            Task(off, readings(loads, read(loads, gain_off, off.budget.added_quanta)), sizes), on,
            readings(loads[:1], read(loads[:1], gain_on, truth)),
        )
        change = gain_on / gain_off * np.exp(db * (ratio + CHANGE_DB * rng.standard_normal(f.size)))
        model = pair.model(errors, change, np.full(f.size, CHANGE_DB * db), check=False)
        fit = model.fitted(np.full((len(loads) + 1, f.size), ON_POWER))
        _, added = gain_and_added(fit, errors, model.predicted_gain, intercept=2, lift=3)
        inside.append([np.mean((low <= truth) & (truth <= high))
                       for low, high in (added.interval_68, added.interval_95)])
        miss = abs(added.mean - truth.mean()) / added.mean_sigma
        means.append((miss < 1, miss < 2))
    return {"added noise": tuple(np.mean(inside, axis=0)), "its mean": tuple(np.mean(means, axis=0))}


def _powers(rng, case, b, gain, nominal, f, steps):
    """Return powers of one set, quanta at the instrument, by the formula and not the fit's model."""
    scale = 1.0 + case.scale * rng.standard_normal()
    eta = 10 ** (-(1.0 + 0.15 * rng.standard_normal()) / 10)
    drift = 1.0 + case.drift * rng.standard_normal((steps, 1))
    own = 1.0 + case.power * rng.standard_normal(nominal.shape)
    load = quanta(frequency_hz=f, temperature_k=nominal * scale)
    cold = quanta(frequency_hz=f, temperature_k=0.03)
    return gain * (eta * load + (1 - eta) * cold + b.added_quanta) * drift * own


def _estimates(model, errors, case, gain):
    fit = model.fitted(np.full(model.quanta.shape, case.power))
    return gain_and_added(fit, errors, gain)


def _loaded(text):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "layout.yaml"
        path.write_text(text)
        return chain.load(str(path))


def main():
    """Print a row for each case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=2000)
    sets = parser.parse_args().sets
    print(f"{sets} sets a case; nominal 68.3 and 95.4 %")
    print(f"{'':27}  added noise  its mean     gain         its mean     power alone  mean off")
    for case in CASES:
        found = coverage(case, sets)
        cells = [found.points["added noise"], found.mean["added noise"],
                 found.points["gain"], found.mean["gain"], found.power_only]
        row = "  ".join(f"{100 * a:4.1f}  {100 * b:4.1f} " for a, b in cells)
        print(f"{case.name:27}  {row}  {found.mean_off:+.3f}")
    row = "  ".join(f"{100 * a:4.1f}  {100 * b:4.1f} " for a, b in paramp_coverage(sets).values())
    print(f"{'paramp on and off':27}  {row}")


if __name__ == "__main__":
    main()
