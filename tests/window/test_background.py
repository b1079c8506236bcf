"""Long work: reported, stopped, ended in one of three ways."""

from __future__ import annotations

import threading

import pytest

from clipmark.errors import ClipmarkError
from clipmark.window.background import TaskRunner


@pytest.fixture
def runner(qapp):
    made = TaskRunner()
    yield made
    made.shut()
    made.deleteLater()


def ends(runner, work, qtbot):
    seen = []
    task = runner.run(
        "work", work, lambda value: seen.append(("finished", value)), lambda error: seen.append(("failed", error)),
        lambda: seen.append(("cancelled", None)),
    )  # fmt: skip
    return seen, task


def test_a_result_arrives_once_on_the_main_thread(runner, qtbot):
    threads = []
    runner.run(
        "work", lambda p: threading.current_thread().name, lambda v: threads.append((v, threading.current_thread()))
    )
    qtbot.waitUntil(lambda: bool(threads))

    ((worker, arrived),) = threads
    assert threading.main_thread() is arrived
    assert threading.main_thread().name != worker


def test_an_expected_failure_arrives_as_it_was_raised(runner, qtbot):
    def work(progress):
        raise ClipmarkError("Copy the film again.")

    seen, _ = ends(runner, work, qtbot)
    qtbot.waitUntil(lambda: bool(seen))

    assert [("failed", "Copy the film again.")] == [(kind, str(value)) for kind, value in seen]


def test_work_that_is_asked_to_stop_ends_as_cancelled(runner, qtbot):
    begun, go_on = threading.Event(), threading.Event()

    def work(progress):
        begun.set()
        go_on.wait(5)
        progress.advance(1, 10)
        return "never"

    seen, task = ends(runner, work, qtbot)
    assert begun.wait(5)
    task.stop()
    go_on.set()
    qtbot.waitUntil(lambda: bool(seen))

    assert [("cancelled", None)] == seen


def test_progress_reaches_the_window(runner, qtbot):
    def work(progress):
        progress.advance(3, 3)

    reports = []
    task = runner.run("work", work)
    task.progressed.connect(lambda done, total: reports.append((done, total)))
    qtbot.waitUntil(lambda: not runner.tasks)

    assert (3, 3) == reports[-1]


def test_ended_tasks_are_let_go(runner, qtbot):
    for _ in range(5):
        runner.run("work", lambda p: None)
    qtbot.waitUntil(lambda: [] == runner.tasks)


def test_closing_stops_what_still_runs(runner):
    begun, stopped = threading.Event(), threading.Event()

    def work(progress):
        begun.set()
        try:
            while True:
                progress.advance(0, 0)
        finally:
            stopped.set()

    runner.run("work", work)
    assert begun.wait(5)
    runner.shut()

    assert stopped.wait(5)


def test_what_is_started_after_closing_never_begins_and_ends_as_cancelled(runner, qtbot):
    runner.shut()
    begun = []
    seen, _ = ends(runner, lambda progress: begun.append(1), qtbot)
    qtbot.waitUntil(lambda: bool(seen))

    assert ([], [("cancelled", None)]) == (begun, seen)
