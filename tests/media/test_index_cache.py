"""Indexes kept between runs: quick where they are good, as if absent where they are not."""

from __future__ import annotations

import io
import pickle
from pathlib import Path

import numpy as np
import pytest

from clipmark import settings
from clipmark.media import clip as clip_module
from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames.reader import Reader
from clipmark.media.index import index_cache
from tests import made


@pytest.fixture
def film(tmp_path: Path) -> made.Made:
    return made.film(tmp_path / "film.mkv", made.uneven(40), sound=np.zeros(16000, np.float32))


def kept() -> Path:
    (path,) = (settings.cache_dir() / "index").glob("*.npz")
    return path


def same(one: Clip, other: Clip) -> bool:
    plain = (
        "width",
        "height",
        "rotation",
        "pixel_aspect",
        "times_exact",
        "notes",
        "sound",
        "inexact",
        "turn",
        "codec",
    )
    return (
        all(getattr(one, name) == getattr(other, name) for name in plain)
        and np.array_equal(one.index.pts, other.index.pts)
        and np.array_equal(one.order, other.order)
        and (one.index.time_base, one.index.end_pts, one.index.even, one.index.rate)
        == (other.index.time_base, other.index.end_pts, other.index.even, other.index.rate)
    )


def test_the_second_opening_reads_nothing_and_says_the_same(film: made.Made, monkeypatch: pytest.MonkeyPatch) -> None:
    first = open_clip(film.path)
    monkeypatch.setattr(clip_module, "_read", lambda *_: pytest.fail("the film was read again"))

    second = open_clip(film.path)

    assert same(first, second)
    with Reader(second) as reader:
        assert 23 == made.number_in(reader.frame(23).grey())


def test_a_renamed_film_is_known_again(film: made.Made, monkeypatch: pytest.MonkeyPatch) -> None:
    open_clip(film.path)
    moved = film.path.rename(film.path.with_name("Tuesday, second try.mkv"))
    monkeypatch.setattr(clip_module, "_read", lambda *_: pytest.fail("the film was read again"))

    assert moved == open_clip(moved).path


@pytest.mark.parametrize("damage", ["empty", "noise", "cut", "not a zip"])
def test_a_broken_cache_is_as_if_it_were_not_there(film: made.Made, damage: str) -> None:
    first = open_clip(film.path)
    whole = kept().read_bytes()
    noise = bytearray(whole)
    noise[200:400] = bytes(200)
    kept().write_bytes(
        {"empty": b"", "noise": bytes(noise), "cut": whole[: len(whole) // 2], "not a zip": b"x"}[damage]
    )

    assert same(first, open_clip(film.path))


class Trap:
    def __reduce__(self) -> tuple[object, ...]:
        return pytest.fail, ("the cache ran code",)


def test_a_cache_with_code_in_it_is_not_run(film: made.Made) -> None:
    first = open_clip(film.path)
    trap = io.BytesIO()
    np.savez(trap, facts=np.array([Trap()], object), pts=np.array([Trap()], object), allow_pickle=True)
    kept().write_bytes(trap.getvalue())
    assert b"pytest" in pickle.dumps(Trap())  # the trap is armed

    assert same(first, open_clip(film.path))


def test_an_index_of_an_older_version_is_made_anew(film: made.Made, monkeypatch: pytest.MonkeyPatch) -> None:
    open_clip(film.path)
    monkeypatch.setattr(index_cache, "_VERSION", index_cache._VERSION + 1)

    assert index_cache.load(open_clip(film.path).fingerprint) is not None


def test_an_index_that_lacks_something_is_made_anew(film: made.Made) -> None:
    first = open_clip(film.path)
    arrays, facts = index_cache.load(first.fingerprint) or pytest.fail("nothing kept")
    del arrays["pts"]
    index_cache.save(first.fingerprint, arrays, facts)

    assert same(first, open_clip(film.path))


def test_a_film_opens_where_nothing_can_be_kept(
    film: made.Made, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("in the way")
    monkeypatch.setenv("CLIPMARK_HOME", str(blocked))

    assert 40 == len(open_clip(film.path).index)


def test_no_more_than_the_agreed_number_of_indexes_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_cache, "_KEPT_AT_MOST", 3)

    for number in range(6):
        index_cache.save(f"{number:032x}", {"pts": np.zeros(1, np.int64)}, {})

    assert 3 == len(list((settings.cache_dir() / "index").iterdir()))
