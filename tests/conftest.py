"""What tests all over share: layouts from text, and the command line run in this process."""

import itertools

import pytest
from hypothesis import settings

import chain
from chain.command import main

# The same examples every time: a landing does not hang on the draw, and no test is timed.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")


@pytest.fixture(scope="session")
def write_layout(tmp_path_factory):
    """Return a function that loads a layout from text, with --set changes."""
    folder = tmp_path_factory.mktemp("layouts")
    count = itertools.count()

    def load(text, *changes, allow=()):
        path = folder / f"{next(count)}.yaml"
        path.write_text(text)
        return chain.load(str(path), changes, allow=allow)

    return load


@pytest.fixture
def run(capsys):
    """Return a function that runs the command line: (status, standard output, standard error)."""

    def call(*words):
        status = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return status, out, err

    return call
