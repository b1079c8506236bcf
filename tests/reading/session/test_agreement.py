"""Two reviewers: the calculated vectors of TRADE 5.6, and sessions whose agreement is known."""

from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest

from clipmark.book.model import Decision
from clipmark.reading.numbers.detection import Found
from clipmark.reading.numbers.matching import match
from clipmark.reading.numbers.timed_kappa import compare_units
from clipmark.reading.session.agreement import NothingByReviewer, SameReviewer, compare
from clipmark.timebase import Span
from tests.reading.made_records import Made


def exact(*texts):
    return [Fraction(t) for t in texts]


def test_taking_the_nearest_first_would_lose_a_pair():
    """Calculated in TRADE 5.6: the optimum is two pairs (0.5 + 0.6)."""
    assert [(0, 0), (1, 1)] == match(exact("10.0", "10.8"), exact("10.5", "11.4"), Fraction("0.6"))


@pytest.mark.parametrize(
    ("tolerance", "pairs", "precision", "recall", "f1"), [("0.5", 3, 0.6, 0.75, 2 / 3), ("1.5", 4, 0.8, 1.0, 8 / 9)]
)
def test_the_tolerance_decides_what_is_a_pair(tolerance, pairs, precision, recall, f1):
    """TV6, calculated."""
    a, b = exact("10.0", "25.4", "40.2", "61.0"), exact("10.3", "25.1", "41.5", "61.2", "75.0")

    found = len(match(a, b, Fraction(tolerance)))
    measures = Found(found, len(b) - found, len(a) - found)

    assert pairs == found
    assert (precision, recall, f1) == pytest.approx((measures.precision, measures.recall, measures.f1))


def test_a_difference_equal_to_the_tolerance_counts():
    assert 1 == len(match(exact("0.1"), exact("0.4"), Fraction("0.3")))


def test_the_pairing_is_the_best_of_all_pairings():
    """Against trying every pairing."""
    random = np.random.default_rng(12)
    for _ in range(60):
        a = [Fraction(int(x), 10) for x in random.integers(0, 40, 4)]
        b = [Fraction(int(x), 10) for x in random.integers(0, 40, 4)]
        w = Fraction(int(random.integers(1, 12)), 10)
        best = (0, Fraction(0))
        for order in permutations(range(4)):
            for keep in range(16):
                pairs = [(i, order[i]) for i in range(4) if keep >> i & 1 and abs(a[i] - b[order[i]]) <= w]
                best = max(best, (len(pairs), -sum((abs(a[i] - b[j]) for i, j in pairs), Fraction(0))))
        found = match(a, b, w)
        assert best == (len(found), -sum((abs(a[i] - b[j]) for i, j in found), Fraction(0)))


A = "NNDDDDNNNCCCCCCNNNNN"
B = "NNNDDDDNNCCCCCCCNNNN"


def test_second_by_second_without_a_tolerance():
    """Calculated in TRADE 5.6: 17 of 20, chance .37, kappa .761905."""
    timed = compare_units(A, B)

    assert (20, 17) == (timed.units, timed.agreed)
    assert 0.37 == pytest.approx(timed.kappa.expected)
    assert 0.761905 == pytest.approx(timed.kappa.value, abs=5e-7)


def test_second_by_second_with_a_second_of_tolerance():
    """Calculated: 20 of 20 both ways."""
    timed = compare_units(A, B, tolerance_units=1)

    assert (20, 20) == (timed.agreed_a_to_b, timed.agreed_b_to_a)
    assert timed.kappa_a_to_b.value == 1


def test_the_direction_of_a_tolerance_matters():
    """By hand: of A's eight only the last finds no N near; of B's, its last two D lie too far from A's one."""
    timed = compare_units("NNNDNNNN", "NNNNNDDD", tolerance_units=2)

    assert (7, 6) == (timed.agreed_a_to_b, timed.agreed_b_to_a)


def two_reviewers():
    made = Made(length=100)
    made.mark("drumming", 10, 20, by="Ada")
    made.mark("drumming", 10.3, 20, by="Ben")
    made.mark("contact", 50, by="Ada")
    made.mark("answering", 60, 62, by="Ada")
    made.mark("rocking", 60.2, 62, by="Ben")
    return made


def test_acts_are_paired_and_the_rest_are_clashes():
    agreement = compare(two_reviewers().record(), "Ada", "Ben")

    drumming = agreement.acts[0]
    assert (1, 0, 0, 0.3) == (drumming.matched, drumming.only_a, drumming.only_b, pytest.approx(drumming.off))
    assert [("only A", 50), ("another act", 60)] == [(c.kind, c.at) for c in agreement.clashes]
    assert ("She answers (her)", "She rocks on her third legs (her)") == (
        agreement.clashes[1].a,
        agreement.clashes[1].b,
    )


def test_a_clash_tells_the_clip_and_the_tick_to_step_to():
    clash = compare(two_reviewers().record(), "Ada", "Ben").clashes[0]

    assert (1, 50_000) == (clash.clip_id, clash.pts)


def test_lasting_acts_are_compared_unit_by_unit():
    """Drumming from 10 s against from 10.3 s, in units of 0.2 s with middles at 10.1, 10.3 ...: one unit differs."""
    timed = compare(two_reviewers().record(), "Ada", "Ben", tolerance=Fraction(0)).acts[0].timed

    assert (500, 499) == (timed.units, timed.agreed)


