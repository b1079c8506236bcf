"""How good the draft is, on rendered pairings with truth (tests/film/trial.py), with outlines and without.

    python -m tests.benchmarks.draft 0 6          seeds 0..5, with and without outlines
    python -m tests.benchmarks.draft 5000 5012    sealed seeds: sums only

An act counts as found where a proposal of its kind begins within a second of it (a moment) or overlaps it by half of
both together (a stretch; one second of slack at each end). Printed for each kind: found, missed, false, F; then false
proposals a minute, how far probabilities and truth lie apart (calibration), and the presses that a simulated keeper
needs for the complete timeline with the draft and without.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from clipmark.draft.values import Proposal
from clipmark.media.clip import open_clip
from clipmark.report.draft_file import draft_clip
from clipmark.report.exports.scan_file import read_boxes
from tests.film.trial import trial

SLACK_S = 1.0
TAKE, LEAVE, MARK_MOMENT, MARK_STRETCH, FIX_END = 1, 1, 4, 7, 3  # presses: going to it, stepping, the act's key


def matches(one: Proposal, act: dict[str, Any]) -> bool:
    """Whether a proposal is this act."""
    if one.act != act["act"] or one.actor != act["actor"]:
        return False
    if act["end_s"] is None or one.end_s is None:
        return abs(one.start_s - act["start_s"]) <= SLACK_S
    if abs(one.start_s - act["start_s"]) <= SLACK_S and abs(one.end_s - act["end_s"]) <= SLACK_S:
        return True
    shared = min(one.end_s, act["end_s"]) - max(one.start_s, act["start_s"])
    return shared >= 0.5 * (max(one.end_s, act["end_s"]) - min(one.start_s, act["start_s"]))


def paired(
    found: Sequence[Proposal], acts: Sequence[dict[str, Any]]
) -> list[tuple[Proposal | None, dict[str, Any] | None]]:
    """Proposals and acts side by side, the likeliest proposals first; None where one has no partner."""
    left = list(acts)
    pairs: list[tuple[Proposal | None, dict[str, Any] | None]] = []
    for one in sorted(found, key=lambda p: -p.probability):
        partner = next((act for act in left if matches(one, act)), None)
        if partner is not None:
            left.remove(partner)
        pairs.append((one, partner))
    return [*pairs, *((None, act) for act in left)]


def presses(pairs: Iterable[tuple[Proposal | None, dict[str, Any] | None]]) -> tuple[int, int]:
    """Key presses for the complete timeline with the draft, and without it."""
    drafted = alone = 0
    for one, act in pairs:
        if act is not None:
            alone += MARK_MOMENT if act["end_s"] is None else MARK_STRETCH
        if one is not None and act is not None:
            far = act["end_s"] is not None and one.end_s is not None and abs(one.end_s - act["end_s"]) > 0.5
            drafted += TAKE + (FIX_END if far or abs(one.start_s - act["start_s"]) > 0.5 else 0)
        elif one is not None:
            drafted += LEAVE
        elif act is not None:
            drafted += MARK_MOMENT if act["end_s"] is None else MARK_STRETCH
    return drafted, alone


def calibration(told: Sequence[tuple[float, bool]]) -> float:
    """Mean distance between probability and share found, over bins of a fifth, weighted by how many lie in each."""
    chance = np.array([p for p, _ in told])
    right = np.array([r for _, r in told], float)
    if not len(chance):
        return 0.0
    far = 0.0
    for low in np.arange(0, 1, 0.2):
        inside = (chance >= low) & (chance < low + 0.2 + (low > 0.7))
        if inside.any():
            far += inside.mean() * abs(float(chance[inside].mean() - right[inside].mean()))
    return far


def measure(seeds: range, outlined: bool, verbose: bool) -> None:
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    told: list[tuple[float, bool]] = []
    minutes = 0.0
    drafted = alone = 0
    for seed in seeds:
        path, truth = trial(seed)
        clip = open_clip(path)
        boxes = []
        if outlined:
            with tempfile.TemporaryDirectory() as folder:
                file = Path(folder) / "boxes.json"
                file.write_text(json.dumps(truth["boxes"]))
                boxes = read_boxes(file, clip)
        found = draft_clip(clip, boxes)
        acts = [act for act in truth["acts"] if outlined or act["act"] != "abdomen pull"]
        pairs = paired(found, acts)
        minutes += truth["clip"]["duration_s"] / 60
        for one, act in pairs:
            kind = act["act"] if act else one.act  # type: ignore[union-attr]
            counts[kind][0 if one and act else 1 if act else 2] += 1
            if one is not None:
                told.append((one.probability, act is not None))
            if verbose:
                _print(seed, one, act)
        more = presses(pairs)
        drafted, alone = drafted + more[0], alone + more[1]
    print(f"{'with' if outlined else 'without'} outlines, {len(seeds)} films, {minutes:.1f} minutes")
    print("act | found | missed | false | F")
    for kind, (tp, fn, fp) in sorted(counts.items()):
        print(f"{kind} | {tp} | {fn} | {fp} | {2 * tp / max(2 * tp + fn + fp, 1):.2f}")
    false = sum(c[2] for c in counts.values())
    print(f"false proposals a minute {false / minutes:.2f}; calibration {calibration(told):.3f}")
    print(f"presses {drafted} with the draft, {alone} without: {drafted / max(alone, 1):.2f}\n")


def _print(seed: int, one: Proposal | None, act: dict[str, Any] | None) -> None:
    def span(start: float, end: float | None) -> str:
        return f"{start:.2f}" if end is None else f"{start:.2f}-{end:.2f}"

    mine = "-" if one is None else f"{one.act} ({one.actor}) {span(one.start_s, one.end_s)} {one.probability:.2f}"
    true = "-" if act is None else f"{act['act']} ({act['actor']}) {span(act['start_s'], act['end_s'])}"
    print(f"  {seed} {'ok   ' if one and act else 'MISS ' if act else 'FALSE'} {mine} | {true}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("stop", type=int, nargs="?", default=6)
    parser.add_argument("--each", action="store_true", help="print every act of open seeds")
    chosen = parser.parse_args()
    seeds = range(chosen.first, chosen.stop)
    for outlined in (True, False):
        measure(seeds, outlined, chosen.each and chosen.stop <= 1000)


if __name__ == "__main__":
    main()
