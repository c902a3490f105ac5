"""A signal's way handed out: against scikit-rf's cascade of the same elements, and as a file."""

import numpy as np
import pytest

import chain
from chain.errors import LayoutError
from chain.network.assembly import Choices, scattering_network

EXACT = 1e-10
"""Absolute on S: both sides solve the same equations in double precision."""

TEXT = """\
title: a line
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  main:
    - {id: S, kind: port, stage: room, return_loss: 9 dB}
    - {id: D, kind: device, stage: base, return_loss: 12 dB}
    - {id: A, kind: attenuator, stage: base, loss: 3 dB, return_loss: 14 dB}
    - {id: C, kind: circulator, stage: base, isolation: 15 dB, insertion_loss: 0.4 dB, loads: ['3']}
    - {id: W, kind: cable, from: base, to: room, loss: 2 dB, length: 0.3 m, return_loss: 16 dB}
    - {id: H, kind: amplifier, stage: room, gain: 20 dB, noise_temperature: 80 K,
       reverse_isolation: 25 dB, return_loss: 10 dB}
    - {id: R, kind: port, stage: room, return_loss: 11 dB}
signals: {main: {from: D.out, to: R}, whole: {from: S, to: R}, end: {to: R}}
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    return chain.load(path)


def _cascade(layout, ids):
    from skrf import Frequency
    from skrf import Network as Other
    from skrf.network import cascade_list

    f = layout.band.frequency_hz
    network = scattering_network(layout, "R", f, Choices(phases=False))
    grid = Frequency.from_f(f, unit="Hz")
    parts = [
        Other(frequency=grid, s=network.block(key).nport.dense(len(f))[0][0], z0=50) for key in ids
    ]
    return cascade_list(parts).s


@pytest.mark.parametrize(("signal", "ids"), [("main", "ACWH"), ("whole", "DACWH")])
def test_it_is_the_cascade_of_what_lies_between(layout, signal, ids):
    network = layout.network(signal)
    assert network.s == pytest.approx(_cascade(layout, ids), abs=EXACT)
    assert network.name == signal
    assert network.f == pytest.approx(layout.band.frequency_hz)
    assert np.all(network.z0 == 50)


def test_gain_is_that_of_the_budget_between_matched_ends(request):
    # With cables at the temperature of their anchors: a two-port knows no tones.
    layout = chain.load(
        request.config.rootpath / "demo_chains/haloscope.yaml", ["self_heating=off"]
    )
    s21 = layout.network("receive").s[:, 1, 0]
    gain_db = layout.budget("receive").gain_db
    assert 20 * np.log10(np.abs(s21)) == pytest.approx(gain_db, abs=1e-9)


def test_the_file_reads_back_as_the_network(layout, run, tmp_path):
    from skrf.network import Network as Other

    target = tmp_path / "way.s2p"
    status, _, err = run("budget", layout.path, "--signal", "main", "--touchstone", target)
    assert (status, err) == (0, "")
    read = Other(str(target))
    assert read.s == pytest.approx(layout.network("main").s, abs=1e-14)
    assert read.f == pytest.approx(layout.band.frequency_hz, rel=1e-15)
    assert "reflections of unknown phase are taken as real and positive" in target.read_text()


def test_a_file_written_can_be_a_part_of_a_layout(layout, tmp_path):
    from chain.network.two_port import write_touchstone

    write_touchstone(layout, tmp_path / "way.s2p", "main")
    other = tmp_path / "o.yaml"
    other.write_text(
        "band: {start: 4 GHz, stop: 8 GHz, points: 5}\nstages: {room: {temperature: 295 K}}\n"
        "lines:\n  main:\n    - {id: S, kind: port, stage: room}\n"
        "    - {id: M, kind: measured, stage: room, data: way.s2p, noise_temperature: 300 K}\n"
        "    - {id: R, kind: port, stage: room}\nsignals: {main: {from: S, to: R}}\n"
    )
    assert chain.load(other).network("main").s == pytest.approx(layout.network("main").s, abs=EXACT)


def test_a_signal_without_a_start_has_no_way(layout):
    with pytest.raises(LayoutError, match=r"signal end has no start.*add `from:`"):
        layout.network("end")


def test_another_ending_and_several_signals_are_refused(layout, run, tmp_path):
    status, _, err = run("budget", layout.path, "--touchstone", tmp_path / "way.s3p")
    assert status == 2
    assert "no name of a Touchstone file of two ports; let it end in .s2p" in err
    status, _, err = run("budget", layout.path, "--touchstone", tmp_path / "way.s2p")
    assert status == 2
    assert "there are 3 signals to write; name one: --signal NAME" in err
    assert not list(tmp_path.glob("way*"))


def test_a_folder_that_is_not_there_leaves_nothing(layout, run, tmp_path):
    target = tmp_path / "none" / "way.s2p"
    status, _, err = run("budget", layout.path, "--signal", "main", "--touchstone", target)
    assert status == 3
    assert "name a file that can be written" in err
