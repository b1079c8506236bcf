"""The sound beside the roll: taps of a long evening found piece by piece, and kept."""

from pathlib import Path

import numpy as np
import pytest

from clipmark import settings
from clipmark.media.clip import open_clip
from clipmark.progress import SILENT
from clipmark.report.films import listening
from tests import made
from tests.media.test_sound_match import RATE, taps


def test_taps_in_pieces_are_those_of_the_whole(monkeypatch) -> None:
    monkeypatch.setattr(listening, "PIECE_S", 10)
    monkeypatch.setattr(listening, "OVERLAP_S", 4)
    times = [2.0, 9.995, 10.3, 19.9, 25.2]

    found = listening.struck(taps(30, times, seed=4), RATE, SILENT)

    assert found == pytest.approx(times, abs=0.012)


def test_what_was_heard_is_kept_and_read_again(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path / "home"))
    film = made.film(tmp_path / "a.mkv", list(range(0, 4_000, 200)), sound=taps(4, [1, 2], seed=1), sound_rate=RATE)
    clip = open_clip(film.path)

    first = listening.listen(clip, SILENT)
    monkeypatch.setattr(listening, "heard_in", lambda *_: pytest.fail("it was computed again"))
    again = listening.listen(clip, SILENT)

    assert first.onsets.tolist() == again.onsets.tolist()
    assert np.abs(first.levels - again.levels).max() < 1e-6


def test_a_damaged_cache_is_computed_anew(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path / "home"))
    film = made.film(tmp_path / "a.mkv", list(range(0, 4_000, 200)), sound=taps(4, [1, 2], seed=1), sound_rate=RATE)
    clip = open_clip(film.path)
    listening.listen(clip, SILENT)
    kept = next((settings.cache_dir() / "sound").iterdir())
    kept.write_bytes(kept.read_bytes()[:100])

    assert 2 == len(listening.listen(clip, SILENT).onsets)


def test_film_without_sound_is_heard_as_nothing(tmp_path: Path) -> None:
    film = made.film(tmp_path / "silent.mkv", [0, 40, 80])

    assert listening.listen(open_clip(film.path), SILENT) is None
