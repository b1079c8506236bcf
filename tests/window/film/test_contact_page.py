"""The contact sheet in the window: pictures of what moves; a press goes there."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from clipmark.report.kept_surveys import KeptSurvey
from clipmark.window.main_window import MainWindow

DOCUMENT = {"clip": {"seconds": 4.0}}


@pytest.fixture
def surveyed(on_view: MainWindow, qtbot) -> MainWindow:
    """The film's survey says: it moves from 1 to 2 s, in the left half of the picture."""
    page = on_view.pages["film"]
    film = on_view.workspace.film(on_view.workspace.clip_id)
    qtbot.waitUntil(lambda: not on_view.workspace.tasks.tasks, timeout=20_000)
    trails = np.array([[1.0, 0.0]])
    known = KeptSurvey("keyframes", True, np.zeros(4), ((1.0, 2.0),), (), (), (), DOCUMENT, trails)
    page.moving._known[film.fingerprint] = known
    return on_view


def test_a_press_on_a_picture_goes_to_its_time(surveyed: MainWindow, qtbot) -> None:
    page = surveyed.pages["film"]
    page.player.go(Fraction(0))

    page._show_contact()
    sheet = page._contact
    qtbot.waitUntil(lambda: sheet.list.count() == 1, timeout=10_000)
    sheet.list.itemClicked.emit(sheet.list.item(0))

    assert pytest.approx(1.0, abs=0.05) == float(page.player.place)
    assert not sheet.trails.pixmap().isNull()
    assert sheet.print.isEnabled()
    sheet.close()


def test_the_map_shows_where_it_moved(surveyed: MainWindow) -> None:
    from io import BytesIO

    from PIL import Image

    from clipmark.report.sheets.contact_sheet import trail_map

    page = surveyed.pages["film"]
    film = surveyed.workspace.film(surveyed.workspace.clip_id)
    jpeg = trail_map(film, page.moving._known[film.fingerprint])

    shown = np.asarray(Image.open(BytesIO(jpeg))).astype(float)
    width = shown.shape[1]
    assert shown[:, : width // 4, 0].mean() > 2 * shown[:, -width // 4 :, 0].mean()


def test_a_film_that_is_still_being_surveyed_is_said_so(surveyed: MainWindow) -> None:
    page = surveyed.pages["film"]
    film = surveyed.workspace.film(surveyed.workspace.clip_id)
    page.moving._known[film.fingerprint] = None

    page._show_contact()

    assert "still being surveyed" in page._contact.said.text()
    assert not page._contact.print.isEnabled()
    page._contact.close()
