"""A motion pass on its way from the process that computes it to the window that keeps it: files in a folder.

The folder lies in clipmark's cache: `job.json` says what for, `progress` how far, `result.npz` is there whole or not
at all, `trouble` holds the sentence of a failure, `stop` asks for an end (more in pass_jobs). So a pass can outlive
its window.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import IO, Any

import numpy as np

from clipmark import settings
from clipmark.atomic_files import CannotWrite, atomic_file
from clipmark.errors import ClipmarkError
from clipmark.motion.result import (
    Flag,
    FrameSpan,
    ScanResult,
    Sensitivity,
    Shot,
    Ticks,
    Trace,
    UsedOutline,
    in_ticks,
)  # fmt: skip


class ResultUnreadable(ClipmarkError):
    def __init__(self, folder: Path):
        super().__init__(f"The result of a motion pass in “{folder}” is damaged. Run the pass again.")
        self.folder = folder


@dataclass(frozen=True, slots=True)
class Job:
    """What a pass is for: a clip, or of it ticks [from_pts, to_pts) alone where that is no empty span. `pid` was the
    process that computes it, in former versions; the lock tells that now."""

    book: str
    session_id: int
    clip_id: int
    fingerprint: str
    title: str
    pid: int = 0
    from_pts: int = 0
    to_pts: int = 0

    @property
    def of_one_shot(self) -> bool:
        """Whether only a stretch is computed anew, and put into the clip's current pass."""
        return self.to_pts > self.from_pts


def folder_of_jobs() -> Path:
    """Where the folders of waiting, running and finished passes lie."""
    return settings.cache_dir() / "passes"


def write_whole(path: Path, text: str) -> None:
    """A small file that is there whole or not at all.

    Raises:
        OSError: it cannot be written; the callers say what that means for the pass.
    """
    try:
        with atomic_file(path, durable=False) as file:
            file.write(text)
    except CannotWrite as error:
        raise OSError(str(error)) from error


def write_job(folder: Path, job: Job) -> None:
    """Write what a pass is to do into its folder.

    Raises:
        OSError: it cannot be written.
    """
    write_whole(folder / "job.json", json.dumps(asdict(job)))


def read_job(folder: Path) -> Job | None:
    """The job of a folder; None where it is unreadable or half written."""
    try:
        job = Job(**json.loads((folder / "job.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError, RecursionError):
        return None
    return job if all(type(getattr(job, one.name)).__name__ == one.type for one in fields(Job)) else None


def read_progress(folder: Path) -> tuple[int, int]:
    """Frames done and in all; (0, 0) before anything is known."""
    try:
        done, total = (folder / "progress").read_text().split()
        return int(done), int(total)
    except (OSError, ValueError):
        return 0, 0


def write_result(folder: Path, result: ScanResult) -> None:
    """Keep a finished pass in a folder, whole or not at all.

    Raises:
        OSError: it cannot be written.
    """
    fresh = folder / "result.new"
    try:
        with fresh.open("wb") as file:
            save_result(file, result)
        os.replace(fresh, folder / "result.npz")
    except OSError:
        fresh.unlink(missing_ok=True)  # half a result must not take the room that the whole one needs
        raise


def save_result(file: IO[bytes], result: ScanResult) -> None:
    """A finished pass as arrays and numbers."""
    told: dict[str, Any] = {
        "shots": [asdict(s) for s in result.shots],
        "flags": [asdict(f) for f in result.flags],
        "watched": [asdict(s) for s in result.watched],
        "unwatched": [asdict(s) for s in result.unwatched],
        "parameters": result.parameters,
        "frames_per_s": result.frames_per_s,
        "decode_share": result.decode_share,
        "outlines": [asdict(o) for o in result.outlines],
        "sensitivity": [asdict(s) for s in result.sensitivity],
        "end_pts": result.ticks.end_pts,
    }
    traces = {field.name: getattr(result.trace, field.name) for field in fields(Trace)}
    np.savez_compressed(file, told=np.array(json.dumps(told, default=float)), pts=result.ticks.pts, **traces)


def read_result(folder: Path) -> ScanResult:
    """What `write_result` wrote.

    Raises:
        ResultUnreadable: it is damaged.
    """
    try:
        with (folder / "result.npz").open("rb") as file:
            return load_result(file)
    except Exception as error:  # whatever a damaged file of ours brings about, the pass can be run again
        raise ResultUnreadable(folder) from error


def load_result(file: IO[bytes]) -> ScanResult:
    """What `save_result` wrote.

    Raises:
        Whatever a damaged file brings about.
    """
    with np.load(file, allow_pickle=False) as kept:
        told = json.loads(str(kept["told"]))
        trace = Trace(**{field.name: kept[field.name] for field in fields(Trace)})
        ticks = Ticks(kept["pts"], int(told["end_pts"]))
    flags = tuple(Flag(**{**flag, "doubts": tuple(flag["doubts"])}) for flag in told["flags"])
    result = ScanResult(
        shots=tuple(Shot(**s) for s in told["shots"]),
        trace=trace,
        flags=flags,
        watched=tuple(FrameSpan(**s) for s in told["watched"]),
        unwatched=tuple(FrameSpan(**s) for s in told["unwatched"]),
        parameters=told["parameters"],
        frames_per_s=told["frames_per_s"],
        decode_share=told.get("decode_share", 0.0),
        outlines=tuple(UsedOutline(**o) for o in told.get("outlines", ())),
        sensitivity=tuple(Sensitivity(**s) for s in told.get("sensitivity", ())),
    )
    return in_ticks(result, ticks)  # a result that a former version left has frames alone
