"""How well the motion pass finds pulls, on rendered films with known truth.

    python -m tests.benchmarks.accuracy --open                  # 3 open seeds (0, 1, 2) of every profile
    python -m tests.benchmarks.accuracy --sealed --seeds 4      # seeds 1000..1003, never tuned on
    python -m tests.benchmarks.accuracy --profiles dark tiny --boxes large --json out.json --processes 2
    python -m tests.benchmarks.accuracy --profiles ladder --seeds 6   # recall against amplitude, 80 px abdomen
    python -m tests.benchmarks.accuracy --photos --seeds 3      # the other hand: real photographs and film, warped

A flag counts if its onset lies between a pull's onset - 0.4 s and its full pull + 0.6 s, one to one; every other
flag is false, a second flag in one pull and a flag on its release too. Pulls hidden by more than 60 % are left out
of recall, and flags that match them out of precision. Onset error: flag minus truth, in frames of that film and in
seconds. Pull error: as a share of the true pull, in abdomen lengths (which rest on the length that the pass reads
off the outline) and in pixels. Honesty: stretches of 0.2 s and more in which the abdomen is hidden by more than 60 %
or out of the picture;
a frame of them is dishonest if it is reported watched with a quality over 0.5. Calibration: every candidate that the
pass returns with its score, weaker ones too; expected calibration error over ten equal bins.
Films are rendered on first use (see `tests.film.library`), outside the timing.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

BEFORE, AFTER, HIDDEN, POOR = 0.4, 0.6, 0.6, 0.5
AMPLITUDES = (0.0, 0.02, 0.03, 0.04, 0.05, 0.07, 0.10, 0.15, 0.25, 1.0)
LENGTHS = (0, 30, 45, 60, 80, 110, 150, 1000)


@dataclass
class Outcome:
    """One film's result: what the table is counted from."""

    profile: str
    seed: int
    seconds: float
    frames: int
    pulls: list[dict[str, Any]] = field(default_factory=list)  # truth with `found` and the errors
    false: list[dict[str, Any]] = field(default_factory=list)
    true_flags: int = 0
    candidates: list[tuple[float, bool]] = field(default_factory=list)
    hidden_frames: int = 0
    dishonest_frames: int = 0
    hidden_spans: int = 0
    dishonest_spans: int = 0
    watched_share: float = 0.0
    scan_s: float = 0.0
    error: str = ""


def match(flags: list[dict[str, Any]], pulls: list[dict[str, Any]]) -> dict[int, int]:
    """Flag index -> pull index, one to one, as many as possible; nearest onset first among equals.

    Source: maximum bipartite matching (scipy), windows as in the module's docstring.
    """
    from scipy.optimize import linear_sum_assignment

    if not flags or not pulls:
        return {}
    cost = np.full((len(flags), len(pulls)), 1e6)
    for i, flag in enumerate(flags):
        for j, pull in enumerate(pulls):
            if pull["onset_s"] - BEFORE <= flag["time_s"] <= pull["full_s"] + AFTER:
                cost[i, j] = abs(flag["time_s"] - pull["onset_s"])
    rows, columns = linear_sum_assignment(cost)
    return {int(i): int(j) for i, j in zip(rows, columns, strict=True) if cost[i, j] < 1e5}


