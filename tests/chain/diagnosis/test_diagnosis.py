"""Faults planted by the whole program are found, and what is said of them holds together."""

import json

import numpy as np
import pytest

from chain.command import main
from chain.diagnosis import diagnose


def _keys(changes):
    return {change.partition("=")[0] for change in changes}


def test_a_healthy_line_is_found_healthy(layout, measured):
    found = diagnose(layout, "main", [measured()], further=False)
    assert found.best.changes == ()
    assert found.best.probability > 0.5
    assert found.best.misfit < 2.0


def test_a_dead_amplifier_is_found(layout, measured):
    found = diagnose(layout, "main", [measured("H.state=dead")], further=False)
    assert found.best.changes == ("H.state=dead",)
    assert found.best.probability > 0.9


def test_a_size_is_fitted_with_its_error(layout, measured):
    found = diagnose(layout, "main", [measured("I.extra_loss=2 dB")], further=False)
    assert _keys(found.best.changes) == {"I.extra_loss"}
    size = found.best.sizes[0]
    assert size.low < 2.0 < size.high
    assert size.high - size.low < 1.0


@pytest.mark.long
def test_what_cannot_be_told_apart_is_grouped(layout, measured):
    """Losses in a row behind the gain are alike by nature."""
    changed = layout.changed("V.extra_loss=0 dB")
    found = diagnose(changed, "main", [measured("V.extra_loss=4 dB")], further=False)
    named = [_keys(found.best.changes), *(_keys(one.changes) for one in found.best.alike)]
    assert {"V.extra_loss"} in named
    assert {"H.gain"} in named


def test_probabilities_add_up_to_one_group_by_group(layout, measured):
    found = diagnose(layout, "main", [measured("X.state=off")], further=False)
    assert sum(one.probability for one in found.explanations) == pytest.approx(1.0, abs=1e-9)
    for one in found.explanations:
        whole = one.own_probability + sum(other.probability for other in one.alike)
        assert one.probability == pytest.approx(whole, abs=1e-12)
    ranks = [one.probability for one in found.explanations]
    assert ranks == sorted(ranks, reverse=True)


@pytest.mark.long
def test_a_hidden_pair_is_found_once_the_paramp_is_off(layout, measured):
    faults = ("I.extra_loss=3 dB", "X.gain=22 dB")
    on = measured(*faults)
    off = measured(*faults, with_=("X.state=off",), name="off.csv")
    first = diagnose(layout, "main", [on])
    assert _keys(first.best.changes) != {"I.extra_loss", "X.gain"}
    bits = {one.measure: one.bits for one in first.next}
    assert bits["gain and noise of main with X off"] > 0.2
    both = diagnose(layout, "main", [on, off], further=False)
    assert _keys(both.best.changes) == {"I.extra_loss", "X.gain"}
    assert both.best.probability > 0.7


@pytest.mark.long
def test_who_thinks_all_is_well_needs_more_to_be_convinced(layout, measured):
    data = [measured("H.noise_temperature=2.9 K")]
    doubtful, sure = (
        diagnose(layout, "main", data, healthy=part, further=False) for part in (0.1, 0.99))

    def healthy(found):
        return sum(one.own_probability for one in found.explanations if not one.changes) + sum(
            other.probability for one in found.explanations for other in one.alike
            if not other.changes)

    assert healthy(sure) > healthy(doubtful)
    odds = [healthy(one) / (1 - healthy(one)) for one in (doubtful, sure)]
    assert odds[1] / odds[0] == pytest.approx((0.99 / 0.01) / (0.1 / 0.9), rel=0.05)


def test_what_no_datum_shows_is_listed(layout, measured):
    found = diagnose(layout, "main", [measured()], further=False)
    assert "stages.base.temperature" in found.unseen
    assert "H.state=dead" not in found.unseen


@pytest.mark.long
def test_a_gain_alone_cannot_see_noise(layout, measured):
    from dataclasses import replace

    data = measured()
    found = diagnose(layout, "main", [replace(data, columns=data.columns[:1])], further=False)
    assert "H.noise_temperature" in found.unseen


