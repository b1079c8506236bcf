"""What is said of a session in a list."""

import pytest

from clipmark.book.model import SessionRow
from clipmark.review.session_list import pair_words, state_words


def row(**fields) -> SessionRow:
    base = {"id": 1, "title": "t", "date": "", "female": "", "male": "", "species": "", "clips": 1, "marks": 0}
    return SessionRow(**(base | {"flags": 0, "called": 0, "confirmed": 0, "outcome": "", "due": 0} | fields))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"clips": 0}, "no film yet"),
        ({}, "1 clip · not reviewed yet"),
        ({"clips": 2, "flags": 12, "called": 5}, "2 clips · 12 flags, 5 called"),
        ({"marks": 1, "outcome": "sac"}, "1 clip · 1 mark · sac"),
    ],
)
def test_the_state_of_a_session_in_a_few_words(fields, said):
    assert said == state_words(row(**fields))


def test_a_pair_is_named_as_far_as_it_is_entered():
    assert "no animals entered" == pair_words(row())
    assert "Mora × Iron · Brachypelma hamorii" == pair_words(
        row(female="Mora", male="Iron", species="Brachypelma hamorii")
    )
