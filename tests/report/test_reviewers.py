"""A sheet is one person's; where two worked on a session they stand side by side and neither changes the other."""

import pytest

from clipmark.book.model import Decision
from clipmark.reading.session.agreement import NothingByReviewer, known_reviewer
from clipmark.report.called import numbered_flags
from clipmark.report.sheets.compose import compose
from tests.reading.made_records import Made


@pytest.fixture
def made():
    made = Made()
    made.mark("introduced", 0)
    made.mark("drumming", 10, 12)
    made.mark("drumming", 20, 22)
    made.mark("drumming", 9, 23, by="Ben")
    flag = made.flag(100, call=Decision.CONFIRMED)
    made.call(flag, Decision.ATTEMPT, "Ben")
    return made


def test_the_sheet_is_of_the_sessions_own_reviewer_unless_another_is_asked_for(made):
    own, bens = compose(made.record()), compose(made.record(), reviewer="Ben")

    assert ("Reviewed by", "Ada") in own.head
    assert ("Reviewed by", "Ben") in bens.head
    assert ["2", "1"] == [sheet.acts[0].count for sheet in (own, bens)]
    assert ["confirmed", "attempt"] == [sheet.cards[0].shape for sheet in (own, bens)]


def test_two_reviewers_stand_side_by_side(made):
    names = dict(compose(made.record()).reviewers)

    assert names["Ada"].startswith("1 confirmed")
    assert names["Ben"].startswith("0 confirmed, 0 probable, 1 attempt")
    assert "both called 1 pull and agree on 0" in names["Ada and Ben"]


def test_one_reviewer_needs_no_comparison():
    assert () == compose(Made().record()).reviewers


def test_a_confirmed_call_without_signs_says_so_on_the_sheet(made):
    card = compose(made.record()).cards[0]

    assert "confirmed, without stated signs" == numbered_flags(made.record())[0].said
    assert "without stated signs" in card.said
    assert "without stated signs" in card.calls[0].said


def test_a_name_that_nobody_has_is_refused_in_words(made):
    with pytest.raises(NothingByReviewer, match="There are some by Ada, Ben"):
        known_reviewer(made.record(), "Cleo")
