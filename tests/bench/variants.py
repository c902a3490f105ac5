"""What variants, ladders and the start of a command cost, as ratios of one run.

Run from the top of the project: python tests/bench/variants.py [--quick] [--markdown]
Everything is timed in turns in this one process, on one thread, the start of a command in processes
of its own; every ratio is the median over the turns, with half the width of the middle 80 % of them
beside it: the noise of the machine.  What is compared is compared for its numbers first.

variants   25 elements with a paramp, 21 points: values of three pads and states of two amplifiers,
           gain and noise (and every share), against as many budget() calls
each       every single failure of the same layout, against as many budget() calls
ladder     whole budget() of two rails of full three-ports with a pad in every rung, 160 over 40
start      `chain budget` of a small layout, and of that of the variants, over a process that imports
           numpy and nothing else
"""

import argparse
import gc
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

import chain
from chain.design.failures import each_failure
from chain.layout.variants import Variant
from chain.noise.budget import budget
from chain.noise.variants import variant_budgets
from components.quantities import Quantity

TOP = Path(__file__).parents[2]

STAGES = (
    "stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}\n"
)
READOUT = STAGES + """\
self_heating: off
band: {start: 4 GHz, stop: 8 GHz, points: 21}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: W2, kind: cable, from: plate, to: base, length: 0.5 m, coax: cupronickel-0.86}
    - {id: A2, kind: attenuator, stage: base, loss: 20 dB}
    - {id: D, kind: cavity, stage: base, shape: notch, frequency: 6.1 GHz, coupling_q: 300}
    - {id: I1, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, insertion_loss: 0.2 dB, reversed: true}
    - {id: X, kind: paramp, stage: base, gain: 18 dB, mixing: three-wave, pump: pump}
    - {id: Y, kind: diplexer, stage: base, crossover: 9.5 GHz, order: 7, loads: [high]}
    - {id: I2, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB}
    - {id: I3, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB}
    - {id: A3, kind: attenuator, stage: base, loss: 0.5 dB}
    - {id: W3, kind: cable, from: base, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2.2 K}
    - {id: W4, kind: cable, from: plate, to: room, length: 0.8 m, coax: cupronickel-2.19}
    - {id: G, kind: amplifier, stage: room, gain: 30 dB, noise_figure: 1.5 dB}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: W5, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A4, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: W6, kind: cable, from: plate, to: base, length: 0.5 m, coax: niobium-titanium-0.86}
    - {join: C.coupled}
  back:
    - {join: C.isolated}
    - {id: W7, kind: cable, from: base, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: A5, kind: attenuator, stage: plate, loss: 10 dB}
    - {id: T, kind: termination, stage: plate}
tones: {pump: {into: P, frequency: 14.5 GHz, power: 1 uW}}
signals: {readout: {from: S, to: R}}
"""

SMALL = STAGES + """\
band: {start: 4 GHz, stop: 8 GHz, points: 101}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2.2 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
"""


def ladder_text(rungs):
    """Return the layout of a ladder: tees along two rails, a pad across every pair of them."""
    rails = ""
    for rail, first, last in (("U", "S", "R"), ("V", "Q", "Z")):
        rails += f"  {rail}:\n    - {{id: {first}, kind: port, stage: room}}\n"
        for n in range(rungs):
            rails += (
                f"    - {{id: {rail}{n}, kind: measured, stage: plate, data: tee.s3p, enter: '1', "
                "leave: '2'}\n"
                f"    - {{id: {rail}W{n}, kind: attenuator, stage: plate, loss: 0.2 dB}}\n"
            )
        rails += f"    - {{id: {last}, kind: port, stage: room}}\n"
    across = "".join(
        f"  rung{n}:\n    - {{join: U{n}.3}}\n"
        f"    - {{id: A{n}, kind: attenuator, stage: plate, loss: 3 dB}}\n    - {{join: V{n}.3}}\n"
        for n in range(rungs)
    )
    return (
        f"{STAGES}band: {{start: 4 GHz, stop: 8 GHz, points: 101}}\nlines:\n{rails}{across}"
        "signals: {main: {from: S, to: R}}\n"
    )


TEE = "# GHz S RI R 50\n" + "".join(
    f"{ghz} " + " ".join(f"{(-1 if i == j else 2) / 3:.9f} 0" for i in range(3) for j in range(3))
    + "\n" for ghz in (3, 9)
)


def loaded(folder, name, text):
    """Return the Layout of a text written into the folder."""
    (folder / "tee.s3p").write_text(TEE)
    (folder / name).write_text(text)
    return chain.load(str(folder / name))


