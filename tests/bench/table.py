"""What whole calls cost beside other ways to the same numbers: one table of ratios from one run.

Run from the top of the project:
python tests/bench/table.py [--quick] [--markdown] [--before FOLDER]

One thread; what is compared is run in turns, and every ratio is the median over the pairs, with
half the width of the middle 80 % of them beside it: the noise of the machine.  Above one, this
program is faster, but for the ladder and the start.  Layouts are changed outside the time taken, a
pad and the temperature of a stage before every call, and every row, share and law is read.
`--before` names a checkout of another commit: each of its calls in a process of its own, in turns
with ours, over the layout that it has.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import solve
import variants
from skrf.network import cascade_list

import chain
from chain.noise.spread import spread
from components.kinds import cables
from components.response import MEMORY

TOP = Path(__file__).parents[2]

SIZES = ((40, 1001), (40, 5001), (80, 1001), (20, 201))
"""Elements and points of the chains of measured two-ports; the first one is the quick one."""

DRAWS, DRAWN_POINTS, DRAWN_ELEMENTS = 1000, 201, 24

COMMANDS = {
    "check": "from chain.advice.check import check; check(layout)",
    "compare --each": (
        "try:\n    from chain.design.failures import each_failure\n"
        "except ImportError:\n    from chain.design.comparison import each_failure\n"
        "each_failure(layout)"
    ),
    "warm, 400 draws": "from chain.measurement.analyser import opened, traces; "
                       "traces(opened(layout.warm(), ()))",
}
"""What is timed against another commit, on the haloscope of demo_chains, loaded anew."""

PROCESS = """\
import gc, sys, time
sys.path.insert(0, {folder!r})
import numpy, chain
layout = chain.load({path!r})
{call}
layout = chain.load({path!r})
gc.disable()
begin = time.process_time()
{call}
print(time.process_time() - begin)
"""


def read(budget):
    """Read every row, share and law of a budget, as one who looks at all of it does."""
    total = 0.0
    for row in budget.rows:
        for values in (row.gain_db, row.cumulative_db, row.own_noise_k):
            total += 0.0 if values is None else values[0]
    for shares in (budget.shares_quanta, budget.idler_shares_quanta, budget.vacuum_shares_quanta,
                   budget.incoming_shares_quanta, budget.interference_shares_quanta):
        total += sum(share[0] for share in shares.values())
    return total, budget.laws.as_dict()


def changed_layouts(layout, pad):
    """Yield the layout again and again, a pad and the temperature of a stage changed each time."""
    number = 0
    while True:
        number += 1
        yield layout.changed(
            f"{pad}.loss={3 + 1e-3 * number:.4f} dB",
            f"stages.plate.temperature={4 + 1e-3 * number:.4f} K",
        )


def paired(slow, fast, turns):
    """Return (median, noise) of the time of one over the other, each prepared outside the time.

    `slow` and `fast` return, when called, what is timed.
    """
    found = [variants.timed(slow()) / variants.timed(fast()) for _ in range(turns)]
    low, high = np.quantile(found, [0.1, 0.9])
    return float(np.median(found)), float(high - low) / 2


def of_chains(folder, sizes, turns):
    """Yield rows of whole budgets of chains of measured two-ports over cascade_list."""
    for count, points in sizes:
        case, networks = solve.measured(count, points, folder, pad=True)
        solve.agree(case, networks)
        layouts = changed_layouts(case.layout, "M0")

        def cascade(networks=networks):
            return lambda: cascade_list(networks)

        def ours(layouts=layouts):
            layout = next(layouts)
            return lambda: read(layout.budget("main"))

        def first(case=case):
            layout = chain.load(case.layout.path)
            MEMORY.clear()
            cables._rod.cache_clear()
            for element in layout.elements.values():
                if element.settings.given("data"):
                    element.settings["data"].data._lately.clear()
            return lambda: read(layout.budget("main"))

        ours()()
        yield f"cascade_list / budget() of a changed layout, {count} x {points}", *paired(
            cascade, ours, turns)
        yield f"cascade_list / first budget() after loading, {count} x {points}", *paired(
            cascade, first, turns)


def of_draws(folder, turns):
    """Yield the row of draws of tolerances over a loop of cascade_list, a part of it timed."""
    values = [text.replace("loss: {b} dB", "loss: {b} dB +/- 0.2 dB").replace(
        "gain: 16 dB", "gain: 16 dB +/- 0.5 dB") for text in solve.KINDS]
    case, networks = solve.of_kinds(DRAWN_ELEMENTS, DRAWN_POINTS, folder, values)
    part = DRAWS // 50

    def loop():
        for _ in range(part):
            cascade_list(networks)

    median, noise = paired(
        lambda: loop, lambda: lambda: spread(case.layout, "main", draws=DRAWS), turns)
    yield (f"{DRAWS} cascade_list / spread() of {DRAWS} draws, {DRAWN_ELEMENTS} x {DRAWN_POINTS}",
           median * DRAWS / part, noise * DRAWS / part)


def of_commit(before, turns):
    """Yield rows of the haloscope's calls in a checkout of another commit over ours."""
    path = str(before / "demo_chains" / "haloscope.yaml")
    for name, call in COMMANDS.items():
        def taken(folder, call=call):
            code = PROCESS.format(folder=str(folder), path=path, call=call)
            return float(subprocess.run(
                [sys.executable, "-P", "-c", code], capture_output=True, check=True, text=True,
            ).stdout)

        found = [taken(before) / taken(TOP) for _ in range(turns)]
        low, high = np.quantile(found, [0.1, 0.9])
        yield f"{name} of the haloscope, that commit / now", float(np.median(found)), float(
            high - low) / 2


def main():
    """Time everything and print one table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="fewer turns and sizes")
    parser.add_argument("--markdown", action="store_true", help="the table as markdown")
    parser.add_argument("--before", type=Path, help="a checkout of a commit to compare with")
    words = parser.parse_args()
    turns = 15 if words.quick else 21
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        readout = variants.loaded(folder, "readout.yaml", variants.READOUT)
        rows = [
            *of_chains(folder, SIZES[:1] + SIZES[3:] if words.quick else SIZES, turns),
            *of_draws(folder, turns),
            *variants.of_variants(readout, 1_000 if words.quick else 10_000, turns // 3),
            *variants.of_failures(readout, turns // 3),
            *variants.of_ladders(folder, turns // 3),
            *variants.of_start(folder, turns),
        ]
        if words.before:
            rows += of_commit(words.before.resolve(), turns // 3)
    variants.show(rows, words.markdown)


if __name__ == "__main__":
    main()
