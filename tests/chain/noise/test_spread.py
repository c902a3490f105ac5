"""Tolerances: against closed forms, against layouts changed by hand, and what is refused."""

import json

import numpy as np
import pytest

from chain import LayoutError
from chain.network.draws import Draws
from chain.noise.spread import spread
from components.constants import H, K
from components.thermal_noise import quanta

DRAWS = 2000
# Standard deviations over N draws are uncertain by 1/sqrt(2 N) of themselves, 1.6 %: four times it.
SD = 0.065

LINE = """
band: {{start: 5 GHz, stop: 6 GHz, points: 3}}
stages: {{room: {{temperature: 295 K}}, base: {{temperature: 20 mK}}}}
lines:
  line:
    - {{id: S, kind: port, stage: room}}
    {0}
    - {{id: D, kind: device, stage: base}}
    {1}
    - {{id: H, kind: amplifier, stage: room, gain: 30 dB, noise_temperature: 50 K}}
    - {{id: R, kind: port, stage: room}}
signals: {{down: {{from: S, to: D.in}}, up: {{from: D.out, to: R}}}}
"""


@pytest.fixture
def line(write_layout):
    """Return a function that loads a line with elements before and behind its device."""

    def load(*before, behind=(), changes=()):
        join = "\n    ".join
        return write_layout(
            LINE.format(join(f"- {{{e}}}" for e in before), join(f"- {{{e}}}" for e in behind)),
            *changes,
        )

    return load


def test_decibels_add_in_squares(line):
    """The standard deviation of a sum of independent losses is the root of the sum of squares."""
    layout = line(
        "id: A, kind: attenuator, stage: base, loss: 20 dB +/- 0.3 dB",
        "id: B, kind: attenuator, stage: base, loss: 10 dB +/- 0.4 dB",
        "id: C, kind: attenuator, stage: base, loss: 6 dB +/- 1.2 dB",
    )
    gain = spread(layout, "down", draws=DRAWS).quantities["gain_db"]
    assert np.allclose(gain.mean, -36.0, atol=1e-9)
    assert np.allclose(gain.sd, np.sqrt(0.3**2 + 0.4**2 + 1.2**2), rtol=SD)


def test_parts_of_the_variance(line):
    layout = line(
        "id: A, kind: attenuator, stage: base, loss: 20 dB +/- 0.3 dB",
        "id: B, kind: attenuator, stage: base, loss: 10 dB +/- 0.4 dB",
    )
    found = spread(layout, "down", draws=DRAWS)
    shares = {share.parameter: share.share for share in found.gain_sensitivity}
    # 0.09 and 0.16 of 0.25; the covariance of two samples is uncertain by 1/sqrt(N), twice counted.
    assert np.isclose(shares["B.loss"], 0.64, atol=0.05)
    assert np.isclose(shares["A.loss"], 0.36, atol=0.05)
    assert np.isclose(sum(shares.values()), 1.0, atol=1e-9)
    assert found.gain_sensitivity[0].parameter == "B.loss"


@pytest.mark.parametrize(("text", "p05", "p95", "sd"), [
    ("20 dB +/- 0.5 dB", -1.6449 * 0.5, 1.6449 * 0.5, 0.5),
    ("20 dB +/- 0.5 dB max", -0.9 * 0.5, 0.9 * 0.5, 0.5 / np.sqrt(3)),
    ("20 dB +/- 5 %", -1.6449, 1.6449, 1.0),
])
def test_normal_and_uniform(line, text, p05, p95, sd):
    layout = line(f"id: A, kind: attenuator, stage: base, loss: {text}")
    gain = spread(layout, "down", draws=DRAWS).quantities["gain_db"]
    # Every two-thousandth part of the distribution is drawn once: quantiles err by such parts.
    assert np.allclose(gain.p05 + 20, p05, atol=0.01)
    assert np.allclose(gain.p95 + 20, p95, atol=0.01)
    assert np.allclose(gain.p50 + 20, 0.0, atol=0.01)
    assert np.allclose(gain.sd, sd, rtol=0.005)


def test_a_table_has_one_common_offset(line):
    table = "{5 GHz: 3 dB, 6 GHz: 4 dB, tolerance: 0.5 dB}"
    gain = spread(line(f"id: A, kind: attenuator, stage: base, loss: {table}"), "down",
                  draws=DRAWS).quantities["gain_db"]
    assert np.allclose(gain.mean, [-3, -3.5, -4], atol=1e-6)
    assert np.allclose(gain.p95 - gain.p50, gain.p95[0] - gain.p50[0], atol=1e-9)


