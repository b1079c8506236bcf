"""A box that is being drawn."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPointF, QRectF, Qt

from clipmark.window.shared.boxes import BoxEdit, handle_at, kept_inside, moved_by_key

NONE, SHIFT, CTRL = (
    Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier,
)  # fmt: skip


def edit(x: float = 100, y: float = 80, w: float = 40, h: float = 30) -> BoxEdit:
    return BoxEdit("abdomen", QRectF(x, y, w, h), QRectF(0, 0, 320, 240))


def test_a_corner_is_dragged_and_the_opposite_one_stays():
    box = edit()
    box.drag("top left", QRectF(box.rect), QPointF(-10, -20))

    assert QRectF(90, 60, 50, 50) == box.rect


def test_a_corner_dragged_over_the_opposite_one_turns_the_box_round():
    box = edit()
    box.drag("left", QRectF(box.rect), QPointF(60, 0))

    assert QRectF(140, 80, 20, 30) == box.rect


def test_a_box_is_moved_as_a_whole_and_stays_in_the_picture():
    box = edit()
    box.drag("inside", QRectF(box.rect), QPointF(1000, -1000))

    assert QRectF(280, 0, 40, 30) == box.rect


def test_a_box_is_never_drawn_beyond_the_picture():
    box = edit()
    box.drag("bottom right", QRectF(box.rect), QPointF(1000, 1000))

    assert QRectF(100, 80, 220, 160) == box.rect


@pytest.mark.parametrize(
    ("key", "modifier", "expected"),
    [
        (Qt.Key.Key_Left, NONE, QRectF(99, 80, 40, 30)),
        (Qt.Key.Key_Down, SHIFT, QRectF(100, 90, 40, 30)),
        (Qt.Key.Key_Right, CTRL, QRectF(100, 80, 41, 30)),
        (Qt.Key.Key_Up, CTRL | SHIFT, QRectF(100, 80, 40, 20)),
    ],
)
def test_arrows_move_and_size_the_box(key, modifier, expected):
    assert expected == moved_by_key(edit(), key, modifier)


def test_other_keys_do_nothing_to_the_box():
    assert None is moved_by_key(edit(), Qt.Key.Key_A, NONE)


def test_on_a_mirrored_picture_left_is_left_on_the_screen():
    assert QRectF(101, 80, 40, 30) == moved_by_key(edit(), Qt.Key.Key_Left, NONE, mirrored=True)


def test_with_keys_alone_a_box_begins_in_the_middle():
    begun = moved_by_key(BoxEdit("abdomen", None, QRectF(0, 0, 320, 240)), Qt.Key.Key_Right, NONE)

    assert QRectF(137, 96, 48, 48) == begun


@pytest.mark.parametrize(
    ("at", "expected"),
    [((101, 81), "top left"), ((120, 95), "inside"), ((141, 96), "right"), ((200, 200), "new")],
)
def test_the_pointer_finds_what_lies_under_it(at, expected):
    assert expected == handle_at(edit(), QPointF(*at), reach=4)


def test_a_box_larger_than_the_picture_is_made_to_fit():
    assert QRectF(0, 0, 320, 240) == kept_inside(QRectF(-5, -5, 900, 900), QRectF(0, 0, 320, 240))
