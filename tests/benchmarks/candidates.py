"""What the motion pass weighs in a film, kept so that scorers can be tried on it without reading the film again.

The slow part (following the film) does not depend on the scorer. It is done once a film and kept beside the films;
`replay` then gives the flags under any parameters within milliseconds, by the program's own code. What is kept is
named after a digest of the sources that made it, so changed code never serves old measures; `clipmark.motion.pulls`
itself is left out of the digest, since it runs anew each time.
"""

from __future__ import annotations

import hashlib
import inspect
import os
import pickle
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

import clipmark
from clipmark.motion import pulls
from clipmark.motion import scan as scan_module
from clipmark.motion.parameters import MotionParameters, load
from clipmark.motion.result import Flag
from clipmark.motion.scan import scan
from tests.benchmarks.accuracy import Outcome, as_judged, judge, match, scanned
from tests.film import collage, photos
from tests.film.library import boxes_variant, cache_folder, clip
from tests.film.profiles import PROFILES

AFTERWARDS = ("pulls", "flag_texts", "fit", "validation", "parameters", "rhythm", "bouts", "onsets", "proposals")
NEAR = 0.4  # seconds: how near a pull or release a step counts as part of it
FAMILIES = {"rendered": PROFILES, "photographs": photos.PROFILES, "collages": collage.PROFILES}

Job = tuple[str, int, str]  # profile, seed and how the boxes are drawn ("" as usual, or see library.VARIANTS)


@dataclass(frozen=True)
class Taken:
    """One film as it was followed: the arguments of each call of `find_pulls`, and what else judging needs."""

    profile: str
    seed: int
    boxes: str
    calls: list[tuple[Any, ...]]
    truth: dict[str, Any]
    times: np.ndarray
    length: np.ndarray
    watched: np.ndarray
    quality: np.ndarray


@dataclass(frozen=True)
class Example:
    """A candidate with its truth, as the scorer is fitted on it."""

    profile: str
    seed: int
    boxes: str
    time_s: float
    features: dict[str, float]
    pulled: bool

    @property
    def film(self) -> str:
        return f"{self.profile} {self.seed}"


def family(profile: str) -> str:
    return next(name for name, kinds in FAMILIES.items() if profile in kinds)


@cache
def sources(of_films: bool = True) -> str:
    """Digest of the code and numbers that decide what is weighed and how it is measured, up to `find_pulls`;
    `of_films`: also of how films are read, which collages are not."""
    digest, parameters = hashlib.sha256(), load()
    root = Path(clipmark.__file__).parent
    for path in sorted([*(root / "motion").glob("*.py"), root / "media" / "frames" / "grey.py"]):
        if path.stem not in AFTERWARDS:
            digest.update(path.read_bytes())
    shape = [item.name for item in fields(pulls.AbdomenTrack)]
    limits = (parameters.least_pull, parameters.least_ratio, parameters.window_s, pulls.LEVER)
    digest.update(repr((shape, limits)).encode())
    if of_films:
        digest.update(inspect.getsource(scanned).encode())
    return digest.hexdigest()[:10]


def folder(profile: str) -> Path:
    """Where the candidates of a kind of film are kept: beside the films."""
    generator = {"rendered": "spiders", "photographs": "photos", "collages": "collage"}[family(profile)]
    return cache_folder(generator) / f"candidates-{sources(generator != 'collage')}"


def take(profile: str, seed: int, boxes: str = "") -> Taken:
    """Follow one film, or fetch what was kept of it; films are rendered on first use."""
    kept = folder(profile) / f"{profile.replace(' ', '_')}-{seed:04d}{boxes and '-' + boxes}.pickle"
    try:
        taken: Taken = pickle.loads(kept.read_bytes())
        if all(hasattr(taken, item.name) for item in fields(Taken)):
            return taken
    except (OSError, EOFError, AttributeError, pickle.UnpicklingError):
        pass  # not there yet, or kept by an older form of this module
    taken = _follow(profile, seed, boxes)
    kept.parent.mkdir(parents=True, exist_ok=True)
    part = kept.with_suffix(f".{os.getpid()}.part")
    part.write_bytes(pickle.dumps(taken))
    os.replace(part, kept)
    return taken


