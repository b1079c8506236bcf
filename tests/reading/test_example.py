"""The example of the docs runs on a real book and answers by the numbers that are in it."""

import runpy
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from clipmark.book.model import Actor, Animal, Call, ClipRecord, Decision, FlagRecord, Mark, Session, Sex
from clipmark.book.store import Book

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "drumming_before_touch.py"


def filled(path, sessions):
    """A book of sessions given as (drums at, touches at, call): None where it never came."""
    with Book.open(path) as book:
        for k, (drums, touches, call) in enumerate(sessions):
            her = book.add_animal(Animal(0, f"Female {k}", Sex.FEMALE))
            one = book.add_session(Session(0, f"Pairing {k}", her.id, None, "2026-03-01", reviewer="Ada"))
            clip = ClipRecord(
                0, one.id, f"/film/{k}.mp4", 1, f"f{k}", Fraction(0), Fraction(1, 1000), 0, 90_000, 2250, 64, 36
            )
            clip = book.add_clip(clip)
            mark = Mark(0, clip.id, "contact", Actor.BOTH, 0, None, False, "Ada")
            if touches is not None:
                book.add_mark(replace(mark, start_pts=touches))
            if drums is not None:
                drumming = replace(mark, act="drumming", actor=Actor.HIM, lasting=True)
                book.add_mark(replace(drumming, start_pts=drums, end_pts=drums + 1000))
            flag = book.add_flag(
                FlagRecord(0, clip.id, None, 80_000, 80_200, None, None, None, None, None, "", by="Ada")
            )
            book.add_call(Call(0, flag.id, "Ada", call))


def answered(tmp_path, capsys, sessions):
    filled(tmp_path / "years.book", sessions)
    runpy.run_path(str(EXAMPLE))["main"](str(tmp_path / "years.book"))
    return capsys.readouterr().out


def test_the_example_counts_what_is_in_the_book(tmp_path, capsys):
    told = answered(
        tmp_path,
        capsys,
        [
            *[(5_000, 20_000, Decision.CONFIRMED)] * 5,
            (5_000, 30_000, Decision.ATTEMPT),
            *[(25_000, 10_000, Decision.ATTEMPT)] * 3,
            *[(None, 12_000, Decision.ATTEMPT)] * 2,
            (5_000, 20_000, Decision.NOT_SEEN),
            (5_000, None, Decision.ATTEMPT),
        ],
    )

    assert "13 sessions, 12 with contact, 12 females" in told
    assert "11 of them with at least one" in told
    assert "drummed first  confirmed in 5 of 6 (83 %" in told
    assert "did not        confirmed in 0 of 5 (0 %" in told
    assert "p = 0.015" in told  # 5 of 6 against 0 of 5: (6 + 1) / 462
    assert "where he drummed first: 20.0 s" in told


def test_with_few_sessions_the_example_counts_only(tmp_path, capsys):
    told = answered(tmp_path, capsys, [(5_000, 20_000, Decision.CONFIRMED)])

    assert "counts only" in told
    assert "%" not in told
