"""`python -m chain`: the command line."""

from chain.command import entry

entry()
