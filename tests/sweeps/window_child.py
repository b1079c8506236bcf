"""A keeper at the window, without a screen, who marks until the process ends: `... BOOK SEED`.

A line is said after the call that it tells of returned, so what was said must be in the book.
"""

from __future__ import annotations

import os
import random
import sys
import time
from dataclasses import replace
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"


def say(*words: object) -> None:
    sys.stdout.write(" ".join(map(str, words)) + "\n")
    sys.stdout.flush()


def main(path: Path, seed: int) -> None:
    from PySide6.QtWidgets import QApplication

    from clipmark.window.app import open_window

    rng = random.Random(seed)
    window = open_window(path, [], "film")
    app, workspace = QApplication.instance(), window.workspace
    assert app is not None
    if workspace.record is None:
        workspace.show_session(workspace.book.sessions()[-1].id)
    workspace.confirm = lambda words: False  # another window's step stays
    until = time.monotonic() + 20
    while workspace.film(workspace.clip_id) is None and time.monotonic() < until:
        app.processEvents()
        time.sleep(0.01)
    page, film = window.pages["film"], workspace.film(workspace.clip_id)
    assert film is not None
    assert workspace.record is not None
    acts = [act for act in workspace.record.acts if not act.lasting]
    say("open")
    number = 0
    while True:
        number += 1
        app.processEvents()
        if rng.random() < 0.1:
            session = workspace.record.session
            if workspace.edit(workspace.book.change_session, replace(session, note=f"{seed} {number}")):
                say("note", seed, number)
            continue
        if rng.random() < 0.15:
            mine = workspace.book.undo_step
            if mine is not None and mine.writer == workspace.book.key:
                say("undoing")
                workspace.undo()
            continue
        workspace.go_pts(film_clip(workspace), int(film.index.pts[rng.randrange(len(film.index))]))
        app.processEvents()
        mark = page.marking.press(rng.choice(acts))
        if mark is not None:
            say("mark", mark.id)


def film_clip(workspace: object) -> int:
    return workspace.clip_id  # type: ignore[attr-defined,no-any-return]


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
