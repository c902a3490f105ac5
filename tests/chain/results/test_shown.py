"""Every result in Python and in notebooks: short, as HTML, as rows, CSV, a figure and JSON."""

import csv
import inspect
import io
import json
import typing
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

import chain
from chain.results import advice, design, diagnosis, heat, measurement, noise, power, service
from chain.results.shown import Shown
from chain.writing.json_text import as_json

DEMOS = Path(__file__).parents[3] / "demo_chains"
FILES = {
    "readings": str(DEMOS / "paramp_off.csv"), "on": str(DEMOS / "paramp_on.csv"),
    "gain_change": str(DEMOS / "paramp_gain_change.csv"),
}
LONGEST = 8000
"""Letters of a short table of the demos; a whole result has up to a million."""


@cache
def _demo(name, points=11):
    return chain.load(DEMOS / f"{name}.yaml", [f"band.points={points}"])


def _grid(folder):
    shorter = folder / "grid.csv"
    shorter.write_text("\n".join((DEMOS / "paramp_grid.csv").read_text().split("\n")[:2 + 3 * 7]))
    return chain.load(DEMOS / "paramp_line.yaml").pump_grid(
        source="L1", readings=FILES["readings"], grid=shorter)


def _two(tmp_path):
    path = tmp_path / "this.json"
    path.write_text(as_json(
        chain.load(DEMOS / "paramp_line.yaml").reduce(source="L1", **FILES).as_dict()
    ))
    return chain.compare_results(path, path)


RESULTS = {
    noise.Budget: lambda tmp: _demo("haloscope").budget("receive"),
    noise.Spread: lambda tmp: _demo("paramp_line").spread(draws=10),
    power.Power: lambda tmp: _demo("haloscope").power(),
    heat.Heat: lambda tmp: _demo("haloscope").heat(),
    heat.MoreLines: lambda tmp: _demo("haloscope").heat().more("receive"),
    advice.Advice: lambda tmp: _demo("haloscope").changed("I1.reversed=true").check(),
    design.Comparison: lambda tmp: _demo("haloscope").compare(
        _demo("haloscope").changed("H1.state=dead"), "receive"),
    design.Failures: lambda tmp: _demo("haloscope").failures("receive"),
    service.Service: lambda tmp: _demo("haloscope").service(remove=["H1"]),
    measurement.Reduction: lambda tmp: chain.load(DEMOS / "paramp_line.yaml").reduce(
        source="L1", **FILES),
    diagnosis.Diagnosis: lambda tmp: _demo("haloscope").diagnose(
        "receive", measured=str(DEMOS / "haloscope_on.csv")),
    measurement.TwoResults: _two,
    measurement.WarmSheet: lambda tmp: _demo("haloscope").warm_sheet("D1.in", draws=10),
    measurement.MeasuredTrace: lambda tmp: chain.load(DEMOS / "qubit_row.yaml").against_trace(
        DEMOS / "warm_trace.s2p", "S1:R1", warm=True),
    measurement.Plan: lambda tmp: _demo("paramp_line").plan(
        source="L1", error_quanta=0.2),
    measurement.PumpGrid: _grid,
}
MADE = {}


@pytest.fixture(params=RESULTS, ids=lambda one: one.__name__)
def result(request, tmp_path):
    if request.param not in MADE:
        MADE[request.param] = RESULTS[request.param](tmp_path)
    found = MADE[request.param]
    assert type(found) is request.param
    return found


def test_a_result_shows_itself_as_a_short_table(result):
    shown = repr(result)
    assert 60 < len(shown) < LONGEST
    head, empty, *table = shown.split("\n")
    assert head
    assert not empty
    assert any(set(line) <= set("- ") for line in table), "no table"
    assert "warning: " in shown or not getattr(result, "warnings", ())


def test_a_result_shows_itself_in_a_notebook(result):
    page = result._repr_html_()
    assert page.count("<table>") == page.count("</table>") == 1
    assert page.count("<tr>") > 1
    assert len(page) < 2 * LONGEST


def test_rows_are_what_the_csv_file_has(result, tmp_path):
    assert len(result.rows)
    path = tmp_path / "result.csv"
    result.to_csv(path)
    written = list(csv.DictReader(io.StringIO(path.read_text())))
    assert written
    assert None not in written[0], "more cells than headings"
    if not isinstance(result, noise.Budget):  # its rows are elements, its file runs over frequency
        own = {name: value for name, value in result.rows[0].items() if isinstance(value, float)}
        for name in own.keys() & written[0].keys():
            assert np.isnan(own[name]) or float(written[0][name]) == own[name]


def test_as_dict_is_plain_json(result):
    found = result.as_dict()
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert {"format", "warnings", "laws"} <= found.keys()


def test_a_result_draws_itself(result):
    figure = result.figure()
    assert isinstance(figure, Figure)
    assert figure.axes
    figure.draw_without_rendering()


def test_a_figure_has_the_views_of_the_command_line():
    layout = _demo("haloscope")
    for found, view in ((layout.budget("receive"), "path"), (layout.heat(), "lines")):
        assert found.figure(view=view)._repr_png_() != found.figure()._repr_png_()
        with pytest.raises(chain.LayoutError, match=f"did you mean '{view}'"):
            found.figure(view=view[:-1])


def test_what_others_wrote_stays_text_in_a_notebook(write_layout):
    layout = write_layout(
        "title: <script>alert(1)</script>\nstages: {room: {temperature: 295 K}}\n"
        "band: {start: 4 GHz, stop: 8 GHz, points: 3}\n"
        "lines: {main: [{id: S, kind: port, stage: room}, {id: R, kind: port, stage: room}]}\n"
    )
    page = layout.heat()._repr_html_()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_a_layout_shows_itself_in_a_line():
    assert repr(_demo("haloscope")) == (
        "<Layout 'Haloscope receiver (invented)': 4 lines, 25 elements, 2 signals, 1 tone>"
    )


def test_every_answer_of_a_layout_is_shown():
    """Whoever adds a method to the Layout that answers lets its result show itself."""
    known = {one.__name__: one for one in RESULTS}
    plain = {"Layout", "None", "str", "Network", "dict[str, Budget]"}
    for name, method in inspect.getmembers(chain.Layout, inspect.isfunction):
        if not name.startswith("_") and method.__module__ == "chain.api":
            answer = inspect.signature(method).return_annotation
            assert answer in known or answer in plain, f"{name} returns {answer}"
    assert all(issubclass(one, Shown) for one in known.values())


def test_the_class_of_a_result_is_the_rooms_own():
    for one in RESULTS:
        shown, own = one.__mro__[1:3]
        assert shown is Shown
        assert own.__module__.split(".")[1] != "results"
        assert typing.get_type_hints(one.figure, localns={"Figure": Figure})["return"] is Figure
