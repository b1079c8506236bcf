"""The sheet holds what happened, stands alone, and no text of a keeper or a file does anything in it."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import html5lib
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clipmark.report.sheets.compose import compose
from clipmark.report.sheets.sheet import render
from tests.report import by_hand


class Reading(HTMLParser):
    """What a browser would make of a page: its elements, their attributes, its text."""

    def __init__(self, page: str):
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.words = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.words += data


@pytest.fixture(scope="module")
def page() -> str:
    return render(compose(by_hand.pairing(), [by_hand.trace()]))


@pytest.fixture(scope="module")
def hostile() -> str:
    return render(compose(by_hand.hostile(), [by_hand.trace()]))


def test_the_sheet_tells_confirmed_of_judgeable_and_what_was_not_visible(page):
    assert "1 confirmed of 3 judgeable, 0 not visible" in Reading(page).words


def test_every_called_pull_stands_with_its_call_and_what_it_rests_on(page):
    words = " ".join(Reading(page).words.split())

    assert "confirmed by Mara, on: palps went still, abdomen drawn in" in words
    assert "something else: the camera was bumped by Mara" in words
    assert "Doubts: he shook her at the same time." in words


def test_a_missing_film_is_told_at_each_still_and_the_sheet_is_whole(page):
    assert 4 * 3 == page.count("No picture: the film is not where the book says")
    assert "This film is not where the book says" in page
    assert page.rstrip().endswith("</html>")


def test_unwatched_stretches_stand_with_their_cause(page):
    assert "a leg lies across her abdomen" in Reading(page).words


def test_the_standing_notice_is_on_every_sheet(page):
    assert "It cannot tell whether eggs will be fertile" in Reading(page).words
    assert "fertilised" not in page


def test_the_sheet_fetches_nothing_and_runs_nothing(page, hostile):
    for sheet in (page, hostile):
        read = Reading(sheet)
        assert not {"script", "iframe", "object", "embed", "link", "base", "form"} & set(read.tags)
        for _, name, value in read.attributes:
            assert not name.startswith("on")
            if name in ("src", "href", "xlink:href", "action"):
                assert value.startswith(("data:image/jpeg;base64,", "#"))
        policy = [v for t, n, v in read.attributes if n == "content" and "default-src" in v]
        assert ["default-src 'none'; img-src data:; style-src 'unsafe-inline'"] == policy
        style = "".join(re.findall(r"<style>(.*?)</style>", sheet, re.S))
        assert "url(" not in style
        assert "@import" not in style


def test_the_page_is_faultless_html(page, hostile):
    # the outside reader: html5lib, the parsing algorithm of the HTML standard with its list of parse errors
    for sheet in (page, hostile):
        parser = html5lib.HTMLParser()
        parser.parse(sheet)
        assert [] == parser.errors


def test_hostile_texts_stand_on_the_sheet_as_they_were_written(hostile):
    read = Reading(hostile)

    assert "<script>alert('x')</script>\"'&--> =HYPERLINK" in read.words
    assert "שלום مرحبا" in read.words
    assert "x" * 9_999 in read.words
    assert "\x00" not in hostile


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(alphabet=st.characters(exclude_categories=["Cs"])))
def test_whatever_is_written_adds_no_element_to_the_page(page, text):
    record = by_hand.pairing()
    written = replace(
        record,
        session=replace(record.session, title=text, note=text, place=text, reviewer=text),
        female=replace(record.female, name=text, species=text),
        marks=tuple(replace(m, note=text, reviewer=text) for m in record.marks),
        calls=tuple(replace(c, cause=text, note=text, reviewer=text) for c in record.calls),
        flags=tuple(replace(f, because=text, doubts=(text,)) for f in record.flags),
    )
    read = Reading(render(compose(written, [by_hand.trace()])))

    assert set(read.tags) <= set(Reading(page).tags)


def test_hostile_texts_make_no_element_that_the_plain_sheet_has_not(page, hostile):
    assert set(Reading(hostile).tags) <= set(Reading(page).tags) | {"svg"}


def test_the_sheet_tells_what_is_known_of_the_kind_with_sources_and_how_sure_the_tests_are():
    record = by_hand.pairing()
    kind = replace(record.female, species="Caribena versicolor")
    sheet = compose(replace(record, female=kind))
    page = render(sheet)

    assert "What is known of Caribena versicolor" in page
    for words in (
        "Males have no hooks",
        "[MEM] (hobby), Caribena versicolor",
        "Do not conclude",
        "no evidence against",
    ):
        assert words in page
    assert "How sure is this" in page
    assert "taken for granted" in page
    own, general = (f"From the pairing to the sac: {span}" for span in ("2 to 5 months", "4 to 10 weeks"))
    assert page.index(own) < page.index(general)
