"""Names of what is being written, so that a run that was killed leaves nothing for long."""

import contextlib
import os
import re
import shutil
import time

PART, BEFORE = "part", "before"
"""Endings of what is being written, and of what stood in its place until then."""

_DAY_S = 86_400.0


def draft_path(target: str, ending: str = PART) -> str:
    """Return the path of a new draft beside `target`: hidden, and of this process alone."""
    folder, name = os.path.split(target)
    mark = f"{_machine()}-{os.getpid()}-{os.urandom(4).hex()}"
    return os.path.join(folder, f".{name[:80]}.{mark}.{ending}")


def clear_litter(target: str) -> None:
    """Remove drafts of `target` that killed runs left: of this machine's dead processes, or old."""
    for path in left_behind(target, PART):
        with contextlib.suppress(OSError):
            if os.path.isdir(path) and not os.path.islink(path):
                shutil.rmtree(path)
            else:
                os.unlink(path)


def left_behind(target: str, ending: str) -> list[str]:
    """Return the paths of what killed runs left beside `target` with that ending."""
    folder, name = os.path.split(target)
    form = re.compile(
        rf"\.{re.escape(name[:80])}\.(?P<machine>[0-9a-z]+)-(?P<process>\d+)-[0-9a-f]{{8}}"
        rf"\.{ending}"
    )
    found = []
    with contextlib.suppress(OSError), os.scandir(folder or ".") as entries:
        for entry in entries:
            parts = form.fullmatch(entry.name)
            if parts and _stale(entry, parts["machine"], int(parts["process"])):
                found.append(entry.path)
    return found


def _stale(entry, machine, process):
    if machine == _machine():
        return process != os.getpid() and not _alive(process)
    with contextlib.suppress(OSError):
        return time.time() - entry.stat(follow_symlinks=False).st_mtime > _DAY_S
    return False


def _alive(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _machine():
    """Return this machine's name as part of a file name."""
    import socket  # 3 ms that only who writes files needs

    return re.sub(r"[^0-9a-z]", "", socket.gethostname().lower())[:20] or "x"
