"""From the words of the command line to a verb and its options, in whatever order they stand."""

import argparse

from chain import verbs
from chain.suggestions import choose, shown
from chain.verbs.options import Verb

EPILOG = (
    "exit status: 0 done; 1 an answer that is a no (an error found, a stage over its cooling "
    "power); 2 bad input; 3 cannot write; 130 interrupted"
)


class RefusedWords(Exception):
    """The words of the command line cannot be followed."""


class _Parser(argparse.ArgumentParser):
    def error(self, message):
        raise RefusedWords(f"{self.prog}: {message}; see `{self.prog} --help`")


def parsed(words: list[str], version: str) -> argparse.Namespace:
    """Return what the words ask for, `run` the verb's function; raises RefusedWords.

    `--help` and `--version` print and raise SystemExit, as no words at all do.
    """
    top = _Parser(
        prog="chain", description="Noise, gain, pump power and heat of cryogenic microwave lines.",
        epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter,
        usage="chain VERB [LAYOUT] [options]",
    )
    top.add_argument("--version", action="version", version=f"chain {version}")
    top.add_argument("verb", nargs="?", help=argparse.SUPPRESS)
    if not words or words[0].startswith("-"):
        top.epilog = f"{_listed()}\n\none verb in full: chain VERB --help\n\n{EPILOG}"
        top.parse_args(words)
        top.print_help()
        raise SystemExit(0)
    if words[0] not in verbs.names():
        raise RefusedWords(
            f"chain: there is no verb {shown(words[0])}; {choose(words[0], verbs.names(), 'verbs')}"
        )
    return _of_verb(verbs.verb(words[0]), words[1:])


def _listed():
    """Return a line for every verb."""
    rows = [(name, verbs.verb(name).summary) for name in verbs.names()]
    width = max(len(name) for name, _ in rows)
    return "\n".join(["verbs:", *(f"  {name:{width}}  {summary}" for name, summary in rows)])


def _of_verb(verb: Verb, words):
    parser = _Parser(
        prog=f"chain {verb.name}", description=verb.summary, epilog=EPILOG,
    )
    verb.arguments(parser)
    found, unknown = parser.parse_known_intermixed_args(words)
    if unknown:
        first = unknown[0]
        known = [option for action in parser._actions for option in action.option_strings]
        instead = (
            choose(first.partition("=")[0], known, "options") if first.startswith("-")
            else "take it out"
        )
        raise RefusedWords(
            f"{parser.prog}: {shown(first)} is not understood; {instead}; see "
            f"`{parser.prog} --help`"
        )
    found.run = verb.run
    return found
