"""chain demo: the demos of the package, written into a folder to try things on."""

import os

from chain.reference.demos import SCHEMA, about, demo_files
from chain.verbs.options import Verb, say
from chain.writing.files import CannotWrite, write_together
from chain.writing.foreign_text import one_line


def _arguments(parser):
    parser.add_argument(
        "folder", metavar="FOLDER", nargs="?",
        help="folder to write them into, made where there is none; without it they are listed",
    )


def _run(words):
    files = demo_files()
    layouts = {name: about(content) for name, content in files.items() if name.endswith(".yaml")}
    if words.folder is None:
        rows = "\n".join(f"  {name:20} {title}" for name, title in layouts.items())
        say(f"demos (all invented):\n{rows}\n\nto have them: chain demo FOLDER")
        return 0
    _write(words.folder, files)
    folder = one_line(words.folder)
    first = next(iter(layouts))
    say(f"{len(files)} files are in {folder}, and {SCHEMA} for editors. To begin with:\n"
        f"  chain budget {os.path.join(folder, first)} --signal receive")
    return 0


def _write(folder, files):
    """Write the demos and the schema that they name; refuse to replace what is another's."""
    from chain.reference.schema import schema_text

    for name, content in files.items():
        path = os.path.join(folder, name)
        if os.path.lexists(path) and not _same(path, content):
            raise CannotWrite(f"{one_line(path)} is there already, and is no demo")
    try:
        os.makedirs(folder, exist_ok=True)
    except OSError as error:
        raise CannotWrite(f"{one_line(folder)}: {error.strerror or error}") from error
    every = {**files, SCHEMA: schema_text()}
    write_together((os.path.join(folder, name), content) for name, content in every.items())


def _same(path, content):
    try:
        with open(path, "rb") as file:
            return file.read(len(content) + 1) == content
    except OSError:
        return False


VERB = Verb("demo", "the demos of the package, written into a folder", _arguments, _run)
