"""Small files that ask for much: refused in words before work starts, in little time and memory."""

import pytest

LINE = """\
band: {{start: 4 GHz, stop: 8 GHz, points: {points}}}
stages: {{room: {{temperature: 295 K}}, base: {{temperature: 20 mK}}}}
lines:
  one:
    copies: {copies}
    elements:
      - {{id: S, kind: port, stage: room}}
{pads}      - {{id: R, kind: port, stage: room}}
{tones}signals: {{main: {{from: S, to: R}}}}
"""


def text(*, points=11, copies=1, pads=3, unlike=False, tones=""):
    rows = "".join(
        f"      - {{id: A{n}, kind: attenuator, stage: base, loss: {n % 100 + 1} dB +/- 0.1 dB, "
        "return_loss: 20 dB}\n" for n in range(pads)
    )
    made = LINE.format(points=points, copies=copies, pads=rows, tones=tones)
    if unlike:
        rows = "".join(f"      {n}: {{A0: {{loss: {n / 1000 + 1} dB}}}}\n" for n in range(1, copies))
        made = made.replace("    elements:", f"    except:\n{rows}    elements:")
    return made


@pytest.mark.parametrize(("words", "made"), [
    (["budget"], {"points": 200_000, "pads": 60}),
    (["budget", "--draws", "100000"], {"points": 20_001}),
    (["warm", "--draws", "100000"], {"points": 20_001}),
    (["power"], {"pads": 1200, "tones":
                 "tones: {t: {into: S, frequency: 5 GHz, count: 10000, spacing: 1 kHz, power: 1 pW}}\n"}),
])
def test_too_much_is_refused_in_words(words, made, run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(text(**made))
    status, out, err = run(words[0], path, *words[1:])
    assert (status, out) == (2, "")
    assert "are too much for one answer; lower band.points to " in err or "lower" in err
    assert err.startswith(f"{path}:")


def test_what_the_message_says_will_do(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(text(points=200_000, pads=60))
    most = int(run("budget", path)[2].split("band.points to ")[1].split()[0].rstrip(",;").replace(",", ""))
    assert 100 < most < 200_000


@pytest.mark.parametrize("draws", [32_769, 40_000])
def test_any_number_of_draws_has_an_answer(draws, run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(text(points=2, pads=1).replace(
        "      - {id: R,",
        "      - {id: W, kind: cable, from: room, to: base, length: 0.5 m +/- 1 cm, coax: cupronickel-0.86}\n"
        "      - {id: R,"))
    status, _, err = run("budget", path, "--draws", draws, "--json")
    assert (status, err) == (0, "")


def test_a_list_of_very_many_ports_is_refused_at_once(run, tmp_path):
    path = tmp_path / "l.yaml"
    names = ", ".join(f"p{n}" for n in range(100_000))
    path.write_text(text().replace("return_loss: 20 dB}", f"loads: [{names}]}}", 1))
    status, _, err = run("check", path)
    assert status == 2
    assert "more than 1000 ports" in err


def test_phases_of_hundreds_of_reflections_are_refused_in_words(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(text(pads=180))
    for words in (["budget"], ["compare", "--each"], ["warm"]):
        status, out, err = run(words[0], path, *words[1:])
        assert (status, out) == (2, ""), words
        assert "360 reflections and leaks whose phase nobody knows; at most 300" in err
