"""chain document: a layout on paper."""

import os

from chain.document import document
from chain.pages.folder import write_folder
from chain.verbs.options import Verb, add_layout, read_layout, say
from chain.writing.foreign_text import one_line
from chain.writing.progress import Progress


def _arguments(parser):
    add_layout(parser)
    parser.add_argument(
        "--out", metavar="FOLDER", required=True,
        help="folder for the pages; pages that an earlier run wrote there are replaced",
    )


def _run(words):
    layout = read_layout(words)
    with Progress("pages") as progress:
        files = document(layout, progress)
    with Progress("files") as progress:
        write_folder(words.out, files, progress, read=layout.files)
    say(f"{len(files)} files; begin with {one_line(os.path.join(words.out, 'index.html'))}")
    return 0


VERB = Verb("document", "pages for paper and repository: drawing, tables, parts, joints, labels",
            _arguments, _run)
