"""The pictures say where things happened, to those who see them and to those who do not."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clipmark.book.model import Actor, Decision
from clipmark.report.called import numbered_flags
from clipmark.report.pictures.figures import LEFT, RIGHT, sequence_svg, timeline_svg, trace_svg
from clipmark.report.pictures.shapes import SHAPES, shape_svg
from clipmark.report.pictures.svg import Picture, _slanting
from clipmark.report.pictures.traces import columns
from clipmark.report.text import file_stem, one_line
from clipmark.timebase import Span
from tests.report import by_hand

SVG = "{http://www.w3.org/2000/svg}"


def drawn(text: str) -> ET.Element:
    return ET.fromstring(text)


def tipped(root: ET.Element, words: str) -> list[ET.Element]:
    """Elements whose tip begins with these words."""
    return [e for e in root.iter() for t in e.findall(f"{SVG}title") if (t.text or "").startswith(words)]


def test_an_act_lies_where_it_happened_on_the_session_clock():
    root = drawn(timeline_svg(by_hand.pairing(), width=760))
    (bar,) = tipped(root, "Clasp, 0:37.00 to 1:06.00")
    scale = (760 - LEFT - RIGHT) / 90

    assert LEFT + 37 * scale == pytest.approx(float(bar.get("x")), abs=0.01)
    assert 29 * scale == pytest.approx(float(bar.get("width")), abs=0.01)


def test_his_acts_stand_above_the_line_and_hers_below_it():
    root = drawn(timeline_svg(by_hand.pairing()))
    (his,), (hers,) = tipped(root, "Clasp"), tipped(root, "She answers")
    (flag,) = tipped(root, "pull 2,")

    assert float(his.get("y")) < float(flag.get("cy")) < float(hers.get("y"))


def test_two_films_share_one_clock():
    record = by_hand.pairing()
    later = replace(record.clips[0], id=2, offset=Fraction(100))
    mark = replace(record.marks[8], id=99, clip_id=2)
    root = drawn(timeline_svg(replace(record, clips=(record.clips[0], later), marks=(*record.marks, mark))))

    assert 1 == len(tipped(root, "Clasp, 2:17.00 to 2:46.00"))
    assert 1 == len(tipped(root, "no film here"))


def test_a_span_shows_only_what_lies_in_it():
    root = drawn(timeline_svg(by_hand.pairing(), span=Span(Fraction(36), Fraction(50))))

    assert tipped(root, "Clasp")
    assert not tipped(root, "She answers")


def test_every_call_has_a_shape_of_its_own():
    assert len(SHAPES) == len({shape_svg(shape) for shape in SHAPES})
    assert {d.value for d in Decision} < set(SHAPES)
    grey = {shape_svg(s).translate(str.maketrans("", "", "#0123456789abcdefABCDEF")) for s in SHAPES}
    assert len(SHAPES) - 1 <= len(grey)  # told apart by more than colour


@pytest.mark.parametrize("record", [by_hand.pairing(), by_hand.hostile()], ids=["pairing", "hostile"])
def test_pictures_are_well_formed_and_described_whatever_was_written(record):
    flags = numbered_flags(record)
    pictures = [timeline_svg(record, [by_hand.trace()]), sequence_svg(record)]
    pictures += [trace_svg(by_hand.trace(), flag) for flag in flags]

    for picture in pictures:
        root = drawn(picture)
        told = root.get("aria-labelledby").split()
        named = {e.get("id"): e.text for e in root if e.get("id")}
        assert all(named[i] for i in told)
        assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
            "svg", "title", "desc", "text", "line", "rect", "path", "circle", "polygon"
        }  # fmt: skip


def test_the_trace_of_a_pull_counts_from_where_she_lay_before_it_and_goes_up():
    flag, trace = numbered_flags(by_hand.pairing())[0], by_hand.trace()
    raised = replace(trace, trace=replace(trace.trace, pull=trace.trace.pull + 0.24, tilt=trace.trace.tilt + 11.0))
    turned = replace(trace, trace=replace(trace.trace, pull=0.24 - trace.trace.pull))

    assert trace_svg(trace, flag) == trace_svg(raised, flag)
    assert trace_svg(trace, flag) == trace_svg(turned, flag)


def test_a_session_of_thousands_of_marks_is_still_a_small_picture():
    record = by_hand.pairing()
    many = tuple(
        by_hand.mark(1000 + k, ("drumming", "leg tapping", "answering")[k % 3], Actor.HIM if k % 3 < 2 else Actor.HER,
                     k * 0.017, k * 0.017 + 0.01)
        for k in range(5000)
    )  # fmt: skip

    assert 400_000 > len(timeline_svg(replace(record, marks=many)))


def test_a_session_without_film_and_marks_is_drawn_too():
    record = replace(
        by_hand.pairing(), clips=(), marks=(), flags=(), calls=(), spans=(), passes=(), shots=(), outlines=()
    )

    assert "none marked" in timeline_svg(record)
    assert "" == sequence_svg(record)


def test_where_she_was_not_followed_the_trace_is_broken_off():
    root = drawn(timeline_svg(by_hand.pairing(), [by_hand.trace()]))
    trace = max((e.get("d") for e in root.iter(f"{SVG}path") if e.get("stroke") == "#1c1c1c"), key=len)

    assert 2 == trace.count("M")  # before and after the leg lay across her


def test_thinning_a_trace_keeps_its_highest_and_lowest_value():
    times, values = np.arange(10_000) / 100, np.zeros(10_000)
    values[5123], values[7001] = 1.0, -1.0

    _, low, high = columns(times, values, 0, 100, 200)

    assert 1.0 == max(high)
    assert -1.0 == min(low)
    assert 200 >= len(low)


def test_hatching_stays_inside_its_field():
    for x1, y1, x2, y2 in _slanting(3.2, 7.7, 31, 12, step=5):
        assert 3.2 <= min(x1, x2) <= max(x1, x2) <= 34.2 + 1e-9
        assert 7.7 - 1e-9 <= min(y1, y2) <= max(y1, y2) <= 19.7 + 1e-9


@given(st.text())
def test_any_text_can_be_drawn(text):
    picture = Picture(10, 10, text, text, "p")
    picture.text(0, 0, one_line(text))

    assert drawn(str(picture)) is not None


@given(st.text())
def test_a_file_name_made_of_any_title_stays_in_its_folder(text):
    assert set(file_stem(text)) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert 1 <= len(file_stem(text)) <= 60
