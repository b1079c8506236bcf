"""The one way to begin another process. A film may come in a folder from a stranger: what lies in the folder that
clipmark happens to be started in is never run as code, and what the child gets to know of its surroundings is named.

Python itself would look for modules in the working folder first: `-P` and `PYTHONSAFEPATH` turn that off. Source:
Python documentation, "Command line and environment", -P.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from multiprocessing import get_context
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

import clipmark
from clipmark.errors import ClipmarkError

Child = subprocess.Popen[bytes]
ROOT = Path(clipmark.__file__).parent.parent  # the folder that clipmark is found in

# What a child needs to know: who and where the keeper is, language and time, screen and sound, places for files,
# what the graphics and number libraries are told, and where this Python lies.
_NAMES = frozenset({
    "HOME", "USER", "LOGNAME", "PATH", "SHELL", "LANG", "LANGUAGE", "TZ", "TMPDIR", "TEMP", "TMP",
    "DISPLAY", "WAYLAND_DISPLAY", "XAUTHORITY", "DBUS_SESSION_BUS_ADDRESS", "PULSE_SERVER", "DESKTOP_SESSION",
    "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "VIRTUAL_ENV", "PYTHONHOME", "PYTHONUTF8", "PYTHONIOENCODING",
    "PYINSTALLER_RESET_ENVIRONMENT",
    "PYTHONDONTWRITEBYTECODE", "PYTHONHASHSEED", "PYTHONFAULTHANDLER", "PYTHONWARNINGS",
    "SYSTEMROOT", "SYSTEMDRIVE", "WINDIR", "COMSPEC", "PATHEXT", "USERPROFILE", "USERNAME", "HOMEDRIVE", "HOMEPATH",
    "APPDATA", "LOCALAPPDATA", "PROGRAMDATA", "PROGRAMFILES", "PROCESSOR_ARCHITECTURE", "NUMBER_OF_PROCESSORS",
})  # fmt: skip
_BEGINNINGS = (
    "CLIPMARK_", "LC_", "XDG_", "QT_", "QTWEBENGINE_", "QML_", "FONTCONFIG_", "LIBGL_", "MESA_", "VDPAU_", "LIBVA_",
    "OMP_", "OPENBLAS_", "MKL_", "OPENCV_", "PIPEWIRE_", "ALSA_", "COV_", "COVERAGE_",
)  # fmt: skip

# The child finds clipmark where we did, behind Python's own modules: nothing that lies beside clipmark hides those.
_BEGIN = (
    "import sys, runpy; root, name = sys.argv[1:3]; del sys.argv[1:3]; "
    "sys.path.insert(next((n for n, p in enumerate(sys.path) if p.endswith('-packages')), len(sys.path)), root); "
    "runpy.run_module(name, run_name='__main__', alter_sys=True)"
)


class ChildFailed(ClipmarkError):
    """A process of ours could not be begun, or did not answer in time; `reason` says which."""

    def __init__(self, reason: str):
        super().__init__(f"A helper process of clipmark could not do its work ({reason}). Try again.")
        self.reason = reason


def environment(**more: str) -> dict[str, str]:
    """What a child gets to know: the named variables of ours, and `more`.

    Of PYTHONPATH only whole, absolute paths go along: an empty or relative one means the working folder.
    """
    ours = {n: v for n, v in os.environ.items() if n.upper() in _NAMES or n.upper().startswith(_BEGINNINGS)}
    paths = [one for one in os.environ.get("PYTHONPATH", "").split(os.pathsep) if one and Path(one).is_absolute()]
    if paths:
        ours["PYTHONPATH"] = os.pathsep.join(paths)
    return {**ours, "PYTHONSAFEPATH": "1", **more}


def begin_module(module: str, *arguments: str, apart: bool = False) -> Child:
    """Begin a module of clipmark in a Python of its own. Paths among the arguments must be absolute.

    Args:
        apart: it outlives the terminal and the window that began it.
    Raises:
        OSError: it could not be begun.
    """
    return subprocess.Popen(
        _module(module, arguments), stdin=subprocess.DEVNULL, env=environment(), cwd=ROOT, start_new_session=apart
    )


def run_module(module: str, *arguments: str, timeout_s: float, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a module of clipmark in a Python of its own and wait for it. Paths among the arguments must be absolute.

    Raises:
        ChildFailed: it could not be begun, or took longer than `timeout_s` and was ended.
    """
    return _run(_module(module, arguments), environment(**more), timeout_s)


def run_tool(
    command: Sequence[str], shown: bool = False, more: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run a program of the system and wait for it; `shown`: what it says goes to the terminal. Errors as above."""
    return _run(list(command), environment(**(more or {})), None, shown)


def _run(
    command: list[str], surroundings: dict[str, str], timeout_s: float | None, shown: bool = False
) -> subprocess.CompletedProcess[str]:
    try:
        return subprocess.run(
            command, stdin=subprocess.DEVNULL, capture_output=not shown, text=True, encoding="utf-8",
            errors="replace", env=surroundings, cwd=ROOT, timeout=timeout_s, check=False,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as error:
        raise ChildFailed(str(error)) from error


def process(target: Callable[..., None], arguments: tuple[Any, ...]) -> SpawnProcess:
    """A fresh Python, not yet begun, that calls a function: no threads or locks of ours inside, and no folder of
    strangers on its path."""
    os.environ["PYTHONSAFEPATH"] = "1"  # such a child takes its environment from ours
    return get_context("spawn").Process(target=target, args=arguments, daemon=True)


def _module(module: str, arguments: Sequence[str]) -> list[str]:
    if getattr(sys, "frozen", False):  # the download has no Python but itself; download/start.py knows this word
        return [sys.executable, "-m", module, *arguments]
    return [sys.executable, "-P", "-c", _BEGIN, str(ROOT), module, *arguments]
