"""The two files of `clipmark scan`: boxes in, flags out (clipmark-scan/1). Schemas lie in docs/schemas/."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from clipmark.book.model import Decision, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.media.clip import Clip
from clipmark.motion.result import Box, Flag, FrameSpan, ScanResult, Shot, UsedOutline
from clipmark.plain_file import odd

FORMAT = "clipmark-scan/1"
PARTS = ("abdomen", "carapace", "male")
_NEEDED = ("time_s", "x", "y")  # w and h as well, or neither: then it is a press


class BoxesUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str, advice: str):
        super().__init__(f"“{path}” cannot be used as boxes: {reason}. {advice}")
        self.path = path


def read_boxes(path: Path | str, clip: Clip) -> list[Box]:
    """The outlines of a boxes file, on the frames of `clip` that were on screen at their times.

    Raises:
        BoxesUnreadable: no such file, no JSON, keys missing, or a box that cannot be meant; the sentence says which.
    """
    path = Path(path)
    entries = _entries(path)
    boxes: list[Box] = []
    for number, entry in enumerate(entries, start=1):
        box = _box(path, number, entry, clip)
        if any((other.frame, other.part) == (box.frame, box.part) for other in boxes):
            raise BoxesUnreadable(
                path,
                f"box {number} stands on the same frame as an earlier one ({box.part})",
                "Leave one of them out.",
            )
        boxes.append(box)
    return boxes


def _entries(path: Path) -> list[Any]:
    if odd(path):
        raise BoxesUnreadable(path, odd(path), "Name a boxes file.")
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise BoxesUnreadable(path, "there is no such file", "Check its name.") from error
    except OSError as error:
        raise BoxesUnreadable(
            path, f"it cannot be opened ({error.strerror})", "Check its name and rights."
        ) from error
    except (ValueError, RecursionError) as error:
        raise BoxesUnreadable(path, "it is not JSON", "docs/formats.md shows how it looks.") from error
    entries = document.get("boxes") if isinstance(document, dict) else None
    if not isinstance(entries, list):
        raise BoxesUnreadable(path, "the list “boxes” is missing", "docs/formats.md shows how it looks.")
    if not entries:
        raise BoxesUnreadable(path, "it holds no box", "Draw at least one round her abdomen.")
    return entries


def _box(path: Path, number: int, entry: Any, clip: Clip) -> Box:
    if not isinstance(entry, dict):
        raise BoxesUnreadable(path, f"box {number} is not a set of named values", "Write time_s, x, y, w, h.")
    missing = [key for key in _NEEDED if key not in entry]
    if missing:
        raise BoxesUnreadable(path, f"box {number} lacks {', '.join(missing)}", "Write time_s, x, y, w, h.")
    part = entry.get("part", "abdomen")
    pressed = "w" not in entry and "h" not in entry
    if not pressed and ("w" not in entry or "h" not in entry):
        lacking = "h" if "w" in entry else "w"
        raise BoxesUnreadable(path, f"box {number} lacks {lacking}", "Write both w and h, or neither for a press.")
    at, x, y = (_number(path, number, key, entry[key]) for key in _NEEDED)
    w, h = (0.0, 0.0) if pressed else (_number(path, number, key, entry[key]) for key in ("w", "h"))
    if part not in PARTS:
        raise BoxesUnreadable(path, f"box {number} is of the unknown part “{part}”", f"Parts are {', '.join(PARTS)}.")
    end = float(clip.index.end_seconds())
    if not 0 <= at < max(end, 1e-9):
        raise BoxesUnreadable(
            path, f"box {number} stands at {at:g} s, outside the film", f"The film runs from 0 to {end:g} s."
        )
    # times are often rounded: one that falls short of a frame by a hair means that frame
    hair = min(0.006, 0.4 * end / len(clip.index))
    frame = clip.index.frame_at(at + hair)
    if pressed:
        if part != "abdomen":
            raise BoxesUnreadable(path, f"box {number} is a press on the {part}", "Draw a box with w and h for it.")
        if not (0 <= x < clip.width and 0 <= y < clip.height):
            raise BoxesUnreadable(
                path,
                f"press {number} lies outside the picture",
                f"The picture is {clip.width} x {clip.height} pixels as displayed.",
            )
        return Box(frame, x, y, 0.0, 0.0)
    if w <= 0 or h <= 0:
        raise BoxesUnreadable(path, f"box {number} has no size ({w:g} x {h:g})", "Give it a width and a height.")
    left, top, right, bottom = max(x, 0.0), max(y, 0.0), min(x + w, clip.width), min(y + h, clip.height)
    if right <= left or bottom <= top or (right - left) * (bottom - top) < 0.5 * w * h:
        raise BoxesUnreadable(
            path,
            f"box {number} lies outside the picture",
            f"The picture is {clip.width} x {clip.height} pixels as displayed.",
        )
    if right - left < 4 or bottom - top < 4:
        raise BoxesUnreadable(
            path, f"box {number} is smaller than 4 pixels", "The abdomen is too small there to be followed."
        )
    return Box(frame, left, top, right - left, bottom - top, part)


def _number(path: Path, number: int, key: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not -1e12 <= value <= 1e12:
        raise BoxesUnreadable(path, f"{key} of box {number} is not a number", "Write plain numbers.")
    return float(value)


def scan_document(clip: Clip, result: ScanResult, weaker: bool = False) -> dict[str, Any]:
    """What `--out` holds; `weaker` adds the candidates below the flagging score, marked "flagged": false."""

    def at(frame: int) -> float:
        return round(float(clip.index.exact_seconds(min(frame, len(clip.index) - 1))), 6)

    def since(pts: int) -> float:
        return round(float((pts - int(clip.index.pts[0])) * clip.index.time_base), 6)

    def until(frame: int) -> float:
        return round(float(clip.index.end_seconds()), 6) if frame >= len(clip.index) else at(frame)

    def span(part: FrameSpan) -> dict[str, Any]:
        body: dict[str, Any] = {"start_s": at(part.start), "end_s": until(part.end)}
        return body | ({"why": part.why} if part.why else {})

    def shot(one: Shot) -> dict[str, Any]:
        body: dict[str, Any] = {"start_s": at(one.start), "end_s": until(one.end), "begins": one.begins}
        body |= {"whole_s": until(one.whole)} if one.whole > one.start else {}
        known = next((s for s in result.sensitivity if s.start == one.start and s.planted), None)
        return body | ({"smallest_pull": known.smallest, "planted": known.planted} if known else {})

    def flag(item: Flag) -> dict[str, Any]:
        return {
            "time_s": since(item.onset_pts),
            "pts": item.onset_pts,
            "full_s": since(item.full_pts),
            "release_s": None if item.release_pts is None else since(item.release_pts),
            "score": round(item.score, 4),
            "pull": round(item.pull, 4),
            "tilt_deg": round(item.tilt_deg, 2),
            "direction_deg": None if item.direction_deg is None else round(item.direction_deg, 1),
            "because": item.because,
            "doubts": list(item.doubts),
            "flagged": item.flagged,
            "features": {name: round(value, 4) for name, value in item.features.items()},
        }

    def outline(one: UsedOutline) -> dict[str, Any]:
        return {
            "time_s": at(one.frame),
            "source": one.source,
            "fitted": one.fitted,
            **{name: round(getattr(one, name), 1) for name in ("x", "y", "w", "h", "length")},
            "angle_deg": None if one.angle_deg is None else round(one.angle_deg, 1),
            "confidence": round(one.confidence, 2),
        }

    return {
        "format": FORMAT,
        "clip": {
            "file": clip.path.name,
            "fingerprint": clip.fingerprint,
            "width": clip.width,
            "height": clip.height,
            "frames": len(clip.index),
            "duration_s": until(len(clip.index)),
            "time_base": [clip.index.time_base.numerator, clip.index.time_base.denominator],
            "first_pts": int(clip.index.pts[0]),
            "times_exact": clip.times_exact,
        },
        "parameters": result.parameters,
        "shots": [shot(one) for one in result.shots],
        "watched": [span(part) for part in result.watched],
        "unwatched": [span(part) for part in result.unwatched],
        "flags": [flag(item) for item in result.flags if weaker or item.flagged],
        "outlines": [outline(one) for one in result.outlines],
        "speed": {"frames_per_s": round(result.frames_per_s, 1), "decode_share": round(result.decode_share, 3)},
    }


def trace_rows(clip: Clip, result: ScanResult) -> tuple[list[str], Iterator[list[str]]]:
    """Header and rows of the trace, one row a frame; empty where nothing was followed. The rows are made one by one:
    those of a film of hours would fill the memory."""
    names = [name for name in result.trace.__slots__ if name != "__weakref__"]
    columns = [np.asarray(getattr(result.trace, name), float) for name in names]
    seconds = clip.index.seconds()

    def rows() -> Iterator[list[str]]:
        for i in range(len(clip.index)):
            cells = ["" if math.isnan(column[i]) else f"{column[i]:.5g}" for column in columns]
            yield [str(i), str(int(clip.index.pts[i])), f"{seconds[i]:.6f}", *cells]

    return ["frame", "pts", "time_s", *names], rows()


def called_flags(sessions: Sequence[SessionRecord]) -> tuple[list[dict[str, float]], list[bool]]:
    """Features of all proposed flags that were called, and whether they were called a pull.

    Confirmed, probable and attempt count as a pull (the abdomen did move), something else does not; flags called
    "not seen" say nothing. Of several calls on one flag the last counts, and a call that was carried to the flag of a
    later pass counts there only.
    """
    features, pulled = [], []
    for record in sessions:
        onwards = {call.carried_from for call in record.calls}
        flags = {flag.id: flag for flag in (*record.flags, *record.older_flags) if flag.features}
        last = {call.flag_id: call for call in sorted(record.calls, key=lambda call: call.id)}
        for flag_id, call in last.items():
            if flag_id in flags and call.decision != Decision.NOT_SEEN and call.id not in onwards:
                features.append(dict(flags[flag_id].features))
                pulled.append(call.decision != Decision.OTHER)
    return features, pulled
