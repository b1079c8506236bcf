"""Is this machine able to run clipmark: each library at its job, system libraries, screen, sound, places to write.

What is missing is read from the libraries themselves (`ldd` on what pip installed), not from a list of what a
machine ought to have.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from clipmark import children, settings
from clipmark.atomic_files import scratch_place
from clipmark.log import log_file
from clipmark.system_packages import FONT, PACKAGES, package

AT_ONCE = 3  # trials side by side: most of each is waiting for the library to load

FULL = 20_000_000  # bytes; proposal: less does not hold a sheet's PDF, or a safety copy of a book of some seasons
NEARLY_FULL = 1_000_000_000  # bytes; proposal: a pass of long film and the copies of a large book fit

# what the tests need: its name, a program or a folder that shows it is there, and the packages ("" where none has it)
FOR_TESTS = (
    ("ffmpeg", "ffprobe", ("ffmpeg", "ffmpeg-free", "ffmpeg")),
    ("git", "git", ("git", "git", "git")),
    ("pdftotext", "pdftotext", ("poppler-utils", "poppler-utils", "poppler")),
    ("drum loops", "/usr/share/sonic-pi/samples", ("sonic-pi-samples", "", "")),
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the check. `needed`: clipmark cannot do its job without it. `packages`: what to install,
    by the names of this system's own package manager."""

    what: str
    able: bool
    says: str
    needed: bool = True
    packages: tuple[str, ...] = field(default=())


def missing_in(ldd_output: str) -> list[str]:
    """Names of the libraries that `ldd` calls "not found", each once."""
    found = (line.split("=>")[0].strip() for line in ldd_output.splitlines() if "not found" in line)
    return sorted({name for name in found if name})


# the page engine prints the sheet; without it a plainer PDF is drawn, so its libraries are told apart
_PAGE_ENGINE = {"PySide6": ("QtWebEngineCore*.so", "Qt/libexec/QtWebEngineProcess")}


def _binaries(patterns: Mapping[str, tuple[str, ...]] | None = None) -> Iterable[Path]:
    patterns = patterns or {
        "PySide6": (
            "QtWidgets*.so", "QtMultimedia*.so", "Qt/plugins/platforms/libqxcb.so",
            "Qt/plugins/platforms/libqoffscreen.so", "Qt/plugins/multimedia/*.so",
        ),
        "cv2": ("cv2*.so",),
        "av": ("container/core*.so",),
    }  # fmt: skip
    for module, names in patterns.items():
        spec = importlib.util.find_spec(module)
        for folder in (spec.submodule_search_locations or []) if spec else []:
            for name in names:
                yield from Path(folder).glob(name)


def missing_libraries(patterns: Mapping[str, tuple[str, ...]] | None = None) -> list[str]:
    """System libraries that the installed packages need and this machine lacks (Linux only, else none).

    Args:
        patterns: packages, each with the files to look at; those that clipmark cannot do without if not given.
    """
    ldd = shutil.which("ldd")
    if not sys.platform.startswith("linux") or ldd is None:
        return []
    carried = getattr(sys, "_MEIPASS", None)  # the download has libraries of its own
    more = {} if carried is None else {"LD_LIBRARY_PATH": str(carried)}
    lacking: set[str] = set()
    for binary in _binaries(patterns):
        answer = children.run_tool([ldd, str(binary)], more=more)
        lacking.update(missing_in(answer.stdout))
    return sorted(lacking)


@dataclass(frozen=True, slots=True)
class _Trial:
    """One job of a library: `name` in `module`, the job in words, and what pip calls the library."""

    name: str
    job: str
    library: str
    module: str = "clipmark.trials"
    needed: bool = True


_WINDOW = "clipmark.window.trials"
_TRIALS = (
    _Trial("film", "open and decode film", "av"),
    _Trial("cuts", "write slow-motion cuts", "av", needed=False),
    _Trial("picture", "shrink and match pictures", "opencv-python"),
    _Trial("signals", "find peaks", "scipy"),
    _Trial("shapes", "measure regions", "scikit-image"),
    _Trial("book", "keep the book", "Python itself"),
    _Trial("tables", "write tables", "pandas"),
    _Trial("page", "render the sheet", "jinja2"),
    _Trial("reminders", "write reminders", "icalendar"),
    _Trial("lettering", "draw the clock of a cut", "pillow"),
    _Trial("widget", "draw the window", "PySide6", _WINDOW),
    _Trial("paper", "draw a PDF", "PySide6", _WINDOW),
    _Trial("page_engine", "print the sheet as it looks in a browser", "PySide6", _WINDOW, needed=False),
)


def _tried(trial: _Trial) -> tuple[bool, str]:
    """Run a trial in a process of its own: a library that takes the process down must not take ours."""
    try:
        answer = children.run_module(trial.module, trial.name, timeout_s=120)
    except children.ChildFailed as error:
        return False, error.reason
    lines = (answer.stdout if answer.returncode == 0 else answer.stderr).strip().splitlines()
    return answer.returncode == 0, lines[-1] if lines else f"it ended with code {answer.returncode}"


