"""How fast a budget with every element's share is solved, beside other ways to the same numbers.

Run from the top of the project: python tests/bench/solve.py [--quick] [--markdown]
Everything is timed in this one process on one thread, in turns, medians in milliseconds of
processor, so that what other programs do at the same time hardly counts; only the ratios mean anything on another machine.  Ours gives every element's share of the noise and the
gain; scikit-rf's cascade and Circuit give scattering alone, its noise cascade one total.

Two chains.  "measured": every element a slightly mismatched two-port from a Touchstone file, every
entry of S there; "kinds": cables by their coax, pads, isolators, couplers, circulators and
amplifiers as layouts have them, with structural zeros.  "with couplers" is the measured one with
every tenth element a four-port whose other ports run into terminations of their own.
"""

import argparse
import gc
import os
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import many_lines
import numpy as np
from skrf import Frequency
from skrf import Network as Other
from skrf.circuit import Circuit
from skrf.network import cascade_list

import chain
from chain.network.assembly import Choices, scattering_network
from chain.network.emitted import arrived
from components.constants import H, K
from components.kinds import cables
from components.response import MEMORY

SIZES = (20, 40, 80)
POINTS = (201, 1001, 5001)
CIRCUIT_MOST_BYTES = 0.7e9
"""Circuit is left out where one of the work arrays that it keeps several of would be larger."""

STAGES = "stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}"


class Case:
    """One chain at one set of frequencies: our layout, and the same elements for scikit-rf."""

    def __init__(self, layout):
        self.layout = layout
        self.f = layout.band.frequency_hz
        self.network = self.build()
        self.end = self.network.arriving(("R", "port"))
        self.grid = Frequency.from_f(self.f, unit="Hz")

    def forget(self):
        """Forget every response, so that the elements are asked as for the first time."""
        MEMORY.clear()
        cables._rod.cache_clear()
        for element in self.layout.elements.values():
            if element.settings.given("data"):
                element.settings["data"].data._lately.clear()

    def build(self):
        """Ask every element for S and C, at one phase, as other programs have it."""
        return scattering_network(self.layout, "S", self.f, Choices(phases=False))

    def solve(self, network=None):
        """Return the gain and every element's noise, from S and C as they are."""
        network = network or self.network
        network._factors, network._adjoints = None, {}
        transfers = network.adjoint(self.end)
        shares = {block.id: arrived(block, transfers).whole for block in network.blocks}
        return np.abs(transfers["S", "port", 1]) ** 2, shares

    def both(self):
        """Build and solve."""
        return self.solve(self.build())

    def matrices(self):
        """Return (S, C) of every block but the outside ports, each (points, n, n)."""
        found = []
        for block in self.network.blocks:
            if block.id not in ("S", "R"):
                s, c = block.nport.dense(len(self.f))
                found.append((s[0], c[0]))
        return found


def two_port(rng, f):
    """Return S of a slightly mismatched, lossy, reciprocal two-port, shape (points, 2, 2)."""
    through = 10 ** (-rng.uniform(0.2, 3) / 20) * np.exp(-2j * np.pi * f * rng.uniform(1, 2) * 1e-9)
    s = np.empty((f.size, 2, 2), complex)
    s[:, 0, 1] = s[:, 1, 0] = through
    for port in (0, 1):
        turn = np.exp(2j * np.pi * (rng.random() - f * 1e-9))
        s[:, port, port] = 0.05 * np.sqrt(1 - np.abs(through) ** 2) * turn
    return s


def four_port(rng, f):
    """Return S of a slightly mismatched coupler, shape (points, 4, 4); ports in, out and two."""
    beta = 0.1 * rng.uniform(0.5, 1.5)
    alpha, delay = np.sqrt(1 - beta**2), np.exp(-2j * np.pi * f * 0.3e-9)
    pattern = np.array([
        [0.0, alpha, 1j * beta, 0.01j * beta], [alpha, 0.0, 0.01j * beta, 1j * beta],
        [1j * beta, 0.01j * beta, 0.0, alpha], [0.01j * beta, 1j * beta, alpha, 0.0],
    ]) + 0.02 * np.eye(4)
    return 0.96 * pattern * delay[:, None, None]


