"""The breeding loans of an animal on its card: those that are noted, and the fields for another one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import partial

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QDateEdit, QFormLayout, QLineEdit, QToolButton, QVBoxLayout, QWidget

from clipmark.book.model import Animal, Loan
from clipmark.window.shared.parts import button, clear, label, row
from clipmark.window.workspace import Workspace


class LoansPart(QWidget):
    def __init__(self, workspace: Workspace, whose: str):
        super().__init__()
        self.workspace, self.whose = workspace, whose
        self.animal: Animal | None = None
        self.known = QVBoxLayout()
        self.fields = self._fields()
        self.fields.hide()
        self.open = button(
            self.tr("Loan…"), self.unfold, self.tr("Note a breeding loan"), f"{whose}: {self.tr('loan')}"
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self.known)
        column.addLayout(row(self.open, 1))
        column.addWidget(self.fields)

    def _fields(self) -> QWidget:
        part = QWidget()
        form = QFormLayout(part)
        form.setContentsMargins(0, 0, 0, 0)
        self.owner, self.borrower, self.terms, self.share = (QLineEdit() for _ in range(4))
        self.start, self.end = self._day(self.tr("first day")), self._day(self.tr("last day agreed"))
        self.start.setDate(QDate.currentDate())
        self.share.setPlaceholderText(self.tr("such as half of the young"))
        for words, field in (
            (self.tr("Lent by"), self.owner), (self.tr("Lent to"), self.borrower),
            (self.tr("Terms"), self.terms), (self.tr("Share"), self.share),
        ):  # fmt: skip
            field.setAccessibleName(f"{self.whose}: {words}")
            form.addRow(words, field)
        form.addRow(self.tr("From, until"), row(self.start, self.end))
        keep = button(self.tr("Note the loan"), self.add, name=self.tr("{0}: note the loan").format(self.whose))
        form.addRow("", keep)
        return part

    def _day(self, words: str) -> QDateEdit:
        field = QDateEdit()
        field.setCalendarPopup(True)
        field.setDisplayFormat("yyyy-MM-dd")
        field.setMinimumDate(QDate(1969, 12, 31))
        field.setSpecialValueText(words)
        field.setDate(field.minimumDate())
        field.setAccessibleName(f"{self.whose}: {words}")
        return field

    def unfold(self) -> None:
        """Show the fields for a loan, or fold them away."""
        self.fields.setVisible(self.fields.isHidden())
        if self.animal is not None and not self.owner.text():
            self.owner.setText(self.animal.owner)

    def show_animal(self, animal: Animal | None) -> None:
        """Show the loans of an animal."""
        from clipmark.reading.advice.loans import loan_ends, terms

        if animal is None or self.animal is None or animal.id != self.animal.id:
            for field in (self.owner, self.borrower, self.terms, self.share):
                field.clear()
            self.fields.hide()
        self.animal = animal
        self.setVisible(animal is not None)
        clear(self.known)
        if animal is None:
            return
        loans = self.workspace.guard(self.workspace.book.loans, animal.id) or ()
        late = {end.loan.id: end.text for end in loan_ends(loans, [animal], date.today()) if end.overdue}
        for loan in loans:
            words = terms(loan, animal.name)
            text = label(words, "wrong" if loan.id in late else "faint")
            text.setToolTip(late.get(loan.id, ""))
            parts: list[QWidget] = [text]
            if not loan.returned:
                parts.append(button(self.tr("Given back"), partial(self._returned, loan),
                                    self.tr("Note that the animal went back today"),
                                    self.tr("Given back: {0}").format(words)))  # fmt: skip
            off = QToolButton()
            off.setText("×")
            off.setAutoRaise(True)
            off.setToolTip(self.tr("Take this loan out; undo brings it back"))
            off.setAccessibleName(self.tr("Take out: {0}").format(words))
            off.clicked.connect(partial(self._drop, loan.id))
            line = row(*parts, off)
            line.setStretch(0, 1)
            self.known.addLayout(line)

    def add(self) -> None:
        """Keep the loan that is entered."""
        if self.animal is None:
            return
        start, end = (
            "" if field.date() == field.minimumDate() else str(field.date().toString(Qt.DateFormat.ISODate))
            for field in (self.start, self.end)
        )
        made = Loan(0, self.animal.id, self.owner.text().strip(), self.borrower.text().strip(), start, end,
                    self.terms.text().strip(), self.share.text().strip())  # fmt: skip
        if self.workspace.edit(self.workspace.book.add_loan, made) is not None:
            self.fields.hide()
            said = self.tr("The loan is noted.")
            if end:
                said = self.tr("The loan is noted; you are reminded on {0}.").format(end)
            self.workspace.say(said, "done")

    def _returned(self, loan: Loan) -> None:
        self.workspace.edit(self.workspace.book.change_loan, replace(loan, returned=date.today().isoformat()))

    def _drop(self, loan_id: int) -> None:
        self.workspace.edit(self.workspace.book.remove_loan, loan_id)
