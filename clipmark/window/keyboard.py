"""Which key goes where: a widget that has the focus keeps the keys that operate it; all others reach the page.

Without this, Space on a focused button would run the film, and arrows in a list would step it.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSlider,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QTabBar,
    QWidget,
)
from shiboken6 import isValid

_PRESS = frozenset({Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter})
_ARROWS = frozenset({Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down})
_PAGES = frozenset({Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_Home, Qt.Key.Key_End})

_KEEPS: tuple[tuple[type[QWidget], frozenset[Qt.Key]], ...] = (
    (QAbstractButton, _PRESS),
    (QComboBox, _PRESS | _ARROWS | _PAGES | {Qt.Key.Key_F4}),
    (QAbstractItemView, _PRESS | _ARROWS | _PAGES),
    (QAbstractSpinBox, _ARROWS | _PAGES),
    (QAbstractSlider, _ARROWS | _PAGES),
    (QTabBar, frozenset({Qt.Key.Key_Left, Qt.Key.Key_Right})),
)


def keeps(widget: QObject, key: int, modifiers: Qt.KeyboardModifier) -> bool:
    """Whether a focused widget operates itself with this key, so that no command may take it."""
    if modifiers & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier):
        return False
    own = widget.property("ownKeys")  # a widget of ours may name more: a list of Qt.Key
    if own and key in own:
        return True
    return any(isinstance(widget, kind) and key in keys for kind, keys in _KEEPS)


class FocusFirst(QObject):
    """Watches the widget that has the focus, and accepts for it the override offered before a shortcut acts.

    `held`: whether the key pressed last is held down, so that what follows is its repeating and no press of its own.
    """

    def __init__(self, app: QApplication, parent: QObject):
        super().__init__(parent)
        self._watched: QWidget | None = None
        self.held = False
        app.focusChanged.connect(self._move)

    def _move(self, before: QWidget | None, now: QWidget | None) -> None:
        if self._watched is not None and isValid(self._watched):
            self._watched.removeEventFilter(self)
        # an open list or menu has all keys anyway, and chooses by Enter only if nobody answers before it
        popup = now is not None and now.window().windowType() == Qt.WindowType.Popup
        self._watched = None if popup else now
        if self._watched is not None:
            self._watched.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        offered = event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent)
        if offered:
            self.held = event.isAutoRepeat()  # type: ignore[attr-defined]
        elif event.type() == QEvent.Type.KeyRelease and isinstance(event, QKeyEvent) and not event.isAutoRepeat():
            self.held = False
        if offered and keeps(watched, event.key(), event.modifiers()):  # type: ignore[attr-defined]
            event.accept()
            return True
        return False
