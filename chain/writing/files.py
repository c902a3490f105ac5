"""Files written whole or not at all, several of one run together, and never over what was read."""

import contextlib
import os
import stat
from collections.abc import Iterable

from chain.writing.drafts import clear_litter, draft_path
from chain.writing.foreign_text import one_line


class CannotWrite(Exception):
    """A file cannot be written; nothing of it was left behind."""


def write_whole(path: str, content: str | bytes, *, read: Iterable[str] = ()) -> None:
    """Write text or bytes to `path` whole or not at all; see `write_together`."""
    write_together([(path, content)], read=read)


def write_together(
    outputs: Iterable[tuple[str, str | bytes]], *, read: Iterable[str] = ()
) -> None:
    """Write (path, text or bytes) pairs: all of them, each whole, or none; raises CannotWrite.

    Links are followed and modes kept.  Refused are paths of files that were `read`, folders,
    devices, pipes, and two names of one file.
    """
    outputs = list(outputs)
    targets = refuse_outputs([path for path, _ in outputs], read=read)
    drafts = {}
    try:
        for path, content in outputs:
            with _refusing(path):
                drafts[path] = _drafted(targets[path], content)
        _take_places(targets, drafts)
    finally:
        for draft in drafts.values():
            with contextlib.suppress(OSError):
                os.unlink(draft)


def refuse_outputs(paths: Iterable[str], *, read: Iterable[str] = ()) -> dict[str, str]:
    """Return {path: file that it leads to}; raises CannotWrite where one may not be written."""
    inputs = [os.path.realpath(path) for path in read]
    targets: dict[str, str] = {}
    for path in paths:
        with _refusing(path):
            target = os.path.realpath(path)
            _refuse_kind(path, target)
            if any(_same(one, target) for one in inputs):
                raise CannotWrite(f"{one_line(path)} is a file that was read, and would be lost")
            if any(_same(target, other) for other in targets.values()):
                raise CannotWrite(f"{one_line(path)} is named for two outputs")
        targets[path] = target
    return targets


@contextlib.contextmanager
def _refusing(path):
    try:
        yield
    except (OSError, ValueError) as error:
        what = getattr(error, "strerror", None) or error
        raise CannotWrite(f"{one_line(path)}: {what}") from error


def _refuse_kind(path, target):
    try:
        mode = os.stat(target).st_mode
    except FileNotFoundError:
        return
    if not stat.S_ISREG(mode):
        what = "a folder" if stat.S_ISDIR(mode) else "a device or pipe, not a plain file"
        raise CannotWrite(f"{one_line(path)} is {what}")


def _same(one, other):
    if one == other:
        return True
    try:
        return os.path.samefile(one, other)
    except OSError:
        return False


def _drafted(target, content):
    """Write a draft beside a target and return its path."""
    clear_litter(target)
    draft = draft_path(target)
    data = content.encode("utf-8", "backslashreplace") if isinstance(content, str) else content
    # A new file gets what the process's mask leaves of 0o666.
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileNotFoundError):
            os.chmod(draft, stat.S_IMODE(os.stat(target).st_mode))
    except BaseException:
        os.unlink(draft)
        raise
    return draft


def _take_places(targets, drafts):
    """Put every draft in its target's place; those already there come back if one fails."""
    kept = {}
    try:
        for path, target in targets.items():
            with _refusing(path):
                kept[path] = _kept(target) if len(targets) > 1 else None
                os.replace(drafts[path], target)
                del drafts[path]
    except BaseException:
        for path in kept:
            if path not in drafts:
                _bring_back(targets[path], kept[path])
        raise
    finally:
        for copy in kept.values():
            if copy is not None:
                with contextlib.suppress(OSError):
                    os.unlink(copy)


def _kept(target):
    """Return a second name of what stands at a target, None where nothing does."""
    copy = draft_path(target)
    try:
        os.link(target, copy)
    except FileNotFoundError:
        return None
    return copy


def _bring_back(target, copy):
    with contextlib.suppress(OSError):
        if copy is None:
            os.unlink(target)
        else:
            os.replace(copy, target)
