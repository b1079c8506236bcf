"""A press in the middle of her abdomen: a shape at once, a better one soon after."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPointF, Qt

from tests.window.conftest import pulled, put_in, wait_shown


@pytest.fixture
def seen(window, tmp_path, qtbot):
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, pulled(tmp_path / "pulled.mkv", 4.0))
    wait_shown(window, qtbot, 0)
    window.pages["film"].going.to_number(45)
    wait_shown(window, qtbot, 45)
    return window


def press(window, qtbot, x: float, y: float) -> None:
    view = window.pages["film"].cameras.current
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=view.from_film(x, y).toPoint())


def test_a_press_shows_a_box_round_it_before_anything_is_computed(seen, qtbot):
    view = seen.pages["film"].cameras.current
    press(seen, qtbot, 160, 120)

    assert view.edited_box().contains(QPointF(160, 120))
    assert view.edit.large_enough


def test_what_a_press_finds_replaces_no_box_that_was_moved_meanwhile(seen, qtbot):
    view = seen.pages["film"].cameras.current
    press(seen, qtbot, 180, 120)
    qtbot.keyClick(view, Qt.Key.Key_Left)
    moved = view.edited_box()
    qtbot.waitUntil(lambda: not seen.workspace.tasks.tasks, timeout=15_000)

    assert moved == view.edited_box()
