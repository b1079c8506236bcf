"""Motion passes beside the window."""

from __future__ import annotations

import os
import sqlite3
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from clipmark.book.model import Outline
from clipmark.motion.result import Flag, FrameSpan, ScanResult, Shot, Ticks, Trace, in_ticks
from clipmark.review import pass_jobs
from clipmark.review.pass_files import Job, folder_of_jobs, read_result, write_job, write_result
from clipmark.review.pass_words import Running
from clipmark.window.film import pass_runner
from clipmark.window.film.pass_runner import PassRunner
from tests.window.conftest import pulled, put_in


def result(n: int = 5) -> ScanResult:
    values = np.arange(n, dtype=np.float64)
    values[1] = np.nan
    flag = Flag(1, 2, None, 0.75, 0.2, -3.5, None, "drawn", ("camera moved",), True, {"jerk": 1.5})
    return ScanResult(
        shots=(Shot(0, n),),
        trace=Trace(*([values] * 13)),
        flags=(flag,),
        watched=(FrameSpan(0, 3),),
        unwatched=(FrameSpan(3, n, "hidden"),),
        parameters="test-1",
        frames_per_s=99.5,
    )


@pytest.fixture
def outlined(workspace, tmp_path, qtbot):
    """A film with two pulls in the workspace, her abdomen outlined."""
    film = pulled(tmp_path / "pulled.mkv")
    with qtbot.waitSignal(workspace.clipReady):
        put_in(workspace, film)
    workspace.edit(workspace.book.add_outline, Outline(0, workspace.clip_id, 0, 114, 86, 92, 68))
    return workspace


@pytest.fixture
def passes(outlined):
    found = PassRunner(outlined)
    yield found
    found.shut()
    found.deleteLater()


def test_a_pass_runs_beside_the_window_and_its_flags_come_into_the_book(passes, outlined, qtbot):
    with qtbot.waitSignal(passes.kept, timeout=60_000):
        passes.begin(outlined.clip)

    onsets = [f.onset_pts for f in outlined.record.flags if f.flagged]
    assert 2 == len(onsets)
    assert [1600, 3200] == pytest.approx(onsets, abs=200)
    assert [] == list(folder_of_jobs().iterdir())


def test_a_pass_that_is_stopped_leaves_nothing_behind(passes, outlined, qtbot):
    passes.begin(outlined.clip)
    with qtbot.waitSignal(passes.ended, timeout=60_000):
        passes.stop(outlined.clip_id)

    assert () == outlined.record.passes
    assert [] == list(folder_of_jobs().iterdir())


def test_a_pass_goes_on_when_the_window_closes_and_the_next_window_takes_it_in(outlined, qtbot):
    first = PassRunner(outlined)
    first.begin(outlined.clip)
    children = dict(first._children)
    first.shut()
    for child in children.values():
        assert 0 == child.wait(60)
    assert () == outlined.book.session(outlined.record.session.id).passes

    second = PassRunner(outlined)
    second.look()

    assert 1 == len(outlined.record.passes)
    for passes in (first, second):
        passes.shut()
        passes.deleteLater()


def test_a_pass_whose_process_died_is_told_and_cleared_away(passes, outlined, qtbot):
    folder = folder_of_jobs() / "gone"
    folder.mkdir(parents=True)
    book = str(outlined.book.path.absolute())
    write_job(folder, Job(book, outlined.record.session.id, outlined.clip_id, "f", "pulled.mkv", pid=os.getppid()))
    (folder / "running").touch()  # nobody holds its lock, whatever process has that number now
    os.utime(folder / "running", (1_700_000_000, 1_700_000_000))
    with qtbot.waitSignal(outlined.message) as said:
        passes.look()

    assert "ended before its time" in said.args[0]
    assert not folder.exists()


def test_another_books_pass_is_left_alone(passes, outlined):
    folder = folder_of_jobs() / "other"
    folder.mkdir(parents=True)
    write_job(folder, Job("/elsewhere/other.book", 1, 1, "f", "other.mkv", pid=0))
    passes.look()

    assert folder.exists()


