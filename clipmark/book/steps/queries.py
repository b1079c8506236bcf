"""What can be asked of the book. Each answer is a frozen value of one moment."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from clipmark.book import model
from clipmark.book.errors import BookDamaged, NoSuchSession, NoSuchThing, SessionUnclear, sentences
from clipmark.book.forms import rows
from clipmark.book.meaning import acts as built
from clipmark.book.meaning.calls import COUNTING_DECISION, READERS
from clipmark.book.meaning.checks import from_plain
from clipmark.book.model import (
    Act,
    Animal,
    FlagRecord,
    LifeEvent,
    Loan,
    Mark,
    PassRecord,
    Session,
    SessionRecord,
    SessionRow,
    Sex,
)
from clipmark.book.steps.core import Core
from clipmark.book.steps.kept_records import patched
from clipmark.json_values import NotAsExpected

if TYPE_CHECKING:
    from clipmark.motion.result import Trace

_LIST = f"""
    WITH readers AS ({READERS}),
    counted AS (
        SELECT clip.session_id AS session_id, flag.flagged AS flagged, {COUNTING_DECISION} AS decision
        FROM flag JOIN clip ON clip.id = flag.clip_id JOIN readers ON readers.session_id = clip.session_id
        LEFT JOIN pass ON pass.id = flag.pass_id
        WHERE CASE WHEN flag.pass_id IS NULL THEN flag.proposed_as = 0 ELSE pass.current END),
    flags AS (
        SELECT session_id, sum(flagged OR decision IS NOT NULL) AS flags, count(decision) AS called,
               sum(decision = 'confirmed') AS confirmed
        FROM counted GROUP BY session_id),
    marks AS (
        SELECT clip.session_id AS session_id, count(*) AS marks FROM mark JOIN clip ON clip.id = mark.clip_id
        GROUP BY clip.session_id)
    SELECT session.id, title, session.date, coalesce(her.name, ''), coalesce(him.name, ''),
           coalesce(nullif(her.species, ''), him.species, ''),
           (SELECT count(*) FROM clip WHERE clip.session_id = session.id), coalesce(marks.marks, 0),
           coalesce(flags.flags, 0), coalesce(flags.called, 0), coalesce(flags.confirmed, 0),
           coalesce((SELECT kind FROM outcome WHERE outcome.session_id = session.id
                     ORDER BY outcome.date DESC, outcome.id DESC LIMIT 1), ''),
           (SELECT count(*) FROM reminder WHERE reminder.session_id = session.id AND NOT done)
    FROM session
    LEFT JOIN animal AS her ON her.id = session.female_id LEFT JOIN animal AS him ON him.id = session.male_id
    LEFT JOIN marks ON marks.session_id = session.id LEFT JOIN flags ON flags.session_id = session.id
    ORDER BY session.date DESC, session.id DESC
