"""chain service: order of disassembly between two stages, and of reassembly."""

from chain.errors import LayoutError, Place
from chain.service import service
from chain.service.levels import Levels
from chain.service.sheet import service_files, sheet_file
from chain.verbs.options import (
    Verb,
    add_csv,
    add_json,
    add_layout,
    check_outputs,
    deliver,
    read_layout,
    say,
)
from chain.writing.foreign_text import one_line
from chain.writing.json_text import as_json
from chain.writing.progress import Progress

_ENDINGS = (".html", ".htm", ".md")


def _arguments(parser):
    add_layout(parser)
    parser.add_argument(
        "--between", nargs=2, metavar="STAGE", help="take out what stands between two stages",
    )
    parser.add_argument(
        "--remove", action="append", metavar="ID", help="take out an element; may be repeated",
    )
    parser.add_argument(
        "--line", metavar="NAME", help="one line (and its copies): all of it, or with --between "
        "what of it stands there",
    )
    add_json(parser)
    parser.add_argument(
        "--out", metavar="PATH", help="write the sheet, with boxes to tick, as .html or .md; any "
        "other name is a folder for the sheet, a page a line and a stage, and the record",
    )
    add_csv(parser, "the record to type into: as found, as left, readings, serial numbers, "
            "initials, time")
    parser.add_argument(
        "--record", metavar="FILE", help="a record that was typed into: what is done, what stands "
        "out, and where to go on",
    )


def _run(words):
    _refuse_mixtures(words)
    check_outputs(words)
    layout = read_layout(words)
    with Progress("joints") as progress:
        found = service(
            layout, between=words.between, remove=words.remove or (), line=words.line,
            levels=Levels(layout, progress),
        )
    result = _resumed(found, words.record) if words.record else found
    written = _write(words, layout, found)
    if written is None:
        return 0
    if words.json:
        say(as_json(result.as_dict()))
    elif written:
        say(f"{len(found.undo)} joints; {'; '.join(written)}")
    else:
        say(str(result))
    return 0


def _resumed(found, record):
    from chain.service.record import resumed

    return resumed(found, record)


def _refuse_mixtures(words):
    if words.remove and (words.between or words.line):
        other = "--between" if words.between else "--line"
        raise LayoutError.at(
            Place("--remove"), f"--remove is not allowed with {other}", "keep one"
        )
    if not (words.between or words.remove or words.line):
        raise LayoutError.at(
            Place("service"), "nothing says what to take out",
            "add --between STAGE STAGE, --line NAME or --remove ID",
        )


    if words.out and not words.out.lower().endswith(_ENDINGS) and \
            "." in words.out.rstrip("/").rpartition("/")[2]:
        raise LayoutError.at(
            Place("--out"), f"{words.out!r} is no kind of sheet",
            f"name a file that ends in {' or '.join(_ENDINGS)}, or a folder",
        )


def _write(words, layout, found):
    """Write what the words ask for; return what was written in words, None where it is printed."""
    from chain.service.record_export import record_csv

    read = (*layout.files, *([words.record] if words.record else []))
    said, files = [], []
    if words.csv:
        files.append((words.csv, record_csv(found)))
        said.append(f"the record is in {one_line(words.csv)}")
    if words.out and words.out.lower().endswith(_ENDINGS):
        files.append((words.out, sheet_file(found, words.out)))
        said.append(f"the sheet is in {one_line(words.out)}")
    if deliver(words, files, read=read):
        return None
    if words.out and not words.out.lower().endswith(_ENDINGS):
        from chain.pages.folder import write_folder

        write_folder(words.out, service_files(found), read=read)
        said.append(f"the pages are in {one_line(words.out)}")
    return said


VERB = Verb("service", "what to disconnect between two stages, in which order, and the reassembly",
            _arguments, _run)
