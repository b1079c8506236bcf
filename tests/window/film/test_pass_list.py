"""Several clips in the motion pass: how far each is, the time left, a stop for each and for all."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from clipmark.review.pass_files import Job
from clipmark.review.pass_words import Running
from clipmark.window.film.pass_list import LINES, PassList


def running(clip_id: int, done: int, for_s: float | None = 30.0) -> Running:
    return Running(Job("book", 1, clip_id, "f", f"clip {clip_id}.mp4"), done, 100, for_s)


@pytest.fixture
def shown(qtbot):
    passes = PassList()
    qtbot.addWidget(passes)
    passes.resize(420, 200)
    passes.show_passes((running(1, 50), running(2, 0, None), running(3, 0, None)))
    passes.show()
    passes.show_passes((running(1, 50), running(2, 0, None), running(3, 0, None)))
    return passes


def text(bar) -> str:
    return bar.text().replace("\u200b", "")


def test_each_clip_has_its_share_and_time_left_and_there_is_a_line_for_all(shown):
    told = [text(bar) for bar, _ in shown.lines.values()]

    assert ["50 %, about 30 s left", "waits", "waits"] == told
    assert ["clip 1.mp4", "clip 2.mp4", "clip 3.mp4"] == [name.whole for name in shown._names.values()]
    assert "All 3: 17 %, about 2 min left" == text(shown.whole)


def test_one_clip_is_stopped_without_the_others(shown, qtbot):
    with qtbot.waitSignal(shown.stopWanted) as stopped:
        qtbot.mouseClick(shown.lines[2][1], Qt.MouseButton.LeftButton)
    with qtbot.waitSignal(shown.stopAllWanted):
        qtbot.mouseClick(shown.stop_all, Qt.MouseButton.LeftButton)

    assert [2] == stopped.args


def test_lines_go_as_passes_end_and_one_pass_alone_needs_no_line_for_all(shown):
    kept = shown.lines[3][0]
    shown.show_passes((running(3, 10),))

    assert [3] == list(shown.lines)
    assert kept is shown.lines[3][0]
    assert shown.whole.isHidden()
    shown.show_passes(())
    assert shown.isHidden()


def test_of_many_clips_the_rest_is_told_as_a_number(shown):
    shown.show_passes([running(n, 0, None if n else 5.0) for n in range(LINES + 7)])

    assert LINES == len(shown.lines)
    assert "7 more wait" == shown.more.text()
