"""`clipmark inspect`: what a film file is, in words and for machines."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from clipmark.cli import main
from tests import made


@pytest.fixture
def film(tmp_path: Path) -> Path:
    """Two seconds at uneven times that start late, with sound."""
    times = [700 + tick for tick in made.uneven(50)]
    return made.film(tmp_path / "evening.mkv", times, sound=np.zeros(32000, np.float32)).path


def test_the_keeper_reads_what_the_film_is(film: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == main(["inspect", str(film)])

    told = capsys.readouterr().out
    for words in (
        "ffv1 64x48",
        "50: first at 0:00.000",
        "uneven",
        "pcm_s16le, 16000 samples/s, 1 channel",
        "none found",
    ):
        assert words in told
    assert "the file's own clock shows 0:00.700 at the first frame" in told
    assert "begins at −0:00.700" in told


def test_a_machine_reads_the_same_as_one_line_a_clip(film: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == main(["inspect", str(film), str(film), "--json"])

    one, other = capsys.readouterr().out.splitlines()
    facts = json.loads(one)
    assert facts == json.loads(other)
    assert "clipmark-inspect/1" == facts["format"]
    assert (50, False, True, 0.0) == (facts["frames"], facts["even"], facts["times_exact"], facts["first_s"])
    assert made.uneven(50)[-1] / 1000 == pytest.approx(facts["last_s"])
    assert 0.7 == pytest.approx(facts["file_start_s"])
    assert -0.7 == pytest.approx(facts["sound"]["start_s"])
    assert ["video", "audio"] == [stream["kind"] for stream in facts["streams"]]
    assert ([], [], []) == (facts["lost"], facts["damaged"], facts["notes"])


def test_shots_are_told_with_the_frame_that_each_begins_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chance = np.random.default_rng(4)
    views = [np.kron(chance.integers(20, 236, (9, 16), np.uint8), np.ones((10, 10), np.uint8)) for _ in range(2)]
    path = made.film(
        tmp_path / "cut.mkv", range(0, 2400, 40), width=160, height=90, draw=lambda n: views[n >= 25]
    ).path

    assert 0 == main(["inspect", str(path), "--json"])

    shots = json.loads(capsys.readouterr().out)["shots"]
    assert [(0, 25, "film"), (25, 60, "cut")] == [(shot["start"], shot["end"], shot["begins"]) for shot in shots]
    assert [0.0, 1.0] == [shot["start_s"] for shot in shots]


def test_a_dissolve_is_told_in_words_and_with_its_frames(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chance = np.random.default_rng(4)
    one, other = (np.kron(chance.integers(20, 236, (9, 16), np.uint8), np.ones((10, 10), np.uint8)) for _ in range(2))
    share = np.clip((np.arange(70) - 24) / 16, 0, 1)
    path = made.film(
        tmp_path / "dissolve.mkv",
        range(0, 2800, 40),
        width=160,
        height=90,
        draw=lambda n: ((1 - share[n]) * one + share[n] * other).astype(np.uint8),
    ).path

    assert 0 == main(["inspect", str(path)])
    words = capsys.readouterr().out
    assert 0 == main(["inspect", str(path), "--json"])
    shot = json.loads(capsys.readouterr().out)["shots"][1]

    assert ("dissolve", 25, 40) == (shot["begins"], shot["start"], shot["whole"])
    assert "frame 25  (dissolve, blended up to frame 39)" in words


def test_a_quick_look_does_not_read_the_film(
    film: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("clipmark.media.frames.grey.GreyFilm.frames", lambda *_: pytest.fail("the film was read"))

    assert 0 == main(["inspect", str(film), "--quick", "--json"])

    facts = json.loads(capsys.readouterr().out)
    assert (None, None, None) == (facts["shots"], facts["lost"], facts["damaged"])


def test_frames_that_do_not_come_out_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from clipmark.media.clip import open_clip

    path = made.film(tmp_path / "hurt.mkv", range(0, 4000, 40), codec="mjpeg", pixel_format="yuvj420p").path
    packets = open_clip(path, use_cache=False).packets
    data = bytearray(path.read_bytes())
    start = data.index(b"\xff\xd8", int(packets.position[80]))
    data[start : start + int(packets.size[80])] = bytes(int(packets.size[80]))
    path.write_bytes(data)

    assert 0 == main(["inspect", str(path)])

    assert "Frame 80 (at 0:03.200) is damaged and does not come out." in capsys.readouterr().out


def bad_files(folder: Path) -> dict[str, Path]:
    """Files that will not do, by what their sentence must say."""
    empty, text, cut = folder / "empty.mp4", folder / "text.mp4", folder / "cut.mp4"
    empty.touch()
    text.write_text("Tuesday: he drummed, she did not answer.\n" * 30)
    whole = made.film(folder / "whole.mp4", range(0, 2000, 40), codec="mpeg4", pixel_format="yuv420p").path
    data = whole.read_bytes()
    cut.write_bytes(data[: data.index(b"moov") - 30])
    return {
        "there is no such file": folder / "missing.mp4",
        "it is a folder": folder,
        "empty (0 bytes)": empty,
        "of no kind that clipmark knows": text,
        "cut short": cut,
    }


@pytest.mark.parametrize("command", ["inspect", "frames"])
def test_each_bad_file_gets_one_sentence_and_exit_code_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    for words, path in bad_files(tmp_path).items():
        more = ["--csv", str(tmp_path / "out.csv")] if command == "frames" else []

        assert 1 == main([command, str(path), *more])

        out, told = capsys.readouterr()
        assert "" == out
        assert words in told
        assert 1 == len(told.splitlines())
        assert not (tmp_path / "out.csv").exists()


def test_one_bad_file_does_not_keep_the_others_from_being_told(
    film: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert 1 == main(["inspect", str(tmp_path / "gone.mp4"), str(film), "--json", "--quick"])

    out, told = capsys.readouterr()
    bad, good = map(json.loads, out.splitlines())
    assert "there is no such file" in bad["error"]
    assert 50 == good["frames"]
    assert "gone.mp4" in told


def test_a_film_of_one_frame_is_a_film(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = made.film(tmp_path / "one.mkv", [0]).path

    assert 0 == main(["inspect", str(path)])

    assert "1: first at 0:00.000, last at 0:00.000" in capsys.readouterr().out


def test_no_clip_at_all_is_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert 2 == main(["inspect"])
    assert "--help" in capsys.readouterr().err
