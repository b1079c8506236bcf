"""The list of acts as a table to change: names, keys, who, what it means; kept as a set under a name.

Marks keep their meaning: an act's code and whether it lasts are fixed once it exists; a new act gets its own code.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from clipmark.book.model import Act, Actor
from clipmark.errors import ClipmarkError
from clipmark.window.commands import Keys, on_page
from clipmark.window.workspace import Workspace

NAME, KEY, WHO, LASTS, MEANS = range(5)


class KeyOfCommand(ClipmarkError):
    def __init__(self, label: str, key: str, command: str):
        super().__init__(f"The key “{key}” of “{label}” belongs to “{command}” on the Film page. Give it another.")


class NoKey(ClipmarkError):
    def __init__(self, label: str, key: str):
        super().__init__(f"“{key}” of “{label}” is no key. Write a letter, or Shift+ and a letter.")


def check_keys(acts: Sequence[Act], keys: Keys) -> None:
    """
    Raises:
        NoKey: a key that the keyboard does not have.
        KeyOfCommand: a command of the Film page has it already.
    """
    taken = {keys.of(command.name): command.text for command in on_page("film")}
    for act in acts:
        if act.key and QKeySequence(act.key).toString() == "":
            raise NoKey(act.label, act.key)
        if act.key and act.key in taken:
            raise KeyOfCommand(act.label, act.key, taken[act.key])


class ActEditor(QFrame):
    """Lies over the page. Signals: closed()."""

    closed = Signal()

    def __init__(self, workspace: Workspace, parent: QWidget):
        super().__init__(parent)
        self.workspace = workspace
        self._acts: list[Act] = []
        self.setProperty("role", "sheet")
        self.setAutoFillBackground(True)
        self.table = self._make_table()
        self.sets = QComboBox()
        self.sets.setAccessibleName(self.tr("Stored sets of acts"))
        self.name = QLineEdit()
        self.name.setAccessibleName(self.tr("Name of the set"))
        self.name.setPlaceholderText(self.tr("name of the set, may stay empty"))
        title = QLabel(self.tr("The acts that can be marked"))
        title.setProperty("role", "heading")
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.addWidget(title)
        column.addWidget(self.table, 1)
        column.addLayout(self._row((self.tr("New act"), self.add), (self.tr("Take act off"), self.remove)))
        keep = self._row((self.tr("Keep"), self.keep), (self.tr("Close (Esc)"), self.leave))
        keep.insertWidget(0, self.name, 1)
        use = self._row((self.tr("Use this set"), self.use), (self.tr("Use the built-in acts"), self.use_built_in))
        use.insertWidget(0, self.sets, 1)
        column.addLayout(use)
        column.addLayout(keep)
        self.hide()

    def _make_table(self) -> QTableWidget:
        table = QTableWidget(0, 5)
        heads = (self.tr("Act"), self.tr("Key"), self.tr("Who"), self.tr("Lasts"), self.tr("When it begins and ends"))
        table.setHorizontalHeaderLabels(list(heads))
        table.verticalHeader().hide()
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setTabKeyNavigation(False)
        table.setAccessibleName(self.tr("Acts"))
        header = table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(MEANS, QHeaderView.ResizeMode.Stretch)
        table.installEventFilter(self)
        return table

    def _row(self, *buttons: tuple[str, object]) -> QHBoxLayout:
        row = QHBoxLayout()
        for text, do in buttons:
            button = QPushButton(text)
            button.clicked.connect(do)
            row.addWidget(button)
        return row

    def begin(self) -> None:
        """Show the acts in use."""
        acts = self.workspace.guard(self.workspace.book.acts)
        sets = self.workspace.guard(self.workspace.book.act_sets)
        self.sets.clear()
        for name in sets or ():
            self.sets.addItem(name or self.tr("(without a name)"), name)
        self.sets.setEnabled(self.sets.count() > 0)
        self.sets.setPlaceholderText(self.tr("no set is stored yet"))
        self._fill(list(acts or ()))
        self.show()
        self.raise_()
        self.table.setFocus()

    def _fill(self, acts: list[Act]) -> None:
        self._acts = acts
        words = self._who_words()
        self.table.setRowCount(len(acts))
        for row, act in enumerate(acts):
            for column, text in ((NAME, act.label), (KEY, act.key), (MEANS, act.definition)):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                self.table.setItem(row, column, item)
            who = QComboBox()
            who.setAccessibleName(self.tr("Who, of {0}").format(act.label))
            for actor in Actor:
                who.addItem(words[actor], actor)
            who.setCurrentIndex(who.findData(act.actor))
            self.table.setCellWidget(row, WHO, who)
            lasts = QCheckBox()
            lasts.setAccessibleName(self.tr("Lasts, of {0}").format(act.label))
            lasts.setChecked(act.lasting)
            lasts.setEnabled(not self._in_use(act))
            self.table.setCellWidget(row, LASTS, lasts)

    def _who_words(self) -> dict[Actor, str]:
        return {
            Actor.HIM: self.tr("he"), Actor.HER: self.tr("she"), Actor.BOTH: self.tr("both"),
            Actor.KEEPER: self.tr("keeper"), Actor.NOBODY: self.tr("nobody"),
        }  # fmt: skip

    def _in_use(self, act: Act) -> bool:
        """Marks of it may be in any session: only an act that was made just now may change its kind."""
        return not act.code.startswith("own ") or any(known.code == act.code for known in self.workspace.book.acts())

    def acts(self) -> tuple[Act, ...]:
        """The acts as the table has them now."""
        found = []
        for row, act in enumerate(self._acts):
            who, lasts = self.table.cellWidget(row, WHO), self.table.cellWidget(row, LASTS)
            assert isinstance(who, QComboBox)
            assert isinstance(lasts, QCheckBox)
            key = QKeySequence(self._text(row, KEY)).toString() or self._text(row, KEY)
            found.append(
                replace(
                    act,
                    label=self._text(row, NAME),
                    key=key,
                    definition=self._text(row, MEANS),
                    actor=Actor(who.currentData()),
                    lasting=lasts.isChecked(),
                )
            )
        return tuple(found)

    def _text(self, row: int, column: int) -> str:
        item = self.table.item(row, column)
        return item.text().strip() if item is not None else ""

    def add(self) -> None:
        fresh = Act(f"own {uuid.uuid4().hex[:8]}", self.tr("New act"), Actor.HIM, False, "", "", "the keeper's own")
        self._fill([*self.acts(), fresh])
        self.table.setCurrentCell(len(self._acts) - 1, NAME)
        name = self.table.item(len(self._acts) - 1, NAME)
        if name is not None:
            self.table.editItem(name)

    def remove(self) -> None:
        row = self.table.currentRow()
        if 0 <= row < len(self._acts):
            acts = list(self.acts())
            del acts[row]
            self._fill(acts)

    def keep(self) -> None:
        """Store the table as a set and use it; what is wrong with it is said and nothing is stored."""
        acts = self.acts()
        try:
            check_keys(acts, Keys(self.workspace.settings))
        except ClipmarkError as error:
            self.workspace.say(str(error), "wrong")
            return
        if self.workspace.edit(self.workspace.book.set_acts, acts, self.name.text().strip()) is not None:
            self.workspace.say(self.tr("The list of acts is kept. Marks made before keep their meaning."), "done")
            self.begin()

    def use(self) -> None:
        if self.sets.currentIndex() >= 0:
            self.workspace.edit(self.workspace.book.use_acts, str(self.sets.currentData()))
            self.begin()

    def use_built_in(self) -> None:
        self.workspace.edit(self.workspace.book.use_acts, None)
        self.begin()

    def leave(self) -> None:
        self.hide()
        self.closed.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride:
            event.accept()  # while the list lies over the page its letters mark nothing
            return True
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_Escape:
            self.leave()
            return True
        return super().eventFilter(watched, event)
