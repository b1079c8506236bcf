"""What can be changed in the book. Each method is one labelled step of undo and is kept the moment it returns."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar
from uuid import uuid4

from clipmark.book.errors import CannotKeep, ChangedMeanwhile, NoSuchThing
from clipmark.book.forms import rows
from clipmark.book.forms.rows import Kind
from clipmark.book.meaning import rules
from clipmark.book.meaning.checks import check
from clipmark.book.model import (
    Act,
    Animal,
    Call,
    ClipRecord,
    FlagRecord,
    LifeEvent,
    Loan,
    Mark,
    Outcome,
    Outline,
    Reminder,
    Reviewed,
    Session,
    ShotRecord,
    SpeciesNote,
)
from clipmark.book.steps import journal
from clipmark.book.steps.queries import Queries, act_as_plain
from clipmark.timebase import clock

T = TypeVar("T")


class Edits(Queries):
    """The changing half of a Book. `add_*` returns the value with its id, `remove_*` takes out what belongs to it as
    well. `change_*` writes what differs from `was`, the value before the change (None: as this book was last asked
    for it), and returns the value as it now stands; what another window wrote into other fields meanwhile stays.

    Raises of all:
        CannotKeep: the book does not take the value, with the reason. NoSuchThing: it, or what it refers to, is not
            in the book (any more).
    Raises of `change_*`:
        ChangedMeanwhile: another window wrote something else into the same field.
    """

    def _add(self, kind: Kind[T], value: Any, label: str) -> T:
        check(value)
        with self.step(label) as writer:
            self._known_parents(value)
            return replace(value, id=writer.insert(kind.table, rows.encode(value)))

    def _change(self, kind: Kind[T], value: Any, label: str, was: Any = None) -> T:
        """Write the columns in which `value` differs from `was`, the value that the caller had before its change
        (None: as this book was last asked for it). What somebody else wrote into other columns meanwhile stays.

        Returns:
            The value as it now stands in the book.
        Raises:
            ChangedMeanwhile: somebody wrote into one of the same columns, and something else.
        """
        check(value)
        was = self._last_seen(kind, value.id) if was is None else was
        with self.step(label) as writer:
            self._known_parents(value)
            found = self._one(kind, value.id)
            row = rows.encode(value)
            if was is not None:
                before, now = rows.encode(was), rows.encode(found)
                row = {name: item for name, item in row.items() if item != before[name]}
                clashing = [name for name, item in row.items() if now[name] not in (before[name], item)]
                if clashing:
                    raise ChangedMeanwhile(kind.word, _field_of(clashing[0]), getattr(found, _field_of(clashing[0])))
            writer.update(kind.table, value.id, row)
            merged = self._one(kind, value.id)
            check(merged)  # two changes that go together with the old value may not go together with each other
            return merged

    def _remove(self, kind: Kind[Any], row_id: int, label: str) -> None:
        with self.step(label) as writer:
            if not writer.delete(kind.table, row_id):
                raise NoSuchThing(kind.word, row_id)

    def _known_parents(self, value: Any) -> None:
        for field, kind in _PARENTS:
            parent = getattr(value, field, None)
            if (
                parent is not None
                and self._db.execute(f'SELECT 1 FROM "{kind.table}" WHERE id = ?', (parent,)).fetchone() is None
            ):
                raise NoSuchThing(kind.word, parent)

    # animals -------------------------------------------------------------------------------------------------

    def add_animal(self, animal: Animal) -> Animal:
        """Keep an animal."""
        return self._add(rows.ANIMAL, animal, f"add the animal {animal.name}")

    def change_animal(self, animal: Animal, was: Animal | None = None) -> Animal:
        """Change an animal."""
        return self._change(rows.ANIMAL, animal, f"change the animal {animal.name}", was)

    def remove_animal(self, animal_id: int) -> None:
        """Take an animal out with its life events and loans.

        Raises:
            CannotKeep: sessions are about it.
        """
        name = self.animal(animal_id).name
        used = len(self.sessions_of(animal_id))
        if used:
            raise CannotKeep(
                f"“{name}” is in {used} session{'s' if used > 1 else ''} and stays. Remove these, or merge animals."
            )
        self._remove(rows.ANIMAL, animal_id, f"remove the animal {name}")

    def merge_animals(self, keep_id: int, other_ids: Iterable[int]) -> Animal:
        """Make several entries of one animal into one: sessions, life events and loans move to the kept entry, its
        empty fields are filled from the others, and their notes are added to its note.

        Raises:
            CannotKeep: they have different sexes, or were paired with each other.
        """
        wanted = [one for one in dict.fromkeys(other_ids) if one != keep_id]
        with self.step(f"merge {len(wanted)} into the animal {self.animal(keep_id).name}") as writer:
            kept = self.animal(keep_id)
            others = [self.animal(one) for one in wanted]
            for other in others:
                if {kept.sex, other.sex} == {"female", "male"}:
                    raise CannotKeep(f"“{kept.name}” and “{other.name}” are of different sexes and cannot be one.")
                for table, column in _ANIMAL_USES:
                    for (row_id,) in self._db.execute(
                        f'SELECT id FROM "{table}" WHERE "{column}" = ?', (other.id,)
                    ).fetchall():
                        writer.update(table, row_id, {column: keep_id})
                kept = _filled(kept, other)
                writer.delete("animal", other.id)
            if self._db.execute("SELECT 1 FROM session WHERE female_id = male_id").fetchone():
                raise CannotKeep("These animals were paired with each other and cannot be one.")
            writer.update("animal", keep_id, rows.encode(kept))
        return kept

    def add_life_event(self, event: LifeEvent) -> LifeEvent:
        """Keep a dated event in an animal's life."""
        return self._add(rows.LIFE_EVENT, event, f"note {event.kind} {event.date}".strip())

    def change_life_event(self, event: LifeEvent, was: LifeEvent | None = None) -> LifeEvent:
        """Change a dated event in an animal's life."""
        return self._change(rows.LIFE_EVENT, event, f"change {event.kind} {event.date}".strip(), was)

    def remove_life_event(self, event_id: int) -> None:
        """Take out a dated event in an animal's life."""
        self._remove(rows.LIFE_EVENT, event_id, "remove an event of an animal's life")

    def add_loan(self, loan: Loan) -> Loan:
        """Keep a loan of an animal."""
        return self._add(rows.LOAN, loan, f"note the loan to {loan.borrower}")

    def change_loan(self, loan: Loan, was: Loan | None = None) -> Loan:
        """Change a loan of an animal."""
        return self._change(rows.LOAN, loan, f"change the loan to {loan.borrower}", was)

    def remove_loan(self, loan_id: int) -> None:
        """Take out a loan of an animal."""
        self._remove(rows.LOAN, loan_id, "remove a loan")

    def add_species_note(self, note: SpeciesNote) -> SpeciesNote:
        """Keep a note on a species."""
        return self._add(rows.SPECIES_NOTE, note, f"note on {note.species}")

    def change_species_note(self, note: SpeciesNote, was: SpeciesNote | None = None) -> SpeciesNote:
        """Change a note on a species."""
        return self._change(rows.SPECIES_NOTE, note, f"change the note on {note.species}", was)

    def remove_species_note(self, note_id: int) -> None:
        """Take out a note on a species."""
        self._remove(rows.SPECIES_NOTE, note_id, "remove a note on a species")

    # sessions and film ---------------------------------------------------------------------------------------

    def add_session(self, session: Session) -> Session:
        """Keep a session."""
        return self._add(rows.SESSION, session, f"add the session {session.title}")

    def change_session(self, session: Session, was: Session | None = None) -> Session:
        """Change a session."""
        return self._change(rows.SESSION, session, f"change the session {session.title}", was)

    def remove_session(self, session_id: int) -> None:
        """Take a session out with its clips, marks, passes, calls, outcomes and reminders (film files stay)."""
        self._remove(rows.SESSION, session_id, f"remove the session {self._one(rows.SESSION, session_id).title}")

    def add_clip(self, clip: ClipRecord) -> ClipRecord:
        """Keep a clip."""
        return self._add(rows.CLIP, clip, f"add the film {Path(clip.path).name}")

    def change_clip(self, clip: ClipRecord, was: ClipRecord | None = None) -> ClipRecord:
        """Change a clip."""
        return self._change(rows.CLIP, clip, f"change the film {Path(clip.path).name}", was)

    def remove_clip(self, clip_id: int) -> None:
        """Take out a clip with all that was marked, found and called on it; the film file stays."""
        self._remove(rows.CLIP, clip_id, f"remove the film {Path(self._one(rows.CLIP, clip_id).path).name}")

    def move_clip(self, clip_id: int, offset: Fraction) -> ClipRecord:
        """Place a clip on the session clock: its first frame at `offset` seconds, exactly."""
        was = self._one(rows.CLIP, clip_id)
        clip = replace(was, offset=Fraction(offset))
        return self._change(rows.CLIP, clip, f"place {Path(clip.path).name} at {clock(clip.offset)}", was)

    def relink_clip(self, clip_id: int, path: Path | str) -> ClipRecord:
        """Say where a clip's film lies now; that it is the same film is checked by whoever calls."""
        was = self._one(rows.CLIP, clip_id)
        clip = replace(was, path=str(path))
        return self._change(rows.CLIP, clip, f"find {Path(clip.path).name} again", was)

    def set_shots(self, clip_id: int, shots: Iterable[ShotRecord]) -> tuple[ShotRecord, ...]:
        """Replace all shots of a clip."""
        fresh = [replace(shot, clip_id=clip_id) for shot in shots]
        for shot in fresh:
            check(shot)
        self._one(rows.CLIP, clip_id)
        with self.step("set the shots") as writer:
            for (row_id,) in self._db.execute("SELECT id FROM shot WHERE clip_id = ?", (clip_id,)).fetchall():
                writer.delete("shot", row_id)
            return tuple(replace(shot, id=writer.insert("shot", rows.encode(shot))) for shot in fresh)

    def add_outline(self, outline: Outline) -> Outline:
        """Keep an outline; one of the same part on the same frame is replaced by it."""
        check(outline)
        with self.step(f"outline the {outline.part}") as writer:
            for (row_id,) in self._db.execute(
                "SELECT id FROM outline WHERE clip_id = ? AND pts = ? AND part = ?",
                (outline.clip_id, outline.pts, outline.part),
            ).fetchall():
                writer.delete("outline", row_id)
            return self._add(rows.OUTLINE, outline, "")

    def change_outline(self, outline: Outline, was: Outline | None = None) -> Outline:
        """Change an outline."""
        return self._change(rows.OUTLINE, outline, f"change the outline of the {outline.part}", was)

    def remove_outline(self, outline_id: int) -> None:
        """Take out an outline."""
        self._remove(rows.OUTLINE, outline_id, "remove an outline")

    # marks ---------------------------------------------------------------------------------------------------

    def add_mark(self, mark: Mark, closing: bool = True) -> Mark:
        """Place an act on the film. In the same step it ends what it ends (book/meaning/rules.py): a release ends the
        open clasp and insertion, another insertion the open one. `closing=False` leaves the others alone."""
        check(mark)
        clip = self._one(rows.CLIP, mark.clip_id)
        with self.step(f"mark {mark.act} at {clock(clip.on_clock(mark.start_pts))}") as writer:
            if closing and (mark.act in rules.CLOSINGS or any(mark.act in group for group in rules.EXCLUSIVE)):
                mine = "clip_id IN (SELECT id FROM clip WHERE session_id = ?) AND lasting AND end_pts IS NULL"
                still_open = self.rows_of(rows.MARK, mine, (clip.session_id,))
                clips = self.rows_of(rows.CLIP, "session_id = ?", (clip.session_id,))
                for ended in rules.ended_by(mark, clip, still_open, clips):
                    writer.update("mark", ended.id, {"end_pts": ended.end_pts})
            return self._add(rows.MARK, mark, "")

    def change_mark(self, mark: Mark, was: Mark | None = None) -> Mark:
        """Change a mark."""
        return self._change(rows.MARK, mark, f"change {mark.act}", was)

    def close_mark(self, mark_id: int, end_pts: int) -> Mark:
        """End a lasting act.

        Raises:
            CannotKeep: the end lies before the beginning, or the act is momentary.
            ChangedMeanwhile: it was ended elsewhere by another window just now.
        """
        was = self._one(rows.MARK, mark_id)
        return self._change(rows.MARK, replace(was, end_pts=end_pts), f"end {was.act}", was)

    def remove_mark(self, mark_id: int) -> None:
        """Take out a mark."""
        self._remove(rows.MARK, mark_id, f"remove {self._one(rows.MARK, mark_id).act}")

    def set_acts(self, acts: Sequence[Act], name: str = "") -> tuple[Act, ...]:
        """Keep a set of acts under a name and put it in use. Marks keep their codes, so their meaning; acts that
        only old marks use still show with them.

        Raises:
            CannotKeep: two acts have one code or one key, or a code or label is empty.
        """
        check_acts(acts)
        text = json.dumps([act_as_plain(act) for act in acts], ensure_ascii=True)
        with self.step(f"change the acts{f' “{name}”' if name else ''}") as writer:
            self._take_out_of_use(writer)
            row = self._db.execute("SELECT id FROM act_set WHERE name = ?", (name,)).fetchone()
            if row is None:
                writer.insert("act_set", {"name": name, "acts": text, "in_use": 1})
            else:
                writer.update("act_set", row[0], {"acts": text, "in_use": 1})
        return tuple(acts)

    def use_acts(self, name: str | None) -> tuple[Act, ...]:
        """Put a stored set in use; None puts the built-in acts in use."""
        with self.step(f"use the acts “{name}”" if name else "use the built-in acts") as writer:
            self._take_out_of_use(writer)
            if name is not None:
                row = self._db.execute("SELECT id FROM act_set WHERE name = ?", (name,)).fetchone()
                if row is None:
                    raise NoSuchThing("set of acts called", f"“{name}”")
                writer.update("act_set", row[0], {"in_use": 1})
        return self.acts()

    def remove_acts(self, name: str) -> None:
        """Forget a stored set of acts; where it was in use, the built-in ones are."""
        with self.step(f"remove the acts “{name}”") as writer:
            row = self._db.execute("SELECT id FROM act_set WHERE name = ?", (name,)).fetchone()
            if row is None:
                raise NoSuchThing("set of acts called", f"“{name}”")
            writer.delete("act_set", row[0])

    def _take_out_of_use(self, writer: journal.Writer) -> None:
        for (row_id,) in self._db.execute("SELECT id FROM act_set WHERE in_use = 1").fetchall():
            writer.update("act_set", row_id, {"in_use": 0})

    # flags and calls -----------------------------------------------------------------------------------------

    def add_flag(self, flag: FlagRecord) -> FlagRecord:
        """Keep a pull that a keeper saw and no pass proposed; `by` names the keeper.

        Raises:
            CannotKeep: it claims to be from a pass, or names nobody.
        """
        _own(flag)
        clip = self._one(rows.CLIP, flag.clip_id)
        return self._add(rows.FLAG, flag, f"add a pull at {clock(clip.on_clock(flag.onset_pts))}")

    def change_flag(self, flag: FlagRecord, was: FlagRecord | None = None) -> FlagRecord:
        """Change a keeper's own flag; what a pass proposed stays as it was proposed."""
        was = self._last_seen(rows.FLAG, flag.id) if was is None else was
        _own(flag)
        _own(self._one(rows.FLAG, flag.id))
        return self._change(rows.FLAG, flag, "change a pull", was)

    def remove_flag(self, flag_id: int) -> None:
        """Take out a keeper's own flag with its calls."""
        _own(self._one(rows.FLAG, flag_id))
        self._remove(rows.FLAG, flag_id, "remove a pull")

    def add_call(self, call: Call) -> Call:
        """Keep a reviewer's decision on a flag; earlier ones of the same reviewer stay as history."""
        stamped = call if call.made_at else replace(call, made_at=journal.now())
        return self._add(rows.CALL, stamped, f"call a pull {stamped.decision}")

    def change_call(self, call: Call, was: Call | None = None) -> Call:
        """Change a call."""
        return self._change(rows.CALL, call, f"change a call to {call.decision}", was)

    def remove_call(self, call_id: int) -> None:
        """Take out a call."""
        self._remove(rows.CALL, call_id, "remove a call")

    def add_reviewed(self, stretch: Reviewed) -> Reviewed:
        """Keep that a reviewer watched a stretch of film in full."""
        return self._add(rows.REVIEWED, stretch, "note what was watched in full")

    def change_reviewed(self, stretch: Reviewed, was: Reviewed | None = None) -> Reviewed:
        """Change a stretch that was watched in full."""
        return self._change(rows.REVIEWED, stretch, "change what was watched in full", was)

    def remove_reviewed(self, stretch_id: int) -> None:
        """Take out a stretch that was watched in full."""
        self._remove(rows.REVIEWED, stretch_id, "remove a stretch watched in full")

    # afterwards ----------------------------------------------------------------------------------------------

    def add_outcome(self, outcome: Outcome) -> Outcome:
        """Keep an outcome."""
        return self._add(rows.OUTCOME, outcome, f"note the outcome {outcome.kind}")

    def change_outcome(self, outcome: Outcome, was: Outcome | None = None) -> Outcome:
        """Change an outcome."""
        return self._change(rows.OUTCOME, outcome, f"change the outcome {outcome.kind}", was)

    def remove_outcome(self, outcome_id: int) -> None:
        """Take out an outcome."""
        self._remove(rows.OUTCOME, outcome_id, "remove an outcome")

    def add_reminder(self, reminder: Reminder) -> Reminder:
        """Keep a reminder; it gets a lasting `uid` for calendars where it has none."""
        named = reminder if reminder.uid else replace(reminder, uid=f"{uuid4()}@clipmark")
        return self._add(rows.REMINDER, named, f"add the reminder {named.date}")

    def change_reminder(self, reminder: Reminder, was: Reminder | None = None) -> Reminder:
        """Change a reminder."""
        return self._change(rows.REMINDER, reminder, f"change the reminder {reminder.date}", was)

    def remove_reminder(self, reminder_id: int) -> None:
        """Take out a reminder."""
        self._remove(rows.REMINDER, reminder_id, "remove a reminder")


