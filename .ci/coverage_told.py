"""Lines and branches of motion, book and reading that their own tests run, told one room a line. Run by .ci/run.

.venv/bin/python .ci/coverage_told.py            one line a room
.venv/bin/python .ci/coverage_told.py --missing  and what is not run, by file
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("motion", "book", "reading")
GOAL = 95  # per cent of branches


def measured(room: str, folder: Path) -> dict[str, Any]:
    """coverage's totals and files for one room under the tests of that room."""
    environment = {**os.environ, "COVERAGE_FILE": str(folder / room), "QT_QPA_PLATFORM": "offscreen"}
    run = [sys.executable, "-m", "coverage", "run", "--branch", f"--source={ROOT / 'clipmark' / room}"]
    subprocess.run(
        [*run, "-m", "pytest", "-q", "--no-header", f"tests/{room}"],
        cwd=ROOT, env=environment, check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    out = folder / f"{room}.json"
    told = [sys.executable, "-m", "coverage", "json", "--quiet", "-o", str(out)]
    subprocess.run(told, cwd=ROOT, env=environment, check=True)
    answer: dict[str, Any] = json.loads(out.read_text("utf-8"))
    return answer


def main(missing: bool) -> int:
    with tempfile.TemporaryDirectory() as made:
        for room in ROOMS:
            answer = measured(room, Path(made))
            totals = answer["totals"]
            lines = 100 * totals["covered_lines"] / max(totals["num_statements"], 1)
            branches = 100 * totals["covered_branches"] / max(totals["num_branches"], 1)
            short = "" if branches >= GOAL else f", below the goal of {GOAL} %"
            print(f"coverage: {room}: {lines:.1f} % of lines, {branches:.1f} % of branches{short}", flush=True)
            for name, file in sorted(answer["files"].items()) if missing else ():
                if file["missing_lines"]:
                    print(f"  {name}: {file['missing_lines']}")
    return 0


if __name__ == "__main__":
    sys.exit(main("--missing" in sys.argv[1:]))
