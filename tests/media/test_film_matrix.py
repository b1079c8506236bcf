"""Awkward films of every kind, held frame by frame and time by time against ffmpeg and ffprobe.

All of them: `python -m pytest -m sweep tests/media/test_film_matrix.py`, or, with the table for the docs,
`python tests/media/film_judge.py`.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from film_judge import judge
from film_matrix import CASES, Case

pytestmark = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg makes the films of this test")


@pytest.mark.parametrize("case", [case for case in CASES if case.fast], ids=lambda case: case.name)
def test_every_frame_is_right_and_every_time_is_ffprobes(case: Case, tmp_path: Path) -> None:
    verdict = judge(case, tmp_path)

    assert verdict.good, verdict


@pytest.mark.sweep
@pytest.mark.parametrize("case", [case for case in CASES if not case.fast], ids=lambda case: case.name)
def test_every_frame_of_the_rarer_films_is_right_too(case: Case, tmp_path: Path) -> None:
    verdict = judge(case, tmp_path)

    assert verdict.good, verdict


def test_the_matrix_holds_at_least_45_films_that_differ() -> None:
    assert 45 <= len({case.name for case in CASES}) == len(CASES)
