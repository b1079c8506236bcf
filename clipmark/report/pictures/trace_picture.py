"""The trace of her abdomen round one flag: drawn (pull) and tipped (tilt), with onset, full pull and release."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from clipmark.report.called import NumberedFlag
from clipmark.report.pictures.colours import VERMILION
from clipmark.report.pictures.svg import FAINT, HAIR, INK, SOFT, Picture, nice_step
from clipmark.report.pictures.traces import ClipTrace

LEFT, RIGHT, TOP, FOOT = 30.0, 28.0, 16.0, 15.0
TILT_WORD = "#a34800"  # vermilion for words: 4.5 to 1 on white, as WCAG 2.2 asks
Floats = NDArray[np.float64]
STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60)


def trace_svg(
    trace: ClipTrace, flag: NumberedFlag, width: float = 250, height: float = 118, around: float = 2.0
) -> str:
    """The stretch from `around` seconds before the onset to as much after the release (at most 12 s in all).

    The full line is the pull in abdomen lengths (left scale), the broken one the tilt in degrees (right scale);
    where she was not followed the lines are broken off. Both count from where she lay before this pull, and the pull
    goes up, whatever the outline was drawn on.
    """
    last = float(flag.release if flag.release is not None else flag.full)
    zero = float(flag.onset)
    start, end = zero - around, min(last + around, zero + 12 - around)
    inside = (trace.clock >= start) & (trace.clock <= end)
    times = trace.clock[inside]
    before, held = times < zero, (times >= float(flag.full)) & (times <= max(last, float(flag.full)))
    pull = _from_rest(trace.trace.pull[inside], before)
    tilt = _from_rest(trace.trace.tilt[inside], before)
    if np.isfinite(pull[held]).any() and np.nanmedian(pull[held]) < 0:
        pull = -pull
    told = f"From {around:g} s before the onset. The pull is complete {float(flag.full) - zero:.2f} s after it" + (
        f", release {float(flag.release) - zero:.2f} s after it."
        if flag.release is not None
        else ", no release seen."
    )
    picture = Picture(width, height, f"Her abdomen round pull {flag.number}", told, f"trace-{flag.number}")

    def x(t: float) -> float:
        return LEFT + (t - start) / (end - start) * (width - LEFT - RIGHT)

    foot = height - FOOT
    _frame(picture, x, zero, start, end, foot)
    for label, at in (("onset", flag.onset), ("full", flag.full), ("release", flag.release)):
        if at is not None and start <= float(at) <= end:
            _moment(picture, label, x(float(at)), foot, shift=-1 if label == "onset" else 1)
    if not (np.isfinite(pull).any() or np.isfinite(tilt).any()):
        picture.text(width / 2, height / 2, "not followed here", 10, text_anchor="middle", fill=SOFT)
        return str(picture)
    _curve(picture, [x(t) for t in times], pull.tolist(), foot, INK, "", left=True)
    _curve(picture, [x(t) for t in times], tilt.tolist(), foot, VERMILION, "4 2", left=False)
    return str(picture)


def _from_rest(values: Floats, before: NDArray[np.bool_]) -> Floats:
    """Values (n,) less their median before the onset; as they are where nothing was followed there."""
    rest = values[before & np.isfinite(values)]
    return values - np.median(rest) if rest.size else values


def _frame(picture: Picture, x: Callable[[float], float], zero: float, start: float, end: float, foot: float) -> None:
    picture.line(LEFT, foot, picture.width - RIGHT, foot, SOFT, 0.8)
    step = nice_step(end - start, 6, STEPS)
    for k in range(math.ceil((start - zero) / step), math.floor((end - zero) / step) + 1):
        at = x(zero + k * step)
        picture.line(at, TOP, at, foot, HAIR, 0.6)
        label = f"{k * step:+g}".replace("-", "−") if k else "0 s"
        picture.text(at, foot + 11, label, 8, text_anchor="middle", fill=SOFT)


def _moment(picture: Picture, label: str, x: float, foot: float, shift: int) -> None:
    dashes = {"onset": "", "full": "5 2", "release": "1.5 2"}[label]
    more = {"stroke_dasharray": dashes} if dashes else {}
    picture.line(x, TOP - 4, x, foot, FAINT, 1.1, **more)
    picture.text(x + 2 * shift, TOP - 5, label, 8, text_anchor="end" if shift < 0 else "start", fill=INK)


def _curve(
    picture: Picture, xs: list[float], values: list[float], foot: float, colour: str, dash: str, left: bool
) -> None:
    seen = [v for v in values if v == v]
    if not seen:
        return
    floor = 0.12 if left else 6.0  # noise must not fill the picture
    low, high = min(seen), max(seen)
    if high - low < floor:
        low, high = (low, low + floor) if abs(high) >= abs(low) else (high - floor, high)

    def y(v: float) -> float:
        return foot - 3 - (v - low) / (high - low) * (foot - TOP - 8)

    picture.path(
        [(a, y(v)) for a, v in zip(xs, values, strict=True)],
        colour,
        1.4,
        **({"stroke_dasharray": dash} if dash else {}),
    )
    of_word = INK if left else TILT_WORD
    at, anchor = (LEFT - 4, "end") if left else (picture.width - RIGHT + 4, "start")
    for value in (low, high):
        text = f"{value:.2f}" if left else f"{value + 0.0:.0f}°".replace("-0°", "0°")
        picture.text(at, y(value) + 3, text.replace("-", "−"), 8, text_anchor=anchor, fill=of_word)
    picture.text(at, TOP - 5, "pull" if left else "tilt", 8, text_anchor=anchor, fill=of_word)
