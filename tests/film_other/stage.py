"""Two animals over time: everything that moves is a curve, one value a frame; `Stage.frame` paints one picture.

Lengths are pixels of the unshaken picture; angles radians, 0 to the right, growing clockwise on the screen.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.film_other import paint

Curve = NDArray[np.float64]
Picture = NDArray[np.uint8]


@dataclass
class Animal:
    """One spider. `at` is her hinge (between carapace and abdomen), `heading` where she looks."""

    size: float  # length of the abdomen
    tone: tuple[float, float, float]
    contrast: float
    at: Curve  # (n, 2)
    heading: Curve  # (n,)
    draw: Curve  # (n,) share of her abdomen's length by which it is drawn towards the carapace
    tilt: Curve  # (n,) turn of the abdomen about the hinge
    lift: Curve  # (n, 8, 2) extra offset of each foot
    palps: Curve  # (n, 2) reach of each palp, -1 up to 1 struck
    shown: NDArray[np.bool_]
    seed: int
    carapace: Picture = field(init=False)
    abdomen: Picture = field(init=False)
    feet: Curve = field(init=False)

    def __post_init__(self) -> None:
        rng = np.random.default_rng(self.seed)
        size = round(self.size)
        self.abdomen = paint.hairy_ellipse(rng, size, int(size * 0.76), self.tone, self.contrast)
        darker = tuple(0.8 * v for v in self.tone)
        self.carapace = paint.hairy_ellipse(rng, int(size * 0.72), int(size * 0.6), darker, self.contrast)  # type: ignore[arg-type]
        spread = np.radians([28, 62, 112, 150])
        turn = np.concatenate([spread, -spread]) + rng.normal(0, 0.06, 8)
        reach = self.size * np.array([1.75, 1.45, 1.35, 1.75] * 2) * rng.uniform(0.92, 1.08, 8)
        self.feet = np.stack([reach * np.cos(turn), reach * np.sin(turn)], 1)

    def middle(self, k: int) -> NDArray[np.float64]:
        """Middle of the abdomen in the unshaken picture."""
        back = self.heading[k] + np.pi + self.tilt[k]
        far = self.size * (0.5 - self.draw[k])
        return self.at[k] + far * np.array([np.cos(back), np.sin(back)])

    def points(self, k: int) -> NDArray[np.float64]:
        """Points whose movement is the animal's: abdomen, hinge, feet, palps; (12, 2)."""
        turn = _turn(self.heading[k])
        feet = self.at[k] + (self.feet + self.lift[k]) @ turn.T
        return np.vstack([self.middle(k), self.at[k], feet, self._palps(k)])

    def _palps(self, k: int) -> NDArray[np.float64]:
        turn = _turn(self.heading[k])
        ends = np.array([[0.95, 0.2], [0.95, -0.2]]) * self.size
        ends[:, 0] += 0.09 * self.size * self.palps[k]
        return self.at[k] + ends @ turn.T

    def paint(self, canvas: Picture, k: int, camera: NDArray[np.float64]) -> None:
        if not self.shown[k]:
            return
        turn, zoom = _turn(self.heading[k]), float(np.hypot(*camera[:, 0]))
        ahead = turn @ np.array([0.36 * self.size, 0.0])
        tips = self.at[k] + (self.feet + self.lift[k]) @ turn.T
        for j, tip in enumerate(tips):
            side = 1 if j < 4 else -1
            root = self.at[k] + ahead + turn @ np.array([0.08 - 0.1 * (j % 4), 0.16 * side]) * self.size
            bend = 0.5 * (root + tip) + turn @ np.array([0.0, 0.12 * side]) * self.size
            paint.tapered(canvas, _through(camera, np.stack([root, bend, tip])), 0.13 * self.size * zoom, self.tone)
        for tip, side in zip(self._palps(k), (1, -1), strict=True):
            root = self.at[k] + turn @ np.array([0.62, 0.1 * side]) * self.size
            paint.tapered(canvas, _through(camera, np.stack([root, tip])), 0.1 * self.size * zoom, self.tone)
        paint.lay(canvas, self.carapace, _put(self.carapace, self.at[k] + ahead, self.heading[k], camera))
        angle = self.heading[k] + self.tilt[k]
        paint.lay(canvas, self.abdomen, _put(self.abdomen, self.middle(k), angle, camera))

    def box(self, k: int, camera: NDArray[np.float64]) -> tuple[float, float, float, float]:
        """The upright box round the abdomen as shown: x, y, w, h."""
        angle = np.linspace(0, 2 * np.pi, 60)
        ring = np.stack([0.5 * self.size * np.cos(angle), 0.38 * self.size * np.sin(angle)], 1)
        seen = _through(camera, self.middle(k) + ring @ _turn(self.heading[k] + self.tilt[k]).T)
        low, high = seen.min(0), seen.max(0)
        return float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1])


@dataclass
class Stage:
    """The whole scene; `frame(k)` paints picture k, BGR of shape (height, width, 3)."""

    width: int
    height: int
    grounds: list[Picture]  # one a view, each larger than the picture
    view: NDArray[np.int64]  # (n,) which ground is seen
    camera: Curve  # (n, 4): shift x, y in pixels, turn in radians, log zoom
    her: Animal
    him: Animal
    gain: Curve
    blur: Curve
    covers: list[tuple[int, int, Picture, NDArray[np.float64]]]  # first, end, sprite, (k, 2) middle a frame
    grain: float
    seed: int

    def matrix(self, k: int) -> NDArray[np.float64]:
        dx, dy, turn, zoom = self.camera[k]
        middle = np.array([self.width / 2, self.height / 2])
        linear = np.exp(zoom) * _turn(turn)
        return np.column_stack([linear, middle - linear @ middle + (dx, dy)])

    def frame(self, k: int) -> Picture:
        camera = self.matrix(k)
        soil = self.grounds[self.view[k]]
        margin = np.array([(soil.shape[1] - self.width) / 2, (soil.shape[0] - self.height) / 2])
        seen = camera.copy()
        seen[:, 2] -= camera[:, :2] @ margin
        canvas = cv2.warpAffine(soil, seen, (self.width, self.height), borderMode=cv2.BORDER_REFLECT)
        if self.view[k] == 0 or len(self.grounds) == 2:
            self.her.paint(canvas, k, camera)
            self.him.paint(canvas, k, camera)
        for first, end, sprite, path in self.covers:
            if first <= k < end:
                paint.lay(canvas, sprite, _put(sprite, path[k - first], 0.0, np.eye(2, 3)))
        light = canvas.astype(np.float32) * self.gain[k]
        if self.blur[k] > 0.3:
            light = cv2.GaussianBlur(light, (0, 0), float(self.blur[k]))
        rng = np.random.default_rng((self.seed, k))
        noise = rng.normal(0, self.grain, (self.height, self.width, 1)).astype(np.float32)
        return np.clip(light + noise, 0, 255).astype(np.uint8)


def _turn(angle: float) -> NDArray[np.float64]:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _through(camera: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    return points @ camera[:, :2].T + camera[:, 2]


def _put(
    sprite: Picture, middle: NDArray[np.float64], angle: float, camera: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Sprite pixels to canvas pixels: its middle lies at `middle` (scene), its x axis along `angle`."""
    linear = camera[:, :2] @ _turn(angle)
    half = np.array([sprite.shape[1] / 2, sprite.shape[0] / 2])
    return np.column_stack([linear, _through(camera, middle[None])[0] - linear @ half])
