"""Beside each call stands what to look for with this pair."""

from __future__ import annotations

from clipmark.book.model import Sign, SpeciesNote
from clipmark.reading.kinds.signs import expected
from clipmark.window.pulls.call_panel import CallPanel


def test_in_a_kind_that_hardly_moves_the_pull_is_named_a_weak_sign(qtbot) -> None:
    panel = CallPanel(lambda _: "")
    qtbot.addWidget(panel)
    panel.show_expected(expected("Caribena versicolor"))

    assert "hardly drawn in" in panel.expected.text()
    assert "no pull is no evidence" in panel.expected.text()
    assert "common practice, no source" in panel.expected.text()
    assert "weak here" in panel.signs[Sign.ABDOMEN_DRAWN].text()


def test_elsewhere_it_is_the_usual_sign(qtbot) -> None:
    panel = CallPanel(lambda _: "")
    qtbot.addWidget(panel)
    panel.show_expected(expected("Caribena versicolor"))
    panel.show_expected(expected("Grammostola rosea"))

    assert "the usual sign of an insertion" in panel.expected.text()
    assert "no evidence" not in panel.expected.text()
    assert "weak here" not in panel.signs[Sign.ABDOMEN_DRAWN].text()


def test_the_keepers_own_word_counts(qtbot) -> None:
    panel = CallPanel(lambda _: "")
    qtbot.addWidget(panel)
    own = [SpeciesNote(1, "Grammostola", "weak pull", note="She sits like a stone.")]
    panel.show_expected(expected("Grammostola rosea", own))

    assert "She sits like a stone. (your own, Grammostola)" in panel.expected.text()