def test_reviewers_who_agree_on_all_events_have_a_kappa_of_one():
    made = Made(length=100)
    for by in ("Ada", "Ben"):
        made.mark("drumming", 10, 20, by=by)
        made.mark("contact", 50, by=by)

    assert 1 == pytest.approx(compare(made.record(), "Ada", "Ben").events.value)


def test_the_event_kappa_leaves_out_that_both_marked_nothing():
    """By hand: 2 drummings and 2 contacts paired, 1 drumming only by Ada, 1 contact only by Ben. Margins: Ada 3 2 1,
    Ben 2 3 1; fitted round the empty corner, chance is .3987 of 6."""
    made = Made(length=200)
    for by in ("Ada", "Ben"):
        for at in (10, 30):
            made.mark("drumming", at, at + 5, by=by)
        for at in (50, 70):
            made.mark("contact", at, by=by)
    made.mark("drumming", 100, 105, by="Ada")
    made.mark("contact", 120, by="Ben")

    events = compare(made.record(), "Ada", "Ben").events

    assert 6 == events.n
    assert 4 / 6 == pytest.approx(events.observed)
    assert events.expected == pytest.approx(chance_round_the_corner([3, 2, 1], [2, 3, 1]))


def chance_round_the_corner(rows, columns):
    """The share on the diagonal of the table of maximal entropy with these margins and an empty last corner, found by
    scipy's general minimiser instead of proportional scaling."""
    optimize = pytest.importorskip("scipy.optimize")
    k, n = len(rows), sum(rows)
    cells = [(i, j) for i in range(k) for j in range(k) if (i, j) != (k - 1, k - 1)]
    limits = [
        {"type": "eq", "fun": lambda x, i=i: sum(v for v, c in zip(x, cells, strict=True) if c[0] == i) - rows[i]}
        for i in range(k)
    ] + [
        {"type": "eq", "fun": lambda x, j=j: sum(v for v, c in zip(x, cells, strict=True) if c[1] == j) - columns[j]}
        for j in range(k - 1)
    ]
    found = optimize.minimize(
        lambda x: float((x * np.log(np.maximum(x, 1e-12))).sum()),
        np.full(len(cells), n / len(cells)),
        constraints=limits,
        bounds=[(1e-9, n)] * len(cells),
        options={"ftol": 1e-14, "maxiter": 1000},
    )
    return pytest.approx(sum(v for v, c in zip(found.x, cells, strict=True) if c[0] == c[1]) / n, abs=1e-4)


def test_the_calls_of_both_are_weighed_by_how_far_they_lie_apart():
    made = Made(length=1000)
    pairs = [(Decision.CONFIRMED, Decision.CONFIRMED)] * 4 + [(Decision.ATTEMPT, Decision.ATTEMPT)] * 4
    near, far = [*pairs, (Decision.CONFIRMED, Decision.PROBABLE)], [*pairs, (Decision.CONFIRMED, Decision.OTHER)]
    values = []
    for calls in (near, far):
        made = Made(length=1000)
        for k, (x, y) in enumerate(calls):
            flag = made.flag(10 + 20 * k, call=x, by="Ada")
            made.call(flag, y, by="Ben")
        agreement = compare(made.record(), "Ada", "Ben")
        assert (9, 8) == (agreement.both_called, agreement.same_call)
        values.append(agreement.calls.value)

    assert values[0] > values[1]


def test_another_call_and_a_call_by_one_only_are_clashes():
    made = Made(length=100)
    flag = made.flag(10, call=Decision.CONFIRMED, by="Ada")
    made.call(flag, Decision.ATTEMPT, by="Ben")
    made.flag(30, call=Decision.PROBABLE, by="Ben", palp="left")
    made.flag(50)

    clashes = compare(made.record(), "Ada", "Ben").clashes

    assert [("another call", "confirmed", "attempt"), ("called by one", "–", "probable, left palp")] == [
        (c.kind, c.a, c.b) for c in clashes
    ]


def test_who_only_called_flags_has_not_said_that_nothing_happened():
    made = Made(length=100)
    made.mark("drumming", 10, 20, by="Ada")
    flag = made.flag(30, call=Decision.CONFIRMED, by="Ada")
    made.call(flag, Decision.CONFIRMED, by="Ben")

    agreement = compare(made.record(), "Ada", "Ben")

    assert ((), None, None, ()) == (agreement.acts, agreement.events, agreement.timed, agreement.clashes)
    assert ("Ben marked no acts here, so acts are not compared.",) == agreement.notes
    assert 1 == agreement.same_call


def test_a_film_seen_in_part_is_compared_in_that_part():
    within = Span(Fraction(0), Fraction(40))

    agreement = compare(two_reviewers().record(), "Ada", "Ben", within=within)

    assert ["drumming"] == [act.act for act in agreement.acts]
    assert () == agreement.clashes
    assert 200 == agreement.timed.units


def test_marks_without_a_name_are_one_reviewer_s():
    made = two_reviewers()
    made.mark("drumming", 10.1, 20, by="")

    agreement = compare(made.record(), "", "Ben")

    assert 1 == agreement.acts[0].matched
    assert "only A" not in [c.kind for c in agreement.clashes]


def test_somebody_who_marked_nothing_is_named_with_those_who_did():
    with pytest.raises(NothingByReviewer, match=r"“Cleo” .* by Ada, Ben\."):
        compare(two_reviewers().record(), "Ada", "Cleo")


def test_nobody_is_compared_with_themselves():
    with pytest.raises(SameReviewer):
        compare(two_reviewers().record(), "Ada", "Ada")
