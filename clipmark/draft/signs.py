"""Signs proposed for a pull: did what stirs beside her go still, did she turn, did he stretch, how near was he.

A sign is told with its figure, or said to be one that cannot be seen. It ticks nothing: the keeper does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.draft.sighting import Oval, Sight
from clipmark.draft.values import ABDOMEN_DRAWN, ANGLE_CHANGED, MALE_STRETCHED, NEAR, PALPS_STILL, SignSeen
from clipmark.motion.rhythm.values import Floats


@dataclass(frozen=True, slots=True)
class SignParameters:
    """Abdomen lengths, degrees, shares, grey levels."""

    beside: float = 3.0  # how far from the middle of her abdomen palps and legs are looked at
    apart_s: float = 0.08  # between two pictures that are compared
    often: float = 0.2  # of the moments, at which a place changes that stirs
    stirs: float = 0.006  # least of her abdomen's area that changes at every moment before, beyond noise
    most: float = 0.7  # of it, from which not palps and legs stir but the picture
    restless: float = 4.0  # grey levels that half of the picture changes by, from which nothing can be told
    unsteady: float = 1.5  # of that, in an area of that size far from her, from which nothing can be told
    stilled: float = 0.45  # of that is left at most where it stirred, when it went still,
    calmer: float = 0.62  # and of all that stirs beside her
    turns_deg: float = 4.0
    most_turn_deg: float = 30.0
    stretches: float = 0.05  # of his length
    alike: float = 0.5  # least likeness of a patch before and after
    drawn: float = 0.02


PARAMETERS = SignParameters()


def signs_of(
    sight: Sight, pull: float | None, her: Oval | None, him: Oval | None, carapace: Oval | None = None,
    toward: Oval | None = None, p: SignParameters = PARAMETERS,
) -> tuple[SignSeen, ...]:  # fmt: skip
    """The signs of one pull, in the order of the keeper's list, and how near he was.

    Args:
        toward: about where he is, where that is all that is known.
        pull: how far her abdomen was drawn, its lengths; None where that was not measured.
        her, him, carapace: her abdomen, his body (no legs) and her carapace at the onset; None where not known.
    """
    drawn = _blind(ABDOMEN_DRAWN, "the pass did not measure it")
    if pull is not None:
        drawn = SignSeen(ABDOMEN_DRAWN, pull >= p.drawn, round(100 * pull), "%", "of its length, by the pass")
    if not sight.told or her is None or sight.length < 8:
        why = "too few pictures lie before or after it" if her is not None else "her abdomen was not followed here"
        blind = [_blind(sign, why) for sign in (PALPS_STILL, ANGLE_CHANGED, MALE_STRETCHED, NEAR)]
        return (blind[0], drawn, *blind[1:])
    return (
        _stilled(sight, her, p),
        drawn,
        _turned(sight, carapace or _carapace(her, him or toward), p),
        _stretched(sight, her, him, p),
        _near(her, him),
    )


def _blind(sign: str, why: str) -> SignSeen:
    return SignSeen(sign, None, None, "", f"cannot be seen: {why}")


def figure_words(one: SignSeen) -> str:
    """The figure of a sign, such as "14 %", "9°" or "40 % less"; empty where there is none."""
    if one.figure is None:
        return ""
    if one.sign == PALPS_STILL:
        return f"{one.figure:g} % {'less' if one.because.startswith('less') else 'more'}"
    return _with_unit(one)


def sign_words(one: SignSeen) -> str:
    """A sign as a line for the keeper."""
    told = "?" if one.seen is None else "yes" if one.seen else "no"
    if one.sign == NEAR and one.seen:
        return f"{one.sign}: {figure_words(one)} {one.because}"
    figure = "" if one.figure is None else f"{_with_unit(one)} "
    return f"{one.sign}: {told}, {figure}{one.because}"


def _with_unit(one: SignSeen) -> str:
    unit = one.unit.removesuffix("s") if one.figure == 1 else one.unit
    return f"{one.figure:g}{'' if unit == '°' else ' '}{unit}"


# palps and legs beside her


def _stilled(sight: Sight, her: Oval, p: SignParameters) -> SignSeen:
    if sight.steady < 0.5:
        return _blind(PALPS_STILL, "the camera moved too much")
    k = max(1, round(p.apart_s / max(float(np.median(np.diff(sight.times))), 1e-3)))
    moments = sight.times[k:]
    first = (moments - (sight.times[k:] - sight.times[:-k]) >= sight.onset - 1.2) & (moments <= sight.onset - 0.02)
    late = (moments >= sight.full + 0.25) & (moments <= sight.until)
    if min(int(first.sum()), int(late.sum())) < 4:
        return _blind(PALPS_STILL, "it let go at once")
    stir = stirring(sight, her, k, first, late, p)
    crowded = min(stir.there_before, stir.there_after) > p.most
    if stir.elsewhere > p.unsteady * max(stir.before, p.stirs) or crowded:
        return _blind(PALPS_STILL, "the whole picture is unsteady")
    if stir.there_before < p.stirs:
        return SignSeen(PALPS_STILL, False, None, "", "nothing beside her stirred before it either")
    less = 100 * (1 - stir.after / stir.before)
    told = "less stirs beside her than before" if less >= 0 else "more stirs beside her than before"
    still = stir.there_after <= p.stilled * stir.there_before and stir.after <= p.calmer * stir.before
    return SignSeen(PALPS_STILL, still, round(abs(less), 0), "%", told)


@dataclass(frozen=True, slots=True)
class Stir:
    """How much stirs: share of her abdomen's area that changed beyond noise, mean over the moments.

    Attributes:
        before, after: beside her. there_before, there_after: at the places beside her that stir often before.
        elsewhere: what an area of that size shows far from her.
    """

    before: float
    after: float
    there_before: float
    there_after: float
    elsewhere: float


def stirring(
    sight: Sight, her: Oval, apart: int, first: NDArray[np.bool_], late: NDArray[np.bool_],
    p: SignParameters = PARAMETERS,
) -> Stir:  # fmt: skip
    """How much stirs beside her before and after the pull, and in the rest of the picture.

    Args:
        apart: pictures between the two that are compared. first, late: which comparisons (n - apart,) lie before and
            after.
    """
    import cv2

    soft = np.stack([cv2.GaussianBlur(picture, (0, 0), 0.8) for picture in sight.pictures])
    change = np.abs(soft[apart:] - soft[:-apart])
    rows, columns = change.shape[1:]
    y, x = np.mgrid[:rows, :columns]
    away = np.hypot(x - her.x / sight.ratio, y - her.y / sight.ratio) / sight.length
    beside, far = (away <= p.beside) & (away > 0.75), away > p.beside + 0.3
    noise = 1.4826 * np.median(change, axis=(1, 2))
    moved = change > np.maximum(6.0, 6.0 * noise)[:, None, None]
    often, later = moved[first].mean(axis=0), moved[late].mean(axis=0)
    there = beside & (often >= p.often)
    area = 0.55 * sight.length**2
    if float(np.median(noise[first | late])) > p.restless:
        return Stir(0.0, 0.0, 0.0, 0.0, np.inf)
    usual = float(moved[first | late][:, far].mean()) if far.sum() > area else 0.0
    before, after = float(often[beside].sum() / area), float(later[beside].sum() / area)
    return Stir(before, after, float(often[there].sum() / area), float(later[there].sum() / area), usual)


# her body and his


def _carapace(her: Oval, him: Oval | None) -> Oval | None:
    """Where her carapace must lie: before her abdomen, at the end of its axis that is nearer to him."""
    if him is None:
        return None
    way = np.array([him.x - her.x, him.y - her.y])
    axis = np.array([np.cos(np.radians(her.angle_deg)), np.sin(np.radians(her.angle_deg))])
    slim = her.a / max(her.b, 1e-6)
    ahead = axis * (1 if axis @ way >= 0 else -1) if slim > 1.15 else way / max(float(np.hypot(*way)), 1e-6)
    x, y = np.array([her.x, her.y]) + 1.64 * her.a * ahead
    return Oval(float(x), float(y), 0.8 * her.a, 0.7 * her.a)


def _turned(sight: Sight, shell: Oval | None, p: SignParameters) -> SignSeen:
    if shell is None:
        return _blind(ANGLE_CHANGED, "where her carapace is; outline it, or him")
    found = shifted(sight, shell, p.most_turn_deg)
    if found is None or found[2] < p.alike:
        return _blind(ANGLE_CHANGED, "her carapace does not show clearly before and after")
    turn = found[1]
    told = "clockwise" if turn > 0 else "anticlockwise"
    return SignSeen(ANGLE_CHANGED, abs(turn) >= p.turns_deg, round(abs(turn), 1), "°", f"{told}, by her carapace")


def _stretched(sight: Sight, her: Oval, him: Oval | None, p: SignParameters) -> SignSeen:
    if him is None:
        return _blind(MALE_STRETCHED, "where he is; outline him, or draft the film")
    if not _inside(sight, him):
        return _blind(MALE_STRETCHED, "he is not wholly in the picture")
    way = np.array([her.x - him.x, her.y - him.y])
    ahead = way / max(float(np.hypot(*way)), 1e-6)
    if him.a > 1.2 * him.b:  # his own axis, where it is known
        axis = np.array([np.cos(np.radians(him.angle_deg)), np.sin(np.radians(him.angle_deg))])
        ahead = axis * (1 if axis @ ahead >= 0 else -1)
    size = 0.5 * him.a
    ends = [Oval(him.x + s * 0.5 * him.a * ahead[0], him.y + s * 0.5 * him.a * ahead[1], size, size) for s in (1, -1)]
    moved = [shifted(sight, end, 15.0) for end in ends]
    if any(one is None or one[2] < p.alike for one in moved):
        return _blind(MALE_STRETCHED, "his body does not show clearly before and after")
    front, rear = (one[0] for one in moved if one is not None)
    longer = float((front - rear) @ ahead) * sight.ratio / (2 * him.a)
    percent = round(100 * longer)
    told = "" if not percent else ", towards her" if percent > 0 else ", shorter"
    return SignSeen(MALE_STRETCHED, longer >= p.stretches, float(percent), "%", f"of his length{told}")


def _near(her: Oval, him: Oval | None) -> SignSeen:
    if him is None:
        return _blind(NEAR, "where he is; outline him, or draft the film")
    gap = np.hypot(*(her.edge()[:, None] - him.edge()[None]).transpose(2, 0, 1)).min()
    apart = float(gap) / max(2 * her.a, 1e-6)
    return SignSeen(NEAR, True, round(apart, 1), "lengths", "of her abdomen between it and his body")


def _inside(sight: Sight, one: Oval) -> bool:
    height, width = sight.pictures.shape[1:]
    edge = one.edge() / sight.ratio
    return bool(((edge > 1) & (edge < np.array([width, height]) - 2)).mean() > 0.9)


def shifted(sight: Sight, patch: Oval, most_deg: float) -> tuple[Floats, float, float] | None:
    """How a patch moved from before to after the pull.

    Returns:
        shift of its middle (x, y) in pixels of the sight's pictures, turn in degrees clockwise, likeness -1..1; None
        where it lies outside the picture or cannot be laid on.
    """
    before, after = _mean(sight, sight.before), _mean(sight, sight.after)
    cut = _cut(before, patch, sight.ratio)
    if cut is None:
        return None
    old, mask, corner = cut
    return _laid_on(old, mask, after, corner, most_deg, 0.45 * patch.a / sight.ratio)


def _mean(sight: Sight, chosen: NDArray[np.bool_]) -> NDArray[np.float32]:
    """The mean of the pictures nearest to the pull on one side, slow shade taken out."""
    import cv2

    rows = np.flatnonzero(chosen)
    near = rows[-8:] if sight.times[rows[0]] < sight.onset else rows[: max(8, len(rows) // 2)]
    mean = sight.pictures[near].mean(axis=0)
    return np.asarray(mean - cv2.GaussianBlur(mean, (0, 0), 0.5 * sight.length), np.float32)


def _cut(
    picture: NDArray[np.float32], patch: Oval, ratio: float
) -> tuple[NDArray[np.float32], NDArray[np.float32], tuple[int, int]] | None:
    """The picture in the patch's square, its round mask, and the square's corner (x, y)."""
    x, y, r = patch.x / ratio, patch.y / ratio, max(patch.a, patch.b) / ratio
    left, top, side = round(x - r), round(y - r), max(round(2 * r), 6)
    height, width = picture.shape
    if left < 0 or top < 0 or left + side > width or top + side > height:
        return None
    v, u = np.mgrid[:side, :side] + 0.5
    mask = (((u - side / 2) ** 2 + (v - side / 2) ** 2) <= (side / 2) ** 2).astype(np.float32)
    return picture[top : top + side, left : left + side], mask, (left, top)


def _laid_on(
    old: NDArray[np.float32], mask: NDArray[np.float32], picture: NDArray[np.float32], corner: tuple[int, int],
    most_deg: float, reach: float,
) -> tuple[Floats, float, float] | None:  # fmt: skip
    """Search over turns and whole shifts by normalised correlation, then refine by ECC."""
    import cv2

    side = len(old)
    far = max(2, round(reach))
    left, top = max(corner[0] - far, 0), max(corner[1] - far, 0)
    right, bottom = min(corner[0] + side + far, picture.shape[1]), min(corner[1] + side + far, picture.shape[0])
    field = picture[top:bottom, left:right]
    best: tuple[float, float, float, float] | None = None
    for degrees in np.arange(-most_deg, most_deg + 0.1, 3.0).tolist():
        turn = cv2.getRotationMatrix2D((side / 2 - 0.5, side / 2 - 0.5), -degrees, 1.0)
        turned = cv2.warpAffine(old, turn, (side, side), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        score = cv2.matchTemplate(field, turned, cv2.TM_CCOEFF_NORMED, mask=mask)
        score[~np.isfinite(score)] = -1.0
        _, top_score, _, (x, y) = cv2.minMaxLoc(score)
        if best is None or top_score > best[0]:
            best = top_score, degrees, left + x - corner[0], top + y - corner[1]
    if best is None:
        return None
    likeness, degrees, dx, dy = best
    middle = np.array([corner[0] + side / 2 - 0.5, corner[1] + side / 2 - 0.5])
    angle = np.radians(degrees)
    c, s = np.cos(angle), np.sin(angle)
    linear = np.array([[c, -s], [s, c]])
    half = np.array([side / 2 - 0.5, side / 2 - 0.5])
    start = np.column_stack([linear, middle + np.array([dx, dy]) - linear @ half]).astype(np.float32)
    try:
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 1e-5)
        # the mask belongs to the picture that is laid on, so it is carried over
        shown = cv2.warpAffine(mask, start, picture.shape[::-1])
        seen = (shown > 0.5).astype(np.uint8)
        likeness, fine = cv2.findTransformECC(old, picture, start, cv2.MOTION_EUCLIDEAN, stop, seen, 3)
    except cv2.error:
        fine = start
    moved = fine[:, :2] @ half + fine[:, 2] - middle
    return np.asarray(moved, np.float64), float(np.degrees(np.arctan2(fine[1, 0], fine[0, 0]))), float(likeness)
