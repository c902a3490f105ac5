"""The example notebook: every cell runs, and shows what it says it does.

`python -P tests/test_notebook.py` writes its shown output afresh.
"""

import ast
import base64
import contextlib
import io
import json
import os
from pathlib import Path

import pytest

DEMOS = Path(__file__).parent.parent / "demo_chains"
NOTEBOOK = DEMOS / "haloscope.ipynb"


def _outputs(source, names):
    """Run a cell as a notebook does and return its outputs: what it prints, what its end is."""
    tree = ast.parse(source)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    printed, value = io.StringIO(), None
    with contextlib.redirect_stdout(printed):
        exec(compile(tree, "cell", "exec"), names)
        if last is not None:
            value = eval(compile(ast.Expression(last.value), "cell", "eval"), names)
    found = []
    if printed.getvalue():
        found.append({"name": "stdout", "output_type": "stream",
                      "text": printed.getvalue().splitlines(keepends=True)})
    if value is not None:
        found.append({"data": _data(value), "execution_count": None, "metadata": {},
                      "output_type": "execute_result"})
    return found


def _data(value):
    data = {"text/plain": repr(value).splitlines(keepends=True)}
    page = value._repr_html_() if hasattr(value, "_repr_html_") else None
    if page:
        data["text/html"] = page.splitlines(keepends=True)
    if hasattr(value, "_repr_png_"):
        data = {"image/png": base64.b64encode(value._repr_png_()).decode(), **data}
    return data


def _text(outputs):
    """Return outputs without pictures, whose bytes are matplotlib's own."""
    return [
        {**one, "data": {key: text for key, text in one["data"].items() if "text" in key}}
        if "data" in one else one for one in outputs
    ]


def _run(notebook):
    """Yield (cell, its outputs now) of every cell with code, run in the notebook's folder."""
    names, before = {}, Path.cwd()
    os.chdir(DEMOS)
    try:
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                yield cell, _outputs("".join(cell["source"]), names)
    finally:
        os.chdir(before)


def test_the_notebook_runs_and_shows_what_it_says():
    pictures = 0
    for cell, outputs in _run(json.loads(NOTEBOOK.read_text())):
        assert _text(outputs) == _text(cell["outputs"]), (
            f"{''.join(cell['source'])}\n\nto write it afresh: python -P tests/test_notebook.py"
        )
        pictures += sum("image/png" in one.get("data", {}) for one in cell["outputs"])
    assert pictures >= 3


@pytest.mark.parametrize("key", ["nbformat", "nbformat_minor", "metadata", "cells"])
def test_the_notebook_is_one(key):
    notebook = json.loads(NOTEBOOK.read_text())
    assert key in notebook
    ids = [cell["id"] for cell in notebook["cells"]]
    assert len(ids) == len(set(ids))


def _rewrite():
    notebook = json.loads(NOTEBOOK.read_text())
    for cell, outputs in _run(notebook):
        cell["outputs"] = outputs
    NOTEBOOK.write_text(json.dumps(notebook, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    _rewrite()
