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


def calls_text(calls: Mapping[str, Mapping[str, str]]) -> str:
    """Return {verb: {what is asked: Python call}} as plain text."""
    lines = [wrapped(INTRODUCTION, ""), "", "the Python calls that answer as verbs do", ""]
    for verb, asked in calls.items():
        for what, call in asked.items():
            lines += [f"{verb} {what}".rstrip(), _folded(f"  {call}", 4)]
    return "\n".join([*lines, "", "the fields of one verb: chain fields VERB"])


def fields_text(
    verb: str, calls: Mapping[str, str], asked: Mapping[str, Iterable[Result]]
) -> str:
    """Return the Fields of a verb and its Python calls, {what is asked: ...}, as plain text."""
    lines = [f"chain {verb} --json", "", wrapped(INTRODUCTION, "")]
    for what, fields in asked.items():
        with_it = f"with {what}; in Python" if what else "in Python"
        lines += ["", with_it, _folded(f"  {calls[what]}", 4), ""]
        for field in fields:
            facts = [field.form, field.unit, field.stability.replace("fixed", "")]
            lines.append(f"{field.path:34} {', '.join(fact for fact in facts if fact)}")
            lines.append(wrapped(field.meaning, " " * 35))
    return "\n".join(lines)


def _folded(line, indent):
    return textwrap.fill(line, 96, subsequent_indent=" " * indent)
