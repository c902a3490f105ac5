"""The catalogue told: rows with their values, where they hold, how sure they are, their sources."""

from __future__ import annotations

from typing import Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.suggestions import choose
from chain.writing.numbers import number
from chain.writing.text import TextTable, wrapped
from components import catalogue
from components.coax import Coax
from components.materials import Material, MissingProperty, OutsideRange

SECTIONS = ("coax", "materials")

_TEMPERATURES_K = (0.1, 1.0, 4.0, 20.0, 77.0, 295.0)
_FREQUENCIES_HZ = (1e9, 6e9, 10e9)
_SHORT_HZ = 6e9
_STEPS_K = ((0.02, 0.1), (0.1, 1.0), (1.0, 4.0), (4.0, 50.0), (50.0, 295.0))


def rows_of(section: str) -> dict[str, Any]:
    """Return {name: row} of one half of the catalogue; raises LayoutError for another word."""
    if section not in SECTIONS:
        raise LayoutError.at(
            Place("chain catalogue"), f"there is no {section!r}",
            choose(section, [*SECTIONS, *catalogue.coax(), *catalogue.materials()], "rows"),
        )
    return dict(catalogue.coax() if section == "coax" else catalogue.materials())


def row_named(section: str, name: str) -> Any:
    """Return the row of that name; raises LayoutError."""
    rows = rows_of(section)
    if name not in rows:
        raise LayoutError.at(
            Place("chain catalogue"), f"there is no {name!r} in {section}",
            choose(name, rows, "rows"),
        )
    return rows[name]


def _half_of(section, name):
    """Return (section, name), where a row's name stands alone with the half that has it."""
    if name is None and section not in (None, *SECTIONS):
        for half in SECTIONS:
            if section in rows_of(half):
                return half, section
    return section, name


def catalogue_text(section: str | None = None, name: str | None = None) -> str:
    """Return the whole catalogue, half of it, or one row in full, as plain text."""
    section, name = _half_of(section, name)
    if name is not None and section is not None:
        row = row_named(section, name)
        return _coax_text(row) if isinstance(row, Coax) else _material_text(row)
    wanted = SECTIONS if section is None else (section,)
    parts = [
        _coax_table(rows_of(one)).text() if one == "coax" else _material_table(rows_of(one)).text()
        for one in wanted
    ]
    parts.append("one row in full, with its sources: chain catalogue coax|materials NAME; own rows "
                 "and changes:\nchain format coax, chain format materials")
    return "\n\n".join(parts)


def catalogue_dict(section: str | None = None, name: str | None = None) -> dict[str, Any]:
    """Return the same under names for programs, SI units."""
    section, name = _half_of(section, name)
    wanted = SECTIONS if section is None else (section,)
    found: dict[str, Any] = {}
    for one in wanted:
        rows = rows_of(one) if name is None else {name: row_named(one, name)}
        make = _coax_dict if one == "coax" else _material_dict
        found[one] = {key: make(row) for key, row in rows.items()}
    return {**found, "warnings": [], "laws": {}}


# -- coax ---------------------------------------------------------------------------------------


def _coax_table(rows):
    table = TextTable(
        ["coax", "diameter\nmm", "impedance\nohm", "loss, dB/m at 6 GHz\n295 K", "\n4 K",
         "heat, mW m\n4 to 50 K", "uW m\n1 to 4 K", "uW m\n0.1 to 1 K"], left={"coax"},
    )
    for name, row in rows.items():
        table.add(
            name, f"{1e3 * row.outer.diameter_m:.3g}", f"{row.impedance_ohm:.1f}",
            _loss(row, _SHORT_HZ, 295.0), _loss(row, _SHORT_HZ, 4.0),
            _heat(row, 4.0, 50.0, 1e3), _heat(row, 1.0, 4.0, 1e6), _heat(row, 0.1, 1.0, 1e6),
        )
    return table


