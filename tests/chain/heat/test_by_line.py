"""Heat line by line: it adds up to that of the stages, copies are one row, unknown stays unknown."""

import math

import pytest

import chain
from chain.figures.heat import heat_figure
from chain.figures.heat_by_line import heat_by_line_figure
from chain.heat.by_line import ALL, DARK, OTHER, heat_by_line

LINES = """
title: heat
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages:
  room:  {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3 K: 1 W, 5 K: 2 W}, other: {radiation: 20 mW}}
  base:  {temperature: 20 mK}
lines:
  drive:
    copies: 4
    elements:
      - {id: S, kind: port, stage: room}
      - {id: W, kind: cable, from: room, to: plate, length: 0.5 m, coax: cupronickel-0.86}
      - {id: V, kind: cable, from: plate, to: base, length: 0.5 m, coax: cupronickel-0.86}
      - {id: T, kind: termination, stage: base}
  read:
    - {id: Y, kind: port, stage: room}
    - {id: X, kind: cable, from: room, to: plate, loss: 3 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K, bias: 9 mW}
    - {id: Z, kind: termination, stage: plate}
"""


@pytest.mark.parametrize("demo", ["haloscope", "qubit_row", "paramp_line"])
def test_rows_add_up_to_the_heat_of_the_stages(request, demo):
    heat = chain.load(request.config.rootpath / f"demo_chains/{demo}.yaml").heat()
    found = heat_by_line(heat)
    assert found.stages == tuple(heat.stages)[1:]
    for stage in found.stages:
        parts = [by_stage[stage] for row, by_stage in found.rows.items() if row != ALL]
        assert math.fsum(parts) == pytest.approx(heat.stages[stage].total_w, rel=1e-9)
        assert found.rows[ALL][stage] == heat.stages[stage].total_w
        part = heat.stages[stage].total_w / heat.stages[stage].cooling_w
        assert found.part(ALL, stage) == pytest.approx(part)


def test_copies_are_one_row_and_what_is_not_known_is_not_nothing(write_layout):
    heat = write_layout(LINES).heat()
    found = heat_by_line(heat)
    assert list(found.rows) == ["drive × 4", "read", OTHER, ALL]
    one = heat.elements["W-1"]["plate"].total_w + heat.elements["V-1"]["plate"].total_w
    assert found.rows["drive × 4"]["plate"] == pytest.approx(4 * one, rel=1e-9)
    assert found.rows["read"]["plate"] is None
    assert found.words("read", "plate") == ("unknown",)
    assert found.rows["read"]["base"] == 0.0
    assert found.words("read", "base") == ("-",)
    assert found.rows[ALL]["plate"] is None
    # 20 mW of 1.5 W: linear in T above 1 K, halfway between the two points.
    assert found.part(OTHER, "plate") == pytest.approx(0.02 / 1.5)
    assert found.words(OTHER, "plate") == ("20 mW", "1.3 %")
    assert found.part("drive × 4", "base") is None  # no cooling table


def test_the_darker_the_more_and_no_words_are_lost_in_the_dark(write_layout):
    found = heat_by_line(write_layout(LINES).heat())
    assert found.shade(OTHER, "plate") == pytest.approx(1 + math.log10(0.02 / 1.5) / 5)
    assert found.shade("read", "plate") == 0.0
    figure = heat_by_line_figure(write_layout(LINES).heat())
    ax = figure.axes[0]
    image = ax.get_images()[0]
    for text in ax.texts:
        x, y = (round(v) for v in text.get_position())
        shade = image.get_array()[y, x]
        ground = _luminance(image.cmap(image.norm(shade))[:3])
        ink = _luminance(text.get_color())
        light, dark = max(ground, ink), min(ground, ink)
        # Web Content Accessibility Guidelines 2.1, 1.4.11: at least 3 to 1.
        assert (light + 0.05) / (dark + 0.05) > 3, (text.get_text(), shade)


@pytest.mark.parametrize("shade", [0.0, 0.5, DARK - 0.01, DARK + 0.01, 1.0])
def test_words_stand_out_from_every_shade(shade):
    from matplotlib.colors import LinearSegmentedColormap

    from chain.figures import style

    colours = LinearSegmentedColormap.from_list("", ["#ffffff", style.RANGE, "#14304d"])
    ground = _luminance(colours(shade)[:3])
    ink = _luminance("#ffffff" if shade > DARK else style.INK)
    assert (max(ground, ink) + 0.05) / (min(ground, ink) + 0.05) > 3


def _luminance(colour):
    """Relative luminance of a colour in sRGB (IEC 61966-2-1)."""
    from matplotlib.colors import to_rgb

    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in to_rgb(colour)]
    return sum(w * v for w, v in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_of_many_lines_those_that_matter_most_are_shown(write_layout):
    found = heat_by_line(write_layout(LINES).heat())
    rows, more = found.largest(2)
    assert rows == ["drive × 4", OTHER, ALL]
    assert more == 1


def test_the_verb_draws_the_map_and_refuses_other_views(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(LINES)
    status, _, err = run("heat", path, "--figure", tmp_path / "x.png", "--view", "lines")
    assert (status, err) == (0, "")
    assert (tmp_path / "x.png").read_bytes().startswith(b"\x89PNG")
    status, _, err = run("heat", path, "--figure", tmp_path / "y.png", "--view", "path")
    assert status == 2
    assert "there is no view 'path'; give one of stages, lines" in err
    assert not (tmp_path / "y.png").exists()


def test_where_no_stage_has_heat_or_cooling_there_is_nothing_to_draw(write_layout):
    layout = write_layout(
        "band: {start: 4 GHz, stop: 8 GHz, points: 3}\nstages: {room: {temperature: 295 K}}\n"
        "lines: {l: [{id: A, kind: port, stage: room}, {id: B, kind: port, stage: room}]}\n"
    )
    with pytest.raises(chain.LayoutError, match="no stage has any heat or cooling power to draw"):
        heat_figure(layout.heat())
