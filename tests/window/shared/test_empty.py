"""What stands where nothing is yet."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from clipmark.window.shared.parts import Empty


def test_a_long_sentence_is_shown_whole(qtbot):
    empty = Empty("", "Go there", lambda: None)
    qtbot.addWidget(empty)
    empty.resize(900, 500)
    empty.show()
    empty.say("A sentence that says what to do next, and goes on over more than one line of the page. " * 3, "Go")
    QCoreApplication.processEvents()

    assert empty.told.height() >= empty.told.heightForWidth(empty.told.width()) > 2 * empty.fontMetrics().height()
