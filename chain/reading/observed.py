"""Tones and signals: what is sent in, and what is looked at."""

from dataclasses import dataclass

from chain.layout.layout import Signal, Tone
from chain.reading import declared
from chain.reading.context import SpoiltError
from chain.reading.ends import find_end
from chain.reading.fields import Fields, read_fields, rows_of
from chain.reading.names import check_name, check_unique, copy_of, numbered, written_end
from chain.reading.problems import MistakeError
from chain.reading.sections import made_band
from components.declaration import KINDS

_TONE = declared.by_name(declared.TONE)
_SIGNAL = declared.by_name(declared.SIGNAL)


@dataclass(frozen=True)
class Written:
    """A tone or signal before it is copied; `ends` holds an End by key."""

    name: str
    found: Fields
    ends: dict
    place: object
    copies: int | None


# -- tones --------------------------------------------------------------------------------------


def read_tones(node, written_lines, context):
    """Return the tones as Written, by name; those with mistakes are left out."""
    return _read(node, "tones", "tone", _TONE, _tone_ends, written_lines, context)


def _tone_ends(name, found, written_lines):
    into = written_end(found.values["into"])
    _check_outside(name, into, written_lines)
    ends = {"into": find_end(into, written_lines, f"tones.{name}.into")}
    _check_power(name, found)
    _check_frequencies(name, found)
    _check_pulse(name, found)
    if "arriving" in found.values:
        key, _ = found.values["arriving"]
        ends["arriving"] = find_end(written_end(key), written_lines, f"tones.{name}.arriving")
    if ends["into"].copies is None and len(ends) > 1 and ends["arriving"].copies is not None:
        there = ends["arriving"]
        raise MistakeError(
            there.written.place,
            f"tone {name} goes into one port, and {there.written.id} has {there.copies} copies",
            f"name one copy, like {there.written.id}-1",
        )
    return ends


def _check_outside(name, written, written_lines):
    draft = written_lines.drafts.get(written.id)
    element = draft and draft.element
    if element is None or element.kind.outside:
        return
    kinds = " or ".join(kind.name for kind in KINDS.values() if kind.outside)
    raise MistakeError(
        written.place,
        f"tone {name} goes into {written.id}, {_a(element.kind.name)} and no outside connector",
        f"send it into a {kinds}",
    )


def _a(word):
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


def _check_power(name, found):
    values, places = found.values, found.places
    if "power" in values and "arriving" in values:
        raise MistakeError(
            places["arriving"], f"tone {name} has a power and what arrives of it", "keep one"
        )
    if "power" not in values and "arriving" not in values:
        raise MistakeError(
            places["into"], f"tone {name} has no power",
            "add `power: 3 dBm`, or what has to arrive, like `arriving: {X1.in: -30 dBm}`",
        )


def _check_pulse(name, found):
    if "pulse" in found.values and "duty" not in found.values:
        raise MistakeError(
            found.places["pulse"],
            f"tone {name} is pulsed, and what part of the time it is on is not stated",
            "add `duty: 2 %`",
        )


def _check_frequencies(name, found):
    values, places = found.values, found.places
    if "band" in values:
        for other in ("frequency", "spacing"):
            if other in values:
                raise MistakeError(
                    places[other], f"tone {name} has a band and a {other}", "keep one"
                )
        if values.get("count", 1) < 2:
            raise MistakeError(
                places["band"], f"tone {name} has a band, and is a single one", "add `count:`"
            )
        return
    if "frequency" not in values:
        raise MistakeError(
            places["into"], f"tone {name} has no frequency",
            "add `frequency: 6 GHz`, or of a comb `band: {start: 5 GHz, stop: 6 GHz}`",
        )
    count = values.get("count", 1)
    if count > 1 and "spacing" not in values:
        raise MistakeError(
            places["count"], f"tone {name} is a comb without a spacing",
            "add `spacing: 10 MHz`, or give a `band` in place of the frequency",
        )
    if "spacing" in values and count == 1:
        raise MistakeError(
            places["spacing"], f"tone {name} has a spacing, and is a single one", "add `count:`"
        )


