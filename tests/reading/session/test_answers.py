from fractions import Fraction

import numpy as np
import pytest

from clipmark.reading.session.answers import her_answers, his_answers
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made


def courted(answer_after, seed=0, n=20, length=1200):
    made = Made(length=length)
    random = np.random.default_rng(seed)
    for k in range(n):
        start = 10 + 55 * k + float(random.uniform(0, 20))
        made.mark("drumming", round(start, 3), round(start + 3, 3))
        if answer_after is not None:
            made.mark("answering", round(start + answer_after, 3), round(start + answer_after + 1, 3))
    return made


def test_an_answer_that_always_follows_is_told_from_chance():
    found = her_answers([read(courted(4).record())])

    assert (20, 20) == (found.calls, found.answered)
    assert 4 == pytest.approx(found.median_delay, abs=0.01)
    assert found.p <= 0.01
    assert found.by_chance < 10


def test_answers_at_random_are_not():
    p = []
    for seed in range(20):
        made = courted(None, seed)
        random = np.random.default_rng(100 + seed)
        for at in np.sort(random.uniform(0, 1190, 20)):
            made.mark("answering", round(float(at), 3), round(float(at) + 1, 3))
        p.append(her_answers([read(made.record())], draws=199).p)

    assert 0.25 < np.mean(p) < 0.75


def test_an_answer_belongs_to_the_last_drumming_before_it():
    made = Made()
    made.mark("drumming", 10, 11)
    made.mark("drumming", 14, 15)
    made.mark("answering", 16, 17)

    found = her_answers([read(made.record())])

    assert (2, 1, (2.0,)) == (found.calls, found.answered, found.delays)


def test_an_answer_at_the_end_of_the_window_counts_and_after_it_not():
    for at, answered in ((20, 1), (20.001, 0)):
        made = Made()
        made.mark("drumming", 10, 11)
        made.mark("answering", at, 25)
        assert answered == her_answers([read(made.record())], window=Fraction(10)).answered


def test_time_out_of_view_does_not_delay_an_answer():
    made = Made()
    made.mark("drumming", 10, 11)
    made.mark("out of view", 12, 112)
    made.mark("answering", 114, 115)

    assert (4.0,) == her_answers([read(made.record())]).delays


def test_his_drumming_upon_her_answer_is_the_other_way_round():
    made = Made()
    made.mark("answering", 10, 11)
    made.mark("drumming", 13, 14)

    assert 1 == his_answers([read(made.record())]).answered
    assert 0 == her_answers([read(made.record())]).answered


def test_without_an_answer_nothing_is_tested():
    made = Made()
    made.mark("drumming", 10, 11)

    found = her_answers([read(made.record())])

    assert found.p is None
    assert "0 of 1 answered within 10 s" == found.sentence


def test_a_window_of_nothing_is_refused():
    with pytest.raises(ValueError, match="positive"):
        her_answers([], window=Fraction(0))