def judge(truth: dict[str, Any], flags: list[dict[str, Any]], watched: np.ndarray, quality: np.ndarray) -> Outcome:
    """Compare flags (time_s, score, pull, tilt_deg, flagged) and watched frames with the truth."""
    times = np.array(truth["frames"]["time_s"])
    seconds = float(times[-1] + (times[-1] - times[0]) / max(len(times) - 1, 1))
    out = Outcome(truth["profile"], truth["seed"], seconds, len(times))
    pulls = [p for p in truth["pulls"] if p["full_s"] is not None]
    shown = [f for f in flags if f.get("flagged", True)]
    matched = match(shown, pulls)
    found = {j: shown[i] for i, j in matched.items()}
    for j, pull in enumerate(pulls):
        out.pulls.append(
            {**pull, "judgeable": pull["hidden"] <= HIDDEN, "found": j in found, **_errors(pull, found.get(j), times)}
        )
    for i, flag in enumerate(shown):
        if i not in matched:
            out.false.append({**flag, "near": _near(truth, flag["time_s"])})
        elif pulls[matched[i]]["hidden"] <= HIDDEN:
            out.true_flags += 1
    everything = sorted(flags, key=lambda f: -f["score"])
    right = match(everything, pulls)
    out.candidates = [(float(f["score"]), i in right) for i, f in enumerate(everything) if np.isfinite(f["score"])]
    if len(out.candidates) < len(everything):
        out.error = "a score that is no number"
    hidden = np.array(truth["frames"]["hidden"]) > HIDDEN
    hidden |= np.array([b is None for b in truth["frames"]["box"]])
    claimed = watched & (np.nan_to_num(quality, nan=0.0) > POOR)
    for a, b in _runs(hidden):
        if times[b - 1] - times[a] >= 0.2:
            out.hidden_spans += 1
            out.hidden_frames += b - a
            wrong = int(claimed[a:b].sum())
            out.dishonest_frames += wrong
            out.dishonest_spans += int(wrong > 0.5 * (b - a))
    out.watched_share = float(watched.mean())
    return out


def _errors(pull: dict[str, Any], flag: dict[str, Any] | None, times: np.ndarray) -> dict[str, float]:
    if flag is None:
        return {}
    frame = int(np.argmin(np.abs(times - flag["time_s"])))
    return {
        "onset_error_s": flag["time_s"] - pull["onset_s"],
        "onset_error_frames": float(frame - pull["onset_frame"]),
        "pull_error": (flag["pull"] - pull["pull"]) / max(pull["pull"], 1e-6),
        "tilt_error": flag["tilt_deg"] - pull["tilt_deg"],
        "px_error": flag["pull_px"] / max(float(np.hypot(*pull["moved_px"])), 1e-6) - 1
        if "pull_px" in flag
        else np.nan,
        "score": flag["score"],
    }


def _near(truth: dict[str, Any], when: float) -> str:
    """What happened at a false flag: the distractor, the release, the hold, a cut."""
    said = []
    for pull in truth["pulls"]:
        if pull["full_s"] is None:
            continue
        if (
            pull["release_s"] is not None and pull["release_s"] - BEFORE <= when <= pull["released_s"] + AFTER
            if (pull["released_s"] is not None)
            else False
        ):
            said.append("release")
        elif pull["onset_s"] - BEFORE <= when <= (pull["release_s"] or 1e9):
            said.append("second flag in a pull" if when <= pull["full_s"] + AFTER else "while held")
    said += [
        d["kind"]
        for d in truth["distractors"]
        if d["start_s"] - 0.3 <= when <= d["end_s"] + 0.3 and d["kind"] != "flicker"
    ]
    said += ["cut" for c in truth["cuts"] if abs(c["time_s"] - when) < 1]
    return ", ".join(dict.fromkeys(said)) or "nothing"


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


# -- running the pass ---------------------------------------------------------------------------------------------
def one(profile: str, seed: int, variant: str, through_cli: bool) -> Outcome:
    """Render (or fetch) one film, run the pass, judge it."""
    from tests.film.library import boxes_variant, clip

    path, truth, boxes_path = clip(profile, seed)
    if variant:
        boxes_path = boxes_variant(boxes_path, variant)
    started = time.perf_counter()
    try:
        flags, watched, quality = (_by_cli if through_cli else _in_process)(path, boxes_path, truth)
    except Exception as error:  # a film that fails is a result, not the end of the run
        return Outcome(
            profile,
            seed,
            truth["clip"]["duration_s"],
            truth["clip"]["frames"],
            error=f"{type(error).__name__}: {error}",
        )
    outcome = judge(truth, flags, watched, quality)
    outcome.scan_s = time.perf_counter() - started
    return outcome


