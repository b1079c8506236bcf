"""Threads beside the pass: the same order and results as without, errors where they belong, nothing left running."""

from __future__ import annotations

import threading
import time
from dataclasses import fields

import numpy as np
import pytest

import clipmark.motion.scan as pass_module
from clipmark.motion.ahead import Behind, ahead
from clipmark.motion.scan import scan
from tests.motion.test_scan import BOX, MadeFilm


def running() -> list[str]:
    return [one.name for one in threading.enumerate() if one.name.startswith(("pictures ahead", "behind the pass"))]


def test_items_come_in_their_order_and_no_more_are_made_than_may_wait():
    made = []

    def numbers():
        for number in range(50):
            made.append(number)
            yield number

    items = ahead(numbers(), 4)
    assert 0 == next(items)
    time.sleep(0.1)
    assert len(made) <= 7  # four wait, one is in hand, one was asked for

    assert list(range(1, 50)) == list(items)
    assert [] == running()


def test_an_error_comes_after_the_items_before_it():
    def numbers():
        yield 1
        raise ValueError("the film ends here")

    items = ahead(numbers())
    assert 1 == next(items)
    with pytest.raises(ValueError, match="the film ends here"):
        next(items)
    assert [] == running()


def test_whoever_stops_early_leaves_no_thread_and_the_source_is_closed():
    closed = []

    def numbers():
        try:
            yield from range(1000)
        finally:
            closed.append(threading.current_thread().name)

    items = ahead(numbers(), 2)
    next(items)
    items.close()

    assert [] == running()
    assert ["pictures ahead"] == closed


def test_work_behind_is_done_in_order_and_its_error_is_raised():
    done = []
    with Behind(2) as behind:
        for number in range(20):
            behind.do(done.append, number)
        behind.wait()
        assert list(range(20)) == done
        behind.do(int, "no number")
        with pytest.raises(ValueError, match="invalid literal"):
            behind.wait()
    assert [] == running()


def test_a_stopped_pass_leaves_no_thread():
    class Stop:
        def advance(self, done: int, total: int) -> None:
            if done > 20:
                raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        scan(MadeFilm(onset=3.0, release=5.0, pull=0.1), [BOX], progress=Stop())
    assert [] == running()


def test_the_pass_says_the_same_to_the_last_bit_with_and_without_threads(monkeypatch):
    film = MadeFilm(onset=3.0, release=5.0, pull=0.1)
    beside = scan(film, [BOX])

    def plain(items, held=16):
        yield from items

    class AtOnce(Behind):
        def do(self, work, *args, **kwargs):
            work(*args, **kwargs)

    monkeypatch.setattr(pass_module, "ahead", plain)
    monkeypatch.setattr(pass_module, "Behind", AtOnce)
    alone = scan(film, [BOX])

    assert alone.flags == beside.flags
    assert (alone.shots, alone.watched, alone.outlines) == (beside.shots, beside.watched, beside.outlines)
    for field in fields(alone.trace):
        np.testing.assert_array_equal(getattr(alone.trace, field.name), getattr(beside.trace, field.name))
