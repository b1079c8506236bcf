"""Exactly the frame that was asked for."""

from __future__ import annotations

import os
import random
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.media.frames.picture import Picture, Turn
from clipmark.media.frames.reader import ClipChanged, FrameLost, Reader
from clipmark.media.open_film import ClipMissing
from tests import made

UNEVEN = made.uneven(90)


@pytest.fixture
def film(tmp_path: Path) -> Clip:
    """Ninety numbered frames at uneven times, a keyframe in every dozen."""
    return open_clip(made.film(tmp_path / "film.mkv", UNEVEN).path)


def test_every_frame_is_the_one_that_was_asked_for_in_any_order(film: Clip) -> None:
    asked = random.Random(3).sample(range(90), 90)

    with Reader(film) as reader:
        got = [made.number_in(reader.frame(number).grey()) for number in asked]

    assert asked == got


def test_stepping_backwards_gives_each_frame_once(film: Clip) -> None:
    with Reader(film) as reader:
        got = [made.number_in(reader.frame(number).grey()) for number in range(89, -1, -1)]

    assert list(range(89, -1, -1)) == got


def test_a_frame_knows_its_number_and_its_tick(film: Clip) -> None:
    with Reader(film) as reader:
        picture = reader.frame(41)

    assert (41, UNEVEN[41]) == (picture.number, picture.pts)


def test_a_stretch_of_film_comes_in_order_and_ends_before_its_end(film: Clip) -> None:
    with Reader(film) as reader:
        got = [made.number_in(picture.grey()) for picture in reader.pictures(17, 44)]

    assert list(range(17, 44)) == got


def test_two_stretches_read_at_once_by_one_reader_do_not_disturb_each_other(film: Clip) -> None:
    with Reader(film) as reader:
        pairs = [
            (made.number_in(one.grey()), made.number_in(two.grey()))
            for one, two in zip(reader.pictures(5, 30), reader.pictures(60, 85), strict=True)
        ]

    assert [(number, number + 55) for number in range(5, 30)] == pairs


def test_a_preview_says_which_frame_it_really_is(film: Clip) -> None:
    with Reader(film) as reader:
        picture = reader.nearest_key(50)
        start, stop = reader.group(50)

    assert picture.number == start <= 50 < stop
    assert film.index.keyframe[start]
    assert made.number_in(picture.grey()) == picture.number


def test_a_frame_outside_the_film_is_refused(film: Clip) -> None:
    with Reader(film) as reader, pytest.raises(IndexError):
        reader.frame(90)


def test_grey_is_the_stored_brightness_pixel_for_pixel(film: Clip) -> None:
    with Reader(film) as reader:
        assert np.array_equal(made.numbered(33), reader.frame(33).grey())


@pytest.mark.parametrize("width", [65, 67, 95, 127, 641])
def test_the_padding_of_lines_never_reaches_the_picture(tmp_path: Path, width: int) -> None:
    chance = np.random.default_rng(width)
    pictures = [chance.integers(0, 256, (33, width), np.uint8) for _ in range(3)]
    clip = open_clip(
        made.film(tmp_path / "film.mkv", [0, 40, 80], width=width, height=33, draw=pictures.__getitem__).path
    )

    with Reader(clip) as reader:
        assert all(np.array_equal(pictures[number], reader.frame(number).grey()) for number in range(3))


@pytest.mark.parametrize("pixels", ["gray10le", "yuv422p10le", "yuv420p", "yuv444p", "gray16le", "bgr0", "nv12"])
def test_brightness_reads_alike_whatever_the_pixel_format(tmp_path: Path, pixels: str) -> None:
    codec = "rawvideo" if pixels == "nv12" else "ffv1"
    path = tmp_path / ("film.avi" if pixels == "nv12" else "film.mkv")
    clip = open_clip(
        made.film(
            path, range(5) if pixels == "nv12" else [0, 40, 90, 120, 170], pixel_format=pixels, codec=codec
        ).path
    )

    with Reader(clip) as reader:
        assert [0, 1, 2, 3, 4] == [made.number_in(picture.grey()) for picture in reader.pictures()]
        assert [0, 1, 2, 3, 4] == [made.number_in(picture.grey(32)) for picture in reader.pictures()]


