"""What generators, parts and receivers are asked beyond what they can do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.rules import ERROR, WARNING, Remark, rule
from chain.power.ratings import FULL_SCALE, MAX_OUTPUT, watt_text

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection

_REMEDIES = {
    FULL_SCALE: "put less gain or an attenuator before it, or filter the tones out",
    MAX_OUTPUT: "lose less on the way to where the tone is wanted, or send less",
}


@rule(
    "absurd-generator", ERROR, margins=("generator",),
    why="a level that no generator reaches is a level that is never reached: something on the path "
    "loses what it should not, or the level is wrong; and watts of microwaves burn",
)
def absurd_generator(inspection: Inspection) -> Iterator[Remark]:
    """Look at what every tone takes at its connector, and what on its path takes the most of it."""
    for one in inspection.power.demands if inspection.power else ():
        blame = () if one.blame is None else (one.blame,)
        remedy = "correct its power"
        if one.blame is not None:
            remedy = f"look at {one.blame}: its state, its sense, what it lets through there"
        yield Remark((one.port, *blame), one.says, remedy)


@rule(
    "over-rating", WARNING, margins=("rating",),
    why="beyond its rating a part burns, a generator gives less than it is set to, and a receiver "
    "clips and mixes all that it gets",
    source="the ratings that the layout states",
)
def over_rating(inspection: Inspection) -> Iterator[Remark]:
    """Look at tones and noise against every rating that the layout states."""
    for one in inspection.power.ratings if inspection.power else ():
        left = one.margin_db
        if one.id not in inspection.ids or left is None or left >= inspection.margin("rating"):
            continue
        far = f"{left:.1f} dB below" if left >= 0 else f"{-left:.1f} dB above"
        yield Remark(
            (one.id,),
            f"{watt_text(one.level_w)} at {one.port}, {far} its {one.rating} of "
            f"{watt_text(one.limit_w)}",
            _REMEDIES.get(one.rating, "send less, lose more before it, or take a larger part"),
            level=ERROR if one.over else None,
        )
