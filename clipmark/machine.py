"""Is this machine able to run clipmark: decoders, system libraries of the window, screen, sound, places to write.

What is missing is read from the libraries themselves (`ldd` on what pip installed), not from a list of what a
machine ought to have; the list below only translates a library's name into the system's package name.
"""

from __future__ import annotations

import functools
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from clipmark import settings

# library -> package, for (apt, dnf, pacman)
PACKAGES: dict[str, tuple[str, str, str]] = {
    "libEGL.so.1": ("libegl1", "libglvnd-egl", "libglvnd"),
    "libGL.so.1": ("libgl1", "libglvnd-glx", "libglvnd"),
    "libXcomposite.so.1": ("libxcomposite1", "libXcomposite", "libxcomposite"),
    "libXdamage.so.1": ("libxdamage1", "libXdamage", "libxdamage"),
    "libXfixes.so.3": ("libxfixes3", "libXfixes", "libxfixes"),
    "libXrender.so.1": ("libxrender1", "libXrender", "libxrender"),
    "libXtst.so.6": ("libxtst6", "libXtst", "libxtst"),
    "libasound.so.2": ("libasound2", "alsa-lib", "alsa-lib"),
    "libexpat.so.1": ("libexpat1", "expat", "expat"),
    "libgbm.so.1": ("libgbm1", "mesa-libgbm", "mesa"),
    "libnspr4.so": ("libnspr4", "nspr", "nspr"),
    "libnss3.so": ("libnss3", "nss", "nss"),
    "libnssutil3.so": ("libnss3", "nss", "nss"),
    "libplc4.so": ("libnspr4", "nspr", "nspr"),
    "libplds4.so": ("libnspr4", "nspr", "nspr"),
    "libsmime3.so": ("libnss3", "nss", "nss"),
    "libudev.so.1": ("libudev1", "systemd-libs", "systemd-libs"),
    "libxcb-dri3.so.0": ("libxcb-dri3-0", "libxcb", "libxcb"),
    "libxkbfile.so.1": ("libxkbfile1", "libxkbfile", "libxkbfile"),
    "libX11.so.6": ("libx11-6", "libX11", "libx11"),
    "libX11-xcb.so.1": ("libx11-xcb1", "libX11-xcb", "libx11"),
    "libXext.so.6": ("libxext6", "libXext", "libxext"),
    "libXrandr.so.2": ("libxrandr2", "libXrandr", "libxrandr"),
    "libSM.so.6": ("libsm6", "libSM", "libsm"),
    "libdbus-1.so.3": ("libdbus-1-3", "dbus-libs", "dbus"),
    "libdrm.so.2": ("libdrm2", "libdrm", "libdrm"),
    "libfontconfig.so.1": ("libfontconfig1", "fontconfig", "fontconfig"),
    "libfreetype.so.6": ("libfreetype6", "freetype", "freetype2"),
    "libglib-2.0.so.0": ("libglib2.0-0", "glib2", "glib2"),
    "libgthread-2.0.so.0": ("libglib2.0-0", "glib2", "glib2"),
    "libgssapi_krb5.so.2": ("libgssapi-krb5-2", "krb5-libs", "krb5"),
    "libpulse.so.0": ("libpulse0", "pulseaudio-libs", "libpulse"),
    "libxcb.so.1": ("libxcb1", "libxcb", "libxcb"),
    "libxcb-cursor.so.0": ("libxcb-cursor0", "xcb-util-cursor", "xcb-util-cursor"),
    "libxcb-icccm.so.4": ("libxcb-icccm4", "xcb-util-wm", "xcb-util-wm"),
    "libxcb-image.so.0": ("libxcb-image0", "xcb-util-image", "xcb-util-image"),
    "libxcb-keysyms.so.1": ("libxcb-keysyms1", "xcb-util-keysyms", "xcb-util-keysyms"),
    "libxcb-randr.so.0": ("libxcb-randr0", "libxcb", "libxcb"),
    "libxcb-render.so.0": ("libxcb-render0", "libxcb", "libxcb"),
    "libxcb-render-util.so.0": ("libxcb-render-util0", "xcb-util-renderutil", "xcb-util-renderutil"),
    "libxcb-shape.so.0": ("libxcb-shape0", "libxcb", "libxcb"),
    "libxcb-shm.so.0": ("libxcb-shm0", "libxcb", "libxcb"),
    "libxcb-sync.so.1": ("libxcb-sync1", "libxcb", "libxcb"),
    "libxcb-util.so.1": ("libxcb-util1", "xcb-util", "xcb-util"),
    "libxcb-xfixes.so.0": ("libxcb-xfixes0", "libxcb", "libxcb"),
    "libxcb-xkb.so.1": ("libxcb-xkb1", "libxcb", "libxcb"),
    "libxkbcommon.so.0": ("libxkbcommon0", "libxkbcommon", "libxkbcommon"),
    "libxkbcommon-x11.so.0": ("libxkbcommon-x11-0", "libxkbcommon-x11", "libxkbcommon-x11"),
}
_RENAMED = frozenset({"libasound2", "libglib2.0-0"})  # where times have 64 bits
FONT = ("fonts-dejavu-core", "dejavu-sans-fonts", "ttf-dejavu")
# what the tests need: its name, a program or a folder that shows it is there, and the packages ("" where none has it)
FOR_TESTS = (
    ("ffmpeg", "ffprobe", ("ffmpeg", "ffmpeg-free", "ffmpeg")),
    ("git", "git", ("git", "git", "git")),
    ("pdftotext", "pdftotext", ("poppler-utils", "poppler-utils", "poppler")),
    ("drum loops", "/usr/share/sonic-pi/samples", ("sonic-pi-samples", "", "")),
)
_MANAGERS = (
    ("apt-get", ("apt-get", "install", "-y", "--no-install-recommends"), ("apt-get", "update")),
    ("dnf", ("dnf", "install", "-y"), None),
    ("pacman", ("pacman", "-S", "--noconfirm", "--needed"), None),
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


def manager() -> int | None:
    """Position of this system's package manager in the tables above; None on Windows, macOS and others."""
    return next((i for i, (name, *_) in enumerate(_MANAGERS) if shutil.which(name)), None)


def _package(names: tuple[str, str, str]) -> str:
    name = names[manager() or 0]
    return f"{name}t64" if name in _RENAMED and _t64() else name


@functools.cache
def _t64() -> bool:
    """Whether this Debian or Ubuntu is of those (13, 24.04 and later) that renamed libraries to …t64."""
    asked = shutil.which("dpkg-query")
    if asked is None:
        return False
    done = subprocess.run([asked, "-W", "lib*t64"], capture_output=True, text=True, check=False)
    return bool(done.stdout.strip())


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
    known = tuple(sorted({_package(PACKAGES[name]) for name in lacking if name in PACKAGES}))
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
        return Finding("window library", False, "Qt finds no font to write with", True, (_package(FONT),))
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
        wanted = tuple(name for name in (_package(names),) if name and not there)
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


def install(packages: Sequence[str]) -> list[list[str]]:
    """Commands that install system packages here, to be run in this order; empty where there is no known manager."""
    place = manager()
    if place is None or not packages:
        return []
    _, verb, first = _MANAGERS[place]
    geteuid = getattr(os, "geteuid", None)
    asking = [] if geteuid is None or geteuid() == 0 else ["sudo"]
    commands = [[*asking, *first]] if first else []
    return [*commands, [*asking, *verb, *packages]]
