"""A folder of files, written whole or not at all; nothing that others put there is lost."""

import contextlib
import ctypes
import hashlib
import os
import shutil
import stat

from chain.writing.drafts import BEFORE, clear_litter, draft_path, left_behind
from chain.writing.files import CannotWrite
from chain.writing.foreign_text import one_line

CONTENTS = "contents.txt"
"""Lists what was written, each file with its hash and at last the list itself, so that the next run
knows what it may replace."""


def write_folder(path, files, progress=None, *, read=()):
    """Write {relative name: text or bytes} as the folder `path`; raises CannotWrite.

    Everything goes into a folder beside it first, which then takes its place.  A folder that holds
    anything that was not written so, or was changed since, is left alone, as is one in which a
    file stands that was `read`.
    """
    target = os.path.realpath(path)
    try:
        _restore(target)
        refuse_foreign(path, read=read)
        clear_litter(target)
        draft = draft_path(target)
        os.mkdir(draft)
    except OSError as error:
        raise CannotWrite(f"{one_line(path)}: {error.strerror or error}") from error
    try:
        _fill(draft, files, progress)
        _take_place(one_line(path), draft, target)
    except OSError as error:
        raise CannotWrite(f"{one_line(path)}: {error.strerror or error}") from error
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
        lines.append(_listed(data, name))
        if progress is not None:
            progress(place + 1, len(files))
    listed = "".join(sorted(lines, key=lambda line: line[66:]))
    with open(os.path.join(draft, CONTENTS), "w", encoding="utf-8", newline="\n") as file:
        file.write(listed + _listed(listed.encode(), CONTENTS))


def _listed(data, name):
    return f"{hashlib.sha256(data).hexdigest()}  {name}\n"


# -- taking the place ---------------------------------------------------------------------------


def _take_place(shown, draft, target):
    """Put the draft in the target's place, in one step where the system can."""
    if not os.path.lexists(target):
        os.rename(draft, target)
        return
    os.chmod(draft, stat.S_IMODE(os.stat(target).st_mode))
    if _exchanged(draft, target):
        # What was there has the draft's name now, and goes with it: nobody wrote into it meanwhile?
        try:
            _refuse_contents(shown, draft)
        except BaseException:
            _exchanged(draft, target)
            raise
        return
    aside = draft_path(target, BEFORE)
    os.rename(target, aside)
    try:
        os.rename(draft, target)
    except OSError:
        os.rename(aside, target)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _restore(target):
    """Bring back what a run killed between two renames had put aside."""
    for aside in left_behind(target, BEFORE):
        if os.path.lexists(target):
            shutil.rmtree(aside, ignore_errors=True)
        else:
            os.rename(aside, target)


_HERE, _EXCHANGE = -100, 2
"""Of Linux's renameat2: paths as they are, and both names exchanged at once."""


def _exchanged(one, other):
    """Exchange two names in one step; False where the system cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    return rename(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0


# -- what may go --------------------------------------------------------------------------------


def refuse_foreign(path, *, read=()):
    """Raise CannotWrite for a target that is no folder, or that holds what was not written here."""
    target = os.path.realpath(path)
    shown = one_line(path)
    if not os.path.lexists(target):
        return
    if not os.path.isdir(target):
        raise CannotWrite(f"{shown} is a file, not a folder")
    for one in read:
        if os.path.realpath(one).startswith(os.path.join(target, "")):
            raise CannotWrite(f"{shown} holds {one_line(one)}, which was read and would be lost")
    _refuse_contents(shown, target)


def _refuse_contents(shown, folder):
    known = _known(folder)
    if known is None and os.path.lexists(os.path.join(folder, CONTENTS)):
        raise CannotWrite(
            f"{shown} holds {CONTENTS}, which was not written here, or changed since, and would be "
            "lost"
        )
    for name, entry in _found(folder):
        if name == CONTENTS and known is not None:
            continue
        if name not in (known or ()):
            raise CannotWrite(
                f"{shown} holds {one_line(name)}, which was not written here and would be lost"
            )
        if not _unchanged(entry, known[name]):
            raise CannotWrite(
                f"{shown} holds {one_line(name)}, which was changed since it was written and would "
                "be lost"
            )


def _found(target):
    """Yield (name from the target on, path) of every file, link, device and empty folder in it."""
    waiting = [(target, "")]
    while waiting:
        folder, before = waiting.pop()
        with os.scandir(folder) as found:
            entries = sorted(found, key=lambda entry: entry.name)
        if before and not entries:
            yield before.rstrip("/"), folder
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                waiting.append((entry.path, f"{before}{entry.name}/"))
            else:
                yield f"{before}{entry.name}", entry.path


def _known(target):
    """Return {name: hash} of what an earlier run listed, None where no such list stands there."""
    with contextlib.suppress(OSError, UnicodeDecodeError), \
            open(os.path.join(target, CONTENTS), encoding="utf-8", newline="\n") as file:
        *lines, last = file.readlines() or [""]
        if last == _listed("".join(lines).encode(), CONTENTS):
            return {line.rstrip("\n")[66:]: line[:64] for line in lines}
    return None


def _unchanged(path, digest):
    try:
        if not stat.S_ISREG(os.lstat(path).st_mode):
            return False
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == digest
    except OSError:
        return False
