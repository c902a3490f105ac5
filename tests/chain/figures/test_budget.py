"""The figure of a budget: every share there, nothing cut, told apart in grey, the same bytes."""

import itertools

import numpy as np
import pytest

import chain
from chain.figures import style
from chain.figures.along_path import along_path_figure
from chain.figures.budget import budget_figure, distinct
from chain.figures.photons import photons_figure
from chain.figures.shares import quantum_limit
from chain.noise.along_path import path_noise
from chain.noise.arrivals import arrivals
from chain.noise.budget import budgets

DEMOS = ["demo_chains/haloscope.yaml", "demo_chains/qubit_row.yaml"]


@pytest.fixture(scope="module", params=DEMOS)
def found(request):
    layout = chain.load(request.config.rootpath / request.param)
    return distinct(budgets(layout, frequency_hz=np.linspace(5e9, 7e9, 21)))


@pytest.fixture(params=[None, 6e9], ids=["over frequency", "bars"])
def figure(request, found):
    return budget_figure(found, request.param)


def test_no_label_is_cut(figure):
    figure.canvas.draw()
    drawn = figure.get_tightbbox()
    width, height = figure.get_size_inches()
    # A hundredth of an inch is less than the edge of a letter.
    assert min(drawn.x0, drawn.y0) > -0.01
    assert drawn.x1 < width + 0.01
    assert drawn.y1 < height + 0.01
    assert drawn.width > 0.9 * width


def test_every_axis_names_its_unit(found):
    for ax in budget_figure(found).axes:
        assert any(unit in ax.get_ylabel() for unit in ("quanta", "dB", "photons"))
    assert budget_figure(found).axes[-1].get_xlabel() == "frequency (GHz)"
    for ax in budget_figure(found, 6e9).axes[1::2]:
        assert "(quanta)" in ax.get_xlabel()


def test_the_stack_ends_at_the_whole_noise(found):
    figure = budget_figure(found)
    stacks = [ax for ax in figure.axes if ax.get_legend() and len(ax.collections) > 2]
    assert len(stacks) == len(found)
    for ax, b in zip(stacks, found.values(), strict=True):
        top = max(c.get_paths()[0].vertices[:, 1].max() for c in ax.collections)
        amplified = np.any(b.gain_db > 0)
        whole = b.system_noise_quanta if amplified else b.noise_at_to_quanta
        # Drawn numbers are the budget's own, only summed in another order.
        assert top == pytest.approx(whole.max(), rel=1e-12)
        assert len(ax.collections) <= style.MAX_FILLS + 1


def test_bars_by_stage_add_up_as_those_by_element_do(found):
    axes = budget_figure(found, 6e9).axes
    for elements, stages in zip(axes[::2], axes[1::2], strict=True):
        one, other = (sum(bar.get_width() for bar in ax.patches) for ax in (elements, stages))
        assert one == pytest.approx(other, rel=1e-12)
        assert len(elements.patches) <= style.MAX_FILLS + 1


@pytest.mark.parametrize(("gain_db", "limit"), [(0.0, 0.5), (100.0, 1.0), (10.0, 0.95), (-10.0, 5.0)])
def test_the_quantum_limit_of_a_gain(gain_db, limit):
    # Caves 1982: 1/2 arrives, at least |1 - 1/G| / 2 is added.
    assert quantum_limit(np.array([gain_db]))[0] == pytest.approx(limit, rel=1e-9)


