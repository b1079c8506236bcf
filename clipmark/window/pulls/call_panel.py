"""Where a pull is called: what it looks like in words, the decision, the signs it rests on, palp, cause, note."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QPointF, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QComboBox,
    QGridLayout,
    QLineEdit,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from clipmark.book.model import Call, Decision, FlagRecord, Sign
from clipmark.reading.kinds.signs import Expected
from clipmark.review.pull_pictures import direction_words
from clipmark.window.roll.look import Look, draw_call
from clipmark.window.shared.parts import Card, label, row

DECISIONS = (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT, Decision.NOT_SEEN, Decision.OTHER)
PALPS = ("left", "right", "")


def _noop(text: str) -> str:
    return str(QT_TRANSLATE_NOOP("Calls", text))


# what fakes a pull (TRADE 3.4)
CAUSES = (
    _noop("her step or brace"), _noop("his shaking or slapping"), _noop("he lifted or pushed her"), _noop("release"),
    _noop("camera bump"), _noop("lamp or light"), _noop("exposure or focus"), _noop("a reflection"),
    _noop("a feeder insect"), _noop("dropped or doubled frames"),
)  # fmt: skip
_TOLD = {
    Decision.CONFIRMED: _noop("Seating seen, and a second sign."),
    Decision.PROBABLE: _noop("Seating seen, or an attempt together with a pull."),
    Decision.ATTEMPT: _noop("A palp reached her and did not seat."),
    Decision.NOT_SEEN: _noop("The film does not let anybody judge; counts neither for nor against."),
    Decision.OTHER: _noop("It was no insertion: say what it was."),
}
_SHORT = {
    Decision.CONFIRMED: _noop("Confirmed"), Decision.PROBABLE: _noop("Probable"), Decision.ATTEMPT: _noop("Attempt"),
    Decision.NOT_SEEN: _noop("Not seen"), Decision.OTHER: _noop("Something else"),
}  # fmt: skip
_SIGNS = {
    Sign.PALPS_STILL: _noop("palps went still"), Sign.ABDOMEN_DRAWN: _noop("abdomen drawn in"),
    Sign.ANGLE_CHANGED: _noop("body angle changed"), Sign.MALE_STRETCHED: _noop("male stretched"),
    Sign.BULB_SEATED: _noop("bulb seen seated"),
}  # fmt: skip


def said(text: str) -> str:
    """A word of the calls in the keeper's language."""
    return QCoreApplication.translate("Calls", text)


def decision_word(decision: Decision | None) -> str:
    return said(_SHORT[decision]) if decision is not None else QCoreApplication.translate("Calls", "Not called yet")


def call_icon(look: Look, decision: Decision | None, faint: bool = False) -> QIcon:
    """The sign that stands for a call on the log roll, as an icon."""
    ratio, side = 2.0, round(1.3 * look.em)
    picture = QPixmap(QSize(round(side * ratio), round(side * ratio)))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw_call(painter, look, QPointF(side / 2, side / 2), 0.42 * look.em, decision, faint)
    painter.end()
    icon = QIcon()
    for mode in (QIcon.Mode.Normal, QIcon.Mode.Selected, QIcon.Mode.Disabled):
        icon.addPixmap(picture, mode)
    return icon


