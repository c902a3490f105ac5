"""Materials and coaxial lines with a source for every number, read from the yaml files beside this.

`materials()`, `coax()` and `sources()` are read-only mappings by name, built once when asked for.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import yaml

from components.coax import Coax, Conductor, Dielectric
from components.conductivity import (
    HustLankford,
    LogPolynomial,
    NaturalLogPolynomial,
    PowerLaw,
    RationalRoot,
    Table,
    WiedemannFranz,
)
from components.materials import Material, Piece, Resistivity

MICROOHM_CM = 1e-8
"""One microohm cm in ohm m."""

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True)
class Source:
    """Where a number of the catalogue comes from."""

    key: str
    authors: str
    title: str
    year: int | None
    where: str
    """Journal, report or book, and the place in it."""
    held: str
    """What of it was seen when the number was taken over."""

    def __str__(self):
        year = f", {self.year}" if self.year else ""
        return f"{self.authors}, {self.title}{year}, {self.where} ({self.held})"


@cache
def sources():
    """Return every source by its key, as a read-only mapping to Source."""
    rows = _read("sources.yaml")
    return MappingProxyType({key: Source(key=key, **row) for key, row in rows.items()})


@cache
def materials():
    """Return every material by its name, as a read-only mapping to Material."""
    rows = _read("materials.yaml")
    metals = rows["pure_metals"]
    return MappingProxyType(
        {name: _material(name, row, metals) for name, row in rows["materials"].items()}
    )


@cache
def coax():
    """Return every coaxial line by its name, as a read-only mapping to Coax."""
    rows = _read("coax.yaml")
    return MappingProxyType(
        {name: _coax(name, row, rows["sizes"]) for name, row in rows["coax"].items()}
    )


def _read(name):
    text = Path(__file__).with_name(name).read_text(encoding="utf-8")
    return yaml.load(text, Loader=_Loader)


def _material(name, row, metals):
    resistivity = _resistivity(row.get("resistivity"), metals)
    pieces = _pieces(row["conductivity"], resistivity)
    single = {
        "critical_temperature_k": ("critical_temperature", "kelvin"),
        "mean_free_path_product_ohm_m2": ("mean_free_path_product", "ohm_m2"),
        "contraction": ("contraction", "fraction"),
        "permittivity": ("permittivity", "relative"),
        "loss_tangent": ("loss_tangent", "value"),
    }
    values = {field: row[key][unit] for field, (key, unit) in single.items() if key in row}
    keys = ["resistivity", *(key for key, _ in single.values())]
    cited = [piece.source for piece in pieces] + row.get("also", [])
    cited += [row[key]["source"] for key in keys if key in row]
    if "ideal" in row.get("resistivity", {}):
        cited.append(metals[row["resistivity"]["ideal"]]["source"])
    return Material(
        name=name,
        pieces=pieces,
        resistivity=resistivity,
        sources=tuple(dict.fromkeys(cited)),
        note=row.get("note", ""),
        **values,
    )


def _resistivity(row, metals):
    if row is None:
        return None
    if "microohm_cm" in row:
        points = row["microohm_cm"]
        t, rho = list(points), [value * MICROOHM_CM for value in points.values()]
    else:
        points = metals[row["ideal"]]["microohm_cm"]
        residual = row.get("residual_microohm_cm")
        if residual is None:
            # RRR is rho(273 K) over rho(4 K) here: 1.54 microohm cm is Hust and Lankford's 15.4e-9.
            residual = 1.54 / (row["rrr"] - 1)
        t, rho = list(points), [(value + residual) * MICROOHM_CM for value in points.values()]
    return Resistivity(
        tuple(map(float, t)), tuple(rho), source=row["source"], note=row.get("note", "")
    )


def _pieces(rows, resistivity):
    """Build the laws that stand alone first, then those that lean on their neighbours."""
    laws = [_law(row, resistivity) for row in rows]
    pieces = []
    for index, row in enumerate(rows):
        low, high = map(float, row["range_k"])
        law = laws[index]
        if row["law"] == "continued":
            law = _continued(laws[index + 1], high, row["exponent"])
        elif row["law"] == "bridge":
            ends = laws[index - 1], laws[index + 1]
            values = [
                float(end.conductivity(temperature_k=np.float64(t)))
                for end, t in zip(ends, (low, high), strict=True)
            ]
            law = PowerLaw.through(temperature_k=(low, high), conductivity=values)
        pieces.append(Piece(law, low, high, source=row["source"], note=row.get("note", "")))
    return tuple(pieces)


def _continued(law, temperature_k, exponent):
    value = float(law.conductivity(temperature_k=np.float64(temperature_k)))
    return PowerLaw(value / temperature_k**exponent, float(exponent))


def _law(row, resistivity):
    fits = {
        "log-polynomial": LogPolynomial,
        "natural-log-polynomial": NaturalLogPolynomial,
        "rational-root": RationalRoot,
    }
    kind = row["law"]
    if kind in fits:
        return fits[kind](tuple(map(float, row["coefficients"])))
    if kind == "power":
        return PowerLaw(float(row["coefficient"]), float(row["exponent"]))
    if kind == "table":
        return Table(tuple(map(float, row["points"])), tuple(map(float, row["points"].values())))
    if kind == "hust-lankford":
        return HustLankford(float(row["rrr"]))
    if kind == "wiedemann-franz":
        return WiedemannFranz(resistivity.temperature_k, resistivity.values_ohm_m)
    if kind in ("continued", "bridge"):
        return None
    raise ValueError(f"no law of conductivity is called {kind!r}")


def _coax(name, row, sizes):
    size, known = sizes[row["size"]], materials()
    return Coax(
        name=name,
        centre=Conductor(known[row["centre"]], size["centre"] * 1e-3),
        dielectric=Dielectric(known[row["dielectric"]], size["dielectric"] * 1e-3),
        outer=Conductor(known[row["outer"]], size["outer"] * 1e-3),
        sources=tuple(dict.fromkeys([size["source"], *row["sources"]])),
        note=f"Loss {row['loss']}. {row['note']}",
    )
