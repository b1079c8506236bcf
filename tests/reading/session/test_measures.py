from fractions import Fraction

from clipmark.book.model import Actor, Decision
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made


def test_latencies_run_from_the_introduction():
    made = Made()
    made.mark("introduced", 20)
    made.mark("drumming", 45.5, 50)

    drumming = read(made.record()).figure("latency.drumming")

    assert Fraction("25.5") == drumming.value
    assert "25.5 s" == drumming.text


def test_without_an_introduction_the_clock_s_zero_counts_and_that_is_said():
    made = Made()
    made.mark("drumming", 45.5, 50)

    reading = read(made.record())

    assert Fraction("45.5") == reading.figure("latency.drumming").value
    assert "No introduction is marked, so latencies run from the clock's zero." in reading.notes


def test_what_never_came_is_censored_at_the_observed_time():
    made = Made(length=600)
    made.mark("introduced", 100)

    contact = read(made.record()).figure("latency.contact")

    assert contact.value is None
    assert contact.at_least == 500
    assert "not seen in 8:20.0 observed" == contact.text


def test_drumming_before_the_introduction_is_no_courtship_of_hers():
    made = Made()
    made.mark("drumming", 5, 8)
    made.mark("introduced", 20)
    made.mark("drumming", 30, 31)

    assert read(made.record()).figure("latency.drumming").value == 10


def test_a_share_is_of_the_time_in_view():
    made = Made(length=100)
    made.mark("introduced", 0)
    made.mark("out of view", 50, 90)
    made.mark("drumming", 10, 25)

    reading = read(made.record())

    assert reading.figure("time.observed").value == 60
    assert Fraction(1, 4) == reading.figure("act.drumming.him.share").value


def test_the_true_share_of_the_sampling_example():
    """TRADE 5.1 (calculated there): 60 s, the act runs in [3,8), [21,23), [40,55): 22 of 60."""
    made = Made(length=60)
    for start, end in ((3, 8), (21, 23), (40, 55)):
        made.mark("drumming", start, end)

    assert Fraction(22, 60) == read(made.record()).figure("act.drumming.him.share").value


def test_drumming_seen_by_two_cameras_counts_once():
    made = Made(length=100)
    made.clip(100, offset=10, camera="side")
    made.mark("drumming", 20, 30)
    made.mark("drumming", 12, 22, clip=2)  # 22 to 32 on the session clock

    reading = read(made.record())

    assert reading.figure("act.drumming.him.count").value == 1
    assert reading.figure("act.drumming.him.duration").value == 12
    assert (1, 2) == reading.figure("act.drumming.him.count").marks


def test_one_camera_s_long_drumming_takes_in_the_two_short_ones_of_the_other():
    made = Made(length=100)
    made.clip(100)
    made.mark("drumming", 10, 20)
    made.mark("drumming", 10, 14, clip=2)
    made.mark("drumming", 16, 20, clip=2)

    assert read(made.record()).figure("act.drumming.him.count").value == 1


def test_two_strikes_that_two_cameras_saw_are_two():
    made = Made(length=100)
    made.clip(100)
    for clip, shift in ((1, 0.0), (2, 0.04)):
        made.mark("jerk", 10 + shift, clip=clip)
        made.mark("jerk", 10.3 + shift, clip=clip)

    assert read(made.record()).figure("act.jerk.him.count").value == 2


def test_the_same_act_by_her_and_by_him_stays_two():
    made = Made(length=100)
    made.clip(100)
    made.mark("hissing", 10, 20, actor=Actor.HER)
    made.mark("hissing", 12, 20, clip=2, actor=Actor.HIM)

    assert 2 == len([a for a in read(made.record()).acts if a.act == "hissing"])


def test_out_of_view_of_one_camera_is_seen_by_the_other():
    made = Made(length=100)
    made.clip(100)
    made.mark("out of view", 0, 50)
    made.mark("out of view", 40, 60, clip=2)

    assert read(made.record()).figure("time.observed").value == 90


def test_an_act_left_open_is_told_as_at_least():
    made = Made(length=100)
    made.mark("clasp", 70)

    clasp = read(made.record()).figure("time.clasped")

    assert clasp.at_least == 30
    assert "at least 30.0 s" == clasp.text


def test_a_release_ends_the_clasp_and_the_insertion_that_are_open():
    """TV13 of TRADE 8 (rule of 1.3, a proposal): release closes the clasp and any open insertion."""
    made = Made(length=100)
    made.mark("clasp", 50)
    made.mark("insertion right", 60)
    made.mark("release", 75)

    reading = read(made.record())

    assert reading.figure("time.clasped").value == 25
    assert reading.figure("time.inserted").value == 15
    assert reading.figure("time.inserted").at_least is None


def test_an_insertion_outside_the_clasp_is_told():
    """TV13 of TRADE 8 (a proposal): insertions lie only inside a clasp or a knock-down."""
    made = Made(length=100)
    made.mark("clasp", 10, 20)
    made.mark("insertion left", 30, 35)

    assert "Insertion, left palp at 0:30.0 lies outside every clasp." in read(made.record()).notes


