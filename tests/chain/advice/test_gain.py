"""Whether gain stands before loss, low noise first, and is enough."""

import pytest

PAD = (("    - {id: I1, kind", "    - {id: P, kind: attenuator, stage: base, loss: LOSS}\n"
        "    - {id: I1, kind"),)


def _pad(loss):
    return tuple((old, new.replace("LOSS", loss)) for old, new in PAD)


@pytest.mark.parametrize(("loss", "fires_on"), [("1.9 dB", None), ("2.1 dB", ("P",))])
def test_loss_before_the_gain(fires, loss, fires_on):
    # At 15 mK a pad of 2 dB adds 0.29 quanta of vacuum, and the paramp's half weighs 1.6 times.
    assert fires("lossy-part", edits=_pad(loss)) == fires_on


def test_loss_margin(fires):
    assert fires("lossy-part", "margins.part=3 dB", edits=_pad("2.1 dB")) is None


def test_loss_behind_the_gain_costs_little(fires):
    behind = (("    - {id: R1, kind: port", "    - {id: P, kind: attenuator, stage: room, loss: 3 dB"
               "}\n    - {id: R1, kind: port"),)
    assert fires("lossy-part", edits=behind) is None


def test_its_cost_is_that_of_the_budget_without_it(found, receiver):
    """What the finding says it costs against the budgets with and without the part."""
    says = found(edits=_pad("6 dB"))["lossy-part"].says
    with_it, without = (
        receiver(edits=edits).budget("receive").system_noise_quanta for edits in (_pad("6 dB"), ())
    )
    at_5_ghz = (with_it - without)[0]
    assert f"which costs {at_5_ghz:.2f} quanta" in says


SECOND = (("    - {id: W4, kind", "    - {id: H2, kind: amplifier, stage: plate, gain: 20 dB, "
           "noise_temperature: 4 K, tag: H-2}\n    - {id: W4, kind"),)


@pytest.mark.parametrize(("gain", "kelvin", "fires_on"), [
    ("40 dB", "2 K", None),            # quieter first
    ("40 dB", "4.2 K", None),          # hardly noisier
    ("40 dB", "8 K", ("H1", "H2")),
    ("3 dB", "2.2 K", ("H1", "H2")),   # 2.2 K with so little gain is a noise measure of 4.4 K
])
def test_noise_measure(fires, gain, kelvin, fires_on):
    changes = (f"H1.gain={gain}", f"H1.noise_temperature={kelvin}")
    if gain == "3 dB":
        changes += ("H2.noise_temperature=3.9 K",)
    assert fires("noisier-first", *changes, edits=SECOND) == fires_on


def test_amplifiers_on_two_stages_are_let_be(fires):
    assert fires("noisier-first", "H1.noise_temperature=8 K", "H2.stage=room",
                 "H2.noise_temperature=3 K", edits=SECOND) is None


def test_paramp_gain(fires):
    assert fires("paramp-weak") is None
    assert fires("paramp-weak", "X1.gain=10 dB") == ("X1", "H1")
    assert fires("paramp-weak", "X1.gain=10 dB", "margins.behind=2") is None
    assert fires("paramp-weak", "X1.state=off") is None


def test_anchors(fires):
    assert fires("unanchored-coax", "W3.via={still: 0.2 m}") != ("W3",)
    assert fires("unanchored-coax", "W3.from=still", "W3.to=plate") != ("W3",)
