"""After a cut the program proposes where the abdomen is; the keeper confirms."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from clipmark.motion.proposals import Proposal, propose, surest
from clipmark.motion.result import Box
from tests.film.profiles import recipe, scene_view
from tests.film.render import Renderer


def scene(x: float, y: float, degrees: float, ground: int) -> np.ndarray:
    draw = np.random.default_rng(ground)
    picture = 120 + 15 * cv2.GaussianBlur(draw.normal(0, 3, (180, 240)).astype(np.float32), (0, 0), 2)
    skin = 50 + 20 * cv2.GaussianBlur(
        np.random.default_rng(77).normal(0, 3, (180, 240)).astype(np.float32), (0, 0), 3
    )
    inside = np.zeros((180, 240), np.float32)
    cv2.ellipse(inside, (120, 90), (30, 22), 0, 0, 360, 1.0, -1)
    move = cv2.getRotationMatrix2D((120, 90), -degrees, 1.0) + np.float64([[0, 0, x - 120], [0, 0, y - 90]])
    inside, skin = (cv2.warpAffine(part, move, (240, 180)) for part in (inside, skin))
    return np.clip(picture * (1 - inside) + skin * inside, 0, 255).astype(np.uint8)


def test_the_abdomen_is_proposed_where_it_lies_after_a_cut_though_turned() -> None:
    found = propose(scene(90, 70, 0, 1), Box(0, 60, 48, 60, 44), scene(150, 110, 40, 2), frame=30)

    assert found is not None
    assert found.found
    middle = (found.box.x + found.box.w / 2, found.box.y + found.box.h / 2)
    assert np.hypot(middle[0] - 150, middle[1] - 110) < 6
    assert 30 == found.box.frame


def test_a_view_without_her_gives_a_weaker_proposal() -> None:
    there = propose(scene(90, 70, 0, 1), Box(0, 60, 48, 60, 44), scene(150, 110, 40, 2), frame=30)
    empty = propose(scene(90, 70, 0, 1), Box(0, 60, 48, 60, 44), scene(900, 900, 0, 2), frame=30)

    assert there is not None
    assert empty is not None
    assert empty.confidence < there.confidence
    assert there.found
    assert not empty.found


@pytest.mark.parametrize("seed", [0, 4])
def test_she_is_found_again_in_rendered_film_after_a_cut_and_not_where_she_is_not(seed: int) -> None:
    """Both animals rendered; back to the same view in dimmer light after she moved, a turned camera, ground alone."""
    plan = recipe(("tripod", "", "", "", "dark")[seed], seed)
    late, first = plan.story.seconds - 1.5, plan.scenes[0]
    aim = (plan.story.at("her x", late) - 0.35, plan.story.at("her y", late))
    turned = scene_view(np.random.default_rng(seed), plan.size, first.view.scale, first.view.turn + 1.2, aim)
    plan.scenes.append(replace(first, view=turned))
    film = Renderer(plan)

    def shot(scene: int, when: float, light: float = 1.0) -> tuple[np.ndarray, list[float]]:
        picture = film._look(scene, when)
        film._record(scene, when)
        seen = cv2.cvtColor(film._sensor(picture, when, scene), cv2.COLOR_BGR2GRAY)
        return cv2.convertScaleAbs(seen, alpha=light), film.truth[-1].box  # type: ignore[return-value]

    earlier, box = shot(0, 2.0)
    ground = cv2.warpAffine(film.stages[1].background, film.camera(late)[:2], plan.size)
    bare = cv2.cvtColor(film._sensor(ground, late, 1), cv2.COLOR_BGR2GRAY)

    for picture, true in (shot(0, late, 0.7), shot(1, late)):
        proposal = propose(earlier, Box(0, *box), picture, 5)
        assert proposal is not None
        assert proposal.found
        assert overlap(proposal.box, true) > 0.5
    nothing = propose(earlier, Box(0, *box), bare, 5)
    assert nothing is None or not nothing.found


def overlap(box: Box, true: list[float]) -> float:
    """Shared by joint area, 0..1."""
    x, y, w, h = true
    wide = min(box.x + box.w, x + w) - max(box.x, x)
    high = min(box.y + box.h, y + h) - max(box.y, y)
    shared = max(0.0, wide) * max(0.0, high)
    return shared / (box.w * box.h + w * h - shared)


def _at(x: float, confidence: float, ahead: float = 0.0) -> Proposal:
    return Proposal(Box(30, x, 40.0, 60.0, 40.0), confidence, ahead)


def test_of_places_from_several_looks_the_likest_sure_one_is_taken() -> None:
    right = _at(100, 0.85)

    assert right is surest([_at(10, 0.76), right, _at(50, 0.5)])


def test_two_looks_that_lead_to_one_place_are_sure_together_and_apart_they_are_not() -> None:
    assert surest([_at(100, 0.58), _at(106, 0.57)]) is not None
    assert surest([_at(100, 0.58), _at(20, 0.57)]) is None
