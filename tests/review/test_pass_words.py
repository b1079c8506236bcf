"""How far passes are, in words."""

import pytest

from clipmark.review.pass_files import Job
from clipmark.review.pass_words import Running, progress_of, time_left, words_of

JOB = Job("book", 1, 1, "f", "a.mkv")


def test_one_pass_is_told_with_its_time_left():
    assert "a.mkv: 25 %, about 30 s left" == words_of(Running(JOB, 25, 100, 10.0))
    assert "a.mkv: waits" == words_of(Running(JOB, 0, 0, None))
    assert "a.mkv: begins" == words_of(Running(JOB, 0, 0, 0.4))


def test_several_are_told_together_and_what_waits_counts_as_long_as_what_runs():
    found = progress_of([Running(JOB, 50, 100, 60.0), Running(JOB, 0, 0, None)])

    assert 0.25 == found.share
    assert "25 %, about 3 min left" == found.words  # one more minute, then two for the clip that waits


def test_nothing_is_said_before_anything_is_known():
    assert None is progress_of([Running(JOB, 0, 0, 0.1)]).share


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(3, "a few seconds left"), (42, "about 40 s left"), (130, "about 2 min left"), (7200, "about 2 h left")],
)
def test_time_left_is_rough(seconds, said):
    assert said == time_left(seconds)
