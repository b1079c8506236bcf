"""The table of rules in the trade facts: each row is what the program goes by, with the source that it cites."""

import re
from datetime import date
from pathlib import Path

import pytest

from clipmark.book.model import Decision, LifeEvent, SpeciesNote
from clipmark.reading.advice.glance import glance
from clipmark.reading.advice.outlook import outlook
from clipmark.reading.advice.readiness import always, readiness
from clipmark.reading.advice.thresholds import DEFAULT, SOURCES, for_kind, source_of
from clipmark.reading.kinds.species import known
from tests.reading.made_records import Made

PAGE = (Path(__file__).parents[2] / "docs/trade-facts.md").read_text("utf-8")
TABLE = PAGE[PAGE.index("## Rules of the outlook") : PAGE.index("Nobody has told these")]
ROWS = {
    cells[0]: cells[1:]
    for line in TABLE.splitlines()
    if line.startswith("| ") and not line.startswith(("| rule", "|--"))
    for cells in [[cell.strip() for cell in line.strip("|").split("|")]]
}
TODAY = date(2026, 3, 2)
UNIT = {"day": "days", "week": "weeks", "month": "months"}


def figures(what: str) -> list[str]:
    """What is told of tarantulas in general, as the table would write it: `4 to 10 weeks [SA] hobby`."""
    return [f"{f.low:g} to {f.high:g} {f.unit} [{f.source}]" if f.low not in (None, f.high)
            else f"{f.high:g} {f.unit} [{f.source}]" for f in known("", what)]  # fmt: skip


def said() -> str:
    """Everything that readiness, outlook and the glance say of a pairing in which all the rules speak."""
    made = Made(date="2026-03-01", species="Grammostola schulzei")
    made.mark("introduced", 1)
    made.mark("contact", 20)
    made.mark("rocking", 30, 31)
    made.mark("killing", 90)
    made.flag(50, call=Decision.CONFIRMED)
    her = [LifeEvent(0, 1, "moult", "2025-12-01"), LifeEvent(0, 1, "fed", "2026-02-25")]
    him = [LifeEvent(0, 2, "matured", "2026-01-01")]
    first = Made(session_id=2, date="2026-02-20", species="Grammostola schulzei")
    first.flag(50, call=Decision.CONFIRMED)
    looks = [outlook(made.record(), her, him, (), TODAY), outlook(made.record(), her, him, (first.record(),), TODAY)]
    moulted = [*her, LifeEvent(0, 1, "moult", "2026-03-02")]
    looks.append(outlook(made.record(), moulted, him, (), TODAY))
    lines = [f"{r.text} {r.rule} {r.source}" for seen in looks for r in seen.reasons]
    lines += [seen.status_text for seen in looks]
    lines += [f"{h.text} {h.rule} {h.source}" for h in (*readiness(her, him, TODAY), *readiness([], [], TODAY))]
    lines += [f"{h.text} {h.rule} {h.source}" for h in always()]
    lines += [" ".join(line) for line in glance("Grammostola rosea", ()).known]
    return "\n".join(lines)


