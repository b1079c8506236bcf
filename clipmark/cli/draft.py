"""Acts proposed for a film, for you to take or leave: what, who, from, to, how probable, and why.

Without a boxes file the animals are found by how they move, and which is which is a guess. With outlines (the same
file as for clipmark scan) pulls of her abdomen are proposed too. A proposal is no mark: nothing counts it.

example: clipmark draft pairing.mp4
         clipmark draft pairing.mp4 --boxes pairing.boxes.json --json
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("clip", metavar="CLIP", type=Path, help="the film file")
    parser.add_argument(
        "--boxes", type=Path, metavar="FILE", help="outlines as JSON (docs/schemas/boxes.schema.json)"
    )
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(arguments: argparse.Namespace) -> int:
    from clipmark.cli.terminal import Bar
    from clipmark.draft.signs import sign_words
    from clipmark.media.clip import open_clip
    from clipmark.report.draft_file import draft_clip, draft_document
    from clipmark.report.exports.scan_file import read_boxes
    from clipmark.timebase import clock

    clip = open_clip(arguments.clip, Bar("reading the index"))
    boxes = read_boxes(arguments.boxes, clip) if arguments.boxes else []
    found = draft_clip(clip, boxes, Bar("looking"))
    if arguments.json:
        print(json.dumps(draft_document(clip, found), ensure_ascii=False, indent=1))
        return 0
    print(f"{clip.path.name}: {len(found)} proposal{'' if len(found) == 1 else 's'}, none of them a mark")
    for one in found:
        end = "" if one.end_s is None else f" to {clock(one.end_s, 1)}"
        print(f"{clock(one.start_s, 1)}{end}  {one.act} ({one.actor}), {100 * one.probability:.0f} %: {one.because}")
        for sign in one.signs:
            print(f"      {sign_words(sign)}")
    return 0
