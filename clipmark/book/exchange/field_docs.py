"""What each field of the book means, declared once: the JSON schema and the CSV folder's schema read this."""

from __future__ import annotations

from dataclasses import MISSING, fields
from enum import StrEnum
from fractions import Fraction
from types import NoneType
from typing import Any, get_args, get_origin

from clipmark.book.exchange.book_json import FORMAT, LISTS, PARENTS
from clipmark.book.model import Act
from clipmark.json_values import LARGEST, hints

ABOUT = {
    "animals": "Animals, alive or not.",
    "life_events": "Dated events in an animal's life.",
    "loans": "Breeding loans.",
    "sessions": "Pairings: one female, one male, one occasion.",
    "clips": "Film files of the sessions. Times in other lists are ticks of the clip's own time base.",
    "shots": "Stretches of a clip from one camera view.",
    "outlines": "Boxes drawn or presses made by the keeper, in pixels of the picture as displayed.",
    "marks": "Acts placed on film by a person.",
    "passes": "Runs of the motion pass.",
    "spans": "What a pass could watch (why empty) and what it could not (why says the cause).",
    "regions": "What a pass took her abdomen for where it began to follow her.",
    "flags": "Pulls proposed by a pass, or added by a keeper (pass_id null).",
    "calls": "Decisions of reviewers on flags; of each reviewer the one with the highest id counts.",
    "reviewed": "Stretches of film that a reviewer watched in full.",
    "outcomes": "What came of a session.",
    "reminders": "Dates to come back to.",
    "species_notes": "What the keeper knows of a species or genus: own figures and statements.",
}
_DATE = "ISO date such as 2026-03-01, or empty"
WORDS: dict[str, dict[str, str]] = {
    "animals": {
        "name": "what the keeper calls the animal", "sex": "sex", "species": "species as the keeper writes it",
        "born": "year, month or day of birth, or empty", "origin": "captive-bred, wild-caught, permit number, source",
        "owner": "who owns it", "note": "the keeper's note", "photo": "path of a picture, or empty",
    },
    "life_events": {
        "animal_id": "the animal",
        "kind": "moult, matured, fed, sperm web, cooling began, cooling ended, died, sold, note",
        "date": _DATE, "note": "the keeper's note",
    },
    "loans": {
        "animal_id": "the animal", "owner": "who lends", "borrower": "who borrows", "start": _DATE, "end": _DATE,
        "terms": "what was agreed", "share": "share of the young that was agreed",
        "returned": "ISO date on which it went back, or empty while it is out",
    },
    "sessions": {
        "title": "title", "female_id": "the female, or null", "male_id": "the male, or null", "date": _DATE,
        "place": "where", "temperature_c": "degrees Celsius, or null", "humidity_pct": "percent, or null",
        "reviewer": "who reviews it first", "note": "the keeper's note",
        "time_of_day": "local time at which it began, as 21:10, or empty",
    },
    "clips": {
        "session_id": "the session", "path": "where the file lay last", "size": "bytes",
        "fingerprint": "what the file is known by when it was moved",
        "offset": "where its first frame sits on the session clock, seconds, exact",
        "time_base": "length of a tick, seconds, exact", "first_pts": "tick of the first frame",
        "end_pts": "first tick after the last frame", "frames": "number of frames", "width": "pixels, as displayed",
        "height": "pixels, as displayed", "camera": "name of the camera, or empty",
    },
    "shots": {
        "clip_id": "the clip", "start_pts": "first tick", "end_pts": "first tick after it",
        "begins": "film, cut or dissolve",
        "planted": "how many pulls of known size the latest pass planted into its own pictures",
        "smallest_pull": "abdomen lengths from which on nine of ten planted pulls were found, or null",
    },
    "outlines": {
        "clip_id": "the clip", "pts": "tick of the frame it was drawn on", "x": "left, pixels", "y": "top, pixels",
        "w": "width, pixels", "h": "height, pixels", "part": "abdomen, carapace or male",
        "press_x": "where the keeper pressed, pixels, or null where a box was drawn",
        "press_y": "where the keeper pressed, pixels, or null",
    },
    "marks": {
        "clip_id": "the clip", "act": "code of the act", "actor": "who does it", "start_pts": "first tick",
        "end_pts": "first tick after it; null for momentary acts and lasting ones that are open",
        "lasting": "whether the act lasts", "reviewer": "who marked it", "note": "note",
        "from_proposal": "whether the program had proposed it and the reviewer took it",
    },
    "passes": {
        "clip_id": "the clip", "parameters": "version of the pass's parameters", "made_at": "when, RFC 3339 UTC",
        "frames_per_s": "speed of the pass, frames a second", "current": "whether its flags are those in view",
    },
    "spans": {
        "pass_id": "the pass", "start_pts": "first tick", "end_pts": "first tick after it",
        "why": "why it could not be watched, in words; empty where it was",
        "cause": "the code of why; empty where it was watched or no code is known",
    },
    "regions": {
        "pass_id": "the pass", "pts": "tick of the frame", "source": "drawn, pressed, or found by the program",
        "fitted": "whether it was told from motion or looks", "x": "left, pixels", "y": "top, pixels",
        "w": "width, pixels", "h": "height, pixels", "length": "of its long axis, pixels",
        "angle_deg": "of its long axis, degrees clockwise from right, or null", "confidence": "0 to 1",
    },
    "flags": {
        "clip_id": "the clip", "pass_id": "the pass, or null for a keeper's own", "onset_pts": "tick where it starts",
        "full_pts": "tick where it is complete", "release_pts": "tick where it lets go, or null",
        "score": "probability that it is a pull, 0 to 1, or null", "pull": "how far, abdomen lengths, or null",
        "tilt_deg": "change of angle, degrees, clockwise, or null",
        "direction_deg": "where to on the screen, degrees clockwise from right, or null",
        "because": "why it is proposed", "doubts": "what speaks against it",
        "flagged": "false for weaker candidates below the flagging score",
        "features": "named numbers the score was computed from", "parameters": "version of the pass's parameters",
        "by": "the keeper who added it, or empty",
        "proposed_as": "of a keeper's own: the pass's flag of the same pull, 0 where none",
    },
    "calls": {
        "flag_id": "the flag", "reviewer": "who decided", "decision": "the decision", "signs": "what it rests on",
        "palp": "left, right or empty", "cause": "what it was, for something else", "note": "note",
        "made_at": "when, RFC 3339 UTC", "carried_from": "the call of an older pass it was carried over from, or 0",
    },
    "reviewed": {
        "clip_id": "the clip", "reviewer": "who watched it", "start_pts": "first tick",
        "end_pts": "first tick after it", "note": "note",
    },
    "outcomes": {
        "session_id": "the session",
        "kind": "laid, pulled, eggs, eggs with legs, larvae, nymphs, infertile, eaten, moulted, lost, none yet",
        "date": _DATE, "counts": "numbers by stage", "note": "note", "sac": "which sac of the pairing, from 1",
        "temperature_c": "of the sac, degrees Celsius, or null", "humidity_pct": "of the sac, percent, or null",
        "kept": "with her, by hand, or empty",
    },
    "reminders": {
        "session_id": "the session", "date": "ISO date", "text": "what to do", "done": "whether it is done",
        "uid": "its lasting name in calendars",
    },
    "species_notes": {
        "species": "species or genus", "what": "what it is about, such as pairing_to_sac or weak pull",
        "low": "low end of the range, or null", "high": "high end of the range, or null",
        "unit": "days, weeks, months or young", "note": "in words",
    },
}  # fmt: skip
_ACT = {
    "code": "never changes its meaning", "label": "what the keeper reads", "actor": "who does it",
    "lasting": "whether it lasts", "definition": "where it begins and ends", "key": "its key, or empty",
    "source": "where the act comes from",
}  # fmt: skip


