"""Camera film in twenty containers whose headers lie in known ways, against ffprobe.

Source: `demo.*` of the package iscc-samples (CC-BY-4.0), one film of 1441 frames in 20 containers; the two Theora
files do not decode (see docs/film-files.md).
"""

from __future__ import annotations

import importlib.util
import os
import shutil
from pathlib import Path

import pytest
from film_recipes import shown_times

from clipmark.media.clip import open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.media.frames.reader import Reader
from clipmark.media.open_film import MostlyLost
from clipmark.media.sound.clip_sound import read_sound
from tests import made

WHOLE = (
    "3g2", "3gp", "asf", "avi", "f4v", "flv", "m1v", "m4v", "mkv", "mov", "mp4", "mpeg", "mpg", "rm", "swf", "vob",
    "webm", "wmv",
)  # fmt: skip


def sample(suffix: str) -> Path:
    """The sample film in this container, or a skip with the reason."""
    found = importlib.util.find_spec("iscc_samples")
    if found is None or not found.submodule_search_locations:
        pytest.skip("the package iscc-samples (test extra) is not installed")
    return Path(found.submodule_search_locations[0]) / "files" / "video" / f"demo.{suffix}"


def real(name: str) -> Path:
    """A film in the folder that CLIPMARK_REAL_FILM names, or a skip with the reason."""
    folder = os.environ.get("CLIPMARK_REAL_FILM")
    if not folder or not (Path(folder) / name).exists():
        pytest.skip("CLIPMARK_REAL_FILM names no folder with this film")
    return Path(folder) / name


pytestmark = pytest.mark.realfilm


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffprobe is what the times are held against")
@pytest.mark.parametrize("suffix", WHOLE)
def test_every_container_gives_1441_frames_each_at_ffprobes_time(suffix: str) -> None:
    clip = open_clip(sample(suffix))

    theirs = shown_times(clip.path)

    assert 1441 == len(clip.index) == len(theirs)
    differ = [n for n, time in enumerate(theirs) if time is not None and time != clip.index.exact_seconds(n)]
    assert [] == differ
    assert sum(time is None for time in theirs) <= 2  # ffprobe states no time for the last frame of some


@pytest.mark.parametrize("suffix", ["ogg", "ogv"])
def test_the_film_that_hardly_decodes_is_refused_in_words(suffix: str) -> None:
    with pytest.raises(MostlyLost, match=r"can be decoded .*theora"):
        open_clip(sample(suffix))


@pytest.mark.parametrize("suffix", ["mp4", "avi", "mpg", "wmv", "rm"])
def test_jumping_gives_the_same_pictures_as_reading_through(suffix: str) -> None:
    clip = open_clip(sample(suffix))
    wanted = [1440, 3, 700, 701, 699, 1024, 365, 184, 0, 1200]
    through = {number: picture.tobytes() for number, picture in GreyFilm(clip).frames() if number in wanted}

    with Reader(clip) as reader:
        assert all(through[number] == reader.frame(number).grey().tobytes() for number in wanted)


@pytest.mark.parametrize(("suffix", "seconds"), [("mp4", 60.14), ("flv", 60.2), ("mkv", 60.1), ("mpg", 60.2)])
def test_the_sound_is_as_long_as_the_film(suffix: str, seconds: float) -> None:
    clip = open_clip(sample(suffix))

    sound = read_sound(clip)

    assert sound is not None
    assert seconds == pytest.approx(float(sound.end - sound.start), abs=0.15)
    assert 0 == pytest.approx(float(sound.start), abs=0.06)


def test_a_phone_like_film_with_a_strange_rate_is_read(tmp_path: Path) -> None:
    clip = open_clip(real("imageio/resources/images/realshort.mp4"))

    assert 36 == len(clip.index)
    assert 36 == sum(1 for _ in GreyFilm(clip).frames())


def test_a_film_in_full_colour_resolution_is_read() -> None:
    clip = open_clip(real("imageio/resources/images/cockatoo.mp4"))

    assert (280, 1280, 720, "yuv444p") == (len(clip.index), clip.width, clip.height, clip.pixel_format)
    assert made.number_in(next(GreyFilm(clip).frames())[1]) is None  # camera film carries no number
