"""The files and the process of a motion pass, without a window."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import threading
import time
from dataclasses import replace

import numpy as np
import pytest

from clipmark.motion.result import Sensitivity, Ticks, in_ticks
from clipmark.process_lock import hold, is_held
from clipmark.review import pass_files, pass_jobs, pass_worker
from clipmark.review.pass_files import read_result, write_result
from tests.window.film.test_pass_runner import result


def test_a_result_is_read_back_as_it_was_written(tmp_path):
    written = in_ticks(
        replace(result(), sensitivity=(Sensitivity(0, 4, 0.06), Sensitivity(3, 2, None))),
        Ticks(np.arange(5) * 40, 200),
    )
    write_result(tmp_path, written)
    found = read_result(tmp_path)

    assert written.flags == found.flags
    assert (result().shots, result().watched, result().unwatched) == (found.shots, found.watched, found.unwatched)
    assert ("test-1", 99.5, 200) == (found.parameters, found.frames_per_s, found.ticks.end_pts)
    assert written.sensitivity == found.sensitivity
    np.testing.assert_array_equal(result().trace.pull, found.trace.pull)
    np.testing.assert_array_equal(np.arange(5) * 40, found.ticks.pts)


def test_a_finished_pass_waits_for_room_on_a_full_disk(tmp_path, monkeypatch):
    tries = []

    def full_twice(folder, *found):
        tries.append(pass_jobs.waits_for_room(folder))
        if len(tries) < 3:
            raise OSError(errno.ENOSPC, "No space left on device")
        write_result(folder, *found)

    monkeypatch.setattr(pass_worker, "write_result", full_twice)
    monkeypatch.setattr(pass_worker, "AGAIN_S", 0.0)
    made = in_ticks(result(), Ticks(np.arange(5) * 40, 200))
    pass_worker.hand_over(tmp_path, made)

    assert [False, True, True] == tries
    assert made.flags == read_result(tmp_path).flags


def test_half_a_result_is_not_left_on_a_full_disk(tmp_path, monkeypatch):
    def half(file, *found):
        file.write(b"half")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(pass_files, "save_result", half)
    with pytest.raises(OSError, match="No space"):
        write_result(tmp_path, result())
    assert [] == list(tmp_path.iterdir())


def test_the_process_needs_no_qt():
    code = "import sys, clipmark.review.pass_worker as w; sys.exit('PySide6' in sys.modules)"

    assert 0 == subprocess.run([sys.executable, "-c", code], check=False).returncode


def test_half_a_job_is_no_job(tmp_path):
    (tmp_path / "job.json").write_text('{"book": "x"')

    assert None is pass_files.read_job(tmp_path)


def test_a_lock_goes_with_its_process_however_that_ends(tmp_path):
    code = (
        "import sys, pathlib; from clipmark.process_lock import hold; "
        "h = hold(pathlib.Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path / "lock")], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert b"held" in child.stdout.readline()
    assert is_held(tmp_path / "lock")
    assert None is hold(tmp_path / "lock")
    child.kill()
    child.communicate()

    assert not is_held(tmp_path / "lock")


def test_a_pass_stops_while_it_reports_nothing(tmp_path):
    code = (
        "import sys, pathlib; from clipmark.review.pass_worker import stop_when_asked; "
        "stop_when_asked(pathlib.Path(sys.argv[1])); print('runs', flush=True)\nwhile True: sum(range(1000))"
    )
    child = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE)
    assert b"runs" in child.stdout.readline()
    pass_jobs.ask_stop(tmp_path)

    assert 130 == child.wait(10)
    child.stdout.close()


def test_folders_of_no_use_to_anybody_are_swept_away():
    old, fresh = pass_files.folder_of_jobs() / "old", pass_files.folder_of_jobs() / "fresh"
    for folder in (old, fresh):
        folder.mkdir(parents=True)
    long_ago = time.time() - 3 * 86_400
    os.utime(old, (long_ago, long_ago))
    pass_jobs.sweep()

    assert [fresh] == list(pass_files.folder_of_jobs().iterdir())


def test_a_process_takes_its_lock_while_windows_look_at_it(tmp_path):
    looking = hold(tmp_path / "running")
    threading.Timer(0.2, looking.release).start()

    held = hold(tmp_path / "running", patience_s=5.0)

    assert held is not None
    held.release()


def test_a_job_whose_process_is_about_to_take_the_lock_counts_as_running(tmp_path):
    (tmp_path / "started").touch()
    (tmp_path / "running").touch()
    assert pass_jobs.State.RUNNING is pass_jobs.state_of(tmp_path)
    os.utime(tmp_path / "running", (1_700_000_000, 1_700_000_000))

    assert pass_jobs.State.BROKEN_OFF is pass_jobs.state_of(tmp_path)
