"""Bands, tags, serial numbers."""


def test_band(fires):
    assert fires("outside-band", "H1.band={start: 5 GHz, stop: 6 GHz}") is None
    assert fires("outside-band", "H1.band={start: 5.1 GHz, stop: 6 GHz}") == ("H1",)


def test_any_kind_has_a_band_and_budgets_warn_of_it(fires, receiver):
    assert fires("outside-band", "I1.band={start: 5 GHz, stop: 5.5 GHz}") == ("I1",)
    warnings = receiver("I1.band={start: 5 GHz, stop: 5.5 GHz}").budget("receive").warnings
    assert any(text.startswith("I1 (base): its values are believed from 5 to 5.5 GHz")
               for text in warnings)
    assert not any("believed" in text for text in receiver().budget("receive").warnings)


def test_a_tone_outside_the_band_of_what_it_passes_is_a_note(found):
    probe = (("tones:\n", "tones:\n  probe: {into: S1, frequency: 7 GHz, "
              "arriving: {R1: -90 dBm}}\n"),)
    band = "H1.band={start: 4 GHz, stop: 6.5 GHz}"
    assert found(band, edits=probe)["outside-band"].level == "note"
    # The pump at 11.2 GHz arrives at X1 and is not meant to go on to H1.
    assert "outside-band" not in found(band)


def test_tag_or_serial(fires):
    assert fires("untagged", "H1.tag=") == ("H1",)
    assert fires("untagged", "H1.tag=", "H1.serial=7") is None
    assert fires("untagged", "A1.cost=90 EUR") == ("A1",)


def test_serials_of_two_kinds_may_be_alike(fires):
    assert fires("same-serial", "H1.serial=7", "X1.serial=7") is None
    assert fires("same-serial", "I1.serial=7", "I2.serial=7") == ("I1", "I2")


def test_tags_of_all_kinds_must_differ(fires):
    assert fires("same-tag", "H1.tag=X-1") == ("X1", "H1")


def test_out_of_order(fires):
    assert fires("out-of-order", "H1.state=dead") == ("H1",)
    assert fires("out-of-order") is None