def test_noise_temperature_to_quanta(line):
    layout = line(behind=(), changes=("H.noise_temperature=50 K +/- 5 K",))
    found = spread(layout, "up", draws=DRAWS)
    system = found.quantities["system_noise_quanta"]
    assert np.allclose(system.sd, K * 5 / (H * found.frequency_hz), rtol=0.005)
    assert [s.parameter for s in found.sensitivity if s.share > 0.99] == ["H.noise_temperature"]


def test_decibels_on_a_level(line):
    layout = line(behind=(), changes=("R.adds=-150 dBm/Hz +/- 1 dB",))
    noise = spread(layout, "up", draws=DRAWS).quantities["noise_at_to_quanta"]
    added = 1e-18 / (H * np.linspace(5e9, 6e9, 3))
    # 1.6449 dB either way of a level in dBm, on top of what does not vary.
    assert np.allclose(noise.p95 - noise.p05, added * (10**0.16449 - 10**-0.16449), rtol=0.01)


def test_stage_temperature(line):
    layout = line(
        "id: A, kind: attenuator, stage: base, loss: 60 dB",
        changes=("stages.base.temperature=1 K +/- 50 mK",),
    )
    found = spread(layout, "down", draws=DRAWS)
    noise = found.quantities["noise_at_to_quanta"]
    # 1e-6 of a thousand photons of the room is all that is not the pad's own.
    hot = quanta(frequency_hz=found.frequency_hz, temperature_k=1 + 1.6449 * 0.05)
    assert np.allclose(noise.p95, hot, rtol=2e-3)
    assert found.sensitivity[0].parameter == "stages.base.temperature"


def test_own_temperature_of_an_element(line):
    layout = line("id: A, kind: attenuator, stage: base, loss: 60 dB, "
                  "temperature: 0.5 K +/- 0.05 K max")
    found = spread(layout, "down", draws=DRAWS)
    low = quanta(frequency_hz=found.frequency_hz, temperature_k=0.5 - 0.9 * 0.05)
    assert np.allclose(found.quantities["noise_at_to_quanta"].p05, low, rtol=3e-3)


def test_unknown_phases_spread_gain_as_a_circle_does(line):
    """Two reflections of size r: gain (1 - r^2)^2 / |1 - r^2 e^(i phi)|^2, phi uniform."""
    layout = line("id: A, kind: attenuator, stage: base, loss: 0 dB, return_loss: 10 dB")
    gain = spread(layout, "down", draws=DRAWS).quantities["gain_db"]
    r2 = 0.1
    for name, part in (("p05", 0.05), ("p50", 0.5), ("p95", 0.95)):
        # The cosine of a uniform phase lies below cos(pi (1 - part)) in that part of all cases.
        cosine = np.cos(np.pi * (1 - part))
        expected = 10 * np.log10((1 - r2) ** 2 / (1 - 2 * r2 * cosine + r2**2))
        assert np.allclose(getattr(gain, name), expected, atol=0.12)


PARAMP = (
    "id: X, kind: paramp, stage: base, gain: 20 dB +/- 0.5 dB, mixing: three-wave, pump: pump, "
    "excess_noise: 0.1 +/- 0.05",
    "id: W, kind: cable, from: base, to: room, length: 0.4 m +/- 5 %, coax: cupronickel-0.86",
    "id: V, kind: cable, from: room, to: room2, loss: 2 dB +/- 0.2 dB",
)


def test_every_draw_is_the_layout_with_its_values(write_layout):
    """A second method: each draw's budget against that of the layout changed by hand."""
    text = LINE.format(
        "- {id: A, kind: attenuator, stage: base, loss: 40 dB +/- 1 dB}",
        "\n    ".join(f"- {{{e}}}" for e in PARAMP),
    ).replace("base: {temperature: 20 mK}", "room2: {temperature: 290 K}, "
              "base: {temperature: 20 mK}")
    text += "tones: {pump: {into: S, frequency: 12 GHz, power: -30 dBm}}\n"
    # Draws keep what tones warm in the layout itself, which the first pad would tell.
    text += "self_heating: off\n"
    layout = write_layout(text)
    found = spread(layout, "up", draws=5, seed=3)
    drawn = Draws(layout, layout.connected("D"), count=5, seed=3)
    units = {"A.loss": "dB", "X.gain": "dB", "X.excess_noise": "", "W.length": "m", "V.loss": "dB"}
    assert {one.name for one in drawn.values} == set(units)
    system, gain = [], []
    for draw in range(5):
        changes = []
        for one in drawn.values:
            base = layout.elements[one.element].settings[one.parameter].value
            changes.append(f"{one.name}={float(base + one.change[draw, 0])!r} {units[one.name]}")
        own = write_layout(text, *changes).budget("up")
        system.append(own.system_noise_quanta)
        gain.append(own.gain_db)
    assert np.allclose(found.quantities["system_noise_quanta"].mean, np.mean(system, 0), rtol=1e-9)
    assert np.allclose(found.quantities["system_noise_quanta"].sd, np.std(system, 0, ddof=1),
                       rtol=1e-7)
    assert np.allclose(found.quantities["gain_db"].p50, np.median(gain, 0), rtol=1e-9)


