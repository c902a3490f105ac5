"""One element of a line: its kind, its values, where it is anchored, its ports."""

from chain.layout.layout import Element
from chain.reading.fields import read_fields
from chain.reading.names import check_id
from chain.reading.nodes import Mapping, Removed, Scalar
from chain.reading.problems import MistakeError
from chain.reading.routes import ports_of, route_of
from chain.reading.values import text_of, what_it_is
from chain.suggestions import choose, listed, shown
from components.declaration import KINDS
from components.parameters import Measure, ParameterError
from components.phases import phase_problems
from components.settings import Settings
from components.touchstone import DataError

FORM = "write it like {id: A1, kind: attenuator, stage: plate, loss: 20 dB}"
OWN_KEYS = ("id", "kind", "part")


class ElementDraft:
    """An element as written, before it is copied; `element` is None where it has mistakes."""

    def __init__(self, id, node, element):
        self.id, self.node, self.element = id, node, element
        self.row = None
        self.differing = {}
        """Elements of copies that are excepted, by number."""

    @property
    def place(self):
        """Where its id stands."""
        return self.node.get("id").place

    def copy(self, number):
        """Return the element of one copy (None: of the only one), or None where it is wrong."""
        return self.differing.get(number, self.element)


class Parts:
    """The layout's parts, each checked once."""

    def __init__(self, rows, context):
        self.nodes = {}
        for name, _, node in rows:
            self.nodes[name] = node
            self._check(name, node, context)
        context.problems.hush()

    def _check(self, name, node, context):
        called = f"part {name}"
        try:
            kind = _kind_named(_mapping(node, called), called)
        except MistakeError as mistake:
            context.problems.note(mistake)
            return
        parameters = kind.declared()
        read_fields(
            _without(node, ("kind",)), parameters, context, called, dot=f"{called}: ",
            waived=parameters,
        )

    def under(self, node, called):
        """Return an element's node with its part's keys below its own; raises MistakeError."""
        asked = node.get("part")
        if asked is None or isinstance(asked, Removed):
            return node
        name = text_of(asked, f"{called}: part", "name a part")
        if name not in self.nodes:
            raise MistakeError(
                asked.place, f"{called}: there is no part {shown(name)}",
                choose(name, self.nodes, "parts"),
            )
        own = node.get("kind")
        if own is not None and not isinstance(own, Removed):
            raise MistakeError(
                own.place, f"{called}: both a part and a kind", "leave kind out: the part has it"
            )
        part = self.nodes[name]
        return node.over(part) if isinstance(part, Mapping) else node


def read_draft(node, line, context, parts):
    """Return the ElementDraft of an item of a line; raises MistakeError without a usable id."""
    _mapping(node, f"an element of line {line}")
    written = node.get("id")
    if not isinstance(written, Scalar) or written.empty:
        raise MistakeError(
            node.place if written is None else written.place,
            f"an element of line {line} has no id", FORM,
        )
    id = check_id(written)
    return ElementDraft(id, node, read_element(id, node, line, context, parts))


def read_element(id, node, line, context, parts):
    """Return the Element that a node describes, or None with its mistakes noted."""
    try:
        whole = parts.under(node, id)
        kind = _kind_named(whole, id)
        found = _values(id, whole, kind, context)
        settings = Settings(kind, found.values)
        _check_anchors(id, kind, found, node, context)
        _check_values(id, kind, settings, found, node, context)
        if found.spoilt:
            return None
        ports = ports_of(id, kind, settings, found, node)
        settings = Settings(kind, found.values)
        enter, leave = route_of(id, kind, settings, ports, found)
    except MistakeError as mistake:
        context.problems.note(mistake)
        return None
    part = node.get("part")
    loads = settings["loads"] or ()
    return Element(
        id=id, kind=kind, settings=settings, line=line, place=node.get("id").place,
        ports=tuple(port for port in ports if port not in loads), enter=enter, leave=leave,
        stage=found.get("stage"), from_stage=found.get("from"), to_stage=found.get("to"),
        via=found.get("via", ()), part=part.text if isinstance(part, Scalar) else None,
        value_places=found.places,
    )


def _mapping(node, called):
    if not isinstance(node, Mapping):
        raise MistakeError(node.place, f"{called} {what_it_is(node)}", FORM)
    return node


