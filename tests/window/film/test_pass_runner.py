"""Motion passes beside the window."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from clipmark.book.model import Outline
from clipmark.motion.result import Flag, FrameSpan, ScanResult, Shot, Trace
from clipmark.review import pass_files
from clipmark.review.pass_files import Job, folder_of_jobs, read_result, write_job, write_result
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


def test_a_result_is_read_back_as_it_was_written(tmp_path):
    write_result(tmp_path, result(), np.arange(5) * 40, 200)
    found, pts, end_pts = read_result(tmp_path)

    assert result().flags == found.flags
    assert (result().shots, result().watched, result().unwatched) == (found.shots, found.watched, found.unwatched)
    assert ("test-1", 99.5, 200) == (found.parameters, found.frames_per_s, end_pts)
    np.testing.assert_array_equal(result().trace.pull, found.trace.pull)
    np.testing.assert_array_equal(np.arange(5) * 40, pts)


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
    write_job(folder, Job(book, outlined.record.session.id, outlined.clip_id, "f", "pulled.mkv", pid=2**22 - 3))
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


def test_the_process_needs_no_qt():
    code = "import sys, clipmark.review.pass_worker as w; sys.exit('PySide6' in sys.modules)"

    import subprocess

    assert 0 == subprocess.run([sys.executable, "-c", code], check=False).returncode


def test_half_a_job_is_no_job(tmp_path):
    (tmp_path / "job.json").write_text('{"book": "x"')

    assert None is pass_files.read_job(tmp_path)
