"""Boxes files in, flags files out: what is read, what is refused in words; the files keep to their schemas."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import jsonschema
import numpy as np
import pytest

from clipmark.cli import main
from clipmark.media.clip import Clip, open_clip
from clipmark.report.exports.scan_file import BoxesUnreadable, read_boxes

SCHEMAS = Path(__file__).parents[2] / "docs" / "schemas"


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Clip:
    """Two seconds, 128x96, uneven times, a textured square that jumps aside after one second."""
    path = tmp_path_factory.mktemp("film") / "square.mkv"
    draw = np.random.default_rng(1)
    ground, square = draw.integers(80, 180, (96, 128, 1)), draw.integers(0, 90, (32, 40, 1))
    with av.open(str(path), "w") as out:
        stream = out.add_stream("ffv1", rate=30)
        stream.width, stream.height, stream.pix_fmt = 128, 96, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 1000)
        for i in range(60):
            picture = np.repeat(ground, 3, axis=2).astype(np.uint8)
            left = 40 if i < 30 else 46
            picture[30:62, left : left + 40] = square
            frame = av.VideoFrame.from_ndarray(picture, "rgb24")
            frame.pts, frame.time_base = i * 33 + (i % 3) * 4, Fraction(1, 1000)
            out.mux(stream.encode(frame))
        out.mux(stream.encode())
    return open_clip(path)


def boxes_file(tmp_path: Path, *boxes: dict[str, Any]) -> Path:
    path = tmp_path / "boxes.json"
    path.write_text(json.dumps({"boxes": list(boxes)}))
    return path


GOOD = {"time_s": 0.0, "x": 38, "y": 28, "w": 44, "h": 36}


def test_a_box_belongs_to_the_frame_that_was_on_screen_at_its_time(tmp_path: Path, clip: Clip) -> None:
    (box,) = read_boxes(boxes_file(tmp_path, GOOD | {"time_s": 0.05}), clip)

    assert (1, 38, 28, 44, 36, "abdomen") == (box.frame, box.x, box.y, box.w, box.h, box.part)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"x": 500}, "outside the picture"),
        ({"w": 0}, "no size"),
        ({"w": -5}, "no size"),
        ({"w": 2}, "smaller than 4 pixels"),
        ({"time_s": 99}, "outside the film"),
        ({"time_s": -1}, "outside the film"),
        ({"x": "left"}, "not a number"),
        ({"x": float("nan")}, "not a number"),
        ({"y": True}, "not a number"),
        ({"part": "leg"}, "unknown part"),
    ],
)
def test_a_box_that_cannot_be_meant_is_refused_in_words(
    tmp_path: Path, clip: Clip, change: dict[str, Any], said: str
) -> None:
    with pytest.raises(BoxesUnreadable, match=said):
        read_boxes(boxes_file(tmp_path, GOOD | change), clip)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not JSON"),
        ("[1]", "missing"),
        ("{}", "missing"),
        ('{"boxes": []}', "no box"),
        ('{"boxes": [3]}', "named"),
    ],
)
def test_a_file_that_is_no_boxes_file_is_refused_in_words(tmp_path: Path, clip: Clip, text: str, said: str) -> None:
    path = tmp_path / "boxes.json"
    path.write_text(text)
    with pytest.raises(BoxesUnreadable, match=said):
        read_boxes(path, clip)


def test_a_box_that_lacks_its_height_is_refused_by_name(tmp_path: Path, clip: Clip) -> None:
    with pytest.raises(BoxesUnreadable, match="lacks h"):
        read_boxes(boxes_file(tmp_path, {k: v for k, v in GOOD.items() if k != "h"}), clip)


def test_two_boxes_for_one_moment_are_refused(tmp_path: Path, clip: Clip) -> None:
    with pytest.raises(BoxesUnreadable, match="same frame"):
        read_boxes(boxes_file(tmp_path, GOOD, GOOD), clip)


def test_a_missing_boxes_file_is_said(tmp_path: Path, clip: Clip) -> None:
    with pytest.raises(BoxesUnreadable, match="no such file"):
        read_boxes(tmp_path / "none.json", clip)


def test_what_scan_writes_keeps_to_its_schema_and_the_trace_has_a_row_a_frame(tmp_path: Path, clip: Clip) -> None:
    boxes, out, trace = boxes_file(tmp_path, GOOD), tmp_path / "flags.json", tmp_path / "trace.csv"
    code = main(["scan", str(clip.path), "--boxes", str(boxes), "--out", str(out), "--trace", str(trace), "--all"])

    assert 0 == code
    document = json.loads(out.read_text())
    jsonschema.validate(document, json.loads((SCHEMAS / "scan.schema.json").read_text()))
    jsonschema.validate(json.loads(boxes.read_text()), json.loads((SCHEMAS / "boxes.schema.json").read_text()))
    assert 61 == len(trace.read_text().splitlines())


def test_a_bad_boxes_file_leaves_nothing_written_and_exits_with_1(
    tmp_path: Path, clip: Clip, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "flags.json"

    assert 1 == main(["scan", str(clip.path), "--boxes", str(boxes_file(tmp_path)), "--out", str(out)])
    assert "no box" in capsys.readouterr().err
    assert not out.exists()


def test_scan_without_boxes_is_wrong_usage(clip: Clip) -> None:
    assert 2 == main(["scan", str(clip.path), "--out", "x.json"])
