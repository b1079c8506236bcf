"""The commands of docs/scale.md, as printed: a Dask cluster with TLS, its machines played by three network names."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from clipmark.book.store import Book
from clipmark.children import ROOT
from tests.cli.test_scan_many import book_of

SCALE = Path(__file__).parents[2] / "docs" / "scale.md"
HERE = "192.168.1.5"  # as the docs have it


def printed() -> list[list[str]]:
    """The commands of the section on clusters."""
    section = SCALE.read_text(encoding="utf-8").split("## On a cluster")[1].split("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", section, re.DOTALL)
    return [shlex.split(line) for block in blocks for line in block.splitlines()]


def command(words: list[str], **replaced: str) -> list[str]:
    """A command as this machine runs it: the program of this Python, addresses of this machine."""
    programs = {"dask": [sys.executable, "-P", "-m", "dask"], "clipmark": [sys.executable, "-m", "clipmark"]}
    words = [*programs.get(words[0], [words[0]]), *words[1:]]
    for old, new in replaced.items():
        words = [word.replace({"host": HERE, "port": "8786", "book": "~/pairings.book"}[old], new) for word in words]
    return words


@pytest.fixture
def begun() -> Iterator[list[subprocess.Popen[bytes]]]:
    children: list[subprocess.Popen[bytes]] = []
    yield children
    for child in reversed(children):
        os.killpg(child.pid, signal.SIGTERM)
    for child in children:
        child.wait(20)


def free_port(host: str) -> str:
    with socket.socket() as one:
        one.bind((host, 0))
        return str(one.getsockname()[1])


def film_of(folder: Path) -> Path:
    path = folder / "film.mp4"
    made = "testsrc2=s=96x64:r=15:d=1"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", made, "-pix_fmt", "yuv420p", str(path)], check=True)
    return path


@pytest.mark.skipif(sys.platform != "linux", reason="Windows lacks the further names of this machine, 127.0.0.x")
def test_the_commands_of_the_docs_make_a_cluster_with_tls_that_works_through_a_book(tmp_path, begun):
    pytest.importorskip("distributed")
    path = book_of(film_of(tmp_path), tmp_path / "pairings.book", outlined=2)
    certificate, scheduler, worker, clipmark = printed()
    subprocess.run(certificate, cwd=tmp_path, check=True, capture_output=True)
    places = {"host": "127.0.0.2", "port": free_port("127.0.0.2")}
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONSAFEPATH": "1"}

    def begin(words: list[str], log: str) -> None:
        with (tmp_path / log).open("wb") as out:
            begun.append(
                subprocess.Popen(
                    words, cwd=tmp_path, env=surroundings, stdout=out, stderr=out, start_new_session=True
                )
            )

    begin(command(scheduler, **places), "scheduler.log")
    for number in (3, 4):
        begin([*command(worker, **places), "--host", f"127.0.0.{number}"], f"worker{number}.log")
    wait_for(tmp_path / "scheduler.log", "127.0.0.3", "127.0.0.4")
    words = [*command(clipmark, book=str(path), **places), "--json"]
    said = subprocess.run(words, cwd=tmp_path, env=surroundings, capture_output=True, timeout=120, check=False)
    assert (0, "") == (said.returncode, said.stderr.decode())

    with Book.open(path, read_only=True) as book:
        assert [1, 1] == [len(book.session(number).passes) for number in (1, 2)]
    shutil.rmtree(tmp_path / "dask-scratch-space", ignore_errors=True)


def wait_for(log: Path, *words: str) -> None:
    """Until the scheduler has heard of all these workers."""
    until = time.monotonic() + 60
    while not all("Register worker" in log.read_text() and word in log.read_text() for word in words):
        assert time.monotonic() < until, log.read_text()
        time.sleep(0.1)
