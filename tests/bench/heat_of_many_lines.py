"""How long many equal lines take to load, to heat and to budget, and how much memory.

Run from the top of the project: python tests/bench/heat_of_many_lines.py [lines ...]
Each number of lines is measured in a process of its own: time in seconds, the highest memory of
the whole process in megabytes.  Every line has eight elements; in the second table each has a tone
too, in the third each has a tone and a pad of its own, so that no two lines are equal and every one
is solved by itself.
"""

import itertools
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = (1, 125, 250, 500, 1000)

LAYOUT = """
band: {start: 4 GHz, stop: 8 GHz, points: 201}
stages:
  room:   {temperature: 295 K}
  shield: {temperature: 46 K,   cooling: {30 K: 0 W, 60 K: 90 W}}
  plate:  {temperature: 3.8 K,  cooling: {2.5 K: 0 W, 4.5 K: 4 W}}
  still:  {temperature: 0.9 K,  cooling: {0.5 K: 0 W, 1.3 K: 60 mW}}
  middle: {temperature: 110 mK, cooling: {50 mK: 0 W, 200 mK: 1.2 mW}}
  mixing: {temperature: 15 mK,  cooling: {5 mK: 0 W, 100 mK: 900 uW}}
lines:
  drive:
    copies: COPIES
    elements:
      - {id: S, kind: port, stage: room}
      - {id: W, kind: cable, from: room, to: plate, length: 0.5 m, via: {shield: 0.2 m}, coax: stainless-304-2.19}
      - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: V, kind: cable, from: plate, to: middle, length: 0.4 m, via: {still: 0.2 m}, coax: cupronickel-0.86}
      - {id: B, kind: attenuator, stage: middle, loss: 20 dB}
      - {id: U, kind: cable, from: middle, to: mixing, length: 0.2 m, coax: cupronickel-0.86}
      - {id: C, kind: attenuator, stage: mixing, loss: 20 dB}
      - {id: D, kind: device, stage: mixing, reflects: true}
signals:
  drive: {from: S, to: D}
"""
TONES = "tones: {tone: {into: S, frequency: 6 GHz, power: -20 dBm}}\n"


def measure(path):
    """Print what one layout takes, as JSON."""
    marks = [time.perf_counter()]

    def mark():
        marks.append(time.perf_counter())

    import chain

    mark()
    layout = chain.load(path)
    mark()
    heat = layout.heat()
    mark()
    from chain.noise.budget import budgets

    found = budgets(layout)
    mark()
    steps = [after - before for before, after in itertools.pairwise(marks)]
    print(json.dumps({
        "signals": len(found), "import": steps[0], "load": steps[1], "heat": steps[2],
        "budget": steps[3],
        "mixing_k": heat.stages["mixing"].settled_k,
        "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }))


def layout_text(size, tones, unequal):
    """Return the layout of so many lines."""
    text = LAYOUT.replace("COPIES", str(size)) + (TONES if tones else "")
    if unequal:
        own = "".join(
            f"      {n}: {{A: {{loss: {20 + 1e-3 * n:.3f} dB}}}}\n" for n in range(1, size + 1)
        )
        text = text.replace("    elements:\n", f"    except:\n{own}    elements:\n")
    return text


def table(sizes, *, tones=False, unequal=False):
    """Print one row a number of lines."""
    kind = "equal lines" if not unequal else "unequal lines"
    print(f"{kind}, {'a tone each' if tones else 'no tones'}, 201 points, 8 elements a line")
    print(f"{'lines':>6} {'load s':>8} {'heat s':>8} {'budget s':>9} {'all s':>8} "
          f"{'ms a line':>10} {'memory MB':>10} {'mixing mK':>10}")
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "lines.yaml"
            path.write_text(layout_text(size, tones, unequal))
            done = subprocess.run(
                [sys.executable, __file__, "--measure", str(path)],
                check=True, capture_output=True, text=True,
            )
        row = json.loads(done.stdout)
        whole = row["load"] + row["heat"] + row["budget"]
        settled = "-" if row["mixing_k"] is None else f"{1e3 * row['mixing_k']:.2f}"
        print(f"{size:6d} {row['load']:8.3f} {row['heat']:8.3f} {row['budget']:9.3f} "
              f"{whole:8.3f} {1e3 * whole / size:10.2f} {row['memory_mb']:10.0f} {settled:>10}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        measure(sys.argv[2])
    else:
        wanted = tuple(int(word) for word in sys.argv[1:]) or SIZES
        table(wanted)
        print()
        table(wanted, tones=True)
        print()
        table(wanted, tones=True, unequal=True)