def test_what_stops_a_pass_is_said_in_its_own_words(workspace, tmp_path, qtbot):
    film = pulled(tmp_path / "bare.mkv", seconds=1)
    with qtbot.waitSignal(workspace.clipReady):
        put_in(workspace, film)
    passes = PassRunner(workspace)
    said = []
    workspace.message.connect(lambda text, kind: said.append(text))
    with qtbot.waitSignal(passes.ended, timeout=60_000):
        passes.begin(workspace.clip)

    assert any("Nothing is outlined" in text for text in said)
    passes.shut()
    passes.deleteLater()


def finished(workspace, stop: bool = False) -> Path:
    """A job of the clip on view whose result is there."""
    record, film = workspace.record, workspace.film(workspace.clip_id)
    book = str(Path(workspace.book.path).absolute())
    folder = pass_jobs.new_job(Job(book, record.session.id, workspace.clip_id, "f", "pulled.mkv"))
    pass_jobs.claim(folder)
    ticks = Ticks(film.index.pts, int(film.index.end_pts))
    write_result(folder, in_ticks(result(len(film.index)), ticks))
    (folder / "notes").write_text("The outline at 0:00.400 lies on a frame that does not decode.")
    if stop:
        pass_jobs.ask_stop(folder)
    return folder


def test_a_finished_pass_waits_until_the_book_is_free(passes, outlined, monkeypatch):
    monkeypatch.setattr(pass_runner, "_AGAIN_S", 0.0)
    said = []
    outlined.message.connect(lambda text, _: said.append(text))
    outlined.book._db.execute("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(outlined.book.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    folder = finished(outlined)
    passes.look()
    passes.look()
    assert folder.exists()
    assert 1 == sum("waits for the book" in text for text in said)

    other.execute("ROLLBACK")
    other.close()
    passes.look()
    assert 1 == len(outlined.record.passes)
    assert not folder.exists()


def test_a_pass_whose_window_was_killed_after_keeping_it_is_not_kept_twice(passes, outlined):
    folder = finished(outlined)
    outlined.book.add_pass(outlined.clip_id, read_result(folder))
    passes.look()

    assert 1 == len(outlined.book.session(outlined.record.session.id).passes)
    assert not folder.exists()


def test_what_a_former_version_left_half_taken_in_is_taken_in(passes, outlined):
    folder = finished(outlined)
    folder.rename(folder.with_suffix(".taken"))
    passes.look()

    assert 1 == len(outlined.record.passes)
    assert [] == list(folder_of_jobs().iterdir())


def test_a_pass_that_was_done_before_it_could_be_stopped_is_kept_and_said(passes, outlined):
    said = []
    outlined.message.connect(lambda text, _: said.append(text))
    finished(outlined, stop=True)
    passes.look()

    assert 1 == len(outlined.record.passes)
    assert any("before it could be stopped" in text for text in said)
    assert any("does not decode" in text for text in said)


def test_a_second_window_leaves_a_pass_alone_that_the_first_is_starting(passes, outlined):
    record = outlined.record
    folder = pass_jobs.new_job(Job(str(outlined.book.path), record.session.id, outlined.clip_id, "f", "pulled.mkv"))
    assert pass_jobs.claim(folder)
    passes.look()

    assert folder.exists()
    assert passes.of(outlined.clip_id) is not None


def test_all_clips_go_through_the_pass_one_after_another_with_time_left(
    passes, outlined, tmp_path, qtbot, monkeypatch
):
    monkeypatch.setattr(pass_runner, "at_once", lambda: 1)
    second = pulled(tmp_path / "second.mkv")
    with qtbot.waitSignal(outlined.clipReady):
        put_in(outlined, second, offset=Fraction(5))
    clips = outlined.record.clips
    outlined.edit(outlined.book.add_outline, Outline(0, clips[1].id, 0, 114, 86, 92, 68))
    passes.begin_all(clips)
    assert [True, False] == [passes.of(clip.id).for_s is not None for clip in clips]

    qtbot.waitUntil(lambda: len(outlined.record.passes) == 2, timeout=60_000)
    assert () == passes.running


def test_the_time_left_follows_from_the_pace_so_far():
    job = Job("book", 1, 1, "f", "a.mkv")

    assert 30.0 == pytest.approx(Running(job, 25, 100, 10.0).left_s)
    assert None is Running(job, 0, 0, None).left_s
