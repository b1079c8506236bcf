"""Drumming in picture and sound: bouts with their rate in hertz, how regular they are, and whether both agree.

Give --region as the time in seconds at which you looked, and the box round the palps or legs that drum, in pixels
of the picture as displayed. The rhythm is then looked for in the shot that shows that time. Without a region
clipmark finds by itself where something beats. A rhythm faster than half the frame rate
is not resolvable in the picture.

example: clipmark rhythm pairing.mp4 --region 12.5,250,140,90,60
         clipmark rhythm pairing.mp4 --json
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from clipmark.cli.terminal import Bar
from clipmark.errors import ClipmarkError, WrongUsage
from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.motion.rhythm.values import Agreement, Bout, Cells

Region = tuple[float, float, float, float]


class RegionOutside(ClipmarkError):
    def __init__(self, what: str, width: int, height: int, seconds: float):
        super().__init__(
            f"The region's {what} lies outside the film ({width} × {height} pixels, {seconds:.3f} s). "
            "Give the time and the box as you see them in the picture."
        )


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("clip", metavar="CLIP", help="the film file")
    parser.add_argument("--region", metavar="T,X,Y,W,H", help="when and where to look: seconds, then pixels")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(arguments: argparse.Namespace) -> int:
    region = parse_region(arguments.region) if arguments.region else None
    from clipmark.media.clip import open_clip

    document = rhythm_document(open_clip(arguments.clip), region)
    if arguments.json:
        print(json.dumps(document, ensure_ascii=False, indent=1))
    else:
        print("\n".join(_lines(document)))
    return 0


def parse_region(text: str) -> tuple[float, Region]:
    """Seconds and box of `T,X,Y,W,H`.

    Raises:
        WrongUsage: not five numbers, or a box without size.
    """
    try:
        t, x, y, w, h = (float(part) for part in text.split(","))
    except ValueError:
        raise WrongUsage(f"“{text}” is no region. Write five numbers, such as 12.5,250,140,90,60.") from None
    if not (t >= 0 and w > 0 and h > 0 and max(abs(x), abs(y), t, w, h) < 1e9):
        raise WrongUsage(f"The region “{text}” needs a time from 0 on, and a width and height above 0.")
    return t, (x, y, w, h)


class _Part:
    """Frames [start, end) of a film, as a film."""

    def __init__(self, film: Any, start: int, end: int):
        self.times, self.width, self.height = film.times, film.width, film.height
        self._film, self._start, self._end = film, start, end

    def frames(self) -> Any:
        for number, grey in self._film.frames():
            if number >= self._end:
                return
            if number >= self._start:
                yield number, grey


def rhythm_document(clip: Clip, region: tuple[float, Region] | None) -> dict[str, Any]:
    """Everything that was found in one film, as plain values (format clipmark-rhythm/1).

    Raises:
        RegionOutside: the region's time or box is not in the film.
    """
    import numpy as np

    from clipmark.media.frames.grey import GreyFilm
    from clipmark.media.sound.clip_sound import read_sound
    from clipmark.motion.rhythm.agreement import agreements, doubt_folded, settle_double
    from clipmark.motion.rhythm.heard import heard_bouts
    from clipmark.motion.rhythm.onsets import onsets
    from clipmark.motion.rhythm.trains import all_trains
    from clipmark.motion.rhythm.values import half_rate
    from clipmark.motion.scan import find_shots

    film: Any = GreyFilm(clip)
    box = None
    if region:
        at, box = region
        end = float(clip.index.end_seconds())
        if at >= end:
            raise RegionOutside("time", clip.width, clip.height, end)
        frame = clip.index.frame_at(at)
        shot = next(s for s in find_shots(film, Bar("shots")) if s.start <= frame < s.end)
        film = _Part(film, shot.start, shot.end)
    limit = half_rate(film.times)
    sound = read_sound(clip)
    strikes, heard = film.times[:0], []
    if sound:
        strikes = onsets(sound.samples, sound.rate) + float(sound.start)
        trains = all_trains(sound.samples, sound.rate, float(sound.start), Bar("sound"))
        heard = heard_bouts(trains, strikes, limit)
        strikes = np.unique(np.concatenate([strikes, *(t.times for t in trains)]))
    try:
        looked = _looked(film, box)
    except ValueError as error:
        raise RegionOutside("box", clip.width, clip.height, float(clip.index.end_seconds())) from error
    seen, agreed = [], []
    for bout, cells in looked:
        (told,) = doubt_folded(settle_double([bout], heard), heard, film.times)
        seen.append(told)
        agreed += agreements(cells, [told], heard, strikes)
    return _document(clip, region, limit, strikes.tolist(), [*seen, *heard], agreed)


def _looked(film: Any, box: Region | None) -> list[tuple[Bout, Cells]]:
    """Bouts of the picture with the cells that show them: anywhere, or in the box that was given.

    Raises:
        ValueError: the box does not touch the picture.
    """
    from clipmark.motion.rhythm.beating import Looking
    from clipmark.motion.rhythm.gathering import Gathering
    from clipmark.motion.rhythm.seen import picture_bouts

    gathering = None if box is None else Gathering(film.width, film.height, box)
    looking, bar = Looking(film.times), Bar("picture")
    for number, grey in film.frames():
        looking.take(number, grey)
        if gathering:
            gathering.take(number, grey)
        bar.advance(number + 1, len(film.times))
    found = [(b.bout, b.cells) for b in looking.found() if box is None or _touches(film, b.place, box)]
    if gathering:
        cells, whole = gathering.cells(film.times)
        long = picture_bouts(cells, whole)
        found = [(bout, c) for bout, c in found if not any(_overlap(bout, one) > 0.4 for one in long)]
        found += [(bout, cells) for bout in long]
    return sorted(found, key=lambda pair: pair[0].start_s)


def _touches(film: Any, place: Region, box: Region) -> bool:
    x, y, w, h = place[0] * film.width, place[1] * film.height, place[2] * film.width, place[3] * film.height
    return min(x + w, box[0] + box[2]) > max(x, box[0]) and min(y + h, box[1] + box[3]) > max(y, box[1])


def _overlap(one: Bout, other: Bout) -> float:
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return shared / max(min(one.end_s - one.start_s, other.end_s - other.start_s), 1e-6)


def _document(
    clip: Clip, region: tuple[float, Region] | None, limit: float, strikes: list[float], bouts: list[Bout],
    agreed: list[Agreement],
) -> dict[str, Any]:  # fmt: skip
    def rounded(value: Any) -> Any:
        return round(value, 4) if isinstance(value, float) else value

    return {
        "format": "clipmark-rhythm/1",
        "clip": {"name": clip.path.name, "frames": len(clip.index), "sound": clip.sound is not None},
        "region": None if region is None else {"time_s": region[0], "box": list(region[1])},
        "resolvable_below_hz": round(limit, 3),
        "bouts": [{k: rounded(v) for k, v in asdict(bout).items()} for bout in bouts],
        "agreements": [{k: rounded(v) for k, v in asdict(a).items()} for a in agreed],
        "strikes_s": [round(s, 4) for s in strikes],
    }


def _lines(document: dict[str, Any]) -> list[str]:
    lines = [f"{document['clip']['name']}: rhythms below {document['resolvable_below_hz']:g} Hz can be seen"]
    if not document["clip"]["sound"]:
        lines.append("This film has no sound.")
    for bout in document["bouts"]:
        rate = "not resolvable" if bout["rate_hz"] is None else f"{bout['rate_hz']:.2f} Hz"
        strikes = "" if bout["strikes"] is None else f", {bout['strikes']} strikes"
        note = f" ({bout['note']})" if bout["note"] else ""
        span = f"{clock(bout['start_s'], 2)} to {clock(bout['end_s'], 2)}"
        firm = "regularity" if bout["source"] == "picture" else "vector strength"
        lines.append(f"{bout['source']:<8} {span}  {rate}, {firm} {bout['regularity']:.2f}{strikes}{note}")
    for one in document["agreements"]:
        twice = ", two taps a cycle" if one["ratio"] == 2 else ""
        span = f"{clock(one['start_s'], 2)} to {clock(one['end_s'], 2)}"
        lines.append(f"picture and sound agree {span}: {one['rate_hz']:.2f} Hz{twice}")
    if not document["bouts"]:
        lines.append("No rhythm was found in the picture or in the sound.")
    elif not document["agreements"]:
        lines.append("No rhythm is shared by picture and sound.")
    return lines
