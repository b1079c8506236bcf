"""The act board: the acts that most pairings need, each with its key; the rest folds out, or is found by typing.

Who acts is told by heading, colour and place: his in one group, hers in another. What is open stands on top. An act
that is folded away keeps its key.
"""

from __future__ import annotations

from fractions import Fraction

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent, QKeySequence, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from clipmark.book.meaning import acts as built_in
from clipmark.book.model import Act, Actor, Mark
from clipmark.timebase import clock

# what most pairings need; the rest of the built-in acts is folded away until it is asked for
COMMON = frozenset({
    built_in.INTRODUCED, "drumming", "body shaking", "answering", built_in.CONTACT, built_in.CLASP, built_in.ATTEMPT,
    *built_in.INSERTIONS, built_in.RELEASE, "retreat", built_in.SEPARATED, built_in.OUT_OF_VIEW,
})  # fmt: skip
_GROUPS = (Actor.HIM, Actor.HER, Actor.BOTH, Actor.KEEPER, Actor.NOBODY)


class ShortenedLabel(QLabel):
    """A label that ends in … where there is no room for all of it; the tool tip of its button has the whole."""

    def minimumSizeHint(self) -> QSize:
        return QSize(1, super().minimumSizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        shown = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft), shown)
        painter.end()


class ActButton(QToolButton):
    """One act: its key and its name; for lasting acts a bar that says so."""

    def __init__(self, act: Act):
        super().__init__()
        self.act = act
        self._open = False
        self.setAutoRaise(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
        kind = self.tr("lasting: press to begin, press to end") if act.lasting else self.tr("a moment: one press")
        self.setToolTip(f"<p><b>{act.label}</b> · {kind}</p><p>{act.definition}</p>")
        self.setAccessibleName(self.tr("{0}, key {1}, {2}").format(act.label, key_text(act.key), kind))
        row = self._row = QHBoxLayout(self)
        row.setContentsMargins(4, 2, 4, 2)
        key = QLabel(key_text(act.key))
        key.setProperty("role", "key")
        key.setAlignment(Qt.AlignmentFlag.AlignCenter)
        key.setMinimumWidth(QFontMetrics(key.font()).horizontalAdvance("⇧W") + 12)
        self.label = ShortenedLabel(act.label)
        self.kind = QLabel("▬" if act.lasting else "·")
        self.kind.setProperty("role", "faint")
        for part in (key, self.label, self.kind):
            part.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        row.addWidget(key)
        row.addWidget(self.label, 1)
        row.addWidget(self.kind)

    def sizeHint(self) -> QSize:
        return self._row.sizeHint()

    def minimumSizeHint(self) -> QSize:
        return QSize(8 * self.fontMetrics().height(), self._row.sizeHint().height())

    @property
    def is_open(self) -> bool:
        return self._open

    def set_open(self, open: bool) -> None:
        if open == self._open:
            return
        self._open = open
        font = self.label.font()
        font.setBold(open)
        self.label.setFont(font)
        self.kind.setText("●" if open else ("▬" if self.act.lasting else "·"))


def key_text(key: str) -> str:
    """A key as it is shown: Shift as an arrow."""
    return QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText).replace("Shift+", "⇧") if key else ""


