"""Numbers as a person reads them."""

from __future__ import annotations

import math

_SI = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"),
       (1e-12, "p"), (1e-15, "f"))


def si(value: float | None, unit: str, digits: int = 4) -> str:
    """Return a value with an SI prefix: `si(0.0042, "W")` is `4.2 mW`."""
    if value is None:
        return "-"
    if math.isnan(value):
        return "not known"
    if not math.isfinite(value):
        return f"{value} {unit}"
    if value == 0:
        return f"0 {unit}"
    for factor, prefix in _SI:
        if abs(value) >= factor * (1 - 10**-digits / 2):
            return f"{value / factor:.{digits}g} {prefix}{unit}"
    factor, prefix = _SI[-1]
    return f"{value / factor:.{digits}g} {prefix}{unit}"


def number(value: float | None, digits: int = 4) -> str:
    """Return a number in few digits without an exponent where that stays short."""
    if value is None:
        return ""
    if math.isnan(value):
        return "not known"
    if not math.isfinite(value):
        return "-inf" if value < 0 else "inf"
    if value == 0:
        return "0"
    if 1e-4 <= abs(value) < 1e6:
        decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
        return f"{value:.{decimals}f}"
    return f"{value:.{digits - 1}e}"


def coarse(value: float) -> str:
    """Return an end of a wide range in two digits: `9.2`, `920`, `2.9e5`."""
    if not math.isfinite(value) or value == 0:
        return number(value)
    text = f"{value:.1e}"
    mantissa, exponent = text.split("e")
    if -2 <= int(exponent) <= 3:
        return number(float(text), 2)
    return f"{mantissa}e{int(exponent)}"


def fixed(value: float | None, decimals: int = 2) -> str:
    """Return a number with so many decimals, or nothing."""
    if value is not None and math.isnan(value):
        return "not known"
    return "" if value is None else f"{value + 0.0:.{decimals}f}"


ROUNDING = 1e-12
"""Residuals below this are the last digits of the arithmetic, which differ between machines."""


def residual(value: float | None) -> str:
    """Return a law's residual: a number, `< 1e-12` where only rounding is left, `-` for none."""
    if value is None:
        return "-"
    return f"< {ROUNDING:.0e}" if abs(value) < ROUNDING else f"{value:.1e}"
