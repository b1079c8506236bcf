"""What can be set, each thing declared once: name, default, help, former names. Dialog, file and help read this.

The file is JSON in the user's configuration folder; `CLIPMARK_HOME` moves all of clipmark's folders under one.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from clipmark.atomic_files import CannotWrite, atomic_file, why
from clipmark.errors import ClipmarkError
from clipmark.plain_file import odd
from clipmark.process_lock import ProcessLock


class SettingsUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(f"The settings in “{path}” could not be read ({reason}). Mend the file or move it away.")
        self.path = path


@dataclass(frozen=True, slots=True)
class Setting:
    name: str
    default: Any
    help: str
    formerly: tuple[str, ...] = ()
    least: int | None = None
    most: int | None = None

    def takes(self, value: Any) -> bool:
        """Whether a value is of the default's type and, where it is a number, neither too small nor too large."""
        kind = type(self.default)
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            return False
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)


LONG_STEP = Setting("film.long_step", 10, "Frames that a long step skips.", least=1, most=100_000)
CACHE_MIB = Setting("film.cache_mib", 512, "Memory for decoded frames, in MiB.", least=32, most=65_536)
STRIP = Setting("film.strip", True, "Show the strip of neighbouring frames under the picture.")
SAVE_FOLDER = Setting("save.folder", "", "Folder in which something was saved last.")
FILM_FOLDER = Setting("film.folder", "", "Folder from which film was added last.")
FLAG_PLAY_SPEED = Setting("pulls.play_speed", "1/4", "Speed of the loop round a flag.")
BLIND = Setting("pulls.blind", True, "Hide what other reviewers called until you have called a pull yourself.")
REVIEWER = Setting("reviewer", "", "Name of the person who marks and calls.")
LAST_SESSION = Setting("last_session", {}, "The session that was on view last: book to number.")
PASS_AT_ONCE = Setting("pass.at_once", True, "Run the motion pass as soon as her abdomen is outlined in a clip.")
REVIEWERS = Setting("reviewers", {}, "Who reviews a session on this machine: book and number to name.")
KEYS = Setting("keys", {}, "Changed keys: command name to key.")
ACT_SET = Setting("acts.set", "", "Name of the set of acts in use; empty for the built-in one.")
INTRODUCED = Setting("introduced", False, "The introduction on first start was seen or skipped.")
THRESHOLDS = Setting("outlook.thresholds", {}, "Changed thresholds of the outlook: name to number.")
THEME = Setting("theme", "system", "Light, dark, or as the system has it.")

ALL: tuple[Setting, ...] = (
    LONG_STEP, CACHE_MIB, FLAG_PLAY_SPEED, BLIND, REVIEWER, REVIEWERS, LAST_SESSION, KEYS, ACT_SET,
    INTRODUCED, THRESHOLDS, THEME, PASS_AT_ONCE,
)  # fmt: skip


def _home(kind: str) -> Path:
    override = os.environ.get("CLIPMARK_HOME")
    if override:
        return Path(override) / kind
    import platformdirs

    dirs = platformdirs.PlatformDirs("clipmark", appauthor=False)
    return Path({"data": dirs.user_data_dir, "config": dirs.user_config_dir, "cache": dirs.user_cache_dir}[kind])


def data_dir() -> Path:
    """Where the book and its backups lie."""
    return _home("data")


def config_dir() -> Path:
    """Where the settings lie."""
    return _home("config")


def cache_dir() -> Path:
    """What can be computed again: frame indexes, thumbnails."""
    return _home("cache")


def default_book() -> Path:
    """The book that is opened when none is named; `CLIPMARK_BOOK` names another."""
    named = os.environ.get("CLIPMARK_BOOK")
    return Path(named) if named else data_dir() / "clipmark.book"


class Settings:
    """The keeper's choices, read at start and written whole at each change (a new file, then a rename)."""

    def __init__(self, path: Path | None = None):
        self.path = path or config_dir() / "settings.json"
        self._values: dict[str, Any] = self._stored()
        self._unwritten: dict[str, Any] = {}  # what a full disk did not take; of tables the entries that changed

    def _stored(self) -> dict[str, Any]:
        """What the file says now; empty where there is none."""
        if odd(self.path):
            raise SettingsUnreadable(self.path, odd(self.path))
        try:
            stored = json.loads(self.path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, RecursionError) as error:
            raise SettingsUnreadable(self.path, str(error)) from error
        if not isinstance(stored, dict):
            raise SettingsUnreadable(self.path, "it holds no table of names and values")
        return stored

    def get(self, setting: Setting) -> Any:
        """The keeper's value, also under a former name; the default where there is none that will do."""
        for name in (setting.name, *setting.formerly):
            if name in self._values and setting.takes(self._values[name]):
                return self._values[name]
        return setting.default

    def put(self, setting: Setting, value: Any) -> None:
        """Keep a value at once. What another window wrote meanwhile stays: the file is read again first, and of a
        table only the entries are written that differ from what was read here.

        Raises:
            TypeError: the value is of another type than the default, or out of bounds.
            CannotWrite: the settings' folder is read-only or full; the value holds until the program ends.
        """
        if not setting.takes(value):
            raise TypeError(f"{setting.name} takes {type(setting.default).__name__}")
        change = value
        if isinstance(value, dict):
            change = self._unwritten.get(setting.name, {}) | _difference(self.get(setting), value)
        self._values[setting.name], self._unwritten[setting.name] = value, change
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with _alone(self.path):
                self._write(setting)
        except OSError as error:
            raise CannotWrite(self.path, why(error)) from error

    def _write(self, setting: Setting) -> None:
        with suppress(SettingsUnreadable):  # a file that was broken meanwhile is written anew
            self._values = self._stored()
        for name, change in self._unwritten.items():
            self._values[name] = _changed(self._values.get(name), change) if isinstance(change, dict) else change
        for name in setting.formerly:
            self._values.pop(name, None)
        # tables keep their order, the latest entry last
        text = json.dumps(dict(sorted(self._values.items())), ensure_ascii=False, indent=1)
        # a keeper may have put a link here, to settings kept elsewhere
        with atomic_file(self.path.resolve()) as file:
            file.write(text)
        self._unwritten.clear()


class _Gone:
    """Stands in a change for an entry that was taken out."""


def _difference(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """The entries of a table that were set or taken out."""
    gone = {name: _Gone for name in before if name not in after}
    return gone | {name: value for name, value in after.items() if name not in before or before[name] != value}


def _changed(stored: Any, change: dict[str, Any]) -> dict[str, Any]:
    """A table with those changes, entries that were set at its end."""
    kept = {name: value for name, value in stored.items() if name not in change} if isinstance(stored, dict) else {}
    return kept | {name: value for name, value in change.items() if value is not _Gone}


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """No other window writes these settings meanwhile; after two seconds they are written all the same."""
    lock, until = None, time.monotonic() + 2.0
    while lock is None and time.monotonic() < until:
        with suppress(OSError):
            lock = ProcessLock.take(path.with_name(path.name + ".lock"))
        if lock is None:
            time.sleep(0.02)
    try:
        yield
    finally:
        if lock is not None:
            lock.release()
