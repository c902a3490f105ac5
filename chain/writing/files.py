"""Files written whole or not at all."""

import os
import tempfile


class CannotWrite(Exception):
    """A file cannot be written; nothing of it was left behind."""


def write_whole(path, content):
    """Write text or bytes to `path` whole or not at all; raises CannotWrite."""
    data = content.encode() if isinstance(content, str) else content
    folder = os.path.dirname(os.path.abspath(path))
    try:
        handle, draft = tempfile.mkstemp(dir=folder, prefix=".", suffix=".part")
    except OSError as error:
        raise CannotWrite(f"{path}: {error.strerror or error}") from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(draft, 0o666 & ~_umask())
        os.replace(draft, path)
    except OSError as error:
        os.unlink(draft)
        raise CannotWrite(f"{path}: {error.strerror or error}") from error


def _umask():
    mask = os.umask(0)
    os.umask(mask)
    return mask