def _coax_text(row):
    lines = [f"{row.name}: coaxial line, {1e3 * row.outer.diameter_m:.3g} mm", "",
             wrapped(row.note, ""), ""]
    parts = TextTable(["part", "material", "diameter\nmm"], left={"part", "material"})
    for part, one in (("centre", row.centre), ("dielectric", row.dielectric), ("outer", row.outer)):
        parts.add(part, one.material.name, f"{1e3 * one.diameter_m:.3f}")
    lines += [parts.text(), "",
              f"impedance {row.impedance_ohm:.1f} ohm, wave speed {row.velocity_factor:.3f} c, "
              f"heat known from {row.range_k[0]:g} K to {row.range_k[1]:g} K"]
    if row.critical_temperature_k is not None:
        lines.append(f"superconducts below {row.critical_temperature_k:g} K: its loss there is an "
                     "assumption")
    loss = TextTable(["loss, dB/m", *(f"{t:g} K" for t in _TEMPERATURES_K)], left={"loss, dB/m"})
    for f in _FREQUENCIES_HZ:
        loss.add(f"{f / 1e9:g} GHz", *(_loss(row, f, t) for t in _TEMPERATURES_K))
    lines += ["", loss.text(), "", _steps_table(row, "W m", "over its length, heat in W").text()]
    return "\n".join([*lines, "", *_sources(row)])


def _loss(row, f, t):
    try:
        return number(float(row.loss_db_per_m(frequency_hz=f, temperature_k=t)), 3)
    except (OutsideRange, MissingProperty):
        return "unknown"


def _heat(row, cold_k, warm_k, factor):
    try:
        return number(factor * float(row.conduction_integral(cold_k=cold_k, warm_k=warm_k)), 3)
    except (OutsideRange, MissingProperty):
        return "unknown"


def _steps_table(row, unit, meaning):
    table = TextTable(["between", f"conduction integral, {unit}\n({meaning})"], left={"between"})
    for cold, warm in _STEPS_K:
        table.add(f"{cold:g} K and {warm:g} K", _heat(row, cold, warm, 1.0))
    return table


def _coax_dict(row: Coax) -> dict[str, Any]:
    return {
        "centre": row.centre.material.name, "centre_m": row.centre.diameter_m,
        "dielectric": row.dielectric.material.name, "dielectric_m": row.dielectric.diameter_m,
        "outer": row.outer.material.name, "outer_m": row.outer.diameter_m,
        "impedance_ohm": row.impedance_ohm, "velocity_factor": row.velocity_factor,
        "critical_temperature_k": row.critical_temperature_k, "range_k": list(row.range_k),
        "loss_db_per_m": [
            {"frequency_hz": f, "temperature_k": t, "loss_db_per_m": _known(
                lambda f=f, t=t: row.loss_db_per_m(frequency_hz=f, temperature_k=t))}
            for f in _FREQUENCIES_HZ for t in _TEMPERATURES_K
        ],
        **_about(row),
    }


# -- materials ----------------------------------------------------------------------------------


def _material_table(rows):
    table = TextTable(
        ["material", "conductivity, W/(m K)\n0.1 K", "\n1 K", "\n4 K", "\n77 K", "\n295 K",
         "known\nK", "resistivity 4 K\nuohm cm", "critical\nK", "contraction\n%"],
        left={"material"},
    )
    for name, row in rows.items():
        known = "unknown" if not row.pieces else f"{row.range_k[0]:g} to {row.range_k[1]:g}"
        table.add(
            name, *(_conductivity(row, t) for t in (0.1, 1.0, 4.0, 77.0, 295.0)), known,
            _resistivity(row, 4.0),
            "" if row.critical_temperature_k is None else f"{row.critical_temperature_k:g}",
            "" if row.contraction is None else f"{100 * row.contraction:.3g}",
        )
    return table