def make_tones(written, record):
    """Return every Tone by name, copies made; `record` tells whether ports are connected."""
    return _make(written, record, _tone)


def _tone(tone, number, record):
    values, found, arriving = tone.found.values, tone.found, None
    if "arriving" in tone.ends:
        end = tone.ends["arriving"]
        record.check(tone.ends["into"], end, number, f"tone {tone.name}", end.written.place)
        arriving = end.of(number), values["arriving"][1]
    start_hz, spacing_hz = _comb(values)
    return Tone(
        name=numbered(tone.name, number), into=tone.ends["into"].of(number)[0],
        frequency_hz=start_hz,
        power_w=values["power"].value if "power" in values else None,
        arriving=arriving, place=tone.place, count=found.get("count", 1),
        spacing_hz=spacing_hz, noise=values.get("noise"),
        duty=values["duty"].value if "duty" in values else 1.0,
        pulse_s=values["pulse"].value if "pulse" in values else None,
        value_places=found.places, copy_of=copy_of(tone.name, number), number=number,
    )


def _comb(values):
    """Return the lowest frequency and the spacing (or None) of a tone, Hz."""
    if "band" in values:
        start_hz, stop_hz = values["band"]
        return start_hz, (stop_hz - start_hz) / (values["count"] - 1)
    spacing = values.get("spacing")
    return values["frequency"].value, None if spacing is None else spacing.value


# -- signals ------------------------------------------------------------------------------------


def read_signals(node, written_lines, context):
    """Return the signals as Written, by name; those with mistakes are left out."""
    return _read(node, "signals", "signal", _SIGNAL, _signal_ends, written_lines, context)


def _signal_ends(name, found, written_lines):
    _own_band(name, found)
    return {
        key: find_end(written_end(found.values[key]), written_lines, f"signals.{name}.{key}")
        for key in ("from", "to") if key in found.values
    }


def make_signals(written, record):
    """Return every Signal by name, copies made."""
    return _make(written, record, _signal)


def _signal(signal, number, record):
    start, end = signal.ends.get("from"), signal.ends["to"]
    if start is not None:
        record.check(start, end, number, f"signal {signal.name}", signal.place)
    name = numbered(signal.name, number)
    return Signal(
        name, start and start.of(number), end.of(number), signal.place,
        _own_band(signal.name, signal.found),
        copy_of=copy_of(signal.name, number), number=number,
    )


def _own_band(name, found):
    """Return the Band of a signal that has one of its own, else None."""
    values = found.values.get("band")
    if values is None:
        return None
    return made_band(values, found.places["band"], f"signals.{name}.band")


# -- both ---------------------------------------------------------------------------------------


def _read(node, section, one, parameters, ends_of, written_lines, context):
    rows = {}
    for name, key, value in rows_of(node, context, section):
        called = f"{section}.{name}"
        try:
            check_name(key, section)
            found = read_fields(value, parameters, context, f"{one} {name}", dot=f"{called}.")
            if found.spoilt:
                continue
            ends = ends_of(name, found, written_lines)
            copies = _copies(one, name, ends)
            rows[name] = Written(name, found, ends, key.place, copies)
        except MistakeError as mistake:
            context.problems.note(mistake)
        except SpoiltError:
            continue
    check_unique(rows, section, context)
    return rows


def _copies(one, name, ends):
    counts = {end.copies for end in ends.values() if end.copies is not None}
    if len(counts) < 2:
        return next(iter(counts), None)
    first, last = ends.values()
    raise MistakeError(
        last.written.place,
        f"{one} {name}: {first.written.id} has {first.copies} copies and {last.written.id} has "
        f"{last.copies}",
        f"name one copy, like {first.written.id}-1",
    )


def _make(written, record, make):
    made = {}
    for row in written.values():
        for number in [None] if row.copies is None else range(1, row.copies + 1):
            try:
                one = make(row, number, record)
            except MistakeError as mistake:
                record.problems.note(mistake)
                continue
            made[one.name] = one
    return made
