"""From text to typed values, and what is said where the text is none."""

import pytest

from chain.reading.context import ReadContext, SpoiltError
from chain.reading.fields import read_fields
from chain.reading.nodes import compose
from chain.reading.problems import MistakeError, Problems
from chain.reading.values import read
from components.parameters import (
    Choice,
    Cost,
    DataFile,
    Distances,
    Flag,
    FrequencyRange,
    Measure,
    Overrides,
    Parameter,
    PerPort,
    PortList,
    PortName,
    Reference,
    Text,
    Whole,
)
from components.quantities import Quantity, Table, Tolerance

LOSS = Measure("ratio", least=0.0, over_frequency=True)
STAGES = ("room", "still", "mixing")


def value(text, reads, **names):
    context = ReadContext(Problems(), STAGES, **names)
    return read(compose(text, "l.yaml", context.problems), reads, context, "A1.key")


def refusal(text, reads, **names):
    """Return what a value is refused with, less the file and line."""
    context = ReadContext(Problems(), STAGES, **names)
    node = compose(text, "l.yaml", context.problems)
    try:
        found = read(node, reads, context, "A1.key")
    except MistakeError as mistake:
        context.problems.note(mistake)
    except SpoiltError:
        pass
    else:
        pytest.fail(f"{text} was read as {found}")
    assert all(problem.place.line == 1 for problem in context.problems)
    return [str(problem).removeprefix("l.yaml:1:") for problem in context.problems]


# -- quantities -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("20 dB", "ratio", 20.0),
        ("20dB", "ratio", 20.0),
        ("'20 dB'", "ratio", 20.0),
        ("12 mK", "temperature", 0.012),
        ("4.2GHz", "frequency", 4.2e9),
        ("0.86 mm", "length", 0.86e-3),
        ("18 uW", "power", 18e-6),
        ("18 µW", "power", 18e-6),
        ("18 μW", "power", 18e-6),
        ("-30 dBm", "power", 1e-6),
        ("-150 dBm/Hz", "noise power density", 1e-18),
        ("3 1/s", "rate", 3.0),
        ("5 %", "fraction", 0.05),
    ],
)
def test_quantities_with_units(text, dimension, expected):
    found = value(text, Measure(dimension))
    assert isinstance(found, Quantity)
    # Units are powers of ten: only rounding of one product lies between.
    assert found.value == pytest.approx(expected, rel=1e-12)
    assert found.text == text.strip("'")


@pytest.mark.parametrize(
    ("text", "dimension", "tolerance"),
    [
        ("20 dB +/- 0.5 dB", "ratio", Tolerance(0.5)),
        ("20 dB ± 0.5 dB", "ratio", Tolerance(0.5)),
        ("20 dB +/- 5 %", "ratio", Tolerance(1.0)),
        ("20 dB +/- 0.5 dB max", "ratio", Tolerance(0.5, uniform=True)),
        ("-30 dBm +/- 1 dB", "power", Tolerance(1.0, in_db=True)),
    ],
)
def test_tolerances(text, dimension, tolerance):
    assert value(text, Measure(dimension)).tolerance == tolerance


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("20", "1: A1.key: '20' has no unit; write it with dB"),
        ("20 K", "1: A1.key: 'K' is no unit of ratio; use dB"),
        ("-3 dB", "1: A1.key: '-3 dB' is below 0 dB; give 0 dB or more"),
        ("nan dB", "1: A1.key: 'nan dB' is not a ratio with its unit; write it like '20 dB'"),
        ("inf dB", "1: A1.key: 'inf dB' is not a ratio with its unit; write it like '20 dB'"),
        ("1e999 dB", "1: A1.key: '1e999 dB' is not a finite number; write a finite one"),
        ("~", "1: A1.key: '~' is not a ratio with its unit; write it like '20 dB'"),
        ("''", "1: A1.key: '' is not a ratio with its unit; write it like '20 dB'"),
        ("[20 dB]", "1: A1.key is a list; write it like '20 dB'"),
        (
            "20 dB +/- dB",
            "1: A1.key: '20 dB +/- dB' has an unreadable tolerance; write it like '+/- 0.5 dB'",
        ),
        (
            "20 dB +/- 1e999 dB",
            "1: A1.key: '20 dB +/- 1e999 dB' is not a finite number; write a finite one",
        ),
        (
            "2" * 101,
            f"1: A1.key: '{'2' * 57}...' is no quantity; write it like '20 dB'",
        ),
    ],
)
def test_what_is_no_loss(text, said):
    assert refusal(text, LOSS) == [said]