class ActBoard(QWidget):
    """Signals:
    pressed(Act): the act's button was pressed.
    endWanted(int): the open mark of this id is to be ended.
    """

    pressed = Signal(object)
    endWanted = Signal(int)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._acts: tuple[Act, ...] = ()
        self._shown_open: tuple[tuple[Mark, str, Fraction], ...] = ()
        self.buttons: dict[str, ActButton] = {}
        self._open = QVBoxLayout()
        self._open.setSpacing(2)
        self._body = QVBoxLayout()
        self._body.setSpacing(0)
        self._body.setContentsMargins(0, 0, 0, 0)
        inner = QWidget()
        inner.setLayout(self._body)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setWidget(inner)
        self.search = QLineEdit()
        self.search.setClearButtonEnabled(True)
        self.search.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.search.setPlaceholderText(self.tr("Find an act"))
        self.search.setAccessibleName(self.tr("Find an act by a part of its name"))
        self.search.textChanged.connect(lambda _: self._fold())
        self.search.returnPressed.connect(self._press_first)
        self._unfolded: set[Actor] = set()
        self._more: dict[Actor, QToolButton] = {}
        self._headings: dict[Actor, QLabel] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self._open)
        column.addWidget(self.search)
        column.addWidget(self._scroll, 1)
        self.setAccessibleName(self.tr("Acts"))

    def set_acts(self, acts: tuple[Act, ...]) -> None:
        if acts == self._acts:
            return
        self._acts = acts
        _clear(self._body)
        self.buttons, self._more, self._headings = {}, {}, {}
        self.set_open(())
        names = {
            Actor.HIM: self.tr("He"),
            Actor.HER: self.tr("She"),
            Actor.BOTH: self.tr("Both"),
            Actor.KEEPER: self.tr("The keeper"),
            Actor.NOBODY: self.tr("The film"),
        }
        roles = {Actor.HIM: "his", Actor.HER: "hers", Actor.BOTH: "both", Actor.KEEPER: "keeper"}
        for actor in _GROUPS:
            group = [act for act in acts if act.actor == actor]
            if not group:
                continue
            heading = QLabel(names[actor])
            heading.setProperty("role", roles.get(actor, "heading"))
            heading.setContentsMargins(4, 6, 4, 2)
            self._body.addWidget(heading)
            self._headings[actor] = heading
            for act in group:
                button = ActButton(act)
                button.clicked.connect(lambda _=False, a=act: self.pressed.emit(a))
                self._body.addWidget(button)
                self.buttons[act.code] = button
            more = QToolButton()
            more.setAutoRaise(True)
            more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            more.clicked.connect(lambda _=False, who=actor: self._unfold(who))
            self._body.addWidget(more)
            self._more[actor] = more
        self._body.addStretch(1)
        self._fold()
        em = self.fontMetrics().height()
        self._scroll.setMinimumWidth(14 * em)

    def begin_search(self) -> None:
        """Type a part of an act's name."""
        self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.search.selectAll()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.search.hasFocus():
            self.search.clear()
            parent = self.parentWidget()
            if parent is not None:
                parent.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        super().keyPressEvent(event)

    def _press_first(self) -> None:
        """Enter in the search marks the first act that is left."""
        shown = [button for button in self.buttons.values() if not button.isHidden()]
        if self.search.text().strip() and shown:
            self.search.clear()
            self.search.clearFocus()
            self.pressed.emit(shown[0].act)

    def _unfold(self, actor: Actor) -> None:
        self._unfolded ^= {actor}
        self._fold()

    def _fold(self) -> None:
        """Show the common acts, what was folded out, or what the search finds."""
        wanted = self.search.text().strip().casefold()
        for actor, more in self._more.items():
            group = [button for button in self.buttons.values() if button.act.actor == actor]
            rare = [button for button in group if not _common(button.act)]
            for button in group:
                found = wanted in button.act.label.casefold()
                open_ = button not in rare or actor in self._unfolded or button.is_open
                button.setVisible(found if wanted else open_)
            self._headings[actor].setVisible(not wanted or any(not button.isHidden() for button in group))
            more.setVisible(bool(rare) and not wanted)
            told = self.tr("fewer") if actor in self._unfolded else self.tr("{0} more …").format(len(rare))
            more.setText(told)

    def sizeHint(self) -> QSize:
        """As wide as the longest name."""
        widest = max((button.sizeHint().width() for button in self.buttons.values()), default=0)
        bar = self._scroll.verticalScrollBar().sizeHint().width()
        return QSize(widest + bar + 4, super().sizeHint().height())

    def set_open(self, marks: tuple[tuple[Mark, str, Fraction], ...]) -> None:
        """The open acts: mark, label, and the session time at which each began."""
        if marks == self._shown_open:
            return
        self._shown_open = marks
        _clear(self._open)
        for mark, label, began in marks:
            button = QToolButton()
            button.setText(self.tr("● {0} since {1} – end").format(label, clock(began, 1)))
            button.setToolTip(self.tr("End it with the frame on the screen."))
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.setProperty("role", {Actor.HIM: "his", Actor.HER: "hers"}.get(mark.actor, "heading"))
            button.clicked.connect(lambda _=False, i=mark.id: self.endWanted.emit(i))
            self._open.addWidget(button)
        running = {mark.act for mark, _, _ in marks}
        for code, button in self.buttons.items():
            button.set_open(code in running)
        self._fold()


def _common(act: Act) -> bool:
    """Whether an act stands on the short list; the keeper's own acts always do."""
    return act.code in COMMON or built_in.built_in(act.code) is None


def _clear(layout: QVBoxLayout) -> None:
    while layout.count():
        item = layout.takeAt(0)
        widget = item.widget() if item is not None else None
        if widget is not None:
            widget.hide()
            widget.setParent(None)
            widget.deleteLater()
