"""The steps of a service: disassembly in order, reassembly in reverse with checks."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError, Place
from chain.layout.joints import pushed_on, torque_of
from chain.layout.naming import called
from chain.service import cautions
from chain.service.extent import between as ids_between
from chain.service.extent import named, of_line, opened
from chain.service.holds import holds
from chain.service.order import in_order, rung
from chain.service.reach import ends_to_meter

if TYPE_CHECKING:
    from chain.layout.layout import Joint, Layout
    from chain.service.holds import Hold
    from chain.service.levels import Expected, Reading


@dataclass(frozen=True)
class Step:
    """One joint to disconnect, or to make again."""

    joint: str
    """Its name and tag: `A1.out / W2.in`; for what has no microwave ports `L1 at plate`."""
    elements: tuple[str, ...]
    stage: str
    rung: str
    """What is disconnected together with it, from the most fragile to the sturdiest."""
    why: str
    """Why it comes where it comes among those; may be empty."""
    cautions: tuple[str, ...]
    torque: str
    tool: str
    frees: tuple[str, ...] = ()
    """Elements that no joint holds after it (disassembly), or before it (reassembly)."""
    then: str = ""
    """What to do after it (disassembly), or before it (reassembly)."""
    checks: tuple[str, ...] = ()
    """What to check after it (reassembly)."""
    serials: tuple[str, ...] = ()
    """Serial numbers that the layout states of what is joined there: `H1 0123`."""
    reading: Reading | None = None
    """What an analyser should show after it (reassembly); None where nothing is seen."""

    @property
    def why_here(self) -> str:
        """Why it comes where it comes, in full."""
        first = f"{self.rung} back in reverse" if self.checks else \
            f"{self.rung} before what is sturdier"
        return f"{first}; {self.why}" if self.why else first

    @property
    def caution(self) -> str:
        """All cautions."""
        return "; ".join(self.cautions)

    @property
    def check(self) -> str:
        """All checks."""
        return "; ".join(self.checks)

    def as_dict(self) -> dict[str, Any]:
        """Return the step under the names that programs lean on."""
        result = {
            "joint": self.joint, "elements": list(self.elements), "why_here": self.why_here,
            "caution": self.caution, "tag": self.joint, "stage": self.stage or None,
            "torque": self.torque or None, "tool": self.tool or None, "frees": list(self.frees),
            "then": self.then or None, "serials": list(self.serials),
        }
        if not self.check:
            return result
        reading = None if self.reading is None else self.reading.as_dict()
        return {**result, "check": self.check, "reading": reading}


@dataclass(frozen=True)
class Service:
    """A service sheet: disassembly and reassembly."""

    what: str
    """What is taken out, in words."""
    removed: tuple[str, ...]
    """Ids of all elements that come out, in layout order."""
    undo: tuple[Step, ...]
    """Disassembly, in order."""
    redo: tuple[Step, ...]
    """Reassembly, in order."""
    cautions: tuple[tuple[str, str], ...] = ()
    """(subject, caution) to heed before anything is opened: of what the layout has."""
    holds: tuple[Hold, ...] = ()
    """What is checked and signed before each can is closed, in order."""
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def removed_text(self) -> str:
        """What comes out, copies together."""
        return called(self.layout, self.removed)

    def steps(self, belongs: Callable[[Step], bool]) -> Service:
        """Return the service with the steps that belong to a part of it alone."""
        return replace(self, undo=tuple(filter(belongs, self.undo)),
                       redo=tuple(filter(belongs, self.redo)))

    def as_dict(self) -> dict[str, Any]:
        """Return the sheet under the names that programs lean on."""
        return {
            "what": self.what,
            "removed": list(self.removed),
            "undo": [step.as_dict() for step in self.undo],
            "redo": [step.as_dict() for step in self.redo],
            "holds": [hold.as_dict() for hold in self.holds],
            "cautions": [{"about": "authority", "says": cautions.AUTHORITY}] + [
                {"about": name, "says": text, "source": cautions.PRACTICE}
                for name, text in self.cautions
            ],
            "warnings": [],
            "laws": {},
        }

    def __str__(self):
        from chain.service.sheet_text import service_text

        return service_text(self)


def service(
    layout: Layout, *, between: tuple[str, str] | None=None, remove: Iterable[str] = (),
    line: str | None = None,
    levels: Callable[[Joint, Collection[Joint]], Expected] | None=None,
) -> Service:
    """Return the Service that takes out what stands `between` two stages, or elements `remove`d.

    `between` is a pair of stage names, `remove` ids (`P1` stands for its copies); `line` keeps to
    one line (and its copies), and alone takes all of it out.  `levels(joint,
    open joints)` says what an analyser shows once a joint is made, as chain.service.levels does;
    nothing is asked of one without it.  Raises LayoutError.
    """
    if between is not None:
        if isinstance(between, str) or len(between) != 2:
            raise LayoutError.at(
                Place("--between"), f"{between!r} is no pair of stages", "name two stages"
            )
        removed = ids_between(layout, *between)
        what = f"what stands between {between[0]} and {between[1]}"
        if line is not None:
            own = set(of_line(layout, line))
            removed = [key for key in removed if key in own]
            what += f" in line {line}"
    elif line is not None:
        removed = of_line(layout, line)
        what = f"line {line}"
    else:
        ids = [remove] if isinstance(remove, str) else list(remove)
        if not ids:
            raise LayoutError.at(
                Place("service"), "nothing is named",
                "say what comes out: between two stages, or which elements",
            )
        removed = named(layout, ids)
        what = ", ".join(ids)
    ranked = in_order(layout, opened(layout, removed), removed)
    undo = _Disassembly(layout, removed, ranked).steps()
    redo = _reassembly(layout, undo, ranked, levels)
    return Service(
        what, tuple(removed), tuple(undo), tuple(redo), cautions.general(layout),
        holds(layout, redo), layout=layout,
    )


class _Disassembly:
    """Makes the steps of disassembly."""

    def __init__(self, layout, removed, ranked):
        self.layout, self.removed, self.ranked = layout, set(removed), ranked
        self._left = {}
        for one in ranked:
            for key in one.opened.elements:
                self._left[key] = self._left.get(key, 0) + 1
        self._of_leading = dict(self._left)
        self._bundles = self._count_bundles()
        self._seen = {}

    def _count_bundles(self):
        found = {}
        for key in self.removed:
            element = self.layout.elements[key]
            if element.from_stage is not None:
                ends = frozenset((element.from_stage, element.to_stage))
                found[ends] = found.get(ends, 0) + 1
        return found

    def steps(self):
        """Return the Steps in order."""
        return [self._step(one) for one in self.ranked]

    def _step(self, one):
        for key in one.opened.elements:
            self._left[key] -= 1
        frees = tuple(key for key in one.opened.elements
                      if key in self.removed and not self._left[key])
        torque, source = ("", "")
        if one.opened.joint is not None:
            torque, source = torque_of(self.layout, one.opened.joint)
        stages = list(self.layout.stages)
        return Step(
            joint=one.opened.name, elements=one.opened.elements,
            stage="" if one.opened.stage is None else stages[one.opened.stage],
            rung=rung(one.fragility), why=self._why(one, frees),
            cautions=self._cautions(one, frees),
            torque=f"{torque} ({source})" if source else torque, tool=self._tool(one),
            frees=frees, then=self._then(frees), serials=self._serials(one.opened.elements),
        )

    def _why(self, one, frees):
        element = self.layout.elements[one.leading]
        first = one.leading not in self._seen
        self._seen[one.leading] = True
        if one.leading not in self.removed or element.from_stage in (None, element.to_stage):
            return ""
        if one.leading in frees:
            return f"the last joint of {one.leading}"
        if first:
            warm, _ = self._ends(element)
            return f"the cold end of {one.leading} first: it still hangs from {warm}"
        return ""

    def _cautions(self, one, frees):
        said = []
        if one.opened.joint is not None and pushed_on(self.layout, one.opened.joint):
            said.append(f"{cautions.PUSH_ON} ({cautions.PRACTICE})")
        for key in (one.leading, *(k for k in one.opened.elements if k != one.leading)):
            element = self.layout.elements[key]
            for caution in element.kind.handling(element.settings):
                said.append(f"{caution.text} ({caution.source})")
        if not said:
            said.append(f"{cautions.NUT} ({cautions.PRACTICE})")
        for key in frees:
            element = self.layout.elements[key]
            count = self._bundles.get(frozenset((element.from_stage, element.to_stage)), 0)
            if element.from_stage is not None and count >= cautions.MANY:
                text = cautions.bundle(count, *self._ends(element))
                said.append(f"{text} ({cautions.PRACTICE})")
        return tuple(dict.fromkeys(said))

    def _ends(self, element):
        order = {name: place for place, name in enumerate(self.layout.stages)}
        return sorted((element.from_stage, element.to_stage), key=order.__getitem__)

    def _tool(self, one):
        tools = [self.layout.elements[key].settings["tool"] for key in one.opened.elements]
        return "; ".join(dict.fromkeys(tool for tool in tools if tool))

    def _serials(self, keys):
        said = ((key, self.layout.elements[key].settings["serial"]) for key in keys)
        return tuple(f"{key} {serial}" for key, serial in said if serial)

    def _then(self, frees):
        """Return what to do with what is free now."""
        order = {name: place for place, name in enumerate(self.layout.stages)}
        said = []
        for key in frees:
            element = self.layout.elements[key]
            clamps = sorted(
                (stage for stage, _ in element.via), key=order.__getitem__, reverse=True
            )
            clamped = f"open its anchors at {', '.join(clamps)}, then " if clamps else ""
            said.append(f"{key} is free: hold it, {clamped}take it out")
        return "; ".join(said)


def _reassembly(layout, undo, ranked, levels):
    """Return the steps of reassembly, each with its checks."""
    steps = []
    still_open = [one.opened.joint for one in ranked if one.opened.joint is not None]
    for step, one in reversed(list(zip(undo, ranked, strict=True))):
        reading = None
        if one.opened.joint is not None:
            still_open.remove(one.opened.joint)
        checks = [_continuity(layout, one.opened, still_open)]
        if one.opened.joint is not None and levels is not None:
            expected = levels(one.opened.joint, still_open)
            reading = expected.reading
            checks.append(expected.words)
        kept = tuple(text for text in step.cautions if not text.startswith(cautions.BUNDLE))
        steps.append(replace(
            step, why=f"{_listed(step.frees)} with it" if step.frees else "", cautions=kept,
            then=_before(step), checks=tuple(checks), reading=reading,
        ))
    return steps


def _listed(ids):
    return f"{', '.join(ids)} {'goes' if len(ids) == 1 else 'go'} in"


def _before(step):
    if not step.frees:
        return ""
    return f"put {', '.join(step.frees)} in place"


def _continuity(layout, one, still_open):
    """Return the check without an analyser, with what it is about in brackets at its end."""
    if one.joint is None:
        bare = layout.elements[one.elements[0]].kind.bare
        return f"{cautions.SEATED if bare else cautions.THROUGH} ({one.elements[0]})"
    safe, harmed = ends_to_meter(layout, one.joint, still_open)
    if len(safe) == 2:
        return f"{cautions.CONTINUITY} ({one.elements[0]}, {one.elements[1]})"
    if safe:
        return f"{cautions.BEFORE} ({'.'.join(safe[0])})"
    return f"{cautions.NO_METER} ({called(layout, harmed)})"
