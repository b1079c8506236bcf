"""A male's rhythm over his sessions, and which signs went with sacs: counted by hand."""

from dataclasses import replace
from datetime import date

import pytest
from scipy.stats import kendalltau

from clipmark.book.model import Call, Decision, LifeEvent, Sign
from clipmark.reading.cycles.his_rhythm import Beat, beside, male_rhythms
from clipmark.reading.cycles.sign_outcomes import sign_outcomes
from tests.reading.made_records import Made, of_species


def drummer(lengths, session_id=1, every=30.0, male_id=2, species="Grammostola inventata", day="2026-03-01"):
    made = Made(session_id=session_id, date=day, species=species)
    for k, length in enumerate(lengths):
        start = 10 + every * k if not callable(every) else every(k)
        made.mark("drumming", start, start + length)
    record = made.record()
    male = replace(record.male, id=male_id, name=f"male {male_id}")
    return replace(record, male=male, session=replace(record.session, male_id=male_id))


def test_bouts_are_counted_over_sessions_with_their_median_length():
    [him] = male_rhythms([drummer([2, 4, 6]), drummer([8, 10], session_id=2, day="2026-03-08")])

    assert 5 == len(him.bouts)
    assert (6.0, 5) == him.length
    assert (None, 0) == him.rate
    assert "5 bouts in 2 sessions; median length 6.0 s (5); rate not known" in him.text
    assert pytest.approx(2.0) == him.sessions[0].per_minute  # 2 intervals of 30 s


def test_a_rate_comes_from_what_was_heard_during_the_bout_and_from_nothing_else():
    heard = [
        Beat(10.2, 13.8, 5.5, 0.9, "heard"),
        Beat(10.0, 14.0, 2.0, 0.5, "seen"),
        Beat(300, 310, 9.0, 1.0, "heard"),
    ]
    [him] = male_rhythms([drummer([4, 4])], {1: heard})

    assert [5.5, None] == [b.rate_hz for b in him.bouts]
    assert ((5.5, 1), (0.9, 1), (None, 0)) == (him.rate, him.vector_strength, him.regularity)
    assert "5.5 strikes a second (1), vector strength 0.90 (1)" in him.text


def test_what_is_not_his_is_left_out():
    made = Made()
    made.mark("answering", 10, 12)

    [him] = male_rhythms([made.record()])
    assert () == him.bouts
    assert "no drumming of his is marked" == him.text


def test_a_tempo_that_slows_is_told_with_kendalls_tau():
    """tau of strictly falling rates is -1; scipy as the outside reference."""
    beats = [Beat(10 + 30 * k, 14 + 30 * k, 8.0 - k, 0.9, "heard") for k in range(6)]
    [him] = male_rhythms([drummer([4] * 6)], {1: beats})

    assert "slower" in him.sessions[0].trend
    p = kendalltau(range(6), [8.0 - k for k in range(6)]).pvalue
    assert f"tau -1.00, p = {p:.3f}, 6 values" in him.sessions[0].trend


def test_few_bouts_tell_no_change_of_tempo():
    [him] = male_rhythms([drummer([4, 4, 4])])

    assert "too few" in him.sessions[0].trend


def test_he_stands_beside_other_males_of_his_kind_only():
    him, other = drummer([2, 2]), drummer([6, 6], session_id=2, male_id=3)
    alien = drummer([60], session_id=3, male_id=4, species="Caribena versicolor")
    alien = replace(alien, male=replace(alien.male, species="Caribena versicolor"))
    everybody = male_rhythms([him, other, alien])

    said = beside(everybody[0], everybody)
    assert "Beside 1 other male of his species (2 bouts): bouts of 2.0 s against 6.0 s" in said
    assert "says little" in said
    assert "No other male of his species" in beside(everybody[-1], everybody)


def cycle(number, sac, *signs, species="Grammostola inventata", decision=Decision.CONFIRMED):
    made = Made(session_id=number, female_id=number, date="2026-01-05")
    flag = made.flag(100, release=103)
    made.calls.append(Call(number, flag, "Ada", decision, tuple(signs)))
    made.outcome("laid" if sac else "moulted", "2026-03-01")
    return of_species(made.record(), species)


def test_signs_are_counted_against_what_came_of_the_cycle():
    records = [
        cycle(1, True, Sign.ABDOMEN_DRAWN, Sign.PALPS_STILL), cycle(2, True, Sign.PALPS_STILL),
        cycle(3, False, Sign.ABDOMEN_DRAWN), cycle(4, True, Sign.ABDOMEN_DRAWN, species="Caribena versicolor"),
    ]  # fmt: skip
    first, second = sign_outcomes(records, today=date(2026, 6, 1))

    assert ("Grammostola inventata", 3, 3) == (first.species, first.cycles, first.females)
    by_sign = {s.sign: (s.with_it.text, s.without_it.text) for s in first.signs}
    assert ("1 of 2", "1 of 1") == by_sign[Sign.ABDOMEN_DRAWN]
    assert ("2 of 2", "0 of 1") == by_sign[Sign.PALPS_STILL]
    assert "Far too few" in first.note
    assert "Caribena versicolor" == second.species


def test_open_cycles_and_calls_without_signs_are_left_out():
    waiting = cycle(1, True, Sign.PALPS_STILL)
    waiting = replace(waiting, outcomes=())

    assert () == sign_outcomes([waiting, cycle(2, True)], today=date(2026, 6, 1))


def test_a_moult_in_her_life_settles_her_cycle():
    record = replace(cycle(1, True, Sign.PALPS_STILL), outcomes=())
    [found] = sign_outcomes([record], {1: [LifeEvent(0, 1, "moult", "2026-04-01")]}, date(2026, 6, 1))

    assert "0 of 1" == next(s for s in found.signs if s.sign is Sign.PALPS_STILL).with_it.text


def test_a_former_name_joins_the_present_one():
    found = sign_outcomes(
        [
            cycle(1, True, Sign.PALPS_STILL, species="Brachypelma vagans"),
            cycle(2, True, Sign.PALPS_STILL, species="Tliltocatl vagans"),
        ],
        today=date(2026, 6, 1),
    )  # fmt: skip

    assert [("Tliltocatl vagans", 2)] == [(one.species, one.cycles) for one in found]
