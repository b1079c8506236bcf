import os
import subprocess
import sys
import threading
import time

from clipmark.process_lock import ProcessLock, hold, is_held

HOLD = (
    "import sys\nfrom pathlib import Path\nfrom clipmark.process_lock import ProcessLock\n"
    "lock = ProcessLock.take(Path(sys.argv[1]))\nprint(lock is not None, flush=True)\nsys.stdin.read()\n"
)


def holder(path):
    child = subprocess.Popen(
        [sys.executable, "-c", HOLD, path], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert "True\n" == child.stdout.readline()
    return child


def test_one_process_holds_a_lock_and_its_end_lets_go(tmp_path):
    path = tmp_path / "lock"
    child = holder(path)
    assert is_held(path)
    assert ProcessLock.take(path) is None

    child.kill()
    child.wait()
    assert not is_held(path)
    with ProcessLock.take(path) as lock:
        assert lock.path == path
        assert is_held(path)
    assert not is_held(path)


def test_a_lock_is_not_kept_by_a_child_of_its_holder(tmp_path):
    path = tmp_path / "lock"
    lock = ProcessLock.take(path)
    child = subprocess.Popen([sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=subprocess.PIPE)
    lock.release()

    assert not is_held(path)
    child.communicate()


def test_a_lock_whose_file_was_taken_away_is_another_lock(tmp_path):
    path = tmp_path / "lock"
    old = ProcessLock.take(path)
    os.unlink(path)

    with ProcessLock.take(path) as new:
        assert new is not None
    old.release()


def test_where_there_is_no_file_nobody_holds_it(tmp_path):
    assert not is_held(tmp_path / "none")
    assert [] == os.listdir(tmp_path)


def test_a_lock_is_waited_for_as_long_as_is_asked(tmp_path):
    path = tmp_path / "lock"
    first = ProcessLock.take(path)
    assert hold(path) is None
    start = time.monotonic()
    assert hold(path, patience_s=0.1) is None
    assert time.monotonic() - start >= 0.1

    later = threading.Timer(0.1, first.release)
    later.start()
    second = hold(path, patience_s=20)
    later.join()
    assert second is not None
    second.release()
