"""A recipe to a film and its truth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.film.encode import write_film
from tests.film.recipe import Recipe, Scene
from tests.film.spiders import Pose, Spider
from tests.film.stage import Placed, Stage, View, body_matrix
from tests.film.story import Story
from tests.film.textures import fractal, ground

MARGIN = 1.5  # the canvas is this much larger than the picture


def through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points (n, 2) carried through a 3x3 projective matrix."""
    carried = points @ matrix[:, :2].T + matrix[:, 2]
    return carried[:, :2] / carried[:, 2:]


@dataclass(slots=True)
class FrameTruth:
    box: list[float] | None  # shown pixels, None where out of the picture
    hidden: float  # share of the abdomen that cannot be seen
    centre: tuple[float, float]
    corners: np.ndarray


@dataclass
class Actors:
    """Both animals with their feet solved."""

    story: Story
    her: Spider
    him: Spider | None
    feet: dict[str, tuple[np.ndarray, np.ndarray]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.feet["her"] = self.story.solve_feet("her", self.her)
        if self.him is not None:
            self.feet["him"] = self.story.solve_feet("him", self.him)

    def pose(self, who: str, when: float) -> Pose:
        spider = self.her if who == "her" or self.him is None else self.him
        return self.story.pose(who, spider, when, self.feet[who])


class Renderer:
    """Renders the frames of one recipe. Deterministic: all chance comes from the recipe's seed."""

    def __init__(self, recipe: Recipe):
        self.recipe = recipe
        self.rng = np.random.default_rng([recipe.seed, 77])
        resolution = min(320.0, 1.25 * max(s.view.scale for s in recipe.scenes))
        her = Spider(np.random.default_rng([recipe.seed, 1]), recipe.her, resolution, "her")
        him = Spider(np.random.default_rng([recipe.seed, 2]), recipe.him, resolution, "him")
        self.actors = Actors(recipe.story, her, him)
        w, h = recipe.size
        self.canvas_size = (int(w * MARGIN), int(h * MARGIN))
        self.keystone = any(bool(np.any(recipe.story.curve(f"cam {axis}"))) for axis in ("yaw", "pitch"))
        self.stages = [self._stage(scene) for scene in recipe.scenes]
        self.truth: list[FrameTruth] = []
        tall = recipe.shown[1] + 64, recipe.shown[0] + 64
        noise = self.rng.standard_normal((*tall, 3)).astype(np.float32)
        common = self.rng.standard_normal((*tall, 1)).astype(np.float32)
        self.noise = np.round(recipe.noise * (0.8 * common + 0.45 * noise)).astype(np.int16)
        yy, xx = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j]
        self._standing: np.ndarray | None = None
        self.vignette = (1 - recipe.vignette * (xx**2 + yy**2) / 2).astype(np.float32)
        self._specks = specks(self.rng, recipe.size, recipe.specks) if recipe.specks else None
        self._before: np.ndarray | None = None
        self._shadow_field = fractal(np.random.default_rng([recipe.seed, 3]), (h, w), w / 3, 2)

    def _stage(self, scene: Scene) -> Stage:
        w, h = self.canvas_size
        if scene.picture is not None:
            flat, resolution = scene.picture
            turn = scene.view.flat() / resolution
            shift = np.array(scene.view.centre) - turn @ (np.array([flat.shape[1], flat.shape[0]]) / 2)
            matrix = np.column_stack([turn, shift])
            laid = cv2.warpAffine(flat, matrix, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101)
            return Stage(laid)
        rng = np.random.default_rng([scene.ground_seed, 5])
        flat = ground(rng, scene.ground, (int(h * 1.15), int(w * 1.15)), scene.grain, scene.contrast)
        squeeze = np.cos(scene.view.slant)
        c, s = np.cos(scene.view.turn), np.sin(scene.view.turn)
        turn = np.array([[c, -s], [s * squeeze, c * squeeze]])
        shift = np.array([w / 2, h / 2]) - turn @ (np.array([flat.shape[1], flat.shape[0]]) / 2)
        matrix = np.column_stack([turn, shift])
        return Stage(cv2.warpAffine(flat, matrix, (w, h), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101))

    # -- one instant ------------------------------------------------------------------------------------------
    def camera(self, when: float) -> np.ndarray:
        """Canvas to render pixels, 3x3, with the rolling shutter's shear and the keystone of a turning camera."""
        story, (w, h) = self.recipe.story, self.recipe.size
        x, y = h * story.at("cam x", when), h * story.at("cam y", when)
        angle, factor = story.at("cam turn", when), np.exp(story.at("cam zoom", when))
        c, s = factor * np.cos(angle), factor * np.sin(angle)
        m = np.array([[c, -s], [s, c]])
        canvas_middle = np.array(self.canvas_size) / 2
        matrix = np.column_stack([m, np.array([w / 2 + x, h / 2 + y]) - m @ canvas_middle])
        if self.recipe.readout:
            step = 0.008
            vx = h * (story.at("cam x", when + step) - story.at("cam x", when - step)) / (2 * step)
            vy = h * (story.at("cam y", when + step) - story.at("cam y", when - step)) / (2 * step)
            lag = self.recipe.readout / h
            shear = np.array([[1, vx * lag, -vx * lag * h / 2], [0, 1 + vy * lag, -vy * lag * h / 2]])
            matrix = shear[:, :2] @ matrix + np.column_stack([np.zeros((2, 2)), shear[:, 2]])
        yaw, pitch = story.at("cam yaw", when), story.at("cam pitch", when)
        tilted = np.array([[1, 0, 0], [0, 1, 0], [yaw / h, pitch / h, 1 - (yaw * w + pitch * h) / (2 * h)]])
        return tilted @ np.vstack([matrix, [0, 0, 1]])

    def parts(self, when: float, view: View) -> list[Placed]:
        her, him = self.actors.her, self.actors.him
        pose = self.actors.pose("her", when)
        sun, over = self.recipe.sun, self.recipe.legs_over
        out = her.shadows(pose, view, sun)
        his = None if him is None else self.actors.pose("him", when)
        if him is not None and his is not None:
            out += him.shadows(his, view, sun)
            out += him.legs(his, view, (1, 2, 3, 5, 6, 7)) + him.rear(his, view, False)
            out += him.front(his, view)
        out += her.legs(pose, view, tuple(k for k in range(8) if k not in over))
        out += her.palps(pose, view)
        if him is not None and his is not None:
            out += him.palps(his, view)
            if not self.recipe.his_legs_over:
                out += him.legs(his, view, (0, 4))
        out += her.front(pose, view) + her.rear(pose, view, True)
        out += her.legs(pose, view, over)
        if him is not None and his is not None and self.recipe.his_legs_over:
            out += him.legs(his, view, (0, 4))
        return out + self._occluders(when, view)

    def _occluders(self, when: float, view: View) -> list[Placed]:
        out = []
        for k, item in enumerate(self.recipe.story.occluders):
            if not item["start"] <= when < item["end"]:
                continue
            share = (when - item["start"]) / (item["end"] - item["start"])
            path = item["path"]
            at = np.array([np.interp(share, np.linspace(0, 1, len(path)), path[:, c]) for c in (0, 1)])
            angle = item["angle"]
            if item["beat"]:
                angle += 0.25 * np.sin(2 * np.pi * item["beat"] * when)
            place = view.place(*at, item["height"])
            matrix = body_matrix(item["sprite"], item["resolution"], view.body(), angle, place)
            out.append(Placed(f"occluder {k}", item["sprite"], matrix, soft=item["kind"] == "mist"))
        return out

    def _scene(self, when: float) -> tuple[int, float]:
        """Which scene, and how much of the one before still shines through (a dissolve)."""
        index = max(k for k, scene in enumerate(self.recipe.scenes) if k == 0 or when >= scene.start)
        scene = self.recipe.scenes[index]
        fade = 0.0
        if index and scene.dissolve and when < scene.start + scene.dissolve:
            fade = 1 - (when - scene.start) / scene.dissolve
        return index, fade

    def _view(self, index: int, when: float) -> View:
        base = self.recipe.scenes[index].view
        if not self.recipe.parallax:
            return base
        story = self.recipe.story
        lean = (-self.recipe.parallax * story.at("cam x", when), -self.recipe.parallax * story.at("cam y", when))
        return View(base.scale, base.turn, base.slant, base.centre, lean)

    def _look(self, index: int, when: float, again: bool = False) -> np.ndarray:
        """The picture at one instant; `again`: the animals are as they were, only the camera moved."""
        stage = self.stages[index]
        canvas = stage.canvas if again else stage.draw(self.parts(when, self._view(index, when)))
        matrix, how = self.camera(when), {"flags": cv2.INTER_LINEAR, "borderMode": cv2.BORDER_REFLECT_101}
        if self.keystone:
            return cv2.warpPerspective(canvas, matrix, self.recipe.size, **how)
        return cv2.warpAffine(canvas, matrix[:2], self.recipe.size, **how)

    def _subframes(self, index: int, when: float) -> tuple[int, bool]:
        """How many instants make up an exposure, and whether the animals stand still in it."""
        half = self.recipe.shutter / 2
        a, b = self.camera(when - half), self.camera(when + half)
        w, h = self.canvas_size
        corners = np.array([[0.3 * w, 0.3 * h], [0.7 * w, 0.5 * h], [0.5 * w, 0.7 * h]])
        shaken = float(np.abs(through(b, corners) - through(a, corners)).max())
        moved = 0.0
        scale = self.recipe.scenes[index].view.scale
        for who in ("her", "him"):
            p, q = self.actors.pose(who, when - half), self.actors.pose(who, when + half)
            reach = max(
                float(np.abs(p.feet - q.feet).max()),
                float(np.abs(p.palps - q.palps).max()),
                abs(p.x - q.x) + abs(p.y - q.y) + abs(p.heading - q.heading),
                abs(p.draw[0] - q.draw[0]) + abs(p.draw[1] - q.draw[1]) + abs(p.turn - q.turn),
            )
            moved = max(moved, scale * reach)
        if any(o["start"] <= when < o["end"] and o["kind"] != "edge" for o in self.recipe.story.occluders):
            moved = max(moved, 3.0)
        return int(np.clip(np.ceil(max(moved, shaken) / 1.5), 1, 5)), moved < 0.3

    def frames(self) -> Iterator[np.ndarray]:
        """Shown BGR frames; `truth` grows by one a frame."""
        recipe = self.recipe
        for number, tick in enumerate(recipe.pts):
            when = float((int(tick) - int(recipe.pts[0])) * recipe.time_base)
            index, fade = self._scene(when)
            count, still = self._subframes(index, when)
            if still:
                self._look(index, when)
            offsets = (np.arange(count) - (count - 1) / 2) / count * recipe.shutter
            total: np.ndarray | None = None
            for offset in offsets:
                picture = self._look(index, when + float(offset), still)
                if count > 1:
                    total = picture.astype(np.float32) if total is None else cv2.accumulate(picture, total)
            if total is not None:
                picture = cv2.convertScaleAbs(total, alpha=1 / count)
            self._record(index, when)
            if fade:
                before = self._look(index - 1, when)
                picture = cv2.addWeighted(picture, 1 - fade, before, fade, 0)
            yield self._sensor(picture, when, number)

    def _record(self, index: int, when: float) -> None:
        stage, view = self.stages[index], self._view(index, when)
        pose = self.actors.pose("her", when)
        outline = self.actors.her.outline(pose, view)
        w, h = self.recipe.size
        zoom = self.recipe.shown[0] / w
        matrix = self.camera(when)
        points = through(matrix, outline) * zoom
        seen = stage.visible
        inside = through(np.linalg.inv(matrix), np.array([[0, 0], [w, 0], [w, h], [0, h]]))
        x0, y0 = np.floor(outline.min(0)).astype(int) - 12
        x1, y1 = np.ceil(outline.max(0)).astype(int) + 12
        x0, y0 = max(0, x0), max(0, y0)
        crop = seen[y0 : max(y0, y1), x0 : max(x0, x1)]
        mask = np.zeros(crop.shape, np.uint8)
        if mask.size:
            cv2.fillConvexPoly(mask, np.round(inside - (x0, y0)).astype(np.int32), 1)
        area = max(stage.subject_area, 1.0)
        visible = float((crop * mask).sum()) / area if mask.size else 0.0
        low, high = points.min(0), points.max(0)
        box = None
        if high[0] > 0 and high[1] > 0 and low[0] < self.recipe.shown[0] and low[1] < self.recipe.shown[1]:
            box = [float(v) for v in (*low, *(high - low))]
        middle = points.mean(0)
        self.truth.append(
            FrameTruth(box, float(np.clip(1 - visible, 0, 1)), (float(middle[0]), float(middle[1])), points)
        )

    # -- lens and sensor --------------------------------------------------------------------------------------
    def _sensor(self, picture: np.ndarray, when: float, number: int) -> np.ndarray:
        recipe, story = self.recipe, self.recipe.story
        h = recipe.size[1]
        blur = recipe.softness + h / 1000 * abs(story.at("blur", when))
        if blur > 0.25:
            picture = cv2.GaussianBlur(picture, (0, 0), blur)
        gain = np.exp(story.at("gain", when))
        white = gain * np.array([1 + story.at("blue", when), 1.0, 1 + story.at("red", when)])
        mix = white[:, None] * (recipe.saturation * np.eye(3) + (1 - recipe.saturation) / 3)
        lit = cv2.transform(picture.astype(np.float32), np.column_stack([mix, np.zeros(3)]))
        light = self._light(when)
        if light is not None:
            cv2.multiply(lit, light, lit)
        if self._specks is not None:
            lit = lit * self._specks[0] + self._specks[1]
        high = cv2.convertScaleAbs(cv2.max(cv2.add(lit, (story.at("bias", when),) * 4), 0))
        if recipe.shown != recipe.size:
            way = cv2.INTER_CUBIC if recipe.shown[0] > recipe.size[0] else cv2.INTER_AREA
            high = cv2.resize(high, recipe.shown, interpolation=way)
        if recipe.sharpen:
            high = cv2.addWeighted(high, 1 + recipe.sharpen, cv2.GaussianBlur(high, (0, 0), 1.3), -recipe.sharpen, 0)
        if recipe.noise:
            oy, ox = (int(v) for v in self.rng.integers(0, 64, 2))
            grain = self.noise[oy : oy + recipe.shown[1], ox : ox + recipe.shown[0]]
            if number % 2:
                grain = grain[::-1]
            high = cv2.add(high, grain, dtype=cv2.CV_8U)
        return self._denoised(high) if recipe.denoise else high

    def _denoised(self, picture: np.ndarray) -> np.ndarray:
        """What phones do in poor light: small changes are averaged away over time, large ones pass."""
        if self._before is not None:
            change = cv2.cvtColor(cv2.absdiff(picture, self._before), cv2.COLOR_BGR2GRAY)
            change = cv2.blur(change, (5, 5))
            fresh = np.clip((change.astype(np.float32) - 0.5 * self.recipe.denoise) / self.recipe.denoise, 0.3, 1)
            fresh = cv2.merge([fresh] * 3)
            old = self._before.astype(np.float32)
            picture = cv2.convertScaleAbs(old + fresh * (picture.astype(np.float32) - old) + 0.0)
        self._before = picture
        return picture

    def _light(self, when: float) -> np.ndarray | None:
        """Vignette, flicker bands and the moving shadow: factor (h, w, 3), None where there is none."""
        recipe = self.recipe
        hertz, depth = recipe.flicker
        if not depth and recipe.moving_shadow is None:
            if self._standing is None and recipe.vignette:
                self._standing = cv2.merge([self.vignette] * 3)
            return self._standing
        light = self.vignette
        if depth:
            y = np.arange(recipe.size[1], dtype=np.float32)[:, None] / recipe.size[1]
            phase = 2 * np.pi * hertz * (when + y * recipe.readout)
            exposure = np.sinc(hertz * recipe.shutter)  # a long exposure averages the flicker away
            light = light * (1 + depth * exposure * np.sin(phase)).astype(np.float32)
        if recipe.moving_shadow is not None:
            x = np.linspace(0, 1, recipe.size[0], dtype=np.float32)[None]
            far = (x + 0.06 * self._shadow_field - recipe.moving_shadow(when)) / 0.03
            light = light * (0.55 + 0.45 / (1 + np.exp(np.clip(-far, -30, 30)))).astype(np.float32)
        return cv2.merge([light] * 3)


