"""What is written appears whole or not at all."""

import os

import pytest

from clipmark.whole import CannotWrite, whole_file, whole_folder


def test_a_file_that_fails_half_way_leaves_the_old_one_and_nothing_else(tmp_path):
    target = tmp_path / "sheet.html"
    target.write_text("old")

    with pytest.raises(ZeroDivisionError), whole_file(target) as file:
        file.write("new")
        raise ZeroDivisionError

    assert ["sheet.html"] == os.listdir(tmp_path)
    assert "old" == target.read_text()


def test_a_folder_is_filled_whole_and_strange_files_in_it_stay(tmp_path):
    target = tmp_path / "tables"
    target.mkdir()
    (target / "mine.txt").write_text("mine")

    with whole_folder(target) as fresh:
        (fresh / "marks.csv").write_text("a")
        assert ["mine.txt"] == os.listdir(target)

    assert ["marks.csv", "mine.txt"] == sorted(os.listdir(target))
    assert ["tables"] == os.listdir(tmp_path)


def test_a_folder_that_fails_half_way_is_not_there(tmp_path):
    with pytest.raises(ZeroDivisionError), whole_folder(tmp_path / "tables") as fresh:
        (fresh / "marks.csv").write_text("a")
        raise ZeroDivisionError

    assert [] == os.listdir(tmp_path)


def test_a_place_that_cannot_be_written_is_told_in_a_sentence(tmp_path):
    (tmp_path / "file").write_text("")

    with pytest.raises(CannotWrite, match="could not be written"), whole_file(tmp_path / "none" / "a.html"):
        pass
    with pytest.raises(CannotWrite, match="not a folder"), whole_folder(tmp_path / "file"):
        pass
    with pytest.raises(CannotWrite, match="could not be written"), whole_file(tmp_path):
        pass
