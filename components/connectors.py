"""Coaxial connectors of open standards: their names, and which mate with which.

Names, and that the air-line families of IEEE Std 287 mate mechanically where they are listed
together, from memory; IEC numbers are parts of IEC 61169.  A connector is written type and sex:
`SMA male`, `2.92 mm female`.  Plug and jack are taken for male and female.
"""

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class ConnectorType:
    """A type of connector: the standard that describes it, and its family."""

    name: str
    family: str
    """Types of one family mate with each other."""
    standard: str
    sexless: bool = False
    """True where both sides are alike."""
    torque_n_m: tuple[float, float] | None = None
    """Least and most torque (N m) of the coupling nut, where a published standard says one."""
    torque_source: str = ""
    push_on: bool = False
    """True where it is pushed or snapped on, not screwed."""


TYPES = {
    one.name.lower(): one
    for one in (
        ConnectorType(
            "SMA", "SMA", "IEC 61169-15", torque_n_m=(0.8, 1.1),
            torque_source="IEC 61169-15 and MIL-PRF-39012 for stainless nuts, 7 to 10 lbf in, from "
            "memory: the maker's value goes first, brass takes less",
        ),
        ConnectorType("3.5 mm", "SMA", "IEEE 287, IEC 61169-23"),
        ConnectorType("2.92 mm", "SMA", "IEEE 287, IEC 61169-35"),
        ConnectorType("2.4 mm", "2.4 mm", "IEEE 287, IEC 61169-40"),
        ConnectorType("1.85 mm", "2.4 mm", "IEEE 287, IEC 61169-32"),
        ConnectorType("1.0 mm", "1.0 mm", "IEEE 287, IEC 61169-31"),
        ConnectorType("7 mm", "7 mm", "IEEE 287", sexless=True),
        ConnectorType("N", "N", "IEC 61169-16"),
        ConnectorType("BNC", "BNC", "IEC 61169-8"),
        ConnectorType("TNC", "TNC", "IEC 61169-17"),
        ConnectorType("SMB", "SMB", "IEC 61169-10", push_on=True),
        ConnectorType("SMC", "SMC", "IEC 61169-9"),
        ConnectorType("SMP", "SMP", "MIL-STD-348", push_on=True),
        ConnectorType("MCX", "MCX", "IEC 61169-36", push_on=True),
        ConnectorType("MMCX", "MMCX", "IEC 61169-52", push_on=True),
        ConnectorType("7-16", "7-16", "IEC 61169-4"),
    )
}
"""Every known type by its name in small letters."""

_SEX = {"male": "male", "plug": "male", "m": "male", "female": "female", "jack": "female",
        "f": "female"}


class UnknownConnector(ValueError):
    """A text that names no known connector: `what` is wrong, `instead` would be right."""

    def __init__(self, what, instead):
        super().__init__(f"{what}; {instead}")
        self.what, self.instead = what, instead


@dataclass(frozen=True)
class Connector:
    """A connector on a port."""

    type: ConnectorType
    sex: str | None
    """`male`, `female`, or None where both sides are alike."""

    def __str__(self):
        return self.type.name if self.sex is None else f"{self.type.name} {self.sex}"

    def mates(self, other):
        """Tell whether two connectors can be screwed or pushed together without harm."""
        if self.type.family != other.type.family:
            return False
        return self.type.sexless or self.sex != other.sex


def connector(text):
    """Return the Connector that a text names; raises UnknownConnector."""
    words = re.sub(r"(?<=[\d.])\s*mm\b", " mm", text.strip().lower()).replace(",", " ").split()
    sexes = [word for word in words if word in _SEX and word not in TYPES]
    name = " ".join(word for word in words if word not in sexes)
    found = TYPES.get(name)
    if found is None:
        known = ", ".join(one.name for one in TYPES.values())
        raise UnknownConnector(f"{text!r} names no known connector", f"known are {known}")
    if found.sexless:
        return Connector(found, None)
    if len(sexes) != 1:
        raise UnknownConnector(
            f"{text!r} does not say one sex", f"write {found.name} male or {found.name} female"
        )
    return Connector(found, _SEX[sexes[0]])
