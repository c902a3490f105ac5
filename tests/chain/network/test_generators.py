"""What generators send beside tones, on its way through networks."""

import numpy as np
import pytest

from chain.errors import LayoutError
from chain.layout.variants import Variant
from chain.network.generators import generators_of
from chain.noise.budget import budget, budgets
from chain.noise.variants import variant_budgets
from chain.power.signal_path import path_levels
from components.constants import H
from components.quantities import parse

DRIVE = """
stages: {room: {temperature: 295 K}, base: {temperature: 10 mK}}
band: {start: 5 GHz, stop: 7 GHz, points: 3}
lines:
  drive:
    - {id: S, kind: port, stage: room, emits: 0 W/Hz}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: D, kind: device, stage: base}
    - {id: R, kind: port, stage: base}
tones: {t: {into: S, frequency: 8 GHz, arriving: {D.in: -70 dBm}, noise: -150 dBc/Hz}}
signals: {drive: {from: S, to: D.in}}
"""


def test_it_goes_through_the_network_like_any_noise(write_layout):
    """-70 dBm at the device less 150 dB are 1e-25 W/Hz there, whatever attenuates both."""
    loud, quiet = (write_layout(DRIVE, *more) for more in ((), ("tones.t.noise=",)))
    expected = 1e-25 / (H * np.array([5e9, 6e9, 7e9]))
    more = budget(loud).photons_at_to - budget(quiet).photons_at_to
    np.testing.assert_allclose(more, expected, rtol=1e-6)
    deeper = [write_layout(DRIVE, "A.loss=40 dB", *more) for more in ((), ("tones.t.noise=",))]
    more = budget(deeper[0]).photons_at_to - budget(deeper[1]).photons_at_to
    np.testing.assert_allclose(more, expected, rtol=1e-6)


AMPLIFIED = DRIVE.replace(
    "    - {id: A,", "    - {id: H, kind: amplifier, stage: room, gain: 30 dB, noise_figure: 3 dB}\n"
    "    - {id: A,"
).replace("arriving: {D.in: -70 dBm}", "power: -80 dBm")


def test_an_amplifier_before_a_line_raises_it_and_adds_its_own(write_layout):
    """-80 dBm + 30 - 20 dB is -70 dBm at the device again; the amplifier adds 290 K (F - 1)."""
    b = budget(write_layout(AMPLIFIED))
    at = b.shares_quanta["S"][1] * 10 ** (b.gain_db[1] / 10) - 5.0  # its vacuum: 10 dB, 1/2
    assert at == pytest.approx(1e-25 / (H * 6e9), rel=1e-6)
    added = b.shares_quanta["H"][1] * H * 6e9
    assert added == pytest.approx(1.380649e-23 * 290 * (10**0.3 - 1), rel=1e-3)


PARAMP = """
stages: {room: {temperature: 295 K}, base: {temperature: 10 mK}}
band: {start: 5 GHz, stop: 5.4 GHz, points: 3}
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, reversed: true, loads: [isolated]}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: four-wave, pump: pump}
    - {id: R, kind: port, stage: base}
  in:
    - {id: G, kind: port, stage: room, emits: 0 W/Hz}
    - {id: P, kind: attenuator, stage: room, loss: 0 dB}
    - {join: C.coupled}
tones: {pump: {into: G, frequency: 6 GHz, arriving: {X.in: -60 dBm}, noise: -160 dBc/Hz}}
signals: {main: {from: S, to: R}}
"""


def test_it_comes_by_the_idler_too_and_both_sides_are_taken_as_uncorrelated(write_layout):
    """At X.in 1e-9 W x 1e-16 = 1e-25 W/Hz on either side; the idler has (G - 1)/G of the gain.

    Referred to S, before 20 dB coupler's 1/0.99, each side counts (1e-25 W/Hz)/(h f).
    """
    loud, quiet = (write_layout(PARAMP, *more) for more in ((), ("tones.pump.noise=",)))
    b = budget(loud)
    f, idler = b.frequency_hz, 12e9 - b.frequency_hz
    expected = 1e-25 / H * (1 / f + 0.99 / idler) / 0.99
    more = b.system_noise_quanta - budget(quiet).system_noise_quanta
    np.testing.assert_allclose(more, expected, rtol=1e-3)
    assert any("taken as uncorrelated" in text for text in b.warnings)
    three = write_layout(PARAMP, "X.mixing=three-wave", "tones.pump.frequency=11 GHz")
    assert not any("taken as uncorrelated" in text for text in budget(three).warnings)


