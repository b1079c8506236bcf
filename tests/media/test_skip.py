"""Frames on which no other leans are left out on the way to a frame, and never cost exactness."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import av
import film_recipes as recipes
import numpy as np
import pytest

from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames import reader
from clipmark.media.frames.picture import Picture
from clipmark.media.frames.reader import FrameLost, Reader
from clipmark.media.frames.skip import believed
from tests import made

pytestmark = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg makes the films of this test")

KINDS = {
    "H.264": ("film.mp4", recipes.x264("-bf", "3", gop=60)),
    "H.264 interlaced in a transport stream": (
        "film.ts",
        recipes.x264("-bf", "2", "-flags", "+ildct+ilme", "-x264-params", "tff=1", gop=60),
    ),
    "HEVC": ("film.mp4", recipes.x265("open-gop=0:bframes=3")),
    "HEVC with open groups, raw start codes": ("film.ts", recipes.x265("open-gop=1:bframes=4")),
    "HEVC with temporal layers": ("film.mp4", recipes.x265("bframes=3:temporal-layers=1")),
}


@pytest.fixture(scope="module", params=list(KINDS))
def film(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Clip:
    name, options = KINDS[request.param]
    folder = tmp_path_factory.mktemp("skip")
    return open_clip(recipes.encode(folder, name, *options, frames=130), use_cache=False)


@pytest.fixture(scope="module")
def h264(tmp_path_factory: pytest.TempPathFactory) -> Clip:
    name, options = KINDS["H.264"]
    return open_clip(recipes.encode(tmp_path_factory.mktemp("skip"), name, *options, frames=130), use_cache=False)


def header(clip: Clip) -> bytes | None:
    with av.open(str(clip.path)) as container:
        return container.streams.video[0].codec_context.extradata


def test_frames_reached_by_leaving_others_out_are_those_of_decoding_all(film: Clip) -> None:
    asked = random.Random(5).sample(range(len(film.index)), 40)
    with Reader(film) as one, Reader(film) as other:
        other._skipping.allowed = False
        for number in asked:
            one._run = other._run = None  # each from its keyframe
            near = range(number, min(number + 4, len(film.index)))  # and some on from there
            assert all(np.array_equal(one.frame(n).grey(), other.frame(n).grey()) for n in near), number


def test_fewer_frames_come_out_on_the_way_than_lie_there(h264: Clip) -> None:
    passed: list[int] = []
    with Reader(h264) as opened:
        picture = opened.frame(58, lambda on_the_way: passed.append(on_the_way.number))

    assert 58 == made.number_in(picture.grey())
    assert 0 == passed[0]
    assert 10 < len(passed) < 45
    assert sorted(set(passed)) == passed


def test_what_is_passed_on_the_way_is_told_by_its_own_number(film: Clip) -> None:
    passed: list[Picture] = []
    with Reader(film) as opened:
        opened.frame(55, passed.append)

    assert passed
    assert [p.number for p in passed] == [made.number_in(p.grey()) for p in passed]


class Enough(Exception):
    pass


def test_decoding_left_on_the_way_goes_on_from_there(film: Clip) -> None:
    def leave(picture: Picture) -> None:
        if picture.number >= 20:
            raise Enough

    with Reader(film) as opened:
        with pytest.raises(Enough):
            opened.frame(58, leave)
        assert [57, 30, 0, 129] == [made.number_in(opened.frame(n).grey()) for n in (57, 30, 0, 129)]


def test_the_marks_of_hevc_with_temporal_layers_are_not_believed(tmp_path: Path) -> None:
    plain, layered, stream = (
        open_clip(recipes.encode(tmp_path, f"{n}{Path(KINDS[kind][0]).suffix}", *KINDS[kind][1], frames=30))
        for n, kind in enumerate(("HEVC", "HEVC with temporal layers", "HEVC with open groups, raw start codes"))
    )

    assert believed("hevc", header(plain))
    assert believed("hevc", header(stream))
    assert not believed("hevc", header(layered))


@pytest.mark.parametrize("codec", ["vp9", "av1", "mpeg4", "mpeg2video", "mjpeg"])
def test_other_codecs_are_decoded_frame_by_frame(codec: str) -> None:
    assert not believed(codec, b"")


@pytest.mark.parametrize("cut", [0, 5, 22, 23, 30, 40])
def test_a_header_that_is_cut_short_is_no_reason_to_leave_anything_out(tmp_path: Path, cut: int) -> None:
    name, options = KINDS["HEVC"]
    whole = header(open_clip(recipes.encode(tmp_path, name, *options, frames=5))) or b""

    assert believed("hevc", whole[:cut]) in ((False,) if cut < 30 else (False, True))
    assert not believed("hevc", None)


def test_a_film_that_does_not_bear_it_is_decoded_whole_from_then_on(
    h264: Clip, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = Reader(h264)
    real = reader.decode_numbered

    def forgetful(*arguments: Any) -> Iterator[Any]:
        """A decoder that loses the frame itself when it was allowed to leave others out."""
        for ordinal, frame in real(*arguments):
            if not (opened._skipping.used and opened._rank[ordinal] == opened._skipping.sought):
                yield ordinal, frame

    monkeypatch.setattr(reader, "decode_numbered", forgetful)
    with opened:
        assert 47 == made.number_in(opened.frame(47).grey())
        assert not opened._skipping.allowed


def test_a_frame_that_is_really_lost_is_still_said_to_be_lost(h264: Clip, monkeypatch: pytest.MonkeyPatch) -> None:
    opened = Reader(h264)
    real = reader.decode_numbered
    monkeypatch.setattr(reader, "decode_numbered", lambda *a: ((o, f) for o, f in real(*a) if opened._rank[o] != 47))
    with opened, pytest.raises(FrameLost):
        opened.frame(47)
