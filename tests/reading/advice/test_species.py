from datetime import date

import pytest

from clipmark.book.model import SpeciesNote
from clipmark.reading.kinds import species
from clipmark.reading.kinds.species import Known, add, facts, known, levels, names, window


def test_the_window_of_a_sac_from_the_day_of_pairing():
    """TV11, calculated from [SA] 4 to 10 weeks."""
    [figure] = [f for f in known("Anything else", "pairing_to_sac") if f.source == "SA"]

    assert (date(2026, 3, 29), date(2026, 5, 10)) == (
        window(date(2026, 3, 1), figure).first,
        window(date(2026, 3, 1), figure).last,
    )
    assert (date(2024, 2, 12), date(2024, 3, 25)) == (
        window(date(2024, 1, 15), figure).first,
        window(date(2024, 1, 15), figure).last,
    )


@pytest.mark.parametrize(
    ("name", "source", "first", "last"),
    [
        ("Aphonopelma hentzi", "WH", date(2026, 7, 16), date(2026, 7, 31)),
        ("Aphonopelma chalcodes", "CH", date(2026, 7, 20), date(2026, 7, 20)),
        ("Aphonopelma hentzi", "CE", date(2026, 7, 11), date(2026, 9, 29)),
    ],
)
def test_the_window_of_emergence_from_the_day_of_the_sac(name, source, first, last):
    """TRADE 4.7, calculated, sac on 2026-06-01."""
    [figure] = [f for f in known(name, "sac_to_emergence") if f.source == source]

    found = window(date(2026, 6, 1), figure)

    assert (first, last) == (found.first, found.last)


def test_the_window_of_the_first_pairing_after_a_moult():
    """TRADE 4.7, calculated from [MV741] 4 to 6 weeks."""
    found = window(date(2026, 2, 10), known("", "moult_to_pairing")[0])

    assert (date(2026, 3, 10), date(2026, 3, 24)) == (found.first, found.last)


def test_the_particular_comes_before_the_general():
    assert ["WH", "BT", "CE"] == [f.source for f in known("Aphonopelma hentzi", "sac_to_emergence")]


def test_what_is_said_of_the_genus_leads_even_where_it_is_from_memory():
    found = known("Poecilotheria regalis", "pairing_to_sac")

    assert ["genus", "general"] == list(dict.fromkeys(f.level for f in found))
    assert "from memory, no source, Poecilotheria" == found[0].cited


def test_within_one_level_what_was_read_comes_before_what_is_from_memory():
    marks = [f.mark for level in species.load_all() for f in known(level.name, "brood") if f.level == "genus"]

    assert "read" in marks
    for name in ("Brachypelma hamorii", "Tapinauchenius plumipes"):
        for what in {f.what for level in levels(name) for f in level.figures}:
            found = [(species.LEVELS.index(f.level), f.mark == "from memory") for f in known(name, what)]
            assert sorted(found) == found


def test_what_nobody_wrote_down_stays_unknown():
    assert () == known("Grammostola rosea", "egg_to_prelarva")


@pytest.mark.parametrize("name", ["brachypelma  VAGANS", "Tliltocatl vagans"])
def test_a_former_name_finds_the_present_one(name):
    assert "Tliltocatl vagans" == levels(name)[0].name


def test_a_species_without_a_file_of_its_own_has_its_genus():
    assert "Brachypelma" == levels("Brachypelma hamorii")[0].name
    assert any("international trade" in fact.text for fact in facts("Brachypelma hamorii"))


def test_an_empty_name_has_only_what_holds_in_general():
    assert ["general"] == [s.level for s in levels("")]


def test_every_figure_has_a_source_or_says_that_it_is_from_memory():
    for one in species.load_all():
        for item in (*one.figures, *one.facts):
            assert item.rank in ("paper", "hobby", "news", "practice"), item
            assert item.mark in ("read", "calculated", "from memory", "common practice"), item
            assert bool(item.source) == (item.mark in ("read", "calculated")), item
            assert (item.rank == "practice") == (item.mark == "common practice"), item
        for figure in one.figures:
            assert figure.low is not None or figure.high is not None, figure
            if figure.low is not None and figure.high is not None:
                assert figure.low <= figure.high, figure


