"""chain catalogue: every row with its values, its ranges and its sources."""

import json

import pytest

from components.catalogue import coax, materials, sources

ROWS = [("coax", name) for name in coax()] + [("materials", name) for name in materials()]


@pytest.mark.parametrize(("half", "name"), ROWS)
def test_a_row_is_told_with_every_source_and_how_it_is_held(run, half, name):
    status, out, err = run("catalogue", half, name)
    assert (status, err) == (0, "")
    row = (coax() if half == "coax" else materials())[name]
    flat = " ".join(out.split()).replace("- ", "-")
    assert " ".join(row.note.split()).replace("- ", "-") in flat
    for key in row.sources:
        assert f"{key}: " in flat
        assert sources()[key].held.replace("- ", "-") in flat
    alone = run("catalogue", name)
    assert alone[0] == 0
    assert name in alone[1]


def test_all_rows_are_listed(run):
    _, out, _ = run("catalogue")
    for _, name in ROWS:
        assert f"\n{name} " in out
    _, half, _ = run("catalogue", "materials")
    assert "ptfe" in half
    assert "copper-0.86" not in half


def test_values_are_those_of_the_laws(run):
    """NbTi below 1 K: 0.015 T^2 W/(m K) (Olson 1993), so its integral from 0.1 to 1 K is
    0.015 (1 - 0.001) / 3 = 0.004995 W/m; it shows in three digits."""
    _, out, _ = run("catalogue", "niobium-titanium")
    assert "0.015 T^2" in out
    row = next(line for line in out.split("\n") if line.startswith("0.1 K and 1 K"))
    assert float(row.split()[-1]) == pytest.approx(0.015 * (1 - 1e-3) / 3, rel=2e-3)


def test_programs_get_the_same_in_si_units(run):
    _, out, _ = run("catalogue", "--json")
    found = json.loads(out)
    assert found["coax"].keys() == coax().keys()
    assert found["materials"].keys() == materials().keys()
    line = found["coax"]["copper-2.19"]
    assert line["outer_m"] == pytest.approx(2.197e-3)
    assert all(source["held"] for source in line["sources"])
    _, out, _ = run("catalogue", "coax", "copper-2.19", "--json")
    assert json.loads(out)["coax"] == {"copper-2.19": line}


@pytest.mark.parametrize(("words", "says"), [
    (("cables",), "there is no 'cables'"),
    (("coax", "cupronickel-2.2"), "did you mean 'cupronickel-2.19'?"),
    (("materials", "copper"), "there is no 'copper' in materials; did you mean 'copper-rrr"),
])
def test_what_is_not_there_is_told_with_the_nearest(run, words, says):
    status, _, err = run("catalogue", *words)
    assert status == 2
    assert says in err
