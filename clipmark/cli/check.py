"""Is this machine able: each library at its job, system libraries, screen, sound, places to write.

Says what to install, by the system's own package names. With --install it installs them itself with the
system's package manager and prints each command before it runs it.

example: clipmark check
         clipmark check --install
"""

from __future__ import annotations

import argparse
import json
import shlex
from dataclasses import asdict

from clipmark import children, machine
from clipmark.errors import ClipmarkError
from clipmark.system_packages import install


class InstallFailed(ClipmarkError):
    def __init__(self, command: str):
        super().__init__(f"“{command}” did not succeed. Run it by hand and read what it says.")


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--install", action="store_true", help="install the missing system packages")
    parser.add_argument("--tests", action="store_true", help="look also for what the tests need")
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")


def run(arguments: argparse.Namespace) -> int:
    findings = machine.look(arguments.tests)
    if arguments.install:
        # a library that is missing can hide the next one: look again until nothing new is asked for
        asked: set[str] = set()
        while wanted := {p for f in findings for p in f.packages} - asked:
            asked |= wanted
            _install(sorted(wanted))
            findings = machine.look(arguments.tests)
    if arguments.json:
        print(json.dumps([asdict(finding) for finding in findings], ensure_ascii=False, indent=1))
    else:
        for finding in findings:
            sign = "ok " if finding.able else "NO " if finding.needed else "-  "
            print(f"{sign} {finding.what}: {finding.says}")
    lacking = [f for f in findings if f.needed and not f.able]
    packages = sorted({p for f in lacking for p in f.packages})
    if packages and not arguments.json:
        commands = " && ".join(shlex.join(c) for c in install(packages))
        print(f"\nTo install what is missing: {commands or ' '.join(packages)}\n(or: clipmark check --install)")
    return 1 if lacking else 0


def _install(packages: list[str]) -> None:
    for command in install(packages):
        print(f"running: {shlex.join(command)}", flush=True)
        if children.run_tool(command, shown=True).returncode:
            raise InstallFailed(shlex.join(command))
