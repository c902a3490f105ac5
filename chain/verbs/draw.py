"""chain draw: the lines of a layout as a picture."""

from chain.drawing import draw
from chain.errors import LayoutError, Place
from chain.layout.asked import asked_lines
from chain.verbs.options import Verb, add_layout, read_layout
from chain.writing.files import write_whole


def _arguments(parser):
    add_layout(parser)
    parser.add_argument(
        "--line", action="append", metavar="NAME", dest="lines",
        help="draw this line, what is joined to it in grey; may be repeated",
    )
    parser.add_argument(
        "--out", metavar="FILE", help="write the picture to FILE (.svg); printed without it"
    )


def _run(words):
    if words.out and not words.out.lower().endswith(".svg"):
        raise LayoutError.at(
            Place("--out"), f"{words.out!r} is no SVG file", "name a file that ends in .svg"
        )
    layout = read_layout(words)
    picture = draw(layout, asked_lines(layout, words.lines or None, Place("--line")))
    if words.out:
        write_whole(words.out, picture, read=layout.files)
    else:
        print(picture, end="")
    return 0


VERB = Verb("draw", "the lines as a picture: stages, elements, joints (SVG)", _arguments, _run)
