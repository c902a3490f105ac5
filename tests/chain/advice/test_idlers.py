"""The idler's band against the signal's."""

import pytest

GONE_ABOVE = "A2.loss={4 GHz: 30 dB, 7 GHz: 30 dB, 9 GHz: 0 dB, 16 GHz: 0 dB}"
PUMP = "tones.pump.frequency=16 GHz"


def test_same_band_same_way(found):
    assert not {"idler-warmer", "idler-less-attenuated"} & set(found())


@pytest.mark.parametrize("code", ["idler-warmer", "idler-less-attenuated"])
def test_an_attenuator_that_ends_below_the_idler(fires, code):
    # Signals 5 to 6 GHz, idlers 10 to 11 GHz: there the line has 30 dB less.
    assert fires(code, PUMP, GONE_ABOVE)[0] == "X1"


@pytest.mark.parametrize("code", ["idler-warmer", "idler-less-attenuated"])
def test_a_pump_that_is_off_has_no_idler(fires, code):
    assert fires(code, PUMP, GONE_ABOVE, "X1.state=off") is None


@pytest.mark.parametrize("code", ["idler-warmer", "idler-less-attenuated"])
def test_an_idler_far_away_with_the_same_attenuation(fires, code):
    assert fires(code, PUMP) is None


def test_margins(fires):
    assert fires("idler-less-attenuated", PUMP, GONE_ABOVE, "margins.idler_loss=60 dB") is None
    assert fires("idler-warmer", PUMP, GONE_ABOVE, "margins.idler=10") is None
