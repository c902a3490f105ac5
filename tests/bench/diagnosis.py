"""How often `diagnose` finds what was planted, and whether its probabilities are honest.

Run from the top of the project: python tests/bench/diagnosis.py [--cases N] [--ripple DB] [--seed S]
[--wrong odds|noise] [--jobs J] [--out FILE] [--markdown FILE...]
Layouts of this study were not used for any choice in chain/diagnosis.  Faults are drawn from the
stated odds (none 50 %, one 37 %, two 13 %, healthy and invisible ones included), their sizes from the
stated distributions; data are drawn by the whole program: every tolerance, every unknown phase, a
ripple of three sine waves, and noise on every point.  The shortcut of chain/diagnosis has no part in it.

`visible` is a fault that moves the data by more than 3 sigma of the healthy covariance, tolerances
and ripple included; a pair is `separable` where each of its causes still moves the data by more than
3 sigma after the other one's size has been fitted anew: the part of its whitened change that is at
right angles to the other one's slope, and both to no single cause's best fit within chi2 of 9.
"""

import argparse
import functools
import json
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import itertools

import numpy as np

import chain
from chain.diagnosis.causes import causes, compatible
from chain.diagnosis.groups import grouped, healthy_sigmas
from chain.diagnosis.healthy import realised
from chain.diagnosis.prediction import Prediction
from chain.diagnosis.search import Priors, Search
from chain.measurement.data_sets import GAIN, SYSTEM, Column, DataSet
from chain.network.draws import Draws

POINTS = 101
OWN_DB, COMMON_DB = 0.08, 0.3
VISIBLE = 3.0

HEAD = """\
stages:
  room: {temperature: 296 K}
  upper: {temperature: 50 K}
  plate: {temperature: 4.1 K +/- 0.1 K}
  still: {temperature: 0.9 K}
  base: {temperature: 18 mK +/- 2 mK}
"""

PLAIN = HEAD + """\
band: {start: 4.2 GHz, stop: 7.8 GHz, points: 101}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, via: {upper: 0.3 m}, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB +/- 0.4 dB}
    - {id: W2, kind: cable, from: plate, to: base, length: 0.5 m, coax: cupronickel-0.86}
    - {id: A2, kind: attenuator, stage: base, loss: 20 dB +/- 0.4 dB}
    - {id: D, kind: device, stage: base}
    - {id: I1, kind: isolator, stage: base, insertion_loss: 0.4 dB +/- 0.1 dB, isolation: 19 dB, return_loss: 18 dB}
    - {id: W3, kind: cable, from: base, to: plate, length: 0.5 m, coax: niobium-titanium-0.86, via: {still: 0.3 m}}
    - {id: H1, kind: amplifier, stage: plate, gain: 35 dB +/- 0.7 dB, noise_temperature: 2.5 K +/- 0.3 K, return_loss: 14 dB}
    - {id: W4, kind: cable, from: plate, to: room, length: 0.8 m, coax: cupronickel-2.19, via: {upper: 0.5 m}}
    - {id: H2, kind: amplifier, stage: room, gain: 28 dB +/- 0.5 dB, noise_figure: 1.8 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D.out, to: R}}
"""

