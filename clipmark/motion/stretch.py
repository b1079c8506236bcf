"""One outline on its way through the film, and what is noted of every frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from clipmark.motion.evidence import Sight
from clipmark.motion.outlines import Shape, boxed
from clipmark.motion.parameters import MotionParameters
from clipmark.motion.planted import Planter
from clipmark.motion.pose import Follower
from clipmark.motion.pulls import LEVER
from clipmark.motion.record import Record
from clipmark.motion.result import Box
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey
from clipmark.motion.watch import Watch


@dataclass(frozen=True, slots=True)
class Hint:
    """Where following begins: the frame, the top left corner of the box and the shape in it, pixels of the analysed
    picture."""

    frame: int
    x: float
    y: float
    shape: Shape

    @property
    def middle(self) -> complex:
        """Of the box, complex pixels; what the follower calls the abdomen's place."""
        return complex(self.x + (self.shape.w - 1) / 2, self.y + (self.shape.h - 1) / 2)


def as_drawn(box: Box, ratio: float) -> Hint:
    """A keeper's box as it is; `ratio`: displayed by analysed pixels."""
    return Hint(box.frame, box.x / ratio, box.y / ratio, boxed(box.w / ratio, box.h / ratio))


class Stretch:
    """One outline on its way through the film: follower, watch and where it writes."""

    def __init__(
        self, number: int, hint: Hint, picture: Grey, ratio: float, record: Record, parameters: MotionParameters,
        backwards: bool = False,
    ):  # fmt: skip
        self.number, self.frame, self._ratio, self._record = number, hint.frame, ratio, record
        self.follower = Follower(picture, (hint.x, hint.y, hint.shape.w, hint.shape.h), hint.shape)
        self.length = hint.shape.length
        self.watch = Watch(hint.shape, parameters, backwards)
        self.planter = Planter(hint.shape)

    def begin(self, time_s: float, scene: Similarity) -> None:
        """Write the first frame, on which the outline was drawn."""
        self._first = scene.inverse.after(self.follower.place)
        self._write(time_s, self.frame, self.follower.place, 1.0, scene)

    def follow(self, i: int, time_s: float, dt: float, picture: Grey, step: Similarity, scene: Similarity) -> None:
        """Follow into frame `i`, `dt` seconds after the last, and write what was found."""
        look = self.follower.follow(picture, step, dt)
        self.planter.take(time_s, picture, self.follower, step, dt, look.lost)
        self._record.inside[i], self._record.stretch[i] = look.inside, self.number
        if look.lost:
            self._record.columns["quality"][i] = look.quality
            self.watch.add(time_s, (np.nan, np.nan, np.nan), 0.0, None)
        else:
            self._write(time_s, i, look.place, look.quality, scene)

    def _write(self, time_s: float, i: int, place: Similarity, quality: float, scene: Similarity) -> None:
        record, ratio = self._record, self._ratio
        columns, still = record.columns, scene.inverse.after(place)
        columns["x"][i], columns["y"][i] = place.c.real * ratio, place.c.imag * ratio
        columns["angle"][i], columns["scale"][i] = place.angle_deg, place.scale
        columns["quality"][i] = quality
        turn = np.angle(still.m / self._first.m) * LEVER
        values = (still.c.real / self.length, still.c.imag / self.length, float(turn))
        record.values[i], record.length[i] = values, self.length * ratio
        record.followed[i], record.stretch[i], record.inside[i] = True, self.number, 1.0
        columns["busy"][i] = self.follower.busy
        self.watch.add(time_s, values, quality, Sight(self.follower.crop, scene, place))
