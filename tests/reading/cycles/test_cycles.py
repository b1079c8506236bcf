from datetime import date

from clipmark.book.model import Decision, LifeEvent
from clipmark.reading.cycles.cycle import cycles, held
from clipmark.reading.cycles.life_dates import life_of
from tests.reading.made_records import Made


def session(on, number, confirmed=1, outcomes=()):
    made = Made(session_id=number, date=on)
    for k in range(confirmed):
        made.flag(100 + 20 * k, call=Decision.CONFIRMED)
    for kind, day in outcomes:
        made.outcome(kind, day)
    return made.record()


def read(*sessions, moults=()):
    life = life_of([LifeEvent(0, 1, "moult", m) for m in moults], date(2030, 1, 1))
    return cycles(held(sessions), life)


def test_pairings_between_two_moults_are_one_cycle():
    found = read(session("2026-03-01", 1), session("2026-03-10", 2), session("2027-03-10", 3), moults=["2026-12-01"])

    assert [2, 1] == [len(c.sessions) for c in found]
    assert (date(2026, 12, 1), True) == (found[0].moulted, found[0].has_moulted)


def test_a_sac_ends_the_cycle_for_later_pairings():
    found = read(session("2026-03-01", 1, outcomes=[("laid", "2026-04-20")]), session("2026-09-01", 2))

    assert [True, False] == [c.has_sac for c in found]


def test_time_runs_from_the_first_confirmed_and_else_from_the_first():
    assert date(2026, 3, 10) == read(session("2026-03-01", 1, 0), session("2026-03-10", 2))[0].start
    assert date(2026, 3, 1) == read(session("2026-03-01", 1, 0), session("2026-03-10", 2, 0))[0].start


def test_a_sac_after_a_moult_is_not_owed_to_the_pairing_before_it():
    found = read(session("2026-03-01", 1, outcomes=[("infertile", "2026-08-01")]), moults=["2026-05-01"])

    assert (False, True) == (found[0].has_sac, found[0].has_moulted)


def test_a_moult_noted_as_outcome_counts_as_one():
    assert read(session("2026-03-01", 1, outcomes=[("moulted", "2026-05-01")]))[0].has_moulted


def test_sessions_without_a_date_are_in_no_cycle():
    assert () == held([session("", 1)])
