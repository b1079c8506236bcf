"""Which call counts is one rule, asked in SQL by the list and in Python by everything else."""

import random

from clipmark.book.meaning.calls import calls_by, counting_calls
from clipmark.book.model import Call, Decision, Session
from clipmark.book.store import Book
from tests.book.made_book import clip_of, flag_of, result_of

FLAGS = (flag_of(10), flag_of(30), flag_of(50, 0.2, False), flag_of(70, 0.1, False))


def test_the_list_and_the_record_name_the_same_calls(tmp_path):
    decided = random.Random(5)
    with Book.open(tmp_path / "a.book", backups=False) as book:
        for title in range(6):
            session = book.add_session(Session(0, f"S{title}", None, None, reviewer="Ada"))
            clip = book.add_clip(clip_of(session.id))
            book.add_pass(
                clip.id,
                result_of(flag_of(10), flag_of(30), flag_of(50, 0.2, False), flag_of(70, 0.1, False)),
            )
            for flag in book.session(session.id).flags:
                for who in decided.choices(("Ada", "Ben", ""), k=decided.randrange(4)):
                    book.add_call(Call(0, flag.id, who, decided.choice([*Decision])))
        for row in book.sessions():
            record = book.session(row.id)
            counting = counting_calls(record)
            assert len(counting) == row.called
            assert sum(c.decision is Decision.CONFIRMED for c in counting.values()) == row.confirmed
            assert sum(f.flagged or f.id in counting for f in record.flags) == row.flags


def test_of_one_reviewer_the_latest_call_counts_whatever_the_clocks_said():
    earlier, later = (
        Call(1, 7, "Ada", Decision.OTHER, made_at="2027"),
        Call(2, 7, "Ada", Decision.ATTEMPT, made_at="2026"),
    )

    assert Decision.ATTEMPT is calls_by([later, earlier], "Ada")[7].decision
