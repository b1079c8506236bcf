"""Signs beside the curve: read beside the window, hollow, with their figures; they tick nothing."""

from __future__ import annotations

from clipmark.book.model import Outline, Sign
from clipmark.draft.values import ABDOMEN_DRAWN, NEAR, PALPS_STILL
from tests.window.pulls.test_pulls_page import book, page, scanned  # noqa: F401


def test_the_signs_of_the_pull_on_view_are_shown_and_tick_nothing(page, qtbot) -> None:  # noqa: F811
    strip = page.moment.signs

    qtbot.waitUntil(lambda: bool(strip.signs), timeout=20_000)

    by_sign = {one.sign: one for one in strip.signs}
    assert by_sign[ABDOMEN_DRAWN].seen
    assert by_sign[ABDOMEN_DRAWN].figure > 2
    assert by_sign[PALPS_STILL].seen is False  # nothing stirs beside this oval
    assert by_sign[NEAR].seen is None
    assert "outline him" in strip.accessibleDescription()
    assert not any(page.panel.signs[sign].isChecked() for sign in Sign)
    assert not page.workspace.record.calls


def test_once_he_is_outlined_the_signs_are_read_again(page, qtbot) -> None:  # noqa: F811
    strip, space = page.moment.signs, page.workspace
    qtbot.waitUntil(lambda: bool(strip.signs), timeout=20_000)
    clip = space.clip

    space.edit(space.book.add_outline, Outline(0, clip.id, clip.first_pts, 230, 90, 60, 50, "male"))

    qtbot.waitUntil(lambda: any(one.sign == NEAR and one.seen for one in strip.signs), timeout=20_000)
