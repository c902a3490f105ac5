"""Text that is not YAML, or YAML that would do too much; both parsers say the same."""

import pytest
import yaml

from chain.reading import nodes
from chain.reading.nodes import Mapping, Scalar, Sequence, compose
from chain.reading.problems import MistakeError, Problems

PARSERS = [getattr(yaml, "CSafeLoader", yaml.SafeLoader), yaml.SafeLoader]


@pytest.fixture(params=PARSERS, ids=["fast", "plain"], autouse=True)
def parser(request, monkeypatch):
    monkeypatch.setattr(nodes, "PARSER", request.param)
    return request.param


def refusal(text):
    with pytest.raises(MistakeError) as caught:
        compose(text, "l.yaml", Problems())
    return str(caught.value)


SYNTAX = {
    "a:\n\tb: 1\n": "l.yaml:2:1: a tab stands where spaces belong; indent with spaces",
    "a: b: c\n": (
        "l.yaml:1:5: a ':' stands where no key can be; indent the keys of one mapping alike, "
        "and put a value that holds ': ' into quotes"
    ),
    "a: 1\n b: 2\n": (
        "l.yaml:2:3: a ':' stands where no key can be; indent the keys of one mapping alike, "
        "and put a value that holds ': ' into quotes"
    ),
    "a: [1, 2\nb: 3\n": (
        "l.yaml:2:2: expected ',' or ']' here, for the '[' of line 1, column 4; "
        "close it with ']', or put a value that holds ': ' into quotes"
    ),
    "lines:\n  - {id: A\n  - {id: B}\n": (
        "l.yaml:3:5: expected ',' or '}' here, for the '{' of line 2, column 5; "
        "close it with '}', or put a value that holds ': ' into quotes"
    ),
    "a: @x\n": "l.yaml:1:4: a value cannot start with '@'; put the value into quotes",
    "a: 'x\n": "l.yaml:1:4: a quote opens here and never closes; close it",
    "- a\nb: 2\n": (
        "l.yaml:2:1: this does not fit what stands before it; "
        "indent the entries of one list or mapping alike, a list's each with '- '"
    ),
    'a: "b" c': (
        "l.yaml:1:8: this does not fit what stands before it; "
        "indent the entries of one list or mapping alike, a list's each with '- '"
    ),
    "a: *b\n": "l.yaml:1:4: nothing is named &b before *b; write &b where it starts",
    "a: &b [*b]\n": "l.yaml:1:8: *b stands inside of what it names; take it out",
    "a: 1\n---\nb: 1\n": (
        "l.yaml:2:1: a second document starts here; keep one document in a file"
    ),
    "? [a]\n: b\n": "l.yaml:1:3: a list stands as a key; a key is a single text",
    "{? {a: 1} : b}\n": "l.yaml:1:4: a mapping stands as a key; a key is a single text",
    "a: &x [b]\n*x : c\n": "l.yaml:2:1: a list stands as a key; a key is a single text",
    "'': 1\n": "l.yaml:1:1: a key without a name; write a name before the ':'",
    "a: &x {b: 1}\nc:\n  <<: *x\n": (
        "l.yaml:3:3: merging with << is not read; use `parts:`, whose keys can be overridden"
    ),
    "a: !!int 3\n": (
        "l.yaml:1:4: the tag 'tag:yaml.org,2002:int' is not read here; "
        "take it out: what a value is follows from its key"
    ),
}


@pytest.mark.parametrize("text", SYNTAX)
def test_what_is_wrong_with_the_syntax(text):
    assert refusal(text) == SYNTAX[text]


@pytest.mark.parametrize("text", ['a: "\\q"\n', "%YAML 3.0\n---\na: 1\n", "a: &\n", "{a: 1}}\n"])
def test_any_other_syntax_has_a_place_and_no_traceback(text):
    assert refusal(text).startswith("l.yaml:1:")


def test_keys_given_twice_are_all_noted_and_the_first_is_kept():
    problems = Problems()
    root = compose("a: 1\nb: {c: 1, c: 2}\na: 3\n", "l.yaml", problems)
    assert [str(problem) for problem in problems] == [
        "l.yaml:2:11: the key 'c' is given twice; keep one of them; "
        "the first is on line 2, column 5",
        "l.yaml:3:1: the key 'a' is given twice; keep one of them; "
        "the first is on line 1, column 1",
    ]
    assert root.get("a").text == "1"


def test_every_scalar_stays_text():
    texts = ["on", "no", "4e9", "1:2", "2026-01-01", "0x10", "~", "null", "1_000", ".inf"]
    root = compose("[" + ", ".join(texts) + "]", "l.yaml", Problems())
    assert [item.text for item in root.items] == texts


def test_nodes_know_where_they_stand():
    root = compose("a:\n  - b\n  - {c: 'd'}\n", "l.yaml", Problems())
    assert isinstance(root, Mapping)
    rows = root.get("a")
    assert isinstance(rows, Sequence)
    quoted = rows.items[1].get("c")
    assert isinstance(quoted, Scalar)
    assert (quoted.text, quoted.plain) == ("d", False)
    assert str(quoted.place) == "l.yaml:3:9"


def test_an_alias_is_what_it_names():
    root = compose("a: &x {b: 1}\nc: *x\n", "l.yaml", Problems())
    assert root.get("c").get("b").text == "1"


DEEP = "brackets or indents nest more than 32 deep; a layout needs about eight"


@pytest.mark.parametrize(
    "text",
    [
        "a: " + "[" * 5000 + "]" * 5000,
        "[" * 5000,
        "{a: " * 5000,
        "- " * 5000 + "x",
        "\n".join(" " * n + "a:" for n in range(500)),
        "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}]\n" for n in range(1, 1000)),
    ],
    ids=["brackets", "open brackets", "braces", "dashes", "indents", "aliases"],
)
def test_deep_nesting_is_refused_before_it_costs_anything(text, work):
    problem, calls = work(lambda: refusal(text))
    assert problem.endswith(DEEP)
    # Without the bound the plain parser alone would need a million or overflow its stack.
    assert calls < 60_000


@pytest.mark.parametrize(
    "row", ["[" + ", ".join(["*a{0}"] * 10) + "]", "{{b: *a{0}, c: *a{0}, d: *a{0}}}"]
)
def test_aliases_that_multiply_are_refused(row, work):
    text = "a0: &a0 [x, x]\n" + "".join(
        f"a{n}: &a{n} {row.format(n - 1)}\n" for n in range(1, 25)
    )
    problem, calls = work(lambda: refusal(text))
    assert problem.endswith(
        "the file has more than 500,000 values; use `copies` for equal lines, and fewer aliases"
    )
    # Values are counted, not made: 10^25 of them would take for ever.
    assert calls < 500_000
