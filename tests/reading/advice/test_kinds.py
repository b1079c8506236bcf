"""What is known of a kind, what to watch for, which signs to expect, and the stages after the sac."""

from dataclasses import replace
from datetime import date

import pytest

from clipmark.book.model import Outcome, Sign, SpeciesNote
from clipmark.reading.advice.glance import glance
from clipmark.reading.advice.known import WORDS, what_is_known
from clipmark.reading.advice.stages import sacs
from clipmark.reading.kinds import notices, species
from clipmark.reading.kinds.signs import expected
from clipmark.reading.kinds.species import LEVELS
from tests.reading.made_records import Made, of_species


def all_names():
    return [s.name for s in species.load_all() if s.level == "species"] + [
        "Brachypelma hamorii",
        "Caribena laeta",
        "",
    ]


@pytest.mark.parametrize("name", all_names())
def test_every_figure_and_every_fact_of_a_kind_is_shown(name):
    shown = [s for section in what_is_known(name).sections for s in section.statements]
    held = [item for level in species.levels(name) for item in (*level.figures, *level.facts)]

    assert len(held) == len(shown)
    for level in species.levels(name):
        for fact in level.facts:
            assert fact.text in [s.text for s in shown]
        for figure in level.figures:
            assert any(figure.text in s.text and s.cited == figure.cited for s in shown)


@pytest.mark.parametrize("name", all_names())
def test_the_general_never_leads_where_there_is_better(name):
    for section in what_is_known(name).sections:
        levels = [LEVELS.index(s.level) for s in section.statements]
        assert sorted(levels) == levels


def test_every_kind_of_figure_has_words_and_a_section():
    assert {f.what for s in species.load_all() for f in s.figures} <= set(WORDS)


def test_every_statement_says_where_it_is_from():
    for name in all_names():
        for section in what_is_known(name).sections:
            assert all(s.cited for s in section.statements)


def test_the_headline_says_how_much_is_about_this_species():
    assert what_is_known("Brachypelma hamorii").headline.startswith(
        "Nothing is written down about Brachypelma hamorii"
    )
    assert "statements about Brachypelma smithi itself" in what_is_known("Brachypelma smithi").headline
    assert "in general, if at all" in what_is_known("").headline


@pytest.mark.parametrize("name", ["Caribena versicolor", "Avicularia juruensis", "Ybyrapora sooretama"])
def test_in_gentle_tree_dwellers_a_missing_pull_is_no_evidence(name):
    """Common practice, no source."""
    signs = expected(name)

    assert signs.pull_is_weak
    assert (Sign.PALPS_STILL, Sign.MALE_STRETCHED) == signs.telling[:2]
    assert Sign.ABDOMEN_DRAWN == signs.telling[-1]
    assert "no evidence" in signs.missing_pull
    assert any("common practice, no source" in source for _, source in signs.lines)


@pytest.mark.parametrize("name", ["Brachypelma hamorii", "Grammostola rosea", "Psalmopoeus irminia", ""])
def test_elsewhere_the_drawn_abdomen_is_the_usual_sign(name):
    signs = expected(name)

    assert not signs.pull_is_weak
    assert Sign.ABDOMEN_DRAWN == signs.telling[0]
    assert "no evidence" not in signs.missing_pull


def test_a_keeper_may_say_otherwise_of_any_kind():
    weak = [SpeciesNote(1, "Grammostola", "weak pull", note="She sits like a stone.")]
    plain = [SpeciesNote(1, "Caribena versicolor", "plain pull", note="Mine draw it in plainly.")]

    assert ("She sits like a stone.", "your own, Grammostola") == expected("Grammostola rosea", weak).lines[0]
    assert expected("Grammostola rosea", weak).pull_is_weak
    assert not expected("Caribena versicolor", plain).pull_is_weak


def test_special_cases_stand_before_what_holds_for_all():
    watch = [text for text, _ in glance("Poecilotheria ornata").watch]

    assert watch.index(next(w for w in watch if "cramps" in w)) < watch.index(
        next(w for w in watch if "Separate" in w)
    )
    assert any("United States" in w for w in watch)


def test_law_vet_cannibalism_few_cases_stop_rule_and_size_come_before_the_pairing():
    seen = glance("Grammostola rosea")
    said = " ".join(text for text, _ in (*seen.watch, *seen.not_conclude))
    for words in (
        "three quarters",
        "checklist.cites.org",
        "veterinarian",
        "Separate them",
        "males is eaten",
        "fewer than five",
    ):
        assert words in said
    keys = [n.key for n in seen.cautions]
    assert {"law", "veterinarian", "cannibalism", "few-cases", "separate"} <= set(keys)
    assert len(keys) == len(set(keys))


