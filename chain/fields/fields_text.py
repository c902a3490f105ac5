"""The fields of `--json` as a person reads them, with the Python call beside them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping

from chain.writing.text import Result, wrapped

INTRODUCTION = (
    "`--json` prints one object; `as_dict()` of the same result in Python gives it too, and its "
    "fields are attributes of the result as arrays. `*` stands for names that the layout gives, "
    "`[]` for a list. Names, units and meanings are fixed within format 1, more fields may follow; "
    "of prose the wording may change. What is not known is null."
)


def calls_text(calls: Mapping[str, str]) -> str:
    """Return {verb: Python call} as plain text."""
    lines = [wrapped(INTRODUCTION, ""), "", "the Python calls that answer as verbs do", ""]
    lines += [_folded(f"{name:9} {call}", 10) for name, call in calls.items()]
    return "\n".join([*lines, "", "the fields of one verb: chain fields VERB"])


def fields_text(verb: str, call: str, asked: Mapping[str, Iterable[Result]]) -> str:
    """Return the Fields of a verb, {what is asked: fields}, and its Python call as plain text."""
    lines = [f"chain {verb} --json; in Python:", _folded(f"  {call}", 4), "",
             wrapped(INTRODUCTION, "")]
    for what, fields in asked.items():
        lines += ["", *([f"with {what}", ""] if what else [])]
        for field in fields:
            facts = [field.form, field.unit, field.stability.replace("fixed", "")]
            lines.append(f"{field.path:34} {', '.join(fact for fact in facts if fact)}")
            lines.append(wrapped(field.meaning, " " * 35))
    return "\n".join(lines)


def _folded(line, indent):
    return textwrap.fill(line, 96, subsequent_indent=" " * indent)
