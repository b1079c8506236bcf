"""What meets a keeper first: the sessions of the book, the sample apart from them."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from clipmark import settings as declared
from clipmark.book.model import Session
from clipmark.book.store import Book
from clipmark.settings import Settings
from clipmark.window.app import open_window
from clipmark.window.main_window import MainWindow
from tests.window.conftest import put_in


@pytest.fixture
def first_start(qtbot):
    """The window as it opens in an empty home."""
    window = open_window()
    qtbot.addWidget(window)
    window.show()
    yield window
    passes = window.pages["film"].passes
    passes.stop_all()
    qtbot.waitUntil(lambda: passes.running == (), timeout=20_000)
    window.close()
    window.workspace.book.close()


def listed(window: MainWindow) -> list[str]:
    return [row.title for row in window.pages["start"].model.rows]


def add_sessions(window: MainWindow, *titles: str) -> list[int]:
    book = window.workspace.book
    made = [book.add_session(Session(0, t, None, None, f"2026-0{n}-01")).id for n, t in enumerate(titles, start=1)]
    window.workspace.refresh()
    return made


def test_an_empty_book_offers_own_film_and_the_sample(first_start):
    start = first_start.pages["start"]

    assert "start" == first_start.page
    assert start.first_add.isVisible()
    assert start.first_sample.isVisible()
    assert not first_start.banner.isVisible()


def test_the_sample_says_so_and_leads_back_to_the_own_book(first_start, qtbot):
    qtbot.mouseClick(first_start.pages["start"].first_sample, Qt.MouseButton.LeftButton)
    assert first_start.banner.isVisible()
    assert first_start.workspace.record is not None
    for _ in range(3):
        qtbot.mouseClick(first_start.introduction.next, Qt.MouseButton.LeftButton)
    assert Settings().get(declared.INTRODUCED)
    first_start.pages["film"].passes.stop_all()
    qtbot.waitUntil(lambda: first_start.pages["film"].passes.running == (), timeout=20_000)
    qtbot.mouseClick(first_start.banner.leave, Qt.MouseButton.LeftButton)

    assert not first_start.banner.isVisible()
    assert declared.default_book() == first_start.workspace.book.path
    assert () == first_start.workspace.book.sessions()


def test_own_film_never_lands_in_the_sample_and_is_there_after_a_restart(first_start, film, qtbot):
    first_start.show_sample()
    qtbot.mouseClick(first_start.introduction.skip, Qt.MouseButton.LeftButton)
    first_start.pages["film"].passes.stop_all()
    with qtbot.waitSignal(first_start.workspace.clipReady):
        first_start.add_films([film.path])

    assert not first_start.banner.isVisible()
    with Book.open(declared.default_book(), read_only=True) as again:
        assert ["plain"] == [row.title for row in again.sessions()]
    with Book.open(declared.data_dir() / "sample" / "sample.book", read_only=True) as sample:
        assert 1 == sample.sessions()[0].clips


def test_a_session_that_is_begun_in_the_sample_goes_into_the_own_book(first_start):
    first_start.show_sample()
    first_start.pages["pair"].new_session()

    assert declared.default_book() == first_start.workspace.book.path
    assert first_start.workspace.record is not None


def test_sessions_are_listed_newest_first_and_found_by_what_is_typed(window, qtbot):
    add_sessions(window, "Mora and Iron", "Ember and Ash", "Mora again")
    window.show_page("start")
    start = window.pages["start"]
    assert ["Mora again", "Ember and Ash", "Mora and Iron"] == listed(window)
    qtbot.keyClicks(start.search, "mora")
    qtbot.waitUntil(lambda: listed(window) == ["Mora again", "Mora and Iron"])


def test_enter_opens_the_highlighted_session(window, qtbot):
    made = add_sessions(window, "first", "second", "third")
    window.show_page("start")
    start = window.pages["start"]
    start.list.setCurrentIndex(start.model.place_of(made[2]))
    qtbot.keyClick(start.list, Qt.Key.Key_Down)
    qtbot.keyClick(start.list, Qt.Key.Key_Return)

    assert made[1] == window.workspace.record.session.id
    assert "pair" == window.page  # there is no film in it yet


def test_a_removed_session_comes_back_by_undo(window, qtbot):
    made = add_sessions(window, "first", "second")
    window.workspace.show_session(made[1])
    window.show_page("start")
    start = window.pages["start"]
    start.list.setCurrentIndex(start.model.place_of(made[1]))
    qtbot.mouseClick(start.remove, Qt.MouseButton.LeftButton)
    assert ["first"] == listed(window)
    assert None is window.workspace.record
    window.workspace.undo()

    assert ["second", "first"] == listed(window)


def test_the_session_that_was_used_last_opens_again(window, qtbot):
    made = add_sessions(window, "first", "second", "third")
    window.workspace.show_session(made[0])
    window.workspace.show_session(None)
    window.begin([], None)

    assert made[0] == window.workspace.record.session.id
    assert made[0] == window.pages["start"].chosen


def test_a_session_is_shown_by_a_still_of_its_film(window, film, qtbot):
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    window.show_page("start")
    model = window.pages["start"].model
    qtbot.waitUntil(lambda: bool(model._stills), timeout=10_000)

    assert not next(iter(model._stills.values())).isNull()


def test_film_that_is_dropped_on_the_start_page_makes_a_session_of_its_own(window, film, tmp_path, qtbot):
    from tests import made

    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    window.show_page("start")
    other = made.film(tmp_path / "other.mkv", [0, 40, 80])
    with qtbot.waitSignal(window.workspace.clipReady):
        window.add_films([other.path])

    assert "other" == window.workspace.record.session.title
    assert 2 == len(window.workspace.book.sessions())
    assert "film" == window.page
