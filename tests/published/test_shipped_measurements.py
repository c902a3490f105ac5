"""Layouts of the Touchstone files that scikit-rf ships (its folder skrf/data).

A filter (ring slot, 75 to 110 GHz) and a line, computed or measured in waveguide; a measured one
of the same ring slot seen from one side; a tee, lines and a short of 330 to 500 GHz; radiating
opens measured from 500 to 750 GHz; two-ports of 1 to 10 GHz.  Held: the files themselves.
Scattering is held against scikit-rf's own joining of the same files, noise against the Planck
spectrum where all is at one temperature and against power balances made of scikit-rf's cascades
where it is not.
"""

import os

import numpy as np
import pytest

H, K = 6.62607015e-34, 1.380649e-23
EXACT = 1e-9
"""Both sides do the same sums in double precision; standing waves cost digits."""


def planck(frequency_hz, kelvin):
    """1/2 coth(hf/2kT)."""
    return 0.5 / np.tanh(H * frequency_hz / (2 * K * kelvin))


@pytest.fixture(scope="module")
def file():
    """Return a function from a shipped file's name to its path."""
    import skrf

    folder = os.path.join(os.path.dirname(skrf.__file__), "data")
    return lambda name: os.path.join(folder, name)


@pytest.fixture(scope="module")
def theirs(file):
    """Return a function from a shipped file's name to scikit-rf's Network, lossless port 50 ohm."""
    from skrf.network import Network

    def read(name):
        network = Network(file(name))
        assert np.allclose(network.z0, 50)
        return network

    return read


@pytest.fixture
def row(write_layout, file):
    """Return a function that loads a line of files between two connectors, over all their points."""
    from skrf.network import Network

    def make(names, kelvins, *, end="port", stages=""):
        f = Network(file(names[0])).f
        items = ["{id: S, kind: port, stage: room}"]
        for number, (name, kelvin) in enumerate(zip(names, kelvins, strict=True)):
            items.append(
                f'{{id: M{number}, kind: measured, temperature: {kelvin} K, data: "{file(name)}"}}'
            )
        if end:
            items.append(f"{{id: R, kind: {end}, stage: room}}")
        return write_layout(
            f"band: {{start: {float(f[0])!r} Hz, stop: {float(f[-1])!r} Hz, points: {f.size}}}\n"
            f"stages: {{room: {{temperature: 300 K}}{stages}}}\nlines:\n  main:\n"
            + "".join(f"    - {item}\n" for item in items)
            + f"signals: {{main: {{from: S, to: {'R' if end else 'S'}}}}}\n",
            allow=[os.path.dirname(file("line.s2p"))],
        )

    return make


ROWS = [
    ["line.s2p", "ring slot.s2p", "line.s2p"],
    ["ring slot.s2p", "line.s2p", "ring slot.s2p", "ring slot.s2p"],
    ["wr2p2,line.s2p", "wr2p2,line.s2p"],
    ["ind.s2p", "open.s2p", "ind.s2p"],
    ["ntwk1.s2p"],
]


@pytest.mark.parametrize("names", ROWS, ids=[" ".join(names) for names in ROWS])
def test_scattering_is_scikit_rfs_cascade(names, row, theirs):
    from skrf.network import cascade_list

    layout = row(names, [4.0] * len(names))
    whole = cascade_list([theirs(name) for name in names])
    assert whole.f == pytest.approx(layout.band.frequency_hz, rel=1e-14)
    # Rounded digits make a lossless part's file gain up to 1e-9, which is scaled back here.
    assert layout.network("main").s == pytest.approx(whole.s, abs=5 * EXACT)


@pytest.mark.parametrize("names", ROWS, ids=[" ".join(names) for names in ROWS])
def test_equal_temperatures_give_the_planck_spectrum(names, row):
    layout = row(names, [300.0] * len(names))
    budget = layout.budget("main")
    assert budget.noise_at_to_quanta == pytest.approx(planck(budget.frequency_hz, 300.0), rel=EXACT)
    assert budget.laws.equilibrium < EXACT
    assert budget.laws.commutation < EXACT