def _in_process(
    path: Path, boxes_path: Path, truth: dict[str, Any]
) -> tuple[list[dict[str, Any]], np.ndarray, np.ndarray]:
    result, times = scanned(path, boxes_path)
    n = len(truth["frames"]["pts"])
    watched = np.zeros(n, bool)
    for span in result.watched:
        watched[span.start : span.end] = True
    return as_judged(result.flags, times, result.trace.length), watched, np.asarray(result.trace.quality)[:n]


def scanned(path: Path, boxes_path: Path) -> tuple[Any, np.ndarray]:
    """The pass over one film, and the seconds of its frames."""
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.scan import film_width, scan
    from clipmark.report.exports.scan_file import read_boxes

    opened = open_clip(path)
    boxes = read_boxes(boxes_path, opened)
    film = GreyFilm(opened, film_width(opened.width, opened.height, boxes))  # as `clipmark scan` reads it
    return scan(film, boxes), np.asarray(film.times)


def as_judged(flags: Any, times: np.ndarray, length: np.ndarray) -> list[dict[str, Any]]:
    """Flags as `judge` takes them; `length`: abdomen length of each frame in pixels."""
    return [
        {
            "time_s": float(times[f.onset]),
            "full_s": float(times[min(f.full, len(times) - 1)]),
            "score": f.score,
            "pull": f.pull,
            "pull_px": f.pull * float(length[f.onset]),
            "tilt_deg": f.tilt_deg,
            "flagged": f.flagged,
            "because": f.because,
            "doubts": list(f.doubts),
        }
        for f in flags
    ]


def _by_cli(
    path: Path, boxes_path: Path, truth: dict[str, Any]
) -> tuple[list[dict[str, Any]], np.ndarray, np.ndarray]:
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "flags.json"
        command = [
            sys.executable,
            "-m",
            "clipmark",
            "scan",
            str(path),
            "--boxes",
            str(boxes_path),
            "--out",
            str(out),
            "--all",
        ]
        run = subprocess.run(command, capture_output=True, text=True)
        if run.returncode:
            raise RuntimeError(
                run.stderr.strip().splitlines()[-1] if run.stderr.strip() else f"exit {run.returncode}"
            )
        document = json.loads(out.read_text())
    times = np.array(truth["frames"]["time_s"])
    watched = np.zeros(len(times), bool)
    for span in document["watched"]:
        watched |= (times >= span["start_s"] - 1e-6) & (times < span["end_s"] - 1e-6)
    return document["flags"], watched, np.ones(len(times))


# -- tables -------------------------------------------------------------------------------------------------------
def summary(outcomes: list[Outcome]) -> dict[str, Any]:
    """The figures of one row."""
    pulls = [p for o in outcomes for p in o.pulls if p["judgeable"]]
    found = [p for p in pulls if p["found"]]
    false = sum(len(o.false) for o in outcomes)
    true = sum(o.true_flags for o in outcomes)
    minutes = sum(o.seconds for o in outcomes) / 60
    frames = np.array([p["onset_error_frames"] for p in found])
    seconds = np.array([p["onset_error_s"] for p in found])
    sized = [p for p in found if p["pull"] >= 0.02]
    candidates = [c for o in outcomes for c in o.candidates]
    ece, bins = calibration(candidates)
    return {
        "films": len(outcomes),
        "failed": sum(bool(o.error) for o in outcomes),
        "minutes": minutes,
        "pulls": len(pulls),
        "recall": len(found) / len(pulls) if pulls else None,
        "precision": true / (true + false) if true + false else None,
        "false": false,
        "false_a_minute": false / minutes if minutes else None,
        "onset_frames_median": _quantile(np.abs(frames), 0.5),
        "onset_frames_p95": _quantile(np.abs(frames), 0.95),
        "onset_s_median": _quantile(np.abs(seconds), 0.5),
        "onset_s_p95": _quantile(np.abs(seconds), 0.95),
        "pull_error_median": _quantile(np.abs([p["pull_error"] for p in sized]), 0.5),
        "px_error_median": _quantile(np.abs([p["px_error"] for p in sized if np.isfinite(p["px_error"])]), 0.5),
        "tilt_error_median": _quantile(np.abs([p["tilt_error"] for p in found]), 0.5),
        "watched_share": float(np.mean([o.watched_share for o in outcomes])) if outcomes else None,
        "hidden_spans": sum(o.hidden_spans for o in outcomes),
        "dishonest_spans": sum(o.dishonest_spans for o in outcomes),
        "hidden_frames": sum(o.hidden_frames for o in outcomes),
        "dishonest_frames": sum(o.dishonest_frames for o in outcomes),
        "ece": ece,
        "reliability": bins,
        "frames_per_s": sum(o.frames for o in outcomes) / max(sum(o.scan_s for o in outcomes), 1e-9),
    }


