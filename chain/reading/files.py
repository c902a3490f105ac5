"""Bytes of a layout file, and the text in them."""

import os
import re
import stat
import sys

from chain.errors import Place
from chain.reading.problems import MistakeError
from chain.reading.reach import is_standard_input
from chain.suggestions import nearest

MAX_BYTES = 4 << 20
"""A layout of many thousand elements, each written out, has about one megabyte."""

_NOT_TEXT = "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
_NOT_ASCII_TEXT = "[^\t\n\r\x20-\x7e]"
BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")


def read_bytes(path, place=None):
    """Return the bytes of the layout file at `path`; raises MistakeError, at `place` where given.

    Nothing but a plain file is opened: a pipe or a device could make the reader wait for ever.
    """
    place = place or Place(path)
    if is_standard_input(path):
        return _read_standard_input(path, place)
    try:
        found = os.stat(path)
    except (OSError, ValueError) as error:
        raise MistakeError(place, f"{path}: {_reason(error)}", what_there_is(path)) from error
    if stat.S_ISDIR(found.st_mode):
        raise MistakeError(place, f"{path} is a directory", "name a layout file")
    if not stat.S_ISREG(found.st_mode):
        raise MistakeError(place, f"{path} is not a plain file", "save it as a file and name that")
    if found.st_size > MAX_BYTES:
        raise _too_large(path, place, found.st_size)
    try:
        with open(path, "rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        instead = "name a file that you may read"
        raise MistakeError(place, f"{path} cannot be read: {_reason(error)}", instead) from error
    if len(data) > MAX_BYTES:
        raise _too_large(path, place, len(data))
    return data


def _read_standard_input(path, place):
    stream = getattr(sys.stdin, "buffer", None)
    if stream is None:
        raise MistakeError(place, "standard input is closed", "pipe a layout into it")
    data = stream.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise _too_large(path, place, len(data))
    return data


def _too_large(path, place, size):
    return MistakeError(
        place, f"{path} has {size / (1 << 20):.0f} MB",
        f"a layout has at most {MAX_BYTES >> 20} MB; write equal lines with `copies`",
    )


def _reason(error):
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    if isinstance(error, ValueError) and not isinstance(error, UnicodeError):
        # Every Python words it otherwise.
        return "a file name holds no null character"
    return (getattr(error, "strerror", None) or str(error)).lower()


def what_there_is(path):
    """Return words on what stands at a path where no layout can be read, or near it."""
    folder, name = os.path.split(path)
    close = nearest(name, _names_in(folder))
    return f"did you mean {os.path.join(folder, close)!r}?" if close else "name a file that exists"


def _names_in(folder):
    names = []
    try:
        with os.scandir(folder or ".") as entries:
            for entry in entries:
                names.append(entry.name)
                if len(names) == 1000:
                    break
    except (OSError, ValueError):
        return []
    return names


def text_of(data, name):
    """Return the text in a file's bytes; raises MistakeError where they are not UTF-8 text."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise MistakeError(Place(name), "the file is in UTF-16", "save it in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8-sig", "replace")
        raise MistakeError(
            place_in(before, name), f"the byte {data[error.start]:#04x} is not UTF-8 text",
            "save the file in UTF-8",
        ) from error
    # The full set takes 3 ms to compile: a file of ASCII alone needs a short one.
    strange = re.search(_NOT_ASCII_TEXT if text.isascii() else _NOT_TEXT, text)
    if strange:
        code = f"U+{ord(strange.group()):04X}"
        raise MistakeError(
            place_in(text[: strange.start()], name), f"the character {code} is not text",
            "give a layout in plain UTF-8 text, and take this character out",
        )
    return text


def place_in(before, name):
    """Return the Place right after the text `before` of a file."""
    breaks = list(BREAK.finditer(before))
    start = breaks[-1].end() if breaks else 0
    return Place(name, len(breaks) + 1, len(before) - start + 1)
