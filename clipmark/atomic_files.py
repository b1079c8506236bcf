"""Files and folders that appear under their name only when they are complete: whole or not at all.

That holds through a kill, and through a power loss as well as far as the disk keeps its word: what is written reaches
the disk before it gets its name, so that the name never stands over an empty file.
"""

from __future__ import annotations

import errno
import glob
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from clipmark.errors import ClipmarkError

DISK_FULL = "the disk is full"


def why(error: OSError) -> str:
    """The reason of an error of the file system, in words."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return DISK_FULL
    return error.strerror or str(error)


class CannotWrite(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(f"“{path}” could not be written ({reason}). Choose another place or make room there.")
        self.path = path


def sync_file(path: Path | str) -> None:
    """Let a file's content reach the disk.

    Raises:
        OSError: the disk says that it could not keep it.
    """
    handle = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Let names that were given or taken in a folder reach the disk, where the system can say so."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder, with those above it, that a power loss does not take away again.

    Raises:
        OSError: it cannot be made.
    """
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for one in reversed(missing):
        sync_folder(one.parent)


LEFT_S = 3_600  # a part of this age was left by a program that was killed


def _clear_left(path: Path) -> None:
    """Remove what killed programs left of this file or folder."""
    with suppress(OSError):
        for left in path.absolute().parent.glob(f"{glob.escape(_beginning(path))}*.part"):
            if time.time() - left.stat().st_mtime > LEFT_S:
                shutil.rmtree(left, ignore_errors=True) if left.is_dir() else left.unlink(missing_ok=True)


def _beginning(path: Path) -> str:
    return f".{path.name[:40]}."


def _refuse_odd(path: Path) -> None:
    """A device, pipe or link is never replaced by a file: the keeper meant something else."""
    if path.is_symlink():
        raise OSError(0, "there is a link of this name; give the name that it leads to")
    if path.exists() and not path.is_file():
        raise OSError(0, "it is a folder" if path.is_dir() else "it is a device or a pipe, not a file")


def _as_umask_says(path: str, mode: int) -> None:
    # temporary files are made for the owner alone; what the keeper asked for gets the usual rights
    umask = os.umask(0)
    os.umask(umask)
    os.chmod(path, mode & ~umask)


@contextmanager
def atomic_path(path: Path, durable: bool = True) -> Iterator[Path]:
    """A fresh path in the same folder, to be written by whatever means; it takes the name `path` when the block
    ends well and is removed when it does not.

    Args:
        durable: wait until the disk has it; not needed for what can be computed again.
    Raises:
        CannotWrite: the folder is missing, read-only or full, or `path` is a folder.
    """
    path = Path(path)
    fresh = ""
    try:
        _refuse_odd(path)
        _clear_left(path)
        handle, fresh = tempfile.mkstemp(prefix=_beginning(path), suffix=".part", dir=path.parent)
        os.close(handle)
        yield Path(fresh)
        _as_umask_says(fresh, 0o666)
        if durable:
            sync_file(fresh)
        os.replace(fresh, path)
        fresh = ""
        if durable:
            sync_folder(path.parent)
    except OSError as error:
        raise CannotWrite(path, why(error)) from error
    finally:
        if fresh and os.path.exists(fresh):
            os.unlink(fresh)


@contextmanager
def atomic_file(path: Path, newline: str | None = None, durable: bool = True) -> Iterator[IO[str]]:
    """A text file (UTF-8) that appears under its name only when it is complete; errors as `atomic_path`."""
    with atomic_path(path, durable) as fresh, open(fresh, "w", encoding="utf-8", newline=newline) as file:
        yield file


@contextmanager
def atomic_folder(path: Path) -> Iterator[Path]:
    """A fresh, empty folder beside `path`; when the block ends well, its files are moved into `path` (made where
    it is missing; files of other names there stay). When it does not, nothing of it is left.

    Raises:
        CannotWrite: the place is missing, read-only or full, or `path` is a file.
    """
    path = Path(path)
    fresh = ""
    try:
        if path.exists() and not path.is_dir():
            raise NotADirectoryError(0, "it is a file, not a folder")
        _clear_left(path)
        fresh = tempfile.mkdtemp(prefix=_beginning(path), suffix=".part", dir=path.absolute().parent)
        yield Path(fresh)
        for one in Path(fresh).rglob("*"):
            if one.is_file():
                sync_file(one)
        sync_folder(Path(fresh))
        if not path.exists():
            _as_umask_says(fresh, 0o777)
            os.replace(fresh, path)
            sync_folder(path.absolute().parent)
        else:
            names = sorted(os.listdir(fresh))
            taken = [name for name in names if (path / name).is_dir() and not (path / name).is_symlink()]
            if taken:
                raise IsADirectoryError(0, f"a folder in it is called {taken[0]} already")
            for name in names:
                os.replace(os.path.join(fresh, name), path / name)
            sync_folder(path)
    except OSError as error:
        raise CannotWrite(path, why(error)) from error
    finally:
        if fresh and os.path.exists(fresh):
            shutil.rmtree(fresh, ignore_errors=True)


def scratch_place() -> Path:
    """Where folders for a moment are made."""
    return Path(os.environ.get("TMPDIR") or os.environ.get("TEMP") or "/tmp")


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """A folder for what is needed for a moment, gone when the block ends.

    Raises:
        CannotWrite: there is no place for it, or the disk with it is full.
    """
    place = scratch_place()
    try:
        with tempfile.TemporaryDirectory(prefix="clipmark-") as folder:
            yield Path(folder)
    except OSError as error:
        raise CannotWrite(place, why(error)) from error
