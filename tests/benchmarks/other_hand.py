"""clipmark's commands on film by another hand (`tests/film_other`), which nothing is tuned on. Prints tables.

    python -m tests.benchmarks.other_hand pulls [--off 0 .3 .5 press] [--kinds plain dim ...] [--seeds 0 1]
    python -m tests.benchmarks.other_hand rhythm|draft|survey [--seeds 0 1 2 3]

A flag finds a pull when it lies from half a second before its onset to half a second after its full pull. A pull that
lies in a stretch told as unwatched is counted apart. Films are kept in the folder of CLIPMARK_FILM_CACHE.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from clipmark.cli import main as clipmark
from tests.film_other import courtships, pairings

NEAR_S = 0.5


def folder() -> Path:
    """Where the films are kept."""
    root = Path(os.environ.get("CLIPMARK_FILM_CACHE") or Path(tempfile.gettempdir()) / "clipmark-films")
    return root / "other-hand"


def run(*arguments: str) -> tuple[int, str]:
    """A command's exit code and what it printed."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        try:
            code = clipmark(list(arguments))
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else 1
    return int(code or 0), out.getvalue()


def scan(path: Path, entry: dict[str, float]) -> dict[str, Any] | None:
    """The flags file of one film with one box or press; None where the command refused."""
    with tempfile.TemporaryDirectory() as place:
        boxes, flags = Path(place) / "boxes.json", Path(place) / "flags.json"
        boxes.write_text(json.dumps({"boxes": [entry]}), encoding="utf-8")
        code, _ = run("scan", str(path), "--boxes", str(boxes), "--out", str(flags))
        return json.loads(flags.read_text(encoding="utf-8")) if code == 0 else None


def entry(truth: dict[str, Any], off: str, draw: int) -> dict[str, float]:
    """The box (off by a share of its size) or the press with which a film is scanned."""
    k = truth["start_frame"]
    box = truth["boxes"][k]
    while box is None:
        k += 1
        box = truth["boxes"][k]
    at = {"time_s": truth["times"][k]}
    if off == "press":
        x, y = pairings.press(box, truth["seed"] + 31 * draw)
        return at | {"x": round(x), "y": round(y)}
    x, y, w, h = pairings.sloppy(box, float(off), truth["seed"] + 31 * draw)
    return at | {"x": round(x), "y": round(y), "w": round(w), "h": round(h)}


def judge(truth: dict[str, Any], result: dict[str, Any] | None) -> dict[str, float]:
    """Counts of one scan: pulls, found, unwatched, missed, false flags, watched seconds; refused where no result."""
    pulls = truth["pulls"]
    if result is None:
        return {"pulls": len(pulls), "found": 0, "unwatched": 0, "false": 0, "watched_s": 0, "refused": 1}
    flags = [f["time_s"] for f in result["flags"] if f.get("flagged", True)]
    found, unwatched, used = 0, 0, set()
    for pull in pulls:
        near = [k for k, at in enumerate(flags)
                if pull["onset_s"] - NEAR_S <= at <= pull["full_s"] + NEAR_S and k not in used]  # fmt: skip
        if near:
            used.add(near[0])
            found += 1
        elif any(u["start_s"] <= pull["onset_s"] <= u["end_s"] for u in result["unwatched"]):
            unwatched += 1
    watched = sum(w["end_s"] - w["start_s"] for w in result["watched"])
    return {"pulls": len(pulls), "found": found, "unwatched": unwatched, "false": len(flags) - len(used),
            "watched_s": watched, "refused": 0}  # fmt: skip


def pulls(kinds: Sequence[str], seeds: Iterable[int], offs: Sequence[str]) -> None:
    print(f"{'kind':10} {'boxes':6} pulls found unwatched false   min refused  recall false/min")
    for off in offs:
        total: dict[str, float] = {}
        for kind in kinds:
            mine: dict[str, float] = {}
            for seed in seeds:
                path, truth = pairings.make(kind, seed, folder())
                for key, value in judge(truth, scan(path, entry(truth, off, 0))).items():
                    mine[key] = mine.get(key, 0) + value
            for key, value in mine.items():
                total[key] = total.get(key, 0) + value
            _line(kind, off, mine)
        _line("ALL", off, total)


def _line(kind: str, off: str, sums: dict[str, float]) -> None:
    minutes = sums["watched_s"] / 60
    recall = f"{sums['found'] / sums['pulls']:.2f}" if sums["pulls"] else "-"
    rate = f"{sums['false'] / minutes:.2f}" if minutes else "-"
    print(f"{kind:10} {off:6} {sums['pulls']:5.0f} {sums['found']:5.0f} {sums['unwatched']:9.0f} "
          f"{sums['false']:5.0f} {minutes:5.1f} {sums['refused']:7.0f}  {recall:>6} {rate:>9}",
          flush=True)  # fmt: skip


def overlap(a: dict[str, Any], b: dict[str, Any]) -> float:
    """Shared seconds over the shorter of two spans."""
    shared = min(a["end_s"], b["end_s"]) - max(a["start_s"], b["start_s"])
    return max(shared, 0.0) / max(min(a["end_s"] - a["start_s"], b["end_s"] - b["start_s"]), 1e-6)


