"""Make the pictures of the keeper's guide: `python docs/make_pictures.py`.

Every page of the window is drawn offscreen over the sample session, light and dark, at 1280 x 720 and at 2560 x 1440.
Those that a page under docs/ shows are written to docs/pictures/; with `--all DIR` all of them go to a folder of your
own, to be looked at after a change. A book, settings and film of its own are used and thrown away.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
SIZES = {"small": (1366, 768), "large": (2560, 1440)}
WIDEST = 1280  # pixels of a picture in the docs; larger ones are shrunk
PATIENCE_S = 120
SIDE_BEGINS = Fraction(32, 5)  # seconds of the session clock at which the second camera begins


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--all", type=Path, metavar="DIR", help="write every picture here, uncompressed")
    parser.add_argument("--only", default="", help="only pictures whose name begins so")
    options = parser.parse_args()
    sys.path.insert(0, str(HERE.parent))
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory() as home:
        os.environ["CLIPMARK_HOME"] = home
        return make(Path(home), options.all, options.only)


def make(home: Path, every: Path | None, only: str) -> int:
    from clipmark.window.app import make_application

    app = make_application()
    book_path = prepare(home)
    wanted = used_pictures()
    made = 0
    for size_name, size in SIZES.items():
        for dark in (False, True):
            suffix = f"{'dark' if dark else 'light'}-{size_name}"
            names = {f"{name}-{suffix}.png": take for name, take in SHOTS.items()}
            asked = {n: t for n, t in names.items() if n.startswith(only) and (every is not None or n in wanted)}
            for name, image in pictures(app, book_path, asked, size, dark):
                keep(image, every / name if every else HERE / "pictures" / name, compress=every is None)
                made += 1
                print(name, flush=True)
    left = {path.name for path in (HERE / "pictures").glob("*.png")} - wanted if every is None and not only else set()
    for name in sorted(left):
        (HERE / "pictures" / name).unlink()
        print("taken away:", name)
    print(f"{made} pictures")
    return 0 if made else 1


def used_pictures() -> set[str]:
    """Names of the pictures that a page under docs/ or the README shows."""
    pages = [*HERE.glob("*.md"), HERE.parent / "README.md"]
    texts = [page.read_text("utf-8") for page in pages if page.exists()]
    return {name for text in texts for name in re.findall(r"pictures/([\w-]+\.png)", text)}


# the session on view


def prepare(home: Path) -> Path:
    """A book with the sample session: scanned, some pulls called, a second camera, an outcome."""
    from clipmark.book.film import intake
    from clipmark.book.film.sample import add_sample, sample_film
    from clipmark.book.model import Call, Decision, LifeEvent, Outcome, Reminder, Sign
    from clipmark.book.store import Book
    from clipmark.media.clip import open_clip

    film = sample_film(home / "film")
    with Book.open(home / "guide.book") as book:
        session_id = add_sample(book, film)
        record = book.session(session_id)
        clip, row = open_clip(film), record.clips[0]
        book.add_pass(row.id, intake.run_pass(clip, record, row))
        record = book.session(session_id)
        flags = [flag for flag in record.flags if flag.flagged]
        signs = (Sign.PALPS_STILL, Sign.ABDOMEN_DRAWN, Sign.BULB_SEATED)
        calls = ((Decision.CONFIRMED, signs, "right"), (Decision.PROBABLE, (Sign.ABDOMEN_DRAWN,), "left"))
        for flag, (decision, why, palp) in zip(flags, calls, strict=False):
            book.add_call(Call(0, flag.id, record.session.reviewer or "Ada", decision, why, palp))
        her, him = record.session.female_id or 0, record.session.male_id or 0
        noted = {(event.animal_id, event.kind) for animal in (her, him) for event in book.life(animal)}
        for animal, kind, day in ((her, "moult", "2025-12-20"), (her, "fed", "2026-02-06"),
                                  (him, "matured", "2026-01-04"), (him, "sperm web", "2026-01-30")):  # fmt: skip
            if (animal, kind) not in noted:
                book.add_life_event(LifeEvent(0, animal, kind, day))
        book.add_outcome(Outcome(0, session_id, "none yet", "2026-03-01", (), "eating well"))
        book.add_reminder(Reminder(0, session_id, "2026-03-14", "First usual day of a sac: look, do not dig"))
        second_camera(film, home / "film" / "side.mp4")
        side = open_clip(home / "film" / "side.mp4")
        book.add_clip(intake.clip_record(side, session_id, SIDE_BEGINS, "side"))
        book.change_clip(with_camera(book.session(session_id).clip(row.id), "front"))
    return home / "guide.book"


def with_camera(clip: Any, name: str) -> Any:
    from dataclasses import replace

    return replace(clip, camera=name)


def second_camera(film: Path, out: Path, late_s: float = float(SIDE_BEGINS), seconds: float = 40.0) -> None:
    """A made second camera: the sample film mirrored and smaller, begun later, its sound fainter with noise."""
    import av
    import numpy as np

    from clipmark.media.clip import open_clip
    from clipmark.media.frames.reader import Reader
    from clipmark.media.sound.clip_sound import read_sound

    clip = open_clip(film)
    first, last = clip.index.frame_at(late_s), clip.index.frame_at(late_s + seconds)
    start = float(clip.index.exact_seconds(first))
    sound = read_sound(clip, rate=16_000)
    with av.open(str(out), "w") as container:
        picture = container.add_stream("libx264", rate=30, options={"crf": "30", "preset": "veryfast"})
        picture.width, picture.height, picture.pix_fmt = 320, 180, "yuv420p"
        picture.codec_context.time_base = Fraction(1, 1_000)
        audio = container.add_stream("aac", rate=16_000, layout="mono")
        with Reader(clip) as reader:
            for shown in reader.pictures(first, last):
                frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(shown.rgb(320, 180)[:, ::-1]), format="rgb24")
                frame.pts = round((float(clip.index.exact_seconds(shown.number)) - start) * 1_000)
                frame.time_base = Fraction(1, 1_000)
                container.mux(picture.encode(frame))
        container.mux(picture.encode())
        if sound is not None:
            heard = sound.between(start, start + seconds) * 0.3
            heard = (heard + np.random.default_rng(1).normal(0, 0.002, len(heard))).astype(np.float32)
            for at in range(0, len(heard) - 1_024, 1_024):
                block = av.AudioFrame.from_ndarray(heard[None, at : at + 1_024], format="fltp", layout="mono")
                block.sample_rate, block.pts, block.time_base = 16_000, at, Fraction(1, 16_000)
                container.mux(audio.encode(block))
            container.mux(audio.encode())


# taking them


def pictures(
    app: Any, book_path: Path, asked: dict[str, Callable[..., Iterator[Any]]], size: tuple[int, int], dark: bool
) -> Iterator[tuple[str, Any]]:
    """The asked pictures of one size and theme: those of an empty book first, the others from one window."""
    from clipmark import settings as declared
    from clipmark.book.store import Book
    from clipmark.settings import Settings
    from clipmark.window import theme
    from clipmark.window.main_window import MainWindow
    from clipmark.window.workspace import Workspace

    theme.apply(app, theme.dark() if dark else theme.light())
    settings = Settings()
    settings.put(declared.INTRODUCED, True)
    settings.put(declared.REVIEWER, "Ada")
    for empty in (True, False):
        shots = {name: take for name, take in asked.items() if (take is shot_first_start) is empty}
        if not shots:
            continue
        with Book.open(book_path.with_name("empty.book") if empty else book_path) as book:
            window = MainWindow(Workspace(book, settings))
            window.resize(*size)
            window.show()
            if not empty:
                window.workspace.show_session(book.sessions()[0].id)
                wait(app, partial(films_open, window.workspace))
            for name, take in shots.items():
                for ready in take(window):
                    wait(app, ready)
                wait(app, partial(idle, window.workspace))
                settle(app)
                yield name, window.grab().toImage()
            window.close()
            window.deleteLater()
            settle(app)


def films_open(workspace: Any) -> bool:
    return all(workspace.film(clip.id) is not None for clip in workspace.record.clips)


def idle(workspace: Any) -> bool:
    return not workspace.tasks.tasks


def wait(app: Any, ready: Callable[[], bool]) -> None:
    began = time.monotonic()
    while not ready():
        app.processEvents()
        time.sleep(0.01)
        if time.monotonic() - began > PATIENCE_S:
            raise TimeoutError("the window did not become ready")


def settle(app: Any, seconds: float = 0.4) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        app.processEvents()
        time.sleep(0.01)


def trigger(window: Any, name: str) -> None:
    """Do what a key would do."""
    from PySide6.QtGui import QAction

    action = window.findChild(QAction, name)
    if action is None:
        raise LookupError(f"no command {name}")
    action.trigger()


def shot_first_start(window: Any) -> Iterator[Any]:
    window.show_page("pair")
    yield lambda: True


def shot_start(window: Any) -> Iterator[Any]:
    window.show_page("start")
    page = window.pages["start"]
    yield lambda: not page._making and not page._stills_wanted


def shot_pair(window: Any) -> Iterator[Any]:
    window.show_page("pair")
    window.pages["pair"].hide_align()
    yield lambda: True


def shot_clock(window: Any) -> Iterator[Any]:
    window.show_page("pair")
    page = window.pages["pair"]
    page.show_align()
    clips = {clip.camera: clip.id for clip in window.workspace.record.clips}
    align = page.align
    align.first.setCurrentIndex(align.first.findData(clips["front"]))
    align.second.setCurrentIndex(align.second.findData(clips["side"]))
    align._clips_chosen()
    align.pickers[0].slider.setValue(600)
    align.pickers[1].slider.setValue(408)
    align.propose()
    yield lambda: align.accept.isVisible() and all(p.picture.image is not None for p in align.pickers)


def _on_film(window: Any, place: Fraction) -> Callable[[], bool]:
    clip = window.workspace.record.clips[0]
    window.show_page("film")
    window.workspace.go(place, clip.id)
    page = window.pages["film"]
    return lambda: page.cameras.current.picture is not None and page.cameras.current.exact


def shot_film(window: Any) -> Iterator[Any]:
    flag = next(flag for flag in window.workspace.record.flags if flag.flagged)
    yield _on_film(window, window.workspace.flag_place(flag))


def shot_outline(window: Any) -> Iterator[Any]:
    window.workspace.select_mark(None)
    outline = window.workspace.record.outlines[0]
    yield _on_film(window, window.workspace.record.clip(outline.clip_id).on_clock(outline.pts))
    trigger(window, "outline.abdomen")
    yield lambda: True


def shot_keys(window: Any) -> Iterator[Any]:
    window.pages["film"].cameras.current.end_edit(keep=False)
    yield _on_film(window, Fraction(30))
    trigger(window, "help.keys")
    yield lambda: True


def shot_pulls(window: Any) -> Iterator[Any]:
    window.show_page("pulls")
    page = window.pages["pulls"]
    flags = [flag for flag in window.workspace.record.flags if flag.flagged]
    window.workspace.select_flag(flags[min(2, len(flags) - 1)].id, go=False)
    yield lambda: page.moment.change.image is not None
    page.moment.loop.hold.setChecked(True)
    page.moment.loop.seek(window.workspace.flag_place(window.workspace.flag) + Fraction(3, 10))
    yield lambda: True


def shot_sheet(window: Any) -> Iterator[Any]:
    window.workspace.select_flag(None)
    window.show_page("sheet")
    page = window.pages["sheet"]
    clips = len(window.workspace.record.clips)
    yield lambda: len(page.roll.roll._sounds) == clips
    page.tree.scrollToTop()
    yield lambda: True


def shot_after(window: Any) -> Iterator[Any]:
    window.show_page("after")
    yield lambda: True


SHOTS: dict[str, Callable[..., Iterator[Any]]] = {
    "first-start": shot_first_start,
    "start": shot_start,
    "pair": shot_pair,
    "clock": shot_clock,
    "film": shot_film,
    "pulls": shot_pulls,
    "sheet": shot_sheet,
    "after": shot_after,
    "outline": shot_outline,
    "keys": shot_keys,
}


def keep(image: Any, path: Path, compress: bool) -> None:
    """Write a picture; for the docs at most 1280 wide and in 256 colours, which halves and quarters it."""
    from PySide6.QtCore import Qt

    path.parent.mkdir(parents=True, exist_ok=True)
    if not compress:
        image.save(str(path))
        return
    if image.width() > WIDEST:
        image = image.scaledToWidth(WIDEST, Qt.TransformationMode.SmoothTransformation)
    import numpy as np
    from PIL import Image

    image = image.convertToFormat(image.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    pixels = np.ascontiguousarray(rows[:, : 3 * image.width()]).reshape(image.height(), image.width(), 3)
    small = Image.fromarray(pixels).quantize(256, dither=Image.Dither.NONE)
    small.save(path, optimize=True)


if __name__ == "__main__":
    sys.exit(main())
