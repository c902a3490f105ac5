"""Nothing is remembered between calls that a changed value should change.

Every kind of value of a layout is changed once, in a process in which everything has been asked
before; what it then answers has to be what a process answers that has never asked anything.
"""

import json
import subprocess
import sys

import numpy as np
import pytest

import chain

LAYOUT = """\
stages:
  room: {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 2 W}}
  mixing: {temperature: 20 mK, cooling: {10 mK: 2 uW, 100 mK: 450 uW}}
band: {start: 4.5 GHz, stop: 6.5 GHz, points: 3}
coax:
  ours: {centre: {material: stainless-304, diameter: 0.2 mm},
         dielectric: {material: ptfe, diameter: 0.66 mm},
         outer: {material: stainless-304, diameter: 0.86 mm}, loss: {1 GHz: 3 dB/m, 10 GHz: 10 dB/m}}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W, kind: cable, from: room, to: plate, length: 0.6 m, coax: ours}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB, return_loss: 25 dB}
    - {id: V, kind: cable, from: plate, to: mixing, length: 0.5 m, coax: cupronickel-0.86}
    - {id: F, kind: measured, stage: mixing, data: filter.s2p}
    - {id: K, kind: switch, stage: mixing, position: '1', loads: ['2'], isolation: 30 dB}
    - {id: I, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 18 dB}
    - {id: C, kind: coupler, stage: mixing, coupling: 20 dB, reversed: true, loads: [isolated]}
    - {id: X, kind: paramp, stage: mixing, gain: 14 dB, mixing: three-wave, pump: pump}
    - {id: E, kind: attenuator, stage: mixing, loss: {4 GHz: 0.5 dB, 14 GHz: 0.9 dB},
       hot_power: 10 nW, hot_temperature: 100 mK}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K, bias: 9 mW,
       reverse_isolation: 30 dB}
    - {id: R, kind: port, stage: room, adds: 30 K}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: L, kind: attenuator, stage: plate, loss: 10 dB}
    - {join: C.coupled}
tones: {pump: {into: P, frequency: 13.1 GHz, power: 1 uW}}
signals: {main: {from: S, to: R}}
"""

CHANGES = [
    "A.loss=12 dB", "A.return_loss=15 dB", "A.temperature=9 K", "A.state=open", "A.extra_loss=1 dB",
    "A.return_loss=", "W.length=0.9 m", "V.coax=niobium-titanium-0.86", "V.velocity_factor=0.6",
    "V.from=room", "coax.ours.outer.material=brass", "coax.ours.dielectric.diameter=0.7 mm",
    "F.state=bypassed", "F.data=OTHER", "I.isolation=12 dB", "I.phase={isolation: 30 deg}",
    "I.reversed=true", "K.unselected=matched", "C.coupling=16 dB", "X.gain=10 dB",
    "X.state=off", "X.mixing=four-wave", "X.excess_noise=0.3", "X.insertion_loss=1 dB",
    "E.loss={4 GHz: 2 dB, 14 GHz: 3 dB}", "E.hot_temperature=300 mK", "H.noise_temperature=5 K",
    "H.state=dead", "H.bias=20 mW", "H.p1db_out=-20 dBm", "R.adds=300 K", "L.loss=14 dB",
    "L.loss=40 dB", "S.emits=-150 dBm/Hz", "stages.mixing.temperature=50 mK",
    "stages.plate.cooling={3 K: 0.2 W, 5 K: 1 W}", "tones.pump.power=3 uW",
    "tones.pump.frequency=13.3 GHz", "band.start=4.6 GHz",
    "band.points=4",
]

ASK = """\
def answer(layout):
    found = {}
    for name in ("budget", "power", "heat"):
        try:
            found[name] = getattr(layout, name)().as_dict()
        except chain.LayoutError as error:
            found[name] = str(error)
    return json.loads(json.dumps(found, default=lambda values: values.tolist()))
"""

FRESH = """\
import json, os, sys
import chain
{ask}
for change in {changes!r}:
    into, out = os.pipe()
    if os.fork() == 0:  # a process that has asked nothing before
        try:
            said = answer(chain.load({path!r}, [change] if change else []))
        except chain.LayoutError as error:
            said = str(error)
        with os.fdopen(out, "w") as file:
            json.dump(said, file)
        os._exit(0)
    os.close(out)
    with os.fdopen(into) as file:
        print(file.read(), flush=True)
    os.wait()
"""

exec(ASK)


def _close(mine, fresh, place=""):
    """Compare what two processes say, numbers to the rounding of their sums."""
    assert type(mine) is type(fresh), place
    if isinstance(mine, dict):
        assert mine.keys() == fresh.keys(), place
        for key, value in mine.items():
            if key != "laws":  # residuals are rounding
                _close(value, fresh[key], f"{place}.{key}")
    elif isinstance(mine, list):
        assert len(mine) == len(fresh), place
        for number, value in enumerate(mine):
            _close(value, fresh[number], f"{place}[{number}]")
    elif isinstance(mine, float):
        assert np.isclose(mine, fresh, rtol=1e-9, atol=1e-15, equal_nan=True), place
    else:
        assert mine == fresh, place


@pytest.mark.long
def test_every_kind_of_value_changed_once(tmp_path):
    points = "\n".join(f"{ghz} 0.1 20 0.8 -{40 * ghz} 0.8 -{40 * ghz} 0.1 99" for ghz in range(2, 15))
    (tmp_path / "filter.s2p").write_text(f"# GHz S MA R 50\n{points}\n")
    (tmp_path / "other.s2p").write_text(f"# GHz S MA R 50\n{points.replace(' 0.8', ' 0.6')}\n")
    path = tmp_path / "layout.yaml"
    path.write_text(LAYOUT)
    changes = [change.replace("OTHER", str(tmp_path / "other.s2p")) for change in CHANGES]
    code = FRESH.format(ask=ASK, changes=["", *changes], path=str(path))
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    as_it_is, *fresh = map(json.loads, run.stdout.splitlines())
    layout = chain.load(str(path))
    _close(answer(layout), as_it_is)  # noqa: F821 - defined by ASK
    same = []
    for change, expected in zip(changes, fresh, strict=True):
        try:
            mine = answer(layout.changed(change))  # noqa: F821
        except chain.LayoutError as error:
            mine = str(error)
        _close(mine, expected, change)
        if expected == as_it_is or isinstance(expected, str):
            same.append(change)
    assert same == []
    _close(answer(layout), as_it_is)  # noqa: F821


@pytest.mark.long
def test_a_file_that_was_written_anew_is_read_anew(tmp_path):
    text = "# GHz S MA R 50\n2 0 0 0.8 0 0.8 0 0 0\n14 0 0 0.8 0 0.8 0 0 0\n"
    (tmp_path / "filter.s2p").write_text(text)
    path = tmp_path / "layout.yaml"
    path.write_text(LAYOUT)
    before = chain.load(str(path)).budget().gain_db
    (tmp_path / "filter.s2p").write_text(text.replace("0.8", "0.40"))
    assert chain.load(str(path)).budget().gain_db == pytest.approx(before - 6.0206, abs=0.1)
