"""The outlook of a pairing: date vectors of TRADE 4.7 and the rules of 4.1 to 4.6 with their sources."""

from dataclasses import replace
from datetime import date

import pytest

from clipmark.book.model import Decision, LifeEvent, SpeciesNote
from clipmark.reading.advice import outlook, readiness
from clipmark.reading.advice.his_past import his_past
from clipmark.reading.advice.outlook import Status
from clipmark.reading.advice.thresholds import DEFAULT, Thresholds, chosen, for_kind
from clipmark.reading.kinds import notices
from tests.reading.made_records import Made, of_species


def paired(confirmed=2, on="2026-03-01", session_id=1, outcomes=(), **marks):
    made = Made(session_id=session_id, date=on)
    made.mark("drumming", 10, 20)
    for k in range(confirmed):
        made.flag(100 + 20 * k, release=103 + 20 * k, call=Decision.CONFIRMED)
    for act, start in marks.items():
        made.mark(act, start, start + 1)
    for kind, day in outcomes:
        made.outcome(kind, day)
    return made.record()


def moult(day, kind="moult"):
    return LifeEvent(0, 1, kind, day)


def look(record, today, her=(), him=(), others=(), thresholds=DEFAULT):
    return outlook.outlook(record, her, him, others, date.fromisoformat(today), thresholds)


def test_a_sac_is_looked_for_four_to_ten_weeks_after_the_pairing():
    """TV11, calculated from [SA]."""
    seen = look(paired(), "2026-03-10")

    assert Status.WAITING == seen.status
    assert (date(2026, 3, 29), date(2026, 5, 10)) == (seen.sac[0].first, seen.sac[0].last)
    assert "[SA]" in seen.sac[0].source
    assert date(2027, 3, 1) == seen.latest.last


def test_a_window_that_has_passed_is_not_laid_yet_and_no_failure():
    seen = look(paired(), "2026-05-11")

    assert Status.NOT_LAID_YET == seen.status
    assert "no failure" in seen.status_text


def test_the_last_day_of_the_window_is_still_in_it():
    assert Status.WAITING == look(paired(), "2026-05-10").status


@pytest.mark.parametrize("on", ["2026-03-01", "2026-03-20"])
def test_a_moult_on_or_after_the_pairing_voids_every_date(on):
    """TRADE 4.7: status "re-pair"."""
    seen = look(paired(), "2026-04-01", her=[moult(on)])

    assert Status.VOID == seen.status
    assert ((), None) == (seen.sac, seen.latest)
    assert any("as unmated" in r.text for r in seen.reasons if r.speaks == "for")
    assert () == seen.dates


def test_a_moult_before_the_pairing_voids_nothing():
    assert Status.WAITING == look(paired(), "2026-04-01", her=[moult("2025-12-01")]).status


def test_a_moult_after_the_sac_voids_nothing():
    record = paired(outcomes=[("laid", "2026-04-20")])

    assert Status.LAID == look(record, "2026-08-01", her=[moult("2026-07-01")]).status


def test_a_moult_that_is_still_to_come_is_not_known_today():
    assert Status.WAITING == look(paired(), "2026-04-01", her=[moult("2026-04-02")]).status


def test_once_she_has_laid_the_sac_is_pulled_by_the_species_figures():
    record = paired(outcomes=[("laid", "2026-06-01")])

    seen = look(record, "2026-06-02")

    assert () == seen.sac
    assert (date(2026, 6, 26), date(2026, 7, 6)) == (seen.pull[0].first, seen.pull[0].last)
    assert "from memory" in seen.pull[0].source
    assert ["pull.first", "emergence.first", "pull.last"] == [d.key for d in seen.dates][:3]


def test_the_keeper_s_own_window_goes_before_the_sources():
    seen = look(paired(), "2026-03-02", thresholds=Thresholds(sac_first_days=60, sac_last_days=120))

    assert (date(2026, 4, 30), date(2026, 6, 29)) == (seen.sac[0].first, seen.sac[0].last)
    assert "your own" in seen.sac[0].source


