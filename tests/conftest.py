"""What tests all over share: layouts from text, and the command line run in this process."""

import itertools
import os
import sys
import tracemalloc

import pytest
from hypothesis import settings

import chain
from chain.command import main

# Reports are as wide as they are, whatever terminal the tests are started from.
os.environ.pop("COLUMNS", None)

# The same examples every time: a landing does not hang on the draw, and no test is timed.
# `.ci/run` takes the profile `long`, which draws more of them.
settings.register_profile("quick", derandomize=True, deadline=None, max_examples=10)
settings.register_profile("long", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("quick")


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
def work():
    """Return a function that calls another one: (what it returned, how many calls that took).

    Calls of functions are counted, Python's and C's, so that the answer is the same on any machine.
    """

    def count(function):
        calls = 0

        def profile(frame, event, argument):
            nonlocal calls
            calls += event in ("call", "c_call")

        before = sys.getprofile()
        sys.setprofile(profile)
        try:
            result = function()
        finally:
            sys.setprofile(before)
        return result, calls

    return count


@pytest.fixture
def memory():
    """Return a function that calls another one: (what it returned, bytes held at most)."""

    def count(function):
        tracemalloc.start()
        try:
            return function(), tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    return count


@pytest.fixture
def run(capsys):
    """Return a function that runs the command line: (status, standard output, standard error)."""

    def call(*words):
        status = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return status, out, err

    return call