def drawn_variants(count):
    """Return variants of the readout: three pads of any value, two amplifiers on or off."""
    rng = np.random.default_rng(2)
    found = []
    for number, losses in enumerate(rng.uniform(0.0, 30.0, (count, 3))):
        values = {
            key: {"loss": Quantity(float(loss), "ratio", "")}
            for key, loss in zip(("A1", "A2", "A3"), losses, strict=True)
        }
        values["X"] = {"state": ("ok", "off")[number % 2]}
        values["G"] = {"state": ("ok", "dead")[number // 2 % 2]}
        found.append(Variant(str(number), values))
    return found


def timed(run):
    """Return the seconds of processor that a call takes, with those of processes that it starts.

    What other programs do at the same time hardly counts.
    """
    gc.disable()
    begin = _spent()
    run()
    taken = _spent() - begin
    gc.enable()
    return taken


def _spent():
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def ratio(slow, fast, turns):
    """Return (median, half the width of the middle 80 %) of seconds of one over another."""
    found = [timed(slow) / timed(fast) for _ in range(turns)]
    low, high = np.quantile(found, [0.1, 0.9])
    return float(np.median(found)), float(high - low) / 2


def agree(layout, variants, signal):
    """Stop where variants and their budgets differ: times of wrong answers mean nothing."""
    found = variant_budgets(layout, variants, signal)
    for number, variant in enumerate(variants):
        alone = budget(variant.apply(layout), signal)
        noise_db = 10 * np.log10(found.system_noise_quanta[number] / alone.system_noise_quanta)
        if max(np.abs(found.gain_db[number] - alone.gain_db).max(), np.abs(noise_db).max()) > 1e-9:
            sys.exit("variants and budgets differ: nothing is timed")


def of_variants(layout, count, turns):
    """Yield rows of variants against budgets, asked of some of them and reckoned for all."""
    variants = drawn_variants(count)
    some = variants[:: max(1, count // 100)]
    agree(layout, some[:20], "readout")

    def alone():
        for variant in some:
            budget(variant.apply(layout), "readout")

    for shares in (False, True):
        median, noise = ratio(
            alone, lambda shares=shares: variant_budgets(
                layout, variants, "readout", shares=shares), turns,
        )
        scale = count / len(some)
        what = "gain, noise, every share" if shares else "gain and noise"
        yield f"{count:,} variants, {what}: budgets / variants", median * scale, noise * scale


def of_failures(layout, turns):
    """Yield the row of every failure against as many budgets."""
    changes = [one.change.partition(".state=") for one in each_failure(layout).failures]

    def alone():
        for key, _, state in changes:
            try:
                budget(layout.with_settings({key: {"state": state}}), "readout")
            except chain.LayoutError:
                continue  # nothing arrives

    median, noise = ratio(alone, lambda: each_failure(layout), turns)
    yield f"{len(changes)} failures: budgets / compare --each", median, noise


def of_ladders(folder, turns):
    """Yield the row of a long ladder over a short one."""
    short, long = (loaded(folder, f"{n}.yaml", ladder_text(n)) for n in (40, 160))
    for layout in (short, long):
        budget(layout)
    yield "ladder of 160 rungs / of 40", *ratio(lambda: budget(long), lambda: budget(short), turns)


def of_start(folder, turns):
    """Yield rows of the start of a command over a process that imports numpy."""
    run = {"cwd": folder, "stdout": subprocess.DEVNULL, "check": True,
           "env": {**os.environ, "PYTHONPATH": str(TOP), "PYTHONDONTWRITEBYTECODE": ""}}
    for name, text in (("small", SMALL), ("readout", READOUT)):
        (folder / "start.yaml").write_text(text)
        code = "import sys; sys.argv = ['chain', 'budget', 'start.yaml']; " \
               "from chain.command import entry; entry()"

        def command(code=code):
            subprocess.run([sys.executable, "-c", code], **run)

        def numpy_alone():
            subprocess.run([sys.executable, "-c", "import numpy"], **run)

        command()
        yield f"command on the {name} layout / numpy alone", *ratio(command, numpy_alone, turns)


def show(rows, markdown):
    """Print rows (what, ratio, noise) as one table."""
    line = "| {} | {:.3g} | {:.2g} |" if markdown else "{:<72} {:>7.3g} +/- {:.2g}"
    if markdown:
        print("| what | ratio | +/- |\n| --- | ---: | ---: |")
    for row in rows:
        print(line.format(*row))


def main():
    """Time everything and print one table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="fewer turns, a tenth of the variants")
    parser.add_argument("--markdown", action="store_true", help="the table as markdown")
    words = parser.parse_args()
    turns = 5 if words.quick else 15
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        layout = loaded(folder, "readout.yaml", READOUT)
        rows = [
            *of_variants(layout, 1_000 if words.quick else 10_000, turns),
            *of_failures(layout, turns), *of_ladders(folder, turns), *of_start(folder, turns),
        ]
    show(rows, words.markdown)


if __name__ == "__main__":
    main()
