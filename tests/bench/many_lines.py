"""How time and memory of a budget grow with the lines of a generated layout, at 201 points.

Run from the top of the project: python tests/bench/many_lines.py [lines ...]
Each number of lines is measured in a process of its own: seconds, and the highest memory of the
whole process in megabytes.  "apart": every line has elements and a signal of its own, no two alike,
and all budgets are asked.  "joined": the same lines hang on one row of couplers, one network, and
one signal is asked.
"""

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = (125, 250, 500, 1000)

STAGES = (
    "band: {start: 4 GHz, stop: 8 GHz, points: 201}\n"
    "stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}\n"
)

LINE = """\
  line{n}:
    - {first}
    - {{id: A{n}, kind: attenuator, stage: plate, loss: {loss} dB}}
    - {{id: W{n}, kind: cable, from: plate, to: base, length: {length} m, coax: cupronickel-0.86}}
    - {{id: B{n}, kind: attenuator, stage: base, loss: 20 dB}}
    - {{id: D{n}, kind: device, stage: base, loss: 1 dB}}
    - {{id: I{n}, kind: isolator, stage: base, isolation: 20 dB}}
    - {{id: H{n}, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}}
    - {{id: R{n}, kind: port, stage: room}}
"""


def layout_text(lines, joined):
    """Return the text of a layout of so many lines, apart or joined to one row of couplers."""
    numbers = range(lines)
    rows = [
        LINE.format(
            n=n, loss=round(10 + 0.007 * n, 4), length=round(0.3 + 0.0005 * n, 5),
            first=f"{{join: C{n}.coupled}}" if joined else f"{{id: S{n}, kind: port, stage: room}}",
        )
        for n in numbers
    ]
    if not joined:
        signals = "".join(f"  line{n}: {{from: S{n}, to: R{n}}}\n" for n in numbers)
        return f"{STAGES}lines:\n{''.join(rows)}signals:\n{signals}"
    couplers = "".join(
        f"    - {{id: C{n}, kind: coupler, stage: plate, coupling: 30 dB, loads: [isolated]}}\n"
        for n in numbers
    )
    main = (f"  main:\n    - {{id: S, kind: port, stage: room}}\n{couplers}"
            "    - {id: Z, kind: termination, stage: plate}\n")
    return f"{STAGES}lines:\n{main}{''.join(rows)}signals: {{one: {{from: S, to: R0}}}}\n"


def measure(lines, joined):
    """Return seconds to load and to budget, and megabytes, of this process."""
    import chain
    from chain.noise.budget import budgets

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lines.yaml"
        path.write_text(layout_text(lines, joined))
        begin = time.perf_counter()
        layout = chain.load(path)
        loaded = time.perf_counter()
        found = budgets(layout)
        done = time.perf_counter()
    if len(found) != (1 if joined else lines):
        sys.exit("not every budget was made: nothing is told")
    return {"load": loaded - begin, "budget": done - loaded, "megabytes": peak_megabytes()}


def peak_megabytes():
    """Return the highest memory of this process; the kernel's own count, where it tells it.

    What the operating system reports of resources would include the parent's, before the start.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def rows(sizes):
    """Return [(what, lines, measured)], each measured in a process of its own."""
    found = []
    for joined in (False, True):
        for lines in sizes:
            words = [sys.executable, __file__, "--one", str(lines), str(int(joined))]
            out = subprocess.run(words, capture_output=True, text=True, check=True).stdout
            found.append(("joined" if joined else "apart", lines, json.loads(out)))
    return found


def cells(measured):
    """Return a heading and rows of text of what `rows` gives."""
    heads = ["lines", "", "load s", "budget s", "ms a line", "memory MB"]
    return heads, [
        [str(lines), what, f"{one['load']:.2f}", f"{one['budget']:.2f}",
         f"{1e3 * (one['load'] + one['budget']) / lines:.2f}", f"{one['megabytes']:.0f}"]
        for what, lines, one in measured
    ]


def main():
    """Measure and print."""
    if sys.argv[1:2] == ["--one"]:
        print(json.dumps(measure(int(sys.argv[2]), sys.argv[3] == "1")))
        return
    heads, table = cells(rows([int(word) for word in sys.argv[1:]] or SIZES))
    for row in [heads, *table]:
        print("  ".join(cell.rjust(9) for cell in row))


if __name__ == "__main__":
    main()
