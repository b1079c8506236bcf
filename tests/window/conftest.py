"""The window under test: a book of its own, made film, and no widget, thread or Qt warning left behind."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from clipmark import settings as declared
from clipmark.book.film.intake import clip_record
from clipmark.book.model import Session
from clipmark.book.store import Book
from clipmark.media.clip import open_clip
from clipmark.settings import Settings
from clipmark.window import theme
from clipmark.window.app import make_application
from clipmark.window.main_window import MainWindow
from clipmark.window.workspace import Workspace
from tests import made

# What the offscreen platform says at every window, and what a machine without a sound device says.
KNOWN_NOISE = ("This plugin does not support", "propagateSizeHints", "PulseAudio", "pa_context_connect", "ALSA")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in Path(item.fspath).parents:
            item.add_marker(pytest.mark.qt_log_level_fail("WARNING"))
            item.add_marker(pytest.mark.qt_log_ignore(*KNOWN_NOISE))


@pytest.fixture(scope="session")
def qapp_cls() -> Callable[..., QApplication]:
    return lambda *_: make_application()


@pytest.fixture(autouse=True)
def nothing_is_left_alive(request: pytest.FixtureRequest) -> Iterator[None]:
    """A test that leaves a widget or a decode thread alive fails. Tests that use no Qt are spared the wait."""
    if not {"qapp", "qtbot", "workspace", "window"} & set(request.fixturenames):
        yield
        return
    qapp = request.getfixturevalue("qapp")
    theme.apply(qapp, theme.light())
    before = set(qapp.topLevelWidgets())
    gc.freeze()  # what earlier tests and libraries hold need not be looked through after each test
    yield
    for _ in range(3):
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        qapp.processEvents()
        gc.collect()
    left = [widget for widget in qapp.topLevelWidgets() if widget not in before]
    assert [] == [f"{type(w).__name__} {w.objectName()}" for w in left]
    assert [] == [t.name for t in threading.enumerate() if t.name.startswith("frames of")]


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book.open(tmp_path / "test.book") as opened:
        yield opened


@pytest.fixture
def workspace(book: Book, qapp: QApplication) -> Iterator[Workspace]:
    """A workspace over an empty book, without a window."""
    made_workspace = Workspace(book, Settings())
    yield made_workspace
    made_workspace.shut()
    made_workspace.deleteLater()


@pytest.fixture
def window(book: Book, qtbot) -> Iterator[MainWindow]:
    """The whole window over an empty book, shown."""
    settings = Settings()
    settings.put(declared.PASS_AT_ONCE, False)  # a process for each outline would be most of the time
    opened = MainWindow(Workspace(book, settings))
    qtbot.addWidget(opened)
    opened.resize(1280, 720)
    opened.show()
    opened.show_page("film")
    yield opened
    opened.close()


@pytest.fixture
def film(tmp_path: Path) -> made.Made:
    """Sixty frames at uneven times, each with its number in its pixels; every frame can be decoded alone."""
    return made.film(tmp_path / "plain.mkv", made.uneven(60))


@pytest.fixture
def long_groups(tmp_path: Path) -> made.Made:
    """240 frames of which only each 80th can be decoded alone, as cameras write them."""
    options = {"g": "80", "bf": "0", "crf": "10", "sc_threshold": "0"}
    pts = [40 * n for n in range(240)]
    return made.film(
        tmp_path / "groups.mkv", pts, width=128, height=96, codec="libx264", pixel_format="yuv420p", options=options
    )


def put_in(workspace: Workspace, film: made.Made, offset: Fraction = Fraction(0), camera: str = "") -> int:
    """Put a film into the session on view (a new one where there is none) at once; returns the clip's id."""
    book = workspace.book
    record = workspace.record
    session = record.session if record else book.add_session(Session(0, "Test pairing", None, None))
    clip = book.add_clip(clip_record(open_clip(film.path), session.id, offset, camera))
    workspace.show_session(session.id)
    return clip.id


@pytest.fixture
def on_view(window: MainWindow, film: made.Made, qtbot) -> MainWindow:
    """The window with the made film on the Film page, its first frame shown."""
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    wait_shown(window, qtbot, 0)
    return window


def wait_shown(window: MainWindow, qtbot, number: int) -> None:
    """Wait until this frame of the current clip is on the screen, exactly."""
    page = window.pages["film"]
    qtbot.waitUntil(
        lambda: (
            page.cameras.current.picture is not None
            and page.cameras.current.exact
            and page.cameras.current.picture.number == number
        ),
        timeout=5000,
    )


PULLS = ((1.6, 0.10), (3.2, 0.16))  # seconds of the onset, seconds until it is complete


def pulled(path: Path, seconds: float = 5.0, size: tuple[int, int] = (320, 240)) -> made.Made:
    """A film of a textured oval on textured ground: drawn to the right at PULLS, held 0.7 s, let go slowly."""
    wide, high = size
    rng = np.random.default_rng(3)
    ground = _cloth(rng, (high, wide), 90, 40)
    skin = _cloth(rng, (high, wide), 120, 70)
    yy, xx = np.mgrid[0:high, 0:wide]

    def draw(number: int) -> np.ndarray:
        at = number / 25
        shift = sum(24 * _held(at - onset, full) for onset, full in PULLS)
        inside = ((xx - wide / 2 - shift) / 46) ** 2 + ((yy - high / 2) / 34) ** 2 <= 1
        moved = np.roll(skin, round(shift), axis=1)
        noise = np.random.default_rng(number).normal(0, 1.5, (high, wide))
        return np.clip(np.where(inside, moved, ground) + noise, 0, 255).astype(np.uint8)

    pts = [40 * n for n in range(int(seconds * 25))]
    return made.film(path, pts, width=wide, height=high, draw=draw)


def _cloth(rng: np.random.Generator, shape: tuple[int, int], mean: float, spread: float) -> np.ndarray:
    import cv2

    coarse = cv2.GaussianBlur(rng.normal(0, 1, shape).astype(np.float32), (0, 0), 2.0)
    return mean + spread * coarse / coarse.std() / 2


def _held(since: float, full: float) -> float:
    """0 before the onset, 1 once complete, back to 0 from 0.7 s on within 0.6 s."""
    if since < 0:
        return 0.0
    if since < full:
        return since / full
    return float(np.clip(1 - (since - full - 0.7) / 0.6, 0, 1))
