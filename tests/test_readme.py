"""The README's commands run, and what it shows is what they print.

`python -P tests/test_readme.py` writes their output into the README afresh.
"""

import contextlib
import io
import os
import re
import shlex
import shutil
from pathlib import Path

import pytest

from chain.command import main

TOP = Path(__file__).parent.parent
README = TOP / "README.md"

FILE = re.compile(r"```yaml file=(\S+)\n(.*?)```", re.DOTALL)
CONSOLE = re.compile(r"```console\n(.*?)```", re.DOTALL)
PYTHON = re.compile(r"```python\n(.*?)```", re.DOTALL)


def _tail(text, words):
    """Return what `| tail -n N` or `| head -n N` leaves of a text."""
    lines = text.splitlines(keepends=True)
    count = int(words[words.index("-n") + 1])
    return "".join(lines[-count:] if words[0] == "tail" else lines[:count])


def printed(command):
    """Return what a command of the README prints, errors and all."""
    line, _, after = command.partition(" | ")
    words = shlex.split(line)
    assert words[0] == "chain", command
    os.environ.pop("COLUMNS", None)
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        status = main(words[1:])
    assert status in (0, 1, 2), command
    text = out.getvalue()
    for cut in filter(None, after.split(" | ")):
        text = _tail(text, cut.split())
    return "".join(line.rstrip() + "\n" for line in text.splitlines())


def commands(block):
    """Return [(command, what the README shows for it)] of a console block."""
    found = []
    for line in block.splitlines(keepends=True):
        if line.startswith("$ "):
            found.append([line[2:].rstrip("\n"), ""])
        elif found:
            found[-1][1] += line
    return found


def folder(where):
    """Fill a folder with the demos and the files that the README has one write."""
    shutil.copytree(TOP / "demo_chains", where / "demo_chains")
    for name, text in FILE.findall(README.read_text()):
        (where / name).write_text(text)


@pytest.fixture(scope="module")
def workplace(tmp_path_factory):
    where = tmp_path_factory.mktemp("readme")
    folder(where)
    return where


def _shown():
    return [pair for block in CONSOLE.findall(README.read_text()) for pair in commands(block)]


@pytest.mark.parametrize(("command", "shown"), _shown())
def test_a_command_prints_what_the_readme_shows(command, shown, workplace, monkeypatch):
    monkeypatch.chdir(workplace)
    assert printed(command).strip("\n") == shown.strip("\n")


def test_the_python_of_the_readme_runs(workplace, monkeypatch, capsys):
    monkeypatch.chdir(workplace)
    for block in PYTHON.findall(README.read_text()):
        exec(compile(block, "README.md", "exec"), {})
    assert "system noise" in capsys.readouterr().out


def test_every_picture_is_there():
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README.read_text())
    assert pictures
    for name in pictures:
        assert (TOP / name).is_file(), name


def rewritten():
    """Return the README with the output of its commands filled in afresh."""
    def fill(match):
        parts = []
        for command, _ in commands(match.group(1)):
            parts.append(f"$ {command}\n{printed(command)}")
        return "```console\n" + "\n".join(parts) + "```"

    return CONSOLE.sub(fill, README.read_text())


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        folder(Path(name))
        os.chdir(name)
        text = rewritten()
    README.write_text(text)
