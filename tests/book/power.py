"""A disk that loses power, as far as that can be had without cutting any: what SQLite and Python were told to write
is recorded in order, and from the record any state is made that a disk which keeps its word may be found in.

The word that a disk is taken to keep: what was synced (a file's content by fsync of the file, names by fsync of the
folder) is there; a sector of 512 bytes is old or new, never half; bytes that were not written to do not change. All
else is open: of what was not synced each sector may have got there or not, in any order, a file that grew may hold
zeros or rubbish where nothing arrived, its size may be any that it had, names may be old or new each for itself.

The recorder is a shim round SQLite's own file layer (https://sqlite.org/vfs.html), made the default one by ctypes;
so it records what the very library does that the program uses, with the program's own settings.
"""

from __future__ import annotations

import ctypes
import os
import random
import sqlite3
from collections.abc import Callable
from ctypes import CFUNCTYPE, POINTER, Structure, c_char_p, c_int, c_int64, c_void_p
from pathlib import Path
from typing import Any

SECTOR = 512
_JOURNALS = 0x0000_0800 | 0x0000_4000 | 0x0008_0000  # SQLITE_OPEN_MAIN_JOURNAL, _SUPER_JOURNAL, _WAL
ROOT = 0  # the number of the folder that is recorded

_OPEN = CFUNCTYPE(c_int, c_void_p, c_void_p, c_void_p, c_int, c_void_p)
_DELETE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int)
_CLOSE = CFUNCTYPE(c_int, c_void_p)
_WRITE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int, c_int64)
_TRUNCATE = CFUNCTYPE(c_int, c_void_p, c_int64)
_SYNC = CFUNCTYPE(c_int, c_void_p, c_int)


class _Vfs(Structure):
    _fields_ = (
        [("version", c_int), ("file_size", c_int), ("longest", c_int), ("next", c_void_p), ("name", c_char_p)]
        + [("own", c_void_p), ("open", c_void_p), ("delete", c_void_p)]
        + [(f"other_{number}", c_void_p) for number in range(14)]
    )


class _Methods(Structure):
    _fields_ = (
        [("version", c_int), ("close", c_void_p), ("read", c_void_p), ("write", c_void_p), ("truncate", c_void_p)]
        + [("sync", c_void_p)]
        + [(f"other_{number}", c_void_p) for number in range(13)]
    )


class _File(Structure):
    _fields_ = (("methods", POINTER(_Methods)),)


def sqlite_library() -> ctypes.CDLL | None:
    """The SQLite that Python's own module uses; None where it cannot be reached from outside."""
    import _sqlite3

    try:
        library = ctypes.CDLL(_sqlite3.__file__)
        library.sqlite3_vfs_find.restype = POINTER(_Vfs)
        library.sqlite3_vfs_find.argtypes = (c_char_p,)
        library.sqlite3_libversion.restype = c_char_p
    except (AttributeError, OSError):
        return None
    same = library.sqlite3_libversion().decode() == sqlite3.sqlite_version
    return library if same and os.name == "posix" else None


