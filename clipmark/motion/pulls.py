"""From candidates to flags: measures from the whole trace, score, reason and doubts; one flag a pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.companions import towards, went_along
from clipmark.motion.flag_texts import because, doubts
from clipmark.motion.layers import hers_alone
from clipmark.motion.parameters import MotionParameters
from clipmark.motion.result import Flag
from clipmark.motion.steps import step_curve
from clipmark.motion.watch import PostureChange

Floats = NDArray[np.float64]

FEATURES = "1"  # raise it when a measure is added or means something else; what was fitted then needs fitting again

# every measure that the scorer may use; companions and palps are told in words only
NAMES = (
    "size", "ratio", "unusual", "rise_s", "drift_before", "drift_after", "held", "away", "unrest", "shake", "zoomed",
    "seen", "quality", "missing", "inside", "left", "along", "still", "likeness", "gain", "blur", "apart", "turned",
    "grown",
)  # fmt: skip
_SLOWEST_RELEASE_S = 4.0
_FARTHEST = 0.8  # abdomen lengths; she is not drawn in as far as that (common practice, no source)
_STIR = 0.15  # while a pull is held, steps smaller than this share of it belong to it
LEVER = 0.3  # a turn of one radian moves the abdomen's points by about this many abdomen lengths (common practice)


@dataclass(frozen=True, slots=True, eq=False)
class AbdomenTrack:
    """The abdomen relative to the scene through one stretch of frames.

    Attributes:
        frames, times: positions in the index, seconds, (n,).
        values: (n, 3) x, y in abdomen lengths and the angle in radians times LEVER; NaN where lost.
        quality: (n,), 0 where lost.
        scene: (n, 2) the camera: scene -> picture, m and c.
        seen: (n,) how well the background was followed.
        busy: (n,) how much stirs round the abdomen, noise units.
        others: middles of the other outlines against the scene, by part, (n,), pixels of the analysed picture.
    """

    frames: NDArray[np.int64]
    times: Floats
    values: Floats
    quality: Floats
    scene: NDArray[np.complex128]
    seen: Floats
    busy: Floats
    others: dict[str, NDArray[np.complex128]] = field(default_factory=dict)


def find_pulls(track: AbdomenTrack, found: Sequence[PostureChange], parameters: MotionParameters) -> list[Flag]:
    """Flags and weaker candidates in one stretch followed through one view, in time order."""
    if len(track.times) < 8:
        return []
    known = track.values[track.quality > 0.5]
    if len(known) < 8:
        return []
    curve = step_curve(
        track.times, track.values, track.quality * (track.quality > 0.5), parameters.window_s, 0.12, 0.002
    )
    usual = float(np.median(curve.size[curve.size > 0])) if (curve.size > 0).any() else 0.0
    scored = []
    for candidate in sorted(found, key=lambda c: c.at):
        features = measures(track, candidate, usual)
        value = score(features, parameters)
        if features["size"] > _FARTHEST:
            value *= 0.1  # no scorer was ever shown such a pull; it is her walking, or lost from sight
        value *= hers_alone(features)
        scored.append((candidate, features, value))
    return _one_a_pull(track, _thinned(scored), parameters)


def score(features: dict[str, float], parameters: MotionParameters) -> float:
    """Probability that a candidate is a pull, by the fitted weights."""
    total = parameters.weights.get("bias", 0.0)
    for name, value in shaped(features).items():
        total += parameters.weights.get(name, 0.0) * value
    return float(1 / (1 + np.exp(-np.clip(total, -30, 30))))


def shaped(features: dict[str, float]) -> dict[str, float]:
    """Features as the scorer takes them: logarithms of sizes, everything within sane limits."""

    def log(value: float, low: float, high: float) -> float:
        return float(np.log(np.clip(value, low, high)))

    f = {**dict.fromkeys(NAMES, 0.0), **features}  # a keeper's older flags may lack what was added later
    return {
        "log_size": log(f["size"], 0.005, 0.5),
        "log_ratio": log(f["ratio"], 1, 60),
        "log_unusual": log(f["unusual"], 0.5, 100),
        "rise": min(f["rise_s"], 0.5),
        "rise_long": max(0.0, min(f["rise_s"], 0.5) - 0.32),
        "drift_before": min(f["drift_before"], 2.0),
        "drift_after": min(f["drift_after"], 2.0),
        "held": -min(abs(f["held"] - 1.0), 1.0),
        "away": float(np.clip(f["away"], -0.4, 0.4)),
        "unrest": log(f["unrest"], 0.02, 10),
        "shake": log(f["shake"], 0.01, 30),
        "zoomed": min(f["zoomed"], 0.3),
        "seen": min(f["seen"], 1.0),
        "quality": f["quality"],
        "missing": f["missing"],
        "inside": f["inside"],
        "left": f["left"],
        "along": float(np.clip(f["along"], 0.0, 1.2)),
        "along_much": float(np.clip(f["along"] - 0.6, 0.0, 0.6)),
        "still": f["still"],
        "likeness": f["likeness"],
        "gain": min(f["gain"], 0.7),
        "blur": min(f["blur"], 1.0),
        "apart": min(f["apart"], 2.0),
        "turned": f["turned"],
        "grown": min(f["grown"], 0.3),
    }


def measures(track: AbdomenTrack, candidate: PostureChange, usual: float) -> dict[str, float]:
    """Named numbers about one candidate, unshaped; lengths in abdomen lengths, times in seconds."""
    t, ramp, change = track.times, candidate.ramp, candidate.change
    size = max(float(np.linalg.norm(change)), 1e-6)
    direction = change / size
    level = track.values @ direction
    good = track.quality > 0.5

    def stretch(start: float, end: float) -> NDArray[np.bool_]:
        return (t >= start) & (t <= end)

    before, after = stretch(ramp.onset - 0.55, ramp.onset) & good, stretch(ramp.full, ramp.full + 0.35) & good
    wide = stretch(ramp.onset - 1.6, ramp.full + 1.6) & good & ~stretch(ramp.onset - 0.05, ramp.full + 0.05)
    across = stretch(ramp.onset - 0.3, ramp.full + 0.3)
    p0, p1 = _mean(track.values[before]), _mean(track.values[after])
    rest = np.nanmedian(track.values[stretch(ramp.onset - 12, ramp.full + 12) & good], axis=0)
    held = _mean(level[stretch(ramp.full + 0.05, ramp.full + 0.32) & good])
    base = float(_mean(level[before]))
    away = float(np.linalg.norm(p1 - rest) - np.linalg.norm(p0 - rest)) / size
    quick = stretch(ramp.onset - 0.08, ramp.full + 0.08)
    scene_m, scene_c = track.scene[quick, 0], track.scene[quick, 1]
    moved = float(np.abs(scene_c - scene_c[0]).max()) if len(scene_c) else 0.0
    evidence = candidate.evidence
    seen = np.array([evidence.change.c.real, evidence.change.c.imag]) / candidate.length
    turn = float(np.angle(evidence.change.m)) * LEVER
    apart = float(np.linalg.norm(np.array([*seen, turn]) - change)) / size
    found = {
        "size": size,
        "ratio": candidate.ratio,
        "unusual": size / max(usual, 0.001),
        "rise_s": ramp.full - ramp.onset,
        "drift_before": _slope(t[before], level[before]) * 0.3 / size,
        "drift_after": _slope(t[after], level[after]) * 0.3 / size,
        "held": (float(held) - base) / size if np.isfinite(held) and np.isfinite(base) else 0.0,
        "away": float(np.clip(away, -1, 1)) if np.isfinite(away) else 0.0,
        "unrest": float(np.nanmedian(np.abs(np.diff(level[wide]))) / size) * 10 if wide.sum() > 3 else 0.02,
        "shake": moved / candidate.length / size,
        "zoomed": float(np.abs(np.log(np.abs(scene_m / scene_m[0]))).max()) if len(scene_m) else 0.0,
        "seen": float(np.nanmin(track.seen[across])) if across.any() else 0.0,
        "quality": float(_mean(track.quality[across & good])) if (across & good).any() else 0.0,
        "missing": 1.0 - float(good[across].mean()) if across.any() else 1.0,
        "apart": apart,
        "turned": abs(float(change[2])) / size,
        "grown": abs(float(np.log(abs(evidence.change.m)))),
        "beyond": candidate.beyond,
        **evidence.features(),
    }
    return found | _beside(track, candidate, found)


def _beside(track: AbdomenTrack, candidate: PostureChange, found: dict[str, float]) -> dict[str, float]:
    """What the palps and legs round her did, and the other outlines where there are any."""
    t, ramp = track.times, candidate.ramp
    more: dict[str, float] = {}
    before = track.busy[(t >= ramp.onset - 1.2) & (t <= ramp.onset - 0.1)]
    after = track.busy[(t >= ramp.full + 0.1) & (t <= ramp.full + 1.2)]
    if np.isfinite(before).any() and np.isfinite(after).any():
        more["busy_before"], more["busy_after"] = float(np.nanmean(before)), float(np.nanmean(after))
    shift = complex(candidate.change[0], candidate.change[1]) * candidate.length
    if "carapace" in track.others:
        share = went_along(track.others["carapace"], t, ramp.onset, ramp.full, shift)
        if share is not None:  # seen, so nothing need be guessed from the surroundings
            more["along"] = max(0.0, min(1.2, share)) * (1.0 if share > 0.3 else 0.5)
    if "male" in track.others and abs(shift) > 0.008 * candidate.length:
        here = track.values[(np.abs(t - ramp.onset) < 0.3) & (track.quality > 0.5)]
        if len(here):
            abdomen = complex(*np.median(here[:, :2], axis=0)) * candidate.length
            way = towards(track.others["male"], t, candidate.at, abdomen, shift)
            if way is not None:
                more["towards"] = way
    return more


def _mean(values: Floats) -> Floats:
    return np.mean(values, axis=0) if len(values) else np.full(values.shape[1:], np.nan)


def _slope(times: Floats, values: Floats) -> float:
    if len(times) < 4:
        return 0.0
    centred = times - times.mean()
    return abs(float((centred @ (values - values.mean())) / max(float(centred @ centred), 1e-9)))


Scored = tuple[PostureChange, dict[str, float], float]


def _thinned(scored: list[Scored]) -> list[Scored]:
    """Of candidates that share a moment only the best scored stays."""
    kept: list[Scored] = []
    for item in sorted(scored, key=lambda s: -s[2]):
        if all(abs(item[0].ramp.onset - other[0].ramp.onset) > 0.3 for other in kept):
            kept.append(item)
    return sorted(kept, key=lambda s: s[0].ramp.onset)


def _one_a_pull(track: AbdomenTrack, scored: list[Scored], parameters: MotionParameters) -> list[Flag]:
    """Pair each pull with its release; what merely goes back to the pose before a pull is no new pull."""
    flags: list[Flag] = []
    held: tuple[Floats, Floats, float] | None = None  # pose before, pose held, when it was full
    leaving: tuple[tuple[Floats, Floats, float], float] | None = None  # a pull that lets go slowly, and since when
    for candidate, features, value in scored:
        ramp = candidate.ramp
        if held is not None and (let_go := _let_go(track, held, ramp.onset)) is not None:
            leaving, held = (held, let_go), None
        if leaving is not None and _last_of_it(track, leaving, candidate):
            leaving = None
            continue
        if held is not None:
            whole = held[1] - held[0]
            after = _mean(track.values[_between(track, ramp.full, ramp.full + 0.3)])
            back = float(candidate.change @ whole) / max(float(whole @ whole), 1e-12)
            if np.isfinite(after).all() and back < -0.3:
                returned = float((after - held[0]) @ whole) / max(float(whole @ whole), 1e-12)
                if returned < 0.6 and np.linalg.norm(after - held[0]) < 0.8 * np.linalg.norm(whole):
                    leaving, held = (held, ramp.onset), None
                    continue
            if features["size"] < _STIR * float(np.linalg.norm(whole)):
                continue
        flagged = value >= parameters.flag_at
        release = None
        if flagged:
            before = _mean(track.values[_between(track, ramp.onset - 0.4, ramp.onset)])
            after = _mean(track.values[_between(track, ramp.full, ramp.full + 0.3)])
            if np.isfinite(before).all() and np.isfinite(after).all():
                held, leaving = (before, after, ramp.full), None
                release = _let_go(track, held, float(track.times[-1]))
        flags.append(_flag(track, candidate, features, value, flagged, release))
    return flags


def _last_of_it(
    track: AbdomenTrack, leaving: tuple[tuple[Floats, Floats, float], float], candidate: PostureChange
) -> bool:
    """Whether a step is only the end of a slow release: it goes back towards the pose before the pull and ends there.
    A release of hers takes up to some seconds (common practice, no source)."""
    (before, after, _), since = leaving
    ramp, whole = candidate.ramp, after - before
    if ramp.onset - since > _SLOWEST_RELEASE_S:
        return False
    start, end = (_mean(track.values[_between(track, *span)]) for span in
                  ((ramp.onset - 0.3, ramp.onset), (ramp.full, ramp.full + 0.3)))  # fmt: skip
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return False
    back = float(candidate.change @ whole) / max(float(whole @ whole), 1e-12)
    left, now = float(np.linalg.norm(start - before)), float(np.linalg.norm(end - before))
    return back < -0.15 and now < 0.35 * float(np.linalg.norm(whole)) and now < left


def _between(track: AbdomenTrack, start: float, end: float) -> NDArray[np.bool_]:
    return (track.times >= start) & (track.times <= end) & (track.quality > 0.5)


def _let_go(track: AbdomenTrack, held: tuple[Floats, Floats, float], until: float) -> float | None:
    """When the abdomen began to leave the held pose for good, if it came back at least half way before `until`."""
    before, after, full = held
    whole = after - before
    inside = _between(track, full + 0.15, until)
    if inside.sum() < 3:
        return None
    share = ((track.values[inside] - before) @ whole) / max(float(whole @ whole), 1e-12)
    calm = np.convolve(share, np.ones(3) / 3, mode="same") if len(share) > 4 else share
    gone = np.flatnonzero(calm[1:-1] < 0.5) + 1
    if not len(gone):
        return None
    began = int(gone[0])
    while began > 0 and calm[began - 1] > calm[began] and calm[began] < 0.95:
        began -= 1
    return float(track.times[inside][began])


def _flag(
    track: AbdomenTrack,
    candidate: PostureChange,
    features: dict[str, float],
    value: float,
    flagged: bool,
    release: float | None,
) -> Flag:
    ramp, evidence = candidate.ramp, candidate.evidence
    change = candidate.change
    c = evidence.change.c / candidate.length
    turn = float(np.degrees(np.angle(evidence.change.m)))
    if features["apart"] > 0.35:  # the averaged pictures disagree with the trace: trust the trace
        c, turn = complex(change[0], change[1]), float(np.degrees(change[2] / LEVER))
    pull = abs(c)
    way = float(np.degrees(np.arctan2(c.imag, c.real)) % 360) if pull > 0.008 else None
    onset = int(np.searchsorted(track.times, ramp.onset - 1e-9, "left"))
    full = int(np.searchsorted(track.times, ramp.full - 1e-9, "left"))
    onset, full = min(onset, len(track.times) - 1), min(max(full, onset), len(track.times) - 1)
    let_go = None if release is None else int(track.frames[np.searchsorted(track.times, release - 1e-9, "left")])
    return Flag(
        int(track.frames[onset]), int(track.frames[full]), let_go, value, pull, turn, way,
        because(pull, turn, ramp.full - ramp.onset, features), doubts(features), flagged, features,
    )  # fmt: skip
