"""The committed sample session is what its papers say."""

from __future__ import annotations

import json
from pathlib import Path

import av
import numpy as np
import pytest

from clipmark.book.meaning.acts import BUILT_IN

FOLDER = Path(__file__).resolve().parents[2] / "sample_media"


def _read(name):
    return json.loads((FOLDER / name).read_text())


@pytest.fixture(scope="module")
def truth():
    return _read("pairing.truth.json")


def test_the_film_is_small_enough_to_be_kept_in_the_repository():
    assert (FOLDER / "pairing.mp4").stat().st_size < 6_000_000


def test_every_frame_of_the_film_has_its_truth(truth):
    with av.open(str(FOLDER / "pairing.mp4")) as film:
        stream = film.streams.video[0]
        ticks = sorted(p.pts for p in film.demux(stream) if p.pts is not None)

    assert truth["frames"]["pts"] == [t - ticks[0] for t in ticks]
    assert len(ticks) == len(truth["frames"]["box"]) == len(truth["frames"]["hidden"])


def test_the_pulls_differ_in_size_and_lie_in_both_shots(truth):
    pulls, cut = truth["pulls"], truth["cuts"][0]["time_s"]

    assert len(pulls) >= 3
    assert max(p["pull"] for p in pulls) > 2 * min(p["pull"] for p in pulls)
    assert {p["onset_s"] > cut for p in pulls} == {True, False}


def test_each_shot_has_one_outline_that_fits(truth):
    drawn = _read("pairing.boxes.json")["boxes"]
    cut = truth["cuts"][0]["time_s"]

    assert [False, True] == [b["time_s"] >= cut for b in drawn]
    for box in drawn:
        x, y, w, h = truth["frames"]["box"][truth["frames"]["time_s"].index(box["time_s"])]
        assert (w, h) == pytest.approx((box["w"], box["h"]), rel=0.1)
        assert (x + w / 2, y + h / 2) == pytest.approx((box["x"] + box["w"] / 2, box["y"] + box["h"] / 2), abs=2)


def test_the_keepers_marks_are_acts_of_the_book_and_lie_in_the_film(truth):
    known = {act.code: act for act in BUILT_IN}
    for mark in _read("session.json")["marks"]:
        act = known[mark["act"]]
        assert act.lasting == (mark["end_s"] is not None)
        assert 0 <= mark["start_s"] < truth["clip"]["duration_s"]


def test_a_strike_of_the_palps_is_heard_when_it_is_seen(truth):
    # Outside check: the sound as decoded by ffmpeg, its energy just after each told strike against just before.
    with av.open(str(FOLDER / "pairing.mp4")) as film:
        stream = film.streams.audio[0]
        pieces = [(float(f.pts * f.time_base), f.to_ndarray().mean(0)) for f in film.decode(stream)]
        rate = stream.rate
    start = pieces[0][0]
    samples = np.concatenate([p for _, p in pieces])
    louder = []
    for strike in truth["strikes_s"]:
        k = round((strike - start) * rate)
        before, after = samples[k - 600 : k - 100], samples[k : k + 500]
        louder.append(np.square(after).mean() > 4 * np.square(before).mean())

    assert len(truth["strikes_s"]) > 50
    assert np.mean(louder) > 0.97