def test_a_level_beyond_floats():
    assert refusal("5000 dBm", Measure("power")) == [
        "1: A1.key: '5000 dBm' is not a finite number; write a finite one"
    ]


def test_a_value_below_the_bound_of_its_dimension():
    assert refusal("0 GHz", Measure("frequency")) == [
        "1: A1.key: '0 GHz' is below 1 Hz; give 1 Hz or more"
    ]


def test_zero_stands_where_the_declaration_lets_it_and_nothing_between():
    power = Measure("power", zero=True)
    assert value("0 W", power).value == 0.0
    assert refusal("1e-300 W", power) == [
        "1: A1.key: '1e-300 W' is below 1e-30 W; give 0, or 1e-30 W or more"
    ]
    assert refusal("-1 W", power) == [
        "1: A1.key: '-1 W' is below 0 W; give 0, or 1e-30 W or more"
    ]


@pytest.mark.parametrize(("text", "measure", "said"), [
    ("20 dB +/- 1e300 dB", LOSS, "'20 dB +/- 1e300 dB' has a tolerance above 300 dB"),
    ("0 dBm +/- 101 dB", Measure("power"), "'0 dBm +/- 101 dB' has a tolerance above 100 dB"),
    ("1 W +/- 2 kW", Measure("power", most=1e3), "'1 W +/- 2 kW' has a tolerance above 1 kW"),
])
def test_a_tolerance_wider_than_what_the_value_can_be(text, measure, said):
    assert refusal(text, measure) == [f"1: A1.key: {said}; give a narrower one"]


def test_a_value_above_its_upper_bound():
    assert refusal("2", Measure("number", least=0.0, most=1.0)) == [
        "1: A1.key: '2' is above 1; give 1 or less"
    ]


def test_a_bound_is_said_in_a_unit_that_the_dimension_has():
    assert refusal("20 %", Measure("fraction", most=0.1)) == [
        "1: A1.key: '20 %' is above 10 %; give 10 % or less"
    ]


# -- tables over frequency ------------------------------------------------------------------


def test_table():
    found = value("{4 GHz: 0.2 dB, 8 GHz: 0.35 dB}", LOSS)
    assert found == Table((4e9, 8e9), (0.2, 0.35), "ratio")


def test_table_that_holds_and_has_a_tolerance():
    found = value("{4 GHz: 0.2 dB, outside: hold, tolerance: 0.1 dB max}", LOSS)
    assert found == Table((4e9,), (0.2,), "ratio", Tolerance(0.1, uniform=True), hold=True)


@pytest.mark.parametrize("sign", ["+/- 0.1 dB", "± 0.1 dB"])
def test_tolerance_of_a_table_may_have_its_sign(sign):
    found = value(f"{{4 GHz: 0.2 dB, 8 GHz: 1 dB, tolerance: {sign}}}", LOSS)
    assert found.tolerance == Tolerance(0.1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{4 GHz: 1 dB}", "1: A1.key: one point is not a table; "
            "give two or more, or add `outside: hold`"),
        ("{8 GHz: 1 dB, 4 GHz: 2 dB}", "15: A1.key: '4 GHz' does not lie above the point before "
            "it; write the points rising"),
        ("{4 GHz: 1 dB, 4000 MHz: 2 dB}", "15: A1.key: '4000 MHz' does not lie above the point "
            "before it; write the points rising"),
        ("{4 GHz: 1 dB, 8 GHz: -2 dB}", "22: A1.key: '-2 dB' is below 0 dB; give 0 dB or more"),
        ("{0 GHz: 1 dB, 8 GHz: 2 dB}", "2: A1.key: '0 GHz' is below 1 Hz; "
            "give 1 Hz or more"),
        ("{4 GHz: 1 dB +/- 1 dB, 8 GHz: 2 dB}", "9: A1.key: a point of a table has no tolerance "
            "of its own; give the table one: `tolerance:` beside its points"),
        ("{4 GHz: 1 dB, 8 GHz: 2 dB, outside: extrapolate}", "37: A1.key: outside takes the word "
            "hold alone; write `outside: hold`, or leave it out"),
        ("{4 GHz: 1 dB, 8 GHz: 2 dB, tolerance: 5 %}", "39: A1.key: the tolerance of a table is "
            "one offset, not a part of each value; write it like '20 dB'"),
        ("{4 GHz: 1 dB, 8 GHz: 2 dB, tolerance: 5}", "39: A1.key: the tolerance '5' cannot be "
            "read; write it like '20 dB', with max behind it for a uniform range"),
        ("{outside: hold}", "1: A1.key: the table has no points; "
            "write it like {4 GHz: 20 dB, 8 GHz: 20 dB}"),
        ("{}", "1: A1.key: the table has no points; write it like {4 GHz: 20 dB, 8 GHz: 20 dB}"),
    ],
)  # fmt: skip
def test_what_is_no_table(text, said):
    assert refusal(text, LOSS) == [said]


