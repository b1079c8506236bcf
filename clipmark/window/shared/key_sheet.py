"""What can I press here? The keys of the page on view, read from the command table; each can be changed."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from clipmark.book.model import Act
from clipmark.errors import ClipmarkError
from clipmark.window.commands import BY_NAME, Keys, on_page

_BARE_MODIFIERS = (Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_Meta, Qt.Key.Key_AltGr)


class KeySheet(QFrame):
    """Lies over the page. Signals: changed(): a key was changed; refused(str): it could not be; closed()."""

    changed = Signal()
    refused = Signal(str)
    closed = Signal()

    def __init__(self, keys: Keys, parent: QWidget):
        super().__init__(parent)
        self._keys = keys
        self._waiting: str | None = None
        self.setProperty("role", "sheet")
        self.setAutoFillBackground(True)
        self.title = QLabel()
        self.title.setProperty("role", "heading")
        told = QLabel(self.tr("Enter on a line and then a key gives it that key; Backspace then gives it none."))
        told.setProperty("role", "faint")
        told.setWordWrap(True)
        close = QToolButton()
        close.setText(self.tr("Close (Esc)"))
        close.clicked.connect(self.leave)
        self.table = QTableWidget(0, 3)
        self.table.setHorizontalHeaderLabels([self.tr("Key"), self.tr("What it does"), self.tr("In other words")])
        self.table.verticalHeader().hide()
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setTabKeyNavigation(False)
        self.table.setShowGrid(False)
        self.table.verticalHeader().setDefaultSectionSize(int(1.6 * self.fontMetrics().height()))
        self.table.setAccessibleName(self.tr("Keys"))
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.table.horizontalHeader().setStretchLastSection(True)
        self.table.cellDoubleClicked.connect(lambda row, _: self._wait_for_key(row))
        self.table.installEventFilter(self)
        top = QHBoxLayout()
        top.addWidget(self.title, 1)
        top.addWidget(close)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.addLayout(top)
        column.addWidget(told)
        column.addWidget(self.table, 1)
        self.hide()

    def show_page(self, page: str, title: str, acts: tuple[Act, ...] = ()) -> None:
        """List the keys of a page; on the Film page the acts' too."""
        self._waiting = None
        self.title.setText(self.tr("What can I press on {0}?").format(title))
        rows = [(c.name, self._keys.of(c.name), c.text, c.told) for c in on_page(page)]
        kind = {True: self.tr("lasting act"), False: self.tr("moment")}
        shown_acts = acts if page == "film" else ()
        rows += [("", a.key, a.label, f"{kind[a.lasting]}: {a.definition}") for a in shown_acts if a.key]
        self.table.setRowCount(len(rows))
        for row, (name, key, text, told) in enumerate(rows):
            for column, value in enumerate((QKeySequence(key).toString(), text, told)):
                item = QTableWidgetItem(value)
                item.setData(Qt.ItemDataRole.UserRole, name)
                item.setToolTip(value)
                self.table.setItem(row, column, item)
        self.table.setCurrentCell(0, 0)
        self.show()
        self.raise_()
        self.table.setFocus()

    def leave(self) -> None:
        self._waiting = None
        self.hide()
        self.closed.emit()

    def _wait_for_key(self, row: int) -> None:
        item = self.table.item(row, 0)
        name = item.data(Qt.ItemDataRole.UserRole) if item is not None else ""
        if item is None or not name:
            self.refused.emit(self.tr("An act's key is changed in the list of acts, on the Film page."))
            return
        self._waiting = name
        item.setText(self.tr("press a key …"))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and self.isVisible():
            event.accept()  # while the sheet lies over the page no key acts under it
            return True
        if event.type() == QEvent.Type.KeyPress:
            assert isinstance(event, QKeyEvent)
            return self._pressed(event)
        return super().eventFilter(watched, event)

    def _pressed(self, event: QKeyEvent) -> bool:
        row = self.table.currentRow()
        if self._waiting is None:
            if event.key() == Qt.Key.Key_Escape or event.matches(QKeySequence.StandardKey.HelpContents):
                self.leave()
                return True
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_F2):
                self._wait_for_key(row)
                return True
            return False
        if event.key() in _BARE_MODIFIERS:
            return True
        name, self._waiting = self._waiting, None
        if event.key() != Qt.Key.Key_Escape:
            key = "" if event.key() == Qt.Key.Key_Backspace else QKeySequence(event.keyCombination()).toString()
            try:
                self._keys.change(name, key)
                self.changed.emit()
            except ClipmarkError as error:
                self.refused.emit(str(error))
        item = self.table.item(row, 0)
        if item is not None:
            item.setText(self._keys.of(BY_NAME[name].name))
        return True