def test_time_runs_from_the_first_pairing_with_a_confirmed_insertion():
    first, second = paired(confirmed=1, on="2026-02-01", session_id=7), paired(confirmed=1)

    seen = look(second, "2026-03-02", others=[first])

    assert date(2026, 2, 1) == seen.start
    assert "the first pairing with a confirmed insertion" == seen.start_said


def test_a_pairing_before_her_last_moult_belongs_to_another_cycle():
    first, second = paired(on="2025-02-01", session_id=7), paired()

    assert date(2026, 3, 1) == look(second, "2026-03-02", her=[moult("2025-09-01")], others=[first]).start


def test_two_confirmed_insertions_speak_against_and_a_first_pairing_for():
    seen = look(paired(), "2026-03-10")

    assert "2 insertions are confirmed." in [r.text for r in seen.reasons if r.speaks == "against"]
    assert "This is her first pairing in this book." in [r.text for r in seen.reasons if r.speaks == "for"]


def test_reasons_are_listed_and_never_added_up():
    seen = look(paired(), "2026-03-10")

    assert "What speaks for it and what against it. Nothing is added up; the choice is yours." == seen.pair_again
    assert not any(figure.isdigit() for figure in seen.pair_again)


def test_a_moult_that_is_not_noted_is_not_spoken_of():
    said = [r.text for r in look(paired(), "2026-03-10").reasons]
    noted = [r.text for r in look(paired(), "2026-03-10", her=[moult("2025-12-01")]).reasons]

    assert not any("her last moult" in text for text in said)
    assert "This is her first pairing since her last moult." in noted


def test_after_a_killing_nothing_speaks_for_his_time():
    made = Made()
    made.mark("clasp", 10, 20)
    made.mark("killing", 30)
    seen = look(made.record(), "2026-03-10", him=[LifeEvent(0, 2, "matured", "2026-01-01")])

    assert seen.male is None
    assert "She killed him." in [r.text for r in seen.reasons]
    assert not any("usual fertile time" in r.text for r in seen.reasons)


def test_a_male_that_another_female_killed_is_no_reason_to_pair_again():
    made = Made(session_id=9, female_id=5, date="2026-03-05")
    made.mark("killing", 30)
    seen = look(paired(), "2026-03-10", him=[LifeEvent(0, 2, "matured", "2026-01-01")], others=[made.record()])

    assert "He was killed in the pairing of 2026-03-05." in [r.text for r in seen.reasons if r.speaks == "against"]
    assert seen.male is None


@pytest.mark.parametrize("kind", ["infertile", "eaten", "lost"])
def test_a_sac_that_is_over_is_not_guarded_any_more(kind):
    seen = look(paired(outcomes=[("laid", "2026-04-20"), (kind, "2026-05-01")]), "2026-05-10")

    assert Status.OVER == seen.status
    assert not any("left alone" in r.rule for r in seen.reasons)
    assert (((), ()), ()) == ((seen.pull, seen.emergence), seen.dates)


def test_a_sac_that_is_only_noted_as_lost_was_a_sac():
    seen = look(paired(outcomes=[("lost", "2026-05-01")]), "2026-05-10")

    assert (Status.OVER, "A sac came and ended: lost.") == (seen.status, seen.status_text)


def test_a_sperm_web_older_than_his_last_pairing_does_not_speak_for_him():
    him = [LifeEvent(0, 2, "matured", "2026-01-01"), LifeEvent(0, 2, "sperm web", "2026-02-10")]
    before = his_past([paired(on="2026-02-20", session_id=7)], 2, date(2026, 3, 1))
    hints = [h for h in readiness.readiness([], him, date(2026, 3, 1), past=before) if h.whom == "him"]
    web = next(h for h in hints if "sperm web" in h.text)
    rest = next(h for h in hints if "last paired" in h.text)

    assert ("unknown", True) == (web.speaks, "older than his last pairing (2026-02-20)" in web.text)
    assert "He was last paired 9 days ago, on 2026-02-20 (with Morgana)." == rest.text
    fresh = [*him, LifeEvent(0, 2, "sperm web", "2026-02-25")]
    [again] = [h for h in readiness.readiness([], fresh, date(2026, 3, 1), past=before) if "perm web" in h.text]
    assert ("for", True) == (again.speaks, "after his last pairing on 2026-02-20" in again.text)


