"""Pairing two reviewers' onsets: as many pairs as the tolerance allows, then the smallest total difference."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction


def match(a: Sequence[Fraction], b: Sequence[Fraction], tolerance: Fraction) -> list[tuple[int, int]]:
    """One-to-one pairs (index in a, index in b) with |difference| <= tolerance, sorted by time.

    Of all ways to pair, one with the most pairs, and of those the one with the smallest sum of differences; taking
    the nearest first can lose pairs. Times are exact, so a difference that equals the tolerance counts.
    """
    left = sorted(range(len(a)), key=lambda i: a[i])
    right = sorted(range(len(b)), key=lambda j: b[j])
    pairs: list[tuple[int, int]] = []
    for mine, theirs in _clusters(left, right, a, b, tolerance):
        pairs.extend(_best(mine, theirs, a, b, tolerance))
    return sorted(pairs, key=lambda p: (a[p[0]], b[p[1]]))


def _clusters(
    left: list[int], right: list[int], a: Sequence[Fraction], b: Sequence[Fraction], tolerance: Fraction
) -> list[tuple[list[int], list[int]]]:
    """Groups between which no pair is possible: cut where the merged times leave a gap above the tolerance."""
    merged = sorted([(a[i], 0, i) for i in left] + [(b[j], 1, j) for j in right])
    clusters: list[tuple[list[int], list[int]]] = []
    last: Fraction | None = None
    for at, side, index in merged:
        if last is None or at - last > tolerance:
            clusters.append(([], []))
        clusters[-1][side].append(index)
        last = at
    return clusters


def _best(
    mine: list[int], theirs: list[int], a: Sequence[Fraction], b: Sequence[Fraction], tolerance: Fraction
) -> list[tuple[int, int]]:
    """Dynamic programming over the two sorted lists: on a line, an optimal pairing never needs to cross."""
    rows, columns = len(mine), len(theirs)
    if not rows or not columns:
        return []
    # best[r][c]: (pairs, minus the sum of differences) using the first r and c
    best = [[(0, Fraction(0))] * (columns + 1) for _ in range(rows + 1)]
    for r in range(1, rows + 1):
        for c in range(1, columns + 1):
            choice = max(best[r - 1][c], best[r][c - 1])
            off = abs(a[mine[r - 1]] - b[theirs[c - 1]])
            if off <= tolerance:
                pairs, rest = best[r - 1][c - 1]
                choice = max(choice, (pairs + 1, rest - off))
            best[r][c] = choice
    pairs_found: list[tuple[int, int]] = []
    r, c = rows, columns
    while r and c:
        off = abs(a[mine[r - 1]] - b[theirs[c - 1]])
        pairs, rest = best[r - 1][c - 1]
        if off <= tolerance and best[r][c] == (pairs + 1, rest - off):
            pairs_found.append((mine[r - 1], theirs[c - 1]))
            r, c = r - 1, c - 1
        elif best[r][c] == best[r - 1][c]:
            r -= 1
        else:
            c -= 1
    return pairs_found
