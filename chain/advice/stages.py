"""Whether every stage carries its heat."""

from chain.advice.rules import ERROR, WARNING, Remark, rule
from chain.writing.numbers import si


@rule(
    "over-cooling", ERROR,
    why="a stage that gets more than it can carry warms until it can, or for ever",
    source="the stage's own cooling table",
)
def over_cooling(look):
    """Look for stages that get more than they can carry at their temperature."""
    for stage, row in _known(look):
        if row.over:
            least = "at least " if row.total_w is None else ""
            yield Remark(
                (), f"stage {stage.name} gets {least}{si(row.known_w, 'W', 3)} and carries "
                f"{si(row.cooling_w, 'W', 3)} at {si(stage.temperature_k, 'K', 3)} "
                f"({_parts(row)}; most from {_most(look, stage.name)})",
                _mend(row), stage.place,
            )


@rule(
    "close-to-cooling", WARNING, margins=("cooling",),
    why="loads grow while a cryostat is used: what is planned to the limit will not get cold",
    source="the stage's own cooling table; the margin is common practice, no source",
)
def close_to_cooling(look):
    """Look for stages that have less of their cooling power left than the margin."""
    for stage, row in _known(look):
        if row.over or row.margin_w is None or row.cooling_w <= 0:
            continue
        left = row.margin_w / row.cooling_w
        if left < look.margin("cooling"):
            yield Remark(
                (), f"stage {stage.name} gets {si(row.total_w, 'W', 3)} of the "
                f"{si(row.cooling_w, 'W', 3)} that it carries at "
                f"{si(stage.temperature_k, 'K', 3)}: {100 * left:.3g} % left "
                f"({_parts(row)}; most from {_most(look, stage.name)})",
                _mend(row), stage.place,
            )


def _known(look):
    """Yield (stage, its heat) where what it can carry is known."""
    for name, row in (look.heat.stages.items() if look.heat else ()):
        if row.cooling_w is not None:
            yield look.layout.stages[name], row


_PARTS = {
    "conduction_w": ("conduction", "longer, thinner or superconducting coax above it, or fewer"),
    "bias_w": ("bias", "a lower bias, or the amplifier on a warmer stage"),
    "tones_w": ("tones", "less tone power, or its loads on a warmer stage"),
    "other_w": ("other loads", "what the stage names under other:"),
}


def _parts(row):
    return ", ".join(
        f"{name} {si(getattr(row, key), 'W', 3)}" for key, (name, _) in _PARTS.items()
        if getattr(row, key)
    )


def _most(look, stage):
    rows = [row for row in look.heat.most(stage) if row[3]][:2]
    return ", ".join(f"{ids[0] if len(ids) == 1 else f'{ids[0]} to {ids[-1]}'} {si(watt, 'W', 3)}"
                     for ids, _, _, watt in rows) or "what the stage names itself"


def _mend(row):
    key = max(_PARTS, key=lambda key: getattr(row, key) or 0.0)
    name, mend = _PARTS[key]
    return f"most of it is {name}: {mend}"
