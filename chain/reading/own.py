"""A layout's own materials and coax, or its changes to the catalogue's: keys beside replace."""

from dataclasses import replace

from chain.reading import declared
from chain.reading.fields import read_fields, rows_of
from chain.reading.names import check_name
from chain.reading.problems import MistakeError
from components import catalogue
from components.coax import Coax, Conductor, Dielectric, Plating
from components.conductivity import PowerLaw, Table
from components.materials import Material, MissingProperty, Piece, Resistivity

_SOURCE = "the layout"

_MATERIAL = declared.by_name(declared.MATERIAL)
_COAX = declared.by_name(declared.COAX)


def add_own(sections, context):
    """Fill `context` with the catalogue's and the layout's materials and coax."""
    context.materials = dict(catalogue.materials())
    changed = _add(sections.get("materials"), "materials", _MATERIAL, _material, context)
    context.coax = {
        name: _of_changed(row, changed) for name, row in catalogue.coax().items()
    }
    _add(sections.get("coax"), "coax", _COAX, _coax, context)


def _add(node, section, parameters, build, context):
    """Read the rows of one section into `context`; return those that were built, by name."""
    rows, built = getattr(context, section), {}
    for name, key, value in rows_of(node, context, section):
        called = f"{section}.{name}"
        try:
            check_name(key, section)
            found = read_fields(value, parameters, context, called, dot=f"{called}.")
            if not found.spoilt:
                built[name] = build(name, found, rows.get(name), key.place)
        except MistakeError as mistake:
            context.problems.note(mistake)
        except (ValueError, MissingProperty) as error:
            what, _, instead = str(error).partition("; ")
            context.problems.add(key.place, what, instead or "change the values of this row")
        # A row with mistakes still has a name: elements that use it are not wrong for that.
        rows[name] = built.get(name, rows.get(name))
    return built


def _material(name, found, base, _place):
    given = found.values
    changes = {
        f"{key}{unit}": given[key].value
        for key, unit in (
            ("critical_temperature", "_k"), ("contraction", ""), ("permittivity", ""),
            ("loss_tangent", ""),
        )
        if key in given
    }
    if "conductivity" in given:
        changes["pieces"] = (_piece(given["conductivity"]),)
    if "resistivity" in given:
        at_k, ohm_m = zip(*given["resistivity"], strict=True)
        changes["resistivity"] = Resistivity(at_k, ohm_m, _SOURCE)
    return _with(base or Material(name), changes, given)


def _with(base, changes, given):
    return replace(
        base, **changes, note=given.get("note", base.note),
        sources=tuple(dict.fromkeys([*base.sources, _SOURCE])),
    )


def _piece(given):
    if not isinstance(given, dict):
        table = Table(*zip(*given, strict=True))
        return Piece(table, table.temperature_k[0], table.temperature_k[-1], _SOURCE)
    law = PowerLaw(given["coefficient"].value, given["exponent"].value)
    return Piece(law, given["from"].value, given["to"].value, _SOURCE)


def _coax(name, found, base, place):
    given, parts = found.values, {}
    for part, cls in (("centre", Conductor), ("dielectric", Dielectric), ("outer", Conductor)):
        before = getattr(base, part, None)
        parts[part] = _part(f"coax.{name}", part, cls, given, before, found, place)
    loss = {}
    if "loss" in given:
        loss["loss"] = given["loss"]
    if "loss_temperature" in given:
        loss["loss_temperature_k"] = given["loss_temperature"].value
    if base is None:
        return Coax(name, **parts, **loss, sources=(_SOURCE,), note=given.get("note", ""))
    return _with(base, {**parts, **loss}, given)


def _part(called, part, cls, given, before, found, place):
    """Return one part of a coax: what is given, over what it was before."""
    own = given.get(part, {})
    values = {}
    for key, name in (("material", "material"), ("diameter", "diameter_m")):
        value = getattr(own.get(key), "value", own.get(key))
        values[name] = getattr(before, name, None) if value is None else value
        if values[name] is None:
            raise MistakeError(
                found.places.get(part, place), f"{called}.{part} has no {key}",
                f"add {key}, or change a coax of the catalogue",
            )
    if cls is Conductor:
        values["plating"] = _plating(own.get("plating"), getattr(before, "plating", None))
    return cls(**values)


def _plating(given, before):
    if given is None:
        return before
    return Plating(given["material"], given["thickness"].value)


def _of_changed(row, changed):
    """Return a catalogue row with the layout's materials in place of the catalogue's."""
    if not changed.keys() & row.areas_m2.keys():
        return row
    return replace(
        row, **{part: _rebuilt(getattr(row, part), changed)
                for part in ("centre", "dielectric", "outer")}
    )


def _rebuilt(part, changed):
    part = replace(part, material=changed.get(part.material.name, part.material))
    plating = getattr(part, "plating", None)
    if plating is None:
        return part
    metal = changed.get(plating.material.name, plating.material)
    return replace(part, plating=replace(plating, material=metal))