def _follow(profile: str, seed: int, boxes: str) -> Taken:
    calls: list[tuple[Any, ...]] = []

    def note(*arguments: Any) -> list[Flag]:
        calls.append(arguments)
        return pulls.find_pulls(*arguments)

    settling = scan_module.in_noise_units

    def settled(*arguments: Any) -> None:
        calls.clear()  # what was asked up to here only compared readings of an outline
        settling(*arguments)

    with (
        mock.patch("clipmark.motion.scan.find_pulls", note),
        mock.patch("clipmark.motion.scan.in_noise_units", settled),
    ):
        if profile in collage.PROFILES:
            film = collage.Collage(profile, seed)
            drawn_box = film.box() if not boxes else film.rough_box(0.0 if boxes == "press" else float(boxes))
            truth, times, result = film.truth(), film.times, scan(film, [drawn_box])
        else:
            path, truth, drawn = clip(profile, seed)
            result, times = scanned(path, boxes_variant(drawn, boxes) if boxes else drawn)
    watched = np.zeros(len(times), bool)
    for span in result.watched:
        watched[span.start : span.end] = True
    quality = np.asarray(result.trace.quality)
    return Taken(profile, seed, boxes, calls, truth, times, result.trace.length, watched, quality)


def take_all(jobs: Sequence[Job], processes: int = 2) -> list[Taken]:
    """`take` of many films, in the order given; what was done before a stop is kept."""
    with ProcessPoolExecutor(max(1, processes)) as pool:
        waiting = [pool.submit(take, *job) for job in jobs]
        found = []
        for number, (job, answer) in enumerate(zip(jobs, waiting, strict=True), start=1):
            found.append(answer.result())
            print(f"{number} of {len(jobs)}: {' '.join(map(str, job))}", file=sys.stderr, flush=True)
    return found


def flags(taken: Taken, parameters: MotionParameters) -> list[Flag]:
    """What `find_pulls` says of a film under other parameters."""
    own = [[parameters if isinstance(a, MotionParameters) else a for a in call] for call in taken.calls]
    return sorted((flag for call in own for flag in pulls.find_pulls(*call)), key=lambda flag: flag.onset)


def replay(taken: Taken, parameters: MotionParameters) -> Outcome:
    """A film judged under other parameters, as `tests.benchmarks.accuracy` judges it."""
    shown = as_judged(flags(taken, parameters), taken.times, taken.length)
    frames = len(taken.truth["frames"]["pts"])
    return judge(taken.truth, shown, taken.watched[:frames], taken.quality[:frames])


def examples(taken: Taken, parameters: MotionParameters, everything: bool = False) -> list[Example]:
    """Candidates with their truth. Left out, unless `everything` is asked for, is what the scorer has no say in or
    nobody could tell: steps in a release, second steps within one pull, pulls hidden by more than 60 %."""
    found = flags(taken, parameters)
    shown = as_judged(found, taken.times, taken.length)
    real = [pull for pull in taken.truth["pulls"] if pull["full_s"] is not None]
    right = match(shown, real)
    rows = []
    for i, flag in enumerate(found):
        when = shown[i]["time_s"]
        if i in right:
            if not everything and real[right[i]]["hidden"] > 0.6:
                continue
        elif not everything and any(_part_of(pull, when) for pull in real):
            continue
        rows.append(Example(taken.profile, taken.seed, taken.boxes, when, dict(flag.features), i in right))
    return rows


def _part_of(pull: dict[str, Any], when: float) -> bool:
    if pull["onset_s"] - NEAR <= when <= pull["full_s"] + NEAR:
        return True
    if pull["release_s"] is None:
        return False
    return bool(pull["release_s"] - NEAR <= when <= (pull["released_s"] or pull["release_s"]) + NEAR)


def all_examples(films: Sequence[Taken], parameters: MotionParameters, everything: bool = False) -> list[Example]:
    return [row for taken in films for row in examples(taken, parameters, everything)]
