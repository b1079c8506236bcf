import pytest

from clipmark.reading.session.measures import read
from tests.reading.made_records import Made


@pytest.mark.parametrize(
    ("acts", "kind"),
    [
        ([("retreat", 100, 104), ("separated", 200, None)], "calm"),
        ([("retreat", 100, 104), ("bolting", 104, 105)], "bolted"),
        ([("bolting", 104, 105), ("lunge", 104.5, 106)], "lunge"),
        ([("lunge", 104, 105), ("killing", 106, None)], "killed"),
        ([("separated", 120, None)], "separated"),
        ([], "not told"),
    ],
)
def test_how_it_ended_is_the_strongest_parting_marked(acts, kind):
    made = Made()
    made.mark("contact", 50)
    for act, start, end in acts:
        made.mark(act, start, end)

    assert kind == read(made.record()).ending.kind


def test_a_lunge_before_the_last_touch_is_not_how_it_ended():
    made = Made()
    made.mark("lunge", 20, 22)
    made.mark("clasp", 50, 60)
    made.mark("retreat", 62, 70)

    assert "calm" == read(made.record()).ending.kind


@pytest.mark.parametrize(
    ("before", "stage"),
    [
        ([], "before courtship"),
        ([("drumming", 10, 12)], "in courtship"),
        ([("clasp", 10, None)], "in the clasp"),
        ([("clasp", 10, 20)], "after release"),
    ],
)
def test_a_killing_says_when_it_came(before, stage):
    made = Made()
    for act, start, end in before:
        made.mark(act, start, end)
    made.mark("killing", 40)

    assert stage == read(made.record()).ending.stage
