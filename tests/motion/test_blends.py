"""Dissolves and fades on made film with known truth: both views move, animals walk, hands shake. And what only looks
so. The pictures are as small as the pass makes them (128 wide); truth is the blend's first and last frame.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import cv2
import numpy as np
import pytest

from clipmark.motion.shots import ShotFinder

SIZE = (128, 72)
RATE = 25
Picture = np.ndarray


def ground(seed: int) -> Picture:
    draw = np.random.default_rng(seed)
    coarse = cv2.resize(draw.normal(0, 1, (9, 16)).astype(np.float32), (192, 128), interpolation=cv2.INTER_CUBIC)
    fine = cv2.GaussianBlur(draw.normal(0, 1, (128, 192)).astype(np.float32), (0, 0), 2.5)
    return np.clip(110 + 25 * coarse + 25 * fine / fine.std(), 5, 250)


def view(seed: int, frames: int, shake: float = 0.8, pan: float = 0.0) -> list[Picture]:
    """A view in which an animal walks, filmed by hand: shake in pixels, pan in pixels a frame."""
    draw = np.random.default_rng(seed + 1000)
    picture = ground(seed)
    hand = np.cumsum(draw.normal(0, 0.35, (frames + 40, 2)), 0)
    hand = shake * (hand - cv2.blur(hand, (1, 41)))[20:]
    walk, heading = draw.uniform(30, 90, 2), draw.uniform(-1, 1, 2)
    y, x = np.mgrid[: SIZE[1], : SIZE[0]]
    made = []
    for i in range(frames):
        move = np.float32([[1, 0, -32 - pan * i - hand[i, 0]], [0, 1, -28 - hand[i, 1]]])
        seen = cv2.warpAffine(picture, move, SIZE, borderMode=cv2.BORDER_REFLECT)
        at = (walk + 0.5 * heading * i) * (0.8, 0.45)
        body = np.exp(-((((x - at[0]) / 14) ** 2 + ((y - at[1]) / 8) ** 2) ** 2))
        made.append(seen * (1 - body) + (40 + 6 * np.sin(x / 2 + i / 5)) * body)
    return made


def noisy(film: list[Picture], seed: int = 5) -> Iterator[np.ndarray]:
    draw = np.random.default_rng(seed)
    for picture in film:
        yield np.clip(picture + draw.normal(0, 1.5, picture.shape), 0, 255).astype(np.uint8)


def found(film: list[Picture], rate: float = RATE) -> list[tuple[int, int, str]]:
    """(first frame, first whole frame, how) of every shot."""
    finder = ShotFinder()
    for i, picture in enumerate(noisy(film)):
        finder.take(picture, i, i / rate)
    return [(shot.start, shot.whole, shot.begins) for shot in finder.shots()]


def dissolved(one: list[Picture], other: list[Picture], blended: int) -> list[Picture]:
    share = (np.arange(blended) + 1) / (blended + 1)
    middle = [(1 - s) * a + s * b for s, a, b in zip(share, one[-blended:], other[:blended], strict=True)]
    return one[:-blended] + middle + other[blended:]


@pytest.mark.parametrize("seconds", [0.3, 0.5, 0.8, 1.2, 1.6, 2.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_dissolve_over_moving_film_is_found_where_it_is(seconds: float, seed: int) -> None:
    blended = round(seconds * RATE)
    one, other = view(10 * seed, 40 + blended), view(10 * seed + 1, 40 + blended)

    (first, second) = found(dissolved(one, other, blended))

    assert (0, 0, "film") == first
    assert "dissolve" == second[2]
    assert 40 == pytest.approx(second[0], abs=3)
    assert 40 + blended == pytest.approx(second[1], abs=3)


@pytest.mark.parametrize("rate", [15, 60, 120])
def test_a_dissolve_is_found_at_other_frame_rates(rate: int) -> None:
    blended = round(0.8 * rate)
    still = view(4, 1, 0.0), view(5, 1, 0.0)
    film = dissolved(still[0] * (rate + blended), still[1] * (rate + blended), blended)

    (_, (first, whole, begins)) = found(film, rate)

    assert "dissolve" == begins
    assert rate == pytest.approx(first, abs=0.08 * rate)
    assert rate + blended == pytest.approx(whole, abs=0.08 * rate)


@pytest.mark.parametrize("level", [8.0, 250.0], ids=["black", "white"])
@pytest.mark.parametrize("held", [0, 12], ids=["at once", "held"])
def test_a_fade_out_and_in_to_another_view_is_one_dissolve(level: float, held: int) -> None:
    one, other = view(6, 60), view(7, 60)
    share = (np.arange(20) + 1) / 20
    out = [(1 - s) * p + s * level for s, p in zip(share, one[40:], strict=True)]
    back = [s * p + (1 - s) * level for s, p in zip(share, other[:20], strict=True)]

    (_, (first, whole, begins)) = found(one[:40] + out + [np.full(SIZE[::-1], level)] * held + back + other[20:])

    assert "dissolve" == begins
    assert 40 == pytest.approx(first, abs=3)
    assert 80 + held == pytest.approx(whole, abs=4)


def test_a_fade_to_black_and_a_cut_to_another_view_begin_one_shot() -> None:
    one, other = view(6, 60), view(7, 40)
    out = [(1 - s) * p for s, p in zip((np.arange(20) + 1) / 20, one[40:], strict=True)]

    (_, (first, whole, begins)) = found(one[:40] + out + [np.zeros(SIZE[::-1])] * 8 + other)

    assert "dissolve" == begins
    assert 40 == pytest.approx(first, abs=3)
    assert 68 == whole


def test_a_film_that_fades_in_is_whole_only_then() -> None:
    film = view(8, 80)
    film = [min(1.0, max(0, i - 10) / 20) * picture for i, picture in enumerate(film)]

    ((start, whole, begins),) = found(film)

    assert (0, "film") == (start, begins)
    assert 30 == pytest.approx(whole, abs=4)


def hand_in_front(film: list[Picture]) -> list[Picture]:
    """A hand, soft-edged, that comes in slowly, stays over most of the picture, and goes."""
    x = np.mgrid[: SIZE[1], : SIZE[0]][1]
    skin = cv2.GaussianBlur(ground(99), (0, 0), 3)[: SIZE[1], : SIZE[0]]
    for i, picture in enumerate(film):
        edge = np.interp(i, [30, 60, 80, 110], [-20, 118, 118, -20])
        cover = np.clip((edge - x) / 10, 0, 1)
        film[i] = picture * (1 - cover) + skin * cover
    return film


def exposure(film: list[Picture]) -> list[Picture]:
    return [p * np.interp(i, [40, 70], [1, 0.25]) + np.interp(i, [90, 120], [0, 60]) for i, p in enumerate(film)]


def refocus(film: list[Picture]) -> list[Picture]:
    blur = [np.interp(i, [40, 60, 90], [0.01, 6, 0.01]) for i in range(len(film))]
    return [cv2.GaussianBlur(p, (0, 0), b) for b, p in zip(blur, film, strict=True)]


def focus_from_glass_to_animal(film: list[Picture]) -> list[Picture]:
    """Drops on the glass lose their sharpness while the enclosure behind them gets it."""
    drops = ground(98)[: SIZE[1], : SIZE[0]]
    cover = (cv2.GaussianBlur(np.random.default_rng(4).normal(0, 1, SIZE[::-1]), (0, 0), 5) > 0.04).astype(np.float32)
    made = []
    for i, picture in enumerate(film):
        far = float(np.interp(i, [40, 70], [0, 1]))
        wet = cv2.GaussianBlur(cover, (0, 0), 0.3 + 3.5 * far)
        behind = cv2.GaussianBlur(picture, (0, 0), 0.3 + 3.5 * (1 - far))
        made.append(behind * (1 - wet) + cv2.GaussianBlur(drops, (0, 0), 0.3 + 3.5 * far) * wet)
    return made


def mist(film: list[Picture]) -> list[Picture]:
    """Breath on the glass: grey, uneven, comes within a second and thins out again."""
    where = cv2.GaussianBlur(np.random.default_rng(3).normal(0, 1, SIZE[::-1]), (0, 0), 14)
    where = 0.75 + 0.2 * where / np.abs(where).max()
    thick = [np.interp(i, [40, 60, 80, 130], [0, 1, 1, 0]) for i in range(len(film))]
    return [p * (1 - t * where) + 190 * t * where for t, p in zip(thick, film, strict=True)]


def title(film: list[Picture]) -> list[Picture]:
    letters = np.zeros(SIZE[::-1], np.uint8)
    for x in range(8, 120, 14):
        cv2.rectangle(letters, (x, 54), (x + 9, 64), 255, 3)
    letters = letters / 255.0
    shown = [np.interp(i, [40, 52, 90, 102], [0, 1, 1, 0]) for i in range(len(film))]
    return [p * (1 - s * letters) + 245 * s * letters for s, p in zip(shown, film, strict=True)]


def lamp_dimmed(film: list[Picture]) -> list[Picture]:
    """The lamp goes down to darkness and up again over the same view."""
    return [p * np.interp(i, [40, 60, 70, 90], [1, 0, 0, 1]) for i, p in enumerate(film)]


def as_it_is(film: list[Picture]) -> list[Picture]:
    return film


@pytest.mark.parametrize("seed", [20, 21, 22])
@pytest.mark.parametrize(
    "friend",
    [hand_in_front, exposure, refocus, focus_from_glass_to_animal, mist, title, lamp_dimmed, as_it_is],
)
def test_what_only_looks_like_a_dissolve_begins_no_shot(friend: Callable, seed: int) -> None:
    assert [(0, 0, "film")] == found(friend(view(seed, 150)))


@pytest.mark.parametrize("pan", [0.3, 0.6, 1.2, 2.5])
def test_a_pan_begins_no_shot_however_slow(pan: float) -> None:
    wide = view(30, 150, pan=pan if pan < 0.5 else 0.0)
    if pan >= 0.5:  # there and back, so that the ground does not end
        picture, swing = ground(30), 24 * np.sin(np.arange(150) * pan / 24)
        wide = [cv2.warpAffine(picture, np.float32([[1, 0, -32 - s], [0, 1, -28]]), SIZE) for s in swing]

    assert [(0, 0, "film")] == found(wide)


def test_what_is_held_of_the_film_does_not_grow_with_it() -> None:
    finder = ShotFinder()
    (picture,) = noisy(view(1, 1))
    for i in range(900):
        finder.take(picture, i, i / 100)

    assert len(finder._blends._views) <= 160