@pytest.mark.long
def test_three_measurements_are_proposed_at_most_the_best_first(layout, measured):
    found = diagnose(layout, "main", [measured("X.gain=14 dB")])
    assert 0 < len(found.next) <= 3
    worth = [one.bits / (one.minutes + 30) for one in found.next]
    assert worth == sorted(worth, reverse=True)
    assert all(one.needs_warm_up == ("warm" in one.measure) for one in found.next)


@pytest.mark.long
def test_a_misfit_is_warned_of(layout, measured):
    from dataclasses import replace

    data = measured()
    bent = [replace(column, value_db=column.value_db
                    + 9.0 * np.sign(np.sin(np.arange(61)))) for column in data.columns]
    found = diagnose(layout, "main", [replace(data, columns=tuple(bent))], ripple_db=0.05,
                     further=False)
    assert any("not even the best explanation fits" in text for text in found.warnings)


@pytest.fixture
def csv(layout, measured, tmp_path):
    def write(*changes, name="data.csv", **more):
        data = measured(*changes, **more)
        gain, noise = data.columns
        rows = [f"{f:.0f},{g:.4f},{10 ** (n / 10):.5f}" for f, g, n in zip(
            gain.frequency_hz, gain.value_db, noise.value_db, strict=True)]
        path = tmp_path / name
        path.write_text("frequency_hz,gain_db,system_noise_quanta\n" + "\n".join(rows) + "\n")
        return str(path)
    return write


def test_the_verb_prints_json_and_draws(layout, csv, tmp_path, capsys):
    figure = tmp_path / "d.svg"
    words = ["diagnose", layout.path, "--measured", csv("H.state=dead"), "--json",
             "--figure", str(figure)]
    assert main(words) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["explanations"][0]["changes"] == ["H.state=dead"]
    assert {"probability", "own_probability", "misfit", "sizes", "alike"} <= set(
        found["explanations"][0])
    assert sum(one["probability"] for one in found["explanations"]) == pytest.approx(1.0)
    assert {"unseen", "next", "format", "warnings", "laws"} <= set(found)
    assert figure.read_text().startswith("<?xml")


@pytest.mark.long
def test_the_verb_says_what_to_do(layout, csv, capsys):
    assert main(["diagnose", layout.path, "--measured", csv("H.state=dead")]) == 0
    text = capsys.readouterr().out
    assert "--set 'H.state=dead'" in text
    assert "--remove H" in text


@pytest.mark.long
def test_a_bench_file_names_sets_and_what_was_changed(layout, csv, tmp_path, capsys):
    csv("I.extra_loss=3 dB", "X.gain=22 dB", name="on.csv")
    csv("I.extra_loss=3 dB", "X.gain=22 dB", with_=("X.state=off",), name="off.csv")
    bench = tmp_path / "bench.yaml"
    bench.write_text("measured: [{file: on.csv}, {file: off.csv, with: {X.state: 'off'}}]\n")
    assert main(["diagnose", layout.path, "--measured", str(bench), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert _keys(found["explanations"][0]["changes"]) == {"I.extra_loss", "X.gain"}


@pytest.mark.long
def test_a_thermometer_settles_what_the_data_leave_open(layout, measured):
    from chain.diagnosis.single_readings import read_reading

    data = [measured("stages.plate.temperature=6.5 K", "H.noise_temperature=2.6 K")]

    def of_stage(found):
        part = 0.0
        for one in found.explanations:
            own = [(one.changes, one.own_probability),
                   *((other.changes, other.probability) for other in one.alike)]
            part += sum(p for changes, p in own if "stages.plate.temperature" in _keys(changes))
        return part

    before = of_stage(diagnose(layout, "main", data, further=False))
    cold, warm = (
        of_stage(diagnose(layout, "main", data, further=False, readings=[
            read_reading(layout, f"stages.plate={kelvin} K +/- 50 mK")]))
        for kelvin in (4.0, 6.5))
    assert cold < before < warm
    assert warm > 0.99
