"""What `--json` prints, field by field: from real results, and what their classes say of them."""

from __future__ import annotations

import ast
import functools
import inspect
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import chain.api
from chain.api import Layout
from chain.errors import LayoutError, Place
from chain.fields.samples import ADDED, EACH, GRID, MEASURED, MORE, PLAN, RESULTS, SAMPLES
from chain.layout.margins import BY_NAME
from chain.reference.demos import demo_files
from chain.results.heat import Heat
from chain.suggestions import choose

ROOMS = ("noise", "heat", "power", "design", "advice", "service", "measurement", "diagnosis",
         "network")
"""Rooms whose classes say what fields mean."""

FIXED, WORDING = "fixed", "wording may change"
"""How far programs can lean on a field: on its name always, on its text not where it is prose."""


@dataclass(frozen=True)
class Field:
    """One field of a verb's JSON."""

    path: str
    """`tones.*.arriving_dbm.*`: `*` stands for names of the layout, `[]` for a list."""
    form: str
    """What stands there: number, text, list over frequency, ..."""
    unit: str
    meaning: str
    stability: str


_UNITS = {
    "quanta": "quanta", "db": "dB", "dbm": "dBm", "w": "W", "k": "K", "hz": "Hz", "m": "m",
    "seconds": "s", "bits": "bits", "ohm": "ohm", "dbm_hz": "dBm/Hz",
}
_ERRORS = {
    "sigma": "whole standard deviation of", "own": "the part of its error new at each point, of",
    "common": "the part of its error common to all points, of",
    "68": "least and most of 68 in 100, of", "95": "least and most of 95 in 100, of",
    "missed_sigma": "measured less predicted over both standard deviations, of",
}
"""What is said of another value: the ending of its name."""

_EVERYWHERE = {
    "lower_bound": "true where it may be hotter than that", "stage_k": "of its stage",
    "temperature_k": "its noise temperature", "while_on_k": "while pulsed tones are on",
    "least_k": "were an assumed film cooled ten times better",
    "most_k": "were it cooled ten times worse",
    "not_counted_w": "what elements absorb of which nobody states how they warm",
    "unknown_cables_w": "what cables absorb that are given by their loss alone",
    "quanta": "what warming by tones adds to the noise", "least_quanta": "the same at least",
    "most_quanta": "the same at most", "total_in_dbm": "all tones together at its input",
    "total_out_dbm": "all tones together at its output",
    "format": "version of these names, 1: within it a name keeps its unit and meaning, "
        "and more may follow",
    "warnings": "what to mind about this answer, in sentences",
    "laws": "residuals of laws that this run checked, by law; empty where none was",
    "signal": "the signal's name",
    "from": "the port whose outgoing wave values are referred to, or a trace's first port",
    "to": "the port at which the wave arrives",
    "frequency_hz": "frequencies that arrays run over, or of the tone",
    "id": "the element",
    "conduction": "what flows in less what flows out, over what flows",
    "value": "the value, in base units or as the layout writes it",
    "text": "the value as written",
    "unit": "its dimension",
    "energy": "worst balance residual",
    "source": "the element that was hot and cold",
    "about": "what it is about",
    "sensitivity_of": "the quantity whose variance `sensitivity` parts",
    "draws": "number of draws",
    "seed": "their seed",
    "mean": "mean over the draws",
    "p50": "half of the draws lie below",
    "p95": "95 of a hundred draws lie below",
    "dumped_cold": "sentences on elements that absorb much of their stage's cooling power",
    "settled_total_w": "heat load in the steady state",
    "line": "the line, or the line of the file",
    "accepted": "findings that the layout accepts, each with its reason",
    "accept": "what the layout accepts: code and reason",
    "elements": "ids that it is about",
    "level": "error, warning or note",
    "code": "name of the rule",
    "file": "the layout file",
    "nothing_arrives": "true where nothing of the signal arrives any more",
    "tag": "what to write on both sides",
    "check": "what to check after it",
    "cautions": "what goes for all of the work",
    "stage": "where it is",
    "torque": "of its connector, where known",
    "tool": "what it takes",
    "high_db": "upper end",
    "measured": "the measured file",
    "measured_db": "as measured",
    "parameter": "the layout's key, or which of a file's S-parameters",
    "error": "name of the error",
    "size": "its size, as a person writes it",
    "lasting_errors": "errors that are the same next time too",
    "files": "files read",
    "place": "where it stands in its file",
    "chi2": "sum of squared residuals over their errors",
    "freedom": "degrees of freedom",
    "loss_to_plane_db": "from the load to the plane",
    "convention": "what the numbers mean",
    "layout": "which layout it is about",
    "path": "its file",
    "title": "its title",
    "sha256": "hash of its files",
    "version": "of this program",
    "changes": "made by --set",
    "values": "its values, by key",
    "part": "relative to the whole",
    "low_hz": "where it begins",
    "high_hz": "where it ends",
    "reached": "true where the wanted error is within reach",
    "hottest_k": "of the load",
    "seconds_a_sweep": "averaging at each frequency",
    "bandwidth_hz": "of each power",
    "error_quanta": "wanted error of the added noise",
    "power_sigma_relative": "of each power",
    "added_quanta": "added noise",
    "paramps_on": "true for a sweep with the paramps on",
    "load_k": "temperature of the load",
    "pump_hz": "frequency of the pump",
    "least_gain_db": "gain over off that was asked for",
    "points": "every point of the pump",
    "noise_quanta": "at the plane, without what is added",
    "predicted_gain_db": "by the layout",
    "predicted_added_quanta": "by the layout",
    "added_noise_k": "added noise",
    "gain_difference_db": "gain less the best's",
    "change": "as --set writes it, or its amount",
    "added_difference_quanta": "added noise less the best's",
    "gain_db": "gain",
    "this": "file of this time's result",
    "last": "file of last time's result",
    "quantity": "which it is",
    "from_hz": "where it begins",
    "to_hz": "where it ends",
    "sigma": "its standard deviation",
    "same_both_times": "common errors that cancel",
    "methods": "a paragraph for a methods section",
    "changed": "what makes the second of the first",
    "gain_change_db": "gain less the gain before",
    "added_change_quanta": "added noise less that before",
    "remedy": "what would put it right",
    "equilibrium": "worst excess at matched outside connectors, all at one temperature",
    "commutation": "worst miss of the commutators' sum, one at a matched connector",
    "says": "the sentence",
    "set": "the change as --set writes it, where it is one of values",
    "what": "the number by which the layout is judged",
    "before": "in the layout as it is", "after": "with the remedy",
    "limit": "the margin that it is held against, null for none",
    "remedies": "every remedy that was thought of, those that help most first",
    "weight": "how probable it is, all of them together one",
    "unknown_length": "pieces whose length the layout does not give",
    "missing_when_hottest": "power missing at the hottest reading",
}
"""What is no field of a result's own classes, or means the same everywhere."""


