"""The very first start where nothing can be written: a window says so."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("resource")  # limits of a process, which Windows does not have

# A process of its own: the home is read before anything else, and no file of it may grow.
CHILD = """
import resource, signal, sys
if sys.argv[1] == "full":
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
from clipmark.window import app
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox

def look():
    for box in QApplication.topLevelWidgets():
        if isinstance(box, QMessageBox) and box.isVisible():
            print("said:", box.text(), box.informativeText(), flush=True)
            box.button(QMessageBox.StandardButton.Close).click()

app.make_application()
timer = QTimer()
timer.timeout.connect(look)
timer.start(50)
sys.exit(app.run([]))
"""


@pytest.mark.parametrize("trouble", ["full", "read-only"])
def test_a_home_that_cannot_be_written_is_told_in_a_window(trouble: str, tmp_path: Path):
    home = tmp_path / "home"
    if trouble == "read-only":
        home.write_text("a file where the folder should be")  # rights alone would not stop an administrator
    else:
        home.mkdir()
    surroundings = {**os.environ, "CLIPMARK_HOME": str(home), "QT_QPA_PLATFORM": "offscreen"}
    ended = subprocess.run([sys.executable, "-c", CHILD, trouble], env=surroundings, capture_output=True, text=True,
                           timeout=60, check=False)  # fmt: skip
    (said,) = [line for line in ended.stdout.splitlines() if line.startswith("said:")]

    assert 1 == ended.returncode
    assert "clipmark cannot open its record book yet." in said
    assert str(home) in said