def test_every_wrong_point_of_a_table_is_told():
    assert refusal("{4: 1 dB, 5 GHz: 2 dB, 8 GHz: 3}", LOSS) == [
        "2: A1.key: '4' has no unit; write it with one of Hz, kHz, MHz, GHz",
        "31: A1.key: '3' has no unit; write it with dB",
    ]


def test_a_value_that_is_the_same_at_every_frequency_is_no_table():
    assert refusal("{4 GHz: 1 K, 8 GHz: 2 K}", Measure("temperature")) == [
        "1: A1.key is a mapping; write it like '15 mK'"
    ]


# -- whole numbers, words -------------------------------------------------------------------


def test_whole_number():
    assert value("7", Whole(1, 21)) == 7


@pytest.mark.parametrize("text", ["1.5", "7 dB", "1e3", "0x10", "1_0", "x", "9" * 30])
def test_what_is_no_whole_number(text):
    assert refusal(text, Whole(1, 21)) == [
        f"1: A1.key: {text!r} is not a whole number; "
        "write a whole number from 1 to 21, without a unit"
    ]


def test_whole_number_outside():
    assert refusal("22", Whole(1, 21)) == ["1: A1.key: 22 is outside 1 to 21; give 1 to 21"]


def test_choice_keeps_words_that_other_readers_take_for_booleans():
    assert value("off", Choice(("ok", "off"))) == "off"


def test_choice_offers_the_nearest_word():
    assert refusal("ded", Choice(("ok", "off", "dead"))) == [
        "1: A1.key: 'ded' is not one of its words; did you mean 'dead'? there are ok, off and dead"
    ]


def test_flag():
    assert (value("true", Flag()), value("false", Flag())) == (True, False)


@pytest.mark.parametrize("text", ["yes", "on", "True", "1"])
def test_nothing_else_is_a_flag(text):
    assert refusal(text, Flag()) == [
        f"1: A1.key: {text!r} is neither true nor false; write true or false"
    ]


@pytest.mark.parametrize("text", ["no", "2026-01-01", "1:30", "~", "007"])
def test_text_stays_text(text):
    assert value(text, Text()) == text


def test_a_key_without_a_value():
    context = ReadContext(Problems())
    node = compose("loss:\n", "l.yaml", context.problems)
    fields = {"loss": Parameter("loss", LOSS, "loss")}
    assert read_fields(node, fields, context, "A1", dot="A1.").spoilt
    assert [str(problem) for problem in context.problems] == [
        "l.yaml:1:6: A1.loss has no value; write it like '20 dB', or take the key out"
    ]


@pytest.mark.parametrize(
    ("text", "expected"), [("1200 EUR", (1200.0, "EUR")), ("12.5€", (12.5, "€"))]
)
def test_cost(text, expected):
    assert value(text, Cost()) == expected


@pytest.mark.parametrize("text", ["1200", "EUR", "-3 EUR", "1e3 EUR"])
def test_what_is_no_cost(text):
    assert refusal(text, Cost()) == [
        f"1: A1.key: {text!r} is not an amount and its currency; write it like '1200 EUR'"
    ]


# -- names ----------------------------------------------------------------------------------


def test_references():
    assert value("still", Reference("stage")) == "still"
    assert value("pump", Reference("tone"), tones=("pump",)) == "pump"
    thing = object()
    assert value("ours", Reference("coax"), coax={"ours": thing}) is thing
    assert value("ours", Reference("material"), materials={"ours": thing}) is thing


@pytest.mark.parametrize(
    ("text", "to", "said"),
    [
        ("stil", "stage", "1: A1.key: there is no stage 'stil'; "
            "did you mean 'still'? there are room, still and mixing"),
        ("pump", "tone", "1: A1.key: there is no tone 'pump'; add it to `tones:`"),
        ("cupro", "coax", "1: A1.key: there is no coax 'cupro'; add it to `coax:`"),
    ],
)  # fmt: skip
def test_names_of_what_is_not_there(text, to, said):
    assert refusal(text, Reference(to)) == [said]


def test_ports():
    assert value("common", PortName()) == "common"
    assert value("[coupled, isolated]", PortList()) == ("coupled", "isolated")
    assert value("coupled", PortList()) == ("coupled",)
    assert value("{in: SMA male}", PerPort()) == {"in": "SMA male"}
    assert refusal("[in, in]", PortList()) == ["6: A1.key: 'in' stands twice; name it once"]


