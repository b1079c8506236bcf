"""How the book file came about, step by step: each step is plain SQL, and is never changed once it is out.

A new stored field is one more function at the end of STEPS. A book is brought up to date in one transaction over
all pending steps, each setting `PRAGMA user_version`: whatever fails, the old book stays as it was. docs/book.md
describes the tables.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from clipmark.book.errors import BookDamaged, BookForeign, BookNewer, MigrationFailed, NotABook, translated
from clipmark.errors import ClipmarkError

APPLICATION_ID = 0x636D6B62  # "cmkb": says that the SQLite file is a clipmark book

Step = Callable[[sqlite3.Connection], None]


def _script(db: sqlite3.Connection, text: str) -> None:
    # not executescript, which would commit the transaction that the step runs in
    for statement in text.split(";"):
        if statement.strip():
            db.execute(statement)


def first_book(db: sqlite3.Connection) -> None:
    """1: animals, sessions, film, marks, passes, calls, outcomes, reminders, acts, and the journal of steps."""
    _script(
        db,
        """
        CREATE TABLE about (name TEXT PRIMARY KEY, value) WITHOUT ROWID;
        INSERT INTO about VALUES ('writes', 0);
        CREATE TABLE animal (
            id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, sex TEXT NOT NULL, species TEXT NOT NULL,
            born TEXT NOT NULL, origin TEXT NOT NULL, owner TEXT NOT NULL, note TEXT NOT NULL, photo TEXT NOT NULL);
        CREATE TABLE life_event (
            id INTEGER PRIMARY KEY AUTOINCREMENT, animal_id INTEGER NOT NULL REFERENCES animal(id),
            kind TEXT NOT NULL, date TEXT NOT NULL, note TEXT NOT NULL);
        CREATE TABLE loan (
            id INTEGER PRIMARY KEY AUTOINCREMENT, animal_id INTEGER NOT NULL REFERENCES animal(id),
            owner TEXT NOT NULL, borrower TEXT NOT NULL, start TEXT NOT NULL, "end" TEXT NOT NULL,
            terms TEXT NOT NULL, share TEXT NOT NULL);
        CREATE TABLE session (
            id INTEGER PRIMARY KEY AUTOINCREMENT, title TEXT NOT NULL,
            female_id INTEGER REFERENCES animal(id), male_id INTEGER REFERENCES animal(id),
            date TEXT NOT NULL, place TEXT NOT NULL, temperature_c REAL, humidity_pct REAL,
            reviewer TEXT NOT NULL, note TEXT NOT NULL);
        CREATE TABLE clip (
            id INTEGER PRIMARY KEY AUTOINCREMENT, session_id INTEGER NOT NULL REFERENCES session(id),
            path TEXT NOT NULL, size INTEGER NOT NULL, fingerprint TEXT NOT NULL,
            offset_num INTEGER NOT NULL, offset_den INTEGER NOT NULL CHECK (offset_den > 0),
            time_base_num INTEGER NOT NULL, time_base_den INTEGER NOT NULL CHECK (time_base_den > 0),
            first_pts INTEGER NOT NULL, end_pts INTEGER NOT NULL, frames INTEGER NOT NULL,
            width INTEGER NOT NULL, height INTEGER NOT NULL, camera TEXT NOT NULL);
        CREATE TABLE shot (
            id INTEGER PRIMARY KEY AUTOINCREMENT, clip_id INTEGER NOT NULL REFERENCES clip(id),
            start_pts INTEGER NOT NULL, end_pts INTEGER NOT NULL, begins TEXT NOT NULL);
        CREATE TABLE outline (
            id INTEGER PRIMARY KEY AUTOINCREMENT, clip_id INTEGER NOT NULL REFERENCES clip(id),
            pts INTEGER NOT NULL, x REAL NOT NULL, y REAL NOT NULL, w REAL NOT NULL, h REAL NOT NULL,
            part TEXT NOT NULL);
        CREATE TABLE mark (
            id INTEGER PRIMARY KEY AUTOINCREMENT, clip_id INTEGER NOT NULL REFERENCES clip(id),
            act TEXT NOT NULL, actor TEXT NOT NULL, start_pts INTEGER NOT NULL, end_pts INTEGER,
            lasting INTEGER NOT NULL, reviewer TEXT NOT NULL, note TEXT NOT NULL);
        CREATE TABLE pass (
            id INTEGER PRIMARY KEY AUTOINCREMENT, clip_id INTEGER NOT NULL REFERENCES clip(id),
            parameters TEXT NOT NULL, made_at TEXT NOT NULL, frames_per_s REAL NOT NULL, current INTEGER NOT NULL);
        CREATE TABLE trace (
            pass_id INTEGER PRIMARY KEY, frames INTEGER NOT NULL, columns TEXT NOT NULL, data BLOB NOT NULL);
        CREATE TABLE span (
            id INTEGER PRIMARY KEY AUTOINCREMENT, pass_id INTEGER NOT NULL REFERENCES pass(id),
            start_pts INTEGER NOT NULL, end_pts INTEGER NOT NULL, why TEXT NOT NULL);
        CREATE TABLE flag (
            id INTEGER PRIMARY KEY AUTOINCREMENT, clip_id INTEGER NOT NULL REFERENCES clip(id),
            pass_id INTEGER REFERENCES pass(id), onset_pts INTEGER NOT NULL, full_pts INTEGER NOT NULL,
            release_pts INTEGER, score REAL, pull REAL, tilt_deg REAL, direction_deg REAL, because TEXT NOT NULL,
            doubts TEXT NOT NULL, flagged INTEGER NOT NULL, features TEXT NOT NULL, parameters TEXT NOT NULL,
            "by" TEXT NOT NULL, proposed_as INTEGER NOT NULL);
        CREATE TABLE call (
            id INTEGER PRIMARY KEY AUTOINCREMENT, flag_id INTEGER NOT NULL REFERENCES flag(id),
            reviewer TEXT NOT NULL, decision TEXT NOT NULL, signs TEXT NOT NULL, palp TEXT NOT NULL,
            cause TEXT NOT NULL, note TEXT NOT NULL, made_at TEXT NOT NULL, carried_from INTEGER NOT NULL);
        CREATE TABLE outcome (
            id INTEGER PRIMARY KEY AUTOINCREMENT, session_id INTEGER NOT NULL REFERENCES session(id),
            kind TEXT NOT NULL, date TEXT NOT NULL, counts TEXT NOT NULL, note TEXT NOT NULL);
        CREATE TABLE reminder (
            id INTEGER PRIMARY KEY AUTOINCREMENT, session_id INTEGER NOT NULL REFERENCES session(id),
            date TEXT NOT NULL, text TEXT NOT NULL, done INTEGER NOT NULL, uid TEXT NOT NULL);
        CREATE TABLE act_set (
            id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, acts TEXT NOT NULL, in_use INTEGER NOT NULL);
        CREATE TABLE step (
            id INTEGER PRIMARY KEY AUTOINCREMENT, label TEXT NOT NULL, made_at TEXT NOT NULL,
            undone INTEGER NOT NULL DEFAULT 0);
        CREATE TABLE change (
            id INTEGER PRIMARY KEY AUTOINCREMENT, step_id INTEGER NOT NULL REFERENCES step(id) ON DELETE CASCADE,
            tbl TEXT NOT NULL, row_id INTEGER NOT NULL, before TEXT, after TEXT);
        CREATE INDEX life_event_of ON life_event(animal_id);
        CREATE INDEX loan_of ON loan(animal_id);
        CREATE INDEX session_of_female ON session(female_id);
        CREATE INDEX session_of_male ON session(male_id);
        CREATE INDEX clip_of ON clip(session_id);
        CREATE INDEX shot_of ON shot(clip_id);
        CREATE INDEX outline_of ON outline(clip_id);
        CREATE INDEX mark_of ON mark(clip_id);
        CREATE INDEX pass_of ON pass(clip_id);
        CREATE INDEX span_of ON span(pass_id);
        CREATE INDEX flag_of ON flag(clip_id);
        CREATE INDEX flag_of_pass ON flag(pass_id);
        CREATE INDEX call_of ON call(flag_id);
        CREATE INDEX outcome_of ON outcome(session_id);
        CREATE INDEX reminder_of ON reminder(session_id);
        CREATE INDEX change_of ON change(step_id);
        CREATE INDEX change_of_row ON change(tbl, row_id)
        """,
    )


def add_reviewed(db: sqlite3.Connection) -> None:
    """2: a reviewer may say which stretches of film were watched in full."""
    _script(
        db,
        """
        CREATE TABLE reviewed (
            id INTEGER PRIMARY KEY AUTOINCREMENT, clip_id INTEGER NOT NULL REFERENCES clip(id),
            reviewer TEXT NOT NULL, start_pts INTEGER NOT NULL, end_pts INTEGER NOT NULL, note TEXT NOT NULL);
        CREATE INDEX reviewed_of ON reviewed(clip_id)
        """,
    )


def add_after_the_sac(db: sqlite3.Connection) -> None:
    """3: a sac has a number and conditions, a loan can be given back, a keeper may note what a species is like."""
    _script(
        db,
        """
        ALTER TABLE outcome ADD COLUMN sac INTEGER NOT NULL DEFAULT 1;
        ALTER TABLE outcome ADD COLUMN temperature_c REAL;
        ALTER TABLE outcome ADD COLUMN humidity_pct REAL;
        ALTER TABLE outcome ADD COLUMN kept TEXT NOT NULL DEFAULT '';
        ALTER TABLE loan ADD COLUMN returned TEXT NOT NULL DEFAULT '';
        CREATE TABLE species_note (
            id INTEGER PRIMARY KEY AUTOINCREMENT, species TEXT NOT NULL, what TEXT NOT NULL, low REAL, high REAL,
            unit TEXT NOT NULL, note TEXT NOT NULL)
        """,
    )


def add_from_proposal(db: sqlite3.Connection) -> None:
    """4: a mark tells whether the program had proposed it."""
    _script(db, "ALTER TABLE mark ADD COLUMN from_proposal INTEGER NOT NULL DEFAULT 0")


def sign_steps(db: sqlite3.Connection) -> None:
    """5: a step of undo says who made it, a book has a name of its own (leftovers.py), open acts have an index."""
    _script(
        db,
        """
        ALTER TABLE step ADD COLUMN "by" TEXT NOT NULL DEFAULT '';
        ALTER TABLE step ADD COLUMN writer TEXT NOT NULL DEFAULT '';
        INSERT INTO about VALUES ('name', 'clipmark-book-' || lower(hex(randomblob(16))));
        CREATE INDEX step_undone ON step(undone, id);
        CREATE INDEX mark_open ON mark(clip_id) WHERE lasting AND end_pts IS NULL
        """,
    )


def add_time_of_day(db: sqlite3.Connection) -> None:
    """6: a session tells at what time of day it began."""
    _script(db, "ALTER TABLE session ADD COLUMN time_of_day TEXT NOT NULL DEFAULT ''")


def add_what_a_pass_found(db: sqlite3.Connection) -> None:
    """7: what a pass took her abdomen for and how small a pull it would have found; an outline may be one press."""
    _script(
        db,
        """
        CREATE TABLE region (
            id INTEGER PRIMARY KEY AUTOINCREMENT, pass_id INTEGER NOT NULL REFERENCES pass(id),
            pts INTEGER NOT NULL, source TEXT NOT NULL, fitted INTEGER NOT NULL, x REAL NOT NULL, y REAL NOT NULL,
            w REAL NOT NULL, h REAL NOT NULL, length REAL NOT NULL, angle_deg REAL, confidence REAL NOT NULL);
        CREATE INDEX region_of ON region(pass_id);
        ALTER TABLE shot ADD COLUMN planted INTEGER NOT NULL DEFAULT 0;
        ALTER TABLE shot ADD COLUMN smallest_pull REAL;
        ALTER TABLE outline ADD COLUMN press_x REAL;
        ALTER TABLE outline ADD COLUMN press_y REAL
        """,
    )


def add_cause(db: sqlite3.Connection) -> None:
    """8: why a stretch was not watched, as a code beside the words; of former passes by the words that they used."""
    _script(
        db,
        """
        ALTER TABLE span ADD COLUMN cause TEXT NOT NULL DEFAULT '';
        UPDATE span SET cause = CASE why
            WHEN 'the abdomen was covered or could not be told from what is round it' THEN 'covered'
            WHEN 'the abdomen was out of the picture' THEN 'outside'
            WHEN 'no outline was drawn in this shot' THEN 'not outlined'
            WHEN 'not searched' THEN 'not searched'
            WHEN 'two views are blended here' THEN 'blended'
            WHEN 'too faint to tell: a pull of 15 % of her length would be missed here' THEN 'faint'
            ELSE '' END
        """,
    )


STEPS: tuple[Step, ...] = (
    first_book, add_reviewed, add_after_the_sac, add_from_proposal, sign_steps, add_time_of_day,
    add_what_a_pass_found, add_cause,
)  # fmt: skip


def version_of(db: sqlite3.Connection, path: Path) -> int:
    """The book version of an open file; 0 for an empty file, which may become a book.

    Raises:
        NotABook: the file is an SQLite file of something else.
        BookNewer: a later clipmark wrote it.
        BookForeign: it holds triggers, views or virtual tables.
    """
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    application = int(db.execute("PRAGMA application_id").fetchone()[0])
    empty = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if empty and application in (0, APPLICATION_ID):
        return 0
    if application != APPLICATION_ID:
        raise NotABook(path, "it is an SQLite file of something else")
    if version > len(STEPS):
        raise BookNewer(path, version, len(STEPS))
    _no_instructions(db, path)
    return version


def _no_instructions(db: sqlite3.Connection, path: Path) -> None:
    """Refuse a file whose schema does something by itself: our books have tables and indexes only."""
    for kind, name, text in db.execute("SELECT type, name, sql FROM sqlite_master").fetchall():
        virtual = str(text or "").lstrip().upper().startswith("CREATE VIRTUAL")
        if kind not in ("table", "index") or virtual:
            raise BookForeign(path, "virtual table" if virtual else str(kind), str(name))


def check_shape(db: sqlite3.Connection, path: Path) -> None:
    """Whether a book of today's version has the tables and columns that it should.

    Raises:
        BookDamaged: it has not.
    """
    from clipmark.book.forms.rows import KINDS, columns

    wanted = {kind.table: {"id", *columns(kind.type)} for kind in KINDS}
    wanted |= {
        "about": {"name", "value"},
        "trace": {"pass_id", "frames", "columns", "data"},
        "act_set": {"id", "name", "acts", "in_use"},
        "step": {"id", "label", "made_at", "undone", "by", "writer"},
        "change": {"id", "step_id", "tbl", "row_id", "before", "after"},
    }
    for table, names in wanted.items():
        lacks = names - {str(row[1]) for row in db.execute(f'PRAGMA table_info("{table}")').fetchall()}
        if lacks:
            raise BookDamaged(path, f"its list of {table} lacks {', '.join(sorted(lacks))}")
    if db.execute("SELECT 1 FROM about WHERE name = 'writes'").fetchone() is None:
        raise BookDamaged(path, "its counter of changes is gone")


def migrate(
    db: sqlite3.Connection, path: Path, backup: Path | None = None, steps: tuple[Step, ...] | None = None
) -> None:
    """Bring an open book to the newest version, all pending steps or none.

    Args:
        backup: where the copy lies that was made before, for the sentence of a failure.
        steps: other steps than STEPS, for tests of the machinery.
    Raises:
        MigrationFailed: a step failed; the book is as it was.
    """
    steps = STEPS if steps is None else steps
    number = 0
    # Steps may rebuild tables that others refer to; references are checked as a whole before the commit.
    db.execute("PRAGMA foreign_keys = OFF")
    try:
        db.execute("BEGIN EXCLUSIVE")
        version = int(db.execute("PRAGMA user_version").fetchone()[0])  # another window may have been first
        for number, step in enumerate(steps[version:], start=version + 1):
            step(db)
            db.execute(f"PRAGMA user_version = {number}")
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        if db.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise sqlite3.IntegrityError("something would refer to what is not there")
        db.execute("COMMIT")
    except Exception as error:
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        plain = translated(error, path) if isinstance(error, sqlite3.Error) else error
        if isinstance(plain, ClipmarkError):
            raise plain from error
        raise MigrationFailed(path, number, str(error), backup) from error
    finally:
        db.execute("PRAGMA foreign_keys = ON")
