"""A press in the middle of her abdomen: a shape at once, a better one soon after."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt

from tests import made
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


def test_the_box_of_a_press_becomes_the_region_that_moves_as_one(seen, qtbot):
    view = seen.pages["film"].cameras.current
    press(seen, qtbot, 180, 120)  # at 1.8 s her abdomen is drawn 24 pixels to the right of the middle
    qtbot.waitUntil(lambda: "what moves as one" in seen.messages.text, timeout=15_000)

    box = view.edited_box()
    assert (184, 120) == pytest.approx((box.center().x(), box.center().y()), abs=14)
    assert (92, 68) == pytest.approx((box.width(), box.height()), rel=0.4)


def test_what_a_press_finds_replaces_no_box_that_was_moved_meanwhile(seen, qtbot):
    view = seen.pages["film"].cameras.current
    press(seen, qtbot, 180, 120)
    qtbot.keyClick(view, Qt.Key.Key_Left)
    moved = view.edited_box()
    qtbot.waitUntil(lambda: not seen.workspace.tasks.tasks, timeout=15_000)

    assert moved == view.edited_box()


def test_a_guess_that_nothing_speaks_for_does_not_stay(window, tmp_path, qtbot):
    still = made.film(tmp_path / "still.mkv", [40 * n for n in range(20)], width=160, height=120,
                      draw=lambda number: np.full((120, 160), 90, np.uint8))  # fmt: skip
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, still)
    wait_shown(window, qtbot, 0)
    view = window.pages["film"].cameras.current
    press(window, qtbot, 80, 60)
    qtbot.waitUntil(lambda: view.edited_box() is None, timeout=15_000)

    assert "!" == window.messages.sign.text()
