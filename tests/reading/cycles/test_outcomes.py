"""Across sessions: invented breeding years whose sums are done by hand."""

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from clipmark.book.model import Decision, LifeEvent, Loan, Sign
from clipmark.reading.cycles.film_signs import FILM_SIGNS
from clipmark.reading.cycles.flag_quality import flag_quality
from clipmark.reading.cycles.outcomes import outcomes
from clipmark.reading.cycles.said import waits_said
from clipmark.reading.cycles.states import State
from tests.reading.made_records import Made

TODAY = date(2027, 1, 1)


def pairing(number, confirmed, outcome=None, days=50, female=None, counts=None):
    made = Made(session_id=number, date="2026-03-01", female_id=female or 100 + number)
    made.mark("drumming", 10, 20)
    if confirmed:
        made.flag(100, release=103, call=Decision.CONFIRMED)
    if outcome:
        day = date.fromordinal(date(2026, 3, 1).toordinal() + days).isoformat()
        made.outcome(outcome, day, **(counts or {}))
    return made.record()


def many(confirmed_sac, confirmed_moult, other_sac, other_moult):
    records = []
    for confirmed, outcome, number in (
        (True, "laid", confirmed_sac),
        (True, "moulted", confirmed_moult),
        (False, "laid", other_sac),
        (False, "moulted", other_moult),
    ):
        records += [pairing(len(records) + k + 1, confirmed, outcome) for k in range(number)]
    return records


def test_sacs_are_compared_by_what_film_showed():
    """The table of TRADE 6.2 F4 (p calculated there): 8 of 10 against 1 of 6."""
    read = outcomes(many(8, 2, 1, 5), today=TODAY)

    assert (8, 10, 1, 6) == (read.sac.with_it.k, read.sac.with_it.n, read.sac.without_it.k, read.sac.without_it.n)
    assert 0.0349650 == pytest.approx(read.sac.exact.p, abs=5e-8)
    assert {"sac": 9, "moult without sac": 7} == read.ends


def test_below_five_cases_only_counts_are_told():
    read = outcomes(many(2, 0, 1, 1), today=TODAY)

    assert "a sac: 2 of 2 with “confirmed insertion”, 1 of 2 without" == read.sac.text
    assert (None, None, None) == (read.sac.exact, read.waiting, read.incidence)
    assert any("only counts" in note for note in read.notes)


def test_who_still_waits_is_in_the_times_and_in_no_comparison():
    records = [pairing(k, True, "laid", days=40 + k) for k in range(1, 6)] + [pairing(9, True, "none yet", days=30)]

    read = outcomes(records, today=TODAY)

    assert 5 == read.sac.with_it.n
    assert (6, 1) == (read.waiting.n, read.waiting.censored)
    assert read.waiting.median is None  # half have laid on day 43, when only four are at risk: not told
    assert any("1 cycle without a sac or a moult yet" in note for note in read.notes)


def test_a_wait_is_counted_to_the_day_of_asking_her_death_or_her_sale():
    record = pairing(1, True)
    female = record.female.id
    fed, died, sold = (LifeEvent(0, female, kind, "2026-04-10") for kind in ("fed", "died", "sold"))

    def days(*events, today=TODAY):
        return [(c.days, c.state) for c in outcomes([record], {female: events}, today).cases]

    assert [(306, State.WAITING)] == days() == days(fed)
    assert [(40, State.DIED)] == days(died)
    assert [(40, State.AWAY)] == days(sold)
    assert [(9, State.WAITING)] == days(died, today=date(2026, 3, 10))


def test_females_that_wait_are_not_lost_from_the_figures():
    """Twelve paired, six lay, six are silent, asked in December: lifelines gives 0.5 still waiting, and the median on
    the day of the sixth sac."""
    records = [pairing(k + 1, True, "laid" if k < 6 else None, days=40 + 4 * k) for k in range(12)]

    read = outcomes(records, today=date(2026, 12, 1))

    lifelines = pytest.importorskip("lifelines")
    fitter = lifelines.KaplanMeierFitter().fit([c.days for c in read.cases], [c.end == "sac" for c in read.cases])
    assert 0.5 == pytest.approx(read.waiting.survival[-1]) == pytest.approx(fitter.survival_function_.iloc[-1, 0])
    assert 60 == read.waiting.median == fitter.median_survival_time_
    assert 0.5 == pytest.approx(read.incidence.waiting[-1])
    assert {"waiting": 6, "sac": 6} == read.ends
    assert date(2026, 12, 1) == read.asked
    assert "6 without a sac by 2026-12-01" in waits_said(read)[0]


