"""Files that are written: whole or not at all, together, and never over what was read."""

import os
import stat

import pytest

from chain.writing.drafts import BEFORE, draft_path
from chain.writing.files import CannotWrite, write_together, write_whole

LAYOUT = """\
title: a line
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  one:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {down: {from: S, to: R}, up: {from: R, to: S}}
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(LAYOUT)
    return path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("option", ["--csv", "--figure", "--touchstone"])
def test_the_layout_is_never_written_over(run, layout, option):
    for name in (layout.name, "link.csv", "link.svg", "link.s2p"):
        target = layout.parent / name
        if name != layout.name:
            target.symlink_to(layout)
        status, out, _ = run("budget", layout, "--signal", "down", option, target)
        assert status in (2, 3)
        assert out == ""
        assert layout.read_text() == LAYOUT
    assert "was read, and would be lost" in run("budget", layout, "--csv", layout)[2]


def test_a_hard_link_to_what_was_read_is_the_same_file(run, layout):
    other = layout.parent / "other.csv"
    os.link(layout, other)
    assert run("budget", layout, "--csv", other)[0] == 3
    assert other.read_text() == LAYOUT


def test_an_included_file_and_a_measured_one_are_kept(run, layout, tmp_path):
    (tmp_path / "parts.yaml").write_text("parts: {}\n")
    layout.write_text("include: [parts.yaml]\n" + LAYOUT)
    assert run("budget", layout, "--csv", tmp_path / "parts.yaml")[0] == 3
    assert (tmp_path / "parts.yaml").read_text() == "parts: {}\n"


def test_several_outputs_come_together_or_not_at_all(run, layout, tmp_path):
    csv, s2p = tmp_path / "o.csv", tmp_path / "o.s2p"
    assert run("budget", layout, "--csv", csv, "--touchstone", s2p)[0] == 2  # two signals
    assert names(tmp_path) == ["l.yaml"]
    assert run("budget", layout, "--signal", "up", "--csv", csv, "--touchstone",
               tmp_path / "no" / "o.s2p")[0] == 3
    assert names(tmp_path) == ["l.yaml"]
    assert run("budget", layout, "--signal", "up", "--csv", csv, "--touchstone", s2p)[0] == 0
    assert names(tmp_path) == ["l.yaml", "o.csv", "o.s2p"]


def test_one_name_for_two_outputs_is_refused(tmp_path):
    with pytest.raises(CannotWrite, match="two outputs"):
        write_together([(str(tmp_path / "a"), "1"), (str(tmp_path / "." / "a"), "2")])
    assert names(tmp_path) == []


def test_a_second_file_that_fails_brings_the_first_back(tmp_path, monkeypatch):
    first, second = tmp_path / "a", tmp_path / "b"
    first.write_text("old")
    replace = os.replace

    def refusing(source, target):
        if target == str(second):
            raise OSError(5, "Input/output error")
        replace(source, target)

    monkeypatch.setattr("chain.writing.files.os.replace", refusing)
    with pytest.raises(CannotWrite, match="Input/output"):
        write_together([(str(first), "new"), (str(second), "new")])
    assert first.read_text() == "old"
    assert names(tmp_path) == ["a"]


def test_folders_devices_and_pipes_are_not_replaced(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    for path, what in ((tmp_path / "pipe", "pipe"), (tmp_path / "folder", "folder"),
                       ("/dev/null", "device")):
        with pytest.raises(CannotWrite, match=what):
            write_whole(str(path), "text")
    assert names(tmp_path) == ["folder", "pipe"]
    assert stat.S_ISFIFO(os.stat(tmp_path / "pipe").st_mode)


def test_links_are_followed_and_modes_kept(tmp_path):
    real, link = tmp_path / "real", tmp_path / "link"
    real.write_text("old")
    real.chmod(0o640)
    link.symlink_to(real)
    write_whole(str(link), "new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640


@pytest.mark.parametrize("path", ["", "a\0b", "a/" * 3000 + "x"])
def test_names_that_cannot_be_are_refused_in_words(path):
    with pytest.raises(CannotWrite):
        write_whole(path, "text")


def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path):
    target = str(tmp_path / "o.csv")
    ours = draft_path(target)
    dead = ours.replace(f"-{os.getpid()}-", f"-{_dead_process()}-")
    other = draft_path(str(tmp_path / "p.csv")).replace(f"-{os.getpid()}-", f"-{_dead_process()}-")
    for path in (ours, dead, other):
        with open(path, "w") as file:
            file.write("half")
    write_whole(target, "whole")
    assert not os.path.exists(dead)
    assert os.path.exists(ours)  # of a process that lives
    assert os.path.exists(other)  # of another file


def test_a_folder_put_aside_by_a_killed_run_comes_back(tmp_path):
    from chain.pages.folder import write_folder

    pages = tmp_path / "pages"
    write_folder(pages, {"a.txt": "old"})
    aside = draft_path(str(pages), BEFORE).replace(f"-{os.getpid()}-", f"-{_dead_process()}-")
    os.rename(pages, aside)
    (tmp_path / "thesis").write_text("years of work")
    write_folder(pages, {"a.txt": "new"})
    assert (pages / "a.txt").read_text() == "new"
    assert names(tmp_path) == ["pages", "thesis"]


def _dead_process():
    """Return the number of a process that has ended."""
    child = os.fork()
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
    return child
