"""Every table that clipmark gives away: its columns, their types, units and meaning, declared once.

pandas types, the CSV's Frictionless schema and docs/formats.md all follow from this.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

# kind -> (pandas type, Frictionless type); "exact" is a fraction such as 1/600 written as text
KINDS: dict[str, tuple[str, str]] = {
    "id": ("Int64", "integer"),
    "whole": ("Int64", "integer"),
    "number": ("Float64", "number"),
    "yes": ("boolean", "boolean"),
    "text": ("string", "string"),
    "exact": ("string", "string"),
    "date": ("datetime64[ns]", "date"),
    "instant": ("datetime64[ns, UTC]", "datetime"),
}


@dataclass(frozen=True, slots=True)
class Column:
    """`kind` is a key of KINDS; `unit` is empty where there is none; `may_lack` says that cells may be empty."""

    name: str
    kind: str
    meaning: str
    unit: str = ""
    may_lack: bool = True
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: str = ""
    refers: tuple[tuple[str, str], ...] = ()  # (column, table that it points into)


def _id(name: str, meaning: str, may_lack: bool = False) -> Column:
    return Column(name, "id", meaning, may_lack=may_lack)


_SESSION = _id("session_id", "the session")
_CLIP = _id("clip_id", "the film file")
_BASE = Column("time_base", "exact", "length of one tick of the film file's own clock", "s", False)
_NOTE = Column("note", "text", "what the keeper wrote")
_DECISIONS = ("confirmed", "probable", "attempt", "not seen", "something else")
_ACTORS = ("him", "her", "both", "keeper", "nobody")

ANIMALS = Table("animals", "One row an animal.", (
    _id("animal_id", "the animal"), Column("name", "text", "its name", may_lack=False),
    Column("sex", "text", "its sex", "", False, ("female", "male", "unknown")),
    Column("species", "text", "its species"),
    Column("born", "text", "when it was born, as well as it is known"),
    Column("origin", "text", "captive-bred, wild-caught, permit, source"),
    Column("owner", "text", "whose it is"), _NOTE,
), "animal_id")  # fmt: skip

LIFE = Table("life", "One row a dated thing in an animal's life.", (
    _id("event_id", "the event"), _id("animal_id", "the animal"),
    Column("kind", "text", "moult, matured, fed, sperm web, died, sold, note", may_lack=False),
    Column("date", "date", "when"), _NOTE,
), "event_id", (("animal_id", "animals"),))  # fmt: skip

TABLES: tuple[Table, ...] = (
    ANIMALS,
    LIFE,
    Table("sessions", "One row a pairing.", (
        _SESSION,
        Column("title", "text", "its name", may_lack=False),
        Column("date", "date", "the day of the pairing"),
        Column("time_of_day", "text", "local time at which it began, as 21:10"),
        _id("female_id", "the female", True), Column("female", "text", "her name"),
        Column("female_species", "text", "her species"),
        _id("male_id", "the male", True), Column("male", "text", "his name"),
        Column("male_species", "text", "his species"),
        Column("place", "text", "where it was"),
        Column("temperature_c", "number", "temperature in the room", "°C"),
        Column("humidity_pct", "number", "relative humidity", "%"),
        Column("reviewer", "text", "who reviews it"), _NOTE,
    ), "session_id"),
    Table("clips", "One row a film file.", (
        _CLIP, _SESSION,
        Column("file", "text", "name of the film file", may_lack=False), Column("camera", "text", "which camera"),
        Column("offset_s", "number", "where its first frame sits on the session clock", "s", False),
        Column("offset_exact", "exact", "the same, exact", "s", False),
        Column("duration_s", "number", "from the first frame to the end of the last", "s", False),
        Column("frames", "whole", "frames that exist", "frames", False),
        _BASE, Column("first_pts", "whole", "tick of the first frame", "ticks", False),
        Column("end_pts", "whole", "first tick after the last frame", "ticks", False),
        Column("width_px", "whole", "width as displayed", "pixels", False),
        Column("height_px", "whole", "height as displayed", "pixels", False),
        Column("fingerprint", "text", "by which the file is known again"),
    ), "clip_id", (("session_id", "sessions"),)),
    Table("marks", "One row a mark: an act that a person placed on the film.", (
        _id("mark_id", "the mark"), _SESSION, _CLIP,
        Column("act", "text", "code of the act; never changes its meaning", may_lack=False),
        Column("label", "text", "the act in the keeper's words", may_lack=False),
        Column("actor", "text", "who does it", "", False, _ACTORS),
        Column("lasting", "yes", "lasting (start and end) or momentary", may_lack=False),
        Column("open", "yes", "lasting and without an end: over when the film is over, or later", may_lack=False),
        Column("start_s", "number", "start on the session clock", "s", False),
        Column("end_s", "number", "end on the session clock (the act no longer goes on there)", "s"),
        Column("duration_s", "number", "end less start; empty for momentary and open acts", "s"),
        Column("film_s", "number", "start in the film, from its first frame", "s", False),
        Column("start_pts", "whole", "start in ticks of the film", "ticks", False),
        Column("end_pts", "whole", "end in ticks of the film", "ticks"),
        _BASE, Column("reviewer", "text", "who marked it"), _NOTE,
        Column("from_proposal", "yes", "the program had proposed it and the reviewer took it", may_lack=False),
    ), "mark_id", (("session_id", "sessions"), ("clip_id", "clips"))),
    Table("flags", "One row a pull: proposed by the motion pass or added by a keeper.", (
        _id("flag_id", "the flag"), _SESSION, _CLIP,
        _id("pass_id", "the motion pass; empty for a keeper's own", True),
        Column("number", "whole", "its number on the sheet; empty for candidates that the sheet does not show"),
        Column("onset_s", "number", "start of the pull on the session clock", "s", False),
        Column("full_s", "number", "the pull is complete", "s", False),
        Column("release_s", "number", "it lets go; empty where no release was seen", "s"),
        Column("film_s", "number", "onset in the film, from its first frame", "s", False),
        Column("onset_pts", "whole", "onset in ticks of the film", "ticks", False),
        Column("full_pts", "whole", "full pull in ticks of the film", "ticks", False),
        Column("release_pts", "whole", "release in ticks of the film", "ticks"), _BASE,
        Column("score", "number", "probability that this is a pull (0 to 1)"),
        Column("pull_lengths", "number", "how far the abdomen was drawn", "abdomen lengths"),
        Column("tilt_deg", "number", "change of its angle, clockwise positive", "degrees"),
        Column("direction_deg", "number", "where to on the screen, clockwise from right", "degrees"),
        Column("flagged", "yes", "above the flagging score, or a keeper's own", may_lack=False),
        Column("current", "yes", "of the pass in view, or a keeper's own; false: of an earlier pass", may_lack=False),
        Column("decision", "text", "the call that counts; empty while nobody has called it", "", True, _DECISIONS),
        Column("because", "text", "why it is proposed"),
        Column("doubts", "text", "what speaks against it, with ; between; one a row in doubts.csv"),
        Column("parameters", "text", "version of the motion pass's parameters"),
        Column("by", "text", "the keeper who added it"),
    ), "flag_id", (("session_id", "sessions"), ("clip_id", "clips"))),
    Table("calls", "One row a call: a reviewer's decision on a flag. Earlier calls of the same reviewer stay.", (
        _id("call_id", "the call"), _id("flag_id", "the flag"), _SESSION,
        Column("reviewer", "text", "who called it"),
        Column("decision", "text", "the decision", "", False, _DECISIONS),
        Column("counts", "yes", "the call that counts for this flag", may_lack=False),
        Column("signs", "text", "what it rests on, with ; between; one a row in signs.csv"),
        Column("palp", "text", "left or right where it was told", "", True, ("left", "right")),
        Column("cause", "text", "what it was instead, for “something else”"), _NOTE,
        Column("made_at", "instant", "when it was made"),
    ), "call_id", (("session_id", "sessions"), ("flag_id", "flags"))),
    Table("signs", "One row a sign that a call rests on.", (
        _id("call_id", "the call"), _id("flag_id", "the flag"), _SESSION,
        Column("sign", "text", "the sign", may_lack=False),
    ), "", (("call_id", "calls"), ("flag_id", "flags"), ("session_id", "sessions"))),
    Table("doubts", "One row a doubt about a flag.", (
        _id("flag_id", "the flag"), _SESSION, Column("doubt", "text", "what speaks against it", may_lack=False),
    ), "", (("flag_id", "flags"), ("session_id", "sessions"))),
    Table("reviewed", "One row a stretch of film that a reviewer watched in full.", (
        _id("reviewed_id", "the stretch"), _SESSION, _CLIP, Column("reviewer", "text", "who watched it"),
        Column("start_s", "number", "start on the session clock", "s", False),
        Column("end_s", "number", "end on the session clock", "s", False),
        Column("start_pts", "whole", "start in ticks of the film", "ticks", False),
        Column("end_pts", "whole", "end in ticks of the film", "ticks", False), _BASE,
    ), "reviewed_id", (("session_id", "sessions"), ("clip_id", "clips"))),
    Table("spans", "One row a stretch of film that the motion pass watched, or could not watch.", (
        _id("pass_id", "the motion pass"), _SESSION, _CLIP,
        Column("watched", "yes", "her abdomen could be followed", may_lack=False),
        Column("start_s", "number", "start on the session clock", "s", False),
        Column("end_s", "number", "end on the session clock", "s", False),
        Column("why", "text", "why it could not be watched"),
        Column("start_pts", "whole", "start in ticks of the film", "ticks", False),
        Column("end_pts", "whole", "end in ticks of the film", "ticks", False), _BASE,
    ), "", (("session_id", "sessions"), ("clip_id", "clips"))),
    Table("measures", "One row a figure of the reading.", (
        _SESSION, Column("key", "text", "stable name of the figure", may_lack=False),
        Column("measure", "text", "what is measured, without the act", may_lack=False),
        Column("act", "text", "code of the act; empty for a figure of the whole session"),
        Column("actor", "text", "who does it", "", True, _ACTORS),
        Column("reviewer", "text", "whose marks and calls it is made of"),
        Column("label", "text", "what it is", may_lack=False),
        Column("value", "number", "the figure; empty where it could not be had"),
        Column("unit", "text", "s, count, 1/min, share (0 to 1), or empty"),
        Column("at_least", "number", "the film ended first: the figure can only be larger than this"),
        Column("text", "text", "the figure as the sheet prints it", may_lack=False),
        Column("explanation", "text", "how it is computed"),
    ), "", (("session_id", "sessions"),)),
    Table("outcomes", "One row a thing that came of a pairing.", (
        _id("outcome_id", "the outcome"), _SESSION, Column("kind", "text", "what came", may_lack=False),
        Column("date", "date", "when"),
        Column("counts", "text", "counts by stage, as stage: number, with ; between; one a row in counts.csv"),
        Column("sac", "whole", "which sac of the pairing, from 1", may_lack=False),
        Column("temperature_c", "number", "temperature of the sac", "°C"),
        Column("humidity_pct", "number", "relative humidity of the sac", "%"),
        Column("kept", "text", "with her, by hand, or empty"), _NOTE,
    ), "outcome_id", (("session_id", "sessions"),)),
    Table("counts", "One row a count of eggs or young.", (
        _id("outcome_id", "the outcome"), _SESSION,
        Column("sac", "whole", "which sac of the pairing", may_lack=False),
        Column("stage", "text", "what was counted", may_lack=False),
        Column("number", "whole", "how many", may_lack=False),
    ), "", (("outcome_id", "outcomes"), ("session_id", "sessions"))),
    Table("outlook", "One row a window of dates that comes next, as of the day of the export.", (
        _SESSION, Column("what", "text", "sac, pull, emergence or latest", may_lack=False),
        Column("first", "date", "first day"), Column("last", "date", "last day"),
        Column("text", "text", "as the window of the program says it", may_lack=False),
        Column("source", "text", "where it is from"),
    ), "", (("session_id", "sessions"),)),
    Table("reminders", "One row a reminder.", (
        _id("reminder_id", "the reminder"), _SESSION, Column("date", "date", "the day", may_lack=False),
        Column("text", "text", "what to do", may_lack=False), Column("done", "yes", "done", may_lack=False),
    ), "reminder_id", (("session_id", "sessions"),)),
)  # fmt: skip

# what sessions say together: of a whole book, or her cycles and those of her kind beside one session
ACROSS: tuple[Table, ...] = (
    Table("cycles", "One row a cycle of a female between two moults.", (
        _id("female_id", "the female"), Column("start", "date", "the day from which time to the sac runs"),
        Column("sessions", "text", "its sessions, with ; between"),
        Column("state", "text", "waiting, sac, moult without sac, died, lost, given away", may_lack=False),
        Column("end", "text", "sac or moult; empty where neither has come"),
        Column("days", "whole", "to that end, else to the day of asking, her death or her sale", "days"),
        Column("asked", "date", "the day of asking", may_lack=False),
    ), "", (("female_id", "animals"),)),
    Table("incidence", "One row a way of ending and day: the part of cycles that had ended so by then.", (
        Column("species", "text", "of which kind the cycles are; empty for all of the book"),
        Column("way", "text", "sac, moult or died", may_lack=False),
        Column("day", "number", "since the start", "days", False),
        Column("at_risk", "whole", "still waiting just before", "cycles", False),
        Column("share", "number", "0 to 1", may_lack=False), Column("low", "number", "95 % limit"),
        Column("high", "number", "95 % limit"), Column("asked", "date", "the day of asking", may_lack=False),
    )),
)  # fmt: skip


def schema(table: Table) -> dict[str, Any]:
    """The table's Frictionless Table Schema (specs.frictionlessdata.io/table-schema)."""
    fields = []
    for column in table.columns:
        constraints: dict[str, Any] = {} if column.may_lack else {"required": True}
        if column.choices:
            constraints["enum"] = list(column.choices)
        field: dict[str, Any] = {"name": column.name, "type": KINDS[column.kind][1], "description": column.meaning}
        if column.unit:
            field["unit"] = column.unit
        if constraints:
            field["constraints"] = constraints
        fields.append(field)
    known: dict[str, Any] = {"fields": fields, "missingValues": [""]}
    if table.key:
        known["primaryKey"] = table.key
    if table.refers:
        keys = {one.name: one.key for one in TABLES}
        known["foreignKeys"] = [
            {"fields": column, "reference": {"resource": other, "fields": keys[other]}}
            for column, other in table.refers
        ]
    return known


def described(table: Table) -> str:
    """The table as a section of docs/formats.md (`python -m clipmark.report.exports.columns` prints all of them)."""
    lines = [
        f"### {table.name}.csv",
        "",
        table.meaning,
        "",
        "| column | type | unit | meaning |",
        "|---|---|---|---|",
    ]
    for c in table.columns:
        kind = f"{KINDS[c.kind][1]}" + (" (exact)" if c.kind == "exact" else "")
        choices = f" ({', '.join(c.choices)})" if c.choices else ""
        empty = "" if not c.may_lack else " May be empty."
        lines.append(f"| {c.name} | {kind} | {c.unit} | {c.meaning}{choices}.{empty} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print("\n".join(described(table) for table in (*TABLES, *ACROSS)))