def test_nothing_is_told_beyond_the_last_time_with_five_at_risk():
    """Nine sacs and one female that waits for long: what would be told of her alone is not told."""
    records = [pairing(k + 1, True, "laid", days=30 + k) for k in range(9)] + [pairing(20, True)]

    read = outcomes(records, today=TODAY)

    assert 35 == read.waits.told_to == read.waiting.times[-1]
    assert min(read.waiting.at_risk) >= 5
    assert min(read.incidence.at_risk) >= 5
    assert "Nothing is told beyond day 35, the last with at least 5 at risk." in waits_said(read)


def test_every_share_has_its_limits_and_its_number_at_risk():
    """lifelines.AalenJohansenFitter gives the limits."""
    records = [pairing(k + 1, True, "laid" if k % 3 else "moulted", days=30 + 3 * k) for k in range(20)]

    read = outcomes(records, today=TODAY)
    codes = [{"sac": 1, "moult": 2, "": 0}[c.end] for c in read.cases]
    lifelines = pytest.importorskip("lifelines")
    theirs = lifelines.AalenJohansenFitter(calculate_variance=True).fit([c.days for c in read.cases], codes, 1)
    told = theirs.confidence_interval_.loc[read.incidence.times].to_numpy()
    some = read.incidence.share["sac"] > 0

    assert told[some, 0] == pytest.approx(read.incidence.low["sac"][some])
    assert told[some, 1] == pytest.approx(read.incidence.high["sac"][some])
    last = waits_said(read)[1]
    assert re.search(
        r"By day 75 \(5 at risk\): \d+ % moult \(\d+ to \d+ %\), \d+ % sac \(\d+ to \d+ %\), \d+ % waiting", last
    )


def test_each_session_is_in_exactly_one_state_on_any_day():
    females = [pairing(1, True, "laid", days=40), pairing(2, True, "moulted", days=50), pairing(3, True)]
    females += [pairing(4, False), pairing(5, True)]
    lost = pairing(6, True, "laid", days=40)
    lost = replace(lost, outcomes=(*lost.outcomes, replace(lost.outcomes[0], id=9, kind="lost", date="2026-05-01")))
    lives = {
        104: [LifeEvent(0, 104, "died", "2026-04-01"), LifeEvent(0, 104, "died", "2026-05-01")],
        105: [LifeEvent(0, 105, "sold", "2026-04-02")],
        101: [LifeEvent(0, 101, "died", "2026-12-01")],
    }
    records = [*females, lost]

    for offset in range(0, 300, 7):
        day = date(2026, 3, 1) + timedelta(days=offset)
        read = outcomes(records, lives, day)
        assert set(range(1, 7)) == set(read.session_states)
        assert 6 == sum(read.ends.values())
    expected = {"waiting": 1, "sac": 1, "moult without sac": 1, "died": 1, "lost": 1, "given away": 1}
    assert expected == outcomes(records, lives, TODAY).ends
    assert State.SAC is outcomes(records, lives, date(2026, 4, 20)).session_states[6]


def test_dates_and_counts_that_cannot_be_are_told_and_spoil_nothing():
    before = pairing(1, True, "laid", days=-20)
    late = replace(pairing(2, True), session=replace(pairing(2, True).session, date="2026-09-01"))
    counts = pairing(3, True, "nymphs", counts={"eggs": 50, "good eggs": 40, "bad eggs": 20, "nymphs": 10})
    future = pairing(4, True, "laid", days=9999)
    lives = {102: [LifeEvent(0, 102, "died", "2026-04-01"), LifeEvent(0, 102, "died", "2026-05-01")]}
    loan = Loan(0, 8, "Bo", "Ada", "2026-03-01", "2026-02-01")

    read = outcomes([before, late, counts, future], lives, TODAY, [loan])

    assert State.WAITING is read.session_states[1] is read.session_states[4]
    assert None is next(c.days for c in read.cases if c.female_id == 102)
    for words in (
        "An outcome is dated before its pairing and left out (session 1).",
        "Two days of death are noted; the first counts (animal 102).",
        "A pairing is dated after her death (session 2).",
        "Good and bad eggs are more than the eggs together (session 3).",
        "An outcome is dated after the day of asking and left out (session 4).",
        "A loan ends before it starts (animal 8).",
    ):
        assert words in read.notes


