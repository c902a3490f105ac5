"""Changes written into a layout's own text: comments stay, and what comes out says the same."""

import pytest

import chain
from chain.reading.written import text_with_changes

TEXT = """\
# A line.
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages:
  room: {temperature: 295 K}    # warm
  base:
    temperature: 20 mK   # cold
parts:
  pad: {kind: attenuator, loss: 20 dB}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W, kind: cable, from: room, to: base, length: 0.5 m, coax: cupronickel-0.86}   # W
    - {id: A, part: pad, stage: base}
    - id: H          # the amplifier
      kind: amplifier
      stage: base
      gain: 30 dB +/- 1 dB   # as its maker says
      noise_temperature: {4 GHz: 2 K, 8 GHz: 3 K}
    - {id: R, kind: port, stage: room,
       note: 'the end'  # a comment inside
      }
signals: {main: {from: S, to: R}}
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "line.yaml"
    path.write_text(TEXT)
    return chain.load(path)


@pytest.mark.parametrize(("change", "old", "new"), [
    ("H.gain=27.5 dB", "gain: 30 dB +/- 1 dB   #", "gain: 27.5 dB   #"),
    ("H.state=off", "noise_temperature: {4 GHz: 2 K, 8 GHz: 3 K}",
     "noise_temperature: {4 GHz: 2 K, 8 GHz: 3 K}\n      state: 'off'"),
    ("H.noise_temperature={4 GHz: 4 K, 8 GHz: 6 K}", "{4 GHz: 2 K, 8 GHz: 3 K}",
     "{4 GHz: 4 K, 8 GHz: 6 K}"),
    ("W.extra_loss=2.31 dB", "coax: cupronickel-0.86}", "coax: cupronickel-0.86, "
     "extra_loss: 2.31 dB}"),
    ("A.state=bypassed", "stage: base}\n    - id: H", "stage: base, state: bypassed}\n"
     "    - id: H"),
    ("stages.base.temperature=35 mK", "temperature: 20 mK   #", "temperature: 35 mK   #"),
    ("stages.room.temperature=300 K", "{temperature: 295 K}", "{temperature: 300 K}"),
    ("R.tag=it's", "note: 'the end'", "note: 'the end', tag: 'it''s'"),
    ("R.note=", ",\n       note: 'the end'", ""),
    ("H.gain=", "      gain: 30 dB +/- 1 dB   # as its maker says\n", None),
])
def test_a_change_is_written_where_it_stands(layout, change, old, new):
    assert TEXT.count(old) == 1
    if new is None:  # what comes out is read: an amplifier without gain is refused
        with pytest.raises(chain.LayoutError, match="no gain"):
            text_with_changes(layout, [change])
        return
    assert text_with_changes(layout, [change]) == TEXT.replace(old, new)


def test_what_is_written_reads_as_the_change_itself(layout, tmp_path):
    changes = ["H.gain=27.5 dB", "W.extra_loss=1 dB", "stages.base.temperature=35 mK"]
    path = tmp_path / "copy.yaml"
    path.write_text(text_with_changes(layout, changes))
    ours, theirs = chain.load(path), layout.changed(*changes)
    assert (ours.budget("main").gain_db == theirs.budget("main").gain_db).all()


@pytest.mark.parametrize(("change", "why"), [
    ("A.loss=10 dB", "loss comes from the part 'pad'"),
    ("B.loss=10 dB", "its line is not in this file"),
    ("stages.still.temperature=1 K", "still stands in no stages of this file"),
    ("W.via.room=", "via is no mapping of its own"),
    ("W.extra_loss=", "the file does not have it"),
    ("A-3.state=open", "it is of one copy"),
])
def test_what_does_not_stand_in_the_file_is_refused(layout, change, why):
    with pytest.raises(chain.LayoutError) as found:
        text_with_changes(layout, [change])
    assert why in str(found.value)


def test_a_line_of_an_included_file_is_refused(tmp_path):
    (tmp_path / "more.yaml").write_text("parts: {pad: {kind: attenuator, loss: 20 dB}}\n")
    path = tmp_path / "line.yaml"
    path.write_text("include: [more.yaml]\n" + TEXT.replace(
        "parts:\n  pad: {kind: attenuator, loss: 20 dB}\n", ""))
    with pytest.raises(chain.LayoutError, match="comes from the part 'pad'"):
        text_with_changes(chain.load(path), ["A.loss=10 dB"])
