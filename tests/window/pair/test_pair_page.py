"""The Pair page: animals, dates, clips on one clock, footage that moved."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QPoint, Qt

from clipmark.book.model import Actor, Mark, Sex
from clipmark.media.sound.match import SoundMatch
from clipmark.progress import SILENT
from clipmark.report.films.listening import heard_in
from clipmark.window.main_window import MainWindow
from tests import made
from tests.media.test_sound_match import RATE, struck, taps
from tests.window.conftest import put_in


@pytest.fixture
def page(window: MainWindow):
    window.show_page("pair")
    return window.pages["pair"]


def two_clips(page, tmp_path: Path, qtbot, sounds=(None, None), offsets=(0, 0)) -> list[int]:
    """Two made films in the session, open."""
    ids = []
    for name, sound, offset in zip(("front", "side"), sounds, offsets, strict=True):
        length = 40 * 60 if sound is None else round(1_000 * len(sound) / RATE)
        film = made.film(tmp_path / f"{name}.mkv", list(range(0, length, 200)), sound=sound, sound_rate=RATE)
        ids.append(put_in(page.workspace, film, Fraction(offset), name))
    qtbot.waitUntil(lambda: all(page.workspace.film(i) is not None for i in ids), timeout=20_000)
    page.refresh()
    return ids


def type_into(qtbot, field, text: str) -> None:
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def test_a_name_typed_into_an_empty_card_makes_the_animal_and_the_session(page, qtbot) -> None:
    type_into(qtbot, page.her.name, "Mora")
    type_into(qtbot, page.her.species, "Grammostola rosea")
    type_into(qtbot, page.him.name, "Iron")

    record = page.workspace.record
    assert ("Mora", Sex.FEMALE, "Grammostola rosea") == (record.female.name, record.female.sex, record.female.species)
    assert ("Iron", Sex.MALE) == (record.male.name, record.male.sex)
    assert 1 == len(page.workspace.book.sessions())


def test_an_animal_of_the_book_is_chosen_again_in_the_next_session(page, qtbot) -> None:
    type_into(qtbot, page.her.name, "Mora")
    page.new_session()
    assert page.workspace.record.female is None

    page.her.who.setCurrentIndex(1)
    page.her.who.activated.emit(1)

    assert "Mora" == page.workspace.record.female.name
    assert 1 == len(page.workspace.book.animals(Sex.FEMALE))


def test_species_are_offered_while_typing(page) -> None:
    model = page.her.species.completer().model()

    names = [model.index(n, 0).data() for n in range(model.rowCount())]

    assert "Grammostola rosea" in names


def test_a_fresh_moult_speaks_against_pairing_and_locks_nothing(page, qtbot) -> None:
    type_into(qtbot, page.her.name, "Mora")
    page.day.enter(date(2026, 3, 14))
    page.her.day.enter(date(2026, 3, 1))
    page.her.note_event()
    QCoreApplication.processEvents()

    shown = [w.accessibleName() or w.text() for w in page.hints.findChildren(type(page.hints.title)) if w.isVisible()]
    assert any(text.startswith("speaks against it: She moulted 13 days ago") for text in shown)
    assert page.clips.add.isEnabled()


def test_date_warmth_and_damp_are_in_the_book_when_left(page, qtbot) -> None:
    type_into(qtbot, page.title, "First try")
    page.day.enter(date(2026, 3, 14))
    page.warmth.setValue(24.5)
    page.damp.setValue(70)
    page.damp.editingFinished.emit()

    session = page.workspace.record.session
    assert ("First try", "2026-03-14", 24.5, 70.0) == (
        session.title, session.date, session.temperature_c, session.humidity_pct,
    )  # fmt: skip


def test_clips_are_laid_one_after_another_and_swapped(page, tmp_path, qtbot) -> None:
    first, second = two_clips(page, tmp_path, qtbot)
    page.clips.place_in_row()
    length = Fraction(2_240, 1_000)  # twelve frames, the last one 40 ms long
    assert {first: Fraction(0), second: length} == {c.id: c.offset for c in page.workspace.record.clips}

    page.clips.table.selectRow(1)
    page.clips.shift_order(-1)

    assert {first: length, second: Fraction(0)} == {c.id: c.offset for c in page.workspace.record.clips}
    page.workspace.undo()
    assert length == page.workspace.record.clip(second).offset


def test_a_beginning_can_be_typed_and_nonsense_is_answered_in_words(page, tmp_path, qtbot) -> None:
    first, _ = two_clips(page, tmp_path, qtbot)
    row = next(n for n in range(2) if page.clips.table.item(n, 0).data(256) == first)
    page.clips.table.item(row, 2).setText("0:03.250")
    assert Fraction(13, 4) == page.workspace.record.clip(first).offset

    row = next(n for n in range(2) if page.clips.table.item(n, 0).data(256) == first)
    with qtbot.waitSignal(page.workspace.message) as told:
        page.clips.table.item(row, 2).setText("half past")

    assert "is not a time" in told.args[0]
    assert Fraction(13, 4) == page.workspace.record.clip(first).offset


def test_two_cameras_meet_at_the_moment_that_both_show(page, tmp_path, qtbot) -> None:
    first, second = two_clips(page, tmp_path, qtbot, offsets=(5, 0))
    page.show_align()
    align = page.align
    align.first.setCurrentIndex(align.first.findData(first))
    align.second.setCurrentIndex(align.second.findData(second))
    align._clips_chosen()
    align.pickers[0].slider.setValue(4)
    align.pickers[1].slider.setValue(9)

    align.take_moment()

    # frame 4 lies 0.8 s into the first clip, frame 9 1.8 s into the second
    assert Fraction(5) + Fraction(4, 5) - Fraction(9, 5) == page.workspace.record.clip(second).offset
    page.hide_align()


def test_the_sound_of_both_proposes_where_the_second_belongs_and_the_keeper_accepts(page, tmp_path, qtbot) -> None:
    times = struck(1, 30, 19)
    sounds = (taps(20, times, seed=2), taps(14, [t - 3.2 for t in times if 0 <= t - 3.2 < 13.9], seed=3, gain=0.2))
    first, second = two_clips(page, tmp_path, qtbot, sounds)
    page.show_align()
    page.align.first.setCurrentIndex(page.align.first.findData(first))
    page.align.second.setCurrentIndex(page.align.second.findData(second))
    page.align._clips_chosen()

    page.align.propose()
    qtbot.waitUntil(lambda: page.align.accept.isVisible(), timeout=20_000)

    assert page.align.waves.shift == pytest.approx(3.2, abs=0.005)
    assert "at one place only" in page.align.verdict.text()
    assert Fraction(0) == page.workspace.record.clip(second).offset  # nothing counts before it is accepted
    page.align.take_shift()
    assert float(page.workspace.record.clip(second).offset) == pytest.approx(3.2, abs=0.005)
    page.hide_align()


def test_clips_without_sound_are_told_to_be_placed_by_hand(page, tmp_path, qtbot) -> None:
    two_clips(page, tmp_path, qtbot)
    page.show_align()

    with qtbot.waitSignal(page.workspace.message, timeout=10_000) as told:
        page.align.propose()

    assert "has no sound" in told.args[0]
    page.hide_align()


def test_footage_that_moved_is_found_by_its_fingerprint_though_it_was_renamed(page, tmp_path, qtbot) -> None:
    first, _ = two_clips(page, tmp_path, qtbot)
    workspace = page.workspace
    pts = workspace.record.clip(first).first_pts
    workspace.edit(workspace.book.add_mark, Mark(0, first, "contact", Actor.BOTH, pts, None, False, "Ada"))
    attic = tmp_path / "attic" / "2026"
    attic.mkdir(parents=True)
    (tmp_path / "front.mkv").rename(attic / "old name.mkv")
    (attic / "other.mkv").write_bytes(b"\0" * (attic / "old name.mkv").stat().st_size)
    with qtbot.waitSignal(workspace.clipLost, timeout=10_000):
        workspace.show_session(workspace.record.session.id)
    page.refresh()
    assert page.clips.find_button.isEnabled()

    page.clips.search(tmp_path / "attic")

    qtbot.waitUntil(lambda: workspace.film(first) is not None, timeout=20_000)
    assert str(attic / "old name.mkv") == workspace.record.clip(first).path
    assert 1 == len(workspace.record.marks)


def test_a_clip_is_taken_off_with_its_marks_and_undo_brings_both_back(page, tmp_path, qtbot) -> None:
    first, _ = two_clips(page, tmp_path, qtbot)
    workspace = page.workspace
    pts = workspace.record.clip(first).first_pts
    workspace.edit(workspace.book.add_mark, Mark(0, first, "contact", Actor.BOTH, pts, None, False, "Ada"))
    page.clips.table.selectRow(next(n for n in range(2) if page.clips.table.item(n, 0).data(256) == first))

    page.clips.remove()

    assert (1, 0) == (len(workspace.record.clips), len(workspace.record.marks))
    workspace.undo()
    assert (2, 1) == (len(workspace.record.clips), len(workspace.record.marks))


def test_a_clip_that_is_not_there_tells_how_to_get_at_its_time(page, tmp_path, qtbot) -> None:
    two_clips(page, tmp_path, qtbot)
    (tmp_path / "side.mkv").unlink()

    with qtbot.waitSignal(page.workspace.message) as told:
        page.clips.place_by_times()

    assert "Find it again first" in told.args[0]


def test_waves_move_by_arrow_keys(qtbot) -> None:
    from clipmark.progress import SILENT
    from clipmark.report.films.listening import heard_in
    from clipmark.window.pair.waves import WavePair

    waves = WavePair()
    qtbot.addWidget(waves)
    waves.show()
    heard = heard_in(taps(5, [1, 2], seed=1), RATE, 0.0, SILENT)
    waves.show_pair(heard, heard, 0.5)
    qtbot.keyClick(waves, Qt.Key.Key_Right)
    qtbot.keyClick(waves, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)

    assert waves.shift == pytest.approx(0.509)
    assert np.isfinite(waves.shift)


def test_a_place_that_does_not_stand_out_is_accepted_only_at_the_second_press(page, tmp_path, qtbot) -> None:
    first, second = two_clips(page, tmp_path, qtbot)
    page.show_align()
    panel, record = page.align, page.workspace.record
    heard = heard_in(np.random.default_rng(1).normal(size=8000).astype(np.float32), 8000, 0.0, SILENT)
    before = [part.mapTo(panel, QPoint(0, 0)) for part in (panel.same, panel.listen)]
    found = (SoundMatch(0.25, 0.11, 0.10, 1.0), heard, heard)
    panel._proposed(panel._request, (record.clip(first), record.clip(second)), found)
    QCoreApplication.processEvents()
    assert before == [part.mapTo(panel, QPoint(0, 0)) for part in (panel.same, panel.listen)]
    panel.accept.click()
    assert record.clip(second).offset == page.workspace.record.clip(second).offset
    assert "Yes" in panel.accept.text()
    panel.accept.click()

    assert Fraction(1, 4) == page.workspace.record.clip(second).offset - record.clip(first).offset
    page.hide_align()
