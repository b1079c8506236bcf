"""“How sure is this” on the Sheet page: the tests of answers and order, computed beside the window, with what they
take for granted; and which signs to expect with this pair."""

from __future__ import annotations

from collections.abc import Callable
from textwrap import fill

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QTreeWidgetItem

from clipmark.reading.kinds.signs import Expected
from clipmark.reading.session.how_sure import Sureness, how_sure
from clipmark.reading.session.measures import Reading
from clipmark.window.workspace import Workspace

LINE = 66  # letters of a line in the tree at the window's usual width
AT_ONCE = 300  # acts: up to here the shuffles take some hundredths of a second


def fill_sureness(group: QTreeWidgetItem, rows: tuple[Sureness, ...]) -> None:
    """A question an item, with the finding and the assumptions under it."""
    group.takeChildren()
    for one in rows:
        question = add_text(group, one.question)
        for text in (one.found, one.assumes):
            add_text(question, text)
        question.setExpanded(True)


def add_text(under: QTreeWidgetItem, text: str) -> QTreeWidgetItem:
    """A text over both columns, in lines that the tree is wide enough for."""
    line = QTreeWidgetItem([fill(text, LINE)])
    under.addChild(line)
    line.setFirstColumnSpanned(True)
    line.setToolTip(0, text)
    return line


def fill_expected(group: QTreeWidgetItem, signs: Expected) -> None:
    """What to look for, a line each with its source, and what a missing pull means."""
    for text, source in (*signs.lines, (signs.missing_pull, signs.source)):
        add_text(group, f"{text} ({source})")


def compute(workspace: Workspace, reading: Reading, done: Callable[[tuple[Sureness, ...]], None]) -> None:
    """Run the tests, beside the window where there is much to test; `done` gets them on the main thread."""
    record = workspace.record
    labels = {act.code: act.label for act in record.acts} if record is not None else {}
    if len(reading.occurrences) <= AT_ONCE:
        done(how_sure([reading], labels))
        return
    title = QCoreApplication.translate("Sureness", "Testing answers and order")

    def failed(error: Exception) -> None:
        workspace.say(str(error), "wrong")

    workspace.tasks.run(title, lambda _: how_sure([reading], labels), done, failed, lambda: None)
