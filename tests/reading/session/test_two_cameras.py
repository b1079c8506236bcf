"""A second camera must never change what is counted."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from clipmark.book.model import Decision
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made

lasting = st.sampled_from(["drumming", "answering", "leg play", "insertion left", "attempt"])
# acts a second apart at least, so that it is plain which of the one camera is which of the other
starts = st.lists(st.integers(10, 280), max_size=6, unique=True).map(sorted)


@settings(max_examples=15, deadline=None)
@given(starts, st.data())
def test_a_session_filmed_twice_reads_as_filmed_once(at, data):
    one, two = Made(length=300), Made(length=300)
    two.clip(290, offset=Fraction("5.04"), camera="side")
    for start in at:
        act = data.draw(lasting)
        end = start + data.draw(st.sampled_from([0.4, 0.8]))
        for made in (one, two):
            made.mark(act, start, end)
        two.mark(act, round(start - 5.04, 3), round(end - 5.04, 3), clip=2)

    once, twice = read(one.record()), read(two.record())

    assert [(f.key, f.value, f.text) for f in once.figures] == [(f.key, f.value, f.text) for f in twice.figures]
    assert [f.value for a in once.acts for f in a.figures] == [f.value for a in twice.acts for f in a.figures]


@settings(max_examples=15, deadline=None)
@given(starts, st.data())
def test_a_pull_flagged_and_called_on_both_cameras_is_one(at, data):
    one, two = Made(length=300), Made(length=300)
    two.clip(300, camera="side")
    for start in at:
        call = data.draw(st.sampled_from(list(Decision)))
        for made in (one, two):
            made.flag(start, release=start + 0.9, call=call)
        two.flag(start + 0.04, release=start + 0.9, clip=2, call=call)

    assert read(one.record()).insertions.sentence == read(two.record()).insertions.sentence