def verbs_with_fields() -> list[str]:
    """Return the verbs whose JSON is told here."""
    return list(SAMPLES)


@functools.cache
def fields_of(verb: str) -> dict[str, tuple[Field, ...]]:
    """Return {what is asked: its fields in the order in which they are printed} of a verb.

    Raises LayoutError for a verb without any.
    """
    if verb not in SAMPLES:
        raise LayoutError.at(
            Place("chain fields"), f"{verb!r} prints no result as JSON",
            choose(verb, SAMPLES, "verbs"),
        )
    with tempfile.TemporaryDirectory() as folder:
        for name, content in demo_files().items():
            Path(folder, name).write_bytes(content)
        results = SAMPLES[verb](Path(folder))
    found = {}
    for asked, result in results.items():
        values: dict[str, list[Any]] = {}
        for path, value in _walked(result.as_dict(), _names(result)):
            values.setdefault(path, []).append(value)
        meaning = _Meanings(result)
        found[asked] = tuple(_field(path, every, meaning) for path, every in values.items())
    return found


def asked_of(verb: str) -> list[str]:
    """Return what can be asked of a verb, as its options say it; first what it does without."""
    return ["", *(asked for name, asked in _CALLS if name == verb and asked)]


def call_of(verb: str, asked: str = "") -> str:
    """Return the Python call that answers as a verb does, asked so, with its arguments."""
    owner, name = _CALLS.get((verb, asked), ("layout", verb))
    function = {"layout": Layout, "layout.heat()": Heat, "chain": chain.api}[owner]
    shown = inspect.signature(getattr(function, name))
    own = [one for one in shown.parameters.values() if one.name != "self"]
    text = str(shown.replace(parameters=own)).replace("'", "").replace("plain.Layout", "Layout")
    return f"{owner}.{name}{text}"


_CALLS = {
    ("warm", ""): ("layout", "warm_sheet"), ("budget", ADDED): ("layout", "spread"),
    ("heat", MORE): ("layout.heat()", "more"), ("compare", EACH): ("layout", "failures"),
    ("compare", MEASURED): ("layout", "against_trace"),
    ("compare", RESULTS): ("chain", "compare_results"),
    ("reduce", PLAN): ("layout", "plan"), ("reduce", GRID): ("layout", "pump_grid"),
}
"""Calls that are not the method of the Layout called as the verb is."""


# -- what there is ------------------------------------------------------------------------------