def _lightness(colour):
    """CIE 1976 L* of a colour."""
    from matplotlib.colors import to_rgb

    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in to_rgb(colour)]
    luminance = sum(w * v for w, v in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    return 116 * luminance ** (1 / 3) - 16 if luminance > 0.008856 else 903.3 * luminance


def test_neighbours_in_a_stack_differ_in_grey():
    fills = [style.fill(place) for place in range(style.MAX_FILLS)] + [style.rest_fill()]
    for one, other in itertools.pairwise(fills):
        step = abs(_lightness(one["facecolor"]) - _lightness(other["facecolor"]))
        # A step of 10 in L* is seen at once; with different hatches less will do.
        assert step > (20 if one["hatch"] == other["hatch"] else 10), (one, other)
    assert len({(f["facecolor"], f["hatch"]) for f in fills}) == len(fills)


@pytest.mark.long
@pytest.mark.parametrize("ending", [".svg", ".png", ".pdf"])
def test_the_same_figure_is_the_same_bytes(found, ending):
    one, other = (style.as_bytes(budget_figure(found), ending) for _ in range(2))
    assert one == other
    assert one[:5] in (b"<?xml", b"\x89PNG\r", b"%PDF-")


def test_the_verb_draws(run, tmp_path, demo):
    target = tmp_path / "shares.svg"
    status, out, err = run("budget", demo, "--figure", target)
    assert (status, err) == (0, "")
    assert target.read_bytes().startswith(b"<?xml")
    assert "conventions:" in out or "one signal in full" in out


def test_another_ending_is_refused_before_anything_is_solved(run, tmp_path, demo):
    target = tmp_path / "shares.gif"
    status, out, err = run("budget", demo, "--figure", target)
    assert (status, out) == (2, "")
    assert "does not say what to write the figure as; let it end in .svg, .png or .pdf" in err
    assert not target.exists()


def test_more_signals_than_can_be_read_are_refused(run, tmp_path):
    rows = "".join(
        f"  l{i}:\n    - {{id: S{i}, kind: port, stage: room}}\n"
        f"    - {{id: A{i}, kind: attenuator, stage: room, loss: {i + 1} dB}}\n"
        f"    - {{id: R{i}, kind: port, stage: room}}\n" for i in range(5)
    )
    signals = ", ".join(f"s{i}: {{from: S{i}, to: R{i}}}" for i in range(5))
    path = tmp_path / "l.yaml"
    path.write_text(
        "band: {start: 4 GHz, stop: 8 GHz, points: 3}\nstages: {room: {temperature: 295 K}}\n"
        f"lines:\n{rows}signals: {{{signals}}}\n"
    )
    status, _, err = run("budget", path, "--figure", tmp_path / "x.svg")
    assert status == 2
    assert "there are 5 signals to draw; name one: --signal NAME" in err


@pytest.fixture
def demo(request):
    return request.config.rootpath / DEMOS[0]


# -- other views --------------------------------------------------------------------------------


@pytest.mark.parametrize(("words", "said"), [
    (["--view", "path"], "there are 2 signals to draw; name one: --signal NAME"),
    (["--view", "heat"], "there is no view 'heat'; give one of shares, path, photons"),
])
def test_a_view_that_cannot_be_drawn_is_refused_and_nothing_written(run, tmp_path, demo, words, said):
    target = tmp_path / "x.svg"
    status, out, err = run("budget", demo, "--figure", target, *words)
    assert (status, out) == (2, "")
    assert said in err
    assert not target.exists()


def test_a_view_without_a_file_is_refused(run, demo):
    status, _, err = run("budget", demo, "--view", "path")
    assert status == 2
    assert "name its file: --figure FILE" in err


VIEWS = [["--view", "path", "--signal", "receive"], ["--view", "photons", "--at", "6 GHz"]]


@pytest.mark.parametrize("words", VIEWS)
def test_a_view_is_drawn(run, tmp_path, demo, words):
    status, _, err = run("budget", demo, "--figure", tmp_path / "1.pdf", *words)
    assert (status, err) == (0, "")
    assert (tmp_path / "1.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.long
@pytest.mark.parametrize("words", VIEWS)
def test_a_view_is_drawn_the_same_every_time(run, tmp_path, demo, words):
    first, second = tmp_path / "1.svg", tmp_path / "2.svg"
    for target in (first, second):
        assert run("budget", demo, "--figure", target, *words)[0] == 0
    assert first.read_bytes() == second.read_bytes()


def test_the_path_shows_every_place_of_it_and_ends_at_the_system_noise(found):
    b = next(b for b in found.values() if np.any(b.gain_db > 0))
    figure = along_path_figure(b, 6e9)
    gain, noise = figure.axes[:2]
    index = int(np.argmin(np.abs(b.frequency_hz - 6e9)))
    path = path_noise(b, index)
    names = [label.get_text().split()[0] for label in noise.get_xticklabels()]
    assert names == [s.name.split()[0] for s in path.stations]
    sums = next(line for line in noise.get_lines() if line.get_label().startswith("sum so far"))
    assert sums.get_ydata()[-1] == pytest.approx(b.system_noise_k[index], rel=1e-9)
    assert gain.get_lines()[0].get_ydata()[-1] == pytest.approx(b.gain_db[index], abs=1e-9)
    assert noise.get_ylim()[1] > b.system_noise_k[index]


def test_photons_are_drawn_by_emitter_and_add_up(request):
    found = arrivals(chain.load(request.config.rootpath / DEMOS[0]))
    figure = photons_figure(found)
    for one, ax in zip(found, figure.axes, strict=True):
        ends = [bar.get_x() + bar.get_width() for bar in ax.patches]
        assert ends[0] == pytest.approx(one.total_photons[0], rel=1e-9)
        assert sum(ends[1:]) == pytest.approx(ends[0], rel=1e-3)  # the least are not drawn
        assert ends[1:] == sorted(ends[1:], reverse=True)


LOOP = """
title: A loop that oscillates
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {plate: {temperature: 4 K}}
lines:
  one:
    - {id: S1, kind: port, stage: plate}
    - {id: A0, kind: attenuator, stage: plate, loss: 0.5 dB, return_loss: 12 dB}
    - {id: H1, kind: amplifier, stage: plate, gain: 40 dB, noise_temperature: 2 K,
       reverse_isolation: 5 dB}
    - {id: A1, kind: attenuator, stage: plate, loss: 1 dB, return_loss: 12 dB}
    - {id: R1, kind: port, stage: plate}
signals: {one: {from: S1, to: R1}}
"""


@pytest.mark.parametrize("words", [["budget"], ["budget", "--at", "6 GHz"],
                                   ["budget", "--view", "path"],
                                   ["compare", "--set", "H1.gain=41 dB"]])
def test_where_nothing_is_known_there_is_no_empty_figure(run, tmp_path, words):
    path, target = tmp_path / "l.yaml", tmp_path / "x.svg"
    path.write_text(LOOP)
    status, out, err = run(words[0], path, *words[1:], "--figure", target)
    assert (status, out) == (2, "")
    assert "so there is nothing to draw; H1 may oscillate" in err
    assert not target.exists()