def test_the_names_offered_hold_every_species_with_figures():
    assert {s.name for s in species.load_all() if s.level == "species"} <= set(names())
    assert list(names()) == sorted(set(names()))


def test_a_month_later_than_the_31st_is_the_last_of_the_month():
    assert date(2024, 2, 29) == add(date(2024, 1, 31), 1, "months")
    assert date(2027, 2, 28) == add(date(2026, 8, 31), 6, "months")


def test_ranges_read_as_a_keeper_writes_them():
    def text(low, high):
        return Known("x", low, high, "weeks", "SA", "hobby", "read", "", "").text

    assert ["4 to 10 weeks", "up to 6 weeks", "from 3 weeks", "7 weeks"] == [
        text(4, 10), text(None, 6), text(3, None), text(7, 7),
    ]  # fmt: skip


def test_a_group_speaks_for_the_genera_in_it():
    levels_of = [s.level for s in levels("Caribena versicolor")]

    assert ["species", "group", "general"] == levels_of
    assert any("hardly drawn" in f.text for f in facts("Caribena versicolor"))
    assert not any("hardly drawn" in f.text for f in facts("Brachypelma hamorii"))


def test_every_group_says_how_its_members_are_known():
    for one in species.load_all():
        assert (one.level == "group") == bool(one.genera) == bool(one.members), one.name


OWN = [
    SpeciesNote(1, "Brachypelma", "pairing_to_sac", 60, 100, "days"),
    SpeciesNote(2, "brachypelma  Hamorii", "pairing_to_sac", 70, 90, "days"),
    SpeciesNote(3, "Brachypelma hamorii", "weak pull", note="She hardly moves."),
    SpeciesNote(4, "Grammostola", "pairing_to_sac", 1, 2, "days"),
]


def test_the_keepers_own_figures_go_first_and_those_of_the_species_before_those_of_the_genus():
    found = known("Brachypelma hamorii", "pairing_to_sac", OWN)

    assert [("70 to 90 days", "your own, brachypelma  Hamorii"), ("60 to 100 days", "your own, Brachypelma")] == [
        (f.text, f.cited) for f in found[:2]
    ]
    assert "general" == found[2].level


def test_a_keepers_own_note_under_the_former_name_finds_the_present_one():
    noted = [SpeciesNote(1, "Brachypelma vagans", "brood", 300, 400, "young")]

    assert "own" == known("Tliltocatl vagans", "brood", noted)[0].level


def test_a_keeper_may_say_that_a_kind_hardly_moves():
    [said] = species.warnings("Brachypelma hamorii", "film", OWN)[:1]

    assert ("She hardly moves.", "your own, Brachypelma hamorii") == (said.text, said.cited)


@pytest.mark.parametrize(
    ("name", "place", "words"),
    [
        ("Ceratogyrus darlingi", "sac", "fixed to its place"),
        ("Caribena versicolor", "pair", "no hooks"),
        ("Poecilotheria regalis", "pair", "strong muscle cramps"),
        ("Pterinochilus murinus", "pair", "strong muscle cramps"),
        ("Harpactira gigas", "pair", "frequent"),
        ("Poecilotheria ornata", "pair", "United States"),
        ("Brachypelma hamorii", "pair", "international trade"),
        ("Sickius longibulbi", "film", "90 degrees"),
    ],
)
def test_special_cases_warn_where_they_matter(name, place, words):
    assert any(words in fact.text for fact in species.warnings(name, place))


def test_no_kind_is_warned_of_another_kinds_case():
    said = " ".join(f.text for place in species.PLACES for f in species.warnings("Grammostola rosea", place))

    assert not any(words in said for words in ("hooks", "cramps", "fixed to", "United States"))