def test_a_pump_that_is_cut_off_sends_no_more_than_before(write_layout):
    """Nobody turns a generator up against a break: it sends what it did, and none arrives."""
    layout = write_layout(PARAMP)
    cut = layout.with_settings({"P": {"state": "open"}})
    assert generators_of(cut)["G"][0].each_w == generators_of(layout)["G"][0].each_w
    lost = budget(cut)
    assert any("has lost its pump" in text for text in lost.warnings)
    assert lost.shares_quanta["G"].max() == 0.0


def test_variants_have_the_noise_of_their_own_generator(write_layout):
    """Ten decibels more pad take ten decibels more power where the level at the device is given."""
    layout = write_layout(DRIVE)
    pad = {"A": {"loss": parse("30 dB", "ratio")}}
    found = variant_budgets(layout, [Variant("as it is"), Variant("more", pad)])
    apart = [budget(layout), budget(layout.with_settings(pad))]
    for row, b in zip(found.noise_at_to_quanta, apart, strict=True):
        np.testing.assert_allclose(row, b.noise_at_to_quanta, rtol=1e-12)


COPIES = """
self_heating: off
stages: {room: {temperature: 295 K}, base: {temperature: 10 mK}}
band: {start: 5 GHz, stop: 7 GHz, points: 3}
lines:
  drive:
    copies: 3
    elements:
      - {id: S, kind: port, stage: room, emits: 0 W/Hz}
      - {id: A, kind: attenuator, stage: base, loss: 20 dB}
      - {id: D, kind: device, stage: base}
      - {id: R, kind: port, stage: base}
tones: {t: {into: S-2, frequency: 8 GHz, power: -50 dBm, noise: -150 dBc/Hz}}
signals: {drive: {to: D.in}}
"""


def test_a_copy_with_a_noisy_tone_is_not_like_the_others(write_layout):
    found = budgets(write_layout(COPIES))
    first, second, third = (found[f"drive-{n}"].photons_at_to for n in (1, 2, 3))
    np.testing.assert_array_equal(first, third)
    np.testing.assert_allclose(second - first, 1e-25 / (H * np.array([5e9, 6e9, 7e9])), rtol=1e-6)


def test_a_table_that_does_not_reach_the_band_is_refused_in_words(write_layout):
    short = write_layout(DRIVE.replace("-150 dBc/Hz", "{1 kHz: -120 dBc/Hz, 1 MHz: -150 dBc/Hz}"))
    with pytest.raises(LayoutError, match="noise of tone t is given from 1000 Hz to 1e"):
        budget(short)


@pytest.mark.parametrize(("noise", "says"), [
    ("-150 dBm/Hz", "is no unit of noise beside a tone"), ("3 dBc/Hz", "is above 0 dBc/Hz"),
])
def test_noise_is_read_with_its_unit_and_bounds(write_layout, noise, says):
    with pytest.raises(LayoutError, match=says):
        write_layout(DRIVE.replace("-150 dBc/Hz", noise))


def test_levels_along_a_path_count_it(write_layout):
    """1e-25 W/Hz at the device besides the vacuum of half h 6 GHz, 2e-24 W/Hz."""
    loud, quiet = (write_layout(DRIVE, *more) for more in ((), ("tones.t.noise=",)))
    of_loud, of_quiet = (path_levels(one, one.signals["drive"]) for one in (loud, quiet))
    place = of_loud.ids.index("A")
    assert of_loud.noise_w_hz[place] - of_quiet.noise_w_hz[place] == pytest.approx(1e-25, rel=1e-6)