def test_a_loss_does_not_become_a_gain(line):
    layout = line("id: A, kind: attenuator, stage: base, loss: 0.1 dB +/- 0.3 dB")
    found = spread(layout, "down", draws=DRAWS)
    assert np.all(found.quantities["gain_db"].p95 <= 0.0)
    # Every third draw of a normal distribution lies more than a third of its width below.
    assert any("A.loss: 738 of 2000" in text or "A.loss: 739 of 2000" in text
               for text in found.warnings)


def test_impossible_draws_are_told(line):
    layout = line(behind=("id: L, kind: amplifier, stage: base, gain: 20 dB, "
                          "noise_temperature: 0.3 K +/- 0.1 K",))
    with pytest.raises(LayoutError, match=r"one of the draws cannot be.*quantum mechanics"):
        spread(layout, "up", draws=50)


def test_same_seed_same_draws_whatever_else_is_drawn(line):
    one = line("id: A, kind: attenuator, stage: base, loss: 20 dB +/- 1 dB")
    two = line("id: A, kind: attenuator, stage: base, loss: 20 dB +/- 1 dB",
               "id: B, kind: attenuator, stage: base, loss: 20 dB +/- 1 dB")
    draws = [Draws(each, each.connected("D"), count=9, seed=s) for each, s in
             ((one, 4), (two, 4), (one, 5))]
    first, same, other = (each.values[0].change for each in draws)
    assert np.array_equal(first, same)
    assert not np.array_equal(first, other)


def test_nothing_toleranced_is_said(line):
    found = spread(line(), "up", draws=10)
    assert np.all(found.quantities["gain_db"].sd == 0.0)
    assert found.sensitivity == ()
    assert "has a tolerance" in found.warnings[0]


def test_json_as_designed(run, tmp_path, line):
    layout = line("id: A, kind: attenuator, stage: base, loss: 20 dB +/- 1 dB")
    status, out, _ = run("budget", layout.path, "--signal", "down", "--draws", "50", "--seed", "2",
                         "--json")
    result = json.loads(out)
    assert status == 0
    for name in ("gain_db", "system_noise_quanta", "noise_at_to_quanta"):
        assert {len(result["spread"][name][key]) for key in ("mean", "sd", "p05", "p50", "p95")} \
            == {3}
    assert {"parameter", "share"} <= set(result["sensitivity"][0])
    # The budget itself stays that of the values as written.
    plain = json.loads(run("budget", layout.path, "--signal", "down", "--json")[1])
    assert result["gain_db"] == plain["gain_db"]


def test_text_and_all_signals(run, line):
    layout = line("id: A, kind: attenuator, stage: base, loss: 20 dB +/- 1 dB")
    out = run("budget", layout.path, "--draws", "50")[1]
    assert "spread of down over 50 draws of 1 toleranced values (seed 0)" in out
    assert "A.loss" in out
    result = json.loads(run("budget", layout.path, "--draws", "50", "--json")[1])
    assert set(result["signals"]["up"]["spread"]) >= {"gain_db"}


@pytest.mark.parametrize(("words", "said"), [
    (("--draws", "1"), "outside 2 to 100000"),
    (("--draws", "1000000"), "outside 2 to 100000"),
    (("--draws", "many"), "not a whole number"),
    (("--draws", "-5"), "not a whole number"),
    (("--draws", "10", "--seed", "x"), "not a whole number"),
])
def test_refused(run, line, words, said):
    status, out, err = run("budget", line().path, *words)
    assert (status, out) == (2, "")
    assert said in err


def test_equal_copies_share_one_spread(write_layout):
    from chain.noise.spread import spreads

    layout = write_layout("""
band: {start: 5 GHz, stop: 6 GHz, points: 2}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  drive:
    copies: 3
    elements:
      - {id: S, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: base, loss: 40 dB +/- 1 dB}
      - {id: Q, kind: device, stage: base, reflects: true}
signals: {drive: {from: S, to: Q.in}}
""")
    found = spreads(layout, list(layout.signals), draws=20)
    assert found["drive-1"].quantities is found["drive-3"].quantities
    assert found["drive-3"].sensitivity[0].parameter == "A-3.loss"
