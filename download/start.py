"""Where the downloaded program starts: the same as `clipmark`, and `-m MODULE` for processes that clipmark starts.

There is no other Python in the download, so a part of clipmark that asks for a process gets this program again.
"""

from __future__ import annotations

import multiprocessing
import os
import runpy
import sys
from pathlib import Path


def _own_libraries_only_here() -> None:
    """Programs of the system (a browser, apt) must not load the libraries that lie in this folder."""
    name = "LD_LIBRARY_PATH"
    before = os.environ.pop(f"{name}_ORIG", None)
    os.environ.pop(name, None)
    if before:
        os.environ[name] = before
    os.environ["PYINSTALLER_RESET_ENVIRONMENT"] = "1"  # this program started again finds its libraries by itself


def _letters() -> None:
    """A system without any font is lent ours; without one the window would stay without a word."""
    carried = Path(sys.executable).parent / "fonts" / "fonts.conf"
    if carried.exists() and not Path("/etc/fonts/fonts.conf").exists():
        os.environ.setdefault("FONTCONFIG_FILE", str(carried))


def main() -> int:
    multiprocessing.freeze_support()
    if len(sys.argv) > 2 and sys.argv[1] == "-m" and sys.argv[2].startswith("clipmark."):
        sys.argv = sys.argv[2:]
        runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=False)
        return 0
    _own_libraries_only_here()
    _letters()
    from clipmark import cli

    if Path(sys.argv[0]).stem == "clipmark-window":
        return cli.window()
    return cli.main()


if __name__ == "__main__":
    sys.exit(main())
