"""Why a moment is proposed and what speaks against it, in words for the keeper."""

from __future__ import annotations

from clipmark.motion.layers import WHOLE_BODY, went_as_a_whole


def because(pull: float, tilt_deg: float, rise_s: float, features: dict[str, float]) -> str:
    """One sentence from the measures of a candidate."""
    parts = []
    if pull >= 0.01 or abs(tilt_deg) < 2:
        parts.append(f"drawn by {100 * pull:.0f} % of its length")
    if abs(tilt_deg) >= 2:
        parts.append(f"turned by {abs(tilt_deg):.0f}° {'clockwise' if tilt_deg > 0 else 'anticlockwise'}")
    way = features.get("towards")
    if way is not None and abs(way) > 0.5 and pull >= 0.01:
        parts[0] += " towards the male" if way > 0 else " away from the male"
    times = features.get("unusual", 0.0)
    against = f", {times:.0f} times what this shot shows otherwise" if times >= 3 else ""
    lasted = f"within {max(rise_s, 0.01):.2f} s and stayed so{against}"
    return f"The abdomen was {' and '.join(parts)} {lasted}.{_calm(features)}"


def _calm(features: dict[str, float]) -> str:
    """Keepers look whether the palps go still: while they flick about there is no insertion (common practice)."""
    before, after = features.get("busy_before"), features.get("busy_after")
    if before is None or after is None or max(before, after) < 1.0:
        return ""
    if after < 0.5 * before:
        return " What stirred beside her went calmer then."
    if before < 0.5 * after:
        return " What is beside her stirs more after it."
    return ""


def doubts(features: dict[str, float]) -> tuple[str, ...]:
    """Short phrases; the limits are where a person would begin to wonder (proposals, no source)."""
    said = []
    if features.get("shake", 0) > 1.0 or features.get("zoomed", 0) > 0.02:
        said.append("the camera moved at the same time")
    if went_as_a_whole(features) >= WHOLE_BODY:
        said.append("her whole body moved along")
    elif features.get("along", 0) > 0.45:
        said.append("her body may have moved with it")
    if features.get("quality", 1) < 0.7 or features.get("missing", 0) > 0.15:
        said.append("the abdomen was partly hidden")
    if features.get("gain", 0) > 0.12:
        said.append("the light changed at the same time")
    if features.get("blur", 0) > 0.35:
        said.append("the focus changed at the same time")
    if features.get("left", 0) > 0.35:
        said.append("something else changed on the abdomen")
    if features.get("ratio", 99) < 5:
        said.append("hardly larger than the unrest round it")
    if features.get("held", 1) < 0.6:
        said.append("not held for long")
    return tuple(said)
