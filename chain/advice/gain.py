"""Whether gain stands where it should: before loss, low noise first, enough of it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chain.advice.changes import amplifiers_along, edit, set_value, typed
from chain.advice.remedies import Remedy
from chain.advice.rules import WARNING, Remark, rule
from chain.layout import edits
from chain.writing.numbers import number
from components.quantities import power_ratio

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection

BEHIND_SHARE = 0.25
"""Part of the system noise that may come from behind a paramp, where that is more than the margin:
a paramp at 4 K stands on a scale of its own (common practice, no source)."""

TYPICAL_GAIN_DB = 20.0
"""Gain that a paramp is run at (common practice, no source)."""

WORSE = 1.1
"""Factor between noise measures from which on an exchange is advised."""


def _rows(inspection):
    """Yield (signal, its budget, rows of its path) of every received signal."""
    for signal in inspection.received:
        budget = inspection.budget(signal.name)
        if budget is not None and budget.system_noise_quanta is not None:
            yield signal, budget, [row for row in budget.rows if row.where == "path"]


@rule(
    "lossy-part", WARNING, variants=True, margins=("part", "coax", "share"),
    why="loss before the gain adds its own noise and lets all that comes behind weigh more; a part "
    "that takes much of the signal is often passed by the wrong port or outside its band",
)
def lossy_part(inspection: Inspection) -> Iterator[Remark]:
    """Look at the loss of every passive part in the path of a received signal, and its cost."""
    for signal, budget, rows in _rows(inspection):
        for place, row in enumerate(rows):
            element = inspection.element(row.id)
            if row.gain_db is None or element.kind.spans_stages or element.kind.outside:
                continue
            if not element.kind.passive and element.kind.amplifies(element.settings):
                continue
            at = int(np.argmin(row.gain_db))
            if -row.gain_db[at] <= inspection.margin("part"):
                continue
            cost = _cost(inspection, signal, budget, rows[place:], at)
            if cost <= inspection.least_share("coax", float(budget.system_noise_quanta[at])):
                continue
            yield Remark(
                (row.id,),
                f"{signal.name} loses {-row.gain_db[at]:.1f} dB in the {element.kind.name} "
                f"{row.id} at {budget.frequency_hz[at] / 1e9:.4g} GHz, which costs "
                f"{number(cost, 3)} quanta of system noise",
                _remedy_part(inspection, row, element),
                about=(("noise", signal.name),),
            )


def _cost(inspection, signal, budget, rows, at):
    """Return what the loss of the first of some rows of a path costs, quanta of system noise.

    For a two-port the difference to the budget with its ends joined; for others about: its own
    noise, and the part by which the rows behind it would weigh less.
    """
    here = rows[0]
    element = inspection.element(here.id)
    if len(element.ports) == 2 and "bypassed" in element.kind.states:
        without = inspection.layout.with_settings({here.id: {"state": "bypassed"}})
        other = inspection.budget_of(without, signal.name, budget.frequency_hz[[at]])
        if other is not None:
            return float(budget.system_noise_quanta[at] - other.system_noise_quanta[0])
    behind = sum(float(budget.shares_quanta[row.id][at]) for row in rows[1:])
    return behind * (1 - float(power_ratio(here.gain_db[at]))) + float(
        budget.shares_quanta[here.id][at]
    )


def _remedy_part(inspection, row, element):
    """Yield Remedies for a part that loses much of the signal."""
    key = element.id
    if element.settings["state"] != "ok":
        yield set_value(inspection, f"repair {key}", key, state="ok")
    if element.settings.given("extra_loss"):
        none = typed(inspection, key, "extra_loss", "0 dB")
        yield set_value(inspection, f"mend what loses more in {key}", key, extra_loss=none)
    ports = element.kind.ports(element.settings)
    joined = [port for port in element.ports if port not in (element.enter, element.leave)]
    for port in joined if len(ports) > 2 else ():
        for end in (element.leave, element.enter):
            if end is not None:
                yield edit(
                    f"exchange what is joined to {key}.{end} and {key}.{port}",
                    edits.exchanged_ports, key, end, port,
                )
    if len(ports) == 2 and "bypassed" in element.kind.states:
        yield set_value(inspection, f"take {key} out", key, state="bypassed")
    yield "put it behind the first amplifier, or choose one with less loss in this band"


def _stronger(inspection, signal, paramp, most):
    """Yield Remedies for a paramp that does not lift the signal above what is behind it."""
    gain = inspection.element(paramp).settings["gain"]
    if hasattr(gain, "value") and gain.value < TYPICAL_GAIN_DB:
        more = typed(inspection, paramp, "gain", f"{TYPICAL_GAIN_DB:g} dB")
        yield set_value(inspection, f"{TYPICAL_GAIN_DB:g} dB of gain in {paramp}", paramp,
                        gain=more)
    for row in _between(inspection, signal, paramp):
        element = inspection.element(row)
        if element.settings["state"] != "ok":
            yield set_value(inspection, f"repair {row}", row, state="ok")
        elif element.settings.given("extra_loss"):
            none = typed(inspection, row, "extra_loss", "0 dB")
            yield set_value(inspection, f"mend what loses more in {row}", row, extra_loss=none)
    path = inspection.path_of(signal)
    ids = [hop.id for hop in path.hops] if path is not None else []
    if paramp in ids:
        yield from amplifiers_along(
            inspection, path.hops[ids.index(paramp) + 1 :], warm=False)
    yield f"more gain in {paramp}, less loss behind it, or a quieter {most}"


def _between(inspection, signal, paramp):
    """Return the ids of a signal's path behind a paramp."""
    path = inspection.path_of(signal)
    ids = [] if path is None else path.ids
    return ids[ids.index(paramp) + 1 :] if paramp in ids else []


