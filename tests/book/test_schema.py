"""How an old book is brought up to date."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from clipmark.book.errors import BookNewer, MigrationFailed
from clipmark.book.file import schema
from clipmark.book.file.backup import backups
from clipmark.book.file.schema import STEPS, migrate
from clipmark.book.model import Loan, Outcome, Reviewed, SpeciesNote
from clipmark.book.store import Book
from tests.book.made_book import full_book, mark_of

OLD = Path(__file__).with_name("version_1.sql")  # a book as the first clipmark wrote it, as SQL


def old_book(path: Path) -> Path:
    db = sqlite3.connect(path)
    db.executescript(OLD.read_text(encoding="utf-8"))
    db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    db.execute("PRAGMA user_version = 1")
    db.commit()
    db.close()
    return path


def with_steps(monkeypatch: pytest.MonkeyPatch, *further: Callable[[sqlite3.Connection], None]) -> None:
    """A later clipmark, with further steps."""
    later = (*STEPS, *further)
    monkeypatch.setattr("clipmark.book.file.schema.STEPS", later)
    monkeypatch.setattr("clipmark.book.store.STEPS", later)


def add_mood(db: sqlite3.Connection) -> None:
    db.execute("ALTER TABLE animal ADD COLUMN mood TEXT NOT NULL DEFAULT ''")


def fail_half_way(db: sqlite3.Connection) -> None:
    db.execute("DELETE FROM call")
    db.execute("ALTER TABLE no_such_table ADD COLUMN x")


def shape(path: Path) -> list[tuple[str, str]]:
    """Every table and index as SQL, without regard to white space."""
    db = sqlite3.connect(path)
    found = db.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name").fetchall()
    db.close()
    return [(name, " ".join(sql.split())) for name, sql in found]


def test_the_first_clipmarks_book_is_brought_up_to_date_with_all_it_holds(tmp_path: Path) -> None:
    path = old_book(tmp_path / "old.book")
    with Book.open(path) as book:
        record = book.session(1)
        assert ["introduced", "drumming", "clasp"] == [mark.act for mark in record.marks]
        assert (3, 4) == (len(record.flags), len(record.calls))
        assert "Umbra" == record.female.name  # type: ignore[union-attr]
        assert 100 == len(book.trace_of(2).pull)
        book.add_reviewed(Reviewed(0, 1, "Ada", 7, 407))  # came with version 2

    Book.open(tmp_path / "new.book").close()
    assert shape(tmp_path / "new.book") == shape(path)


def test_undo_reaches_back_before_the_migration(tmp_path: Path) -> None:
    with Book.open(old_book(tmp_path / "old.book")) as book:
        labels = []
        while (label := book.undo()) is not None:
            labels.append(label)
        assert "add the animal Umbra" == labels[-1]
        assert () == book.sessions() == book.animals()


def test_a_backup_of_the_old_version_is_made_before(tmp_path: Path) -> None:
    path = old_book(tmp_path / "old.book")
    Book.open(path).close()
    (kept,) = backups(path)

    assert "migration" == kept.reason
    with sqlite3.connect(kept.path) as db:
        assert (1, 3) == (
            db.execute("PRAGMA user_version").fetchone()[0], db.execute("SELECT count(*) FROM mark").fetchone()[0],
        )  # fmt: skip
    db.close()


def test_a_step_that_fails_half_way_leaves_the_old_book_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    before = path.read_bytes()
    with_steps(monkeypatch, add_mood, fail_half_way)
    with pytest.raises(MigrationFailed, match=f"to book version {len(STEPS) + 2} .*A backup lies at") as raised:
        Book.open(path)

    assert before == path.read_bytes()
    assert raised.value.backup is not None
    assert raised.value.backup.is_file()
    monkeypatch.undo()
    with Book.open(path) as book:
        assert 3 == len(book.session(1).marks)


def test_a_step_that_would_break_a_reference_is_taken_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    before = path.read_bytes()
    with_steps(monkeypatch, lambda db: db.execute("DELETE FROM clip"))
    with pytest.raises(MigrationFailed, match="refer to what is not there"):
        Book.open(path)

    assert before == path.read_bytes()


def test_without_room_for_the_backup_nothing_is_migrated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    path.with_name("b.book.backups").write_text("a file where the folder should be")
    with_steps(monkeypatch, add_mood)
    with pytest.raises(Exception, match=r"b\.book\.backups"):
        Book.open(path)
    monkeypatch.undo()

    Book.open(path).close()


def test_two_windows_that_start_at_once_migrate_once(tmp_path: Path) -> None:
    path = old_book(tmp_path / "old.book")
    one, other = (sqlite3.connect(path, isolation_level=None) for _ in range(2))
    migrate(one, path)
    migrate(other, path)  # decided before the first was done

    assert len(STEPS) == other.execute("PRAGMA user_version").fetchone()[0]
    one.close()
    other.close()


def test_an_old_book_can_be_read_where_it_cannot_be_changed(tmp_path: Path) -> None:
    path = old_book(tmp_path / "old.book")
    before = path.read_bytes()
    with Book.open(path, read_only=True) as book:
        assert 3 == len(book.session(1).marks)

    assert before == path.read_bytes()
    assert [path] == list(tmp_path.iterdir())


def test_a_migrated_book_is_refused_by_the_older_clipmark(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    with_steps(monkeypatch, add_mood)
    Book.open(path).close()
    monkeypatch.undo()
    with pytest.raises(BookNewer):
        Book.open(path)


def test_what_was_undone_before_a_new_column_came_can_be_redone_after(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "b.book"
    with full_book(path) as book:
        book.add_mark(mark_of(1, "searching"))
        book.undo()
    with_steps(monkeypatch, lambda db: db.execute("ALTER TABLE mark ADD COLUMN sure TEXT NOT NULL DEFAULT 'it''s'"))
    with Book.open(path) as book:
        assert "mark searching at 0:00.040" == book.redo()
        assert "it's" == book._db.execute("SELECT sure FROM mark WHERE act = 'searching'").fetchone()[0]


def test_what_came_with_version_3_can_be_kept_in_a_book_that_was_older(tmp_path: Path) -> None:
    with Book.open(old_book(tmp_path / "old.book")) as book:
        [old] = book.session(1).outcomes or (None,)
        female = book.session(1).session.female_id
        assert female is not None
        kept = book.add_outcome(Outcome(0, 1, "pulled", "2026-06-01", sac=2, temperature_c=26.0, kept="by hand"))
        loan = book.add_loan(Loan(0, female, "Bo", "Ada", "2026-01-01", returned="2026-02-01"))
        note = book.add_species_note(SpeciesNote(0, "Grammostola", "pairing_to_sac", 60, 90, "days"))
        if old is not None:
            assert (1, None, "") == (old.sac, old.temperature_c, old.kept)
        assert kept in book.session(1).outcomes
        assert (loan,) == book.loans(female)
        assert (note,) == book.species_notes()
        book.undo()
        assert () == book.species_notes()


def test_why_a_former_pass_did_not_watch_becomes_a_code_beside_the_words(tmp_path: Path) -> None:
    path = tmp_path / "seven.book"
    db = sqlite3.connect(path)
    for step in STEPS[:7]:
        step(db)
    words = ("two views are blended here", "", "she is behind bark")
    db.executemany("INSERT INTO span (pass_id, start_pts, end_pts, why) VALUES (1, 0, 9, ?)", [(w,) for w in words])
    schema.add_cause(db)

    found = db.execute("SELECT why, cause FROM span ORDER BY id").fetchall()
    db.close()
    assert [(words[0], "blended"), ("", ""), (words[2], "")] == found
