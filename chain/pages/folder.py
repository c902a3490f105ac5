"""A folder of files, written whole or not at all; old files stay whole when that fails."""

import contextlib
import hashlib
import os
import shutil
import tempfile

from chain.writing.files import CannotWrite

CONTENTS = "contents.txt"
"""Lists what was written, so that the next run knows what it may replace."""


def write_folder(path, files, progress=None):
    """Write {relative name: text} as the folder `path`; raises CannotWrite.

    Everything goes into a folder beside it first, which then takes its place.  A folder that holds
    anything that was not written so is left alone.
    """
    target = os.path.realpath(path)
    parent = os.path.dirname(target)
    _refuse_foreign(path, target)
    try:
        draft = tempfile.mkdtemp(dir=parent, prefix=f".{os.path.basename(target)}.", suffix=".part")
    except OSError as error:
        raise CannotWrite(f"{path}: {error.strerror or error}") from error
    try:
        _fill(draft, files, progress)
        _take_place(draft, target)
    except OSError as error:
        raise CannotWrite(f"{path}: {error.strerror or error}") from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _fill(draft, files, progress):
    lines = []
    for place, (name, content) in enumerate(files.items()):
        data = content.encode() if isinstance(content, str) else content
        whole = os.path.join(draft, *name.split("/"))
        os.makedirs(os.path.dirname(whole), exist_ok=True)
        with open(whole, "wb") as file:
            file.write(data)
        lines.append(f"{hashlib.sha256(data).hexdigest()}  {name}\n")
        if progress is not None:
            progress(place + 1, len(files))
    with open(os.path.join(draft, CONTENTS), "w", encoding="utf-8") as file:
        file.write("".join(sorted(lines, key=lambda line: line[66:])))
    mask = os.umask(0)
    os.umask(mask)
    os.chmod(draft, 0o777 & ~mask)


def _take_place(draft, target):
    """Put the draft in the target's place; the old folder comes back if that fails."""
    if not os.path.lexists(target):
        os.rename(draft, target)
        return
    old = tempfile.mkdtemp(dir=os.path.dirname(target), prefix=f".{os.path.basename(target)}.",
                           suffix=".old")
    try:
        os.rename(target, os.path.join(old, "pages"))
        try:
            os.rename(draft, target)
        except OSError:
            os.rename(os.path.join(old, "pages"), target)
            raise
    finally:
        if os.path.lexists(target):
            shutil.rmtree(old, ignore_errors=True)


def _refuse_foreign(path, target):
    """Refuse a target that is no folder, or that holds what was not written by this."""
    if not os.path.lexists(target):
        return
    if not os.path.isdir(target):
        raise CannotWrite(f"{path} is a file, not a folder")
    known = {CONTENTS, *_known(target)}
    for folder, _, names in os.walk(target):
        for name in names:
            whole = os.path.relpath(os.path.join(folder, name), target).replace(os.sep, "/")
            if whole not in known:
                raise CannotWrite(
                    f"{path} holds {whole!r}, which was not written here and would be lost"
                )


def _known(target):
    with contextlib.suppress(OSError, UnicodeDecodeError), \
            open(os.path.join(target, CONTENTS), encoding="utf-8") as file:
        return [line.rstrip("\n")[66:] for line in file]
    return []
