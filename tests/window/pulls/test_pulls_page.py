"""Calling pulls on made film: a textured oval that is drawn aside twice (tests/window/conftest.py)."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from clipmark import settings as declared
from clipmark.book.film.intake import clip_record, run_pass
from clipmark.book.model import Actor, Call, Decision, Mark, Outline, Session, Sign
from clipmark.book.store import Book
from clipmark.media.clip import open_clip
from clipmark.window.main_window import MainWindow
from tests.window.conftest import PULLS, pulled


@pytest.fixture(scope="module")
def scanned(tmp_path_factory) -> Path:
    """A book with one session whose film was outlined and scanned."""
    folder = tmp_path_factory.mktemp("pulled")
    film = pulled(folder / "pulled.mkv")
    with Book.open(folder / "pulled.book") as book:
        session = book.add_session(Session(0, "Made pairing", None, None, reviewer="Ada"))
        clip = open_clip(film.path)
        stored = book.add_clip(clip_record(clip, session.id))
        book.add_outline(Outline(0, stored.id, stored.first_pts, 114, 86, 92, 68))
        record = book.session(session.id)
        book.add_pass(stored.id, run_pass(clip, record, stored))
    return folder / "pulled.book"


@pytest.fixture
def book(scanned: Path, tmp_path: Path):
    copy = tmp_path / "test.book"
    copy.write_bytes(scanned.read_bytes())
    with Book.open(copy) as opened:
        yield opened


@pytest.fixture
def page(window: MainWindow, qtbot):
    """The Pulls page with the first pull on view."""
    window.workspace.set_reviewer("Ada")
    with qtbot.waitSignal(window.workspace.clipReady):
        window.workspace.show_session(window.workspace.book.sessions()[0].id)
    window.show_page("pulls")
    shown = window.pages["pulls"]
    qtbot.waitUntil(lambda: shown.moment.loop.place is not None, timeout=20_000)
    return shown


def press(qtbot, page, key: Qt.Key) -> None:
    qtbot.keyClick(page.list, key)


def test_the_page_loops_the_first_pull_beside_before_full_and_change(page) -> None:
    onset = float(page.workspace.flag_place(page.workspace.flag))

    assert onset == pytest.approx(PULLS[0][0], abs=0.15)
    assert page.moment.before.image is not None
    assert page.moment.after.image is not None
    assert page.moment.change.image is not None
    assert page.moment.before.image.size() == page.moment.change.image.size()
    assert "0 of 2 called" == page.counted.text()
    assert "of her abdomen's length to the right" in page.panel.measures.text()


def test_the_highlighted_pull_is_the_one_on_view_though_a_mark_was_selected_meanwhile(page, window) -> None:
    workspace = window.workspace
    window.show_page("film")
    mark = workspace.edit(
        workspace.book.add_mark, Mark(0, workspace.clip_id, "contact", Actor.BOTH, 0, None, False, "Ada")
    )
    workspace.select_mark(mark.id)
    assert workspace.flag_id is None
    window.show_page("pulls")

    assert page.list.currentItem().data(Qt.ItemDataRole.UserRole) == workspace.flag_id
    assert "No pull is chosen." != page.panel.measures.text()


def test_one_key_calls_with_the_ticked_signs_and_goes_on(page, qtbot) -> None:
    first = page.workspace.flag_id
    for key in (Qt.Key.Key_D, Qt.Key.Key_B, Qt.Key.Key_L, Qt.Key.Key_1):
        press(qtbot, page, key)

    call = page.workspace.call_of(first)
    assert (Decision.CONFIRMED, "left", "Ada") == (call.decision, call.palp, call.reviewer)
    assert {Sign.ABDOMEN_DRAWN, Sign.BULB_SEATED} == set(call.signs)
    assert page.workspace.flag_id != first
    assert "1 of 2 called" == page.counted.text()


def test_a_call_is_taken_back_by_undo(page, qtbot) -> None:
    first = page.workspace.flag_id
    press(qtbot, page, Qt.Key.Key_2)
    assert Decision.PROBABLE is page.workspace.call_of(first).decision

    page.workspace.undo()

    assert page.workspace.call_of(first) is None
    assert "0 of 2 called" == page.counted.text()


def test_confirmed_without_its_signs_is_kept_and_the_rule_is_told(page, qtbot) -> None:
    first = page.workspace.flag_id
    with qtbot.waitSignal(page.workspace.message) as told:
        press(qtbot, page, Qt.Key.Key_1)

    assert Decision.CONFIRMED is page.workspace.call_of(first).decision
    assert "one more sign" in told.args[0]


def test_something_else_asks_what_it_was_and_keeps_the_answer(page, qtbot) -> None:
    first = page.workspace.flag_id
    press(qtbot, page, Qt.Key.Key_5)
    assert page.panel.cause.isVisible()

    page.panel.cause.lineEdit().setText("camera bump")
    qtbot.keyClick(page.panel.cause.lineEdit(), Qt.Key.Key_Return)

    assert (Decision.OTHER, "camera bump") == (
        page.workspace.call_of(first).decision,
        page.workspace.call_of(first).cause,
    )


def test_letters_typed_into_the_note_are_no_commands(page, qtbot) -> None:
    page.panel.note.setFocus()
    qtbot.keyClicks(page.panel.note, "bulb 1 plain")

    assert "bulb 1 plain" == page.panel.note.text()
    assert page.workspace.call_of(page.workspace.flag_id) is None


def test_a_sign_that_is_ticked_after_the_call_belongs_to_it(page, qtbot) -> None:
    page.go_on.setChecked(False)
    press(qtbot, page, Qt.Key.Key_2)
    press(qtbot, page, Qt.Key.Key_P)

    assert (Sign.PALPS_STILL,) == page.workspace.call_of(page.workspace.flag_id).signs


def test_a_second_reviewer_decides_blind_and_sees_the_first_ones_call_afterwards(page, qtbot) -> None:
    workspace, first = page.workspace, page.workspace.flag_id
    workspace.edit(workspace.book.add_call, Call(0, first, "Ada", Decision.CONFIRMED))
    page.go_on.setChecked(False)
    workspace.set_reviewer("Bo")

    assert workspace.settings.get(declared.BLIND)
    assert "0 of 2 called" == page.counted.text()
    assert "Confirmed" not in page.panel.others.text()
    assert not any(button.isChecked() for button in page.panel.buttons.values())
    press(qtbot, page, Qt.Key.Key_3)

    assert "Ada: Confirmed" in page.panel.others.text()
    assert Decision.CONFIRMED is workspace.call_of(first, "Ada").decision
    assert Decision.ATTEMPT is workspace.call_of(first, "Bo").decision


def test_next_uncalled_jumps_over_what_is_called(page, qtbot) -> None:
    page.go_on.setChecked(False)
    press(qtbot, page, Qt.Key.Key_4)
    called = page.workspace.flag_id
    press(qtbot, page, Qt.Key.Key_N)
    assert page.workspace.flag_id != called
    press(qtbot, page, Qt.Key.Key_4)

    with qtbot.waitSignal(page.workspace.message) as told:
        press(qtbot, page, Qt.Key.Key_N)
    assert "All 2 pulls are called" in told.args[0]


def test_a_missed_pull_is_kept_where_the_film_stands_and_can_be_taken_off(page, qtbot) -> None:
    workspace = page.workspace
    pts = [int(p) for p in workspace.film(workspace.clip_id).index.pts]
    workspace.go_pts(workspace.clip_id, pts[10])

    page.add_missed()

    own = workspace.flag
    assert (pts[10], None, "Ada") == (own.onset_pts, own.pass_id, own.by)
    assert "Added by hand by Ada." in page.panel.measures.text()
    assert "0 of 3 called" == page.counted.text()
    page.remove_own()
    assert 2 == len(workspace.record.flags)


def test_what_the_pass_proposed_cannot_be_taken_off(page, qtbot) -> None:
    with qtbot.waitSignal(page.workspace.message) as told:
        page.remove_own()

    assert "call it “something else”" in told.args[0]
    assert 2 == len(page.workspace.record.flags)


def test_strongest_first_orders_by_score(page) -> None:
    page.order.setCurrentIndex(1)
    page.refresh()

    scores = [flag.score for flag in page.flags()]
    assert sorted(scores, reverse=True) == scores


def test_the_loop_can_be_held_and_stepped(page, qtbot) -> None:
    press(qtbot, page, Qt.Key.Key_H)
    held = page.moment.loop.place
    qtbot.wait(150)
    assert held == page.moment.loop.place

    press(qtbot, page, Qt.Key.Key_Period)

    assert page.moment.loop.place - held == pytest.approx(0.04)


def test_the_outline_as_it_was_followed_can_be_laid_over_the_loop(page) -> None:
    assert () == page.moment.loop.picture._shapes

    page.moment.loop.outline.setChecked(True)

    (shape,) = page.moment.loop.picture._shapes
    xs = [x for x, _ in shape.points]
    assert max(xs) - min(xs) == pytest.approx(92, abs=8)  # the box was drawn 92 pixels wide


def test_without_a_pass_the_page_says_what_to_do_next(tmp_path: Path, qtbot, workspace) -> None:
    from clipmark.window.pulls.page import PullsPage

    page = PullsPage(workspace)
    qtbot.addWidget(page)

    assert page.stack.currentWidget() is page.empty
    assert "Add film on the Pair page" in page.empty.told.text()


def test_mirror_turns_the_loop_and_the_stills_and_says_so(page) -> None:
    before = page.moment.before.image.copy()

    page.workspace.set_mirrored(True)

    turned = page.moment.before.image
    assert page.moment.loop.picture.mirrored
    assert before.pixelColor(3, 5) == turned.pixelColor(turned.width() - 4, 5)
