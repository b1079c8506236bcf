"""A film is known again by what is in it, not by its name."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np

from clipmark.media.fingerprint import fingerprint


def big(path: Path, seed: int = 1) -> Path:
    path.write_bytes(np.random.default_rng(seed).bytes(9 << 20))
    return path


def test_a_copy_under_another_name_has_the_same_fingerprint(tmp_path: Path) -> None:
    film = big(tmp_path / "a.mp4")

    assert fingerprint(film) == fingerprint(Path(shutil.copy(film, tmp_path / "b.mp4")))


def test_a_copy_that_was_cut_short_or_filled_with_zeros_differs(tmp_path: Path) -> None:
    film = big(tmp_path / "a.mp4")
    data = film.read_bytes()
    short, hollow = tmp_path / "short.mp4", tmp_path / "hollow.mp4"
    short.write_bytes(data[:-1])
    hollow.write_bytes(data[: 6 << 20] + bytes(3 << 20))

    assert 3 == len({fingerprint(film), fingerprint(short), fingerprint(hollow)})


def test_a_single_changed_byte_of_a_small_film_is_seen(tmp_path: Path) -> None:
    film = tmp_path / "a.mp4"
    film.write_bytes(bytes(50_000))
    before = fingerprint(film)
    film.write_bytes(bytes(25_000) + b"\1" + bytes(24_999))

    assert before != fingerprint(film)


def test_an_empty_file_has_a_fingerprint_too(tmp_path: Path) -> None:
    (tmp_path / "a").touch()

    assert 32 == len(fingerprint(tmp_path / "a"))
