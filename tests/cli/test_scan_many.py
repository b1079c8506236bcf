"""`clipmark scan-many`: each film once, failures left for a retry, the same whatever the number of processes."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from clipmark.book.errors import BookFull
from clipmark.book.film.intake import clip_record
from clipmark.book.model import Outline, Session, SessionRecord
from clipmark.book.store import Book
from clipmark.children import ROOT
from clipmark.cli import main
from clipmark.media.clip import open_clip
from clipmark.progress import SILENT
from clipmark.review import many_passes
from clipmark.review.pass_files import folder_of_jobs
from clipmark.review.taking_in import left_over


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds of a moving test picture, 15 frames a second."""
    path = tmp_path_factory.mktemp("film") / "film.mp4"
    made = "testsrc2=s=96x64:r=15:d=2"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", made, "-pix_fmt", "yuv420p", str(path)], check=True)
    return path


def folder_of(film: Path, folder: Path, *names: str) -> Path:
    folder.mkdir()
    for name in names:
        shutil.copy(film, folder / f"{name}.mp4")
        box = {"time_s": 0.0, "x": 30, "y": 20, "w": 30, "h": 20}
        (folder / f"{name}.boxes.json").write_text(json.dumps({"boxes": [box]}))
    return folder


def book_of(film: Path, path: Path, outlined: int) -> Path:
    with Book.open(path, backups=False) as book:
        for number in range(outlined + 1):
            copy = path.with_name(f"{number}.mp4")
            shutil.copy(film, copy)
            clip = open_clip(copy)
            session = book.add_session(Session(0, f"Visit {number}", None, None))
            kept = book.add_clip(clip_record(clip, session.id))
            if number < outlined:
                book.add_outline(Outline(0, kept.id, kept.first_pts, 30, 20, 30, 20))
    return path


def told(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, Any]:
    code = main(["scan-many", *map(str, arguments), "--json"])
    return code, json.loads(capsys.readouterr().out)


def without_chance(record: SessionRecord) -> tuple[object, ...]:
    """What a pass left in the book, but for when and how fast."""
    return (
        record.flags,
        record.spans,
        record.shots,
        [(one.id, one.parameters, one.current) for one in record.passes],
    )