def test_nothing_at_a_glance_says_fertilised():
    for name in all_names():
        seen = glance(name)
        text = " ".join(t for t, _ in (*seen.known, *seen.watch, *seen.not_conclude))
        assert "fertilised" not in text.lower()


def test_every_line_at_a_glance_has_a_source():
    for name in all_names():
        seen = glance(name)
        assert all(source for _, source in (*seen.known, *seen.watch, *seen.not_conclude, *seen.expected.lines))


def with_outcomes(*noted, species="Brachypelma smithi", session_id=1):
    made = Made(species=species, session_id=session_id)
    record = of_species(made.record(), species)
    return replace(record, outcomes=tuple(Outcome(n + 1, session_id, *rest) for n, rest in enumerate(noted)))


def stage(view, kind):
    return next(s for s in view.stages if s.stage.kind == kind)


def test_eggs_with_legs_of_brachypelma_smithi_come_about_day_twenty():
    """[BSE], about 20 days: laid 2026-06-01, so 2026-06-21."""
    [view] = sacs(with_outcomes(("laid", "2026-06-01")), "Brachypelma smithi")

    [window] = stage(view, "eggs with legs").expected
    assert (date(2026, 6, 21), date(2026, 6, 21)) == (window.first, window.last)
    assert "[BSE]" in window.source


def test_a_stage_that_no_source_times_is_asked_for_and_not_told():
    [view] = sacs(with_outcomes(("laid", "2026-06-01")), "Brachypelma smithi")
    larvae = stage(view, "larvae")

    assert () == larvae.expected
    assert "No source says when" in larvae.asks


def test_what_is_from_memory_says_so():
    [view] = sacs(with_outcomes(("laid", "2026-06-01")), "Brachypelma smithi")

    assert all("from memory" in w.source for w in stage(view, "nymphs").expected)
    assert all("from memory" in w.source for w in stage(view, "pulled").expected)


def test_the_keepers_own_sacs_say_it_next_time():
    before = [
        with_outcomes(("laid", "2025-06-01"), ("larvae", "2025-07-11"), session_id=5),
        with_outcomes(("laid", "2024-06-01"), ("larvae", "2024-07-15"), session_id=6),
        with_outcomes(("laid", "2024-06-01"), ("larvae", "2024-06-11"), species="Caribena versicolor", session_id=7),
    ]
    [view] = sacs(with_outcomes(("laid", "2026-06-01")), "Brachypelma smithi", others=before)

    [window] = stage(view, "larvae").expected
    assert (date(2026, 7, 11), date(2026, 7, 15)) == (window.first, window.last)
    assert "2 sacs of your own" in window.source


def test_each_sac_has_its_own_days_and_conditions():
    record = with_outcomes(
        ("laid", "2026-06-01"), ("eggs with legs", "2026-06-22", (), "", 1, 26.5, 75.0, "by hand"),
        ("laid", "2026-09-20", (), "", 2),
    )  # fmt: skip
    first, second = sacs(record, "Brachypelma smithi")

    assert 21 == stage(first, "eggs with legs").after_days
    assert ("by hand, 26.5 °C, 75 % humidity (noted 2026-06-22)",) == first.conditions
    assert (2, date(2026, 9, 20)) == (second.number, second.laid)
    own, read = stage(second, "eggs with legs").expected
    assert (date(2026, 10, 11), "21 days, 1 sac of your own") == (own.first, own.source)
    assert (date(2026, 10, 10), True) == (read.first, "[BSE]" in read.source)


def test_a_sac_that_is_over_expects_nothing():
    [view] = sacs(with_outcomes(("laid", "2026-06-01"), ("eaten", "2026-06-10")), "Brachypelma smithi")

    assert "eaten" == view.ended
    assert all(s.expected == () and s.asks == "" for s in view.stages)


def test_what_cannot_be_is_told():
    record = with_outcomes(
        ("laid", "2026-06-01", (("good eggs", 50),)), ("larvae", "2026-05-01"),
        ("nymphs", "2026-07-20", (("nymphs", 80),)),
    )  # fmt: skip
    [view] = sacs(record, "Brachypelma smithi")

    assert any("before the sac was laid" in text for text in view.contradictions)
    assert any("80 nymphs are noted, but only 50 eggs" in text for text in view.contradictions)


def test_the_cautions_before_a_pairing_are_those_of_the_notices():
    assert set(glance("").cautions) <= set(notices.ALL)
