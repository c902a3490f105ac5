"""Coax in the wrong place."""


def test_superconductor_by_its_warmest_anchor(fires):
    assert fires("superconductor-too-warm") is None
    assert fires("superconductor-too-warm", "stages.plate.temperature=9.1 K",
                 "stages.plate.cooling=") is None
    assert fires("superconductor-too-warm", "stages.plate.temperature=9.3 K",
                 "stages.plate.cooling=") == ("W3",)


def test_own_superconductor(fires):
    own = "materials: {niobium-titanium: {critical_temperature: 3 K}}\n"
    assert fires("superconductor-too-warm", more=own) == ("W3",)


def test_cost_of_resistance_before_the_amplifier(found):
    assert "costly-coax" not in found()
    # Behind 20 dB of paramp, 25 dB of stainless let the amplifier weigh 300 times as much.
    finding = found("W3.coax=stainless-304-0.86")["costly-coax"]
    assert finding.elements == ("W3",)
    assert finding.remedy.startswith("niobium-titanium-0.86 in place of stainless-304-0.86: ")
    assert finding.tried[0].solves


def test_cost_of_a_stated_loss(fires):
    # 0.1 dB at 4 K before all gain: 16 photons times 2.3 %.
    first = (("    - {id: I1, kind", "    - {id: W9, kind: cable, stage: plate, loss: 0.1 dB}\n"
              "    - {id: I1, kind"),)
    assert fires("costly-coax", edits=first) == ("W9",)
    assert fires("costly-coax", "W9.stage=base", edits=first) is None
    assert fires("costly-coax", "margins.coax=1", edits=first) is None


def test_drive_lines_may_lose(fires):
    assert fires("costly-coax", "W1.coax=stainless-304-0.86") is None