def test_his_pairing_with_another_female_counts_as_his_last():
    other = paired(on="2026-02-27", session_id=8)
    other = replace(other, session=replace(other.session, female_id=77), female=replace(other.female, name="Nyx"))

    past = his_past([other, paired()], 2, date(2026, 3, 10), but=1)

    assert ((date(2026, 2, 27),), ("Nyx",)) == (past.pairings, past.females)
    both = his_past([other, paired()], 2, date(2026, 3, 10))
    assert 2 == both.recent(date(2026, 3, 10))
    assert date(2026, 3, 1) == look(paired(), "2026-03-10", others=[other]).start


def test_a_fixed_sac_has_no_day_for_pulling_without_its_warning():
    record = of_species(paired(outcomes=[("laid", "2026-06-01")]), "Ceratogyrus darlingi")

    seen = look(record, "2026-06-02")

    assert seen.pull
    assert any("fixed to its place" in text for text, _ in seen.pull_warnings)
    assert all("fixes its sac" in d.text for d in seen.dates if d.key.startswith("pull"))
    plain = look(paired(outcomes=[("laid", "2026-06-01")]), "2026-06-02")
    assert not any("fixes its sac" in d.text for d in plain.dates)


def test_the_window_of_the_genus_leads_before_the_general_one():
    seen = look(of_species(paired(), "Poecilotheria regalis"), "2026-03-10")

    assert "from memory, no source, Poecilotheria" in seen.sac[0].source
    assert "tarantulas in general" in seen.sac[-1].source


def test_the_keepers_own_figure_of_a_species_leads_and_sets_the_thresholds():
    own = [
        SpeciesNote(1, "Grammostola inventata", "pairing_to_sac", 60, 90, "days"),
        SpeciesNote(2, "Grammostola inventata", "male_fertile", 10, 10, "months"),
    ]
    him = [LifeEvent(0, 2, "matured", "2025-06-01")]
    seen = outlook.outlook(paired(), (), him, (), date(2026, 3, 10), own=own)

    assert (date(2026, 4, 30), date(2026, 5, 30)) == (seen.sac[0].first, seen.sac[0].last)
    assert ("for", "your own, Grammostola inventata") == (seen.male.speaks, seen.male.source)
    assert "against" == look(paired(), "2026-03-10", him=him).male.speaks


def test_the_keepers_own_number_for_all_goes_before_a_source_of_the_kind_and_his_own_for_the_kind_before_both():
    base, own = Thresholds(male_fertile_months=8), [SpeciesNote(1, "Grammostola", "male_fertile", None, 10, "months")]

    assert 8 == for_kind(base, "Grammostola rosea").male_fertile_months
    assert 10 == for_kind(base, "Grammostola rosea", own).male_fertile_months
    assert 8 == for_kind(base, "Avicularia minatrix", own).male_fertile_months


def test_what_was_told_of_one_animal_gives_no_rule():
    """[GAB] one female re-paired 22 days after her moult, [HCA] one 57 days after."""
    for name in ("Avicularia minatrix", "Theraphosa blondi", "Tliltocatl vagans"):
        assert DEFAULT.moult_wait_days == for_kind(DEFAULT, name).moult_wait_days


def test_what_is_often_enough_can_be_changed():
    seen = look(paired(), "2026-03-10", thresholds=Thresholds(enough_confirmed=3))

    reason = next(r for r in seen.reasons if r.text == "Only 2 insertions are confirmed.")
    assert ("for", "your own") == (reason.speaks, reason.source)


def test_the_keeper_s_thresholds_come_from_the_settings_and_slips_are_passed_over():
    kept = {"enough_confirmed": 3, "moult_wait_days": "soon", "no such": 4, "late_months": -1, "usual_pairings": True}

    assert Thresholds(enough_confirmed=3) == chosen(kept)


def test_a_refusal_after_a_good_pairing_may_mean_that_she_is_mated():
    first, second = paired(on="2026-02-20", session_id=7), paired(confirmed=0, rocking=200)

    texts = [r.text for r in look(second, "2026-03-10", others=[first]).reasons if r.speaks == "against"]

    assert any("count herself as mated" in t for t in texts)