SAID = said()
FIGURES = {
    "pairing to sac": ["4 to 10 weeks [SA]"],
    "pairing to sac, others": ["3 to 6 months [TSN]", "5 to 10 weeks [BT]"],
    "sac to young coming out": ["1 to 4 months [BT]", "40 to 120 days [CE]"],
    "her moult to the first try": ["4 to 6 weeks [MV741]"],
    "feed her heavily before": ["1 to 2 weeks [MFR]"],
    "rest after his maturing moult": ["1 to 2 weeks [GSB]"],
    "his first sperm web": ["2 to 3 weeks [TSU595]"],
    "his fertile time": ["6 months [TSU595]"],
    "adult moult cycle; do not pair in its last six months": ["14 to 18 months [TZ]"],
}
WHAT = {
    "pairing to sac": "pairing_to_sac", "pairing to sac, others": "pairing_to_sac",
    "sac to young coming out": "sac_to_emergence", "her moult to the first try": "moult_to_pairing",
    "feed her heavily before": "feeding_before", "rest after his maturing moult": "male_rest_after_maturing",
    "his first sperm web": "male_first_sperm_web", "his fertile time": "male_fertile",
    "adult moult cycle; do not pair in its last six months": "moult_cycle",
}  # fmt: skip
SENTENCES = {
    "stored sperm is shed with the old skin, so a moult after pairing voids the plan": (
        "Stored sperm is shed with the old skin", "[TSU595] [RA] [MV741] [MFR]"),
    "her size": ("at least three quarters of the usual adult size", "[TF]"),
    "he goes to her quarters": ("he goes to her quarters", "[TZ] [ART]"),
    "a male that hides is left 15 to 20 minutes": ("leave him 15 to 20 minutes", "common practice, no source"),
    "rocking on the third legs is refusal": ("rocking on the third legs is read as refusal", "[CO12] (paper)"),
    "a mated female may refuse": ("females that have mated once tend to refuse (Eupalaestrus weijenberghi)",
                                  "from memory"),
    "eaten only where he had not courted": ("males were eaten only where they had not courted", "[FF08] (paper)"),
    "enough insertions": ("2 good insertions are often enough", "common practice, no source"),
}  # fmt: skip
OTHERS = {"pulling the sac", "pairing again"}


def test_every_row_of_the_table_is_held():
    assert set(ROWS) == set(FIGURES) | set(SENTENCES) | OTHERS


@pytest.mark.parametrize("row", FIGURES)
def test_a_figure_of_the_table_is_the_programs_with_its_source(row):
    value, source, mark = ROWS[row]
    for wanted in FIGURES[row]:
        numbers, key = wanted.rsplit(" ", 1)
        assert wanted in figures(WHAT[row])
        assert numbers in value or numbers.removesuffix(" months").removesuffix(" weeks") in f"{value} {row}"
        assert key in source
    assert "hobby, read" == mark


@pytest.mark.parametrize("row", SENTENCES)
def test_a_rule_of_the_table_is_told_with_its_source(row):
    words, source = SENTENCES[row]
    lines = [line for line in SAID.splitlines() if words in line]

    assert any(source in line for line in lines), SAID
    for key in re.findall(r"\[[A-Z0-9]+\]", source):
        assert key in ROWS[row][1]
    if not source.startswith("["):
        assert source in ROWS[row][2]


def test_what_has_no_source_says_so_in_table_and_program():
    assert ["25 to 35 days after laying", "–", "from memory"] == ROWS["pulling the sac"]
    [pulled] = known("", "sac_pulled_after")
    assert (25, 35, "days", "from memory") == (pulled.low, pulled.high, pulled.unit, pulled.mark)
    assert "some days to two weeks later" in ROWS["pairing again"][0]
    assert (2, 14) == (DEFAULT.again_after_days, DEFAULT.again_within_days)
    assert all("from memory" in SOURCES[name] for name in ("again_after_days", "again_within_days"))
    assert "rarely to 12 months" in ROWS["pairing to sac"][0]
    assert ["12 months [SA]"] == figures("longest_wait")
    assert ["6 months [TZ]"] == figures("late_in_cycle")


def test_by_group_no_source_gives_a_cycle_so_it_is_the_keepers_own_and_can_be_entered():
    assert all(f.level in ("general", "species") or f.single for f in known("Poecilotheria regalis", "moult_cycle"))
    assert DEFAULT == for_kind(DEFAULT, "Poecilotheria regalis")
    mine = SpeciesNote(1, "Poecilotheria", "moult_cycle", 10, 12, "months")
    changed = for_kind(DEFAULT, "Poecilotheria regalis", [mine])

    assert 10 == changed.cycle_months
    assert "your own" in source_of(changed, "cycle_months")
    assert DEFAULT.cycle_months == for_kind(DEFAULT, "Grammostola rosea", [mine]).cycle_months


def test_what_nobody_has_told_is_not_told_by_the_program():
    never = ("insertions", "insertion_length", "courtship", "drumming_rate", "male_rest_between", "egg_to_larva")
    assert set() == {f.what for what in (*never, "cooling") for f in known("", what)}
