"""A layout's own coax and materials, and its changes to the catalogue's."""

import pytest

from components import catalogue

OURS = """\
coax:
  ours:
    centre: {material: stainless-304, diameter: 0.2 mm}
    dielectric: {material: ptfe, diameter: 0.66 mm}
    outer: {material: stainless-304, diameter: 0.86 mm}
    loss: {1 GHz: 3 dB/m, 10 GHz: 10 dB/m}
"""
A1 = "{id: A1, kind: attenuator, stage: plate, loss: 20 dB}"


def using(desk, name):
    return desk.changed(A1, f"{{id: A1, kind: cable, stage: plate, coax: {name}, length: 1 m}}")


def test_an_element_holds_the_coax_itself(desk):
    element = desk.load(using(desk, "cupronickel-0.86")).elements["A1"]
    assert element.settings["coax"] is catalogue.coax()["cupronickel-0.86"]


def test_a_coax_of_ones_own(desk):
    layout = desk.load(OURS + using(desk, "ours"))
    coax = layout.elements["A1"].settings["coax"]
    assert coax is layout.coax["ours"]
    assert coax.name == "ours"
    assert coax.centre.material is catalogue.materials()["stainless-304"]
    assert coax.outer.diameter_m == pytest.approx(0.86e-3)
    assert coax.loss == ((1e9, 3.0), (1e10, 10.0))
    assert coax.loss_temperature_k == 295.0


def test_keys_beside_a_catalogue_row_replace_and_the_rest_stays(desk):
    text = (
        "coax: {cupronickel-0.86: {loss: {5 GHz: 9 dB/m}, loss_temperature: 4 K, "
        "centre: {diameter: 0.21 mm}}}\n"
    )
    row = catalogue.coax()["cupronickel-0.86"]
    coax = desk.load(text + desk.good).coax["cupronickel-0.86"]
    assert coax.loss == ((5e9, 9.0),)
    assert coax.loss_temperature_k == 4.0
    assert coax.centre.diameter_m == pytest.approx(0.21e-3)
    assert coax.centre.material is row.centre.material
    assert coax.outer == row.outer
    assert "the layout" in coax.sources
    assert catalogue.coax()["cupronickel-0.86"] is row


def test_plating(desk):
    text = OURS.replace(
        "diameter: 0.2 mm}",
        "diameter: 0.2 mm, plating: {material: silver, thickness: 2 um}}",
    )
    plating = desk.load(text + desk.good).coax["ours"].centre.plating
    assert plating.material.name == "silver"
    assert plating.thickness_m == pytest.approx(2e-6)


def test_a_material_from_a_table(desk):
    text = (
        "materials: {braid: {conductivity: {1 K: 0.1 W/(m K), 10 K: 1 W/(m K)}, "
        "resistivity: 40 uohm cm, critical_temperature: 9 K, contraction: 0.3 %}}\n"
    )
    material = desk.load(text + desk.good).materials["braid"]
    # Between two points the law is a power law, here k = 0.1 T: rounding of logarithms only.
    assert material.conductivity(temperature_k=3.0) == pytest.approx(0.3, rel=1e-9)
    assert material.resistivity_ohm_m(temperature_k=77.0) == pytest.approx(4e-7)
    assert material.critical_temperature_k == 9.0
    assert material.contraction == pytest.approx(0.003)


def test_a_material_from_a_power_law(desk):
    text = (
        "materials: {braid: {conductivity: "
        "{coefficient: 0.05 W/(m K), exponent: 2, from: 0 K, to: 4 K}}}\n"
    )
    material = desk.load(text + desk.good).materials["braid"]
    assert material.conductivity(temperature_k=2.0) == pytest.approx(0.2, rel=1e-9)
    assert material.range_k == (0.0, 4.0)


def test_a_changed_material_changes_the_coax_made_of_it(desk):
    text = "materials: {ptfe: {permittivity: 1.7}}\n"
    layout = desk.load(text + desk.good)
    assert layout.coax["copper-0.86"].dielectric.material.permittivity == 1.7
    assert layout.materials["ptfe"].pieces == catalogue.materials()["ptfe"].pieces


MISTAKES = {
    ("diameter: 0.2 mm", "diameter: 0.7 mm"):
        "l.yaml:2:3: ours: diameters of 0.7, 0.66, 0.86 mm; centre, dielectric and outer "
        "diameter must grow in this order",
    ("material: ptfe", "material: ptef"):
        "l.yaml:4:28: coax.ours.dielectric.material: there is no material 'ptef'; "
        "did you mean 'ptfe'?",
    ("    dielectric: {material: ptfe, diameter: 0.66 mm}\n", ""):
        "l.yaml:2:3: coax.ours.dielectric has no material; "
        "add material, or change a coax of the catalogue",
    (", diameter: 0.2 mm", ""):
        "l.yaml:3:13: coax.ours.centre has no diameter; "
        "add diameter, or change a coax of the catalogue",
    ("3 dB/m", "3 dB"):
        "l.yaml:6:19: coax.ours.loss: 'dB' is no unit of attenuation; use dB/m",
    ("loss:", "los:"):
        "l.yaml:6:5: coax.ours: unknown key 'los'; did you mean 'loss'? there are centre, "
        "dielectric, outer, loss, loss_temperature and note",
    ("  ours:", "  ou/rs:"):
        "l.yaml:2:3: the name 'ou/rs' in coax cannot be used; "
        "a name has up to 60 letters, digits, spaces and _ . + - (a to z)",
}  # fmt: skip


@pytest.mark.parametrize("change", MISTAKES, ids=[str(n) for n in range(len(MISTAKES))])
def test_mistakes_in_a_coax(desk, change):
    assert desk.refused(OURS.replace(*change) + desk.good) == [MISTAKES[change]]


def test_a_wrong_coax_does_not_make_its_cables_wrong(desk):
    text = OURS.replace("3 dB/m", "3") + using(desk, "ours")
    assert desk.refused(text) == [
        "l.yaml:6:19: coax.ours.loss: '3' has no unit; write it with dB/m"
    ]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("{conductivity: {1 K: 0.1 W/(m K)}}",
            "l.yaml:1:35: materials.braid.conductivity has 1 points; "
            "give 2 or more, like {15 mK: 0.3 W/(m K)}"),
        ("{conductivity: {1 K: 0 W/(m K), 2 K: 1 W/(m K)}}",
            "l.yaml:1:41: materials.braid.conductivity: '0 W/(m K)' is below 1e-12 W/(m K); "
            "give 1e-12 W/(m K) or more"),
        ("{conductivity: {coefficient: 1 W/(m K), exponent: 1, from: 4 K, to: 1 K}}",
            "l.yaml:1:13: a range of 4 K to 1 K is none; change the values of this row"),
        ("{conductivity: {coefficient: 1 W/(m K), from: 4 K, to: 1 K}}",
            "l.yaml:1:35: materials.braid.conductivity has no exponent; "
            "add `exponent: 0.5` (n)"),
        ("{permittivity: 0.5}",
            "l.yaml:1:35: materials.braid.permittivity: '0.5' is below 1; give 1 or more"),
    ],
)  # fmt: skip
def test_mistakes_in_a_material(desk, row, said):
    assert desk.refused(f"materials: {{braid: {row}}}\n{desk.good}") == [said]
