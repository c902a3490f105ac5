"""The house itself: which way imports run, what is imported when, that every verb is documented."""

import ast
from pathlib import Path

import pytest

from chain import verbs

TOP = Path(__file__).parent.parent
MODULES = sorted([*TOP.glob("components/**/*.py"), *TOP.glob("chain/**/*.py")])
HEAVY = {"matplotlib", "skrf", "scipy", "pandas", "jsonschema"}


def _name(path):
    return str(path.relative_to(TOP))


def _imported(tree):
    """Yield (top-level package, node) of every import of a module, inside functions too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name.split(".")[0], node
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module.split(".")[0], node


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_a_module_says_what_it_is_and_imports_the_right_way(path):
    tree = ast.parse(path.read_text())
    assert ast.get_docstring(tree), "a module without a docstring"
    below = path.is_relative_to(TOP / "components")
    at_top = {id(node) for node in tree.body}
    for package, node in _imported(tree):
        assert not (below and package == "chain"), f"line {node.lineno}: components imports chain"
        if package in HEAVY:
            assert id(node) not in at_top, f"line {node.lineno}: {package} imported at start"
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            public = node in tree.body
            assert not public or ast.get_docstring(node), f"{node.name} has no docstring"


@pytest.mark.parametrize("name", verbs.names())
def test_the_readme_tells_of_every_verb(name):
    assert f"chain {name}" in (TOP / "README.md").read_text()


def test_nothing_else_stands_at_the_top():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "chain", "components", "tests",
               "demo_chains"}
    found = {path.name for path in TOP.iterdir() if not path.name.startswith(".")}
    assert {name for name in found if not name.endswith(".egg-info")} - allowed == set()
