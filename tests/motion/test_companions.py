"""The other outlines: did her carapace go along, and was the pull towards the male."""

from __future__ import annotations

import numpy as np
import pytest

from clipmark.motion.companions import towards, went_along

TIMES = np.arange(100) / 25


def moved(at_s: float, shift: complex) -> np.ndarray:
    """A middle that lies still and is shifted, in pixels, from `at_s` on."""
    return np.where(TIMES >= at_s, shift, 0j) + complex(200, 100)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_the_share_of_a_pull_that_the_carapace_makes_too_is_measured(share: float) -> None:
    pull = complex(8, -3)

    assert share == pytest.approx(went_along(moved(2.0, share * pull), TIMES, 1.96, 2.0, pull), abs=1e-9)


def test_a_carapace_that_was_not_seen_says_nothing() -> None:
    unseen = np.full(len(TIMES), np.nan, complex)

    assert went_along(unseen, TIMES, 1.96, 2.0, 8 + 0j) is None


@pytest.mark.parametrize(("pull", "cosine"), [(5 + 0j, 1.0), (-5 + 0j, -1.0), (0 + 5j, 0.0)])
def test_a_pull_is_told_as_towards_the_male_or_away_from_him(pull: complex, cosine: float) -> None:
    male = np.full(len(TIMES), complex(300, 100))

    assert cosine == pytest.approx(towards(male, TIMES, 2.0, complex(200, 100), pull), abs=1e-9)
