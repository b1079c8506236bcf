"""How often the signs proposed for a pull are right, on rendered film with known signs (tests/film/signed.py).

    python -m tests.benchmarks.signs 0 4            his outline and hers
    python -m tests.benchmarks.signs 0 4 --hers     her outline alone
    python -m tests.benchmarks.signs 5100 5104      sealed seeds: sums only

Printed for each sign: right, wrong, "cannot be seen", and the share that is right where it is not "cannot be seen".
Her body angle counts as changed from 4° on, he as stretched from 5 % of his length on; how near he was is right
within 0.4 of her abdomen's length.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import defaultdict
from pathlib import Path
from typing import Any

from clipmark.draft.values import ANGLE_CHANGED, MALE_STRETCHED, NEAR, PALPS_STILL, PULL, SignSeen
from clipmark.media.clip import open_clip
from clipmark.report.draft_file import draft_clip
from clipmark.report.exports.scan_file import read_boxes
from tests.film.signed import signed

_SAME_S, _TURNED, _LONGER, _NEAR = 0.6, 4.0, 0.05, 0.4


def right(one: SignSeen, truth: dict[str, Any]) -> bool:
    """Whether a sign is told as it is."""
    if one.sign == PALPS_STILL:
        return one.seen == truth["still"]
    if one.sign == ANGLE_CHANGED:
        return one.seen == (abs(truth["turn_deg"]) >= _TURNED)
    if one.sign == MALE_STRETCHED:
        return one.seen == (truth["stretch"] >= _LONGER)
    return one.figure is not None and abs(one.figure - truth["near"]) <= _NEAR


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("stop", type=int, nargs="?", default=4)
    parser.add_argument("--hers", action="store_true", help="without his outline")
    chosen = parser.parse_args()
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for seed in range(chosen.first, chosen.stop):
        path, truth = signed(seed)
        clip = open_clip(path)
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "boxes.json"
            file.write_text(json.dumps(truth["her" if chosen.hers else "boxes"]))
            boxes = read_boxes(file, clip)
        for pull in (one for one in draft_clip(clip, boxes) if one.act == PULL):
            k = min(range(len(truth["pulls"])), key=lambda i: abs(truth["pulls"][i]["onset_s"] - pull.start_s))
            if abs(truth["pulls"][k]["onset_s"] - pull.start_s) > _SAME_S:
                continue
            for sign in pull.signs:
                if sign.sign in (PALPS_STILL, ANGLE_CHANGED, MALE_STRETCHED, NEAR):
                    column = 2 if sign.seen is None else 0 if right(sign, truth["signs"][k]) else 1
                    sums[sign.sign][column] += 1
    print("sign | right | wrong | cannot be seen | share right")
    for name, (good, wrong, blind) in sums.items():
        print(f"{name} | {good} | {wrong} | {blind} | {good / max(good + wrong, 1):.2f}")


if __name__ == "__main__":
    main()