def _again(library: str) -> str:
    """How a library is put right."""
    if getattr(sys, "frozen", False) or library == "Python itself":
        return "Install clipmark again."
    return f"Install it again: {sys.executable} -m pip install --force-reinstall {library}"


def _library(trial: _Trial) -> Finding:
    able, says = _tried(trial)
    if able:
        return Finding(trial.job, True, says, trial.needed)
    if says == "no font":
        return Finding(trial.job, False, "Qt finds no font to write with", True, (package(FONT),))
    if "shared object" in says:
        return Finding(trial.job, False, f"{trial.library} lacks a system library ({says})", trial.needed)
    says = f"{trial.library} does not {trial.job} ({says}). {_again(trial.library)}"
    return Finding(trial.job, False, says, trial.needed)


def _libraries() -> Finding:
    return _told("system libraries", missing_libraries())


def _page_engine() -> Finding:
    """Of the page engine: clipmark works without it, with a plainer PDF."""
    return replace(_told("libraries of the page engine", missing_libraries(_PAGE_ENGINE)), needed=False)


def _told(what: str, lacking: Sequence[str]) -> Finding:
    if not lacking:
        return Finding(what, True, "all there")
    known = tuple(sorted({package(PACKAGES[name]) for name in lacking if name in PACKAGES}))
    unknown = [name for name in lacking if name not in PACKAGES]
    says = f"missing: {', '.join(lacking)}"
    if unknown:
        says += f". Look for the package that holds {', '.join(unknown)}"
    return Finding(what, False, says, True, known)


def _screen() -> Finding:
    if not has_screen():
        return Finding("screen", False, "no screen: commands work, the window cannot open", needed=False)
    able, says = _tried(_Trial("screen", "open the window", "PySide6", _WINDOW))
    return Finding("screen", able, f"the window opens by “{says}”" if able else f"the window does not open: {says}")


def _sound() -> Finding:
    able, says = _tried(_Trial("sound", "play sound", "PySide6", _WINDOW))
    if able and says != "0":
        return Finding("sound", True, f"{says} sound outputs", needed=False)
    return Finding("sound", False, "no sound output found: film plays silent" if able else says, needed=False)


def _places() -> Finding:
    for folder in (settings.default_book().parent, settings.config_dir(), settings.cache_dir()):
        nearest = next((p for p in (folder, *folder.parents) if p.exists()), None)
        if nearest is None or not os.access(nearest, os.W_OK):
            return Finding("places to write", False, f"“{folder}” cannot be written; set CLIPMARK_HOME to a folder")
    return Finding("places to write", True, f"the book lies at {settings.default_book()}")


def _room() -> Finding:
    """Whether the disks with the book, the cache and the temporary folder have room; the fullest is told of."""
    places = {
        "the book": settings.default_book().parent,
        "the cache": settings.cache_dir(),
        "temporary files": scratch_place(),
    }
    least: tuple[int, str, Path] | None = None
    for what, folder in places.items():
        nearest = next((p for p in (folder, *folder.parents) if p.exists()), None)
        with suppress(OSError):
            if nearest is not None and (least is None or shutil.disk_usage(nearest).free < least[0]):
                least = (shutil.disk_usage(nearest).free, what, nearest)
    if least is None:
        return Finding("room on disk", True, "the system does not tell how much is free", needed=False)
    free, what, folder = least
    left = f"{free / 1e6:.0f} MB free"
    if free < FULL:
        says = f"the disk with {what} is full ({left}): make room on the disk with “{folder}”"
        return Finding("room on disk", False, says)
    if free < NEARLY_FULL:
        says = f"the disk with {what} is nearly full ({left}): make room on the disk with “{folder}” soon"
        return Finding("room on disk", False, says, needed=False)
    return Finding("room on disk", True, f"at least {free / 1e9:.1f} GB free for book, cache and temporary files")


def _log() -> Finding:
    path = log_file()
    says = f"what went wrong in clipmark itself stands in {path}"
    return Finding("log", True, says if path.exists() else f"nothing went wrong yet; it would stand in {path}", False)


def _test_tools() -> Iterable[Finding]:
    for what, sign, names in FOR_TESTS:
        there = Path(sign).is_dir() if sign.startswith("/") else shutil.which(sign) is not None
        says = "there" if there else "missing, the tests need it"
        wanted = tuple(name for name in (package(names),) if name and not there)
        yield Finding(what, there, says, needed=bool(wanted) or there, packages=wanted)


def has_screen() -> bool:
    """Whether a window can be shown at all: a display on Linux, always on Windows and macOS."""
    if not sys.platform.startswith("linux"):
        return True
    platform = os.environ.get("QT_QPA_PLATFORM", "")
    if platform and not platform.startswith(("xcb", "wayland")):
        return False
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def look(tests: bool = False) -> list[Finding]:
    """Everything that clipmark needs of this machine; with `tests` also what its tests need."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        libraries = pool.map(_library, _TRIALS)
        screen, sound = pool.submit(_screen), pool.submit(_sound)
        findings = [_libraries(), _page_engine(), *libraries, screen.result(), sound.result(), _places()]
    findings += [_room(), _log()]
    return [*findings, *(_test_tools() if tests else ())]
