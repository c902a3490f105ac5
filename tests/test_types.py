"""Types that users and their editors can rely on: shipped, named once, on everything public."""

import ast
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
ROOMS = (
    "components/arrays.py", "components/nport.py", "components/declaration.py",
    "components/parameters.py", "components/settings.py", "components/conditions.py",
    "components/quantities.py", "components/touchstone.py", "components/noise_parameters.py",
    "components/thermal_noise.py", "components/heat_path.py",
    "chain/api.py", "chain/errors.py", "chain/suggestions.py", "chain/reading/__init__.py",
    "chain/reading/load.py", "chain/writing", "chain/layout", "chain/network", "chain/noise",
    "chain/power", "chain/heat", "chain/measurement", "chain/design", "chain/advice",
    "chain/service", "chain/document", "chain/results",
)
"""Files and folders whose public functions carry types; a room that is done is added."""
RESULTS = ("noise", "power", "heat", "measurement", "design", "advice", "service", "network")
"""Rooms of chain/ that answer: their results hold no field of just any type."""


def _files(room):
    return sorted((TOP / room).rglob("*.py")) if (TOP / room).is_dir() else [TOP / room]


FILES = sorted({path for room in ROOMS for path in _files(room)})


def _name(path):
    return str(path.relative_to(TOP))


def _public(body):
    """Yield the public functions of a module, and the public methods of its public classes."""
    for node in body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from _public(node.body)


def _untyped(function):
    """Return the names of a function's arguments without a type; `return` where that has none."""
    given = function.args
    every = [*given.posonlyargs, *given.args, *given.kwonlyargs, given.vararg, given.kwarg]
    named = [one for one in every if one is not None and one.arg not in ("self", "cls")]
    missing = [one.arg for one in named if one.annotation is None]
    return missing + ([] if function.returns is not None else ["return"])


@pytest.mark.parametrize("path", FILES, ids=_name)
def test_every_public_function_has_types(path):
    tree = ast.parse(path.read_text())
    untyped = {one.name: _untyped(one) for one in _public(tree.body) if _untyped(one)}
    assert untyped == {}


@pytest.mark.parametrize("room", RESULTS)
def test_the_fields_of_results_say_what_they_hold(room):
    vague = []
    for path in _files(f"chain/{room}"):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                vague += [
                    f"{node.name}.{ast.unparse(field)}" for field in node.body
                    if isinstance(field, ast.AnnAssign)
                    and {"object", "Any"} & {
                        name.id for name in ast.walk(field.annotation) if isinstance(name, ast.Name)
                    }
                ]
    assert vague == []


def test_the_face_takes_no_unnamed_options():
    tree = ast.parse((TOP / "chain/api.py").read_text())
    assert [one.name for one in _public(tree.body) if one.args.kwarg is not None] == []


@pytest.mark.parametrize("package", ["chain", "components"])
def test_types_are_shipped(package):
    shipped = tomllib.loads((TOP / "pyproject.toml").read_text())["tool"]["setuptools"]
    assert "py.typed" in shipped["package-data"][package]
    assert files(package).joinpath("py.typed").is_file()


def test_no_type_error_is_passed_over_without_a_reason():
    found = []
    for path in [*TOP.glob("chain/**/*.py"), *TOP.glob("components/**/*.py")]:
        for number, line in enumerate(path.read_text().splitlines(), 1):
            _, mark, reason = line.partition("# type: ignore")
            if mark and not reason.partition("]")[2].strip(" #()"):
                found.append(f"{_name(path)}:{number}")
    assert found == []
