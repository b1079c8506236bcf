"""Where test films come from: rendered on demand into a cache folder, shared by everything that wants them.

    from tests.film.library import clip
    path, truth, boxes_path = clip("handheld", 3)

Seeds 0-99 are open (tune on them), 1000 and up are sealed (never tune on them; only report).
The cache folder is CLIPMARK_FILM_CACHE, else `clipmark-films` in the system's folder for temporary files; its
sub-folder is named after a digest of the renderer's own source, so a changed renderer never serves old films.
Besides `<name>.boxes.json` there are variants with boxes drawn badly: large, small, shifted (see `boxes_variant`).
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.film import photos
from tests.film.profiles import EXTRA, PROFILES

OPEN = range(0, 100)
SEALED_FROM = 1000
VARIANTS = {"large": (1.15, 0.0), "small": (0.85, 0.0), "shifted": (1.0, 0.15)}
SOURCES = {
    "spiders": ("acts", "encode", "profiles", "recipe", "render", "spiders", "stage", "story", "textures", "truth"),
    "photos": ("encode", "footage", "photos", "truth"),
    "collage": ("collage",),
}


@cache
def cache_folder(generator: str = "spiders") -> Path:
    """The folder of this version of a generator's films."""
    root = Path(os.environ.get("CLIPMARK_FILM_CACHE") or Path(tempfile.gettempdir()) / "clipmark-films")
    digest = hashlib.sha256()
    for name in SOURCES[generator]:
        digest.update((Path(__file__).parent / f"{name}.py").read_bytes())
    folder = root / f"{generator}-{digest.hexdigest()[:10]}"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def clip(profile: str, seed: int) -> tuple[Path, dict[str, Any], Path]:
    """The film of a profile and seed, its truth (see `tests.film.truth`) and the keeper's boxes file."""
    folder = cache_folder("photos" if profile in photos.PROFILES else "spiders")
    path = folder / f"{profile.replace(' ', '_')}-{seed:04d}.mp4"
    truth_path, boxes_path = path.with_suffix(".truth.json"), path.with_suffix(".boxes.json")
    if not truth_path.exists():  # written last, so its presence means that all is there
        _make(profile, seed, path)
    return path, json.loads(truth_path.read_text()), boxes_path


def boxes_variant(boxes_path: Path, variant: str) -> Path:
    """The same film's boxes drawn 15 % too "large" or "small", or "shifted" (size and place off by up to 15 %)."""
    return boxes_path.with_suffix("").with_suffix(f".boxes-{variant}.json")


def _make(profile: str, seed: int, path: Path) -> None:
    from tests.film.profiles import recipe
    from tests.film.render import render

    slack = 1.05
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)  # small pictures: more threads only wait for one another
    handle, name = tempfile.mkstemp(suffix=".part", dir=path.parent)
    os.close(handle)
    try:
        if profile in photos.PROFILES:
            truth = photos.make(profile, seed, Path(name))
        else:
            plan = recipe(profile, seed)
            slack = plan.box_slack
            _, truth = render(plan, Path(name))
        os.replace(name, path)
    finally:
        cv2.setNumThreads(threads)
        Path(name).unlink(missing_ok=True)
    finish(path, truth, seed, slack)


def finish(path: Path, truth: dict[str, Any], seed: int, slack: float) -> None:
    """Write the boxes, their variants and, last, the truth beside a film."""
    from tests.film.truth import boxes

    boxes_path = path.with_suffix(".boxes.json")
    _write(boxes_path, boxes(truth, np.random.default_rng([seed, 9]), slack))
    for variant, (factor, jitter) in VARIANTS.items():
        _write(
            boxes_variant(boxes_path, variant), boxes(truth, np.random.default_rng([seed, 9]), slack * factor, jitter)
        )
    _write(path.with_suffix(".truth.json"), truth)


def _write(path: Path, document: dict[str, Any]) -> None:
    part = path.with_suffix(f".{os.getpid()}.part")
    part.write_text(json.dumps(document))
    os.replace(part, path)


def main() -> None:
    """`python -m tests.film.library handheld 0 5` renders seeds 0..4 of a profile ("all": every profile)."""
    import argparse

    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("profile", choices=(*PROFILES, *EXTRA, *photos.PROFILES, "all"))
    parser.add_argument("first", type=int)
    parser.add_argument("stop", type=int)
    chosen = parser.parse_args()
    for profile in PROFILES if chosen.profile == "all" else (chosen.profile,):
        for seed in range(chosen.first, chosen.stop):
            path, truth, _ = clip(profile, seed)
            print(path, len(truth["pulls"]), "pulls", truth["clip"]["frames"], "frames", flush=True)


if __name__ == "__main__":
    main()