def _walked(value: Any, names: set[str], path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield (path, value) of every leaf of a result, names of the layout's own as `*`."""
    if isinstance(value, dict) and value:
        free = any("." in key for key in value) or all(key in names for key in value)
        for key, inside in value.items():
            name = "*" if free else key
            yield from _walked(inside, names, f"{path}.{name}" if path else name)
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for inside in value:
            yield from _walked(inside, names, f"{path}[]")
    else:
        yield path, value


def _names(result):
    """Return every name that a layout, not this program, gives."""
    errors = getattr(getattr(result, "added", None), "effects", {})
    layout = getattr(result, "layout", None) or getattr(
        getattr(result, "a", None) or getattr(result, "heat", None), "layout", None)
    if layout is None:
        return set()
    parts = (layout.elements, layout.stages, layout.tones, layout.signals, layout.lines, BY_NAME)
    return {name for part in parts for name in part} | {name.partition(".")[0] for name in errors}


def _field(path, values, meaning):
    names = [name.removesuffix("[]") for name in path.split(".") if name != "*"]
    base, error = _parted(names[-1])
    if error:
        said = f"{_ERRORS[error]} {base}"
    else:
        said = meaning.of(names) or _EVERYWHERE.get(names[-1], "")
    said = re.sub(r"\bNone\b", "null", said).rstrip(".")
    return Field(path, _form(values), _unit(names), said, _stability(names[-1], values))


def _parted(key):
    """Return (what it is an error of, which) of a name like `gain_db_sigma`; (key, "") else."""
    for ending in sorted(_ERRORS, key=len, reverse=True):
        base = key.removesuffix(f"_{ending}")
        if base not in (key, ""):
            return base, ending
    return key, ""


def _form(values):
    forms = dict.fromkeys(_form_of(value) for value in values)
    null = forms.pop("null", "") is None
    words = " or ".join(forms)
    return f"{words} or null" if null and words else words or "null"


def _form_of(value):
    if isinstance(value, list):
        return f"list of {_form_of(value[0])}s" if value else "list"
    if value is None:
        return "null"
    return {bool: "true or false", str: "text", dict: "mapping"}.get(type(value), "number")


def _unit(names):
    """Return the unit of the last of nested names, or of the nearest above it that has one."""
    for key in reversed(names):
        base, error = _parted(key)
        parts = base.split("_")
        endings = ("_".join(parts[-2:]), *reversed(parts))
        if error == "missed_sigma":
            return "sigma"
        unit = next((_UNITS[one] for one in endings if one in _UNITS), "")
        if unit or len(parts) > 1:
            return unit
    return ""


def _stability(key, values):
    flat = [item for value in values for item in (value if isinstance(value, list) else [value])]
    prose = any(isinstance(item, str) and item.count(" ") > 2 for item in flat)
    return WORDING if prose or key in ("warnings", "words", "remark") else FIXED


# -- what it means ------------------------------------------------------------------------------


class _Meanings:
    """What a result's class, and the classes that its fields name, say of their fields."""

    def __init__(self, result):
        own = type(result).__mro__[2]
        self._room = own.__module__.split(".")[1]
        self._top = self._class(own.__name__)

    def _class(self, name):
        """Return the class of that name, of the result's own room before others; or None."""
        every = _classes().get(name, {})
        return every.get(self._room) or next(iter(every.values()), None)

    def of(self, names):
        """Return the sentence on the last of nested names; empty where no class has one."""
        here = [self._top]
        for name in names[:-1]:
            here = self._below(here, name) or here
        own = next((one.said[names[-1]] for one in here if names[-1] in one.said), "")
        return own or self._anywhere(names[-1])

    def _below(self, classes, name):
        named = [self._class(one) for each in classes for one in each.named.get(name, ())]
        return [one for one in named if one is not None]

    def _anywhere(self, name):
        waiting, seen = [self._top], []
        while waiting:
            one = waiting.pop(0)
            if one in seen:
                continue
            seen.append(one)
            if name in one.said:
                return one.said[name]
            waiting += [below for field in one.named for below in self._below([one], field)]
        return ""


@dataclass(frozen=True)
class _Class:
    said: dict[str, str]
    """{field or property: its sentence}."""
    named: dict[str, tuple[str, ...]]
    """{field or property: classes that its type names}."""


@functools.cache
def _classes() -> dict[str, dict[str, _Class]]:
    """Return {name: {room: what the class says}} of the classes of ROOMS."""
    top = Path(__file__).parents[1]
    found: dict[str, dict[str, _Class]] = {}
    for room in ROOMS:
        for path in sorted((top / room).glob("*.py")):
            for node in ast.parse(path.read_text(encoding="utf-8")).body:
                if isinstance(node, ast.ClassDef):
                    found.setdefault(node.name, {})[room] = _Class(_said(node), _named(node))
    return found


def _said(node):
    """Return {name: sentence} of a class: the text below a field, the docstring of a property."""
    said = {}
    for one, after in zip(node.body, [*node.body[1:], None], strict=True):
        if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
            text = after.value.value if _is_text(after) else ""
            said[one.target.id] = " ".join(text.split())
        elif isinstance(one, ast.FunctionDef) and not one.name.startswith("_"):
            said[one.name] = " ".join((ast.get_docstring(one) or "").split())
    return {name: text for name, text in said.items() if text}


def _is_text(node):
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _named(node):
    found = {}
    for one in node.body:
        if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
            found[one.target.id] = tuple(re.findall(r"[A-Z]\w+", ast.unparse(one.annotation)))
        elif isinstance(one, ast.FunctionDef) and one.returns is not None:
            found[one.name] = tuple(re.findall(r"[A-Z]\w+", ast.unparse(one.returns)))
    return found