@pytest.mark.parametrize("number", [0, 1])
def test_an_empty_book_and_one_session_give_counts_and_no_share(number):
    read = outcomes([pairing(k + 1, True) for k in range(number)], today=TODAY)

    assert (number, None, ()) == (len(read.cases), read.waits, read.nymphs.sacs)
    assert [] == waits_said(read) == read.nymphs.told


def test_moults_compete_with_sacs():
    read = outcomes(many(5, 5, 0, 0), today=TODAY)

    assert (0.5, 0.5) == (
        pytest.approx(read.incidence.share["sac"][-1]),
        pytest.approx(read.incidence.share["moult"][-1]),
    )


def test_two_pairings_in_one_cycle_are_one_case():
    first = pairing(1, False, female=7)
    second = pairing(2, True, "laid", female=7)
    second = replace(second, session=replace(second.session, date="2026-03-08"))

    read = outcomes([first, second], today=TODAY)

    assert (2, 1, 1) == (read.sessions, len(read.cases), read.females)
    assert date(2026, 3, 8) == read.cases[0].cycle.start


def test_a_female_with_several_cycles_is_told():
    early = pairing(1, True, "laid", female=7)
    late = pairing(2, True, female=7)
    late = replace(late, session=replace(late.session, date="2026-11-01"))

    read = outcomes([early, late], today=TODAY)

    assert any("1 female of 1 stand for 2 of 2 cycles" in note for note in read.notes)


def test_sessions_without_a_female_or_a_date_are_left_out_and_told():
    nameless = replace(pairing(1, True), female=None)
    undated = pairing(2, True)
    undated = replace(undated, session=replace(undated.session, date=""))

    read = outcomes([nameless, undated], today=TODAY)

    assert () == read.cases
    assert [
        "1 session without a female left out.",
        "1 session without a date, or with one still to come, left out.",
    ] == list(read.notes[:2])


def test_nymphs_are_told_sac_by_sac_and_never_pooled():
    """10 of 500 and 480 of 500 are no 49 % with a narrow interval: eggs of one sac share their fate."""
    records = [
        pairing(1, True, "nymphs", counts={"good eggs": 500, "nymphs": 10}),
        pairing(2, True, "nymphs", counts={"good eggs": 500, "nymphs": 480}),
        pairing(3, True, "nymphs", counts={"eggs": 50, "nymphs": 40}),
        pairing(4, True, "nymphs", counts={"eggs": 5, "nymphs": 40}),
    ]

    read = outcomes(records, today=TODAY)

    assert ["Nymphs of good eggs: 10 of 500; 480 of 500.", "Nymphs of eggs: 40 of 50."] == read.nymphs.told
    assert "1 sac with more nymphs than eggs: the counts contradict, so it is left out." in read.notes


def test_the_rule_of_five_counts_sacs_and_the_median_is_over_females():
    shares = [(7, 10), (7, 90), (8, 40), (9, 50), (10, 60)]  # female, nymphs of 100
    records = []
    for k, (female, nymphs) in enumerate(shares):
        one = pairing(k + 1, True, "nymphs", female=female, counts={"good eggs": 100, "nymphs": nymphs})
        records.append(replace(one, session=replace(one.session, date=f"202{k}-03-01"), outcomes=tuple(
            replace(o, date=f"202{k}-06-01") for o in one.outcomes)))  # fmt: skip

    read = outcomes(records, today=TODAY)

    # medians of the females: 50 (of 10 and 90), 40, 50, 60
    assert ["Nymphs of good eggs: median 50 % of 5 sacs of 4 females (10 to 90 %)."] == read.nymphs.told


def test_young_are_known_only_where_a_sac_was_opened_or_a_moult_ended_it():
    records = [
        pairing(1, True, "nymphs", counts={"nymphs": 10}),
        pairing(2, True, "infertile"),
        pairing(3, True, "laid"),
        pairing(4, True, "moulted"),
    ]

    read = outcomes(records, today=TODAY)

    assert [True, False, None, False] == [c.young for c in read.cases]
    assert (1, 3) == (read.young.with_it.k, read.young.with_it.n)