@rule(
    "noisier-first", WARNING,
    why="of amplifiers in a row the first one's noise counts in full and the others' by what gain "
    "stands before them: the one with the lower noise measure, T / (1 - 1/G), belongs first",
    source="H. A. Haus and R. B. Adler, Optimum noise performance of linear amplifiers, Proc. IRE "
    "46, 1517 (1958), from memory",
)
def noisier_first(inspection: Inspection) -> Iterator[Remark]:
    """Look at neighbouring amplifiers on one stage: would they be quieter exchanged?"""
    for signal, _, rows in _rows(inspection):
        amplifiers = [
            row for row in rows
            if row.own_noise_k is not None
            and inspection.element(row.id).kind.is_amplifier(inspection.element(row.id).settings)
        ]
        for first, second in pairwise(amplifiers):
            if inspection.element(first.id).stage != inspection.element(second.id).stage:
                continue
            one, other = _measure(first), _measure(second)
            if one is not None and other is not None and one > WORSE * other:
                yield Remark(
                    (first.id, second.id),
                    f"{first.id} stands before {second.id} in the path of {signal.name} and is the "
                    f"noisier ({number(one, 3)} K against {number(other, 3)} K as noise measures)",
                    _exchanged(first.id, second.id),
                    about=(("noise", signal.name),),
                )


def _exchanged(one, other):
    return Remedy(
        f"exchange {one} and {other}", lambda layout: edits.exchanged(layout, one, other))


def _measure(row):
    """Return the noise measure over the band, kelvin, or None where it does not amplify."""
    gain = power_ratio(row.gain_db)
    if np.any(gain <= 1):
        return None
    return float(np.mean(row.own_noise_k / (1 - 1 / gain)))


@rule(
    "paramp-weak", WARNING, margins=("behind",),
    why="a paramp is there to lift the signal above the noise of everything behind it",
    source="H. T. Friis, Noise figures of radio receivers, Proc. IRE 32, 419 (1944)",
)
def paramp_weak(inspection: Inspection) -> Iterator[Remark]:
    """Look at what everything behind a paramp still adds to the system noise."""
    for signal, budget, rows in _rows(inspection):
        places = [
            place for place, row in enumerate(rows)
            if inspection.element(row.id).kind.pumps(inspection.element(row.id).settings)
        ]
        if not places:
            continue
        last = places[-1]
        behind = sum(
            (budget.shares_quanta[row.id] for row in rows[last + 1 :]),
            np.zeros_like(budget.frequency_hz),
        )
        at = int(np.argmax(behind))
        whole = float(budget.system_noise_quanta[at])
        if behind[at] <= max(inspection.margin("behind"), BEHIND_SHARE * whole):
            continue
        most = max(rows[last + 1 :], key=lambda row: budget.shares_quanta[row.id][at]).id
        yield Remark(
            (rows[last].id, most),
            f"behind {rows[last].id} {number(float(behind[at]), 3)} quanta still come to the "
            f"system noise of {signal.name}, most from {most}: its gain, with the loss behind it, "
            "does not lift the signal above them",
            _stronger(inspection, signal, rows[last].id, most),
            about=(("noise", signal.name),),
        )
