"""chain kinds: everything that is declared is told, and every example line loads and solves."""

import json

import numpy as np
import pytest

import components.kinds  # noqa: F401  (registers every kind)
from components.declaration import KINDS

LAYOUT = """\
band: {{start: 5 GHz, stop: 6 GHz, points: 3}}
stages:
  room: {{temperature: 295 K}}
  shield: {{temperature: 46 K}}
  plate: {{temperature: 3.8 K}}
  mixing: {{temperature: 15 mK}}
lines:
  main:
{items}{more}
tones: {{pump: {{into: {into}, frequency: 11.6 GHz, power: -30 dBm}}}}
"""

FILTER = "# GHz S MA R 50\n" + "".join(
    f"{f} 0.1 0 0.9 -{10 * f} 0.9 -{10 * f} 0.1 0\n" for f in (4, 6, 8)
)


def tiny_layout(kind):
    """Return a layout whose only element of interest is a kind's example line."""
    start = "{id: Start, kind: port, stage: room}"
    end = "{id: End, kind: termination, stage: room}"
    if not kind.port_names:
        items, more = [start, end], f"\n  wires:\n    - {kind.example}"
    elif kind.outside:
        items, more = [kind.example, end], "\n  other:\n    - " + start + \
            "\n    - {id: Stop, kind: termination, stage: room}"
    else:
        items, more = [start, kind.example], ""
        if kind.route[1] is not None:
            items.append(end)
    rows = "\n".join(f"    - {item}" for item in items)
    return LAYOUT.format(items=rows, more=more, into="Start")


@pytest.fixture(params=sorted(KINDS))
def kind(request):
    return KINDS[request.param]


def test_the_example_line_loads_and_solves(kind, run, tmp_path):
    (tmp_path / "filter.s2p").write_text(FILTER)
    path = tmp_path / "l.yaml"
    signal = "" if not kind.port_names or kind.outside else "signals: {all: {to: Start}}\n"
    path.write_text(tiny_layout(kind) + signal)
    if not signal:
        status, _, err = run("power", path)
        assert (status, err) == (0, "")
        return
    status, out, err = run("budget", path, "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    # A matched port with cold and warm parts on its line gets at least the vacuum.
    assert np.all(np.array(found["noise_at_to_quanta"]) > 0.5 - 1e-9)
    assert found["laws"]["commutation"] < 1e-9


def test_the_page_tells_everything_that_is_declared(kind, run):
    status, out, err = run("kinds", kind.name)
    assert (status, err) == (0, "")
    flat = " ".join(out.split())
    for part in (kind.summary, kind.noise, kind.example, *kind.port_names, *kind.states):
        assert " ".join(part.split()) in flat
    for name, parameter in kind.declared().items():
        assert f"\n  {name} " in out
        assert parameter.meaning in flat
        assert parameter.source in flat
        if parameter.default is not None:
            assert f"default {parameter.default}" in flat


def test_the_list_has_every_kind(run):
    status, out, _ = run("kinds")
    assert status == 0
    rows = {line.split()[0] for line in out.splitlines()[2:-2]}
    assert rows == set(KINDS)


def test_json_has_unit_range_default_and_source(run):
    status, out, _ = run("kinds", "amplifier", "--json")
    assert status == 0
    found = json.loads(out)["kinds"]["amplifier"]
    assert found["ports"] == ["in", "out"]
    loss = found["parameters"]["unpowered_loss"]
    assert loss == {
        "own": True, "meaning": "loss in both directions without bias; 15 to 40 dB where not given", "unit": "dB; table",
        "range": "0 dB to 300 dB", "form": "20 dB", "example": "20 dB", "required": False, "default": "25 dB",
        "source": "common practice, no source",
    }
    assert found["parameters"]["tag"]["own"] is False
    status, out, _ = run("kinds", "--json")
    assert set(json.loads(out)["kinds"]) == set(KINDS)


def test_an_unknown_kind_is_refused_with_the_nearest(run):
    status, out, err = run("kinds", "attenuater")
    assert (status, out) == (2, "")
    assert "there is no kind 'attenuater'; did you mean 'attenuator'?" in err