"""

_TOGETHER = 250  # sessions that are read in one go, some 50 MB at a thousand marks each
_CLIP = "clip_id IN (SELECT id FROM clip WHERE session_id {})"
# what belongs to a session: which rows ({} is "= ?" or "IN (...)"), and their order; parents before children
_PARTS: dict[rows.Kind[Any], tuple[str, str]] = {
    rows.CLIP: ("session_id {}", "id"),
    rows.SHOT: (_CLIP, "clip_id, start_pts, id"),
    rows.OUTLINE: (_CLIP, "clip_id, pts, id"),
    rows.MARK: (_CLIP, "id"),
    rows.PASS: (_CLIP, "id"),
    rows.FLAG: (_CLIP, "id"),
    rows.SPAN: (f"pass_id IN (SELECT id FROM pass WHERE current AND {_CLIP})", "pass_id, start_pts, id"),
    rows.REGION: (f"pass_id IN (SELECT id FROM pass WHERE current AND {_CLIP})", "pass_id, pts, id"),
    rows.CALL: (f"flag_id IN (SELECT id FROM flag WHERE {_CLIP})", "id"),
    rows.OUTCOME: ("session_id {}", "date, id"),
    rows.REMINDER: ("session_id {}", "date, id"),
    rows.REVIEWED: (_CLIP, "clip_id, start_pts, id"),
}


def _session_of(value: Any, owner: Mapping[str, Mapping[int, int]]) -> int:
    """The session that a row belongs to, by its parent."""
    for parent in owner:
        number = getattr(value, f"{parent}_id", None)
        if number is not None:
            return owner[parent][number]
    return int(value.session_id)


def _in_order_of_time(clips: Sequence[model.ClipRecord]) -> Callable[[int, int], int]:
    """A number for each tick of each clip that grows with the session clock, exactly: its time in parts so small that
    all times of these clips are whole. Whole numbers are compared ten times as fast as fractions."""
    parts = math.lcm(*(one.denominator for clip in clips for one in (clip.offset, clip.time_base)))
    steps = {clip.id: int(clip.time_base * parts) for clip in clips}
    starts = {clip.id: int(clip.offset * parts) - clip.first_pts * steps[clip.id] for clip in clips}
    return lambda clip_id, pts: starts[clip_id] + pts * steps[clip_id]


class Queries(Core):
    """The asking half of a Book."""

    def sessions(self, text: str = "") -> tuple[SessionRow, ...]:
        """All sessions, newest first; with `text` those in which every word of it occurs (title, names, species,
        date, outcome), upper and lower case alike."""
        with sentences(self.path):
            found = [SessionRow(*(text_of(item) for item in row)) for row in self._db.execute(_LIST).fetchall()]
        words = text.casefold().split()
        if not words:
            return tuple(found)

        def fits(row: SessionRow) -> bool:
            hay = " ".join((row.title, row.date, row.female, row.male, row.species, row.outcome)).casefold()
            return all(word in hay for word in words)

        return tuple(row for row in found if fits(row))

    def find_session(self, text: str | int) -> int:
        """The session meant by a number, a title, or a part of a title that only one has.

        Raises:
            NoSuchSession, SessionUnclear.
        """
        wanted = str(text).strip()
        with sentences(self.path):
            known = [(int(one), text_of(title)) for one, title in self._db.execute("SELECT id, title FROM session")]
        if wanted.lstrip("#").isdecimal():
            number = int(wanted.lstrip("#"))
            if any(number == one for one, _ in known):
                return number
        folded = wanted.casefold()
        for fits in (
            [one for one in known if one[1] == wanted],
            [one for one in known if one[1].casefold() == folded],
            [one for one in known if folded and folded in one[1].casefold()],
        ):
            if len(fits) == 1:
                return fits[0][0]
            if fits:
                raise SessionUnclear(wanted, tuple(sorted(fits)))
        raise NoSuchSession(text)

    def session(self, session_id: int) -> SessionRecord:
        """Everything about one session.

        Raises:
            NoSuchSession: there is none of that number.
        """
        inside = self._db.in_transaction  # what is read inside a step may still be given up
        with self.reading():
            kept = None if inside else self._kept_record(session_id)
            if kept is not None:
                return kept
            found = self.rows_of(rows.SESSION, "id = ?", (session_id,))
            if not found:
                raise NoSuchSession(session_id)
            record = self._record(found[0])
            if not inside:
                self._kept.keep(self._state(), record)
            return record

    def _kept_record(self, session_id: int) -> SessionRecord | None:
        """The session as it was read last, with what was changed here since; None: read it anew."""
        if session_id not in self._kept.records:
            return None
        then, record = self._kept.records[session_id]
        now = self._state()
        touched = self._kept.since(then, now)
        if touched:
            in_use = frozenset(act.code for act in self.acts())
            found = patched(record, touched, self._of_session(record), _in_order_of_time(record.clips), in_use)
            if found is None:
                return None
            record = found
        elif touched is None:
            return None
        self._kept.keep(now, record)
        return record

    def _of_session(self, record: SessionRecord) -> Callable[[str, Sequence[int]], Sequence[Any]]:
        kinds = {kind.table: (kind, mine) for kind, (mine, _) in _PARTS.items()}

        def fetch(table: str, numbers: Sequence[int]) -> Sequence[Any]:
            kind, mine = kinds[table]
            found: list[Any] = []
            for start in range(0, len(numbers), _TOGETHER):
                some = ", ".join(map(str, numbers[start : start + _TOGETHER]))
                found += self.rows_of(kind, f"id IN ({some}) AND {mine.format('= ?')}", (record.session.id,))
            return found

        return fetch

    def records(self, session_ids: Sequence[int]) -> Iterator[SessionRecord]:
        """Everything about many sessions, in the order asked; some hundred are read at a time, one question a table.

        Raises:
            NoSuchSession: there is none of one of the numbers.
        """
        for start in range(0, len(session_ids), _TOGETHER):
            wanted = session_ids[start : start + _TOGETHER]
            with self.reading():
                made = self._read_together(wanted)
            yield from made

    def sacs_of_kind(self, species: str) -> tuple[SessionRecord, ...]:
        """Sessions with females of a species of which something came: with their outcomes, without anything of their
        film, so that many are read in no time. None where the species is empty."""
        wanted = " ".join(species.split()).casefold()
        with self.reading():
            animals = {one.id: one for one in self.rows_of(rows.ANIMAL)}
            hers = [a.id for a in animals.values() if wanted and " ".join(a.species.split()).casefold() == wanted]
            many = ", ".join(map(str, hers))
            came = "SELECT session_id FROM outcome"
            sessions = self._fresh(rows.SESSION, f"female_id IN ({many}) AND id IN ({came})") if hers else []
            mine: dict[int, list[model.Outcome]] = {one.id: [] for one in sessions}
            for outcome in self._fresh(rows.OUTCOME, "1", "date, id") if mine else ():
                mine.get(outcome.session_id, []).append(outcome)
            without = dict.fromkeys((kind.table for kind in _PARTS), ())
            acts = self.acts()
            return tuple(
                self._made(one, {**without, "outcome": tuple(mine[one.id])}, animals, acts) for one in sessions
            )

    def _read_together(self, wanted: Sequence[int]) -> list[SessionRecord]:
        many = f"IN ({', '.join(str(int(one)) for one in wanted)})"
        sessions = {one.id: one for one in self._fresh(rows.SESSION, f"id {many}")}
        owner: dict[str, dict[int, int]] = {"clip": {}, "pass": {}, "flag": {}}  # table -> number -> session
        parts: dict[str, dict[int, list[Any]]] = {}
        for kind, (mine, order) in _PARTS.items():
            groups = parts.setdefault(kind.table, {})
            numbers = owner.get(kind.table)
            for one in self._fresh(kind, mine.format(many), order):
                number = _session_of(one, owner)
                groups.setdefault(number, []).append(one)
                if numbers is not None:
                    numbers[one.id] = number
        animals = {one.id: one for one in self.rows_of(rows.ANIMAL)}
        acts = self.acts()
        made = []
        for number in wanted:
            if number not in sessions:
                raise NoSuchSession(number)
            mine_only = {table: tuple(groups.get(number, ())) for table, groups in parts.items()}
            made.append(self._made(sessions[number], mine_only, animals, acts))
        return made

    def _record(self, session: Session) -> SessionRecord:
        parts = {
            kind.table: self.rows_of(kind, mine.format("= ?"), (session.id,), order)
            for kind, (mine, order) in _PARTS.items()
        }
        pair = {one for one in (session.female_id, session.male_id) if one is not None}
        animals = {one.id: one for number in pair for one in self.rows_of(rows.ANIMAL, "id = ?", (number,))}
        return self._made(session, parts, animals, self.acts())

    def _made(
        self,
        session: Session,
        parts: Mapping[str, tuple[Any, ...]],
        animals: Mapping[int, Animal],
        acts: tuple[Act, ...],
    ) -> SessionRecord:
        """The record of a session from its rows of each table."""
        clips = tuple(sorted(parts["clip"], key=lambda clip: (clip.offset, clip.id)))
        at = _in_order_of_time(clips)
        current = {one.id for one in parts["pass"] if one.current}
        all_flags = sorted(parts["flag"], key=lambda flag: (at(flag.clip_id, flag.onset_pts), flag.id))
        marks = sorted(parts["mark"], key=lambda mark: (at(mark.clip_id, mark.start_pts), mark.id))
        return SessionRecord(
            session=session,
            female=self._animal_in(animals, session.female_id),
            male=self._animal_in(animals, session.male_id),
            clips=clips,
            shots=parts["shot"],
            outlines=parts["outline"],
            acts=self._acts_with(marks, acts),
            marks=tuple(marks),
            passes=parts["pass"],
            flags=tuple(flag for flag in all_flags if _shown(flag, current)),
            older_flags=tuple(flag for flag in all_flags if not _shown(flag, current)),
            spans=parts["span"],
            calls=parts["call"],
            outcomes=parts["outcome"],
            reminders=parts["reminder"],
            reviewed=parts["reviewed"],
            regions=parts["region"],
        )

    def _animal_in(self, animals: Mapping[int, Animal], animal_id: int | None) -> Animal | None:
        if animal_id is None:
            return None
        if animal_id not in animals:
            raise BookDamaged(self.path, f"a session is about animal {animal_id}, which is not there")
        return animals[animal_id]

    def clips(self) -> tuple[model.ClipRecord, ...]:
        """The film of all sessions."""
        return self.rows_of(rows.CLIP)

    def session_of_clip(self, clip_id: int) -> int:
        """The number of the session that a clip belongs to."""
        return self._one(rows.CLIP, clip_id).session_id

    def animals(self, sex: Sex | None = None, text: str = "") -> tuple[Animal, ...]:
        """Animals by name; of one sex, and with every word of `text` in name, species, owner, origin or note."""
        words = text.casefold().split()

        def fits(animal: Animal) -> bool:
            hay = " ".join((animal.name, animal.species, animal.owner, animal.origin, animal.note)).casefold()
            return (sex is None or animal.sex == sex) and all(word in hay for word in words)

        found = (animal for animal in self.rows_of(rows.ANIMAL) if fits(animal))
        return tuple(sorted(found, key=lambda animal: (animal.name.casefold(), animal.id)))

    def animal(self, animal_id: int) -> Animal:
        """The animal of a number.

        Raises:
            NoSuchThing: there is none.
        """
        return self._one(rows.ANIMAL, animal_id)

    def sessions_of(self, animal_id: int) -> tuple[Session, ...]:
        """The pairing history of an animal, oldest first."""
        return self.rows_of(rows.SESSION, "female_id = ?1 OR male_id = ?1", (animal_id,), "date, id")

    def life(self, animal_id: int) -> tuple[LifeEvent, ...]:
        """Dated events of an animal, oldest first."""
        return self.rows_of(rows.LIFE_EVENT, "animal_id = ?", (animal_id,), "date, id")

    def loans(self, animal_id: int | None = None) -> tuple[Loan, ...]:
        """Breeding loans of an animal, or all."""
        if animal_id is None:
            return self.rows_of(rows.LOAN, order="start, id")
        return self.rows_of(rows.LOAN, "animal_id = ?", (animal_id,), "start, id")

    def species_notes(self) -> tuple[model.SpeciesNote, ...]:
        """What the keeper knows of species and genera, in order of name."""
        return self.rows_of(rows.SPECIES_NOTE, order="species COLLATE NOCASE, what, id")

    def reminders(self, done: bool | None = None) -> tuple[model.Reminder, ...]:
        """Reminders of all sessions by date; only those done, or not done."""
        if done is None:
            return self.rows_of(rows.REMINDER, order="date, id")
        return self.rows_of(rows.REMINDER, "done = ?", (int(done),), "date, id")

    def acts(self, name: str | None = None) -> tuple[Act, ...]:
        """The acts in use, or those of a named set; the built-in ones where nothing was chosen.

        Raises:
            NoSuchThing: there is no set of that name.
        """
        with sentences(self.path):
            where, values = ("in_use = 1", ()) if name is None else ("name = ?", (name,))
            row = self._db.execute(f"SELECT acts FROM act_set WHERE {where} ORDER BY id DESC", values).fetchone()
        if row is not None:
            return self.read_acts(row[0])
        if name:
            raise NoSuchThing("set of acts called", f"“{name}”")
        return built.BUILT_IN

    def act_sets(self) -> tuple[str, ...]:
        """The names of the stored sets of acts; "" is the book's unnamed one."""
        with sentences(self.path):
            return tuple(text_of(name) for (name,) in self._db.execute("SELECT name FROM act_set ORDER BY name"))

    def read_acts(self, text: str) -> tuple[Act, ...]:
        """The acts of a stored set, from its JSON text.

        Raises:
            BookDamaged: the text is no such list.
        """
        try:
            made = json.loads(text)
            if not isinstance(made, list):
                raise TypeError("it is no list")
            return tuple(from_plain(Act, one, f"acts[{place}]") for place, one in enumerate(made))
        except (ValueError, TypeError, RecursionError, NotAsExpected) as error:
            raise BookDamaged(self.path, f"a set of acts cannot be read: {error}") from error

    def _acts_with(self, marks: list[Mark], in_use: tuple[Act, ...]) -> tuple[Act, ...]:
        """The acts in use, and after them whatever the marks use besides: a mark keeps its meaning when the set
        is changed."""
        acts = {act.code: act for act in in_use}
        missing = {mark.act: mark for mark in marks if mark.act not in acts}
        if missing:
            stored = self._db.execute("SELECT acts FROM act_set ORDER BY id").fetchall()
            known = {act.code: act for (text,) in stored for act in self.read_acts(text)}
            for code, mark in missing.items():
                acts[code] = known.get(code) or built.built_in(code) or Act(code, code, mark.actor, mark.lasting, "")
        return tuple(acts.values())

    def current_pass(self, clip_id: int) -> PassRecord | None:
        """The pass of a clip whose flags are shown."""
        found = self.rows_of(rows.PASS, "clip_id = ? AND current", (clip_id,))
        return found[-1] if found else None

    def trace_of(self, pass_id: int) -> Trace:
        """The trace of a pass, arrays over the clip's frames; all NaN where it was left out of an exported book that
        the pass came in with, or was lost in a damaged one.

        Raises:
            NoSuchThing: there is no such pass. BookDamaged: it does not unpack.
        """
        from clipmark.book.forms.traces import nothing_followed, unpacked

        with sentences(self.path):
            row = self._db.execute(
                "SELECT clip.frames, trace.frames, columns, data FROM pass JOIN clip ON clip.id = clip_id"
                " LEFT JOIN trace ON trace.pass_id = pass.id WHERE pass.id = ?",
                (pass_id,),
            ).fetchone()
        if row is None:
            raise NoSuchThing("motion pass", pass_id)
        try:
            return nothing_followed(row[0]) if row[1] is None else unpacked(*row[1:])
        except (ValueError, TypeError) as error:
            raise BookDamaged(self.path, str(error)) from error


def _shown(flag: FlagRecord, current: set[int]) -> bool:
    """Whether a flag is in view: of a current pass, or a keeper's own that no current pass proposes."""
    return flag.proposed_as == 0 if flag.pass_id is None else flag.pass_id in current


def text_of(item: Any) -> Any:
    """Text as SQLite gave it; what is no UTF-8 comes as bytes, and its odd letters are replaced."""
    return item.decode("utf-8", "replace") if isinstance(item, bytes) else item


def act_as_plain(act: Act) -> dict[str, Any]:
    """An act as JSON takes it."""
    return {field.name: getattr(act, field.name) for field in fields(act)}
