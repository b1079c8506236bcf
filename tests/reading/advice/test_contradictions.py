"""What cannot be is told in a sentence, and no date is computed out of it in silence."""

from dataclasses import replace
from datetime import date

import pytest

from clipmark.book.model import LifeEvent, Outcome
from clipmark.reading.advice.contradictions import doubts
from clipmark.reading.advice.outlook import Status, outlook
from tests.reading.made_records import Made

TODAY = date(2026, 6, 1)


def paired(*outcomes, on="2026-03-01"):
    record = Made(date=on).record()
    return replace(record, outcomes=tuple(Outcome(n, 1, *rest) for n, rest in enumerate(outcomes, 1)))


def life(*events):
    return [LifeEvent(n, 1, kind, on) for n, (kind, on) in enumerate(events, 1)]


CASES = [
    (paired(on="2026-09-01"), (), (), "dated 2026-09-01, which is still to come"),
    (paired(("laid", "2026-02-01")), (), (), "before the pairing (2026-03-01)"),
    (paired(("laid", "2026-07-01")), (), (), "“laid” is noted for 2026-07-01, which is still to come"),
    (paired(("laid", "2026-04-01"), ("none yet", "2026-05-01")), (), (), "after something had come"),
    (paired(("laid", "2026-04-01", (("good eggs", 10),)), ("nymphs", "2026-05-20", (("nymphs", 12),))), (), (),
     "12 nymphs are noted, but only 10 eggs"),
    (paired(), life(("died", "2026-04-01"), ("died", "2026-05-01")), (), "noted as dead 2 times"),
    (paired(), life(("died", "2026-04-01"), ("moult", "2026-05-01")), (), "when it is noted as dead"),
    (paired(), (), life(("died", "2026-02-01")), "before this pairing"),
    (paired(), (), life(("matured", "2026-01-01"), ("matured", "2026-02-01")), "more than one maturing moult"),
    (paired(), life(("moult", "2027-01-01")), (), "still to come: it does not count yet"),
]  # fmt: skip


@pytest.mark.parametrize(("record", "her", "his", "words"), CASES)
def test_what_cannot_be_is_told(record, her, his, words):
    assert any(words in text for text in doubts(record, her, his, TODAY)), doubts(record, her, his, TODAY)


@pytest.mark.parametrize(("record", "her", "his", "words"), CASES)
def test_the_outlook_of_what_cannot_be_still_stands(record, her, his, words):
    seen = outlook(record, her, his, (), TODAY)

    assert seen.status in Status
    assert all(due.on >= TODAY for due in seen.dates)


def test_a_sound_book_has_no_doubts():
    record = paired(("laid", "2026-04-20", (("good eggs", 100),)), ("nymphs", "2026-05-30", (("nymphs", 90),)))

    assert () == doubts(
        record, life(("moult", "2025-12-01"), ("fed", "2026-02-20")), life(("matured", "2026-01-01")), TODAY
    )