def specks(rng: np.random.Generator, size: tuple[int, int], strength: float) -> tuple[np.ndarray, np.ndarray]:
    """Dirt on the pane (factor) and reflections in it (added light), fixed to the picture; (h, w, 3) each."""
    w, h = size
    dirt, shine = np.ones((h, w), np.float32), np.zeros((h, w), np.float32)
    for _ in range(int(18 * strength) + 1):
        at = (int(rng.integers(0, w)), int(rng.integers(0, h)))
        cv2.circle(dirt, at, int(rng.integers(1, max(2, h // 50))), 1 - strength * float(rng.uniform(0.1, 0.5)), -1)
    for _ in range(3):
        at = (int(rng.integers(0, w)), int(rng.integers(0, h)))
        axes = (int(rng.uniform(0.05, 0.3) * w), int(rng.uniform(0.01, 0.08) * h))
        cv2.ellipse(shine, at, axes, float(rng.uniform(0, 180)), 0, 360, strength * float(rng.uniform(10, 50)), -1)
    dirt = cv2.GaussianBlur(dirt, (0, 0), max(0.8, h / 250))
    shine = cv2.GaussianBlur(shine, (0, 0), h / 60)
    return cv2.merge([dirt] * 3), cv2.merge([shine] * 3)


def render(recipe: Recipe, path: Path, sound: np.ndarray | None = None) -> tuple[Renderer, dict[str, Any]]:
    """Render a recipe to `path`; returns the renderer (with frame truth) and the truth document."""
    from tests.film.truth import document

    renderer = Renderer(recipe)
    write_film(
        path,
        renderer.frames(),
        recipe.pts,
        recipe.time_base,
        recipe.rate,
        recipe.options,
        recipe.rotation,
        recipe.codec,
        sound,
    )
    return renderer, document(recipe, renderer)
