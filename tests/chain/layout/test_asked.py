"""Mistakes in what is asked from Python: a LayoutError that says what would be right."""

from pathlib import Path

import pytest

import chain

DEMO = Path(__file__).parents[3] / "demo_chains" / "haloscope.yaml"
LAYOUT = chain.load(DEMO, ["band.points=3"])


@pytest.mark.parametrize(("ask", "says"), [
    (lambda: chain.load(None), "is no file name; give the path of a layout file"),
    (lambda: chain.load("nothing.yaml"), "there is no such file"),
    (lambda: chain.load(DEMO, [3]), "'3' is no text; write each as KEY=VALUE"),
    (lambda: LAYOUT.changed(None), "'None' is no text; write each as KEY=VALUE"),
    (lambda: LAYOUT.budget(), "these signals: receive and drive; name one"),
    (lambda: LAYOUT.budget("recieve"), "did you mean 'receive'?"),
    (lambda: LAYOUT.budget("receive", frequency_hz=["a"]), "are no numbers; give frequencies in Hz"),
    (lambda: LAYOUT.budget("receive", frequency_hz=[]), "shape (0,) is no row of frequencies"),
    (lambda: LAYOUT.budget("receive", frequency_hz=[[5e9]]), "shape (1, 1) is no row"),
    (lambda: LAYOUT.budget("receive", frequency_hz=[5.0, float("nan")]), "nan Hz is no frequency"),
    (lambda: LAYOUT.budget("receive", frequency_hz=-5e9), "-5e+09 Hz is no frequency"),
    (lambda: LAYOUT.network("receive", frequency_hz=[0.0]), "0 Hz is no frequency"),
    (lambda: LAYOUT.spread("receive", draws=2.5), "2.5 is no whole number"),
    (lambda: LAYOUT.spread("receive", draws=0), "0 draws are outside"),
    (lambda: LAYOUT.draw(["recieve"]), "there is no line 'recieve'; did you mean 'receive'?"),
    (lambda: LAYOUT.service(between=("mixing", "plat")), "did you mean 'plate'?"),
    (lambda: LAYOUT.service(between=("mixing",)), "name two stages"),
    (lambda: LAYOUT.service(), "nothing is named; "),
    (lambda: LAYOUT.check({"photon": 1}), "there is no margin 'photon'; did you mean 'photons'?"),
    (lambda: LAYOUT.check({"photons": "many"}), "photons"),
    (lambda: LAYOUT.warm_sheet("D1.inn", draws=10), "D1"),
    (lambda: LAYOUT.warm_sheet(draws=1.5), "1.5 is no whole number"),
    (lambda: LAYOUT.compare(None, "receive"), "is no layout"),
    (lambda: LAYOUT.against_trace("nothing.s2p"), "nothing.s2p"),
    (lambda: LAYOUT.heat().more("nothing"), "nothing"),
    (lambda: LAYOUT.reduce("receive", source="S9", readings="nothing.csv"), "nothing.csv"),
    (lambda: chain.compare_results("nothing.json", "nothing.json"), "nothing.json"),
])
def test_a_mistake_is_a_layout_error_that_says_what_would_be_right(ask, says):
    with pytest.raises(chain.LayoutError) as caught:
        ask()
    assert says in str(caught.value)


def test_one_change_may_stand_alone():
    assert LAYOUT.changed("H1.state=dead").changes[-1] == "H1.state=dead"
    assert chain.load(DEMO, "H1.state=dead").changes == ("H1.state=dead",)


def test_a_margin_is_taken_as_text_too():
    strict = LAYOUT.check({"photons": "0.0001"})
    assert strict.margins["photons"].value == 0.0001