def test_all_outlined_clips_of_a_book_are_passed_over_once_and_in_order(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = []
    for jobs in (1, 2):
        (tmp_path / str(jobs)).mkdir()
        path = book_of(film, tmp_path / str(jobs) / "b.book", outlined=2)
        code, said = told(capsys, path, "--jobs", jobs)
        assert (0, [1, 2], [1, 2], 1) == (
            code, [one["clip"] for one in said["done"]], [one["pass"] for one in said["done"]], said["left_alone"],
        )  # fmt: skip
        with Book.open(path, read_only=True) as book:
            kept.append([without_chance(book.session(number)) for number in (1, 2, 3)])

    assert kept[0] == kept[1]
    assert (0, {"done": [], "failed": [], "left_alone": 3}) == told(capsys, path)


def test_a_film_that_fails_is_listed_and_tried_again_by_the_next_run(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = book_of(film, tmp_path / "b.book", outlined=2)
    (tmp_path / "0.mp4").rename(tmp_path / "away.mp4")
    code, said = told(capsys, path)
    assert (1, [2], [1]) == (code, [one["clip"] for one in said["done"]], [one["clip"] for one in said["failed"]])
    assert "0.mp4" in said["failed"][0]["why"]
    (tmp_path / "away.mp4").rename(tmp_path / "0.mp4")
    code, said = told(capsys, path)

    assert (0, [1]) == (code, [one["clip"] for one in said["done"]])


def test_a_folder_of_films_is_passed_over_and_gone_on_with(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = folder_of(film, tmp_path / "films", "a", "b", "c")
    (folder / "b.mp4").write_bytes(b"no film")
    shutil.copy(film, folder / "without boxes.mp4")
    code, said = told(capsys, folder, "--jobs", 2)
    assert (1, ["a.flags.json", "c.flags.json"]) == (code, [Path(one["file"]).name for one in said["done"]])
    assert ["b.mp4"] == [Path(one["film"]).name for one in said["failed"]]
    first = (folder / "a.flags.json").read_bytes()
    shutil.copy(film, folder / "b.mp4")
    code, said = told(capsys, folder)

    assert (0, ["b.flags.json"], 2) == (
        code, [Path(one["file"]).name for one in said["done"]], said["left_alone"],
    )  # fmt: skip
    assert first == (folder / "a.flags.json").read_bytes()


def test_a_folder_is_passed_over_as_the_scan_command_would(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = folder_of(film, tmp_path / "films", "a")
    assert 0 == main(["scan-many", str(folder)])
    main(
        ["scan", str(folder / "a.mp4"), "--boxes", str(folder / "a.boxes.json"), "--out", str(tmp_path / "one.json")]
    )
    many, one = (json.loads(path.read_text()) for path in (folder / "a.flags.json", tmp_path / "one.json"))
    for document in (many, one):
        del document["speed"]

    assert one == many


def test_wrong_usage_is_said_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert 1 == main(["scan-many", str(tmp_path / "none")])
    assert "neither a book nor a folder" in capsys.readouterr().err
    assert 2 == main(["scan-many", str(tmp_path)])
    assert 2 == main(["scan-many", str(tmp_path), "--jobs", "0"])


def test_a_finished_pass_that_the_book_does_not_take_is_kept_for_the_next_start(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = book_of(film, tmp_path / "b.book", outlined=1)
    with monkeypatch.context() as full:
        full.setattr(Book, "add_pass", lambda *_: (_ for _ in ()).throw(BookFull(path)))
        code, said = told(capsys, path)
    assert (1, []) == (code, said["done"])
    assert "is full" in said["failed"][0]["why"]
    assert "comes into the book at the next start" in said["failed"][0]["why"]
    assert 1 == len(left_over(path))
    (tmp_path / "0.mp4").unlink()  # so that it cannot be computed again

    code, said = told(capsys, path)
    assert (0, [1], []) == (code, [one["clip"] for one in said["done"]], left_over(path))
    assert list(folder_of_jobs().iterdir()) == []


def test_a_pass_that_was_finished_before_its_turn_outlasts_the_run_that_was_killed(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = book_of(film, tmp_path / "b.book", outlined=2)
    with Book.open(path, backups=False) as book:
        text = many_passes.piece(path, book.session(2), 2)
    many_passes.computed_and_left(text, SILENT)  # what a process of the run does
    (tmp_path / "1.mp4").unlink()
    code, said = told(capsys, path)

    assert (0, {1, 2}) == (code, {one["clip"] for one in said["done"]})


def test_where_no_disk_has_room_the_pass_is_kept_in_memory_and_taken_in(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = book_of(film, tmp_path / "b.book", outlined=1)
    with Book.open(path, backups=False) as book:
        text = many_passes.piece(path, book.session(1), 1)
    monkeypatch.setattr(many_passes, "leave", lambda *_: (_ for _ in ()).throw(OSError(28, "no space")))
    data = many_passes.computed_and_left(text, SILENT)

    assert isinstance(data, bytes)
    result = many_passes.found_in(data)
    assert 30 == len(result.ticks.pts) == len(result.trace.pull)


def test_a_cluster_beyond_this_machine_is_reached_by_tls_alone(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = book_of(film, tmp_path / "b.book", outlined=1)

    assert 1 == main(["scan-many", str(path), "--cluster", "tcp://192.168.1.5:8786"])
    assert "not encrypted" in capsys.readouterr().err


@pytest.mark.sweep
def test_a_cluster_leaves_the_same_in_the_book(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    distributed = pytest.importorskip("distributed")
    (tmp_path / "here").mkdir()
    (tmp_path / "there").mkdir()
    here = book_of(film, tmp_path / "here" / "b.book", outlined=2)
    there = book_of(film, tmp_path / "there" / "b.book", outlined=2)
    assert 0 == told(capsys, here)[0]
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        assert 0 == told(capsys, there, "--cluster", cluster.scheduler_address)[0]
    with Book.open(here, read_only=True) as one, Book.open(there, read_only=True) as other:
        for number in (1, 2):
            assert without_chance(one.session(number)) == without_chance(other.session(number))


def test_two_runs_on_one_book_leave_one_pass_a_clip(film: Path, tmp_path: Path) -> None:
    path = book_of(film, tmp_path / "b.book", 2)
    words = [sys.executable, "-m", "clipmark", "scan-many", str(path), "--json"]
    runs = [subprocess.Popen(words, stdout=subprocess.PIPE, cwd=ROOT, text=True) for _ in range(2)]
    done = [json.loads(run.communicate()[0])["done"] for run in runs]

    with Book.open(path, read_only=True) as book:
        passes = [len(book.session(number).passes) for number in (1, 2)]
    assert [1, 1] == passes
    assert 2 == sum(map(len, done))
