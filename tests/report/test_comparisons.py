"""Plots of comparisons say what the figures say."""

import xml.etree.ElementTree as ET
from datetime import date

import pytest

from clipmark.book.model import Decision
from clipmark.reading.advice.sac_windows import sac_windows
from clipmark.reading.cycles.outcomes import outcomes
from clipmark.report.pictures.comparisons import cycles_svg, pulls_svg, waiting_svg
from tests.reading.made_records import Made

ASKED = date(2026, 6, 1)
SVG = "{http://www.w3.org/2000/svg}"


def record(number, laid=""):
    made = Made(session_id=number, date="2026-03-01", female_id=100 + number)
    made.flag(100, call=Decision.CONFIRMED)
    made.flag(200, call=Decision.OTHER)
    if laid:
        made.outcome("laid", laid)
    return made.record()


@pytest.fixture(scope="module")
def records():
    return [record(k, f"2026-04-{10 + k}" if k < 7 else "") for k in range(1, 12)]


def words(svg):
    return [(one.text or "").strip("\u2068\u2069") for one in ET.fromstring(svg).iter(f"{SVG}text")]


def test_the_curve_has_its_band_and_the_numbers_at_risk_below_it(records):
    svg = waiting_svg(outcomes(records, today=ASKED))
    rows = words(svg)
    numbers = rows[rows.index("at risk") + 1 :]

    assert "11" == numbers[1]  # all wait on day 0
    assert 5 <= len(list(ET.fromstring(svg).iter(f"{SVG}rect")))  # the band, a field a step
    assert "Waiting for the sac, asked on 2026-06-01" in rows


def test_below_five_cycles_no_curve_is_drawn(records):
    assert "" == waiting_svg(outcomes(records[:4], today=ASKED))


def test_each_cycle_has_a_row_with_how_it_ended_and_the_window_in_which_a_sac_may_come(records):
    read = outcomes(records, today=date(2026, 4, 1))
    windows = sac_windows(read, {})
    svg = cycles_svg(read, windows)

    assert 11 == len(list(ET.fromstring(svg).iter(f"{SVG}circle")))
    assert 11 == len(windows)
    tips = [one.text for one in ET.fromstring(svg).iter(f"{SVG}title")]
    assert any(tip and tip.startswith("a sac may come 2026-0") for tip in tips)
    assert 6 == words(cycles_svg(outcomes(records, today=ASKED))).count("sac")


def test_pulls_are_drawn_by_what_they_were_called(records):
    svg = pulls_svg(records)

    assert {"confirmed (11)", "something else (11)"} <= set(words(svg))
    assert "" == pulls_svg([Made().record()])


def test_of_thousands_of_pulls_a_dot_stands_for_several_and_the_picture_says_so():
    made = Made()
    for k in range(600):
        made.flag(0.5 * k, call=Decision.CONFIRMED)
    svg = pulls_svg([made.record()])

    assert 200 == sum(one.get("r") == "2" for one in ET.fromstring(svg).iter(f"{SVG}circle"))
    assert {"confirmed (600)", "How far she was drawn, by call (a dot for 3 pulls, the bar their median)"} <= set(
        words(svg)
    )