def _kind_named(node, called):
    asked = node.get("kind")
    if asked is None or isinstance(asked, Removed):
        raise MistakeError(node.place, f"{called} has no kind", _kinds(""))
    name = text_of(asked, f"{called}: kind", "name a kind")
    if name not in KINDS:
        raise MistakeError(
            asked.place, f"{called}: there is no kind {shown(name)}", _kinds(name)
        )
    return KINDS[name]


def _kinds(word):
    """Return what kinds there are, the nearest first; the list is never too long for a message."""
    if not word:
        return f"add `kind:`, one of {listed(KINDS)}"
    meant = [kind.name for kind in KINDS.values() if word.lower() in kind.also_called]
    if meant:
        return f"it is called {meant[0]!r} here"
    return choose(word, KINDS, "kinds")


def _without(node, keys):
    kept = {key: entry for key, entry in node.entries.items() if key not in keys}
    return Mapping(node.file, node.line, node.column, kept)


def _values(id, node, kind, context):
    parameters = kind.declared()
    waived: list[str] = []
    if kind.passive and "data" in node.entries:
        # A file stands in place of what would have to be said of a passive part's scattering.
        waived = [name for name, p in parameters.items() if isinstance(p.reads, Measure)]
    return read_fields(
        _without(node, OWN_KEYS), parameters, context, id, dot=f"{id}.", waived=waived
    )


def _check_anchors(id, kind, found, node, context):
    """Note what is missing of where the element is anchored."""
    if "stage" not in kind.declared():
        return
    try:
        if kind.spans_stages:
            _check_span(id, found, node, context)
        elif not {"stage", "temperature"} & (found.nodes.keys() | found.meant):
            raise MistakeError(
                node.place, f"{id} has no stage",
                f"add `stage:`, one of {listed(context.stages)}" if context.stages
                else "add `stage:`, and the stage to `stages:`",
            )
    except MistakeError as mistake:
        context.problems.note(mistake)
        found.spoilt = True


def _check_span(id, found, node, context):
    given = found.nodes
    if found.meant & {"from", "to", "stage", "via"}:
        return
    if not {"from", "to", "stage", "temperature"} & given.keys():
        raise MistakeError(
            node.place, f"{id} is anchored nowhere",
            "add `from:` and `to:`, two stages, or `stage:` for a jumper on one",
        )
    for one, other in (("from", "to"), ("to", "from")):
        if one in given and other not in given:
            raise MistakeError(
                given[one].place, f"{id} has {one}, and no {other}", f"add `{other}:`, a stage"
            )
    if "from" in given and "stage" in given:
        raise MistakeError(
            given["stage"].place, f"{id} has a stage besides from and to",
            "keep from and to, or the stage alone for a jumper",
        )
    if "via" in given and "from" not in given:
        raise MistakeError(
            given["via"].place, f"{id} has via, and no from and to", "add `from:` and `to:`"
        )
    if "from" in given and found.get("from") == found.get("to") is not None:
        stage = found.get("from")
        raise MistakeError(
            given["to"].place, f"{id} runs from {stage} to {stage}", f"write `stage: {stage}`"
        )
    _check_order(id, found, context)


def _check_order(id, found, context):
    """Refuse anchors that go to and fro between warm and cold."""
    if not {"from", "to", "via"} <= found.values.keys():
        return
    met = [found.get("from"), *(stage for stage, _ in found.get("via")), found.get("to")]
    places = [context.stages.index(stage) for stage in met]
    if places not in (sorted(places), sorted(places, reverse=True)):
        order = sorted(dict.fromkeys(met), key=context.stages.index, reverse=places[0] > places[-1])
        raise MistakeError(
            found.places["via"], f"{id} meets its stages out of order: {', '.join(met)}",
            f"let it meet {', '.join(order)}, one after the other",
        )


def _check_values(id, kind, settings, found, node, context):
    """Note what the kind itself refuses; only asked where every value could be read."""
    if found.spoilt:
        return
    try:
        errors = [*kind.check(settings), *phase_problems(kind, settings)]
    except (ParameterError, DataError) as refusal:
        errors = [refusal]
    for error in errors:
        place = found.places.get(getattr(error, "parameter", "data"), node.place)
        context.problems.add(place, f"{id}: {error.what}", error.instead)
        found.spoilt = True
