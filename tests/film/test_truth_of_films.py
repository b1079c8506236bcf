"""The test films keep what they promise: their truth is checked against the pictures and against ffprobe."""

from __future__ import annotations

import shutil
import subprocess
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.film import photos
from tests.film.encode import write_film
from tests.film.profiles import PROFILES, recipe
from tests.film.render import Renderer
from tests.film.truth import boxes, document


def _frames_at(plan, times):
    plan.pts = np.array([0, *(round(t / float(plan.time_base)) for t in times)], np.int64)
    renderer = Renderer(plan)
    return list(renderer.frames())[1:], renderer


def _clean(profile, seed):
    """A recipe with a perfect camera."""
    plan = recipe(profile, seed)
    plan.noise = plan.sharpen = plan.vignette = plan.softness = 0.0
    plan.shown = plan.size
    return plan


@pytest.mark.parametrize("profile", PROFILES)
def test_every_profile_tells_its_pulls_in_order_and_apart(profile):
    pulls = recipe(profile, 5).story.pulls

    assert (profile == "busy") == (not pulls)
    for pull, after in pairwise(pulls):
        assert pull.onset < pull.full < (pull.release or after.onset) <= after.onset


def test_the_same_seed_gives_the_same_picture_and_another_seed_another():
    first, second, other = (_frames_at(recipe("dark", seed), [2.0])[0][0] for seed in (1, 1, 2))

    assert np.array_equal(first, second)
    assert first.shape != other.shape or not np.array_equal(first, other)


def test_the_abdomen_moves_on_the_picture_as_its_truth_says():
    # Outside check: OpenCV's ECC alignment of the two pictures, which knows nothing of the renderer.
    plan = _clean("subtle", 4)
    pull = plan.story.pulls[0]
    (before, after), renderer = _frames_at(plan, [pull.onset - 0.2, pull.full + 0.2])
    a, b = renderer.truth[1].corners, renderer.truth[2].corners
    told = b.mean(0) - a.mean(0)
    mask = np.zeros(before.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(a.mean(0) + 0.8 * (a - a.mean(0))).astype(np.int32), 255)
    grey = [cv2.cvtColor(p, cv2.COLOR_BGR2GRAY) for p in (before, after)]
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-6)
    _, warp = cv2.findTransformECC(grey[0], grey[1], np.eye(2, 3, dtype=np.float32), cv2.MOTION_EUCLIDEAN, stop, mask)
    middle = a.mean(0)
    seen = warp[:, :2] @ middle + warp[:, 2] - middle

    assert np.hypot(*told) > 1.5
    assert np.hypot(*(seen - told)) < 0.35


def test_a_hand_over_the_abdomen_is_told_as_hidden():
    from tests.film import acts

    plan = _clean("tripod", 7)
    acts.pass_over(plan, np.random.default_rng(1), "hand", 1.0, 2.0, full=True)
    _, renderer = _frames_at(plan, [0.5, 2.0])

    assert renderer.truth[1].hidden < 0.3
    assert renderer.truth[2].hidden > 0.6


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="needs ffprobe")
def test_a_phone_film_has_the_told_times_and_is_turned_by_its_header(tmp_path):
    # Outside check: ffprobe's times and display matrix.
    plan = recipe("phone", 2)
    plan.pts = plan.pts[:12]
    film = tmp_path / "phone.mp4"
    renderer = Renderer(plan)
    write_film(film, renderer.frames(), plan.pts, plan.time_base, plan.rate, plan.options, plan.rotation)
    asked = ["ffprobe", "-v", "error", "-select_streams", "v", "-show_entries"]
    shown = subprocess.run([*asked, "frame=pts", "-of", "csv=p=0", film], capture_output=True, text=True).stdout
    ticks = np.array([int(line.strip(",")) for line in shown.split()])
    side = subprocess.run(
        [*asked, "stream=width,height:side_data=rotation", "-of", "csv=p=0", film], capture_output=True, text=True
    ).stdout
    width, height, turned = (int(v) for v in side.replace("\n", ",").strip(",").split(",")[:3])

    assert np.array_equal(ticks - ticks[0], plan.pts - plan.pts[0])
    assert (width, height) == plan.shown[::-1]
    assert -turned % 360 == plan.rotation
    assert len(set(np.diff(plan.pts))) > 3


def test_boxes_lie_round_the_abdomen_one_a_shot():
    plan = recipe("cuts", 3)
    cut = plan.scenes[1].start + plan.scenes[1].dissolve + 0.1
    plan.scenes = plan.scenes[:2]
    _, renderer = _frames_at(plan, [0.5, cut, cut + 0.5])
    truth = document(plan, renderer)
    drawn = boxes(truth, np.random.default_rng(0))["boxes"]

    assert len(drawn) == 2
    for box in drawn:
        x, y, w, h = truth["frames"]["box"][truth["frames"]["time_s"].index(box["time_s"])]
        assert box["x"] < x + w / 2 < box["x"] + box["w"]
        assert box["y"] < y + h / 2 < box["y"] + box["h"]


def test_a_warped_photograph_moves_inside_its_circle_as_told_and_stands_still_outside():
    film = photos.plan("fur warp", 3)
    film.curves.camera[:] = 0
    film.noise = 0.0
    onset = film.curves.pulls[0]["onset"]
    wanted = [int(np.searchsorted(film.curves.t, t)) for t in (onset - 0.1, film.curves.pulls[0]["full"] + 0.1)]
    frames = {k: f for k, f in zip(range(wanted[1] + 1), film.frames(), strict=False) if k in wanted}
    before, after = (cv2.cvtColor(frames[k], cv2.COLOR_BGR2GRAY) for k in wanted)
    told = film.outline(wanted[1]).mean(0) - film.outline(wanted[0]).mean(0)
    flow = cv2.calcOpticalFlowFarneback(before, after, None, 0.5, 4, 21, 5, 7, 1.5, 0)
    x, y = np.round(film.outline(wanted[0]).mean(0)).astype(int)
    core = flow[y - 6 : y + 7, x - 6 : x + 7].reshape(-1, 2)

    assert np.hypot(*(np.median(core, 0) - told)) < 0.25 * np.hypot(*told) + 0.5
    assert np.abs(flow[:8]).max() < 0.5


def test_film_is_written_with_the_ticks_it_is_given(tmp_path):
    film = tmp_path / "grey.mp4"
    ticks = np.array([0, 3000, 7500, 9000, 15000])
    pictures = [np.full((48, 64, 3), 40 * k, np.uint8) for k in range(5)]
    write_film(film, pictures, ticks, Fraction(1, 90000), Fraction(30), {"bf": "2"})

    import av

    with av.open(str(film)) as box:
        stream = box.streams.video[0]
        found = [Fraction(f.pts) * f.time_base for f in box.decode(stream)]
    assert [Fraction(int(t), 90000) for t in ticks] == [t - found[0] for t in found]


def test_a_cache_folder_may_be_chosen(monkeypatch, tmp_path):
    from tests.film import library

    library.cache_folder.cache_clear()
    monkeypatch.setenv("CLIPMARK_FILM_CACHE", str(tmp_path))
    folder = library.cache_folder()
    library.cache_folder.cache_clear()

    assert Path(tmp_path) == folder.parent