def _material_text(row):
    lines = [f"{row.name}: material", ""]
    if row.note:
        lines += [wrapped(row.note, ""), ""]
    if row.pieces:
        table = TextTable(["from K", "to K", "law", "at both ends, W/(m K)", "source"],
                          left={"law", "source"})
        for piece in row.pieces:
            ends = [
                number(float(piece.conductivity(temperature_k=np.float64(t))), 3)
                for t in (max(piece.low_k, 0.01 * piece.high_k), piece.high_k)
            ]
            table.add(f"{piece.low_k:g}", f"{piece.high_k:g}", _law(piece), " .. ".join(ends),
                      piece.source)
        lines += ["thermal conductivity", "", table.text(), ""]
        for piece in row.pieces:
            if piece.note:
                lines.append(wrapped(f"{piece.low_k:g} to {piece.high_k:g} K: {piece.note}"))
        lines += ["", _steps_table(row, "W/m", "times area over length, heat in W").text(), ""]
    else:
        lines += ["thermal conductivity unknown", ""]
    if row.resistivity is not None:
        points = ", ".join(
            f"{number(1e8 * rho, 3)} at {t:g} K" for t, rho in
            zip(row.resistivity.temperature_k, row.resistivity.values_ohm_m, strict=True)
        )
        lines.append(wrapped(f"resistivity, uohm cm, linear in between: {points} "
                             f"({row.resistivity.source}) {row.resistivity.note}".rstrip(), ""))
    for text, value, unit in (
        ("superconducts below", row.critical_temperature_k, "K"),
        ("permittivity", row.permittivity, ""), ("loss tangent", row.loss_tangent, ""),
    ):
        if value is not None:
            lines.append(f"{text} {value:g} {unit}".rstrip())
    if row.contraction is not None:
        lines.append(f"shortens by {100 * row.contraction:.3g} % from 293 K to 4 K")
    return "\n".join([*lines, "", *_sources(row)])


def _law(piece):
    name = type(piece.law).__name__
    if hasattr(piece.law, "exponent"):
        return f"{piece.law.coefficient:.4g} T^{piece.law.exponent:.4g}"
    words = "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()
    return words


def _conductivity(row, t):
    value = _known(lambda: row.conductivity(temperature_k=t))
    return "unknown" if value is None else number(value, 3)


def _resistivity(row, t):
    value = _known(lambda: row.resistivity_ohm_m(temperature_k=t))
    return "" if value is None else number(1e8 * value, 3)


def _known(function):
    try:
        return float(function())
    except (OutsideRange, MissingProperty):
        return None


def _material_dict(row: Material) -> dict[str, Any]:
    return {
        "conductivity": [
            {"from_k": piece.low_k, "to_k": piece.high_k, "law": _law(piece),
             "source": piece.source, "note": piece.note} for piece in row.pieces
        ],
        "conductivity_w_per_m_k": [
            {"temperature_k": t, "value": _known(lambda t=t: row.conductivity(temperature_k=t))}
            for t in _TEMPERATURES_K
        ],
        "resistivity_ohm_m": None if row.resistivity is None else [
            {"temperature_k": t, "value": rho} for t, rho in
            zip(row.resistivity.temperature_k, row.resistivity.values_ohm_m, strict=True)
        ],
        "critical_temperature_k": row.critical_temperature_k, "contraction": row.contraction,
        "permittivity": row.permittivity, "loss_tangent": row.loss_tangent, **_about(row),
    }


# -- both ---------------------------------------------------------------------------------------


def _sources(row):
    """Yield the sources of a row, each with how it is held: that is how sure its values are."""
    yield "sources, and what of each was seen when its values were taken over"
    known = catalogue.sources()
    for key in _every_source(row):
        yield wrapped(f"{key}: {known[key]}")


def _every_source(row):
    keys = list(row.sources)
    if isinstance(row, Coax):
        keys += [key for _, material, _ in row.sections for key in material.sources]
    return list(dict.fromkeys(keys))


def _about(row):
    known = catalogue.sources()
    return {
        "note": row.note,
        "sources": [{"key": key, "source": str(known[key]), "held": known[key].held}
                    for key in _every_source(row)],
    }
