"""The Sheet page: figures lead to their marks, the sheet is written and printed."""

from __future__ import annotations

import importlib.util
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QTreeWidgetItemIterator

from clipmark import settings as declared
from clipmark.book.model import Actor, Animal, Mark, Sex
from clipmark.window.main_window import MainWindow
from tests.window.conftest import put_in


@pytest.fixture
def page(window: MainWindow, film, qtbot):
    with qtbot.waitSignal(window.workspace.clipReady):
        clip_id = put_in(window.workspace, film)
    pts = [int(p) for p in window.workspace.film(clip_id).index.pts]
    book = window.workspace.book
    for act, actor, start, end in (
        ("introduced", Actor.KEEPER, 0, None),
        ("drumming", Actor.HIM, 10, 20),
        ("drumming", Actor.HIM, 25, 30),
        ("insertion left", Actor.HIM, 40, 50),
    ):
        lasting = end is not None
        book.add_mark(Mark(0, clip_id, act, actor, pts[start], pts[end] if lasting else None, lasting, "Ada"))
    window.workspace.refresh()
    window.show_page("sheet")
    return window.pages["sheet"]


def item_called(page, text: str):
    found = QTreeWidgetItemIterator(page.tree)
    while found.value() is not None:
        if found.value().text(0) == text:
            return found.value()
        found += 1
    raise AssertionError(f"no figure {text}")


def test_each_figure_leads_to_the_marks_that_it_came_from(page) -> None:
    item = item_called(page, "Drumming with the palps")

    page.show_source(item)
    first = page.workspace.mark
    page.show_source(item)

    assert ("drumming", "drumming") == (first.act, page.workspace.mark.act)
    assert first.id != page.workspace.mark.id
    page.show_source(item)
    assert first.id == page.workspace.mark.id


def test_enter_on_a_figure_does_the_same_as_a_click(page, qtbot) -> None:
    page.tree.setCurrentItem(item_called(page, "To his first drumming"))
    page.tree.setFocus()

    qtbot.keyClick(page.tree, Qt.Key.Key_Return)

    assert page.workspace.mark is not None


def test_a_figure_of_nothing_says_so(page, qtbot) -> None:
    with qtbot.waitSignal(page.workspace.message) as told:
        page.show_source(item_called(page, "One frame"))

    assert "of no single mark" in told.args[0]


def test_an_edit_is_read_at_once_when_the_page_is_on_view(page) -> None:
    assert "Insertions: 0 confirmed, 1 probable, 0 attempts, of 1 judgeable; 0 not visible." == page.sentence.text()

    page.workspace.undo()

    assert "Insertions: no candidate insertion was flagged or marked." == page.sentence.text()


def test_the_sheet_is_written_beside_the_book_and_named_after_the_pairing(page, tmp_path, qtbot, monkeypatch) -> None:
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path / "home"))
    page.write()
    qtbot.waitUntil(lambda: page.written is not None, timeout=30_000)

    assert "Test-pairing.html" == page.written.name
    text = page.written.read_text("utf-8")
    assert "Test pairing" in text
    assert page.open_button.isEnabled()


def test_a_place_that_cannot_be_written_is_told_on_the_message_line(page, tmp_path, qtbot) -> None:
    (tmp_path / "wall").write_text("a file, no folder")

    with qtbot.waitSignal(page.workspace.message, timeout=30_000) as told:
        page.write(tmp_path / "wall" / "sheet.html")

    assert "wrong" == told.args[1]
    assert page.write_button.isEnabled()


@pytest.mark.skipif(importlib.util.find_spec("PySide6.QtWebEngineCore") is None, reason="needs Qt's page engine")
def test_the_sheet_becomes_a_pdf(page, tmp_path) -> None:
    from clipmark.window.print.page_engine import NoPaper, write_pdf

    html = tmp_path / "sheet.html"
    html.write_text("<!doctype html><meta charset=utf-8><h1>Mora × Iron</h1>", "utf-8")

    try:
        out = write_pdf(html, tmp_path / "sheet.pdf")
    except NoPaper as error:
        if "shared object" not in str(error):
            raise
        pytest.skip(f"the page engine lacks a system library here, the drawn PDF stands in: {error}")

    assert out.read_bytes().startswith(b"%PDF-")


def test_a_page_that_cannot_be_printed_leaves_no_half_pdf(tmp_path) -> None:
    from clipmark.window.print.page_engine import NoPaper, write_pdf

    with pytest.raises(NoPaper, match="print it from your browser"):
        write_pdf(tmp_path / "missing.html", tmp_path / "sheet.pdf")

    assert not list(tmp_path.iterdir())


def test_where_two_people_marked_one_is_chosen_and_read_alone(page):
    book, clip = page.workspace.book, page.workspace.record.clips[0]
    page.workspace.settings.put(declared.BLIND, False)
    page.workspace.edit(
        book.add_mark, Mark(0, clip.id, "drumming", Actor.HIM, clip.first_pts, clip.first_pts + 1, True, "Ben")
    )
    page.refresh()

    assert ["Ada", "Ben"] == [page.reviewers.itemData(k) for k in range(page.reviewers.count())]
    assert 2 == page.reading.figure("act.drumming.him.count").value
    page.reviewers.setCurrentIndex(1)
    page.refresh()
    assert ("Ben", 1) == (page.reading.reviewer, page.reading.figure("act.drumming.him.count").value)


def group(page, title):
    tree = page.tree
    found = [tree.topLevelItem(n) for n in range(tree.topLevelItemCount())]
    return next(item for item in found if item.text(0) == title)


def told(item) -> str:
    lines = [item.child(n) for n in range(item.childCount())]
    return " ".join(f"{line.text(0)} {told(line)}" for line in lines).replace("\n", " ")


def test_how_sure_the_reading_is_stands_on_the_page_with_what_the_tests_take_for_granted(page) -> None:
    page.refresh()
    said = told(group(page, "How sure is this"))

    assert "Does she answer his drumming, or would it look so by chance?" in said
    assert "Not tested: 2 beginnings of his drumming, fewer than 5." in said
    assert "taken for granted" in said


def test_the_signs_to_expect_stand_on_the_page_and_follow_the_kind(page) -> None:
    book = page.workspace.book
    usual = told(group(page, "Signs to expect"))
    assert "the usual sign of an insertion" in usual

    her = book.add_animal(Animal(0, "Nimue", Sex.FEMALE, "Caribena versicolor"))
    page.workspace.edit(book.change_session, replace(page.workspace.record.session, female_id=her.id))
    page.refresh()
    assert "no pull is no evidence" in told(group(page, "Signs to expect"))
    assert "no pull is no evidence" in told(group(page, "To be said beside it"))
