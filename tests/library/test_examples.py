"""The examples of the docs run on a real book or film and answer by the numbers that are in it."""

import runpy
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

from clipmark.book.model import Actor, Animal, Call, ClipRecord, Decision, FlagRecord, Mark, Outcome, Session, Sex
from clipmark.book.store import Book
from tests import made
from tests.book.made_book import flag_of, new_session, result_of

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


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


def run(capsys, name, *arguments):
    """What an example prints; its last argument is the picture, which must be one."""
    runpy.run_path(str(EXAMPLES / f"{name}.py"))["main"](*map(str, arguments))
    if arguments[-1].exists():
        assert plt.imread(arguments[-1]).std() > 0.01  # something is drawn
    plt.close("all")
    return capsys.readouterr().out


def answered(tmp_path, capsys, sessions):
    filled(tmp_path / "years.book", sessions)
    return run(capsys, "drumming_before_touch", tmp_path / "years.book", tmp_path / "p.png")


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


def test_the_waits_are_those_of_the_marks(tmp_path, capsys):
    filled(
        tmp_path / "years.book",
        [
            (5_000, 20_000, Decision.CONFIRMED),
            (5_000, 40_000, Decision.ATTEMPT),
            (5_000, None, Decision.ATTEMPT),
        ],
    )

    told = run(capsys, "waits_before_contact", tmp_path / "years.book", tmp_path / "p.png")

    assert "3 sessions, 2 with contact" in told
    assert "median wait for contact: 30.0 s" in told
    assert "first confirmed insertion: 60.0 s (median of 1)" in told  # the flag stands at 80 s


def test_flags_are_counted_by_their_score_and_call(tmp_path, capsys):
    with Book.open(tmp_path / "years.book") as book:
        session, clip = new_session(book)
        scores = (0.95, 0.9, 0.92, 0.55)
        flags = [replace(flag_of(10 * k), score=score) for k, score in enumerate(scores, start=1)]
        book.add_pass(clip.id, result_of(*flags))
        by_score = {flag.score: flag.id for flag in book.session(session.id).flags}
        calls = (Decision.CONFIRMED, Decision.PROBABLE, Decision.OTHER, Decision.NOT_SEEN)
        for score, call in zip(scores, calls, strict=True):
            book.add_call(
                Call(0, by_score[score], "Ada", call, cause="her own step" if call is Decision.OTHER else "")
            )

    told = run(capsys, "scores_and_calls", tmp_path / "years.book", tmp_path / "p.png")

    assert "3 called flags, 2 of them pulls" in told
    assert "score 0.8 to 1.0 (mean 0.92): 2 of 3 pulls" in told


def test_a_sac_is_counted_from_each_pairing_before_it(tmp_path, capsys):
    with Book.open(tmp_path / "years.book") as book:
        her = book.add_animal(Animal(0, "Mora", Sex.FEMALE, species="Grammostola pulchra"))
        for day in ("2026-01-01", "2026-01-21"):
            one = book.add_session(Session(0, f"Pairing {day}", her.id, None, day))
        book.add_outcome(Outcome(0, one.id, "laid", "2026-03-12"))

    told = run(capsys, "days_to_the_sac", tmp_path / "years.book", tmp_path / "p.png")

    assert "Grammostola pulchra: 1 sacs, 50 to 50 days after the last pairing" in told


def test_two_reviewers_are_laid_across_each_other(tmp_path, capsys):
    filled(tmp_path / "years.book", [(None, 1_000, Decision.CONFIRMED), (None, 1_000, Decision.ATTEMPT)])
    with Book.open(tmp_path / "years.book") as book:
        for session in (1, 2):
            book.add_call(Call(0, book.session(session).flags[0].id, "Ben", Decision.ATTEMPT))

    told = run(capsys, "two_reviewers", "Ada", "Ben", tmp_path / "years.book", tmp_path / "p.png")

    assert "2 flags called by both, 1 of them alike" in told
    assert "1 × Ada says confirmed, Ben says attempt" in told


def test_a_film_is_shown_by_what_moves_in_it(tmp_path, capsys):
    def draw(number):
        picture = np.full((48, 64), 90, np.uint8)
        picture[10:30, 5 + (number - 40 if 40 <= number < 60 else 0) :][:, :20] = 200
        return picture

    film = made.film(tmp_path / "film.mkv", [40 * k for k in range(100)], draw=draw).path

    told = run(capsys, "a_film_at_a_glance", film, "", tmp_path / "p.png")

    assert "100 frames in 4.0 s" in told
    assert "0 flags" in told


def test_every_example_is_run_here():
    tested = Path(__file__).read_text("utf-8")

    assert 6 == len(list(EXAMPLES.glob("*.py")))
    assert [] == [path.stem for path in EXAMPLES.glob("*.py") if f'"{path.stem}"' not in tested]
