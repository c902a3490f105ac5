"""Files that a layout includes."""

import os

STAGES = """\
stages:
  room:   {temperature: 295 K}
  plate:  {temperature: 3.8 K}
  mixing: {temperature: 15 mK, cooling: {10 mK: 2 uW, 20 mK: 15 uW}}
"""


def including(desk, *names):
    """Return the good layout, its stages taken out and files included in their place."""
    start = desk.good.index("stages:")
    return (
        f"include: [{', '.join(names)}]\n" + desk.good[:start]
        + desk.good[desk.good.index("lines:"):]
    )


def test_stages_from_another_file(desk):
    desk.write(STAGES, "stages.yaml")
    layout = desk.load(including(desk, "stages.yaml"))
    assert list(layout.stages) == ["room", "plate", "mixing"]
    assert str(layout.stages["plate"].place) == "stages.yaml:3:3"
    assert layout.sources["stages.yaml"] == STAGES.encode()
    assert list(layout.sources) == ["l.yaml", "stages.yaml"]


def test_a_single_file_needs_no_brackets(desk):
    desk.write(STAGES, "stages.yaml")
    text = including(desk, "stages.yaml").replace("[stages.yaml]", "stages.yaml")
    assert desk.load(text).stages


def test_names_are_relative_to_the_file_that_names_them(desk):
    desk.write("include: stages.yaml\n", "shared/all.yaml")
    desk.write(STAGES, "shared/stages.yaml")
    desk.write("# GHz S RI R 50\n4 0 0 0.9 0 0.9 0 0 0\n", "shared/pad.s2p")
    desk.write("parts: {pad: {kind: attenuator, data: pad.s2p}}\n", "shared/parts.yaml")
    text = including(desk, "shared/all.yaml", "shared/parts.yaml").replace(
        "kind: attenuator, stage: plate, loss: 20 dB", "part: pad, stage: plate"
    )
    layout = desk.load(text)
    assert "shared/stages.yaml" in layout.sources
    assert layout.elements["A1"].settings["data"].path == os.path.join("shared", "pad.s2p")


def test_own_rows_come_behind_included_ones(desk):
    desk.write("stages:\n  room: {temperature: 295 K}\n", "room.yaml")
    text = "include: room.yaml\n" + desk.good.replace("  room:   {temperature: 295 K}\n", "")
    assert list(desk.load(text).stages) == ["room", "plate", "mixing"]


def test_a_file_included_twice_is_read_once(desk):
    desk.write(STAGES, "stages.yaml")
    desk.write("include: stages.yaml\n", "a.yaml")
    desk.write("include: stages.yaml\n", "b.yaml")
    assert desk.load(including(desk, "a.yaml", "b.yaml")).stages


def test_mistakes_are_told_in_the_order_of_the_files(desk):
    desk.write(STAGES.replace("3.8 K", "3.8"), "stages.yaml")
    text = including(desk, "stages.yaml").replace("loss: 20 dB", "loss: 20")
    assert desk.refused(text) == [
        "l.yaml:6:54: A1.loss: '20' has no unit; write it with dB",
        "stages.yaml:3:25: stages.plate.temperature: '3.8' has no unit; "
        "write it with one of uK, mK, K",
    ]


def test_a_name_in_two_files(desk):
    desk.write(STAGES, "stages.yaml")
    problems = desk.refused("include: stages.yaml\n" + desk.good)
    assert problems == [
        f"stages.yaml:{line}:3: {name!r} in stages is given twice, first at l.yaml:{line + 2}:3; "
        "keep one of them, or choose another name"
        for line, name in ((2, "room"), (3, "plate"), (4, "mixing"))
    ]


def test_a_file_that_is_missing(desk):
    desk.write(STAGES, "stages.yaml")
    assert desk.refused(including(desk, "stage.yaml"))[0] == (
        "l.yaml:1:11: stage.yaml: there is no such file; did you mean 'stages.yaml'?"
    )


def test_a_file_that_includes_itself(desk):
    desk.write("include: b.yaml\n" + STAGES, "a.yaml")
    desk.write("include: a.yaml\n", "b.yaml")
    assert desk.refused(including(desk, "a.yaml")) == [
        "b.yaml:1:10: a.yaml includes itself, by way of what it includes; "
        "take one of the includes out"
    ]


def test_a_layout_that_includes_itself(desk):
    assert desk.refused("include: l.yaml\n" + desk.good) == [
        "l.yaml:1:10: l.yaml includes itself, by way of what it includes; "
        "take one of the includes out"
    ]


def test_what_an_included_file_cannot_hold(desk):
    desk.write(STAGES + "band: {start: 4 GHz, stop: 8 GHz}\nlins: {}\n", "stages.yaml")
    assert desk.refused(including(desk, "stages.yaml")) == [
        "stages.yaml:5:1: an included file has no band; keep band in the layout; "
        "included files hold include, parts, coax, materials, stages",
        "stages.yaml:6:1: unknown key 'lins'; there are include, parts, coax, materials, "
        "stages, format and note",
    ]


def test_an_included_file_that_is_not_yaml(desk):
    desk.write("stages: {a: [}\n", "stages.yaml")
    assert desk.refused(including(desk, "stages.yaml"))[-1].startswith("stages.yaml:1:14: ")


def test_included_directories_and_empty_files(desk):
    (desk.folder / "folder").mkdir()
    desk.write("", "empty.yaml")
    problems = desk.refused(including(desk, "folder", "empty.yaml"))
    assert problems[0] == "l.yaml:1:11: folder is a directory; name a layout file"
    assert any(problem.startswith("empty.yaml:1:1: the file is empty; ") for problem in problems)


def test_include_of_what_is_no_name(desk):
    assert desk.refused("include: {a: b}\n" + desk.good) == [
        "l.yaml:1:10: include is a mapping; list files, like [parts.yaml]"
    ]


def test_a_hundred_files_and_no_more(desk):
    for number in range(120):
        desk.write(f"include: {number + 1}.yaml\n", f"{number}.yaml")
    assert "98.yaml:1:10: more than 100 files are included; put some together" in (
        desk.refused("include: 0.yaml\n" + desk.good)
    )