def _quantile(values: Any, q: float) -> float | None:
    return float(np.quantile(values, q)) if len(values) else None


def calibration(candidates: list[tuple[float, bool]], bins: int = 10) -> tuple[float | None, list[dict[str, float]]]:
    """Expected calibration error and its bins (mean score, share that was a pull, count).

    Source: Naeini, Cooper & Hauskrecht 2015 (from memory).
    """
    if not candidates:
        return None, []
    score = np.array([c[0] for c in candidates])
    right = np.array([c[1] for c in candidates], float)
    index = np.clip((score * bins).astype(int), 0, bins - 1)
    rows, total = [], 0.0
    for k in range(bins):
        inside = index == k
        if inside.any():
            mean, share = float(score[inside].mean()), float(right[inside].mean())
            total += inside.mean() * abs(mean - share)
            rows.append({"score": mean, "share": share, "count": int(inside.sum())})
    return float(total), rows


def curve(outcomes: list[Outcome], key: str, edges: tuple[float, ...]) -> list[dict[str, float]]:
    """Recall in bins of a truth value."""
    pulls = [p for o in outcomes for p in o.pulls if p["judgeable"]]
    rows = []
    for low, high in pairwise(edges):
        inside = [p for p in pulls if low <= p[key] < high]
        if inside:
            rows.append(
                {
                    "from": low,
                    "to": high,
                    "pulls": len(inside),
                    "recall": sum(p["found"] for p in inside) / len(inside),
                }
            )
    return rows


COLUMNS = (
    ("pulls", "pulls", "{:.0f}"),
    ("recall", "recall", "{:.2f}"),
    ("prec", "precision", "{:.2f}"),
    ("false", "false", "{:.0f}"),
    ("false/min", "false_a_minute", "{:.2f}"),
    ("on f50", "onset_frames_median", "{:.1f}"),
    ("on f95", "onset_frames_p95", "{:.1f}"),
    ("on s50", "onset_s_median", "{:.3f}"),
    ("on s95", "onset_s_p95", "{:.3f}"),
    ("pull %", "pull_error_median", "{:.1%}"),
    ("px %", "px_error_median", "{:.1%}"),
    ("tilt", "tilt_error_median", "{:.1f}"),
    ("ece", "ece", "{:.3f}"),
    ("watched", "watched_share", "{:.2f}"),
    ("hid", "hidden_spans", "{:.0f}"),
    ("dishon", "dishonest_spans", "{:.0f}"),
    ("fail", "failed", "{:.0f}"),
    ("f/s", "frames_per_s", "{:.0f}"),
)


def table(groups: dict[str, dict[str, Any]]) -> str:
    """The figures as text, a row a profile."""
    lines = [f"{'profile':14}" + "".join(f"{head:>10}" for head, _, _ in COLUMNS)]
    for name, figures in groups.items():
        cells = ["-" if figures[key] is None else form.format(figures[key]) for _, key, form in COLUMNS]
        lines.append(f"{name:14}" + "".join(f"{cell:>10}" for cell in cells))
    return "\n".join(lines)


