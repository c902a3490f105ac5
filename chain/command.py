"""The command line: reads arguments, calls one function, prints."""

import argparse
import sys

from chain import verbs
from chain.errors import LayoutError
from chain.writing.files import CannotWrite

DONE, NO, BAD_INPUT, CANNOT_WRITE = 0, 1, 2, 3


class _Refused(Exception):
    """The words of the command line cannot be followed."""


class _Parser(argparse.ArgumentParser):
    def error(self, message):
        raise _Refused(f"{self.prog}: {message}; see `{self.prog} --help`")


def _parser(wanted):
    """Return the parser of the wanted verb alone, or of every verb where there is no such."""
    known = verbs.names()
    parser = _Parser(
        prog="chain", description="Noise, gain, pump power and heat of cryogenic microwave lines.",
    )
    choices = parser.add_subparsers(
        dest="verb", metavar="VERB", required=True, parser_class=_Parser
    )
    for verb in map(verbs.verb, [wanted] if wanted in known else known):
        sub = choices.add_parser(verb.name, help=verb.summary, description=verb.summary)
        verb.arguments(sub)
        sub.set_defaults(run=verb.run)
    return parser


def main(arguments=None):
    """Run the command line and return its exit status: 0 done, 1 no, 2 bad input, 3 not written."""
    given = sys.argv[1:] if arguments is None else list(arguments)
    try:
        words = _parser(given[0] if given else None).parse_args(given)
        status = words.run(words)
        _say_accepted(words)
        sys.stdout.flush()
        return status
    except (_Refused, LayoutError) as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except CannotWrite as error:
        print(f"{error}; name a file that can be written", file=sys.stderr)
        return CANNOT_WRITE
    except BrokenPipeError:
        # The reader of a pipe has gone: not our mistake, and nothing more to say.
        sys.stderr.close()
        return DONE
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130


def _say_accepted(words):
    """Print behind every report for people which findings its layout accepts, and why."""
    accepted = getattr(words, "accepted", None)
    if accepted and not getattr(words, "json", True):
        from chain.writing.text import accepted_text

        print("\n".join(["", *accepted_text(accepted)]))


def entry():
    """Run the command line as the installed program does."""
    raise SystemExit(main())


if __name__ == "__main__":
    entry()
