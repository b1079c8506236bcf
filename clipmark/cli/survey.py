"""Where in a film anything moves, without an outline: stretches with times, cuts, steps of the light.

First the sizes of the packets are read, which takes no decoding; then the keyframes are decoded small and laid on
each other; then frames in between, where it matters most. What could not be told is said.

example: clipmark survey pairing.mp4
         clipmark survey pairing.mp4 --json
         clipmark survey pairing.mp4 --quick        packet sizes only
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from clipmark.motion.survey.values import Survey


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", metavar="CLIP", type=Path, help="the film file")
    parser.add_argument("--quick", action="store_true", help="packet sizes only: at once, and rough")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(arguments: argparse.Namespace) -> int:
    from clipmark.cli.terminal import Bar
    from clipmark.media.clip import open_clip
    from clipmark.report.survey_file import packets_of_clip, survey_clip, survey_document

    clip = open_clip(arguments.what, Bar("reading the index"))
    found = packets_of_clip(clip) if arguments.quick else survey_clip(clip, Bar("looking"))
    if arguments.json:
        print(json.dumps(survey_document(clip, found), ensure_ascii=False, indent=1))
    else:
        print("\n".join(lines_of(clip.path.name, found)))
    return 0


_RESTS_ON = {
    "packets": "packet sizes only",
    "keyframes": "decoded pictures",
    "pass": "the motion pass",
}


def lines_of(name: str, found: Survey) -> list[str]:
    """What a person reads of a survey."""
    from clipmark.timebase import clock

    def span(start: float, end: float) -> str:
        return f"{clock(start, 0)} to {clock(end, 0)}"

    moving = found.moving_seconds
    lines = [
        f"{name}: something moves for {clock(moving, 0)} of {clock(found.seconds, 0)}, in {len(found.moving)} "
        f"stretch{'' if len(found.moving) == 1 else 'es'}; rests on {_RESTS_ON[found.rests_on]}"
    ]
    if not found.tells:
        lines[0] = f"{name}, {clock(found.seconds, 0)}: what moves cannot be told from {_RESTS_ON[found.rests_on]}"
    lines += [f"note     {note}" for note in found.notes]
    for one in found.moving:
        rough = " (packet sizes only)" if one.rests_on == "packets" and found.rests_on != "packets" else ""
        where = "" if one.box is None else f"  {100 * one.share:.1f} % of the picture"
        lines.append(f"moving   {span(one.start_s, one.end_s)}{where}{rough}")
    lines += [f"cut      {clock(at, 3)}" for at in found.cuts_s]
    lines += [f"dissolve {clock(one.start_s, 3)} to {clock(one.end_s, 3)}" for one in found.dissolves]
    lines += [f"light    {clock(at, 1)}" for at in found.light_s]
    lines += [f"camera   {clock(one.start_s, 1)} to {clock(one.end_s, 1)}" for one in found.camera]
    lines += [f"unsure   {span(one.start_s, one.end_s)}: {one.what}" for one in found.unsure]
    return lines