def measured(count, points, folder, *, couplers=False, pad=False):
    """Return (Case, scikit-rf networks) of a chain of files, perhaps with four-ports in it.

    With `pad` the first one, M0, is a pad of 3 dB on the stage `plate`.
    """
    rng = np.random.default_rng(5)
    f = np.linspace(4e9, 8e9, points)
    grid = Frequency.from_f(f, unit="Hz")
    main, side, networks = ["{id: S, kind: port, stage: room}"], "", []
    if pad:
        s = np.zeros((points, 2, 2), complex)
        s[:, 0, 1] = s[:, 1, 0] = 10 ** (-3 / 20)
        networks.append(Other(frequency=grid, s=s, name="M0"))
        main.append("{id: M0, kind: attenuator, stage: plate, loss: 3 dB}")
    for i in range(len(networks), count):
        wide = couplers and i % 10 == 5
        network = Other(frequency=grid, s=(four_port if wide else two_port)(rng, f), name=f"M{i}")
        networks.append(network)
        name = f"M{i}_{count}_{points}_{couplers}"
        network.write_touchstone(str(folder / name))
        stage = ("room", "plate", "base")[i * 3 // count]
        ways = ", enter: '1', leave: '2'" if wide else ""
        main.append(f"{{id: M{i}, kind: measured, stage: {stage}, "
                    f"data: {name}.s{4 if wide else 2}p{ways}}}")
        if wide:
            for port in (3, 4):
                side += (f"  side{i}_{port}:\n    - {{join: M{i}.{port}}}\n"
                         f"    - {{id: T{i}_{port}, kind: termination, stage: {stage}}}\n")
    main.append("{id: R, kind: port, stage: room}")
    return Case(load(main, side, points, folder)), networks


KINDS = (
    "kind: cable, from: room, to: plate, length: 0.{a} m, coax: cupronickel-2.19",
    "kind: attenuator, stage: plate, loss: {b} dB",
    "kind: cable, from: plate, to: base, length: 0.{a} m, coax: niobium-titanium-0.86",
    "kind: attenuator, stage: base, loss: {b} dB",
    "kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 1{a} dB",
    "kind: coupler, stage: base, coupling: 20 dB, insertion_loss: 0.2 dB, directivity: 2{a} dB, "
    "loads: [coupled, isolated]",
    "kind: circulator, stage: base, insertion_loss: 0.3 dB, isolation: 1{a} dB, loads: ['3']",
    "kind: cable, from: base, to: plate, length: 0.{a} m, coax: niobium-titanium-0.86",
    "kind: amplifier, stage: plate, gain: 16 dB, noise_temperature: 2.2 K, reverse_isolation: 40 dB",
    "kind: cable, from: plate, to: room, length: 0.{a} m, coax: cupronickel-2.19",
)


def of_kinds(count, points, folder, kinds=KINDS):
    """Return (Case, scikit-rf networks) of a chain of declared kinds, taken in turns."""
    main = ["{id: S, kind: port, stage: room}"]
    for i in range(count):
        values = kinds[i % len(kinds)].format(a=3 + i % 6, b=1 + i % 5)
        main.append(f"{{id: E{i}, {values}}}")
    main.append("{id: R, kind: port, stage: room}")
    case = Case(load(main, "", points, folder))
    return case, [Other(frequency=case.grid, s=s, z0=50) for s, _ in case.matrices()]


def load(main, side, points, folder):
    """Return the Layout of elements in a line, and of side lines."""
    path = folder / f"{len(main)}_{points}_{main[1][5]}_{bool(side)}.yaml"
    path.write_text(
        f"{STAGES}\nband: {{start: 4 GHz, stop: 8 GHz, points: {points}}}\nlines:\n  main:\n"
        + "".join(f"    - {item}\n" for item in main) + side
        + "signals: {main: {from: S, to: R}}\n"
    )
    return chain.load(str(path))


def noisy(case, networks):
    """Return copies of networks with their noise as scikit-rf keeps it, in chain form."""
    found = []
    per_k = H * case.f / K
    for network, (s, c) in zip(networks, case.matrices(), strict=True):
        copy = network.copy()
        gain = np.abs(s[:, 1, 0]) ** 2
        minimum = 1 + c[:, 1, 1].real * per_k / gain / 290.0
        copy.set_noise_a(copy.frequency, nfmin_db=10 * np.log10(minimum), gamma_opt=0, rn=5)
        found.append(copy)
    return found


def dense(case):
    """Return a function that solves the same by one batched dense solve of all waves."""
    network, points = case.network, len(case.f)
    size = len(network.index)
    matrix = np.zeros((points, size, size), complex)
    matrix[:] = np.eye(size)
    for (row, column), entry in network.entries.items():
        matrix[:, column, row] -= np.broadcast_to(entry, (1, points))[0]
    right = np.zeros((points, size, 1), complex)
    right[:, network.index[case.end]] = 1.0

    def run():
        x = np.linalg.solve(matrix, right)[..., 0]
        transfers = {wave: x[:, number] for wave, number in network.index.items()}
        return {block.id: arrived(block, transfers).whole for block in network.blocks}

    return run


def reader(case):
    """Return a function that reads every number of S and C once."""
    parts = [m.view(float).ravel() for pair in case.matrices() for m in pair]
    packed = np.concatenate(parts)
    return packed.max


def circuit(case, networks, reduce):
    """Return a function that joins everything by scikit-rf's Circuit, or None where it is large."""
    ports = sum(network.nports for network in networks) * 2
    if not reduce and ports**2 / 4 * len(case.f) * 16 > CIRCUIT_MOST_BYTES:
        return None
    start = Circuit.Port(case.grid, "S", z0=50)
    stop = Circuit.Port(case.grid, "R", z0=50)
    joints, before = [], (start, 0)
    for network in networks:
        joints.append([before, (network, 0)])
        before = (network, 1)
        for port in range(2, network.nports):
            match = Other(frequency=case.grid, s=np.zeros((len(case.f), 1, 1)), z0=50,
                          name=f"{network.name} {port}")
            joints.append([(network, port), (match, 0)])
    joints.append([before, (stop, 0)])
    return lambda: Circuit(joints, auto_reduce=reduce).network.s


def in_turns(methods, rounds, seconds):
    """Return the median time in milliseconds of each method (None: left out), run in turns."""
    times = {name: [] for name, run in methods.items() if run}
    spent = 0.0
    for turn in range(rounds):
        for name, run in methods.items():
            if not run or (turn >= 3 and np.median(times[name]) > seconds / rounds):
                continue
            if isinstance(run, tuple):
                run[0]()
                run = run[1]
            gc.disable()
            begin = time.process_time()
            run()
            times[name].append(time.process_time() - begin)
            gc.enable()
            spent += times[name][-1]
    return {name: 1e3 * float(np.median(taken)) for name, taken in times.items()}


def methods_of(case, networks, *, couplers):
    """Return {name: what is run, perhaps after a preparation that is not timed}."""
    ours = {
        "build": (case.forget, case.build),
        "build again": (case.build, case.build),
        "solve": case.solve,
        "both": (case.forget, case.both),
        "budget()": (case.forget, lambda: case.layout.budget("main")),
        "budget() again": case.layout.budget,
    }
    if couplers:
        return ours | {
            "Circuit": circuit(case, networks, False), "Circuit reduced": circuit(
                case, networks, True),
            "dense": dense(case),
        }
    with_noise = noisy(case, networks)
    return ours | {
        "cascade_list": lambda: cascade_list(networks),
        "noise cascade": lambda: cascade_list(with_noise),
        "dense": dense(case), "read S and C": reader(case),
    }


def agree(case, networks):
    """Stop where our gain and scikit-rf's differ: times of wrong answers mean nothing."""
    gain, _ = case.solve()
    theirs = np.abs(cascade_list(networks).s[:, 1, 0]) ** 2
    if not np.allclose(gain, theirs, rtol=1e-9):
        sys.exit("our gain and scikit-rf's differ: nothing is timed")


def show(title, rows, over, markdown):
    """Print one table of times, and one of what others take over what ours take."""
    names = list(dict.fromkeys(name for _, row in rows for name in row))
    table(f"{title}: milliseconds", ["N x F", *names],
          [[size, *(_number(row.get(name)) for name in names)] for size, row in rows], markdown)
    pairs = [(theirs, mine) for theirs in over for mine in ("solve", "both", "budget()")]
    table(f"{title}: times ours (above one, ours is faster)",
          ["N x F", *(f"{theirs} / {mine}" for theirs, mine in pairs)],
          [[size, *(_number(row[theirs] / row[mine] if theirs in row else None)
                    for theirs, mine in pairs)] for size, row in rows], markdown)


def _number(value):
    return "-" if value is None else f"{value:.3g}"


def table(title, heads, rows, markdown):
    """Print a table as text or as markdown."""
    print(f"\n{title}")
    if markdown:
        print("| " + " | ".join(heads) + " |\n|" + " ---: |" * len(heads))
        for row in rows:
            print("| " + " | ".join(row) + " |")
        return
    widths = [max(len(cell) for cell in column) for column in zip(heads, *rows, strict=True)]
    for row in [heads, *rows]:
        print("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)))


def main():
    """Time everything and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="40 elements at 1001 points alone")
    parser.add_argument("--markdown", action="store_true", help="tables as markdown")
    words = parser.parse_args()
    sizes = [(40, 1001)] if words.quick else [(n, f) for n in SIZES for f in POINTS]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        tables = {"measured": [], "kinds": [], "with couplers": []}
        for count, points in sizes:
            makers = {
                "measured": lambda n=count, f=points: measured(n, f, folder),
                "kinds": lambda n=count, f=points: of_kinds(n, f, folder),
                "with couplers": lambda n=count, f=points: measured(n, f, folder, couplers=True),
            }
            for title, make in makers.items():
                case, networks = make()
                couplers = title == "with couplers"
                if not couplers:
                    agree(case, networks)
                taken = in_turns(methods_of(case, networks, couplers=couplers), 9, 4.0)
                tables[title].append((f"{count} x {points}", taken))
                print(f"timed {title}, {count} x {points}", file=sys.stderr)
    show("measured", tables["measured"], ("cascade_list", "noise cascade", "dense"),
         words.markdown)
    show("kinds", tables["kinds"], ("cascade_list",), words.markdown)
    show("with couplers", tables["with couplers"], ("Circuit", "Circuit reduced", "dense"),
         words.markdown)
    if not words.quick:
        heads, rows = many_lines.cells(many_lines.rows(many_lines.SIZES))
        table("budgets of many lines at 201 points", heads, rows, words.markdown)


if __name__ == "__main__":
    main()
