"""Known vulnerabilities in the packages that are installed here, told one a line. Run by .ci/run.

    .venv/bin/python .ci/audit.py            tells, and never fails: an advisory that is published tomorrow must not
                                             make a change of today look broken (DEVELOPERS.md, "Audit")
    .venv/bin/python .ci/audit.py --strict   fails where a vulnerability is known that a newer version mends, and
                                             where the database could not be asked: before a release

pip-audit asks the database of the Python package index. Where that cannot be reached, one line says so.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

APART = Path(sys.prefix) / "audit"  # pip-audit and what it needs, kept out of what is audited
PATIENCE_S = 180


def installed() -> str:
    """What is installed, as pinned requirements."""
    command = [sys.executable, "-m", "pip", "freeze", "--exclude-editable"]
    lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    return "".join(f"{line}\n" for line in lines if "==" in line)


def asked(requirements: str) -> dict[str, Any] | None:
    """pip-audit's answer; None where it gave none."""
    with tempfile.TemporaryDirectory() as folder:
        listed = Path(folder) / "requirements.txt"
        listed.write_text(requirements, encoding="utf-8")
        command = [sys.executable, "-m", "pip_audit", "--requirement", str(listed), "--no-deps", "--disable-pip"]
        command += ["--format", "json", "--progress-spinner", "off"]
        environment = {**os.environ, "PYTHONPATH": str(APART)}
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, env=environment)
            answer = json.loads(done.stdout)
        except (OSError, ValueError, subprocess.TimeoutExpired):
            return None
    return answer if isinstance(answer, dict) else None


def told(answer: dict[str, Any] | None) -> tuple[list[str], bool, bool]:
    """Lines to print, whether the database answered, and whether something is known that a newer version mends."""
    packages = answer.get("dependencies", []) if answer else []
    known = [one for one in packages if "vulns" in one]
    if not known:
        return ["audit: not made, the database of vulnerabilities is out of reach from here"], False, False
    lines, mended = [], False
    for package in known:
        for found in package["vulns"]:
            fixed = ", ".join(found.get("fix_versions", ()))
            mended = mended or bool(fixed)
            cure = f"mended in {fixed}" if fixed else "no version mends it yet"
            lines.append(
                f"audit: KNOWN VULNERABILITY {found['id']} in {package['name']} {package['version']}, {cure}"
            )
    left = len(packages) - len(known)
    lines.append(f"audit: {len(known)} packages asked about, {left} unknown to the database, {len(lines)} findings")
    return lines, True, mended


def main(strict: bool) -> int:
    lines, answered, mended = told(asked(installed()))
    print(*lines, sep="\n")
    return int(strict and (mended or not answered))


if __name__ == "__main__":
    sys.exit(main("--strict" in sys.argv[1:]))
