"""Results as JSON and CSV for programs, and files written whole or not at all."""

import csv
import io
import json
import math
import os
import tempfile

import numpy as np

FORMAT = 1


def plain(value):
    """Return a value as JSON has it: arrays as lists, what is not finite as null."""
    if isinstance(value, np.ndarray):
        return [plain(item) for item in value.tolist()]
    if isinstance(value, np.floating | float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    return value


def as_json(result):
    """Return a result object (dict) as one line-free JSON text with its format number."""
    return json.dumps(plain({"format": FORMAT, **result}), allow_nan=False, indent=None)


def budget_dict(budget):
    """Return a budget under the names that programs lean on."""
    result = {
        "signal": budget.signal,
        "from": budget.from_port,
        "to": budget.to_port,
        "frequency_hz": budget.frequency_hz,
    }
    if budget.gain_db is not None:
        result["gain_db"] = budget.gain_db
    result["noise_at_to_quanta"] = budget.noise_at_to_quanta
    if budget.gain_db is not None:
        result |= {
            "system_noise_quanta": budget.system_noise_quanta,
            "system_noise_k": budget.system_noise_k,
            "incoming_quanta": budget.incoming_quanta,
            "added_quanta": budget.added_quanta,
            "noise_figure_db": budget.noise_figure_db,
        }
    result |= {
        "shares_quanta": dict(budget.shares_quanta),
        "idler_shares_quanta": dict(budget.idler_shares_quanta),
        "idler_hz": budget.idler_hz,
        "ripple": {name: list(span) for name, span in budget.ripple.items()},
        "warnings": list(budget.warnings),
        "laws": budget.laws.as_dict(),
    }
    return result


def budget_csv(budgets):
    """Return budgets as CSV: one row a signal and frequency, one column a share."""
    ids = list(dict.fromkeys(key for b in budgets.values() for key in b.shares_quanta))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = ["gain_db", "noise_at_to_quanta", "system_noise_quanta", "system_noise_k",
             "incoming_quanta", "added_quanta"]
    writer.writerow(["signal", "frequency_hz", *names, *(f"share_quanta {key}" for key in ids)])
    for name, b in budgets.items():
        columns = [getattr(b, column) for column in names]
        shares = [b.shares_quanta.get(key) for key in ids]
        for i, f in enumerate(b.frequency_hz):
            cells = ["" if c is None else repr(float(c[i])) for c in (*columns, *shares)]
            writer.writerow([name, repr(float(f)), *cells])
    return out.getvalue()


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