def test_a_sac_in_which_no_young_were_counted_had_none():
    none = pairing(1, True, "eggs with legs", counts={"eggs with legs": 0})
    some = pairing(2, True, "eggs with legs", counts={"eggs with legs": 12})
    uncounted = pairing(3, True, "eggs with legs")

    read = outcomes([none, some, uncounted], today=TODAY)
    assert {101: False, 102: True, 103: True} == {c.female_id: c.young for c in read.cases}


def test_a_sign_counts_where_a_good_call_rests_on_it():
    made = Made(session_id=1, date="2026-03-01")
    flag = made.flag(100)
    made.call(flag, Decision.PROBABLE)
    made.calls[0] = replace(made.calls[0], signs=(Sign.ABDOMEN_DRAWN,))
    made.outcome("laid", "2026-05-01")

    shown = outcomes([made.record()], today=TODAY).cases[0].shown

    assert {"abdomen drawn in", "confirmed or probable insertion"} <= shown
    assert "confirmed insertion" not in shown
    assert shown <= set(FILM_SIGNS)


def test_an_outcome_without_any_session_is_nothing():
    read = outcomes([], today=TODAY)

    assert ((), {}, None) == (read.cases, read.ends, read.waiting)


def judged():
    made = Made()
    for k, decision in enumerate(
        (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT, Decision.OTHER, Decision.NOT_SEEN)
    ):
        made.flag(100 + 20 * k, call=decision)
    made.flag(300)
    made.flag(320, flagged=False, call=Decision.OTHER)
    made.watched(0, 600)
    return made


def test_how_good_the_flags_were_comes_from_the_calls():
    [row] = flag_quality([judged().record()])

    assert (2, 1, 1, 1, 1) == (row.right, row.attempts, row.false, row.not_seen, row.uncalled)
    assert (2, 4) == (row.insertions.k, row.insertions.n)
    assert (3, 4) == (row.worth_a_look.k, row.worth_a_look.n)


def test_flags_of_different_parameters_are_told_apart():
    made = judged()
    made.flag(400, call=Decision.OTHER, parameters="pulls-2")

    assert [("pulls-1", 4), ("pulls-2", 1)] == [(q.parameters, q.insertions.n) for q in flag_quality([made.record()])]


def test_misses_are_counted_only_where_the_film_was_watched_in_full():
    made = judged()
    own = made.flag(200, call=Decision.CONFIRMED)
    made.flags[-1] = replace(made.flags[-1], pass_id=None, parameters="", by="Ada")
    made.mark("insertion left", 500, 505)  # outside what was watched in full
    made.mark("insertion right", 100.3, 103)  # the flag at 100 stands for it

    before = flag_quality([made.record()])[0]
    made.watched_in_full(90, 250)
    after = flag_quality([made.record()])[0]

    assert own
    assert (0, 0) == (before.hits, before.missed)
    assert (2, 1, 160) == (after.hits, after.missed, after.watched_in_full_s)
    assert (2, 3) == (after.recall.k, after.recall.n)


def test_an_insertion_that_was_marked_and_never_flagged_is_a_miss():
    made = Made()
    made.watched(0, 600)
    for at in (100, 200, 300, 400):
        made.mark("insertion left", at, at + 5)
    made.flag(200.2, call=Decision.CONFIRMED)
    made.watched_in_full(0, 350)  # the one at 400 lies outside

    [row] = flag_quality([made.record()])

    assert (1, 3) == (row.recall.k, row.recall.n)
    assert "1 of 3" == row.recall.text


def test_a_flag_called_something_else_beside_a_marked_insertion_is_neither_hit_nor_miss():
    made = Made()
    made.watched(0, 600)
    made.watched_in_full(0, 600)
    for at, call in ((100, Decision.OTHER), (200, Decision.CONFIRMED), (300, None)):
        made.mark("insertion left", at, at + 10)
        made.flag(at + 0.2, call=call)

    [row] = flag_quality([made.record()])

    assert (2, 0, 1) == (row.hits, row.missed, row.contradicted)


def test_what_another_person_marked_is_no_miss_of_this_reading():
    made = Made()
    made.watched(0, 600)
    made.watched_in_full(0, 600)
    made.mark("insertion left", 100, 110)
    made.flag(100.2, call=Decision.CONFIRMED)
    made.mark("insertion left", 300, 310, by="Ben")

    [row] = flag_quality([made.record()])

    assert (1, 0) == (row.hits, row.missed)
