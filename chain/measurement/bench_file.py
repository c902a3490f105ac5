"""Several data sets in a small YAML file: what was measured, and what was changed on purpose."""

from __future__ import annotations

import os
from collections.abc import Sequence as Rows
from typing import Any

from chain.errors import LayoutError, Place
from chain.measurement.data_sets import OPTION, DataSet, data_set, read_columns
from chain.reading.files import read_bytes
from chain.reading.nodes import Mapping, Scalar, Sequence, compose
from chain.reading.problems import MistakeError, Problems
from chain.suggestions import choose

KEYS = ("file", "with", "warm", "ports", "signal")
"""Keys of one data set."""

MOST_SETS = 20

_RIGHT = "write measured: [{file: on.csv}, {file: off.csv, with: {X1.state: 'off'}}]"


def read_data_sets(paths: Rows[str]) -> list[DataSet]:
    """Return the DataSets of files: CSV, JSON of reduce, Touchstone, or YAML that names others.

    Raises LayoutError with line and column.
    """
    found = []
    for path in paths:
        if str(path).lower().endswith((".yaml", ".yml")):
            found += _of_bench(str(path))
        else:
            found.append(data_set(path))
    if len(found) > MOST_SETS:
        raise LayoutError.at(Place(OPTION), f"there are {len(found)} data sets",
                             f"give at most {MOST_SETS}")
    return found


def _of_bench(path):
    problems = Problems()
    try:
        text = _text(path)
        root = compose(text, path, problems)
        problems.refuse_if_any()
        return _sets(path, root)
    except MistakeError as mistake:
        raise LayoutError.at(mistake.place, mistake.what, mistake.instead) from mistake


def _text(path):
    data = read_bytes(path, Place(OPTION))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise MistakeError(Place(path, line), "the file is not text (UTF-8)",
                           "save it as YAML") from error


def _sets(path, root):
    if not isinstance(root, Mapping):
        raise MistakeError(Place(path), "the file names no data sets", _RIGHT)
    for name, (key, _) in root.entries.items():
        if name != "measured":
            raise MistakeError(key.place, f"there is no key {name!r} here",
                               choose(name, ("measured",), "keys"))
    rows = root.get("measured")
    if not isinstance(rows, Sequence) or not rows.items:
        raise MistakeError(Place(path) if rows is None else rows.place,
                           "measured is no list of data sets", _RIGHT)
    return [_set(path, row) for row in rows.items]


def _set(path, row):
    if not isinstance(row, Mapping):
        raise MistakeError(row.place, "a data set is a mapping", _RIGHT)
    for name, (key, _) in row.entries.items():
        if name not in KEYS:
            raise MistakeError(key.place, f"a data set has no key {name!r}",
                               choose(name, KEYS, "keys"))
    named = _words(row, "file")
    if named is None:
        raise MistakeError(row.place, "the data set names no file", "add file: on.csv")
    warm = _words(row, "warm")
    if warm is not None and warm.text not in ("true", "false"):
        raise MistakeError(warm.place, f"warm is {warm.text!r}", "write true or false")
    ports, signal = _words(row, "ports"), _words(row, "signal")
    if ports is not None and signal is not None:
        raise MistakeError(signal.place, "ports and signal say the same thing twice", "keep one")
    file = os.path.join(os.path.dirname(path), named.text)
    if not os.path.isfile(file):
        raise MistakeError(named.place, f"{named.text}: there is no such file",
                           "name it relative to this file")
    columns = read_columns(file)
    if warm is not None and warm.text == "true" and any(
        column.quantity != columns[0].quantity or column.quantity != "gain" for column in columns
    ):
        raise MistakeError(named.place, f"{named.text} has noise, and a warm trace is of gain",
                           "give a Touchstone file, or gain_db alone")
    return DataSet(
        named.text, columns, tuple(_changes(row)), warm is not None and warm.text == "true",
        "" if ports is None else ports.text, "" if signal is None else signal.text, row.place,
    )


def _words(row: Mapping, key: str) -> Any:
    node = row.get(key)
    if node is None:
        return None
    if not isinstance(node, Scalar) or not node.text:
        raise MistakeError(node.place, f"{key} is no single text", f"write {key}: TEXT")
    return node


def _changes(row):
    changed = row.get("with")
    if changed is None:
        return
    if not isinstance(changed, Mapping) or not changed.entries:
        raise MistakeError(changed.place, "with is no mapping of changes",
                           "write with: {X1.state: 'off'}")
    for key, (_, value) in changed.entries.items():
        if not isinstance(value, Scalar):
            raise MistakeError(value.place, f"{key} is no single value",
                               "write it as --set takes it, in quotes")
        yield f"{key}={value.text}"