@pytest.mark.parametrize("names", ROWS[:2], ids=[" ".join(names) for names in ROWS[:2]])
def test_each_part_gives_what_it_absorbs(names, row, theirs):
    """A reciprocal row: what an element gives the end is what it absorbs of a wave sent in there."""
    from skrf.network import cascade_list

    kelvins = [77.0, 20.0, 4.0, 0.1][: len(names)]
    budget = row(names, kelvins).budget("main")
    parts, f = [theirs(name) for name in names], budget.frequency_hz
    gain = 10 ** (budget.gain_db / 10)
    inward = [1 - np.abs(cascade_list(parts).s[:, 1, 1]) ** 2]
    for cut in range(len(parts) - 1, 0, -1):
        left, right = cascade_list(parts[:cut]).s, cascade_list(parts[cut:]).s
        sent = right[:, 0, 1] / (1 - left[:, 1, 1] * right[:, 0, 0])
        inward.append(np.abs(sent) ** 2 * (1 - np.abs(left[:, 1, 1]) ** 2))
    inward.append(np.abs(cascade_list(parts).s[:, 0, 1]) ** 2)
    for number, kelvin in enumerate(kelvins):
        from_end = len(parts) - 1 - number
        absorbed = inward[from_end] - inward[from_end + 1]
        given = budget.shares_quanta[f"M{number}"] * gain
        assert given == pytest.approx(absorbed * planck(f, kelvin), rel=1e-7, abs=EXACT)


@pytest.mark.parametrize(("names", "kelvins"), [
    (["line.s2p", "ring slot measured.s1p"], [300.0, 4.0]),
    (["wr1p5,line.s2p", "ro,1.s1p"], [300.0, 77.0]),
    (["wr1p5,line.s2p", "wr1p5,short.s1p"], [300.0, 77.0]),
])
def test_a_device_seen_through_a_line(names, kelvins, write_layout, file, theirs):
    line, device = theirs(names[0]), theirs(names[1])
    f = device.f
    layout = write_layout(
        f"band: {{start: {float(f[0])!r} Hz, stop: {float(f[-1])!r} Hz, points: {f.size}}}\n"
        "stages: {room: {temperature: 300 K}}\nlines:\n  main:\n"
        "    - {id: S, kind: port, stage: room}\n"
        f'    - {{id: L, kind: measured, temperature: {kelvins[0]} K, data: "{file(names[0])}"}}\n'
        f'    - {{id: D, kind: measured, temperature: {kelvins[1]} K, data: "{file(names[1])}"}}\n'
        "signals: {back: {from: S, to: S}}\n",
        allow=[os.path.dirname(file("line.s2p"))],
    )
    budget = layout.budget("back")
    # The line has the device's points, or those and one more between each two.
    step = (line.f.size - 1) // (f.size - 1)
    assert line.f[::step] == pytest.approx(f, rel=1e-9)
    s, reflected = line.s[::step], device.s[:, 0, 0]
    bounce = 1 / (1 - s[:, 1, 1] * reflected)
    seen = s[:, 0, 0] + s[:, 0, 1] * reflected * bounce * s[:, 1, 0]
    assert 10 ** (budget.gain_db / 10) == pytest.approx(np.abs(seen) ** 2, rel=1e-6)
    given = np.abs(s[:, 0, 1] * bounce) ** 2 * (1 - np.abs(reflected) ** 2)
    share = budget.shares_quanta["D"] * 10 ** (budget.gain_db / 10)
    assert share == pytest.approx(given * planck(f, kelvins[1]), rel=1e-6, abs=1e-6)


def test_a_tee_with_a_short_on_its_arm(write_layout, file, theirs):
    from skrf.network import connect

    tee, line, short = (theirs(n) for n in ("tee.s3p", "wr2p2,line.s2p", "wr2p2,short.s1p"))
    f = tee.f
    layout = write_layout(
        f"band: {{start: {float(f[0])!r} Hz, stop: {float(f[-1])!r} Hz, points: {f.size}}}\n"
        "stages: {room: {temperature: 300 K}}\nlines:\n  main:\n"
        "    - {id: S, kind: port, stage: room}\n"
        f'    - {{id: T, kind: measured, stage: room, data: "{file("tee.s3p")}"}}\n'
        f'    - {{id: L, kind: measured, stage: room, data: "{file("wr2p2,line.s2p")}"}}\n'
        "    - {id: R, kind: port, stage: room}\n  arm:\n    - {join: T.3}\n"
        f'    - {{id: B, kind: measured, stage: room, data: "{file("wr2p2,short.s1p")}"}}\n'
        "signals: {main: {from: S, to: R}}\n",
        allow=[os.path.dirname(file("line.s2p"))],
    )
    whole = connect(connect(tee, 2, short, 0), 1, line, 0)
    assert layout.network("main").s == pytest.approx(whole.s, abs=EXACT)
    budget = layout.budget("main")
    assert budget.noise_at_to_quanta == pytest.approx(planck(f, 300.0), rel=EXACT)
    assert budget.laws.equilibrium < EXACT
