"""A clip's draft as JSON (format clipmark-draft/1), and the one call that drafts a clip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clipmark.draft.make import Sources, Watching, animals, draft
from clipmark.draft.values import PULL, Proposal, SignSeen
from clipmark.media.clip import Clip
from clipmark.motion.result import Box, Ticks
from clipmark.progress import SILENT, Progress
from clipmark.report.signs_seen import Pulled, signs_seen

FORMAT = "clipmark-draft/1"


class _Passing:
    """A film whose pictures are watched while the motion pass reads it for the first time."""

    def __init__(self, film: Any, watching: Watching):
        self.times, self.width, self.height = film.times, film.width, film.height
        self._film, self._watching, self._read = film, watching, False

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        first, self._read = not self._read, True
        for number, picture in self._film.frames(start, stop):
            if first:
                self._watching.take(number, picture)
            yield number, picture


def draft_clip(clip: Clip, boxes: Sequence[Box] = (), progress: Progress = SILENT) -> list[Proposal]:
    """Proposed acts of a clip, in order of time. With outlines the motion pass runs as well; the film is read once.

    Raises:
        ClipUnreadable: the film has gone, or nothing of it can be decoded.
        Cancelled: through `progress`.
    """
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.media.sound.clip_sound import read_sound
    from clipmark.motion.rhythm.heard import heard_bouts
    from clipmark.motion.rhythm.onsets import onsets
    from clipmark.motion.rhythm.trains import all_trains
    from clipmark.motion.rhythm.values import half_rate
    from clipmark.motion.scan import film_width, scan
    from clipmark.motion.whole_frames import on_whole_frames

    width = film_width(clip.width, clip.height, boxes) if boxes else None
    film = GreyFilm(clip, width)
    watching, result = Watching(film.times), None
    if boxes:
        boxes = on_whole_frames(film, boxes)
        ticks = Ticks(clip.index.pts, int(clip.index.end_pts))
        result = scan(_Passing(film, watching), boxes, progress=progress, ticks=ticks)
    else:
        for number, picture in film.frames():
            watching.take(number, picture)
            progress.advance(number + 1, len(film.times))
    watching.finish()
    heard = []
    sound = read_sound(clip, 16_000)
    if sound:
        trains = all_trains(sound.samples, sound.rate, float(sound.start))
        strikes = onsets(sound.samples, sound.rate) + float(sound.start)
        heard = heard_bouts(trains, strikes, half_rate(film.times))
    sources = Sources(watching.seen, watching.bouts(), heard, boxes, result, film.times, (clip.width, clip.height))
    return _with_signs(clip, sources, draft(sources), progress)


def _with_signs(clip: Clip, sources: Sources, found: list[Proposal], progress: Progress) -> list[Proposal]:
    """The same proposals, pulls with the signs that show round them."""
    result = sources.result
    if result is None:
        return found
    flags = [flag for flag in result.flags if flag.flagged]
    pulls = [Pulled(flag.onset, flag.full, flag.release, flag.pull) for flag in flags]
    _, him, _ = animals(sources)
    told = signs_seen(clip, result.trace, sources.boxes, pulls, result.outlines, him, progress)
    by_start = {float(sources.times[flag.onset]): signs for flag, signs in zip(flags, told, strict=True)}
    return [replace(p, signs=by_start.get(p.start_s, ())) if p.act == PULL else p for p in found]


def draft_document(clip: Clip, proposals: Sequence[Proposal]) -> dict[str, Any]:
    """The draft as plain values; see docs/schemas/draft.schema.json."""
    return {
        "format": FORMAT,
        "clip": {"name": clip.path.name, "fingerprint": clip.fingerprint, "frames": len(clip.index)},
        "proposals": [
            {
                "act": one.act,
                "actor": one.actor,
                "start_s": round(one.start_s, 3),
                "end_s": None if one.end_s is None else round(one.end_s, 3),
                "probability": round(min(max(one.probability, 0.0), 1.0), 3),
                "because": one.because,
                **({"signs": [_sign(sign) for sign in one.signs]} if one.signs else {}),
            }
            for one in proposals
        ],
    }


def _sign(one: SignSeen) -> dict[str, Any]:
    return {"sign": one.sign, "seen": one.seen, "figure": one.figure, "unit": one.unit, "because": one.because}
