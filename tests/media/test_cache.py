"""Frames in memory: bounded, the longest unused go first."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from clipmark.media.frames.cache import FrameCache

Cache = FrameCache[np.ndarray]


def frame(size: int) -> np.ndarray:
    return np.zeros(size, np.uint8)


def test_the_cache_never_holds_more_than_its_limit() -> None:
    cache = Cache(1000)

    for number in range(50):
        cache.put(("film", number), frame(300))
        assert cache.nbytes <= 1000

    assert 3 == len(cache)


def test_the_frame_that_was_unused_longest_goes_first() -> None:
    cache = Cache(900)
    for number in range(3):
        cache.put(("film", number), frame(300))

    cache.get(("film", 0))
    cache.put(("film", 3), frame(300))

    assert [True, False, True, True] == [("film", number) in cache for number in range(4)]


def test_a_frame_larger_than_the_cache_is_not_kept_and_pushes_nothing_out() -> None:
    cache = Cache(500)
    cache.put(("film", 1), frame(400))

    cache.put(("film", 2), frame(501))

    assert ("film", 1) in cache
    assert cache.get(("film", 2)) is None


def test_a_frame_put_twice_counts_once() -> None:
    cache = Cache(1000)

    cache.put(("film", 1), frame(300))
    cache.put(("film", 1), frame(400))

    assert (1, 400) == (len(cache), cache.nbytes)


def test_many_threads_may_use_it_at_once() -> None:
    cache = Cache(5000)

    def work(seed: int) -> None:
        for number in np.random.default_rng(seed).integers(0, 40, 2000):
            if cache.get(("film", int(number))) is None:
                cache.put(("film", int(number)), frame(100 + int(number)))

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(work, range(6)))

    held = [number for number in range(40) if ("film", number) in cache]
    assert sum(100 + number for number in held) == cache.nbytes <= 5000


def test_clearing_frees_everything() -> None:
    cache = Cache(1000)
    cache.put(("film", 1), frame(300))

    cache.clear()

    assert (0, 0) == (len(cache), cache.nbytes)


def test_a_dropped_frame_is_gone_and_its_bytes_are_free() -> None:
    cache = Cache(100)
    cache.put("a", frame(60))
    cache.drop("a")
    cache.drop("a")

    assert (None, 0) == (cache.get("a"), cache.nbytes)
