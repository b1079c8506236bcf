"""Damaged films: thousands of them in the sweep, a few dozen in every run.

The sweep: `python -m pytest -m sweep tests/media/test_film_mutations.py -s` (CLIPMARK_MUTATIONS=6000 sets how many,
CLIPMARK_FIRST_MUTATION=1000 where to begin; a tenth as many of camera film in 21 containers besides).
Each worker is a process of its own with bounded memory, so that a crash of the decoders is seen as such.
"""

from __future__ import annotations

import os
import resource
import selectors
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import film_recipes as recipes
import pytest

ROOT = Path(__file__).parent.parent.parent
MEMORY = 2 << 30  # bytes of address space a worker may have
PATIENCE = 10.0  # seconds of work that one film may take; by the processor, as other work may hold up the clock
STANDSTILL = 120.0  # seconds of the clock without a word: nothing moves any more

TONE = ("-f", "lavfi", "-i", "sine=duration=1.6:sample_rate=16000")
pytestmark = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg makes the films of this test")


@pytest.fixture(scope="module")
def films() -> Iterator[Path]:
    """Small whole films of many kinds, with sound where the kind carries it."""
    with tempfile.TemporaryDirectory() as folder:  # not pytest's: another run of it would clear that away meanwhile
        make_films(Path(folder), "")
        yield Path(folder)


@pytest.fixture(scope="module")
def few_films() -> Iterator[Path]:
    """Those of them that are made in a moment."""
    with tempfile.TemporaryDirectory() as folder:
        make_films(Path(folder), "abdehl")
        yield Path(folder)


def make_films(folder: Path, wanted: str) -> None:
    kinds: dict[str, tuple[str, ...]] = {
        "a.mp4": (*recipes.x264("-bf", "2", "-c:a", "aac", gop=12),),
        "b.mp4": (*recipes.x264("-bf", "2", "-movflags", "+frag_keyframe+empty_moov", gop=12), "-an"),
        "c.mkv": (*recipes.x264("-bf", "2", "-c:a", "libopus", gop=12),),
        "d.ts": (*recipes.x264("-bf", "2", "-c:a", "mp2", gop=12),),
        "e.avi": (*recipes.MPEG4, "-c:a", "libmp3lame"),
        "f.mpg": ("-f", "vob", *recipes.MPEG2, "-c:a", "mp2"),
        "g.webm": (*recipes.VP9, "-an"),
        "h.mov": ("-c:v", "mjpeg", "-q:v", "5", "-pix_fmt", "yuvj422p", "-c:a", "pcm_s16le"),
        "i.mp4": (*recipes.x265("open-gop=1"), "-an"),
        "j.flv": (*recipes.x264("-bf", "2", gop=12), "-an"),
        "k.wmv": ("-c:v", "wmv2", "-g", "12", "-c:a", "wmav2"),
        "l.mkv": ("-c:v", "ffv1", "-pix_fmt", "gray", "-an"),
        "m.mp4": (*recipes.AV1, "-an"),
        "n.webm": (*recipes.VP8, "-c:a", "libvorbis"),
        "o.gif": ("-vf", "format=gray"),
        "p.avi": ("-c:v", "libxvid", "-bf", "2", "-g", "12", "-an"),
        "q.mov": ("-c:v", "prores_ks", "-pix_fmt", "yuv422p10le", "-an"),
        "r.h264": (*recipes.x264("-bf", "2", gop=12), "-an"),
    }
    for name, options in kinds.items():
        if wanted and name[0] not in wanted:
            continue
        recipes.encode(folder, name, *options, frames=40, size=(80, 64), before=TONE)


def bounded() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def read_damaged(films: Path, first: int, count: int) -> tuple[Counter[str], list[str]]:
    """What came of the damaged films (kind of outcome -> how many), and a line for each that must not be."""
    outcomes: Counter[str] = Counter()
    trouble: list[str] = []
    end = first + count
    while first < end:
        words = (sys.executable, str(Path(__file__).with_name("film_mutations.py")), str(films), str(first))
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONFAULTHANDLER": "1", "OMP_NUM_THREADS": "1"}
        worker = subprocess.Popen(
            (*words, str(end - first)),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=environment,
            preexec_fn=bounded,
            text=True,
            bufsize=1,
        )
        assert worker.stdout is not None
        assert worker.stderr is not None
        reached, hung = _listen(worker, outcomes)
        if hung:
            worker.kill()
        said = worker.communicate()[1]
        if hung:
            trouble.append(f"{reached}: hangs\n{said[-1500:]}")
        elif worker.returncode:
            trouble.append(f"{reached}: ended with {worker.returncode}\n{said[-1500:]}")
        else:
            break
        assert reached, said  # a worker that does not even begin has nothing to do with films
        first = int(reached.split()[0]) + 1
    return outcomes, trouble


def _listen(worker: subprocess.Popen[str], outcomes: Counter[str]) -> tuple[str, bool]:
    """Count outcomes as they are told; the film last begun, and whether the worker fell silent."""
    reached = ""
    assert worker.stdout is not None
    worked, heard = 0.0, time.monotonic()
    with selectors.DefaultSelector() as waiting:
        waiting.register(worker.stdout, selectors.EVENT_READ)
        while True:
            if not waiting.select(2):
                if _work_of(worker) - worked > PATIENCE or time.monotonic() - heard > STANDSTILL:
                    return reached, True
                continue
            line = worker.stdout.readline()
            worked, heard = _work_of(worker), time.monotonic()
            if not line:
                return reached, False
            number, name, *outcome = line.split()
            if outcome == ["begins"]:
                reached = f"{number} {name}"
            elif outcome == ["goes", "on"]:
                continue
            elif outcome[0] == "memory":
                print(f"at most {outcome[1]} MiB of memory")
            else:
                outcomes[" ".join(outcome[:2]) if outcome[0] == "refused" else outcome[0]] += 1


def _work_of(worker: subprocess.Popen[str]) -> float:
    """Seconds of processor that the worker has taken so far."""
    try:
        fields = Path(f"/proc/{worker.pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_a_damaged_film_gives_frames_or_a_sentence(few_films: Path) -> None:
    outcomes, trouble = read_damaged(few_films, 0, 48)

    assert trouble == []
    assert outcomes.total() == 48
    assert outcomes["read"] > 16  # most damage leaves something to see


def sweep(films: Path, first: int, count: int) -> None:
    outcomes, trouble = read_damaged(films, first, count)
    print(f"\n{count} damaged films: {dict(outcomes.most_common())}; trouble: {len(trouble)}", *trouble, sep="\n")

    assert trouble == []
    assert outcomes.total() == count


FIRST = int(os.environ.get("CLIPMARK_FIRST_MUTATION", "1000"))
COUNT = int(os.environ.get("CLIPMARK_MUTATIONS", "6000"))


@pytest.mark.sweep
def test_thousands_of_damaged_films_give_frames_or_a_sentence(films: Path) -> None:
    sweep(films, FIRST, COUNT)


@pytest.mark.sweep
@pytest.mark.realfilm
def test_hundreds_of_damaged_camera_films_give_frames_or_a_sentence() -> None:
    samples = pytest.importorskip("iscc_samples")  # CC-BY-4.0: one film of a camera in 21 containers

    sweep(Path(samples.videos()[0]).parent, FIRST, COUNT // 10)