def test_pictures_for_the_screen_are_whole_and_of_the_asked_size(film: Clip) -> None:
    with Reader(film) as reader:
        shown = reader.frame(7).bgra(40, 30)

    assert (30, 40, 4) == shown.shape
    assert shown.flags["C_CONTIGUOUS"]
    assert 255 == shown[..., 3].min()
    assert 7 == made.number_in(np.ascontiguousarray(shown[..., 1]))


@pytest.mark.parametrize("matrix", range(18))
@pytest.mark.parametrize("form", ["yuv420p", "yuv422p10le", "rgb24", "gbrp"])
def test_a_frame_is_shown_whatever_matrix_of_colours_it_says_to_have(form: str, matrix: int) -> None:
    frame = av.VideoFrame(64, 48, form)
    for plane in frame.planes:
        plane.update(bytes(plane.buffer_size))
    frame.colorspace = matrix
    picture = Picture(frame, 0, 0, Turn())

    assert (30, 40, 4) == picture.bgra(40, 30).shape
    assert (48, 64, 3) == picture.rgb().shape
    assert (30, 40) == picture.grey(40, 30).shape
    assert 32 == picture.shrunk(32).width


def test_red_is_red(tmp_path: Path) -> None:
    red = np.zeros((32, 32, 3), np.uint8)
    red[..., 0] = 255
    clip = open_clip(
        made.film(tmp_path / "red.mkv", [0, 40], width=32, height=32, draw=lambda n: red, pixel_format="bgr0").path
    )

    with Reader(clip) as reader:
        assert [255, 0, 0] == reader.frame(1).rgb()[16, 16].tolist()
        assert [0, 0, 255, 255] == reader.frame(1).bgra(32, 32)[16, 16].tolist()


def test_a_shrunk_picture_is_the_same_frame_in_less_memory(film: Clip) -> None:
    with Reader(film) as reader:
        whole = reader.frame(61)
        small = whole.shrunk(24)

    assert (61, 24, 18) == (small.number, small.width, small.height)
    assert small.nbytes < whole.nbytes
    assert 61 == made.number_in(small.grey())


def test_pictures_outlive_their_reader(film: Clip) -> None:
    with Reader(film) as reader:
        kept = [reader.frame(number) for number in (80, 3, 44)]

    assert [80, 3, 44] == [made.number_in(picture.grey()) for picture in kept]


def test_the_grey_film_gives_every_frame_at_its_time_in_its_size(film: Clip) -> None:
    grey = GreyFilm(film, 32)

    frames = dict(grey.frames())

    assert [tick / 1000 for tick in UNEVEN] == pytest.approx(grey.times.tolist())
    assert (64, 48) == (grey.width, grey.height)
    assert {(24, 32)} == {picture.shape for picture in frames.values()}
    assert list(range(90)) == [made.number_in(picture) for picture in frames.values()]
    assert [] == grey.lost


def test_the_grey_film_keeps_its_long_side_to_640(tmp_path: Path) -> None:
    tall = made.film(tmp_path / "tall.mkv", [0], width=720, height=1280)

    assert (360, 640) == GreyFilm(open_clip(tall.path)).grey_size


@pytest.fixture(params=[80, 30], ids=["later", "among the first frames"])
def hurt(tmp_path: Path, request: pytest.FixtureRequest) -> tuple[Clip, int]:
    """A hundred numbered frames, of which one is zeros in the file, and its number."""
    gone: int = request.param
    path = made.film(tmp_path / "hurt.mkv", range(0, 4000, 40), codec="mjpeg", pixel_format="yuvj420p").path
    packets = open_clip(path, use_cache=False).packets
    data = bytearray(path.read_bytes())
    start = data.index(b"\xff\xd8", int(packets.position[gone]))
    data[start : start + int(packets.size[gone])] = bytes(int(packets.size[gone]))
    path.write_bytes(data)
    return open_clip(path), gone


def test_a_frame_that_does_not_come_out_is_said_so_and_never_replaced(hurt: tuple[Clip, int]) -> None:
    clip, gone = hurt
    with Reader(clip) as reader:
        with pytest.raises(FrameLost, match=rf"Frame {gone} .*is damaged"):
            reader.frame(gone)
        assert [gone - 1, gone + 1] == [
            made.number_in(reader.frame(number).grey()) for number in (gone - 1, gone + 1)
        ]


