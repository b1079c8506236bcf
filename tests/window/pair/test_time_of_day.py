"""The time of day of a session: from the film that tells it, and by the keeper's hand."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import av
import numpy as np
import pytest
from PySide6.QtCore import Qt

from clipmark.report.exports.tables import read_book
from clipmark.window.main_window import MainWindow

BEGAN = datetime(2026, 3, 14, 12, 10, 5, tzinfo=UTC)


def evening(path: Path, told: bool) -> Path:
    """Three frames, with or without the camera's time."""
    with av.open(str(path), "w") as container:
        if told:
            container.metadata["creation_time"] = BEGAN.strftime("%Y-%m-%dT%H:%M:%S.000000Z")
        stream = container.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for _ in range(3):
            frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path


@pytest.mark.parametrize("told", [True, False])
def test_a_new_session_takes_the_time_of_day_that_its_film_states_and_no_other(
    window: MainWindow, tmp_path: Path, qtbot, told: bool
) -> None:
    workspace = window.workspace
    workspace.new_session()
    workspace.add_films([evening(tmp_path / "evening.mp4", told)])
    qtbot.waitUntil(lambda: bool(workspace.record and workspace.record.clips), timeout=20_000)

    assert (f"{BEGAN.astimezone():%H:%M}" if told else "") == workspace.record.session.time_of_day


def test_a_time_of_day_is_typed_beside_the_date_and_nonsense_is_refused_in_a_sentence(
    window: MainWindow, qtbot
) -> None:
    window.show_page("pair")
    page = window.pages["pair"]
    page.new_session()
    said: list[str] = []
    page.workspace.message.connect(lambda text, *_: said.append(text))
    for typed in ("9:05", "25:00"):
        page.time.selectAll()
        qtbot.keyClicks(page.time, typed)
        qtbot.keyClick(page.time, Qt.Key.Key_Return)

    assert "09:05" == page.workspace.record.session.time_of_day == page.time.text()
    assert any("no time of day" in text for text in said)
    assert ["09:05"] == list(read_book(page.workspace.book.path)["sessions"]["time_of_day"])