PARAMP = HEAD + """\
band: {start: 5 GHz, stop: 7 GHz, points: 101}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB +/- 0.4 dB}
    - {id: W2, kind: cable, from: plate, to: base, length: 0.5 m, coax: cupronickel-0.86}
    - {id: A2, kind: attenuator, stage: base, loss: 30 dB +/- 0.4 dB}
    - {id: D, kind: device, stage: base}
    - {id: I1, kind: isolator, stage: base, insertion_loss: 0.5 dB +/- 0.1 dB, isolation: 20 dB}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, insertion_loss: 0.2 dB, directivity: 18 dB, reversed: true}
    - {id: X, kind: paramp, stage: base, gain: 20 dB +/- 0.6 dB, mixing: four-wave, pump: pump, insertion_loss: 1.5 dB}
    - {id: I2, kind: isolator, stage: base, insertion_loss: 0.5 dB +/- 0.1 dB, isolation: 20 dB}
    - {id: W3, kind: cable, from: base, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: H1, kind: amplifier, stage: plate, gain: 38 dB +/- 0.7 dB, noise_temperature: 2.1 K +/- 0.25 K}
    - {id: W4, kind: cable, from: plate, to: room, length: 0.8 m, coax: cupronickel-2.19}
    - {id: H2, kind: amplifier, stage: room, gain: 25 dB +/- 0.5 dB, noise_figure: 2.2 dB}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: W5, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A3, kind: attenuator, stage: plate, loss: 20 dB +/- 0.4 dB}
    - {id: W6, kind: cable, from: plate, to: base, length: 0.5 m, coax: cupronickel-0.86}
    - {id: A4, kind: attenuator, stage: base, loss: 10 dB +/- 0.3 dB}
    - {join: C.coupled}
  back:
    - {join: C.isolated}
    - {id: T, kind: termination, stage: base}
tones: {pump: {into: P, frequency: 6.01 GHz, arriving: {X.in: -65 dBm}}}
signals: {main: {from: D.out, to: R}}
"""

LAYOUTS = {"plain": PLAIN, "paramp": PARAMP}
SETS = {"plain": ((),), "paramp": ((), ("X.state=off",))}


@functools.cache
def layout_of(name):
    """Return a layout of the study."""
    folder = Path(os.environ.get("TMPDIR", "/tmp"))
    path = folder / f"study-{os.getpid()}-{name}.yaml"
    path.write_text(LAYOUTS[name])
    return chain.load(path)


def drawn_faults(rng, layout, ids):
    """Return the causes of one case with their sizes, from the stated odds."""
    known = causes(layout, ids)
    odds = np.array([cause.odds for cause in known])
    how_many = rng.choice(3, p=(0.5, 0.37, 0.13))
    if how_many == 0:
        return ()
    if how_many == 1:
        chosen = [known[rng.choice(len(known), p=odds / odds.sum())]]
    else:
        pairs = [(a, b) for i, a in enumerate(known) for b in known[i + 1:] if compatible(a, b)]
        weights = np.array([a.odds * b.odds for a, b in pairs])
        chosen = pairs[rng.choice(len(pairs), p=weights / weights.sum())]
    return tuple(
        (cause, 0.0 if cause.size is None
         else cause.size.median * cause.size.factor ** rng.standard_normal()) for cause in chosen
    )


def ripple_db(rng, frequency_hz, size_db):
    """Return three standing waves of random period and phase, together of a given rms."""
    span = frequency_hz[-1] - frequency_hz[0]
    periods = span * 10 ** rng.uniform(-1.3, 0.0, 3)
    waves = sum(np.sin(2 * np.pi * (frequency_hz / one + rng.random())) for one in periods)
    return size_db * np.sqrt(2 / 3) * waves


def data_of(rng, layout, faults, size_db, changes, seed):
    """Return the DataSet that the whole program draws with faults in place."""
    said = [cause.change(layout, size) for cause, size in faults]
    real = layout.changed(*changes, *said)
    # Stages' tolerances are no value of an element; they are drawn here, the same for every set.
    own = np.random.default_rng([seed, 77])
    moved = {
        name: stage.temperature_k + stage.tolerance.size * own.standard_normal()
        for name, stage in real.stages.items() if stage.tolerance is not None
    }
    real = real.with_temperatures(moved) if moved else real
    f = np.linspace(layout.band.start_hz, layout.band.stop_hz, POINTS)
    signal = real.signals["main"]
    draws = Draws(real, real.connected(signal.to_port[0]), count=64, seed=seed)
    columns = []
    for quantity in (GAIN, SYSTEM):
        value = realised(real, signal, f, draws, quantity)[seed % 64]
        value = value + ripple_db(rng, f, size_db) + OWN_DB * rng.standard_normal(POINTS)
        value = value + COMMON_DB * rng.standard_normal()
        columns.append(Column(quantity, f, value, np.full(POINTS, OWN_DB), COMMON_DB))
    return DataSet("study", tuple(columns), changes)


