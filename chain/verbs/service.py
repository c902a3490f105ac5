"""chain service: order of disassembly between two stages, and of reassembly."""

from chain.errors import LayoutError, Place
from chain.service import service
from chain.service.levels import Levels
from chain.service.sheet import service_text, sheet_file
from chain.verbs.options import Verb, add_json, add_layout, read_layout, say
from chain.writing.files import write_whole
from chain.writing.foreign_text import one_line
from chain.writing.json_text import as_json
from chain.writing.progress import Progress

_ENDINGS = (".html", ".htm", ".md")


def _arguments(parser):
    add_layout(parser)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--between", nargs=2, metavar="STAGE", help="take out what stands between two stages",
    )
    what.add_argument(
        "--remove", action="append", metavar="ID", help="take out an element; may be repeated",
    )
    add_json(parser)
    parser.add_argument(
        "--out", metavar="FILE", help="write the sheet, with boxes to tick, as .html or .md"
    )


def _run(words):
    if words.out and not words.out.lower().endswith(_ENDINGS):
        raise LayoutError.at(
            Place("--out"), f"{words.out!r} is no kind of sheet",
            f"name a file that ends in {' or '.join(_ENDINGS)}",
        )
    layout = read_layout(words)
    with Progress("joints") as progress:
        found = service(
            layout, between=words.between, remove=words.remove or (),
            levels=Levels(layout, progress),
        )
    if words.out:
        write_whole(words.out, sheet_file(found, words.out), read=layout.files)
    if words.json:
        say(as_json(found.as_dict()))
    elif words.out:
        say(f"{len(found.undo)} joints; the sheet is in {one_line(words.out)}")
    else:
        say(service_text(found))
    return 0


VERB = Verb("service", "what to disconnect between two stages, in which order, and the reassembly",
            _arguments, _run)
