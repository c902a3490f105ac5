"""How far long work has come, on a terminal only."""

import sys


class Progress:
    """Shows `what: done of all` on standard error while it is a terminal; silent in a pipe."""

    def __init__(self, what):
        self.what = what
        self.shown = sys.stderr.isatty()

    def __enter__(self):
        return self

    def __call__(self, done, of):
        if self.shown:
            print(f"\r{self.what}: {done} of {of}", end="", file=sys.stderr, flush=True)

    def __exit__(self, *error):
        if self.shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)
        return False
