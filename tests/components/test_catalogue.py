"""Every row of the catalogue: its sources, its ranges, its place among the others."""

import subprocess
import sys
from functools import cache
from importlib.resources import files

import numpy as np
import pytest
import yaml

from components import catalogue
from components.conductivity import PowerLaw

MATERIALS, COAX, SOURCES = catalogue.materials(), catalogue.coax(), catalogue.sources()


@cache
def _rows(name):
    return yaml.safe_load(files("components.catalogue").joinpath(name).read_text(encoding="utf-8"))


def _cited(node):
    """Every source key under a yaml node."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "source":
                yield value
            elif key in ("sources", "also"):
                yield from value
            else:
                yield from _cited(value)
    elif isinstance(node, list):
        for value in node:
            yield from _cited(value)


def test_every_cited_source_exists_and_every_source_is_cited():
    cited = {key for name in ("materials.yaml", "coax.yaml") for key in _cited(_rows(name))}
    assert cited == set(SOURCES)


def test_what_the_objects_cite_is_what_the_files_cite():
    for name, row in _rows("materials.yaml")["materials"].items():
        assert set(_cited(row)) <= set(MATERIALS[name].sources), name
    built = {key for rows in (MATERIALS, COAX) for row in rows.values() for key in row.sources}
    assert built == set(SOURCES)


@pytest.mark.parametrize("key", sorted(SOURCES))
def test_a_source_says_who_what_where_and_how_it_is_held(key):
    source = SOURCES[key]
    assert all([source.authors, source.title, source.where, source.held])
    assert source.year is None or 1850 < source.year < 2030
    assert source.title in str(source)
    assert source.held in str(source)


@pytest.mark.parametrize("name", ["sources.yaml", "materials.yaml", "coax.yaml"])
def test_no_key_is_given_twice(name):
    """yaml keeps the last of two equal keys in silence."""
    text = files("components.catalogue").joinpath(name).read_text(encoding="utf-8")

    def walk(node):
        if isinstance(node, yaml.MappingNode):
            keys = [key.value for key, _ in node.value]
            assert len(keys) == len(set(keys)), keys
            for _, value in node.value:
                walk(value)
        elif isinstance(node, yaml.SequenceNode):
            for value in node.value:
                walk(value)

    walk(yaml.compose(text))


@pytest.mark.parametrize("name", sorted(MATERIALS))
def test_every_piece_has_a_source_and_what_is_bridged_says_so(name):
    rows = _rows("materials.yaml")["materials"][name]["conductivity"]
    for piece, row in zip(MATERIALS[name].pieces, rows, strict=True):
        assert piece.source in SOURCES
        if row["law"] == "bridge":
            assert "log-log" in piece.note
        if piece.low_k == 0:
            assert isinstance(piece.law, PowerLaw)
            assert any(word in piece.note for word in ("continued", "proportion", "No citable law"))


def test_bridges_meet_both_neighbours():
    count = 0
    for name, material in MATERIALS.items():
        rows = _rows("materials.yaml")["materials"][name]["conductivity"]
        for index, row in enumerate(rows):
            if row["law"] == "bridge":
                below, piece, above = material.pieces[index - 1 : index + 2]
                for other, t in ((below, piece.low_k), (above, piece.high_k)):
                    t = np.float64(t)
                    assert piece.conductivity(temperature_k=t) == pytest.approx(
                        other.conductivity(temperature_k=t)
                    )
                count += 1
    assert count >= 5


@pytest.mark.parametrize("name", sorted(MATERIALS))
def test_values_are_plausible(name):
    material = MATERIALS[name]
    if material.resistivity:
        t = np.array([4.0, 77, 295])
        rho = material.resistivity_ohm_m(temperature_k=t)
        assert np.all(np.diff(rho) > 0)
        assert np.all((rho > 1e-12) & (rho < 1e-6))
    if material.contraction is not None:
        assert 0.001 < material.contraction < 0.03
    if material.permittivity is not None:
        assert 1 < material.permittivity < 12
        assert 0 < material.loss_tangent < 0.01
    if material.critical_temperature_k is not None:
        assert 1 < material.critical_temperature_k < 20


def test_resistivity_ordering():
    order = ["silver", "copper-rrr50", "brass", "cupronickel", "stainless-304"]
    rho = [MATERIALS[name].resistivity_ohm_m(temperature_k=295) for name in order]
    assert np.all(np.diff(rho) > 0)


SIZES = ("0.86", "1.19", "2.19", "3.58")
ALLOYS = ("copper", "beryllium-copper", "cupronickel", "stainless-304", "niobium-titanium")


@pytest.mark.parametrize("size", SIZES)
def test_coax_of_every_material_in_order_of_loss_and_heat(size):
    lines = [COAX[f"{alloy}-{size}"] for alloy in ALLOYS]
    warm = [line.loss_db_per_m(frequency_hz=6e9, temperature_k=295) for line in lines]
    assert np.all(np.diff(warm) > 0)
    heat = [line.conduction_integral(cold_k=0.1, warm_k=4) for line in lines]
    assert np.all(np.diff(heat) < 0)
    for line in lines:
        assert line.outer.diameter_m == pytest.approx(float(size) * 1e-3, rel=0.005)
        assert line.impedance_ohm == pytest.approx(50, abs=1)
        assert line.velocity_factor == pytest.approx(0.70, abs=0.005)
        assert line.range_k == (0, 300)
        assert "computed from geometry and resistivity" in line.note


def test_mappings_are_read_only_and_built_once():
    with pytest.raises(TypeError):
        MATERIALS["ptfe"] = None
    assert catalogue.materials() is MATERIALS
    assert catalogue.coax() is COAX


def test_importing_the_catalogue_stays_light():
    code = (
        "import sys; from components import catalogue; catalogue.coax();"
        "print([m for m in ('scipy', 'matplotlib', 'skrf') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          cwd=files("components").parent)  # fmt: skip
    assert done.stdout.strip() == "[]"