def test_distances():
    assert value("{room: 0.1 m, still: 20 cm}", Distances()) == (
        ("room", pytest.approx(0.1)), ("still", pytest.approx(0.2))
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{stil: 0.2 m}", "2: A1.key: there is no stage 'stil'; "
            "did you mean 'still'? there are room, still and mixing"),
        ("{still: 0.2}", "9: A1.key.still: '0.2' has no unit; "
            "write it with one of nm, um, mm, m, cm"),
        ("{still: 0.2 m, mixing: 0.1 m}", "16: A1.key: 'mixing' does not lie above the point "
            "before it; write the points rising"),
        ("still", "1: A1.key is the text 'still'; "
            "write stages and distances, like {still: 0.2 m}"),
    ],
)  # fmt: skip
def test_what_are_no_distances(text, said):
    assert refusal(text, Distances()) == [said]


def test_frequency_range():
    assert value("{start: 4 GHz, stop: 8 GHz}", FrequencyRange()) == (4e9, 8e9)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{start: 4 GHz}", "1: A1.key needs start and stop; write {start: 4 GHz, stop: 8 GHz}"),
        ("{start: 4 GHz, end: 8 GHz}", "16: A1.key: unknown key 'end'; there are start and stop"),
        ("{start: 8 GHz, stop: 4 GHz}",
            "1: A1.key: it stops below its start; exchange start and stop"),
    ],
)  # fmt: skip
def test_what_is_no_frequency_range(text, said):
    assert refusal(text, FrequencyRange()) == [said]


# -- files ----------------------------------------------------------------------------------


@pytest.fixture
def data(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "filter.s2p").write_text("# Hz S RI R 50\n")
    (tmp_path / "folder").mkdir()
    return tmp_path


@pytest.mark.usefixtures("data")
def test_data_file():
    found = value("filter.s2p", DataFile())
    assert (found.path, found.hold) == ("filter.s2p", False)
    found = value("{file: filter.s2p, outside: hold}", DataFile())
    assert (found.path, found.hold) == ("filter.s2p", True)


@pytest.mark.usefixtures("data")
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fliter.s2p",
            "1: A1.key: there is no file 'fliter.s2p'; did you mean 'filter.s2p'?"),
        ("folder", "1: A1.key: 'folder' is not a plain file; name a file"),
        ("{outside: hold}", "1: A1.key names no file; write {file: ..., outside: hold}"),
        ("{file: filter.s2p, outside: zero}", "29: A1.key: outside takes the word hold alone; "
            "write `outside: hold`, or leave it out"),
    ],
)  # fmt: skip
def test_what_is_no_data_file(text, said):
    assert refusal(text, DataFile()) == [said]


# -- values that replace others -------------------------------------------------------------

KEYS = {
    "loss": Parameter("loss", LOSS, "loss", required=True),
    "warm": Parameter("warm", Overrides(), "values at room temperature", fixed=True),
    "tag": Parameter("tag", Text(), "what is written on it", fixed=True),
}


def fields(text):
    context = ReadContext(Problems(), STAGES)
    node = compose(text, "l.yaml", context.problems)
    found = read_fields(node, KEYS, context, "A1", dot="A1.")
    return found, [str(problem).removeprefix("l.yaml:1:") for problem in context.problems]


def test_overrides_are_typed_as_what_they_replace():
    found, problems = fields("{loss: 1 dB, warm: {loss: 3 dB}}")
    assert problems == []
    assert found.values["warm"]["loss"].value == 3.0


def test_overrides_of_what_cannot_differ():
    _, problems = fields("{loss: 1 dB, warm: {tag: x}}")
    assert problems == ["21: A1.warm: unknown key 'tag'; there is loss"]


def test_overrides_with_mistakes():
    _, problems = fields("{loss: 1 dB, warm: {loss: 3}}")
    assert problems == ["27: A1.warm.loss: '3' has no unit; write it with dB"]


def test_a_required_key():
    _, problems = fields("{tag: x}")
    assert problems == ["1: A1 has no loss; add `loss: 20 dB` (loss)"]


def test_a_required_key_that_is_only_misspelt_is_one_mistake():
    _, problems = fields("{los: 3 dB}")
    assert problems == [
        "2: A1: unknown key 'los'; did you mean 'loss'? there are loss, warm and tag"
    ]


def test_not_a_mapping():
    _, problems = fields("[loss]")
    assert problems == ["1: A1 is a list; write a mapping like {loss: 20 dB}"]


