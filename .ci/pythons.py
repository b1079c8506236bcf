"""The built wheel on every other Python that is found here, and once with the lowest versions. Run by .ci/run.

For each Python from 3.11 on: a fresh environment, the wheel with the versions of versions/tested.txt, `clipmark
demo`, and the tests from a folder in which the source of clipmark does not lie. Then the lowest versions that
pyproject.toml allows, on the oldest Python. Environments are made side by side; the suites run one by one, each
on all cores. One line tells of each; a Python that is not there is said too.

    .venv/bin/python .ci/pythons.py                  all of them
    .venv/bin/python .ci/pythons.py "python 3.13"    those that are named; "lowest versions" is one too
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SUPPORTED = ("3.11", "3.12", "3.13")
ABLE = "import sys, venv, ensurepip, ssl, sqlite3; print('%d.%d' % sys.version_info[:2])"
AT_ONCE = 2  # environments; making one waits for the network and the disk
SUITE = ("--numprocesses", "auto", "--dist", "loadfile")
ONE_SUITE = threading.Lock()
NEEDED = ("tests", "docs", "models", "sample_media", "versions", "pyproject.toml", "README.md", "DEVELOPERS.md")
NEEDED_ALSO = (".ci", "download", "setup.sh", "LICENSE", "CONTRIBUTING.md")


@dataclass(frozen=True)
class Job:
    """One environment to try: its name, its Python, and the file of versions that it is installed by."""

    name: str
    python: Path
    versions: Path


def candidates() -> Iterator[Path]:
    """Programs that are called like a Python, on the path and in pyenv's folder."""
    folders = [Path(part) for part in os.environ.get("PATH", "").split(os.pathsep) if part]
    pyenv = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv")
    folders += sorted(pyenv.glob("versions/*/bin"), reverse=True)
    for folder in folders:
        if folder.is_dir():
            yield from sorted(p for p in folder.iterdir() if re.fullmatch(r"python3(\.\d+)?(\.exe)?", p.name))


def version(program: Path) -> str | None:
    """Major and minor version of a Python that runs and can make environments; None for one that does not, such as
    the stand-in of a version manager whose version is not chosen."""
    try:
        said = subprocess.run([program, "-c", ABLE], capture_output=True, text=True, timeout=30, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return said.stdout.strip() if said.returncode == 0 else None


def found() -> dict[str, Path]:
    """The Pythons of this machine by version, the first that runs of each."""
    pythons: dict[str, Path] = {}
    for program in candidates():
        named = program.name.removesuffix(".exe").removeprefix("python")
        if named in pythons or named in {f"3.{minor}" for minor in range(11)}:
            continue
        told = version(program)
        if told is not None:
            pythons.setdefault(told, program)
    return pythons


def wheel(folder: Path) -> Path:
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(command, check=True)
    return next(folder.glob("clipmark-*.whl"))


def tree(folder: Path) -> Path:
    """A copy of what the tests need, without the source of clipmark: they must find the installed one."""
    folder.mkdir(parents=True)
    for name in (*NEEDED, *NEEDED_ALSO):
        here = ROOT / name
        if here.is_dir():
            shutil.copytree(here, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif here.exists():
            shutil.copy2(here, folder / name)
    return folder


def tried(job: Job, built: Path, folder: Path) -> tuple[bool, str]:
    """Whether this environment passes, and one line about it (with the end of its log where it does not)."""
    begun, place = time.monotonic(), folder / job.name.replace(" ", "-")
    log = folder / f"{place.name}.log"
    python = place / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    pip = [str(python), "-m", "pip", "install", "--quiet"]
    wish = f"clipmark[test,docs,cluster] @ {built.as_uri()}"
    steps: list[tuple[str, list[str]]] = [
        ("the environment", [str(job.python), "-m", "venv", str(place)]),
        ("the installation", [*pip, "--constraint", str(job.versions), wish]),
        ("the demo", [str(python), "-m", "clipmark", "demo", "--no-window", "--to", str(place / "demo")]),
        ("the suite", [str(python), "-m", "pytest", *SUITE, "--basetemp", str(place / "tmp")]),
    ]
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "OMP_NUM_THREADS": "1", "PYTHONPATH": ""}
    environment.pop("VIRTUAL_ENV", None)
    home = tree(place / "tree")
    with log.open("w", encoding="utf-8") as out:
        for what, command in steps:
            out.write(f"\n== {what}\n")
            out.flush()
            with ONE_SUITE if what == "the suite" else nullcontext():
                done = subprocess.run(
                    command, cwd=home, env=environment, stdout=out, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL
                )
            if done.returncode:
                last = log.read_text("utf-8", "replace").splitlines()[-80:]
                return False, f"{job.name}: {what} FAILED (code {done.returncode})\n" + "\n".join(last)
    closing = log.read_text("utf-8", "replace").strip().splitlines()[-1].strip("= ")
    shutil.rmtree(place, ignore_errors=True)
    return True, f"{job.name}: installed, demo and suite passed in {time.monotonic() - begun:.0f} s ({closing})"


def planned(pythons: dict[str, Path]) -> list[Job]:
    """What is to be tried here; what cannot be is said in a line each."""
    own = f"{sys.version_info.major}.{sys.version_info.minor}"
    jobs = []
    for name in SUPPORTED:
        if name == own:
            continue
        if name in pythons:
            jobs.append(Job(f"python {name}", pythons[name], ROOT / "versions" / "tested.txt"))
        else:
            print(f"python {name}: not on this machine, so not tried")
    for name in sorted(set(pythons) - set(SUPPORTED)):
        if tuple(map(int, name.split("."))) > (3, 13):
            print(f"python {name}: on this machine, newer than those that clipmark says it supports, so not tried")
    if SUPPORTED[0] in pythons:
        lowest = Job("lowest versions", pythons[SUPPORTED[0]], ROOT / "versions" / "lowest.txt")
        jobs.append(lowest)
    else:
        print(f"lowest versions: they need Python {SUPPORTED[0]}, which is not on this machine, so not tried")
    return jobs


def main(only: list[str]) -> int:
    jobs = [job for job in planned(found()) if not only or job.name in only]
    if not jobs:
        return 0
    good = True
    with tempfile.TemporaryDirectory(prefix="clipmark-pythons-") as made:
        folder = Path(made)
        built = wheel(folder)
        with ThreadPoolExecutor(AT_ONCE) as pool:
            for passed, line in pool.map(lambda job: tried(job, built, folder), jobs):
                good = good and passed
                print(line, flush=True)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
