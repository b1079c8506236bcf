"""The bar of what runs beside the window: its width does not grow with the number of tasks."""

from __future__ import annotations

import threading

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMenu

from clipmark.window.background import TaskRunner
from clipmark.window.shared.messages import MessageLine


@pytest.fixture
def line(qtbot):
    message_line = MessageLine()
    qtbot.addWidget(message_line)
    message_line.resize(1000, 30)
    message_line.show()
    return message_line


@pytest.fixture
def runner(line, qapp):
    tasks = TaskRunner()
    tasks.started.connect(line.tasks.show_task)
    yield tasks
    tasks.shut()
    tasks.deleteLater()


def begin(runner: TaskRunner, title: str, share: int):
    go_on = threading.Event()

    def work(progress) -> None:
        while not go_on.wait(0.01):
            progress.advance(share, 100)

    return runner.run(title, work), go_on


def test_two_tasks_leave_the_message_as_much_room_as_one(line, runner, qtbot):
    _, first = begin(runner, "Looking where anything moves in a film of a very long name.mp4", 30)
    qtbot.waitUntil(lambda: len(line.tasks.tasks) == 1)
    room = line.label.width()
    _, second = begin(runner, "Listening to another film", 60)
    qtbot.waitUntil(lambda: len(line.tasks.tasks) == 2)

    assert room == line.label.width() > 500
    assert line.tasks.bar.text().replace("\u200b", "").endswith("30 %  + 1 more")
    assert "Listening to another film: 60 %" in line.tasks.toolTip()
    first.set()
    second.set()
    qtbot.waitUntil(line.tasks.isHidden)


def test_one_of_several_tasks_is_stopped_from_the_menu(line, runner, qtbot):
    _, first = begin(runner, "Looking", 30)
    qtbot.waitUntil(lambda: len(line.tasks.tasks) == 1)
    listening, _ = begin(runner, "Listening", 60)
    qtbot.waitUntil(lambda: len(line.tasks.tasks) == 2)
    qtbot.mouseClick(line.tasks.stop, Qt.MouseButton.LeftButton)
    menu = line.tasks.findChild(QMenu)
    with qtbot.waitSignal(listening.cancelled):
        next(action for action in menu.actions() if "Listening" in action.text()).trigger()
    menu.close()

    assert ["Looking"] == [task.title for task in line.tasks.tasks]
    first.set()
    qtbot.waitUntil(line.tasks.isHidden)