@functools.cache
def prepared(name, wrong):
    """Return a Search whose predictions are worked out once for all cases of a layout."""
    f = np.linspace(layout_of(name).band.start_hz, layout_of(name).band.stop_hz, POINTS)
    less = 3 if wrong == "noise" else 1
    columns = tuple(Column(quantity, f, np.zeros(POINTS), np.full(POINTS, OWN_DB / less),
                           COMMON_DB / less) for quantity in (GAIN, SYSTEM))
    predictions = [Prediction(layout_of(name), "main", DataSet("study", columns, changes))
                   for changes in SETS[name]]
    return Search(predictions, priors=Priors(), ripple_db=0.02 if wrong == "noise" else None)


def search_of(name, wrong, sets):
    """Return the Search of a layout with the data of a case in place."""
    search = prepared(name, wrong)
    bins = search.sets[0].prediction.bins[0]
    search.data = np.concatenate([
        bins.mean(column.value_db) for one in sets for column in one.columns])
    return search


def one_case(name, seed, size_db, wrong):
    """Return what diagnose made of one case, as a dict."""
    rng = np.random.default_rng([seed, list(LAYOUTS).index(name)])
    layout = layout_of(name)
    ids = layout.connected(layout.signals["main"].to_port[0])
    if wrong == "odds":
        # What really fails: everything as likely as anything else.
        draw_from = layout.changed(*(f"{key}.odds={rng.choice([0.2, 1, 5])}" for key in ids
                                     if "odds" in layout.elements[key].kind.declared()))
    else:
        draw_from = layout
    for _ in range(50):
        faults = drawn_faults(rng, draw_from, ids)
        try:
            sets = [data_of(rng, layout, faults, size_db, changes, seed + 1)
                    for changes in SETS[name]]
        except chain.LayoutError:
            continue
        # A line that carries nothing gives no gain to measure.
        if all(column.value_db[0] > -60 if column.quantity == GAIN else
               np.isfinite(column.value_db).all() for one in sets for column in one.columns):
            break
    started = time.process_time()
    search = search_of(name, wrong, sets)
    groups = grouped(search, search.run())
    truth = {cause.name + cause.what for cause, _ in faults}

    def holds(one):
        return {cause.name + cause.what for cause in one.causes} == truth

    rank = next((place for place, group in enumerate(groups)
                 if holds(group.leader) or any(holds(one) for one, _ in group.members)), None)
    seen = healthy_sigmas(search, faults, size_db) if faults else 0.0
    return {
        "layout": name, "seed": seed, "truth": sorted(truth), "count": len(faults),
        "sigmas": seen, "separable": separable(search, faults, size_db),
        "rank": rank, "first": groups[0].probability,
        "leader": sorted(cause.name for cause in groups[0].leader.causes),
        "leader_own": groups[0].own, "leader_right": holds(groups[0].leader),
        "all": [[group.probability, place == rank] for place, group in enumerate(groups)
                if group.probability > 0.02],
        "own_truth": next((p for group in groups for one, p in
                           [(group.leader, group.own), *group.members] if holds(one)), 0.0),
        "cpu_s": time.process_time() - started, "explanations": len(search.causes),
    }


def separable(search, faults, size_db):
    """Return the least sigmas by which each of a pair moves the data at right angles to the other.

    0 for what is no pair.
    """
    if len(faults) != 2:
        return 0.0
    nearest = min(search.ripples, key=lambda one: (abs(one.size_db - size_db), one.width))
    whitener = search.whitener(search.healthy_tolerances, nearest)[0]
    first, second = faults
    values = search.predicted([(), (first,), (second,), (first, second)])
    white = values @ whitener.T
    least = np.inf
    for alone in (1, 2):
        # What the other one adds, and the way along which the first one's size could follow it.
        added, along = white[3] - white[alone], white[alone] - white[0]
        if np.linalg.norm(along) > 0 and (first, second)[alone - 1][0].size is not None:
            along = along / np.linalg.norm(along)
            added = added - (added @ along) * along
        least = min(least, float(np.linalg.norm(added)))
    return least