def test_a_mean_length_of_nothing_is_blank_and_not_zero():
    made = Made(length=100)
    made.mark("clasp", 70)

    assert read(made.record()).figure("act.clasp.him.mean").value is None


def test_intervals_run_from_beginning_to_beginning_and_gaps_from_end_to_start():
    made = Made()
    for start, end in ((10, 12), (20, 25), (40, 41)):
        made.mark("drumming", start, end)

    reading = read(made.record())

    assert reading.figure("act.drumming.him.interval").value == 15  # median of 10 and 20
    assert Fraction("11.5") == reading.figure("act.drumming.him.gap").value  # median of 8 and 15


def test_a_bout_criterion_comes_from_the_gaps_themselves():
    made = Made(length=3000)
    at = 10.0
    for bout in range(12):
        for strike in range(6):
            made.mark("drumming", round(at, 3), round(at + 0.3, 3))
            at += 0.3 + (0.4, 0.7, 0.2, 0.5, 0.3)[(bout + strike) % 5]
        at += 60 + 13 * (bout % 4)

    bouts = read(made.record()).figure("act.drumming.him.bouts")

    assert bouts.value == 12
    assert bouts.text.startswith("12 (gaps up to ")


def test_few_drummings_have_no_bouts_and_the_reason_is_said():
    made = Made()
    made.mark("drumming", 10, 11)
    made.mark("drumming", 14, 15)

    bouts = read(made.record()).figure("act.drumming.him.bouts")

    assert (None, "– (no criterion: 1 gap, at least 8 are needed)") == (bouts.value, bouts.text)


def test_her_answers_are_counted_with_their_marks():
    made = Made()
    made.mark("drumming", 10, 11)
    made.mark("answering", 13, 14)
    made.mark("drumming", 30, 31)

    answers = read(made.record()).figure("answers.her")

    assert (1, "1 of 2 drummings within 10.0 s, median 3.00 s") == (answers.value, answers.text)
    assert (1, 2, 3) == answers.marks


def test_time_apart_between_two_introductions_is_not_observed():
    made = Made(length=100)
    made.mark("introduced", 0)
    made.mark("separated", 30)
    made.mark("introduced", 60)
    made.mark("separated", 90)

    assert read(made.record()).figure("time.observed").value == 60


def test_the_share_that_the_pass_watched_is_of_the_time_in_view():
    made = Made(length=100)
    made.watched(0, 75)
    made.watched(75, 100, why="the light went off")

    reading = read(made.record())

    assert Fraction(3, 4) == reading.figure("time.watched").value
    assert "Unwatched 1:15.0 to 1:40.0: the light went off." in reading.notes


def test_many_unwatched_stretches_are_told_together():
    made = Made(length=100)
    for k in range(4):
        made.watched(10 * k, 10 * k + 2, why="her abdomen was hidden")

    assert "Unwatched: 4 stretches, 8.00 s together (her abdomen was hidden)." in read(made.record()).notes


def test_from_the_last_confirmed_insertion_to_the_separation():
    made = Made()
    made.flag(100, release=104, call=Decision.CONFIRMED)
    made.flag(150, release=152, call=Decision.ATTEMPT)
    made.mark("separated", 200)

    assert read(made.record()).figure("parting.last_confirmed").value == 96


def test_a_film_that_starts_late_is_read_on_the_session_clock():
    made = Made(length=0)
    made.clip(100, offset=Fraction("0.2"), first_pts=542)
    made.mark("drumming", 10, 12)

    assert Fraction("10.2") == read(made.record()).figure("latency.drumming").value


def test_an_empty_session_is_read_without_a_number_made_up():
    made = Made(length=0)

    reading = read(made.record())

    assert "no candidate insertion was flagged or marked" == reading.insertions.sentence
    assert reading.figure("time.watched").value is None
    assert reading.figure("time.frame").value is None


def test_acts_out_of_view_are_in_no_rate_and_told():
    """Calculated: 30 s of 600 s in view, and none of five drummings began in them."""
    made = Made(length=600)
    made.mark("introduced", 0)
    made.mark("out of view", 10, 580)
    for k in range(5):
        made.mark("drumming", 100 + 20 * k, 105 + 20 * k)

    reading = read(made.record())

    assert 5 == reading.figure("act.drumming.him.count").value
    assert 0 == reading.figure("act.drumming.him.per_minute").value
    assert "0.00 (5 not counted: out of view)" == reading.figure("act.drumming.him.per_minute").text


def test_acts_before_the_introduction_are_in_no_rate_and_told():
    made = Made(length=600)
    made.mark("drumming", 5, 8)
    made.mark("introduced", 500)
    made.mark("drumming", 510, 512)
    made.mark("separated", 560)
    made.mark("drumming", 570, 572)

    text = read(made.record()).figure("act.drumming.him.per_minute").text

    assert "1.00 (2 not counted: 1 before the introduction, 1 after the separation)" == text