_WORD_LIST = {"type": "array", "items": {"type": "string"}}


def json_schema() -> dict[str, Any]:
    """The JSON Schema of an exported book."""
    lists: dict[str, Any] = {
        name: {
            "type": "array",
            "description": ABOUT[name],
            "items": _object(kind.type, {"id": "number, above 0, once in its list", **WORDS[name]}),
        }
        for name, kind in LISTS.items()
    }
    text = {"type": "string"}
    acts = {"type": "array", "minItems": 1, "items": _object(Act, _ACT)}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": FORMAT,
        "description": (
            "A whole clipmark book. Lists refer to each other by id. A tick t of a clip lies at offset + "
            "(t - first_pts) * time_base seconds on the session clock. Spans are half-open."
        ),
        "type": "object",
        "required": ["format"],
        "additionalProperties": False,
        "properties": {
            "format": {"const": FORMAT},
            "made_by": text,
            **lists,
            "act_sets": {
                "type": "array",
                "description": "Sets of acts that the keeper changed; at most one is in use.",
                "items": {
                    "type": "object",
                    "required": ["name", "in_use", "acts"],
                    "additionalProperties": False,
                    "properties": {"name": text, "in_use": {"type": "boolean"}, "acts": acts},
                },
            },
            "traces": {
                "type": "array",
                "description": (
                    "Traces of passes: data is base64 of zlib of float32, little-endian, one column after the other "
                    "as named in columns, frames numbers each; NaN where nothing was followed."
                ),
                "items": {
                    "type": "object",
                    "required": ["pass_id", "frames", "columns", "data"],
                    "additionalProperties": False,
                    "properties": {
                        "pass_id": {"type": "integer", "minimum": 1},
                        "frames": {"type": "integer", "minimum": 0},
                        "columns": {
                            "type": "array",
                            "minItems": 1,
                            "maxItems": 64,
                            "uniqueItems": True,
                            "items": text,
                        },
                        "data": {"type": "string", "contentEncoding": "base64"},
                    },
                },
            },
        },
    }


def _object(type_: type, words: dict[str, str]) -> dict[str, Any]:
    known = hints(type_)
    required = [one.name for one in fields(type_) if one.default is MISSING]
    properties = {}
    for name, hint in known.items():
        properties[name] = {**_json_type(hint), "description": words[name]}
        if name == "id" or name in PARENTS:
            properties[name]["minimum"] = 1
    return {"type": "object", "required": required, "additionalProperties": False, "properties": properties}


def _json_type(hint: Any) -> dict[str, Any]:
    if NoneType in get_args(hint):
        inside = _json_type(next(one for one in get_args(hint) if one is not NoneType))
        return {**inside, "type": [inside["type"], "null"]}
    if hint is Fraction:
        return {"type": "string", "pattern": "^-?[0-9]{1,19}/[0-9]{1,19}$"}
    if get_origin(hint) is tuple:
        inside_args = get_args(hint)
        if inside_args[-1] is Ellipsis:
            return {"type": "array", "items": _json_type(inside_args[0])}
        each = [_json_type(one) for one in inside_args]
        return {"type": "array", "prefixItems": each, "minItems": len(each), "maxItems": len(each)}
    if issubclass(hint, StrEnum):
        return {"type": "string", "enum": [one.value for one in hint]}
    if hint is int:
        return {"type": "integer", "minimum": -LARGEST, "maximum": LARGEST}
    return {"type": {bool: "boolean", float: "number", str: "string"}[hint]}
