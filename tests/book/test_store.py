"""Opening a book and finding in it what was put there."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from clipmark import settings
from clipmark.book.errors import (
    BookDamaged,
    BookNewer,
    BookReadOnly,
    NoBook,
    NoSuchSession,
    NoSuchThing,
    NotABook,
    SessionUnclear,
)
from clipmark.book.file.schema import APPLICATION_ID, STEPS
from clipmark.book.model import Animal, ClipRecord, Decision, Outcome, Session, Sex
from clipmark.book.store import Book
from tests.book.made_book import add_pass, call_of, full_book, mark_of, new_session, result_of, trace_of


def test_a_new_book_is_made_where_there_is_none(tmp_path: Path) -> None:
    with Book.open(tmp_path / "a folder" / "my.book") as book:
        assert () == book.sessions()

    assert b"SQLite format 3\0" == (tmp_path / "a folder" / "my.book").read_bytes()[:16]


def test_without_a_name_the_keepers_own_book_is_opened() -> None:
    with Book.open() as book:
        assert settings.default_book() == book.path
    assert settings.default_book().is_file()


def test_what_was_put_in_is_there_after_closing(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        before = book.session(1)

    with Book.open(tmp_path / "b.book") as book:
        assert before == book.session(1)


def test_a_book_at_rest_is_one_file(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()

    assert ["b.book"] == [path.name for path in tmp_path.iterdir()]


def test_a_marks_way_to_the_disk_is_the_one_that_is_promised(tmp_path: Path) -> None:
    ask = (
        "import sys; from clipmark.book.store import Book; book = Book.open(sys.argv[1])\n"
        "for name in ('journal_mode', 'synchronous', 'foreign_keys'):\n"
        "    print(book._db.execute('PRAGMA ' + name).fetchone()[0])"
    )  # in a process of its own: the tests' own books do not wait for the disk
    said = subprocess.run([sys.executable, "-c", ask, str(tmp_path / "b.book")], capture_output=True, text=True)

    assert ["delete", "3", "1"] == said.stdout.split()  # 3 is EXTRA


def test_the_file_says_that_it_is_a_clipmark_book(tmp_path: Path) -> None:
    Book.open(tmp_path / "b.book").close()

    assert APPLICATION_ID == int.from_bytes(
        (tmp_path / "b.book").read_bytes()[68:72], "big"
    )  # SQLite file format 1.3


@pytest.mark.parametrize(
    "offset", [Fraction(1, 3), Fraction(-1001, 30000), Fraction(0), Fraction(7 * 10**15, 90001)], ids=str
)
def test_a_clips_place_on_the_session_clock_comes_back_exactly(tmp_path: Path, offset: Fraction) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        book.move_clip(clip.id, offset)

        assert offset == book.session(1).clips[0].offset


def test_a_film_name_that_is_no_text_comes_back_as_it_was(tmp_path: Path) -> None:
    name = b"/films/visit-\xff\xfe.mp4".decode("utf-8", "surrogateescape")
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        book.relink_clip(clip.id, name)

        assert name == book.session(1).clips[0].path


def test_half_a_character_is_replaced_and_can_be_taken_back(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        book.add_session(Session(0, "a\ud800b", None, None))

        assert "a\ufffdb" == book.session(1).session.title
        assert book.undo() is not None
        assert () == book.sessions()


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script>", "=1+1", "🕷", "שלום", "a\nb\0c", "x" * 10_000], ids=ascii
)
def test_a_keepers_text_comes_back_as_it_was(tmp_path: Path, text: str) -> None:
    with Book.open(tmp_path / "b.book") as book:
        book.add_session(Session(0, "Visit", None, None, note=text))

        assert text == book.session(1).session.note


def test_the_trace_of_a_pass_comes_back(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        number = add_pass(book, clip, 10)

        assert np.array_equal(trace_of().pull, book.trace_of(number).pull)
        assert np.array_equal(trace_of().camera_scale, book.trace_of(number).camera_scale)


def test_frames_that_were_not_followed_stay_unknown_in_the_trace(tmp_path: Path) -> None:
    result = result_of()
    result.trace.x[5] = np.nan
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        made = book.add_pass(clip.id, result)

        assert [5] == np.flatnonzero(np.isnan(book.trace_of(made.id).x)).tolist()


def test_the_list_counts_what_a_session_holds(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        (row,) = book.sessions()

        assert ("Umbra", "Tarn", "Grammostola pulchra", "pulled") == (row.female, row.male, row.species, row.outcome)
        assert (2, 3, 1) == (row.clips, row.marks, row.due)
        # in view: one proposed, one called earlier and not proposed any more, one seen by eye and not called
        assert (3, 2, 2) == (row.flags, row.called, row.confirmed)


def test_the_latest_call_counts_in_the_list(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        add_pass(book, clip, 10)
        flag = book.session(1).flags[0]
        book.add_call(call_of(flag.id, Decision.CONFIRMED))
        book.add_call(call_of(flag.id, Decision.ATTEMPT))

        assert (1, 0) == (book.sessions()[0].called, book.sessions()[0].confirmed)


def test_sessions_are_found_by_words_in_any_order(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        book.add_session(Session(0, "Second visit", None, None, "2026-04-01"))

        assert ["Second visit", "First <visit>"] == [row.title for row in book.sessions("visit")]
        assert ["First <visit>"] == [row.title for row in book.sessions("2026-03 PULCHRA tarn")]
        assert () == book.sessions("visit nobody")


def test_a_session_is_meant_by_number_title_or_part_of_one(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        for title in ("Autumn", "Autumn again", "7"):
            book.add_session(Session(0, title, None, None))

        assert 2 == book.find_session("2")
        assert 1 == book.find_session("autumn")
        assert 2 == book.find_session("again")
        assert 3 == book.find_session("7")
        with pytest.raises(SessionUnclear, match="Autumn again"):
            book.find_session("utum")
        with pytest.raises(NoSuchSession, match="“spring”"):
            book.find_session("spring")


def test_asking_for_what_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        with pytest.raises(NoSuchSession, match="no session 9"):
            book.session(9)
        with pytest.raises(NoSuchThing, match="no animal 9"):
            book.animal(9)
        with pytest.raises(NoSuchThing, match="no clip 9"):
            book.add_mark(mark_of(9))


def test_animals_are_sorted_by_name_and_filtered(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        book.add_animal(Animal(0, "umbra", Sex.FEMALE, "Grammostola pulchra"))
        book.add_animal(Animal(0, "Ash", Sex.FEMALE, "Avicularia avicularia"))
        book.add_animal(Animal(0, "Tarn", Sex.MALE, "Grammostola pulchra"))

        assert ["Ash", "Tarn", "umbra"] == [animal.name for animal in book.animals()]
        assert ["Ash", "umbra"] == [animal.name for animal in book.animals(Sex.FEMALE)]
        assert ["Tarn", "umbra"] == [animal.name for animal in book.animals(text="grammostola")]


def test_two_windows_see_each_others_marks(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as one, Book.open(tmp_path / "b.book") as other:
        _, clip = new_session(one)
        before = other.changed()
        one.add_mark(mark_of(clip.id))
        other.add_mark(mark_of(clip.id, "searching"))

        assert before < other.changed() == one.changed()
        assert one.session(1) == other.session(1)
        assert 2 == len(one.session(1).marks)


def test_nothing_moves_the_counter_but_a_change(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        before = book.changed()
        book.session(1)
        book.sessions("visit")

        assert before == book.changed()


def test_a_book_opened_for_reading_takes_no_mark(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    before = (tmp_path / "b.book").read_bytes()
    with Book.open(tmp_path / "b.book", read_only=True) as book, pytest.raises(BookReadOnly):
        book.add_mark(mark_of(1))

    assert before == (tmp_path / "b.book").read_bytes()


def test_reading_makes_no_book(tmp_path: Path) -> None:
    with pytest.raises(NoBook, match="no book at"):
        Book.open(tmp_path / "none.book", read_only=True)

    assert [] == list(tmp_path.iterdir())


def _foreign(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE shopping (what)")
    db.close()


@pytest.mark.parametrize(
    "make",
    [
        lambda path: path.write_text("This is a shopping list, and a rather long one at that. " * 50),
        lambda path: path.write_bytes(b"\0" * 5000),
        lambda path: path.mkdir(),
        _foreign,
    ],
    ids=["text", "zeros", "folder", "other SQLite file"],
)
def test_what_is_no_book_is_refused_and_left_alone(tmp_path: Path, make) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "list.book"
    make(path)
    before = path.read_bytes() if path.is_file() else None
    for read_only in (False, True):
        with pytest.raises(NotABook, match="is not a clipmark book"):
            Book.open(path, read_only=read_only)

    assert before == (path.read_bytes() if path.is_file() else None)
    assert ["list.book"] == [one.name for one in tmp_path.iterdir()]


def test_an_empty_file_becomes_a_book(tmp_path: Path) -> None:
    (tmp_path / "b.book").touch()  # as a killed first start may leave it
    with Book.open(tmp_path / "b.book") as book:
        new_session(book)

        assert 1 == len(book.sessions())


def test_the_book_of_a_newer_clipmark_is_refused_and_left_alone(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    with sqlite3.connect(tmp_path / "b.book") as db:
        db.execute(f"PRAGMA user_version = {len(STEPS) + 1}")
    db.close()
    before = (tmp_path / "b.book").read_bytes()
    for read_only in (False, True):
        with pytest.raises(BookNewer, match=f"version {len(STEPS) + 1}, this one knows up to {len(STEPS)}"):
            Book.open(tmp_path / "b.book", read_only=read_only)

    assert before == (tmp_path / "b.book").read_bytes()


def test_a_word_that_clipmark_never_writes_is_damage_not_a_crash(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    with sqlite3.connect(tmp_path / "b.book") as db:
        db.execute("UPDATE mark SET actor = 'somebody'")
    db.close()
    with Book.open(tmp_path / "b.book") as book, pytest.raises(BookDamaged, match="somebody"):
        book.session(1)


def test_a_clip_keeps_the_facts_of_its_film(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        session, _ = new_session(book)
        facts = ClipRecord(
            0, session.id, "C:\\films\\a b.mov", 2**40, "ff00", Fraction(5, 7), Fraction(1001, 30000), -(2**40),
            2**62, 9, 4096, 2160, "left",
        )  # fmt: skip
        kept = book.add_clip(facts)

        assert kept == book.session(session.id).clip(kept.id)


def test_many_sessions_read_together_are_what_each_is_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("clipmark.book.steps.queries._TOGETHER", 2)
    with full_book(tmp_path / "a.book") as book:
        numbers = [row.id for row in book.sessions()] + [new_session(book)[0].id for _ in range(4)]
        alone = [book.session(number) for number in numbers]

    with Book.open(tmp_path / "a.book") as book:
        assert alone == list(book.records(numbers))
        assert [] == list(book.records([]))
        with pytest.raises(NoSuchSession):
            list(book.records([numbers[0], 4_000]))


def test_a_whole_book_is_read_in_a_few_questions(tmp_path: Path) -> None:
    with full_book(tmp_path / "a.book") as book:
        numbers = [new_session(book)[0].id for _ in range(40)]
        asked: list[str] = []
        book._db.set_trace_callback(asked.append)
        assert 40 == len(list(book.records(numbers)))

    assert len(asked) < 40


def test_sacs_of_a_kind_come_with_their_outcomes_and_nothing_of_their_film(tmp_path):
    with Book.open(tmp_path / "b.book") as book:
        mine = book.add_animal(Animal(0, "Mora", Sex.FEMALE, "Grammostola  Rosea"))
        other = book.add_animal(Animal(0, "Nim", Sex.FEMALE, "Brachypelma hamorii"))
        for her in (mine, mine, other):
            session = book.add_session(Session(0, "", her.id, None, "2026-03-01"))
        first = book.sessions_of(mine.id)[0]
        book.add_outcome(Outcome(0, first.id, "laid", "2026-05-01"))
        book.add_outcome(Outcome(0, session.id, "laid", "2026-05-02"))

        [found] = book.sacs_of_kind("grammostola rosea")
        assert (first.id, "Mora", ["2026-05-01"]) == (
            found.session.id, found.female.name, [o.date for o in found.outcomes],
        )  # fmt: skip
        assert () == found.clips + found.marks + found.flags
        assert () == book.sacs_of_kind("") == book.sacs_of_kind("Psalmopoeus cambridgei")
