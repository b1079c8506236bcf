"""A long MP4 is indexed from its own tables; wherever they and the film disagree, the film is read."""

from __future__ import annotations

import shutil
from dataclasses import fields
from pathlib import Path

import film_recipes as recipes
import numpy as np
import pytest

from clipmark.media import clip as clip_module
from clipmark.media.clip import open_clip
from clipmark.media.index import mp4_table
from clipmark.media.index.mp4_table import table_of_mp4
from clipmark.media.index.packets import PacketTable, read_packets
from clipmark.media.open_film import open_container, packets_of, picture_stream

pytestmark = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg makes the films of this test")


@pytest.fixture(scope="module")
def long_film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film with frames that lean forward, and sound; what counts as long is brought down to it."""
    folder = tmp_path_factory.mktemp("long")
    tone = ("-f", "lavfi", "-i", "sine=duration=16:sample_rate=8000")
    options = (*recipes.x264("-bf", "2", "-preset", "ultrafast", gop=20), "-c:a", "aac")
    return recipes.encode(folder, "film.mp4", *options, frames=400, size=(32, 32), before=tone)


@pytest.fixture(autouse=True)
def nothing_is_too_short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mp4_table, "_WORTH_IT", 100)


def quick_table(path: Path) -> PacketTable | None:
    with open_container(path) as container:
        return table_of_mp4(container, picture_stream(container, path), path)


def read_table(path: Path) -> PacketTable:
    with open_container(path) as container:
        return read_packets(packets_of(container, picture_stream(container, path)))


def test_the_tables_say_what_reading_every_packet_says(long_film: Path) -> None:
    quick, read = quick_table(long_film), read_table(long_film)

    assert quick is not None
    for column in fields(PacketTable):
        if column.name != "duration":  # of the last packet the tables do not say it
            assert np.array_equal(getattr(read, column.name), getattr(quick, column.name)), column.name


def test_the_film_is_not_read_when_its_tables_can_be_believed(
    long_film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clip_module, "read_packets", lambda _: pytest.fail("all packets were read"))

    assert 400 == len(open_clip(long_film, use_cache=False).index)


def wrong_offsets(data: bytearray) -> None:
    at = data.index(b"ctts") + 12 + 8 * 130  # a run in the first third: none of the places compared at the ends
    data[at + 7] ^= 0xFF


def missing_offsets(data: bytearray) -> None:
    data[data.index(b"ctts") : data.index(b"ctts") + 4] = b"free"


def test_a_film_whose_table_of_offsets_is_gone_is_not_given_wrong_times(tmp_path: Path, long_film: Path) -> None:
    data = bytearray(long_film.read_bytes())
    missing_offsets(data)
    path = tmp_path / "lying.mp4"
    path.write_bytes(data)

    quick = quick_table(path)

    assert quick is None or np.array_equal(read_table(path).pts, quick.pts)


@pytest.mark.parametrize(
    "table",
    [b"", bytes(8), bytes(4) + b"\0\0\0\1" + b"\0\0\0\5\0\0\0\1", bytes(4) + b"\x7f\xff\xff\xff" + bytes(16)],
    ids=["empty", "no runs", "too few samples", "more runs than bytes"],
)
def test_a_table_of_offsets_that_does_not_add_up_is_not_used(table: bytes) -> None:
    assert mp4_table._offsets(table, 7) is None


def test_runs_of_offsets_are_spelled_out_also_negative_ones() -> None:
    table = bytes(4) + b"\0\0\0\2" + b"\0\0\0\2\0\0\0\x09" + b"\0\0\0\1\xff\xff\xff\xff"

    assert [9, 9, -1] == mp4_table._offsets(table, 3).tolist()


def test_what_the_table_of_offsets_says_is_what_the_demuxer_says_too(tmp_path: Path, long_film: Path) -> None:
    # the demuxer reads the same box: a changed offset changes both alike
    data = bytearray(long_film.read_bytes())
    wrong_offsets(data)
    path = tmp_path / "changed.mp4"
    path.write_bytes(data)

    quick = quick_table(path)

    assert quick is None or np.array_equal(read_table(path).pts, quick.pts)


def test_a_long_film_whose_end_is_missing_is_read_and_says_so(tmp_path: Path, long_film: Path) -> None:
    fast = recipes.copied(tmp_path, "fast.mp4", long_film, "-movflags", "+faststart")
    data = fast.read_bytes()
    path = tmp_path / "short.mp4"
    path.write_bytes(data[: len(data) * 3 // 4])

    clip = open_clip(path, use_cache=False)

    assert 100 < len(clip.index) < 400
    assert "its end is missing" in " ".join(clip.notes)


def test_a_film_cut_by_an_edit_list_is_read(tmp_path: Path, long_film: Path) -> None:
    path = recipes.copied(tmp_path, "cut.mp4", long_film, before=("-ss", "1.1"))
    quick = quick_table(path)

    assert quick is None or not read_table(path).discard.any()
