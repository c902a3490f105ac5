"""What sheets say once and point to by a letter: cautions, and checks that are long."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chain.writing.text import Result

BACK = "Anchors by hand first; tighten them at the last joint of what they hold."
TAG = "Write the joint's name on a tag on both sides first."
STOP = ("Stop where something is not as it should be: write it down, tell whoever is responsible, "
        "open nothing more.")
SIGNED = "Initials and time at every joint; nobody signs for another."


def notes_of(found: Result) -> dict[str, str]:
    """Return {text: letter} of all cautions and long checks, in the order in which they come."""
    letters: dict[str, str] = {}
    for step in (*found.undo, *found.redo):
        for text in (*step.cautions, *(general_part(check) for check in step.checks[:1])):
            letters.setdefault(text, _letter(len(letters)))
    return letters


def _letter(place):
    """Return a, b, ... z, aa, ab, ..."""
    text = ""
    while place >= 0:
        text = chr(ord("a") + place % 26) + text
        place = place // 26 - 1
    return text


def general_part(check: str) -> str:
    """Return a check without the parts that it is about, which stand in brackets at its end."""
    return check.rpartition(" (")[0]


def letters_text(step: Result, notes: dict[str, str]) -> str:
    """Return the letters of a step's cautions."""
    return " ".join(notes[text] for text in step.cautions)


def checks_text(step: Result, notes: dict[str, str]) -> str:
    """Return the checks of a step with the long first one as its letter."""
    if not step.checks:
        return ""
    first, *more = step.checks
    parts = first.rpartition(" (")[2].rstrip(")")
    return "; ".join([f"{notes[general_part(first)]} of {parts}", *more])


def one_torque(found: Result) -> str:
    """Return the torque of every joint where it is one, else nothing."""
    said = {step.torque for step in found.undo if step.torque}
    return f"torque: {said.pop()}" if len(said) == 1 else ""
