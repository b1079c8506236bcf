"""A theraphosid spider as flat furry parts: sprites made once, laid from a pose.

Lengths are the female's abdomen lengths. Proportions: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.film.stage import Placed, View, body_matrix, rod_matrix
from tests.film.textures import Coat, draw_eyes, furry_oval, furry_rod, soft_shadow

# Legs I-IV of one side, front first: where the hip sits (degrees from forward), where the foot rests
# (degrees, distance), and how far the knee bows out.
LEGS = ((38, 22, 1.75, 0.16), (70, 60, 1.45, 0.12), (105, 112, 1.35, -0.10), (140, 150, 1.8, -0.16))
SIDES = (1.0, -1.0)
HINGE = 0.35  # from the middle of the carapace back to the hinge
COLOURS = {  # body, hair, joints (blue green red)
    "black": ((20, 20, 24), (44, 46, 54), (30, 30, 36)),
    "velvet red": ((22, 22, 26), (40, 60, 170), (28, 28, 34)),
    "brown": ((34, 50, 74), (70, 100, 140), (50, 72, 104)),
    "knees": ((20, 22, 28), (90, 120, 150), (40, 120, 225)),
    "ember": ((17, 18, 22), (44, 62, 88), (30, 92, 190)),
    "gold": ((28, 36, 46), (90, 150, 200), (60, 90, 120)),
    "grey": ((62, 64, 68), (120, 124, 130), (96, 98, 104)),
    "blue": ((92, 62, 38), (170, 120, 70), (120, 92, 60)),
    "pale": ((100, 125, 150), (160, 185, 205), (120, 150, 175)),
}


@dataclass(frozen=True, slots=True)
class Look:
    """What makes one spider unlike another."""

    colour: str
    size: float = 1.0  # body size against the female's 1.0
    reach: float = 1.0  # leg length against the body
    plump: float = 0.72  # abdomen width against its length
    abdomen: float = 1.0  # abdomen length against the body size
    pattern: str = ""
    fur: float = 1.0
    contrast: float = 1.0
    brightness: float = 1.0
    stout: float = 1.0  # thickness of the legs
    fine: bool = False  # four leg segments instead of three, banded, with eyes and brushes (slower)


@dataclass(slots=True)
class Pose:
    """Where a spider is and how it holds itself; `feet` (8, 3) world places, `palps` (2, 3) in the body's frame."""

    x: float
    y: float
    heading: float
    draw: tuple[float, float]  # abdomen off its resting place: forward, to the right; own abdomen lengths
    turn: float  # of the abdomen about the hinge, radians
    stretch: float
    swell: float
    feet: np.ndarray
    palps: np.ndarray
    rear: float = 0.0  # how far the front of the carapace is raised, 0..1