def _work(job):
    try:
        return one_case(*job)
    except chain.LayoutError as error:
        return {"error": str(error), "seed": job[1], "layout": job[0]}


def run(words):
    """Run the cases and write one line of JSON for each."""
    jobs = [(name, words.seed + number, words.ripple, words.wrong)
            for number in range(words.cases) for name in words.layouts]
    with ProcessPoolExecutor(words.jobs) as pool, open(words.out, "w") as file:
        for done, found in enumerate(pool.map(_work, jobs), 1):
            file.write(json.dumps(found) + "\n")
            file.flush()
            print(f"\r{done} of {len(jobs)}", end="", file=sys.stderr)
    print(file=sys.stderr)


def _percent(part, of):
    return f"{100 * part / of:.0f} % of {of}" if of else "-"


def tables(paths):
    """Return the tables of files that `run` wrote, as Markdown."""
    cases = [json.loads(line) for path in paths for line in Path(path).read_text().splitlines()]
    cases = [case for case in cases if "error" not in case]
    lines = ["| cases | first | first three |", "| --- | ---: | ---: |"]

    def row(name, some):
        first = sum(case["rank"] == 0 for case in some)
        three = sum(case["rank"] is not None and case["rank"] < 3 for case in some)
        lines.append(f"| {name} | {_percent(first, len(some))} | {_percent(three, len(some))} |")

    row("healthy", [case for case in cases if case["count"] == 0])
    row("one, over 3 sigma", [c for c in cases if c["count"] == 1 and c["sigmas"] > VISIBLE])
    row("one, below 3 sigma", [c for c in cases if c["count"] == 1 and c["sigmas"] <= VISIBLE])
    row("two, separable", [c for c in cases if c["count"] == 2 and c["separable"] > VISIBLE])
    row("two, not separable", [c for c in cases if c["count"] == 2 and c["separable"] <= VISIBLE])
    lines += ["", "| stated | cases | mean stated | true | allowed |",
              "| --- | ---: | ---: | ---: | ---: |"]
    stated = np.array([p for case in cases for p, _ in case["all"]])
    right = np.array([r for case in cases for _, r in case["all"]])
    edges = (0.02, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0 + 1e-9)
    for low, high in itertools.pairwise(edges):
        inside = (stated >= low) & (stated < high)
        n = int(inside.sum())
        if n:
            p = float(stated[inside].mean())
            allowed = 0.05 + 2 * np.sqrt(max(p * (1 - p), 1e-4) / n)
            lines.append(f"| {low:g} to {min(high, 1):g} | {n} | {p:.3f} | "
                         f"{right[inside].mean():.3f} | {allowed:.3f} |")
    cpu = np.array([case["cpu_s"] for case in cases])
    lines.append(f"\n{len(cases)} cases, {np.median(cpu):.1f} s of one core each (median)")
    return "\n".join(lines)


def main():
    """Run the study, or print its tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=10, help="cases of each layout")
    parser.add_argument("--ripple", type=float, default=0.15, help="rms of the planted ripple, dB")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--wrong", choices=("odds", "noise"))
    parser.add_argument("--layouts", nargs="+", default=list(LAYOUTS))
    parser.add_argument("--out", default="diagnosis.jsonl")
    parser.add_argument("--markdown", nargs="+", metavar="FILE", help="tables of such files")
    words = parser.parse_args()
    if words.markdown:
        print(tables(words.markdown))
    else:
        run(words)
        print(tables([words.out]))


if __name__ == "__main__":
    main()