def run(jobs: list[tuple[str, int]], variant: str, through_cli: bool, processes: int) -> list[Outcome]:
    if processes <= 1:
        return [_told(one(p, s, variant, through_cli)) for p, s in jobs]
    with ProcessPoolExecutor(processes) as pool:
        waiting = [pool.submit(one, p, s, variant, through_cli) for p, s in jobs]
        return [_told(w.result()) for w in waiting]


def _told(outcome: Outcome) -> Outcome:
    missed = [
        f"{p['onset_s']:.2f}s {p['pull']:.0%} {p['tilt_deg']:.0f}°"
        for p in outcome.pulls
        if p["judgeable"] and not p["found"]
    ]
    false = [f"{f['time_s']:.2f}s {f['score']:.2f} ({f['near']})" for f in outcome.false]
    note = f" missed: {'; '.join(missed)}" if missed else ""
    note += f" false: {'; '.join(false)}" if false else ""
    note += f" FAILED {outcome.error}" if outcome.error else ""
    print(f"{outcome.profile} {outcome.seed}: {outcome.frames} frames{note}", file=sys.stderr, flush=True)
    return outcome


def main(arguments: list[str] | None = None) -> dict[str, Any]:
    from tests.film.library import SEALED_FROM
    from tests.film.profiles import PROFILES

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--open", action="store_true", help="seeds that may be tuned on (the default)")
    which.add_argument("--sealed", action="store_true", help="seeds that are never tuned on")
    parser.add_argument("--photos", action="store_true", help="the other hand instead of the spiders")
    parser.add_argument("--profiles", nargs="+", default=None)
    parser.add_argument("--seeds", type=int, default=3, help="how many seeds a profile")
    parser.add_argument("--first", type=int, default=0, help="skip so many seeds")
    parser.add_argument("--boxes", choices=("", "large", "small", "shifted"), default="", help="boxes drawn badly")
    parser.add_argument("--through-cli", action="store_true", help="run `clipmark scan` as a program")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--json", type=Path, default=None, help="write figures and every film's result here")
    chosen = parser.parse_args(arguments)
    profiles = chosen.profiles or PROFILES
    if chosen.photos and not chosen.profiles:
        from tests.film import photos

        profiles = tuple(p for p in photos.PROFILES if photos.available(p))
        for left_out in set(photos.PROFILES) - set(profiles):
            print(f"{left_out} left out: CLIPMARK_REAL_FILM does not lead to the real film", file=sys.stderr)
    first = (SEALED_FROM if chosen.sealed else 0) + chosen.first
    jobs = [(p, s) for p in profiles for s in range(first, first + chosen.seeds)]
    outcomes = run(jobs, chosen.boxes, chosen.through_cli, chosen.processes)
    groups = {p: summary([o for o in outcomes if o.profile == p]) for p in profiles}
    groups["all"] = summary(outcomes)
    print(table(groups))
    curves = {"amplitude": curve(outcomes, "pull", AMPLITUDES), "abdomen_px": curve(outcomes, "abdomen_px", LENGTHS)}
    for name, rows in curves.items():
        print(
            f"recall against {name}: "
            + "  ".join(f"{r['from']:g}-{r['to']:g}: {r['recall']:.2f} of {r['pulls']}" for r in rows)
        )
    bins = groups["all"]["reliability"]
    print(
        "reliability (score: share that was a pull): "
        + "  ".join(f"{b['score']:.2f}: {b['share']:.2f} of {b['count']}" for b in bins)
    )
    document = {
        "set": "sealed" if chosen.sealed else "open",
        "boxes": chosen.boxes,
        "groups": groups,
        "curves": curves,
    }
    document["films"] = [asdict(o) for o in outcomes]
    if chosen.json:
        chosen.json.write_text(json.dumps(document, indent=1))
    return document


if __name__ == "__main__":
    main()
