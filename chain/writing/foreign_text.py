"""Text that other people wrote, made harmless and visible before it goes into an output.

One rule for titles, notes, names, file names and values of `--set`: in text for people it stays on
its line (`one_line`: tables, paragraphs and mistakes see to it themselves) and what cannot be seen
is written out (`visible`: every verb prints through it).  JSON keeps it as it is.  What a mistake
quotes is written as Python does, so that a break in it can be told from a blank.
"""

from __future__ import annotations

import unicodedata

_BREAKS = {"\n", "\r", "\x85", "\u2028", "\u2029", "\t", "\x0b", "\x0c"}


def visible(text: object) -> str:
    """Return `text` with what cannot be seen written out, as in `\\u202e`; line breaks stay.

    Marks that turn the direction of writing would let a text show what it does not say; halves of
    characters (from file names that are no text) cannot be written to a file at all.
    """
    return "\n".join(
        line if line.isprintable() else "".join(_shown(character) for character in line)
        for line in str(text).split("\n")
    )


def one_line(text: object, *, collapsed: bool = True) -> str:
    """Return `text` as `visible` does, on one line: runs of blanks and breaks are one blank.

    Not `collapsed`, what stands on one line and can be seen is left as it is, blanks and all.
    """
    line = str(text)
    if not line.isprintable():
        line = visible("".join(" " if c in _BREAKS else c for c in line))
    elif not collapsed:
        return line
    return " ".join(line.split())


def _shown(character):
    if character in "\n\t" or " " <= character <= "~":
        return character
    category = unicodedata.category(character)
    if category in ("Cc", "Cf", "Cs", "Co", "Cn") or character in "\u2028\u2029":
        code = ord(character)
        return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
    return character
