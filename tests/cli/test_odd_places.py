"""What is no ordinary file is neither waited for when it is read, nor replaced when something is written."""

from __future__ import annotations

import os
import stat
import subprocess
from pathlib import Path

import pytest

from clipmark.cli import main
from tests.book.made_book import full_book

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows lacks pipes and devices among its files")

READS = {
    "boxes": ["scan", "{film}", "--boxes", "{odd}", "--out", "{free}"],
    "boxes of a draft": ["draft", "{film}", "--boxes", "{odd}"],
    "import": ["book", "import", "{odd}", "--book", "{book}"],
    "film": ["inspect", "{odd}"],
    "book": ["book", "list", "--book", "{odd}"],
    "restore": ["book", "restore", "{odd}", "--book", "{book}"],
}
WRITES = {
    "sheet": ["sheet", "1", "--book", "{book}", "-o", "{odd}.html"],
    "frames": ["frames", "{film}", "--csv", "{odd}"],
    "flags": ["scan", "{film}", "--boxes", "{boxes}", "--out", "{odd}"],
    "reminders": ["export", "1", "--book", "{book}", "--ics", "{odd}"],
    "session": ["export", "1", "--book", "{book}", "--json", "{odd}"],
    "whole book": ["book", "export", "{odd}", "--book", "{book}"],
    "copy": ["book", "backup", "--to", "{odd}", "--book", "{book}"],
}


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """A film, a boxes file and a book."""
    folder = tmp_path_factory.mktemp("places")
    film, boxes, book = folder / "film.mp4", folder / "boxes.json", folder / "b.book"
    made = "testsrc2=s=96x64:r=15:d=1"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", made, "-pix_fmt", "yuv420p", str(film)], check=True)
    boxes.write_text('{"boxes": [{"time_s": 0.0, "x": 30, "y": 20, "w": 30, "h": 20}]}')
    with full_book(book):
        pass
    return {"film": str(film), "boxes": str(boxes), "book": str(book), "free": str(folder / "free.json")}


def run(words: list[str], places: dict[str, str], odd: Path) -> int:
    return main([word.format(**places, odd=str(odd).removesuffix(".html")) for word in words])


@pytest.mark.parametrize("what", READS)
@pytest.mark.parametrize("kind", ["pipe", "device", "circle"])
def test_what_is_no_file_is_refused_at_once_in_words(
    what: str, kind: str, places: dict[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd = tmp_path / "odd"
    if kind == "pipe":
        os.mkfifo(odd)
    elif kind == "device":
        odd = Path("/dev/zero")
    else:
        odd.symlink_to(odd)

    assert 1 == run(READS[what], places, odd)
    said = capsys.readouterr().err
    assert odd.name in said
    assert 1 == said.strip().count("\n") + 1, said


@pytest.mark.parametrize("what", WRITES)
@pytest.mark.parametrize("kind", ["pipe", "link"])
def test_what_is_written_never_takes_the_place_of_a_device_or_a_link(
    what: str, kind: str, places: dict[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd, aim = tmp_path / ("odd.html" if what == "sheet" else "odd"), tmp_path / "aim"
    aim.write_text("mine")
    if kind == "pipe":
        os.mkfifo(odd)
    else:
        odd.symlink_to(aim)

    assert 1 == run(WRITES[what], places, odd)
    assert odd.name in capsys.readouterr().err
    assert "mine" == aim.read_text()
    assert odd.is_symlink() if kind == "link" else stat.S_ISFIFO(odd.stat().st_mode)
    assert {"aim", odd.name} == set(os.listdir(tmp_path))
