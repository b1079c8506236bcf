"""“How sure is this” on the Sheet page: the tests of answers and order, computed beside the window, with what they
take for granted; and which signs to expect with this pair."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QTreeWidgetItem

from clipmark.reading.advice.signs import Expected
from clipmark.reading.session.how_sure import Sureness, how_sure
from clipmark.reading.session.measures import Reading
from clipmark.window.workspace import Workspace


def fill_sureness(group: QTreeWidgetItem, rows: tuple[Sureness, ...]) -> None:
    """A question an item, with the finding and the assumptions under it."""
    group.takeChildren()
    for one in rows:
        question = QTreeWidgetItem([one.question])
        group.addChild(question)
        question.setFirstColumnSpanned(True)
        question.setToolTip(0, f"{one.found} {one.assumes}")
        for text in (one.found, one.assumes):
            line = QTreeWidgetItem([text])
            question.addChild(line)
            line.setFirstColumnSpanned(True)
            line.setToolTip(0, text)
        question.setExpanded(True)


def fill_expected(group: QTreeWidgetItem, signs: Expected) -> None:
    """What to look for, a line each with its source, and what a missing pull means."""
    for text, source in (*signs.lines, (signs.missing_pull, signs.source)):
        line = QTreeWidgetItem([f"{text} ({source})"])
        group.addChild(line)
        line.setFirstColumnSpanned(True)
        line.setToolTip(0, f"{text} ({source})")


def compute(workspace: Workspace, reading: Reading, done: Callable[[tuple[Sureness, ...]], None]) -> None:
    """Run the tests beside the window; `done` gets them on the main thread."""
    record = workspace.record
    labels = {act.code: act.label for act in record.acts} if record is not None else {}
    title = QCoreApplication.translate("Sureness", "Testing answers and order")

    def failed(error: Exception) -> None:
        workspace.say(str(error), "wrong")

    workspace.tasks.run(title, lambda _: how_sure([reading], labels), done, failed, lambda: None)