class Recorder:
    """Records what happens in a folder (a context manager); `events` is the record.

    Events: ("file", place, number), ("folder", place, number), ("delete", place), ("rename", place, place, number),
    ("write", file, at, bytes), ("cut", file, size), ("sync", file), ("sync names", folder), ("said", words).
    Files and folders have numbers, as one name may come to stand for another; a place is (folder's number, name).
    Nothing is really synced meanwhile: the record is what counts.
    """

    def __init__(self, folder: Path):
        library = sqlite_library()
        assert library is not None
        self.folder, self._library = folder, library
        self.events: list[tuple[Any, ...]] = []
        self._numbers: dict[str, int] = {str(folder): ROOT}  # of the names as they stand now
        self._last = ROOT
        self._open: dict[int, tuple[str, int, c_void_p, bool]] = {}
        self._methods: dict[int, _Methods] = {}
        self._kept: list[Any] = []  # what SQLite holds pointers to
        self._before: dict[str, Callable[..., Any]] = {}
        for path in sorted(folder.rglob("*")):
            self._number(str(path))
        self.events += [("sync", event[2]) for event in self.events if event[0] == "file"]
        folders = [event[2] for event in self.events if event[0] == "folder"]
        self.events += [("sync names", number) for number in (ROOT, *folders)]

    def say(self, *words: object) -> None:
        """What the program says to be kept, at this place in the record."""
        self.events.append(("said", words))

    def __enter__(self) -> Recorder:
        self._beneath = self._library.sqlite3_vfs_find(None)
        vfs = _Vfs()
        ctypes.memmove(ctypes.byref(vfs), self._beneath, ctypes.sizeof(_Vfs))
        vfs.name, vfs.next = b"recorder", None
        vfs.open, vfs.delete = self._pointer(_OPEN, self._opened), self._pointer(_DELETE, self._deleted)
        self._vfs = vfs
        assert 0 == self._library.sqlite3_vfs_register(ctypes.byref(vfs), 1)
        for name in ("replace", "rename", "unlink", "mkdir", "fsync"):
            self._before[name] = getattr(os, name)
            setattr(os, name, getattr(self, f"_os_{name}"))
        return self

    def __exit__(self, *error: object) -> None:
        for name, function in self._before.items():
            setattr(os, name, function)
        self._library.sqlite3_vfs_unregister(ctypes.byref(self._vfs))
        _ALIVE.append(self)  # a connection that is still open goes on through the shim

    # names

    def _inside(self, path: str) -> bool:
        return path.startswith(str(self.folder) + os.sep)

    def _place(self, path: str) -> tuple[int, str]:
        return self._numbers[os.path.dirname(path)], os.path.basename(path)

    def _number(self, path: str) -> int:
        """The number of a name; one that is met for the first time goes on record, a file with its content."""
        if path not in self._numbers:
            self._last += 1
            self._numbers[path] = self._last
            if os.path.isdir(path):
                self.events.append(("folder", self._place(path), self._last))
            else:
                self.events.append(("file", self._place(path), self._last))
                content = Path(path).read_bytes()
                if content:
                    self.events.append(("write", self._last, 0, content))
        return self._numbers[path]

    def _gone(self, path: str) -> bool:
        """Record that a name was taken away, if it was on record."""
        if path not in self._numbers:
            return False
        self.events.append(("delete", self._place(path)))
        del self._numbers[path]
        return True

    # what Python's own code does

    def _os_replace(self, source: Any, target: Any, **more: Any) -> None:
        one, other = (os.path.abspath(os.fspath(path)) for path in (source, target))
        number = self._number(one) if self._inside(one) else None
        self._before["replace"](source, target, **more)
        if number is not None:
            self.events.append(("rename", self._place(one), self._place(other), number))
            moved = [path for path in self._numbers if path == one or path.startswith(one + os.sep)]
            self._numbers |= {other + path[len(one) :]: self._numbers.pop(path) for path in moved}

    _os_rename = _os_replace

    def _os_unlink(self, path: Any, **more: Any) -> None:
        self._before["unlink"](path, **more)
        if "dir_fd" not in more:
            self._gone(os.path.abspath(os.fspath(path)))

    def _os_mkdir(self, path: Any, *more: Any, **named: Any) -> None:
        self._before["mkdir"](path, *more, **named)
        if self._inside(os.path.abspath(os.fspath(path))):
            self._number(os.path.abspath(os.fspath(path)))

    def _os_fsync(self, handle: int) -> None:
        path = os.readlink(f"/proc/self/fd/{handle}")
        if path in self._numbers or self._inside(path):
            self.events.append(("sync names" if os.path.isdir(path) else "sync", self._number(path)))

    # what SQLite does

    def _pointer(self, kind: Any, function: Callable[..., int]) -> Any:
        made = kind(function)
        self._kept.append(made)
        return ctypes.cast(made, c_void_p).value

    def _opened(self, vfs: int, name: int | None, file: int, flags: int, out: int | None) -> int:
        path = ctypes.string_at(name).decode("utf-8", "surrogateescape") if name else ""
        new = bool(path) and not os.path.exists(path)
        code = _OPEN(self._beneath.contents.open)(ctypes.addressof(self._beneath.contents), name, file, flags, out)
        if code == 0 and path and self._inside(path):
            opened = ctypes.cast(file, POINTER(_File)).contents
            beneath = ctypes.addressof(opened.methods.contents)
            self._open[file] = (path, self._number(path), c_void_p(beneath), new and bool(flags & _JOURNALS))
            opened.methods = ctypes.pointer(self._shim(beneath))
        return code

    def _shim(self, beneath: int) -> _Methods:
        if beneath not in self._methods:
            made = _Methods()
            ctypes.memmove(ctypes.byref(made), beneath, ctypes.sizeof(_Methods))
            made.close = self._pointer(_CLOSE, self._closed)
            made.write = self._pointer(_WRITE, self._written)
            made.truncate = self._pointer(_TRUNCATE, self._truncated)
            made.sync = self._pointer(_SYNC, self._synced)
            self._methods[beneath] = made
        return self._methods[beneath]

    def _real(self, file: int) -> _Methods:
        return ctypes.cast(self._open[file][2], POINTER(_Methods)).contents

    def _closed(self, file: int) -> int:
        real = self._real(file)
        del self._open[file]
        return _CLOSE(real.close)(file)

    def _written(self, file: int, data: int, amount: int, at: int) -> int:
        code = _WRITE(self._real(file).write)(file, data, amount, at)
        self.events.append(("write", self._open[file][1], at, ctypes.string_at(data, amount)))
        return code

    def _truncated(self, file: int, size: int) -> int:
        self.events.append(("cut", self._open[file][1], size))
        return _TRUNCATE(self._real(file).truncate)(file, size)

    def _synced(self, file: int, flags: int) -> int:
        path, number, beneath, new = self._open[file]
        self.events.append(("sync", number))
        if new:  # the file layer also syncs the folder, once, when it syncs a journal that it made
            self.events.append(("sync names", self._numbers[os.path.dirname(path)]))
            self._open[file] = (path, number, beneath, False)
        return 0

    def _deleted(self, vfs: int, name: int, sync: int) -> int:
        path = ctypes.string_at(name).decode("utf-8", "surrogateescape")
        code = _DELETE(self._beneath.contents.delete)(ctypes.addressof(self._beneath.contents), name, 0)
        if code == 0 and self._gone(path) and sync:
            self.events.append(("sync names", self._numbers[os.path.dirname(path)]))
        return code


