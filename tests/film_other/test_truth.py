"""The other hand's truth holds in its own pictures."""

from __future__ import annotations

import numpy as np

from tests.film_other import courtships, pairings


def test_the_picture_changes_where_and_when_her_abdomen_is_pulled():
    stage, truth = pairings._scene("plain", 0)
    pull, rate = truth["pulls"][0], truth["rate"]
    before, after = (stage.frame(int(s * rate)).astype(int) for s in (pull["onset_s"], pull["full_s"] + 0.1))
    x, y, w, h = (int(v) for v in truth["boxes"][int(pull["onset_s"] * rate)])

    inside = np.abs(after - before)[y : y + h, x : x + w].mean()

    assert inside > 3 * np.abs(after - before)[:40, :40].mean()


def test_a_courtship_begins_with_his_introduction_and_ends_with_the_separation():
    _, sound, truth = courtships._scene(1)

    names = [act["act"] for act in truth["acts"]]

    assert (names[0], names[-1]) == ("introduced", "separated")
    assert len(sound) == int(courtships.SECONDS * 48_000)