def matched(found: list[dict[str, Any]], true: list[dict[str, Any]]) -> list[tuple[int, int]]:
    """Pairs (found, true) that overlap by half of the shorter one, each used once."""
    pairs, used = [], set()
    for j, one in enumerate(true):
        best = max(((overlap(f, one), i) for i, f in enumerate(found) if i not in used), default=(0.0, -1))
        if best[0] >= 0.5:
            used.add(best[1])
            pairs.append((best[1], j))
    return pairs


def rhythm(seeds: Iterable[int]) -> None:
    """Bouts of `clipmark rhythm` against the truth: what can be heard, and what can be seen (2 px and more)."""
    sums = {"heard": [0, 0, 0], "seen": [0, 0, 0]}
    rates: dict[str, list[float]] = {"heard": [], "seen": []}
    for seed in seeds:
        path, truth = courtships.make(seed, folder())
        _, text = run("rhythm", str(path), "--json")
        answer = json.loads(text)
        for name, key in (("heard", "sound"), ("seen", "picture")):
            found = [b for b in answer["bouts"] if key in str(b["source"]) or b["source"] == "both"]
            able = [b for b in truth["bouts"] if (b["heard"] if name == "heard" else b["seen_px"] >= 2)]
            pairs = matched(found, able)
            others = [f for i, f in enumerate(found) if i not in {p[0] for p in pairs}]
            false = [f for f in others if not matched([f], truth["bouts"])]
            sums[name][0] += len(able)
            sums[name][1] += len(pairs)
            sums[name][2] += len(false)
            rates[name] += [abs(_rate(found[i]) / able[j]["rate_hz"] - 1) for i, j in pairs if _rate(found[i])]
    for name, (true, hit, false) in sums.items():
        f = 2 * hit / max(true + hit + false, 1)
        within = sum(r <= 0.03 for r in rates[name])
        print(
            f"{name}: {hit} of {true} bouts, {false} false, F {f:.2f}, "
            f"rate within 3 % in {within} of {len(rates[name])}"
        )


def _rate(bout: dict[str, Any]) -> float:
    return float(bout.get("rate_hz") or 0.0)


def draft(seeds: Iterable[int]) -> None:
    """Proposals of `clipmark draft` with one press, against the truth, by act."""
    counts: dict[str, list[int]] = {}
    minutes = 0.0
    for seed in seeds:
        path, truth = courtships.make(seed, folder())
        with tempfile.TemporaryDirectory() as place:
            boxes = Path(place) / "boxes.json"
            boxes.write_text(json.dumps({"boxes": [entry(truth, "0", 0)]}), encoding="utf-8")
            code, text = run("draft", str(path), "--boxes", str(boxes), "--json")
        proposals = json.loads(text)["proposals"] if code == 0 else []
        minutes += truth["times"][-1] / 60
        true = truth["acts"] + [
            {"act": "abdomen pull", "start_s": p["onset_s"], "end_s": None} for p in truth["pulls"]
        ]
        for act in sorted({a["act"] for a in true} | {p["act"] for p in proposals}):
            mine = [_spanned(p) for p in proposals if p["act"] == act]
            theirs = [_spanned(a) for a in true if a["act"] == act]
            pairs = matched(mine, theirs)
            row = counts.setdefault(act, [0, 0, 0])
            row[0] += len(theirs)
            row[1] += len(pairs)
            row[2] += len(mine) - len(pairs)
    for act, (true_n, hit, false) in counts.items():
        print(
            f"{act:18} true {true_n:3} found {hit:3} false {false:3} F {2 * hit / max(true_n + hit + false, 1):.2f}"
        )
    print(f"false proposals a minute: {sum(c[2] for c in counts.values()) / minutes:.2f}")


def _spanned(act: dict[str, Any]) -> dict[str, Any]:
    """A moment as a span of one second to either side."""
    if act.get("end_s") is None:
        return act | {"start_s": act["start_s"] - 1, "end_s": act["start_s"] + 1}
    return act


def survey(seeds: Iterable[int]) -> None:
    """Stretches of `clipmark survey` against the seconds in which an animal truly moves."""
    true_s = found_s = covered_s = 0.0
    pulls_in = pulls_all = 0
    for seed in seeds:
        for path, truth in (courtships.make(seed, folder()), pairings.make("handheld", seed, folder())):
            _, text = run("survey", str(path), "--json")
            stretches = [(m["start_s"], m["end_s"]) for m in json.loads(text)["moving"]]
            covered_s += sum(b - a for a, b in stretches)
            for a, b in truth["moving"]:
                for second in range(int(a), int(b)):
                    true_s += 1
                    found_s += any(start < second + 1 and end > second for start, end in stretches)
            for pull in truth["pulls"]:
                pulls_all += 1
                pulls_in += any(start <= pull["full_s"] and end >= pull["onset_s"] for start, end in stretches)
    print(f"moving seconds in a stretch {found_s / true_s:.3f}, stretches cover {covered_s / true_s:.2f} of them, "
          f"pulls in a stretch {pulls_in} of {pulls_all}")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("pulls", "rhythm", "draft", "survey"))
    parser.add_argument("--off", nargs="+", default=["0", ".3", ".5", "press"])
    parser.add_argument("--kinds", nargs="+", default=list(pairings.KINDS))
    parser.add_argument("--seeds", nargs="+", type=int)
    asked = parser.parse_args()
    if asked.what == "pulls":
        pulls(asked.kinds, asked.seeds or [0, 1], asked.off)
    else:
        {"rhythm": rhythm, "draft": draft, "survey": survey}[asked.what](asked.seeds or range(4))


if __name__ == "__main__":
    main()