_ALIVE: list[Recorder] = []


Place = tuple[int, str]


class Disk:
    """What is on the disk for sure, and what is on its way, at one moment of a record."""

    def __init__(self) -> None:
        self._sure: dict[int, bytes] = {}
        self._waiting: dict[int, list[tuple[int, bytes | None]]] = {}  # (at, bytes), or (size, None)
        self._folders = {ROOT}
        self._names: dict[Place, int] = {}  # for sure
        self._names_waiting: list[tuple[Place | None, Place | None, int]] = []  # (given, taken away, number)
        self._names_now: dict[Place, int] = {}

    def take(self, event: tuple[Any, ...]) -> None:
        """Let one event of the record happen."""
        kind, *told = event
        if kind in ("file", "folder"):
            self._name(told[0], None, told[1])
            if kind == "folder":
                self._folders.add(told[1])
            else:
                self._sure[told[1]], self._waiting[told[1]] = b"", []
        elif kind == "delete":
            self._name(None, told[0], 0)
        elif kind == "rename":
            self._name(told[1], told[0], told[2])
        elif kind in ("write", "cut"):
            self._waiting[told[0]].append((told[1], told[2] if kind == "write" else None))
        elif kind == "sync":
            self._sure[told[0]] = self._all_of(told[0])
            self._waiting[told[0]] = []
        elif kind == "sync names":
            self._sync_names(told[0])

    def now(self) -> set[str]:
        """The names of files, from the recorded folder on, as the program sees them."""
        return set(self._files(self._names_now))

    def without_power(self, rng: random.Random) -> dict[str, bytes]:
        """One of the states in which the disk may be found: name, from the recorded folder on, to content."""
        names = dict(self._names)
        share = rng.choice((0.0, 0.5, 1.0))
        for given, taken, number in self._names_waiting:
            if rng.random() < share:
                _put(names, given, taken, number)
        return {path: self._found(number, rng) for path, number in self._files(names).items()}

    def _files(self, names: dict[Place, int], folder: int = ROOT, above: str = "") -> dict[str, int]:
        found: dict[str, int] = {}
        for (inside, name), number in names.items():
            if inside == folder and number in self._folders:
                found |= self._files(names, number, f"{above}{name}/")
            elif inside == folder:
                found[above + name] = number
        return found

    def _name(self, given: Place | None, taken: Place | None, number: int) -> None:
        self._names_waiting.append((given, taken, number))
        _put(self._names_now, given, taken, number)

    def _sync_names(self, folder: int) -> None:
        left = []
        for change in self._names_waiting:
            given, taken, number = change
            if folder in {place[0] for place in (given, taken) if place}:
                _put(self._names, given, taken, number)
            else:
                left.append(change)
        self._names_waiting = left

    def _all_of(self, file: int, steps: int | None = None) -> bytes:
        content = bytearray(self._sure[file])
        for at, data in self._waiting[file][:steps]:
            _apply(content, at, data)
        return bytes(content)

    def _found(self, file: int, rng: random.Random) -> bytes:
        waiting = self._waiting[file]
        how = rng.choice(("nothing", "all", "in order", "in any order"))
        if how == "nothing" or not waiting:
            return self._sure[file]
        if how == "all":
            return self._all_of(file)
        if how == "in order":
            return self._all_of(file, rng.randrange(len(waiting) + 1))
        return self._torn(file, rng)

    def _torn(self, file: int, rng: random.Random) -> bytes:
        """Each sector as it was at some time since the last sync, each for itself."""
        content = bytearray(self._sure[file])
        sizes = [len(content)]
        states: dict[int, list[bytes]] = {}
        for at, data in self._waiting[file]:
            before = bytes(content)
            _apply(content, at, data)
            sizes.append(len(content))
            if data is not None:
                for sector in range(at // SECTOR, (at + len(data) - 1) // SECTOR + 1):
                    place = slice(sector * SECTOR, (sector + 1) * SECTOR)
                    states.setdefault(sector, [before[place]]).append(bytes(content[place]))
        size = rng.choice(sizes)
        found = bytearray(self._sure[file][:size])
        grown = size - len(found)
        found += rng.randbytes(grown) if rng.random() < 0.5 else bytes(grown)
        for sector, versions in states.items():
            state = rng.choice(versions)[: max(size - sector * SECTOR, 0)]
            found[sector * SECTOR : sector * SECTOR + len(state)] = state
        return bytes(found)


def _put(names: dict[Place, int], given: Place | None, taken: Place | None, number: int) -> None:
    if taken is not None:
        names.pop(taken, None)
    if given is not None:
        names[given] = number


def _apply(content: bytearray, at: int, data: bytes | None) -> None:
    if data is None:
        del content[at:]
        return
    if at > len(content):
        content.extend(bytes(at - len(content)))
    content[at : at + len(data)] = data
