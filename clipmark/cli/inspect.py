"""What a film file is: its streams, the frames that exist, first and last time, even or uneven times, how it is
turned, its shots, its damage. The whole film is read for shots and damage, unless --quick is given.

--json prints one object a clip, each on a line of its own; times ending in _s are seconds from the first frame.

example: clipmark inspect pairing.mp4
         clipmark inspect *.mp4 --json --quick
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.errors import ClipmarkError
from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.media.survey import Survey


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("clips", type=Path, nargs="+", metavar="CLIP", help="film files")
    parser.add_argument("--quick", action="store_true", help="do not read the whole film: no shots, no damage inside")
    parser.add_argument("--json", action="store_true", help="print for machines, one line a clip")


def run(arguments: argparse.Namespace) -> int:
    failed = 0
    for number, path in enumerate(arguments.clips):
        try:
            survey, shots = _look(path, arguments.quick)
        except ClipmarkError as error:
            failed = 1
            print(error, file=sys.stderr)
            if arguments.json:
                print(json.dumps({"path": str(path), "error": str(error)}, ensure_ascii=False))
            continue
        if arguments.json:
            print(json.dumps(_document(survey, shots), ensure_ascii=False))
        else:
            if number:
                print()
            _tell(survey, shots)
    return failed


def _look(path: Path, quick: bool) -> tuple[Survey, list[Any] | None]:
    """The film's facts; its shots where the whole of it was read."""
    from clipmark.cli.terminal import Bar
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.media.survey import survey

    clip = open_clip(path, Bar("reading the index"))
    if quick:
        return survey(clip, None, None), None
    from clipmark.motion.scan import find_shots

    film = GreyFilm(clip)
    shots = find_shots(film, Bar("looking for cuts"))
    return survey(clip, film.lost, film.damaged), list(shots)


def _document(survey: Survey, shots: list[Any] | None) -> dict[str, Any]:
    clip, index = survey.clip, survey.clip.index
    sound = clip.sound
    seconds = index.seconds()
    return {
        "format": "clipmark-inspect/1",
        "path": str(clip.path),
        "size_bytes": clip.size_bytes,
        "fingerprint": clip.fingerprint,
        "container": clip.container,
        "streams": [dict(stream) for stream in survey.streams],
        "picture": {
            "stream": clip.stream,
            "codec": clip.codec,
            "pixel_format": clip.pixel_format,
            "width": clip.width,
            "height": clip.height,
            "rotation": clip.rotation,
            "mirrored": clip.turn.mirrored,
            "pixel_aspect": f"{clip.pixel_aspect.numerator}:{clip.pixel_aspect.denominator}",
        },
        "frames": len(index),
        "keyframes": int(index.keyframe.sum()),
        "first_s": 0.0,
        "last_s": float(seconds[-1]),
        "end_s": float(index.end_seconds()),
        "file_start_s": float(int(index.pts[0]) * index.time_base),
        "time_base": f"{index.time_base.numerator}/{index.time_base.denominator}",
        "even": index.even,
        "frames_per_s": None if index.rate is None else float(index.rate),
        "gaps_s": None if survey.gaps is None else dict(zip(("least", "middle", "most"), survey.gaps, strict=True)),
        "times_exact": clip.times_exact,
        "inexact": _spans(clip.inexact),
        "sound": None
        if sound is None
        else {
            "stream": sound.stream,
            "codec": sound.codec,
            "rate": sound.rate,
            "channels": sound.channels,
            "start_s": None if sound.start is None else float(sound.start),
        },
        "shots": None
        if shots is None
        else [
            {
                "start": shot.start,
                "whole": shot.whole,
                "end": shot.end,
                "start_s": float(seconds[shot.start]),
                "begins": shot.begins,
            }
            for shot in shots
        ],
        "lost": _spans(survey.lost),
        "damaged": _spans(survey.hurt),
        "notes": list(survey.damage),
    }


def _spans(spans: tuple[tuple[int, int], ...] | None) -> list[dict[str, int]] | None:
    return None if spans is None else [{"start": start, "end": end} for start, end in spans]


def _tell(survey: Survey, shots: list[Any] | None) -> None:
    clip, index = survey.clip, survey.clip.index
    print(clip.path)
    turned = f", turned by {clip.rotation}° for showing" if clip.rotation else ""
    mirrored = ", mirrored" if clip.turn.mirrored else ""
    aspect = (
        f", pixels {clip.pixel_aspect.numerator}:{clip.pixel_aspect.denominator}" if clip.pixel_aspect != 1 else ""
    )
    _line("picture", f"{clip.codec} {clip.width}x{clip.height} {clip.pixel_format}{turned}{mirrored}{aspect}")
    last, end = clock(index.exact_seconds(len(index) - 1)), clock(index.end_seconds())
    _line("frames", f"{len(index)}: first at {clock(0)}, last at {last}, film ends at {end}")
    _line("times", _times(survey))
    if index.pts[0]:
        _line("", f"the file's own clock shows {clock(int(index.pts[0]) * index.time_base)} at the first frame")
    sound = clip.sound
    if sound is None:
        _line("sound", "none")
    else:
        begins = "" if sound.start is None else f", begins at {clock(sound.start)}"
        channels = "1 channel" if sound.channels == 1 else f"{sound.channels} channels"
        _line("sound", f"{sound.codec}, {sound.rate} samples/s, {channels}{begins}")
    others = [
        s for s in survey.streams if s["number"] != clip.stream and (sound is None or s["number"] != sound.stream)
    ]
    for stream in others:
        _line("also", f"stream {stream['number']}: {stream['kind']} ({stream['codec']}), not used")
    _line("file", f"{clip.container}, {clip.size_bytes} bytes, fingerprint {clip.fingerprint}")
    if shots is not None:
        _line("shots", str(len(shots)))
        for shot in shots:
            blend = f", blended up to frame {shot.whole - 1}" if shot.whole > shot.start else ""
            _line("", f"{clock(index.exact_seconds(shot.start))}  frame {shot.start}  ({shot.begins}{blend})")
    nothing = "none seen (without reading the whole film)" if survey.lost is None else "none found"
    for number, sentence in enumerate(survey.damage or (nothing,)):
        _line("" if number else "damage", sentence)


def _times(survey: Survey) -> str:
    index = survey.clip.index
    rate = "" if index.rate is None else f"{float(index.rate):.6g} frames/s"
    if survey.gaps is None:
        return "a single frame"
    if index.even:
        return f"even, {rate}"
    least, middle, most = survey.gaps
    return f"uneven: {least:.3f} to {most:.3f} s from frame to frame, mostly {middle:.3f} s ({rate} on average)"


def _line(label: str, text: str) -> None:
    print(f"  {label:<8} {text}")
