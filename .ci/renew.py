"""Writes the exact versions that setup and CI install by anew, then runs everything with them.

    python3 .ci/renew.py            versions/tested.txt and versions/lowest.txt from pyproject.toml, then .ci/run
    python3 .ci/renew.py --only     the two files alone

tested.txt holds the newest releases within the bounds of pyproject.toml, for every Python and system, with markers.
lowest.txt holds the oldest that the bounds allow, for the oldest Python. uv works both out.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
VERSIONS = ROOT / "versions"
OLDEST = "3.11"
EXTRAS = ("test", "docs", "cluster", "download")
HEAD = """# {what}
# Written by .ci/renew.py from the bounds in pyproject.toml; renew it with that command, not by hand.
"""


def solver(folder: Path) -> list[str]:
    """uv, installed in a folder of its own; its `pip compile` command."""
    venv.create(folder, with_pip=True)
    python = folder / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    subprocess.run([python, "-m", "pip", "install", "--quiet", "uv>=0.8,<1"], check=True)
    return [str(python), "-m", "uv", "pip", "compile", "--quiet", "--no-header", "--no-annotate", "pyproject.toml"]


def solved(command: list[str], *options: str) -> str:
    """What the solver says, one `name==version` a line."""
    return subprocess.run([*command, *options], cwd=ROOT, check=True, text=True, stdout=subprocess.PIPE).stdout


def extras(*names: str) -> list[str]:
    return [word for name in names for word in ("--extra", name)]


def renew() -> None:
    """Write both files.

    Raises:
        CalledProcessError: uv cannot be installed, or the bounds contradict each other.
    """
    VERSIONS.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as made:
        command = solver(Path(made) / "uv")
        newest = solved(command, *extras(*EXTRAS), "--universal", "--python-version", OLDEST)
        # the program's libraries at their lower bounds, then the newest tools of the tests that go with them
        oldest = ["--python-version", OLDEST]
        low = Path(made) / "low.txt"
        low.write_text(solved(command, *extras("cluster"), *oldest, "--resolution", "lowest-direct"), "utf-8")
        both = solved(command, *extras(*EXTRAS), *oldest, "--constraint", str(low))
    tested = HEAD.format(what="Versions known to work together: setup.sh and CI install by them.")
    lowest = HEAD.format(what=f"The lowest versions that the bounds allow, on Python {OLDEST}: CI runs them too.")
    (VERSIONS / "tested.txt").write_text(tested + newest, "utf-8")
    (VERSIONS / "lowest.txt").write_text(lowest + both, "utf-8")
    print("written: versions/tested.txt, versions/lowest.txt", flush=True)


def main(only: bool) -> int:
    renew()
    return 0 if only else subprocess.run(["bash", ".ci/run"], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main("--only" in sys.argv[1:]))