class CallPanel(QWidget):
    """Signals:
    called(Decision): the keeper decided. `fields()` gives signs, palp, cause and note.
    edited(): a tick, palp, cause or note of a pull that is called already was changed.
    """

    called = Signal(object)
    edited = Signal()

    def __init__(self, key_of: Callable[[str], str]):
        super().__init__()
        self._key_of = key_of
        self._filling = False
        self.buttons: dict[Decision, QPushButton] = {}
        self.signs: dict[Sign, QCheckBox] = {}
        self.palps: dict[str, QRadioButton] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._measures())
        column.addWidget(self._decision())
        column.addWidget(self._rests_on())
        self.others = label("", "faint")
        column.addWidget(self.others)
        column.addStretch(1)

    # putting together

    def _measures(self) -> QWidget:
        self.card = Card(self.tr("Pull"))
        self.measures = label()
        self.because = label("", "faint")
        self.doubts = label()
        for part in (self.measures, self.because, self.doubts):
            self.card.body.addWidget(part)
        return self.card

    def _decision(self) -> QWidget:
        card = Card(self.tr("What do you call it?"))
        grid = QGridLayout()
        for number, decision in enumerate(DECISIONS):
            made = QPushButton(self._with_key(said(_SHORT[decision]), f"call.{_name(decision)}"))
            made.setCheckable(True)
            made.setAutoDefault(False)
            made.setToolTip(said(_TOLD[decision]))
            made.setAccessibleName(said(_SHORT[decision]))
            made.setAccessibleDescription(said(_TOLD[decision]))
            made.setStyleSheet("text-align: left; padding: 4px 8px;")
            made.clicked.connect(lambda _=False, chosen=decision: self.called.emit(chosen))
            self.buttons[decision] = made
            grid.addWidget(made, number // 2, number % 2)
        card.body.addLayout(grid)
        self.cause = QComboBox()
        self.cause.setEditable(True)
        self.cause.addItems(["", *(said(cause) for cause in CAUSES)])
        self.cause.setAccessibleName(self.tr("What it was instead"))
        edit = self.cause.lineEdit()
        if edit is not None:
            edit.setPlaceholderText(self.tr("what was it?"))
            edit.editingFinished.connect(self._changed)
        self.cause.activated.connect(lambda _: self._changed())
        self.cause.setVisible(False)
        card.body.addWidget(self.cause)
        return card

    def _rests_on(self) -> QWidget:
        card = Card(self.tr("It rests on"))
        self.expected = label("", "faint")
        self.expected.hide()
        card.body.addWidget(self.expected)
        grid = QGridLayout()
        for number, sign in enumerate(Sign):
            tick = QCheckBox(self._with_key(said(_SIGNS[sign]), f"sign.{_name(sign)}"))
            tick.setAccessibleName(said(_SIGNS[sign]))
            tick.toggled.connect(lambda _: self._changed())
            self.signs[sign] = tick
            grid.addWidget(tick, number, 0)
        card.body.addLayout(grid)
        group = QButtonGroup(self)
        card.body.addWidget(label(self.tr("Palp, as he has it"), "faint", wrap=False))
        line = row()
        for palp, text in zip(PALPS, (self.tr("his left"), self.tr("his right"), self.tr("not told")), strict=True):
            choice = QRadioButton(self._with_key(text, f"palp.{palp or 'none'}"))
            choice.setAccessibleName(self.tr("Palp: {0}").format(text))
            choice.toggled.connect(lambda on: self._changed() if on else None)
            group.addButton(choice)
            self.palps[palp] = choice
            line.addWidget(choice)
        line.addStretch(1)
        card.body.addLayout(line)
        self.note = QLineEdit()
        self.note.setPlaceholderText(self.tr("note"))
        self.note.setAccessibleName(self.tr("Note on this call"))
        self.note.editingFinished.connect(self._changed)
        card.body.addWidget(self.note)
        return card

    def _with_key(self, text: str, command: str) -> str:
        key = self._key_of(command)
        return f"{text}   [{key}]" if key else text

    # showing

    def show_expected(self, signs: Expected) -> None:
        """Which signs to expect with this pair; a weak one is named so beside its tick."""
        lines = [self.tr("Look for, in {0}:").format(signs.species or self.tr("this pair"))]
        lines += [f"• {text} ({source})" for text, source in signs.lines]
        if signs.pull_is_weak:
            lines.append(f"≠ {signs.missing_pull}")
        self.expected.setText("\n".join(lines))
        self.expected.setVisible(True)
        weak = self.tr("{0}  (weak here)") if signs.pull_is_weak else "{0}"
        tick = self.signs[Sign.ABDOMEN_DRAWN]
        tick.setText(weak.format(self._with_key(said(_SIGNS[Sign.ABDOMEN_DRAWN]), "sign.abdomen_drawn")))

    def show_pull(self, flag: FlagRecord, title: str, words: str, call: Call | None, others: str, look: Look) -> None:
        """Fill the panel for a pull; `call` is the reviewer's own, `others` what may be told of other reviewers."""
        self._filling = True
        self.setEnabled(True)
        self.card.set_title(title)
        self.measures.setText(words)
        self.because.setText(flag.because)
        self.because.setVisible(bool(flag.because))
        self.doubts.setText("\n".join(self.tr("? {0}").format(doubt) for doubt in flag.doubts))
        self.doubts.setVisible(bool(flag.doubts))
        for decision, made in self.buttons.items():
            made.setChecked(call is not None and call.decision is decision)
            made.setIcon(call_icon(look, decision))
        for sign, tick in self.signs.items():
            tick.setChecked(call is not None and sign in call.signs)
        self.palps[call.palp if call and call.palp in PALPS else ""].setChecked(True)
        self.cause.setEditText(call.cause if call else "")
        self.cause.setVisible(call is not None and call.decision is Decision.OTHER)
        self.note.setText(call.note if call else "")
        self.others.setText(others)
        self.others.setVisible(bool(others))
        self._filling = False

    def show_nothing(self, words: str) -> None:
        self._filling = True
        self.card.set_title(self.tr("Pull"))
        self.measures.setText(words)
        for part in (self.because, self.doubts, self.others):
            part.setVisible(False)
        for made in self.buttons.values():
            made.setChecked(False)
        self.setEnabled(False)
        self._filling = False

    def fields(self) -> tuple[tuple[Sign, ...], str, str, str]:
        """Signs, palp, cause, note as they stand."""
        signs = tuple(sign for sign, tick in self.signs.items() if tick.isChecked())
        palp = next(palp for palp, choice in self.palps.items() if choice.isChecked())
        return signs, palp, self.cause.currentText().strip(), self.note.text().strip()

    def toggle(self, sign: Sign) -> None:
        if self.isEnabled():
            self.signs[sign].toggle()

    def choose_palp(self, palp: str) -> None:
        if self.isEnabled():
            self.palps[palp].setChecked(True)

    def ask_cause(self) -> None:
        """After "something else": what was it?"""
        self.cause.setVisible(True)
        self.cause.setFocus(Qt.FocusReason.OtherFocusReason)

    def _changed(self) -> None:
        if not self._filling:
            self.edited.emit()


def _name(value: Decision | Sign) -> str:
    return value.name.lower()


def in_words(flag: FlagRecord, frame_s: float, time_base: float, tr: Callable[[str], str]) -> str:
    """A pull's measures as a sentence: how far, which way, how it tipped, how fast, how long held."""
    parts = []
    if flag.pull is not None:
        parts.append(tr("Moved by {0:.2f} of her abdomen's length").format(flag.pull))
        if flag.direction_deg is not None:
            parts[-1] += " " + said(direction_words(flag.direction_deg))
    if flag.tilt_deg is not None and abs(flag.tilt_deg) >= 0.5:
        way = tr("clockwise") if flag.tilt_deg > 0 else tr("anticlockwise")
        parts.append(tr("tipped {0:.0f}° {1}").format(abs(flag.tilt_deg), way))
    took = (flag.full_pts - flag.onset_pts) * time_base
    parts.append(tr("in {0:.2f} s").format(took) if took > 0 else tr("within a frame"))
    if flag.release_pts is not None:
        parts.append(tr("held {0:.1f} s").format((flag.release_pts - flag.full_pts) * time_base))
    elif flag.pull is not None:
        parts.append(tr("no release seen"))
    if flag.pull is None:
        return tr("Added by hand by {0}.").format(flag.by)
    return ", ".join(parts) + tr(" (times to ±{0:.0f} ms).").format(1_000 * frame_s / 2)
