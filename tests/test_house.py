"""The house itself: which way imports run, what is imported when, that every verb is documented."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import components.kinds  # noqa: F401  (registers every kind)
from chain import verbs
from components.declaration import KINDS

TOP = Path(__file__).parent.parent
FLOORS = (
    ("components", "chain.suggestions", "chain.version"),
    ("chain.writing", "chain.errors"),
    ("chain.layout", "chain.network"),
    ("chain.reading", "chain.power", "chain.drawing"),
    ("chain.noise", "chain.heat", "chain.reference", "chain.pages"),
    ("chain.measurement", "chain.design", "chain.advice", "chain.diagnosis"),
    ("chain.figures", "chain.service", "chain.document"),
    ("chain.results", "chain.api", "chain.fields", "chain.verbs"),
    ("chain", "chain.command", "chain.__main__"),
)
"""Rooms from the ground up; an import goes to a lower floor, or to a room listed before it."""
ORDER = [room for floor in FLOORS for room in floor]
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


def _module_name(path):
    parts = path.relative_to(TOP).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _room(module):
    """Return the room of a module: the longest listed name that begins it."""
    fitting = [room for room in ORDER if module == room or module.startswith(f"{room}.")]
    assert fitting, f"{module} stands in no room: add it to FLOORS"
    return max(fitting, key=len)


def _modules_imported(path, known):
    """Yield (line, module of ours) of every import, inside functions too, names that are modules."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            whole = [f"{node.module}.{alias.name}" for alias in node.names]
            names = [name if name in known else node.module for name in whole]
        else:
            assert not isinstance(node, ast.ImportFrom), f"{path}: relative import"
            continue
        for name in names:
            if name in known:
                yield node.lineno, name


@pytest.fixture(scope="module")
def imports():
    """{module: {(line, module that it imports)}} of the whole house."""
    names = {_module_name(path): path for path in MODULES}
    return {name: set(_modules_imported(path, names)) for name, path in names.items()}


def test_every_import_runs_down(imports):
    wrong = []
    for module, found in imports.items():
        here = _room(module)
        for line, other in found:
            there = _room(other)
            if there != here and ORDER.index(there) >= ORDER.index(here):
                wrong.append(f"{module}:{line} imports {other}")
    assert wrong == []


def test_no_files_import_each_other_in_a_circle(imports):
    below = {module: {other for _, other in found} for module, found in imports.items()}
    while below:
        ground = [module for module, others in below.items() if not others & below.keys()]
        assert ground, f"a circle among {sorted(below)}"
        for module in ground:
            del below[module]


SHOWS = ("chain.figures", "chain.pages", "chain.drawing", "chain.document", "chain.writing")
"""Rooms that show results and work out none."""
GATHERS = {"chain.document", "chain.document.document", "chain.document.facts"}
"""Modules of the pages that ask for the results, for all pages once."""


def _only_shows(module):
    in_room = any(module == room or module.startswith(f"{room}.") for room in SHOWS)
    return (in_room and module not in GATHERS) or module.endswith(("text", "_export", ".sheet"))


def test_what_shows_a_result_cannot_solve(imports):
    """Text, figures and pages are functions of a result: no import leads them to a network."""
    below = {module: {other for _, other in found} for module, found in imports.items()}
    shown = [module for module in below if _only_shows(module)]
    assert len(shown) > 50
    for module in shown:
        reached, waiting = set(), [module]
        while waiting:
            new = below[waiting.pop()] - reached
            reached |= new
            waiting += new
        solving = {other for other in reached if _room(other) == "chain.network"}
        assert not solving, f"{module} reaches {sorted(solving)}"


def test_the_house_stays_small():
    rooms = {_room(_module_name(path)) for path in MODULES}
    assert len(rooms) <= 30
    assert len(FLOORS) <= 11


@pytest.mark.parametrize("name", verbs.names())
def test_the_readme_tells_of_every_verb(name):
    assert f"chain {name}" in (TOP / "README.md").read_text()


def test_nothing_else_stands_at_the_top():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "chain", "components", "tests",
               "demo_chains", "build", "dist"}  # the last two are pip's, and in .gitignore
    found = {path.name for path in TOP.iterdir() if not path.name.startswith(".")}
    assert {name for name in found if not name.endswith(".egg-info")} - allowed == set()


def test_every_kind_is_known_before_its_module_is_imported():
    """What is read from the sources and what registers itself are the same names."""
    code = (
        "import sys; import components.kinds; from components.declaration import KINDS; "
        "early = list(KINDS); assert 'components.kinds.cables' not in sys.modules; "
        "KINDS['cable']; assert 'components.kinds.cables' in sys.modules; "
        "assert 'components.kinds.filters' not in sys.modules; "
        "assert [kind.name for kind in KINDS.values()] == early == list(KINDS)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=TOP)


def test_no_catalogue_page_is_read_before_a_row_is_asked_for(tmp_path):
    path = tmp_path / "short.yaml"
    path.write_text(
        "stages: {room: {temperature: 295 K}}\n"
        "band: {start: 4 GHz, stop: 8 GHz, points: 3}\n"
        "lines: {main: [{id: S, kind: port, stage: room}, {id: R, kind: port, stage: room}]}\n"
        "signals: {main: {from: S, to: R}}\n"
    )
    code = (
        "import sys, numpy; own = set(sys.modules); from chain.command import main; "
        f"assert main(['budget', {str(path)!r}]) == 0; "
        "late = {'components.catalogue', 'components.kinds.cables', 'numpy.ma', 'numpy.random'}; "
        "late -= own; "  # some numpy begins with all of it
        "assert not late & sys.modules.keys(), late & sys.modules.keys()"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=TOP, stdout=subprocess.DEVNULL)


WORDS = {"port", "measured"}
"""Kinds' names that are words besides: what a one-port element's port is called, a heading."""
ELSEWHERE = {
    "chain/document/lists.py": {"cable"}, "chain/measurement/plan_text.py": {"paramp"},
}
"""Where one is the name of a file that pages write, or of a column."""
SYMBOLS = TOP / "chain" / "drawing" / "symbols.py"
"""What it names are symbols, which kinds ask for by name."""


@pytest.mark.parametrize("path", sorted(TOP.glob("chain/**/*.py")), ids=_name)
def test_what_a_kind_is_the_kind_says(path):
    """No list of kinds, and no question for one by its name, stands outside of components."""
    tree = ast.parse(path.read_text())
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            asked = [one for one in (node.left, *node.comparators) if ast.unparse(one).endswith(
                "kind.name")]
            assert not asked, f"line {node.lineno}: {ast.unparse(node)}"
        if isinstance(node, ast.Subscript) and ast.unparse(node.value) == "KINDS":
            assert not isinstance(node.slice, ast.Constant), f"line {node.lineno}: a kind by name"
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and path != SYMBOLS:
            allowed = WORDS | ELSEWHERE.get(_name(path), set())
            assert node.value not in KINDS.keys() - allowed, f"line {node.lineno}: {node.value!r}"
