"""What waits for the first frame of a clip."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from clipmark.window.film.first_frames import FirstFrames


class Stand(QObject):
    """Workspace and player in one: the signals alone."""

    clipReady = Signal(int)
    sessionChanged = Signal()
    shown = Signal(int, object, bool)


def test_who_waits_for_a_first_frame_is_told_once_when_it_is_shown(qtbot):
    stand = Stand()
    first = FirstFrames(stand, stand, stand)
    over = []
    first.over.connect(over.append)
    stand.clipReady.emit(3)
    stand.shown.emit(3, None, False)  # a still stands in for it
    assert first.awaits(3)

    for _ in range(2):
        stand.shown.emit(3, None, True)
        qtbot.wait(5)

    assert [3] == over


def test_a_closing_window_waits_for_no_first_frame(qtbot):
    stand = Stand()
    first = FirstFrames(stand, stand, stand)
    over = []
    first.over.connect(over.append)
    stand.clipReady.emit(3)
    stand.shown.emit(3, None, True)
    first.forget()
    qtbot.wait(20)

    assert ([], False) == (over, first.awaits(3))
