"""Whatever a small file of the keeper's holds: settings, boxes, parameters, species, passes on their way, caches.

The sweep: `python -m pytest -m sweep tests/ground/test_any_file.py -s` (CLIPMARK_MUTATIONS says how many, else 3,000)
in a process of its own with bounded memory. Exported books and book files have their own: tests/book.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import file_mutations as files
import pytest

ROOT = Path(__file__).parents[2]
MEMORY = 3 << 30  # bytes of address space that the worker may have; it needs 2 GiB for the libraries alone
PATIENCE_S = 10.0


@pytest.fixture
def whole(tmp_path: Path) -> Path:
    files.make_files(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", sorted(files.READERS))
def test_a_whole_file_is_read_and_a_damaged_one_gives_a_value_or_a_sentence(whole: Path, name: str) -> None:
    there = {path: path.read_bytes() for path in whole.rglob("*") if path.is_file()}
    files.READERS[name](whole / name)
    came = Counter(files.read_damaged(whole, name, number) for number in range(12))

    assert 12 == came.total()
    assert there == {path: path.read_bytes() for path in whole.rglob("*") if path.is_file()}


@pytest.mark.parametrize("text", ["[" * 100_000, '{"a":' * 100_000, "9" * 10_000, "\ufeff{}", "", "NaN"])
@pytest.mark.parametrize("name", sorted(name for name in files.READERS if not name.endswith(".npz")))
def test_text_that_would_exhaust_a_reader_is_refused_or_passed_over(whole: Path, name: str, text: str) -> None:
    (whole / name).write_text(text, encoding="utf-8")
    refused = None
    try:
        files.READERS[name](whole / name)
    except files.ClipmarkError as error:
        refused = error

    assert refused is None or name in str(refused)


def bounded() -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


@pytest.mark.sweep
def test_thousands_of_damaged_files_give_a_value_or_a_sentence(whole: Path) -> None:
    count = int(os.environ.get("CLIPMARK_MUTATIONS", "3000"))
    there = {path: path.read_bytes() for path in whole.rglob("*") if path.is_file()}
    words = [sys.executable, str(Path(__file__).with_name("file_mutations.py")), str(whole), "1000", str(count)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
    worker = subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment, preexec_fn=bounded, text=True
    )
    assert worker.stdout is not None
    came: Counter[str] = Counter()
    longest, before, last = 0.0, 0.0, ""
    for line in worker.stdout:
        _, name, outcome = line.split()
        if outcome == "begins":
            before, last = time.monotonic(), line
        else:
            came[f"{name} {outcome}"] += 1
            longest = max(longest, time.monotonic() - before)
    trouble = worker.communicate()[1]
    print(f"\n{came.total()} damaged files, the longest took {longest:.1f} s:", *sorted(came.items()), sep="\n")

    assert 0 == worker.returncode, f"{last}{trouble}"
    assert count == came.total()
    assert longest < PATIENCE_S
    assert there == {path: path.read_bytes() for path in whole.rglob("*") if path.is_file()}
