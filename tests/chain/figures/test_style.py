"""What all figures have in common: one way of writing units, no words across a frame, none cut."""

import re

import pytest

import chain
from chain.errors import LayoutError
from chain.figures.along_path import along_path_figure
from chain.figures.budget import budget_figure, distinct
from chain.figures.comparison import comparison_figure
from chain.figures.heat import heat_figure
from chain.figures.heat_by_line import heat_by_line_figure
from chain.figures.photons import photons_figure
from chain.figures.power import power_figure
from chain.figures.warm import warm_figure
from chain.measurement.warm import warmed
from chain.measurement.warm_sheet import sheet
from chain.noise.arrivals import arrivals
from chain.noise.budget import budgets

PICTURES = {
    "shares": lambda layout: budget_figure(_budgets(layout)),
    "bars": lambda layout: budget_figure(_budgets(layout), layout.band.frequency_hz[0]),
    "path": lambda layout: along_path_figure(next(iter(_budgets(layout).values()))),
    "photons": lambda layout: photons_figure(arrivals(layout)),
    "power": lambda layout: power_figure(layout.power()),
    "heat": lambda layout: heat_figure(layout.heat()),
    "lines": lambda layout: heat_by_line_figure(layout.heat()),
    "comparison": lambda layout: comparison_figure(_compared(layout)),
    "warm": lambda layout: warm_figure(sheet(warmed(layout), ["D1.in"], draws=20)),
}
UNIT = re.compile(r"[^()]+ ?\n?\((?:GHz|quanta|photons|dB|dBm|K|W|%)\)")


def _budgets(layout):
    return distinct(budgets(layout, frequency_hz=layout.band.frequency_hz[::50]))


def _compared(layout):
    return layout.compare(layout, next(iter(layout.signals)))


@pytest.fixture(scope="module", params=[
    "haloscope", pytest.param("qubit_row", marks=pytest.mark.long),
])
def layout(request):
    return chain.load(request.config.rootpath / f"demo_chains/{request.param}.yaml")


@pytest.mark.parametrize("name", PICTURES)
def test_units_stand_in_brackets_and_no_words_run_across_a_frame_or_are_cut(layout, name):
    figure = PICTURES[name](layout)
    labels = [ax.get_xlabel() for ax in figure.axes] + [ax.get_ylabel() for ax in figure.axes]
    assert any(labels) or name == "lines"  # a table, with a unit in every cell
    for label in filter(None, labels):
        assert UNIT.fullmatch(label), label
    figure.canvas.draw()
    paper = figure.bbox
    for ax in figure.axes:
        frame = ax.get_window_extent()
        for text in filter(lambda text: text.get_text(), ax.texts):
            box = text.get_window_extent()
            inside = (frame.x0 <= box.x0 and box.x1 <= frame.x1
                      and frame.y0 <= box.y0 and box.y1 <= frame.y1)
            assert inside or not frame.overlaps(box), text.get_text()
            assert paper.x0 <= box.x0, text.get_text()
            assert box.x1 <= paper.x1, text.get_text()


@pytest.mark.parametrize("name", [
    "shares", "path", "photons", "power", "heat", "lines", "comparison",
])
def test_a_long_title_is_in_lines_and_not_cut(request, name, tmp_path):
    text = (request.config.rootpath / "demo_chains/haloscope.yaml").read_text()
    path = tmp_path / "long.yaml"
    path.write_text(text.replace("title: Haloscope receiver", f"title: {'A long name of it ' * 9}"))
    figure = PICTURES[name](chain.load(str(path)))
    figure.canvas.draw()
    assert any("\n" in ax.get_title(loc="left") for ax in figure.axes)
    width, height = figure.get_size_inches()
    drawn = figure.get_tightbbox()
    assert drawn.x1 < width + 0.01  # a hundredth of an inch, less than the edge of a letter
    assert drawn.y1 < height + 0.01


def test_where_an_analyser_sees_nothing_there_is_no_picture_of_it(request):
    layout = chain.load(request.config.rootpath / "demo_chains/qubit_row.yaml")
    with pytest.raises(LayoutError, match="nothing to draw; open a joint in between: --open PORT"):
        warm_figure(sheet(warmed(layout), draws=20))
