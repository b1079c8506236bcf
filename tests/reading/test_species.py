from datetime import date

import pytest

from clipmark.reading import species
from clipmark.reading.species import Known, add, facts, known, levels, names, window


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


def test_what_is_from_memory_comes_last_even_for_the_genus():
    marks = [f.mark for f in known("Poecilotheria regalis", "pairing_to_sac")]

    assert "from memory" == marks[-1]
    assert "read" == marks[0]


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
            assert item.rank in ("paper", "hobby", "news"), item
            assert item.mark in ("read", "calculated", "from memory"), item
            assert bool(item.source) == (item.mark != "from memory"), item
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
