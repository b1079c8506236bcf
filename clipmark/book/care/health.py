"""What is wrong with a book, looked for from the file up to its meaning. Looking changes nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from clipmark.book.care.relink import film_trouble
from clipmark.book.file.backup import check_backup, latest
from clipmark.book.file.schema import STEPS
from clipmark.book.forms import rows
from clipmark.book.meaning.checks import from_plain
from clipmark.book.steps.core import WAIT_S
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError
from clipmark.json_values import to_plain
from clipmark.progress import SILENT, Progress

_TURN, _TOLD = 200_000, 500  # instructions of SQLite, and things, between two words to the progress


@dataclass(frozen=True, slots=True)
class Health:
    """Troubles of the book itself, then of what lies round it; each a sentence. Counts by kind of thing."""

    version: int
    counts: dict[str, int]
    troubles: tuple[str, ...]
    film: tuple[str, ...]
    backups: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether the book itself is in order; missing film is no damage."""
        return not self.troubles


def examine(path: Path, film: bool = True, wait_s: float = WAIT_S, progress: Progress = SILENT) -> Health:
    """Check a book: SQLite's own check, references, every value, every trace, then film and the newest backup.

    Args:
        progress: counts turns of SQLite's own check, of which nobody knows how many there are, then things.
    Raises:
        NoBook, NotABook, BookNewer, BookDamaged, BookLocked: where it does not even open. Cancelled through
            `progress`.
    """
    with Book.open(path, read_only=True, wait_s=wait_s) as book, book.reading() as db:
        with _told(db, progress):
            troubles = [str(row[0]) for row in db.execute("PRAGMA integrity_check(20)").fetchall()]
            troubles = [] if troubles == ["ok"] else [f"SQLite finds: {' '.join(one.split())}" for one in troubles]
            for table, row_id, parent, _ in db.execute("PRAGMA foreign_key_check").fetchmany(20):
                troubles.append(f"The {table} {row_id} refers to a {parent} that is not there.")
            total = sum(db.execute(f'SELECT count(*) FROM "{kind.table}"').fetchone()[0] for kind in rows.KINDS)
        counts: dict[str, int] = {}
        for kind in rows.KINDS:
            counts[kind.table], wrong = _values(book, kind, progress, sum(counts.values()), total)
            troubles += wrong
        troubles += _traces(book, progress, total)
        if film:
            clips = book.rows_of(rows.CLIP)
            said = [(clip, film_trouble(clip)) for clip in clips]
        else:
            said = []
    words = {"missing": "is not there", "changed": "is another film than the book knows"}
    film_said = tuple(f"“{clip.path}” (clip {clip.id}) {words[trouble]}." for clip, trouble in said if trouble)
    return Health(len(STEPS), counts, tuple(troubles), film_said, _backups(path))


@contextmanager
def _told(db: sqlite3.Connection, progress: Progress) -> Iterator[None]:
    """Let long questions of SQLite tell that they go on, and be stopped: it calls back every so many instructions."""
    turns, stopped = 0, list[BaseException]()

    def turn() -> int:
        nonlocal turns
        turns += 1
        try:
            progress.advance(turns, 0)
        except BaseException as error:  # also Ctrl+C; SQLite lets nothing through but its own error
            stopped.append(error)
        return len(stopped)

    db.set_progress_handler(turn, _TURN)
    try:
        yield
    except sqlite3.OperationalError:
        if stopped:
            raise stopped[0] from None
        raise
    finally:
        db.set_progress_handler(None, 0)


def _values(
    book: Book, kind: rows.Kind[object], progress: Progress, before: int, total: int
) -> tuple[int, list[str]]:
    number, wrong = 0, []
    for row in book.connection.execute(f'SELECT * FROM "{kind.table}"'):
        number += 1
        if number % _TOLD == 0:
            progress.advance(before + number, total)
        try:
            from_plain(kind.type, to_plain(rows.decode(kind.type, row)), kind.word)
        except (ValueError, TypeError, LookupError, ArithmeticError, RecursionError, ClipmarkError) as error:
            wrong.append(f"The {kind.word} {row['id']} holds what clipmark does not write: {error}")
    return number, wrong[:20]


def _traces(book: Book, progress: Progress, total: int) -> list[str]:
    wrong = []
    for (pass_id,) in book.connection.execute("SELECT id FROM pass ORDER BY id").fetchall():
        progress.advance(total, total)
        try:
            book.trace_of(pass_id)
        except (ClipmarkError, sqlite3.Error) as error:
            wrong.append(f"The trace of motion pass {pass_id}: {error}")
    return wrong[:20]


def _backups(path: Path) -> tuple[str, ...]:
    known = latest(path)
    if known is None:
        return ("There is no backup yet. “clipmark book backup” makes one.",)
    trouble = check_backup(known.path)
    return (f"The newest backup is not sound: {trouble}",) if trouble else ()
