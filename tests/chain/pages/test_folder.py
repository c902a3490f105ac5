"""Folders of pages: only what an earlier run listed, unchanged since, may go."""

import pytest

from chain.pages.folder import CONTENTS, write_folder
from chain.writing.files import CannotWrite


def whole(folder):
    return {str(path.relative_to(folder)): path.read_bytes()
            for path in folder.rglob("*") if path.is_file() and not path.is_symlink()}


def refused(folder, match):
    before = whole(folder)
    with pytest.raises(CannotWrite, match=match):
        write_folder(folder, {"a.txt": "new"})
    assert whole(folder) == before


@pytest.mark.parametrize("text", ["my own list\n", "", "0" * 64 + "  thesis.txt\n"])
def test_a_foreign_file_called_contents_is_no_licence(tmp_path, text):
    (tmp_path / CONTENTS).write_text(text)
    refused(tmp_path, r"contents\.txt")


def test_a_list_that_names_a_file_with_another_hash_is_no_licence(tmp_path):
    write_folder(tmp_path / "o", {"a.txt": "old"})
    (tmp_path / "o" / "a.txt").write_text("edited by hand")
    refused(tmp_path / "o", r"a\.txt, which was changed")


def test_a_list_edited_by_hand_is_foreign(tmp_path):
    out = tmp_path / "o"
    write_folder(out, {"a.txt": "old"})
    (out / "thesis.txt").write_text("")
    with open(out / CONTENTS, "a") as file:
        file.write("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855  thesis.txt\n")
    refused(out, CONTENTS.replace(".", r"\."))


def test_links_and_empty_folders_of_others_are_kept(tmp_path):
    out, other = tmp_path / "o", tmp_path / "other"
    other.mkdir()
    (other / "thesis.txt").write_text("years of work")
    for make in (lambda p: p.symlink_to(other), lambda p: p.mkdir()):
        write_folder(out, {"a.txt": "old"})
        make(out / "mine")
        refused(out, "mine")
        (out / "mine").unlink() if (out / "mine").is_symlink() else (out / "mine").rmdir()
    assert (other / "thesis.txt").exists()


def test_a_folder_that_holds_what_was_read_is_refused(tmp_path):
    out = tmp_path / "o"
    write_folder(out, {"l.yaml": "title: x"})
    with pytest.raises(CannotWrite, match="was read"):
        write_folder(out, {"a.txt": "new"}, read=[str(out / "l.yaml")])


def test_where_names_cannot_be_exchanged_it_is_renamed_in_two_steps(tmp_path, monkeypatch):
    monkeypatch.setattr("chain.pages.folder._exchanged", lambda one, other: False)
    out = tmp_path / "o"
    write_folder(out, {"a.txt": "old", "b/c.txt": "old"})
    write_folder(out, {"a.txt": "new"})
    assert set(whole(out)) == {"a.txt", CONTENTS}
    assert [path.name for path in tmp_path.iterdir()] == ["o"]