def test_a_killing_speaks_against():
    made = Made()
    made.mark("drumming", 5, 6)
    made.mark("clasp", 10, 20)
    made.mark("killing", 30)

    assert "She killed him." in [r.text for r in look(made.record(), "2026-03-10").reasons]


def test_flags_that_nobody_called_come_before_a_decision():
    made = Made()
    made.flag(100)

    assert any("1 flag not yet called" in r.text for r in look(made.record(), "2026-03-10").reasons)


def test_a_session_without_a_date_cannot_be_planned():
    record = paired()

    seen = look(replace(record, session=replace(record.session, date="")), "2026-03-10")

    assert (Status.UNDATED, ()) == (seen.status, seen.dates)


def test_every_reason_has_a_rule_and_a_source():
    made = Made(date="2026-03-01")
    made.mark("clasp", 10, 20)
    made.mark("threat", 30, 31)
    made.mark("lunge", 32, 33)
    made.flag(50, call=Decision.NOT_SEEN)
    made.flag(60)
    life = [moult("2025-01-01")]
    seen = look(made.record(), "2026-03-02", her=life, him=[LifeEvent(0, 2, "matured", "2025-06-01")])

    assert len(seen.reasons) >= 8
    assert all(r.rule and r.source for r in seen.reasons)


def test_his_usual_time_is_six_months_from_maturing():
    him = [LifeEvent(0, 2, "matured", "2026-01-31")]

    assert "2026-07-31" in look(paired(), "2026-03-10", him=him).male.text
    assert "against" == look(paired(), "2026-08-01", him=him).male.speaks


def test_a_fresh_moult_and_a_late_cycle_speak_against_pairing():
    """4 weeks [MV741]; last six of fourteen months [TZ]."""

    def against(day):
        hints = readiness.readiness([moult(day)], [], date(2026, 3, 1))
        return [h.text for h in hints if h.whom == "her" and h.speaks == "against"]

    assert any("hardened and fed" in t for t in against("2026-02-10"))
    assert any("Late in her cycle" in t for t in against("2025-07-01"))
    assert [] == against("2025-12-01")


def test_what_the_book_does_not_know_is_unknown_and_no_obstacle():
    hints = readiness.readiness([], [], date(2026, 3, 1))

    assert {"unknown"} == {h.speaks for h in hints}
    assert all(h.rule and h.source for h in hints)


def test_no_text_of_the_program_s_says_that_she_is_fertilised():
    from pathlib import Path

    import clipmark.reading

    folder = Path(clipmark.reading.__file__).parent
    for path in folder.glob("*.py"):
        assert "fertilised" not in path.read_text("utf-8").lower().replace("“fertilised”", ""), path.name


def test_every_notice_has_a_source_and_a_name_of_its_own():
    assert len({n.key for n in notices.ALL}) == len(notices.ALL)
    assert all(n.sources and n.text and n.title for n in notices.ALL)
    assert "cannot tell whether eggs will be fertile" in notices.STANDING.text


def test_the_american_listing_is_shown_for_the_listed_species_only():
    def keys(species):
        return {n.key for n in notices.before_pairing(species)}

    assert "us-poecilotheria" in keys("Poecilotheria ornata")
    assert "us-poecilotheria" not in keys("Poecilotheria metallica")
    assert {"separate", "quiet", "hairs", "bites", "young", "her-quarters"} <= keys("")


def test_a_notice_is_found_by_its_key():
    assert notices.STANDING is notices.notice("standing")
    with pytest.raises(KeyError):
        notices.notice("none such")


def test_where_no_female_is_entered_nothing_is_said_of_how_often_she_was_paired():
    unnamed = [replace(one, session=replace(one.session, female_id=None), female=None)
               for one in (paired(), paired(on="2026-02-20", session_id=7))]  # fmt: skip
    said = [r.text for r in look(unnamed[0], "2026-03-10", others=[unnamed[1]]).reasons]

    assert [] == [text for text in said if "her first" in text or "pairing since" in text or "been paired" in text]
    assert "2 insertions are confirmed." in said
