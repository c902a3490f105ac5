"""The command line as a program: every way in which it can end."""

import sys

try:
    import os

    from chain.errors import LayoutError
    from chain.verbs.parser import RefusedWords, parsed
    from chain.version import VERSION
    from chain.writing.files import CannotWrite
    from chain.writing.foreign_text import visible
    from chain.writing.text import fitted
except KeyboardInterrupt:  # while it starts
    raise SystemExit(130) from None

DONE, NO, BAD_INPUT, CANNOT_WRITE, INTERRUPTED = 0, 1, 2, 3, 130


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit status.

    0 done, 1 an answer that is a no, 2 bad input, 3 something cannot be written, 130 interrupted.
    """
    try:
        if sys.stdout is None:
            _say("standard output is closed, so nothing can be printed; open it")
            return CANNOT_WRITE
        _replace_unencodable()
        words = parsed(sys.argv[1:] if arguments is None else list(arguments), VERSION)
        with fitted(_columns()):
            status = words.run(words)
            _say_accepted(words)
        sys.stdout.flush()
        return status
    except (RefusedWords, LayoutError) as error:
        return _ended(BAD_INPUT, str(error))
    except CannotWrite as error:
        return _ended(CANNOT_WRITE, f"{error}; name a file that can be written")
    except BrokenPipeError:
        # The reader of a pipe has gone: not our mistake, and nothing more to say.
        _forget_output()
        return DONE
    except OSError as error:
        _forget_output()
        return _ended(CANNOT_WRITE, f"standard output: {error.strerror or error}; make room for it")
    except MemoryError:
        return _ended(BAD_INPUT, "there is not enough memory for it; lower points, draws or copies")
    except KeyboardInterrupt:
        _forget_output()
        return _ended(INTERRUPTED, "interrupted")


def _columns():
    """Return how many columns a report may have: COLUMNS, a terminal's; None elsewhere."""
    given = os.environ.get("COLUMNS", "")
    if given.isascii() and given.isdecimal() and int(given) > 0:
        return int(given)
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or None
    except (OSError, ValueError, AttributeError):
        return None


def _replace_unencodable():
    """Let what a terminal cannot show be written out, rather than end the run."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _ended(status, text):
    """Return the status, all output written as far as it can be, and say why."""
    try:
        sys.stdout.flush()
    except OSError:
        _forget_output()
    _say(text)
    return status


def _say(text):
    if sys.stderr is not None:
        try:
            print(visible(text), file=sys.stderr, flush=True)
        except OSError:
            _forget(sys.stderr)


def _forget_output():
    _forget(sys.stdout)


def _forget(stream):
    """Let what a stream still holds go nowhere, so that the interpreter's end has no complaint."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError):
        pass


def _say_accepted(words):
    """Print behind every report for people which findings its layout accepts, and why."""
    accepted = getattr(words, "accepted", None)
    if accepted and not getattr(words, "json", True):
        from chain.writing.text import accepted_text

        print("\n".join(["", *accepted_text(accepted)]))


def entry() -> None:
    """Run the command line as the installed program does."""
    raise SystemExit(main())


if __name__ == "__main__":
    entry()
