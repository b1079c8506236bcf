"""Every source that the program cites is in the list for keepers, and every figure is explained to them."""

import re
from dataclasses import fields
from datetime import date
from pathlib import Path

import pytest

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import Decision, LifeEvent
from clipmark.reading.advice import outlook, readiness, thresholds
from clipmark.reading.kinds import notices, species
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made

DOCS = Path(__file__).parents[3] / "docs"
FACTS = (DOCS / "trade-facts.md").read_text("utf-8")
READING = (DOCS / "reading.md").read_text("utf-8")
LISTED = set(re.findall(r"\[([A-Za-z0-9]+)\]", FACTS[FACTS.index("## Sources") :]))
KEY = re.compile(r"\[([A-Z][A-Za-z0-9]*)\]")


def test_sources_of_species_figures_and_facts_are_listed():
    cited = {k for s in species.load_all() for f in (*s.figures, *s.facts) for k in f.source.split(", ") if k}

    assert cited <= LISTED


def test_sources_of_notices_are_listed_or_say_what_they_are():
    plain = {notices.COMMON_PRACTICE, "from memory", "clipmark's own wording"}

    assert {s for n in notices.ALL for s in n.sources} - plain <= LISTED


def test_sources_of_acts_are_listed():
    assert {k for act in BUILT_IN for k in KEY.findall(act.source)} <= LISTED


def test_sources_of_the_outlook_are_listed():
    made = Made(date="2026-03-01")
    made.mark("clasp", 10, 20)
    made.mark("rocking", 30, 31)
    made.flag(50, call=Decision.CONFIRMED)
    her = [LifeEvent(0, 1, "moult", "2025-01-01"), LifeEvent(0, 1, "fed", "2026-02-25")]
    seen = outlook.outlook(made.record(), her, [LifeEvent(0, 2, "matured", "2026-01-01")], (), date(2026, 3, 2))
    said = [r.source for r in seen.reasons] + [w.source for w in seen.sac] + [seen.latest.source, seen.status_text]
    said += [h.source for h in (*readiness.readiness(her, [], date(2026, 3, 2)), *readiness.always())]

    assert {k for text in said for k in KEY.findall(text)} <= LISTED


def test_every_threshold_says_where_it_is_from():
    assert {f.name for f in fields(thresholds.Thresholds)} == set(thresholds.SOURCES)
    for source in thresholds.SOURCES.values():
        assert set(KEY.findall(source)) <= LISTED
        assert KEY.search(source) or "no source" in source


@pytest.mark.parametrize("key", [f.key for f in read(Made().record()).figures])
def test_every_headline_figure_is_explained_to_the_keeper(key):
    assert f"`{key}`" in READING


def test_every_figure_of_an_act_is_explained_and_has_a_unit():
    made = Made()
    made.mark("drumming", 10, 12)
    figures = read(made.record()).acts[0].figures

    for figure in figures:
        assert f"`{figure.key.rsplit('.', 1)[1]}`" in READING
        assert figure.unit in ("s", "count", "1/min", "share")
        assert figure.explanation.endswith(".")
