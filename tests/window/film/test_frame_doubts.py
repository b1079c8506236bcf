"""What the Film page says of a frame whose time or picture is not the file's own."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest

from clipmark.window.film.frame_doubts import inexact_span
from tests import made
from tests.window.conftest import put_in, wait_shown


@pytest.fixture
def without_times(tmp_path: Path) -> made.Made:
    """A bare picture stream: it states no times at all."""
    pts = [40 * n for n in range(30)]
    return made.film(tmp_path / "bare.h264", pts, width=128, height=96, codec="libx264", pixel_format="yuv420p",
                     options={"g": "10", "bf": "0"})  # fmt: skip


@pytest.fixture
def hurt(long_groups: made.Made) -> made.Made:
    """A film with garbage in the picture data of frame 20, on which the rest of its group leans."""
    with av.open(str(long_groups.path)) as container:
        packet = [p for p in container.demux(video=0) if p.size][20]
        place, size = packet.pos, packet.size
    with long_groups.path.open("r+b") as file:
        file.seek(place + size // 2)
        file.write(np.random.default_rng(3).bytes(size // 3))
    return long_groups


def see(window, qtbot, film: made.Made) -> None:
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    wait_shown(window, qtbot, 0)


def test_a_time_that_the_file_does_not_state_is_called_not_exact_beside_the_frame_number(
    window, without_times, qtbot
):
    see(window, qtbot, without_times)
    page = window.pages["film"]
    sentence = "The times of this file are not exact between 0:00.000 and 0:01.160."

    assert "1 of 30 ⚠" == page.transport.frame.whole
    assert sentence == page.transport.frame.accessibleDescription()
    assert page.hint.text().startswith(sentence)
    assert page.cameras.current.accessibleDescription().endswith(sentence)


def test_a_frame_with_parts_filled_in_says_so_and_a_whole_one_does_not(window, hurt, qtbot):
    see(window, qtbot, hurt)
    page = window.pages["film"]
    assert "1 of 240" == page.transport.frame.whole
    number = next(n for n in range(20, 80) if (p := decoded(window, n)) and p.damaged)
    page.going.to_number(number)
    wait_shown(window, qtbot, number)

    assert f"{number + 1} of 240 ⚠" == page.transport.frame.whole
    assert page.hint.text().startswith("Parts of this frame are missing in the file")
    assert "parts of this frame are filled in" == page.cameras.current.told
    page.going.to_number(100)
    wait_shown(window, qtbot, 100)
    assert "101 of 240" == page.transport.frame.whole
    assert "" == page.cameras.current.told


def decoded(window, number: int):
    """The frame, read beside the window; None where it does not come out."""
    from clipmark.errors import ClipmarkError
    from clipmark.media.frames.reader import Reader

    with Reader(window.workspace.film(window.workspace.clip_id)) as reader:
        try:
            return reader.frame(number)
        except ClipmarkError:
            return None


def test_spans_that_overlap_are_told_as_one_and_their_end_is_exact_again():
    spans = ((5, 9), (3, 7))

    assert (3, 9) == inexact_span(spans, 6)
    assert (5, 9) == inexact_span(spans, 8)
    assert None is inexact_span(spans, 9)