_PARENTS: tuple[tuple[str, Kind[Any]], ...] = (
    ("animal_id", rows.ANIMAL),
    ("female_id", rows.ANIMAL),
    ("male_id", rows.ANIMAL),
    ("session_id", rows.SESSION),
    ("clip_id", rows.CLIP),
    ("pass_id", rows.PASS),
    ("flag_id", rows.FLAG),
)
_ANIMAL_USES = (
    ("session", "female_id"),
    ("session", "male_id"),
    ("life_event", "animal_id"),
    ("loan", "animal_id"),
)


def _field_of(column: str) -> str:
    return column.removesuffix("_num").removesuffix("_den")


def _filled(kept: Animal, other: Animal) -> Animal:
    """The kept animal with its empty fields filled from the other, and both notes."""
    names = ("species", "born", "origin", "owner", "photo")
    filled = {name: getattr(other, name) for name in names if not getattr(kept, name)}
    if kept.sex == "unknown":
        filled["sex"] = other.sex
    notes = [note for note in (kept.note, other.note) if note]
    return replace(kept, **filled, note="\n".join(dict.fromkeys(notes)))


def _own(flag: FlagRecord) -> None:
    if flag.pass_id is not None:
        raise CannotKeep(
            "This pull was proposed by a motion pass and stays as it is. Call it, or add one of your own."
        )
    if not flag.by.strip():
        raise CannotKeep("A pull that is added by hand needs the name of who saw it.")


def check_acts(acts: Sequence[Act]) -> None:
    """Raise CannotKeep where a set of acts contradicts itself."""
    if not acts:
        raise CannotKeep("A set of acts needs at least one act.")
    for what in ("code", "key"):
        seen: dict[str, Act] = {}
        for act in acts:
            word = getattr(act, what)
            if word and word in seen:
                raise CannotKeep(f"“{seen[word].label}” and “{act.label}” have the same {what} “{word}”.")
            seen[word] = act
    for act in acts:
        if not act.code.strip() or not act.label.strip():
            raise CannotKeep("Each act needs a code and a label.")
