"""Is this machine able to run clipmark: decoders, system libraries of the window, screen, sound, places to write.

What is missing is read from the libraries themselves (`ldd` on what pip installed), not from a list of what a
machine ought to have.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from clipmark import settings
from clipmark.system_packages import FONT, PACKAGES, package

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
    lacking: set[str] = set()
    for binary in _binaries(patterns):
        answer = subprocess.run([ldd, str(binary)], capture_output=True, text=True, check=False)
        lacking.update(missing_in(answer.stdout))
    return sorted(lacking)


def _ask(code: str, **environment: str) -> tuple[bool, str]:
    """Run a few lines in a Python of its own: a library that takes the process down must not take ours."""
    answer = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True, text=True, check=False, timeout=120, env={**os.environ, **environment},
    )  # fmt: skip
    lines = (answer.stdout if answer.returncode == 0 else answer.stderr).strip().splitlines()
    return answer.returncode == 0, lines[-1] if lines else f"it ended with code {answer.returncode}"


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


def _decoders() -> Finding:
    wanted = ("h264", "hevc", "av1", "vp9", "mpeg4", "mjpeg", "aac", "mp3")
    code = (
        "import av\n"
        "def able(n):\n    try: av.Codec(n, 'r'); return True\n    except Exception: return False\n"
        f"bad=[n for n in {wanted!r} if not able(n)]\n"
        "print(('cannot decode ' + ', '.join(bad)) if bad else 'PyAV ' + av.__version__ + ' decodes "
        f"{', '.join(wanted)}')\n"
        "raise SystemExit(1 if 'h264' in bad else 0)"
    )
    able, says = _ask(code)
    return Finding("film decoders", able, says)


def _window() -> Finding:
    code = (
        "from PySide6.QtWidgets import QApplication\nfrom PySide6.QtGui import QFontDatabase\n"
        "app=QApplication([])\nimport PySide6\n"
        "print(PySide6.__version__, len(QFontDatabase.families()))"
    )
    able, says = _ask(code, QT_QPA_PLATFORM="offscreen")
    if not able:
        return Finding("window library", False, f"Qt does not start: {says}")
    version, fonts = says.split()
    if int(fonts) == 0:
        return Finding("window library", False, "Qt finds no font to write with", True, (package(FONT),))
    return Finding("window library", True, f"Qt {version} starts, {fonts} font families")


def _screen() -> Finding:
    if not has_screen():
        return Finding("screen", False, "no screen: commands work, the window cannot open", needed=False)
    able, says = _ask("from PySide6.QtGui import QGuiApplication\na=QGuiApplication([])\nprint(a.platformName())")
    return Finding("screen", able, f"the window opens by “{says}”" if able else f"the window does not open: {says}")


def _sound() -> Finding:
    code = (
        "from PySide6.QtCore import QCoreApplication\nfrom PySide6.QtMultimedia import QMediaDevices\n"
        "a=QCoreApplication([])\nprint(len(QMediaDevices.audioOutputs()))"
    )
    able, says = _ask(code)
    if able and says != "0":
        return Finding("sound", True, f"{says} sound outputs", needed=False)
    return Finding("sound", False, "no sound output found: film plays silent" if able else says, needed=False)


def _places() -> Finding:
    for folder in (settings.default_book().parent, settings.config_dir(), settings.cache_dir()):
        nearest = next((p for p in (folder, *folder.parents) if p.exists()), None)
        if nearest is None or not os.access(nearest, os.W_OK):
            return Finding("places to write", False, f"“{folder}” cannot be written; set CLIPMARK_HOME to a folder")
    return Finding("places to write", True, f"the book lies at {settings.default_book()}")


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
    findings = [_libraries(), _page_engine(), _decoders(), _window(), _screen(), _sound(), _places()]
    return [*findings, *(_test_tools() if tests else ())]
