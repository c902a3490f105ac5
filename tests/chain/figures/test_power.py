"""Figures of tones and comparisons: written whole, the same bytes twice, refused in words."""

import pytest

TEXT = """\
title: a line <b>
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK, cooling: {10 mK: 1 uW, 50 mK: 90 uW}}}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: H, kind: amplifier, stage: base, gain: 20 dB, noise_temperature: 4 K, p1db_out: -20 dBm}
    - {id: R, kind: port, stage: room}
tones: {t: {into: S, frequency: 5 GHz, power: -40 dBm}}
signals: {main: {from: S, to: R}}
"""


@pytest.mark.parametrize("ending", [
    "svg", pytest.param("png", marks=pytest.mark.long), pytest.param("pdf", marks=pytest.mark.long)
])
@pytest.mark.parametrize("words", [["power"], ["compare", "--set", "H.gain=10 dB"]])
def test_the_same_figure_twice_is_the_same_bytes(run, tmp_path, ending, words):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    first, second = tmp_path / f"1.{ending}", tmp_path / f"2.{ending}"
    for target in (first, second):
        status, _, err = run(words[0], path, *words[1:], "--figure", target)
        assert (status, err) == (0, "")
    assert first.read_bytes() == second.read_bytes()
    assert len(first.read_bytes()) > 5000


@pytest.mark.parametrize("words", [["power"], ["compare", "--set", "H.gain=10 dB"]])
def test_another_ending_is_refused(run, tmp_path, words):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    status, _, err = run(words[0], path, *words[1:], "--figure", tmp_path / "x.bmp")
    assert status == 2
    assert "let it end in .svg, .png or .pdf" in err
    assert not (tmp_path / "x.bmp").exists()


def test_without_tones_there_is_nothing_to_draw_and_no_file(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT.replace("tones: {t: {into: S, frequency: 5 GHz, power: -40 dBm}}\n", ""))
    status, _, err = run("power", path, "--figure", tmp_path / "x.svg")
    assert status == 2
    assert "the layout has no tones to draw; add tones" in err
    assert not (tmp_path / "x.svg").exists()