def test_a_frame_that_does_not_come_out_is_left_out_when_the_film_is_read_on(hurt: tuple[Clip, int]) -> None:
    clip, gone = hurt
    grey = GreyFilm(clip)

    assert [number for number in range(100) if number != gone] == [number for number, _ in grey.frames()]
    assert [gone] == grey.lost


@pytest.mark.parametrize("end", [250, 400], ids=["in the middle", "at the end"])
def test_a_long_stretch_that_does_not_decode_is_looked_for_a_few_times_and_not_frame_by_frame(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: int
) -> None:
    whole = made.film(tmp_path / "film.mkv", range(0, 16_000, 40), codec="mjpeg", pixel_format="yuvj420p").path
    packets = open_clip(whole, use_cache=False).packets
    data = bytearray(whole.read_bytes())
    for number in range(100, end):
        start = data.index(b"\xff\xd8", int(packets.position[number]))
        data[start : start + int(packets.size[number])] = bytes(int(packets.size[number]))
    whole.write_bytes(data)
    clip = open_clip(whole, use_cache=False)
    begun: list[int] = []
    begin = Reader._begin
    monkeypatch.setattr(Reader, "_begin", lambda reader, start: begun.append(start) or begin(reader, start))
    with Reader(clip, threads=1) as reader:
        came = [picture.number for picture in reader.pictures()]

    assert 400 == len(clip.index)
    assert [*range(100), *range(end, 400)] == came
    assert len(begun) < 30


def test_a_film_that_went_away_is_said_so(film: Clip) -> None:
    film.path.unlink()

    with pytest.raises(ClipMissing, match="no such file"):
        Reader(film)


def test_a_film_that_grew_or_shrank_since_it_was_opened_is_not_read_by_the_old_index(film: Clip) -> None:
    with film.path.open("ab") as file:
        file.write(b"more")

    with pytest.raises(ClipChanged, match="has changed since it was opened"):
        Reader(film)


def test_a_film_that_is_removed_while_it_is_open_is_read_to_its_end(film: Clip) -> None:
    with Reader(film) as reader:
        assert 3 == made.number_in(reader.frame(3).grey())
        film.path.unlink()

        assert [80, 10] == [made.number_in(reader.frame(number).grey()) for number in (80, 10)]


@pytest.mark.parametrize("how", ["written over", "put in its place"])
def test_another_film_of_the_same_size_is_noticed_while_the_film_is_open(
    tmp_path: Path, film: Clip, how: str
) -> None:
    other = bytearray(film.path.read_bytes())
    other[len(other) // 2] ^= 1
    with Reader(film) as reader:
        assert 3 == made.number_in(reader.frame(3).grey())
        if how == "written over":
            film.path.write_bytes(other)
        else:
            (tmp_path / "new.mkv").write_bytes(other)
            (tmp_path / "new.mkv").replace(film.path)

        for number in (4, 80):
            with pytest.raises(ClipChanged):
                reader.frame(number)


def test_a_film_whose_date_alone_was_changed_is_the_same_film(film: Clip) -> None:
    with Reader(film) as reader:
        reader.frame(3)
        os.utime(film.path, (1, 1))

        assert 80 == made.number_in(reader.frame(80).grey())


def test_times_are_exact_fractions(film: Clip) -> None:
    assert Fraction(UNEVEN[13], 1000) == film.index.exact_seconds(13)


def test_a_film_that_still_grows_is_said_to_do_so(tmp_path: Path) -> None:
    from clipmark.media.clip import open_clip
    from tests import made

    film = made.film(tmp_path / "growing.mkv", [40 * n for n in range(25)])
    clip = open_clip(film.path)
    with film.path.open("ab") as file:
        file.write(bytes(4096))

    with pytest.raises(ClipChanged, match="still being copied or recorded"), Reader(clip) as reader:
        reader.frame(3)


def test_a_copy_that_is_not_done_is_told_from_one_that_was_cut_short_long_ago(tmp_path: Path) -> None:
    import os

    from clipmark.media.open_film import ClipCutShort

    path = tmp_path / "part.mp4"
    path.write_bytes(b"\0\0\0\x18ftypmp42" + bytes(12))

    assert "still being copied" in str(ClipCutShort(path))
    os.utime(path, (1e9, 1e9))
    assert "still being copied" not in str(ClipCutShort(path))
