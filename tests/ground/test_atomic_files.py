"""What is written appears whole or not at all."""

import os
from pathlib import Path

import pytest

from clipmark.atomic_files import CannotWrite, atomic_file, atomic_folder


def test_a_file_that_fails_half_way_leaves_the_old_one_and_nothing_else(tmp_path):
    target = tmp_path / "sheet.html"
    target.write_text("old")

    with pytest.raises(ZeroDivisionError), atomic_file(target) as file:
        file.write("new")
        raise ZeroDivisionError

    assert ["sheet.html"] == os.listdir(tmp_path)
    assert "old" == target.read_text()


def test_a_folder_is_filled_whole_and_strange_files_in_it_stay(tmp_path):
    target = tmp_path / "tables"
    target.mkdir()
    (target / "mine.txt").write_text("mine")

    with atomic_folder(target) as fresh:
        (fresh / "marks.csv").write_text("a")
        assert ["mine.txt"] == os.listdir(target)

    assert ["marks.csv", "mine.txt"] == sorted(os.listdir(target))
    assert ["tables"] == os.listdir(tmp_path)


def test_a_folder_that_fails_half_way_is_not_there(tmp_path):
    with pytest.raises(ZeroDivisionError), atomic_folder(tmp_path / "tables") as fresh:
        (fresh / "marks.csv").write_text("a")
        raise ZeroDivisionError

    assert [] == os.listdir(tmp_path)


def test_a_place_that_cannot_be_written_is_told_in_a_sentence(tmp_path):
    (tmp_path / "file").write_text("")

    with pytest.raises(CannotWrite, match="could not be written"), atomic_file(tmp_path / "none" / "a.html"):
        pass
    with pytest.raises(CannotWrite, match="not a folder"), atomic_folder(tmp_path / "file"):
        pass
    with pytest.raises(CannotWrite, match="could not be written"), atomic_file(tmp_path):
        pass


@pytest.mark.parametrize("name", ["s" * 250 + ".html", "蜘" * 83 + ".html", "two\nlines.html", "-o.html", "..html"])
def test_a_file_may_have_any_name_that_the_system_takes(tmp_path, name):
    with atomic_file(tmp_path / name) as file:
        file.write("whole")

    assert [name] == os.listdir(tmp_path)


def test_a_name_that_the_system_does_not_take_is_told_in_a_sentence(tmp_path):
    with pytest.raises(CannotWrite, match="could not be written"), atomic_file(tmp_path / ("s" * 256)) as file:
        file.write("whole")
    assert [] == os.listdir(tmp_path)


def test_what_is_written_reaches_the_disk_before_it_gets_its_name(tmp_path, monkeypatch):
    done = []
    for name in ("fsync", "replace"):
        before = getattr(os, name)
        monkeypatch.setattr(os, name, lambda *a, name=name, before=before: done.append(name) or before(*a))
    with atomic_file(tmp_path / "sheet.html") as file:
        file.write("whole")
    with atomic_folder(tmp_path / "tables") as fresh:
        (fresh / "marks.csv").write_text("a")

    # the file, its name; then the file in the folder, its name in it, the folder's name
    assert ["fsync", "replace", "fsync", "fsync", "fsync", "replace", "fsync"] == done


def test_a_device_a_pipe_or_a_link_is_never_replaced(tmp_path):
    aim = tmp_path / "aim.txt"
    aim.write_text("mine")
    (tmp_path / "link.txt").symlink_to(aim)
    os.mkfifo(tmp_path / "pipe")

    for name, why in (("link.txt", "a link"), ("pipe", "a device or a pipe")):
        with pytest.raises(CannotWrite, match=why), atomic_file(tmp_path / name) as file:
            file.write("other")
    with pytest.raises(CannotWrite, match="a device or a pipe"), atomic_file(Path("/dev/zero")) as file:
        file.write("other")
    assert "mine" == aim.read_text()
    assert ["aim.txt", "link.txt", "pipe"] == sorted(os.listdir(tmp_path))


def test_a_folder_with_one_name_taken_by_a_folder_is_left_as_it_was(tmp_path):
    out = tmp_path / "out"
    (out / "b.csv").mkdir(parents=True)
    (out / "a.csv").write_text("old")

    with pytest.raises(CannotWrite, match=r"b\.csv"), atomic_folder(out) as fresh:
        (fresh / "a.csv").write_text("new")
        (fresh / "b.csv").write_text("new")
    assert "old" == (out / "a.csv").read_text()
    assert ["out"] == os.listdir(tmp_path)


def test_what_a_killed_program_left_of_a_file_is_cleared_by_the_next_one(tmp_path):
    old, fresh, other = tmp_path / ".sheet.pdf.x1.part", tmp_path / ".sheet.pdf.x2.part", tmp_path / ".b.pdf.x.part"
    for left in (old, fresh, other):
        left.write_text("half")
    for left in (old, other):
        os.utime(left, (1e9, 1e9))

    with atomic_file(tmp_path / "sheet.pdf") as file:
        file.write("whole")
    assert [other.name, fresh.name, "sheet.pdf"] == sorted(os.listdir(tmp_path))


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
def test_a_full_disk_is_said_in_words(tmp_path):
    with (
        pytest.raises(CannotWrite, match="the disk is full"),
        atomic_file(tmp_path / "a.txt"),
        open("/dev/full", "w") as full,
    ):
        full.write("x")
    assert [] == os.listdir(tmp_path)
