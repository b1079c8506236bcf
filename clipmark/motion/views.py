"""Whether a view that was hidden for a while is the same view when it comes back."""

from __future__ import annotations

from collections.abc import Collection

from clipmark.motion.result import Shot
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey, Texture, without_shade

_LONGEST_S = 8.0  # a hand stays no longer before the lens; after that the keeper is asked
_ALIKE = 0.7  # correlation of fine detail


class Glimpses:
    """The small pictures on either side of every sudden change."""

    def __init__(self) -> None:
        self._at: dict[int, tuple[Grey, Grey]] = {}

    def note(self, number: int, before: Grey | None, now: Grey) -> None:
        """Keep the pictures before and after the sudden change at frame `number`."""
        if before is not None:
            self._at[number] = before, now

    def after(self, cut: int, until: int) -> list[tuple[int, Grey]]:
        """The first pictures after the sudden changes that follow a cut, with their frames."""
        return [(n, now) for n, (_, now) in sorted(self._at.items()) if cut < n <= until]

    def sides(self, cut: int) -> tuple[Grey, Grey] | None:
        """The pictures before and after a cut."""
        return next((self._at[n] for n in (cut, cut - 1, cut + 1) if n in self._at), None)


def same_view(one: Grey, other: Grey) -> bool:
    """Whether two small pictures show one place from one spot, whatever small has moved in it."""
    if one.shape != other.shape:
        return False
    a, b = without_shade(one, 0.8, 17), without_shade(other, 0.8, 17)
    ones = Texture(a, (a * 0 + 1).astype(a.dtype))
    fit = ones.find(b, Similarity(1 + 0j, ones.middle), 4.0, 8)
    near = abs(fit.place.c - ones.middle) < 0.12 * one.shape[1]
    return near and abs(abs(fit.place.m) - 1) < 0.1 and fit.likeness * min(1.0, fit.seen / 0.6) > _ALIKE


def rejoined(
    shots: tuple[Shot, ...], glimpses: Glimpses, outlined: Collection[int], seconds_between: float
) -> tuple[Shot, ...]:
    """The shots with those made one that show one view before and after something hid it.

    Args:
        outlined: frames with an outline of their own; a shot that has one stays as it is.
        seconds_between: mean time from frame to frame.
    """
    found: list[Shot] = []
    i = 0
    while i < len(shots):
        shot = shots[i]
        j = i + 1
        while j < len(shots):
            back = _comes_back(shots, i, j, glimpses, outlined, seconds_between)
            if back is None:
                break
            shot = Shot(shot.start, shots[back].end, shot.begins, shot.whole)
            i, j = back, back + 1
        found.append(shot)
        i += 1
    return tuple(found)


def _comes_back(
    shots: tuple[Shot, ...], last: int, following: int, glimpses: Glimpses, outlined: Collection[int],
    seconds_between: float,
) -> int | None:  # fmt: skip
    """Which of the next shots shows the view of `last` again."""
    cut = shots[following].start
    gone = glimpses.sides(cut)
    if gone is None:
        return None
    for number, came in glimpses.after(cut, cut + int(_LONGEST_S / seconds_between)):
        back = next((k for k in range(following, len(shots)) if shots[k].start <= number < shots[k].end), None)
        if back is None:
            return None
        between = range(cut, shots[back].end)
        if any(frame in between for frame in outlined):
            return None
        if same_view(gone[0], came):
            return back
    return None
