"""When a film was begun, as its file tells it: good enough to order clips, seldom to the second."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import av

from clipmark.media.open_film import open_container


@dataclass(frozen=True, slots=True)
class Begun:
    """`at`: when the first frame was taken. `told`: "recorded" where the camera wrote it into the film, "saved" where
    only the file's own time is known (the end of the recording, if the file was copied with its time)."""

    at: datetime
    told: str


def begun(path: Path, length: Fraction) -> Begun:
    """When a film of `length` seconds was begun.

    Raises:
        ClipUnreadable: the file cannot be opened. OSError: it is not there.
    """
    written = _recorded(path)
    if written is not None:
        return Begun(written, "recorded")
    saved = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    return Begun(saved - timedelta(seconds=float(length)), "saved")


def _recorded(path: Path) -> datetime | None:
    with open_container(path, glance=True) as container:
        places: list[dict[str, str]] = [dict(container.metadata)]
        places += [dict(stream.metadata) for stream in container.streams if isinstance(stream, av.video.VideoStream)]
    for metadata in places:
        for key in ("com.apple.quicktime.creationdate", "creation_time", "date"):
            at = parse_time(metadata.get(key, ""))
            if at is not None:
                return at
    return None


def parse_time(text: str) -> datetime | None:
    """A date with a time of day, in UTC where nothing else is said; None for anything else and for the empty dates of
    cameras whose clock was never set (before 1990)."""
    if len(text) < 16:
        return None
    try:
        at = datetime.fromisoformat(text.strip().replace("Z", "+00:00"))
    except ValueError:
        return None
    at = at if at.tzinfo else at.replace(tzinfo=UTC)
    return at.astimezone(UTC) if at.year >= 1990 else None


def offsets(times: list[datetime]) -> list[Fraction]:
    """Places on the session clock for clips begun at these times: the earliest at 0, exact to the microsecond."""
    first = min(times)
    return [Fraction(round((at - first) / timedelta(microseconds=1)), 1_000_000) for at in times]
