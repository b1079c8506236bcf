"""When a film was begun, from what its file says."""

from datetime import UTC, datetime
from fractions import Fraction

import pytest

from clipmark.media.filetime import begun, offsets, parse_time


@pytest.mark.parametrize(
    ("text", "hour"),
    [("2026-03-14T21:10:05.000000Z", 21), ("2026-03-14T21:10:05+0200", 19), ("2026-03-14 21:10:05", 21)],
)
def test_a_camera_writes_its_time_in_several_ways(text: str, hour: int) -> None:
    assert parse_time(text) == datetime(2026, 3, 14, hour, 10, 5, tzinfo=UTC)


@pytest.mark.parametrize("text", ["", "2026", "1904-01-01T00:00:00Z", "1970-01-01T00:00:00Z", "yesterday evening"])
def test_what_is_no_time_is_not_taken_for_one(text: str) -> None:
    assert parse_time(text) is None


def test_the_earliest_clip_begins_the_clock() -> None:
    times = [datetime(2026, 3, 14, 21, 0, 5, 500_000, UTC), datetime(2026, 3, 14, 21, 0, 0, tzinfo=UTC)]

    assert offsets(times) == [Fraction(11, 2), Fraction(0)]


def test_a_film_tells_the_time_that_the_camera_wrote(tmp_path) -> None:
    import av
    import numpy as np

    path = tmp_path / "evening.mp4"
    with av.open(str(path), "w") as container:
        container.metadata["creation_time"] = "2026-03-14T21:10:05.000000Z"
        stream = container.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for _ in range(3):
            frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode())

    found = begun(path, Fraction(3, 25))

    assert (found.at, found.told) == (datetime(2026, 3, 14, 21, 10, 5, tzinfo=UTC), "recorded")