class Spider:
    """Sprites of one animal at `resolution` pixels an abdomen length."""

    def __init__(self, rng: np.random.Generator, look: Look, resolution: float, name: str):
        self.look, self.resolution, self.name = look, resolution, name
        body, hair, joint = (np.array(c) * look.brightness for c in COLOURS[look.colour])
        middle = body.mean()
        body, hair, joint = (middle + (c - middle) * look.contrast for c in (body, hair, joint))
        s, r = look.size, resolution
        wide = look.stout * s
        fur = Coat(tuple(body), tuple(hair), 0.35 * look.contrast, look.fur, 0.10 + 0.08 * look.fur, 0.15, 0.2)
        bare = Coat(tuple(body * 1.15), tuple(hair), 0.25 * look.contrast, 0.5 * look.fur, 0.09, 0.35, 0.1)
        limb = Coat(tuple(body * 1.05), tuple(hair), 0.35 * look.contrast, look.fur, 0.45, 0.1, 0.25)
        a = s * look.abdomen
        self.abdomen_length, self.abdomen_width = a, a * look.plump
        self.abdomen = furry_oval(
            rng, a * r, a * look.plump * r, fur, egg=rng.uniform(0.08, 0.22), pattern=look.pattern
        )
        self.carapace = furry_oval(rng, 0.84 * s * r, 0.7 * s * r, bare, egg=0.1, pattern="star", radial=True)
        self.fang = furry_oval(rng, 0.34 * s * r, 0.2 * s * r, bare, egg=0.0)
        self.rods = {
            "femur": (furry_rod(rng, 0.7 * r, 0.19 * wide * r, limb), 0.7 * r),
            "tibia": (furry_rod(rng, 0.6 * r, 0.165 * wide * r, limb, 0.85, tuple(joint)), 0.6 * r),
            "tarsus": (furry_rod(rng, 0.5 * r, 0.12 * wide * r, limb, 0.75), 0.5 * r),
            "palp": (furry_rod(rng, 0.32 * r, 0.14 * wide * r, limb, 0.9), 0.32 * r),
            "spinneret": (furry_rod(rng, 0.16 * r, 0.05 * s * r, limb, 0.6), 0.16 * r),
        }
        self.shadow = soft_shadow(1.0 * s * r, 0.8 * s * r, 0.07 * s * r, 0.5)
        self.leg_shadow = (soft_shadow(0.5 * r, 0.09 * s * r, 0.03 * r, 0.34), 0.5 * r)

        if look.fine:
            self._refine(rng, body, hair, joint)
        self._memo: dict[tuple, tuple[tuple, list[Placed]]] = {}

    def _refine(self, rng: np.random.Generator, body: np.ndarray, hair: np.ndarray, joint: np.ndarray) -> None:
        """Sprites for a film that people look at: bright patellae, banded legs, long hairs on the abdomen, eyes."""
        s, r, look = self.look.size, self.resolution, self.look
        a, wide = s * look.abdomen, look.stout * s
        long = Coat(tuple(body), tuple(hair), 0.35, 0.8 * look.fur, 0.2, 0.22, 0.22)
        self.abdomen = furry_oval(rng, a * r, a * look.plump * r, long, egg=0.14, pattern=look.pattern)
        pale = tuple(0.4 * joint + 0.6 * np.array([92, 112, 134]))
        shell = Coat(tuple(body * 1.3 + 4), tuple(0.7 * np.array(pale)), 0.25, 0.5 * look.fur, 0.07, 0.35, 0.05)
        self.carapace = furry_oval(rng, 0.84 * s * r, 0.72 * s * r, shell, egg=0.16, pattern="star", radial=True)
        draw_eyes(self.carapace, 0.84 * s * r)
        limb = Coat(tuple(body * 1.1), tuple(hair * 0.85), 0.3, 0.9 * look.fur, 0.42, 0.1, 0.12)
        knee = Coat(tuple(joint * 0.85), tuple(joint), 0.22, 0.7 * look.fur, 0.3, 0.2, 0.1)
        brush = Coat(tuple(body * 0.9), tuple(body * 2.2), 0.25, 0.8 * look.fur, 0.3, 0.1, 0.1)
        self.rods |= {
            "femur": (furry_rod(rng, 0.55 * r, 0.2 * wide * r, limb), 0.55 * r),
            "patella": (furry_rod(rng, 0.3 * r, 0.185 * wide * r, knee, 0.95), 0.3 * r),
            "tibia": (furry_rod(rng, 0.5 * r, 0.17 * wide * r, limb, 0.85, tuple(joint * 0.7)), 0.5 * r),
            "tarsus": (furry_rod(rng, 0.5 * r, 0.14 * wide * r, brush, 0.8, tuple(pale)), 0.5 * r),
        }
        if self.name == "him":  # the thick end of a mature male's palp
            glove = Coat(tuple(body + 0.22 * joint), tuple(body + 0.4 * joint), 0.25, 0.7, 0.25, 0.25, 0.1)
            self.rods["bulb"] = furry_rod(rng, 0.32 * r, 0.2 * wide * r, glove, 1.05), 0.32 * r

    def _same(self, name: tuple, pose: Pose, view: View, more: tuple = ()) -> tuple[tuple, list[Placed] | None]:
        """What was laid last under this name, if neither body, feet nor view have changed."""
        key = (
            pose.x,
            pose.y,
            pose.heading,
            pose.feet.tobytes(),
            view.lean,
            id(view) if view.lean == (0.0, 0.0) else 0,
            more,
        )
        old = self._memo.get(name)
        return key, old[1] if old is not None and old[0] == key else None

    # -- skeleton ---------------------------------------------------------------------------------------------
    def hip(self, pose: Pose, leg: int) -> np.ndarray:
        """World place of a leg's root; legs 0-3 on the right, 4-7 on the left, front first."""
        angle = pose.heading + SIDES[leg // 4] * np.radians(LEGS[leg % 4][0])
        return np.array(
            [pose.x + 0.3 * self.look.size * np.cos(angle), pose.y + 0.3 * self.look.size * np.sin(angle)]
        )

    def rest_feet(self, x: float, y: float, heading: float) -> np.ndarray:
        """Resting places of the eight feet, (8, 2)."""
        out = []
        for side in SIDES:
            for _, foot, distance, _ in LEGS:
                angle = heading + side * np.radians(foot)
                reach = distance * self.look.size * self.look.reach
                out.append((x + reach * np.cos(angle), y + reach * np.sin(angle)))
        return np.array(out)

    def abdomen_place(self, pose: Pose) -> tuple[np.ndarray, float]:
        """World middle and axis angle (pointing to the front) of the abdomen."""
        forward = np.array([np.cos(pose.heading), np.sin(pose.heading)])
        right = np.array([-forward[1], forward[0]])
        axis = pose.heading + pose.turn
        hinge = np.array([pose.x, pose.y]) - HINGE * self.look.size * forward
        length = self.abdomen_length
        middle = hinge - 0.47 * length * (1 + pose.stretch) * np.array([np.cos(axis), np.sin(axis)])
        return middle + length * (pose.draw[0] * forward + pose.draw[1] * right), axis

    # -- laying -----------------------------------------------------------------------------------------------
    def legs(self, pose: Pose, view: View, which: tuple[int, ...] = tuple(range(8))) -> list[Placed]:
        key, known = self._same(("legs", which), pose, view)
        if known is not None:
            return known
        out = []
        for leg in which:
            hip, foot = self.hip(pose, leg), pose.feet[leg]
            along = foot[:2] - hip
            bow = SIDES[leg // 4] * LEGS[leg % 4][3] * np.array([-along[1], along[0]])
            s = self.look.size
            points = [
                view.place(*hip, 0.2 * s),
                view.place(*(hip + 0.40 * along + bow), 0.52 * s + 0.4 * foot[2]),
                view.place(*(hip + 0.74 * along + 0.6 * bow), 0.28 * s + 0.8 * foot[2]),
                view.place(*foot[:2], foot[2]),
            ]
            names = ["femur", "tibia", "tarsus"]
            if self.look.fine:
                points.insert(1, view.place(*(hip + 0.33 * along + 0.9 * bow), 0.50 * s + 0.4 * foot[2]))
                points[2] = view.place(*(hip + 0.50 * along + bow), 0.47 * s + 0.5 * foot[2])
                names.insert(1, "patella")
            for k, name in enumerate(names):
                sprite, length = self.rods[name]
                scale = view.scale / self.resolution
                matrix = rod_matrix(sprite, length, scale, points[k], points[k + 1])
                out.append(Placed(f"{self.name} {name} {leg}", sprite, matrix))
        self._memo["legs", which] = (key, out)
        return out

    def palps(self, pose: Pose, view: View) -> list[Placed]:
        out = []
        c, s = np.cos(pose.heading), np.sin(pose.heading)
        for k, side in enumerate(SIDES):
            size = self.look.size
            root = np.array([0.36 * size, side * 0.14 * size])
            tip = pose.palps[k]
            elbow = (root + tip[:2]) / 2 + np.array([0.03, side * 0.10]) * size
            places = []
            for (fx, fy), z in ((root, 0.2 * size), (elbow, 0.3 * size), (tip[:2], tip[2])):
                places.append(view.place(pose.x + c * fx - s * fy, pose.y + s * fx + c * fy, z))
            scale = view.scale / self.resolution
            for j in range(2):
                sprite, length = self.rods["bulb" if j and "bulb" in self.rods else "palp"]
                matrix = rod_matrix(sprite, length, scale, places[j], places[j + 1])
                out.append(Placed(f"{self.name} palp {k} {j}", sprite, matrix))
        return out

    def front(self, pose: Pose, view: View) -> list[Placed]:
        """Carapace and chelicerae."""
        out = []
        linear = view.body()
        forward = np.array([np.cos(pose.heading), np.sin(pose.heading)])
        right = np.array([-forward[1], forward[0]])
        short = 1 - 0.25 * pose.rear
        z = (0.25 + 0.25 * pose.rear) * self.look.size
        for side in SIDES:
            at = np.array([pose.x, pose.y]) + self.look.size * (0.45 * short * forward + side * 0.11 * right)
            matrix = body_matrix(self.fang, self.resolution, linear, pose.heading + 0.12 * side, view.place(*at, z))
            out.append(Placed(f"{self.name} fang {side}", self.fang, matrix))
        place = view.place(pose.x, pose.y, z)
        matrix = body_matrix(self.carapace, self.resolution, linear, pose.heading, place, (short, 1))
        out.append(Placed(f"{self.name} carapace", self.carapace, matrix))
        return out

    def rear(self, pose: Pose, view: View, subject: bool) -> list[Placed]:
        """Spinnerets and abdomen."""
        out = []
        middle, axis = self.abdomen_place(pose)
        back = -np.array([np.cos(axis), np.sin(axis)])
        z = 0.3 * self.look.size
        sprite, length = self.rods["spinneret"]
        for side in SIDES:
            spread = np.array([np.cos(axis + np.pi + 0.35 * side), np.sin(axis + np.pi + 0.35 * side)])
            root = middle + back * 0.44 * self.abdomen_length + side * 0.05 * np.array([-back[1], back[0]])
            ends = view.place(*root, 0.6 * z), view.place(*(root + 0.17 * self.look.size * spread), 0.6 * z)
            matrix = rod_matrix(sprite, length, view.scale / self.resolution, *ends)
            out.append(Placed(f"{self.name} spinneret {side}", sprite, matrix))
        stretch = (1 + pose.stretch, 1 + pose.swell)
        matrix = body_matrix(self.abdomen, self.resolution, view.body(), axis, view.place(*middle, z), stretch)
        out.append(Placed(f"{self.name} abdomen", self.abdomen, matrix, subject))
        return out

    def shadows(self, pose: Pose, view: View, sun: tuple[float, float]) -> list[Placed]:
        """Soft shadows of body and legs, thrown to `sun` (world, lengths a height of one)."""
        out = []
        middle, axis = self.abdomen_place(pose)
        offset = 0.22 * self.look.size * np.array(sun)
        stretch = self.look.abdomen
        for name, at, angle, size in (
            ("carapace", np.array([pose.x, pose.y]), pose.heading, 0.85),
            ("abdomen", middle, axis, stretch),
        ):
            place = view.place(*(at + offset))
            matrix = body_matrix(self.shadow, self.resolution, view.flat(), angle, place, (size, size))
            out.append(Placed(f"{self.name} shadow {name}", self.shadow, matrix, soft=True))
        return out + self._leg_shadows(pose, view, sun)

    def _leg_shadows(self, pose: Pose, view: View, sun: tuple[float, float]) -> list[Placed]:
        key, known = self._same(("shadows",), pose, view)
        if known is not None:
            return known
        out = []
        sprite, length = self.leg_shadow
        for leg in range(8):
            hip, foot = self.hip(pose, leg), pose.feet[leg]
            along = foot[:2] - hip
            bow = SIDES[leg // 4] * LEGS[leg % 4][3] * np.array([-along[1], along[0]])
            knee = hip + 0.45 * along + bow
            ends = [((hip, 0.2), (knee, 0.5)), ((knee, 0.5), (foot[:2], 0.02 + foot[2]))]
            for j, ((start, low), (end, high)) in enumerate(ends):
                size = self.look.size
                a = view.place(*(start + low * size * np.array(sun)))
                b = view.place(*(end + high * size * np.array(sun)))
                matrix = rod_matrix(sprite, length, view.scale / self.resolution, a, b)
                out.append(Placed(f"{self.name} leg shadow {leg} {j}", sprite, matrix, soft=True))
        self._memo["shadows",] = (key, out)
        return out

    def outline(self, pose: Pose, view: View) -> np.ndarray:
        """Canvas points (24, 2) on the edge of the abdomen, hairs left out."""
        middle, axis = self.abdomen_place(pose)
        a = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        points = np.stack(
            [np.cos(a) * 0.5 * (1 + pose.stretch), np.sin(a) * 0.5 * self.look.plump * (1 + pose.swell)]
        )
        c, s = np.cos(axis), np.sin(axis)
        turned = view.body() @ (np.array([[c, -s], [s, c]]) @ points * self.abdomen_length)
        return turned.T + view.place(*middle, 0.3 * self.look.size)
