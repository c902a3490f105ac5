"""Files that are no layouts: each is refused at once, in words, whatever it is."""

import builtins
import os

import pytest

from chain.errors import LayoutError
from chain.reading import load

BEGIN = "begin with `band: {start: 4 GHz, stop: 8 GHz}`, `stages:` and `lines:`"


def refusal(path):
    with pytest.raises(LayoutError) as caught:
        load(path)
    return str(caught.value)


def test_missing_file_offers_the_nearest_name(desk):
    desk.write(desk.good, "receiver.yaml")
    assert refusal("reciever.yaml") == (
        "reciever.yaml:1:1: reciever.yaml: there is no such file; did you mean 'receiver.yaml'?"
    )


def test_missing_file_in_a_missing_folder(desk):
    assert refusal("none/here.yaml") == (
        "none/here.yaml:1:1: none/here.yaml: there is no such file; name a file that exists"
    )


def test_directory(desk):
    os.mkdir("lines")
    assert refusal("lines") == "lines:1:1: lines is a directory; name a layout file"


def test_file_without_permission(desk, monkeypatch):
    # Tests may run as root, whom no permission stops, so the refusal is the system call's own.
    desk.write(desk.good)
    opened = builtins.open

    def refuse(file, *args, **kwargs):
        if file == "l.yaml":
            raise PermissionError(13, "Permission denied")
        return opened(file, *args, **kwargs)

    monkeypatch.setattr(builtins, "open", refuse)
    assert refusal("l.yaml") == (
        "l.yaml:1:1: l.yaml cannot be read: permission denied; name a file that you may read"
    )


def test_pipe_is_not_waited_for(desk):
    os.mkfifo("pipe.yaml")
    assert refusal("pipe.yaml") == (
        "pipe.yaml:1:1: pipe.yaml is not a plain file; save it as a file and name that"
    )


def test_device_is_not_read():
    assert "/dev/zero is not a plain file" in refusal("/dev/zero")


def test_path_with_a_null():
    assert "a file name holds no null character; name a file that exists" in refusal("a\0b")


def test_fifty_megabytes_are_not_read(desk, memory):
    with open("l.yaml", "wb") as file:
        file.truncate(50 << 20)
    told, held = memory(lambda: refusal("l.yaml"))
    assert told == (
        "l.yaml:1:1: l.yaml has 50 MB; a layout has at most 4 MB; write equal lines with `copies`"
    )
    # Nothing is read: the size alone decides.
    assert held < 1 << 20


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing but words\n", "---\n"])
def test_empty(desk, text):
    expected = "the file is empty" if text != "---\n" else "the file has no value and no layout"
    [problem] = desk.refused(text)
    assert problem.endswith(f"{expected}; {BEGIN}")


def test_a_text_is_no_layout(desk):
    assert desk.refused("once upon a time") == [
        f"l.yaml:1:1: the file is the text 'once upon a time' and no layout; {BEGIN}"
    ]


def test_a_list_is_no_layout(desk):
    assert desk.refused("- a\n- b\n") == [
        f"l.yaml:1:1: the file is a list and no layout; {BEGIN}"
    ]


def test_null_bytes(desk):
    assert desk.refused(b"band: 1\nlin\0es: 2\n") == [
        "l.yaml:2:4: the character U+0000 is not text; "
        "give a layout in plain UTF-8 text, and take this character out"
    ]


def test_not_utf8(desk):
    assert desk.refused("title: Übung\n".encode("latin-1")) == [
        "l.yaml:1:8: the byte 0xdc is not UTF-8 text; save the file in UTF-8"
    ]


def test_utf16(desk):
    assert desk.refused(desk.good.encode("utf-16")) == [
        "l.yaml:1:1: the file is in UTF-16; save it in UTF-8"
    ]


def test_byte_order_mark_is_no_part_of_the_text(desk):
    layout = desk.load(b"\xef\xbb\xbf" + desk.good.encode())
    assert layout.band.place.column == 7


def test_columns_count_characters_not_bytes(desk):
    text = desk.changed("{id: A1,", "{note: größer, id: A1,").replace("loss: 20 dB", "loss: 20")
    [problem] = desk.refused(text)
    column = text.splitlines()[8].index("20}") + 1
    assert problem.startswith(f"l.yaml:9:{column}: A1.loss: '20' has no unit")


def test_windows_line_ends(desk):
    assert desk.load(desk.good.replace("\n", "\r\n")).elements.keys() == {
        "S1", "A1", "D1", "H1", "R1"
    }
