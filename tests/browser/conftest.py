"""A browser for all tests here, and the pages that they look at."""

import importlib.util
from pathlib import Path

import pytest

import chain
from chain.document import write_document
from chain.service import service
from chain.service.sheet import sheet_file

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
DEMOS = sorted(ROOT.glob("demo_chains/*.yaml"))


def _module(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def browser():
    """A headless Chromium."""
    driver = _module(HERE / "driver.py")
    absent = driver.missing()
    if absent:
        pytest.fail(
            f"these tests need a real browser: apt-get install {' '.join(absent)} "
            "(they are not part of the default run)", pytrace=False,
        )
    with driver.browser() as found:
        yield found


@pytest.fixture(scope="session")
def pages(tmp_path_factory):
    """Every page to look at: those of the demos, of unkind layouts, service sheets, drawings."""
    folder = tmp_path_factory.mktemp("pages")
    for path in DEMOS:
        _write(chain.load(str(path)), folder / path.stem, ("plate", "mixing"))
    hostile = _module(ROOT / "tests" / "chain" / "hostile.py")
    drawings = _module(ROOT / "tests" / "chain" / "drawing" / "test_drawing.py")
    layouts = {"odd": drawings.ODD, "crossed": drawings.CROSSED}
    layouts |= {f"unkind-{n}": hostile.hostile_layout(text) for n, text in enumerate(hostile.ALL)}
    for name, text in layouts.items():
        file = folder / f"{name}.yaml"
        file.write_text(text)
        _write(chain.load(str(file)), folder / name, ("room", "mixing"))
    return sorted(folder.rglob("*.html"))


def _write(layout, folder, pair):
    write_document(layout, folder)
    sheet = sheet_file(service(layout, between=pair), "a.html")
    (folder / "service.html").write_text(sheet)
