"""A view in which nobody drew her: the program found her; the keeper confirms or redraws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from clipmark.book.model import Outline
from clipmark.motion.result import FrameSpan, Sensitivity, Shot, Ticks, UsedOutline, in_ticks
from clipmark.window.film.drawing import Drawing
from clipmark.window.film.found_card import FoundCard
from clipmark.window.film.outlining import without_outline
from tests.window.conftest import pulled, put_in
from tests.window.film.test_pass_runner import result


class Passes:
    """What would be begun."""

    def __init__(self):
        self.begun = []

    def begin_shot(self, clip, start_pts, end_pts):
        self.begun.append((clip.id, start_pts, end_pts))


class Hand(Drawing):
    """Drawing without a picture."""

    def __init__(self):
        super(Drawing, self).__init__()

    def draw(self, part):
        self.asked = part


@pytest.fixture
def card(workspace, tmp_path, qtbot):
    film = pulled(tmp_path / "pulled.mkv")
    with qtbot.waitSignal(workspace.clipReady):
        put_in(workspace, film)
    index = workspace.film(workspace.clip_id).index
    n, ticks = len(index), Ticks(index.pts, int(index.end_pts))
    found = replace(
        result(n), shots=(Shot(0, 20), Shot(20, n, "cut")), watched=(FrameSpan(0, n),), unwatched=(),
        outlines=(
            UsedOutline(0, "drawn", True, 10, 10, 50, 40, 50), UsedOutline(20, "found", False, 20, 12, 50, 40, 50)
        ),
        sensitivity=(Sensitivity(0, 9, 0.06), Sensitivity(20, 9, None)),
    )  # fmt: skip
    workspace.book.add_outline(Outline(0, workspace.clip_id, int(index.pts[0]), 10, 10, 50, 40))
    workspace.book.add_pass(workspace.clip_id, in_ticks(found, ticks))
    workspace.refresh()
    made = FoundCard(workspace, Hand(), Passes())
    qtbot.addWidget(made)
    made.pts = np.asarray(index.pts).tolist()
    return made


def test_the_card_stands_only_where_the_program_found_her_by_itself(card):
    card.show_at(card.workspace.clip_id, card.pts[5])
    assert card.isHidden()
    card.show_at(card.workspace.clip_id, card.pts[25])

    assert not card.isHidden()
    assert () == without_outline(card.workspace, card.workspace.clip)


def test_confirming_keeps_the_found_outline_as_the_keepers_own(card):
    card.show_at(card.workspace.clip_id, card.pts[25])
    card.confirm()
    card.show_at(card.workspace.clip_id, card.pts[25])

    assert card.isHidden()
    assert (card.pts[20], 20, 12) == [(o.pts, o.x, o.y) for o in card.workspace.record.outlines][-1]


def test_redrawing_repeats_the_pass_for_that_shot_alone(card):
    card.show_at(card.workspace.clip_id, card.pts[25])
    card.redraw()
    card.drawing.keptAt.emit(card.workspace.clip_id, card.pts[25])
    card.drawing.keptAt.emit(card.workspace.clip_id, card.pts[26])

    end = card.workspace.record.shots[-1].end_pts
    assert "abdomen" == card.drawing.asked
    assert [(card.workspace.clip_id, card.pts[20], end)] == card.passes.begun
