"""What happens in a film, as curves on a fine time grid, with the truth written down as it is told.

One Story is one stretch of world time. Channels are named arrays; acts add to them. Body channels of an animal
("her", "him"): x, y (world), heading, forward, side (abdomen off its rest, in its own lengths), turn, stretch,
swell, rear; palps and feet are solved at the end. Camera channels: cam x, cam y (share of the picture height),
cam turn, cam zoom (log), cam yaw, cam pitch (keystone: change of size over one picture height). Light channels:
gain, bias, red, blue, blur, flicker.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.film.spiders import SIDES, Pose, Spider

STEP = 0.004  # seconds between grid points


@dataclass(slots=True)
class Pull:
    """Truth of one pull, world seconds: `onset` where 5 % of it is done, `full` 95 %, `release` where it lets go."""

    onset: float
    full: float
    release: float | None
    released: float | None
    forward: float  # abdomen lengths along the body
    side: float
    tilt_deg: float
    abrupt_release: bool


@dataclass(slots=True)
class Distractor:
    kind: str
    start: float
    end: float


def smooth(x: np.ndarray) -> np.ndarray:
    """0 to 1 with least jerk over x in 0..1."""
    x = np.clip(x, 0, 1)
    return x**3 * (10 - 15 * x + 6 * x**2)


EDGE = 0.1894  # share of a least-jerk ramp's duration at which 5 % is done


def wander(rng: np.random.Generator, n: int, low: float, high: float, slope: float = 1.0) -> np.ndarray:
    """Random walk-like curve of unit deviation with frequencies `low`..`high` Hz, power falling with `slope`."""
    f = np.fft.rfftfreq(n, STEP)
    weight = np.where((f >= low) & (f <= high), 1 / np.maximum(f, 0.05) ** slope, 0)
    curve = np.fft.irfft(weight * (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f))), n)
    return curve / max(float(curve.std()), 1e-12)


@dataclass
class Story:
    """Curves of one film; `seconds` of world time, starting at 0."""

    rng: np.random.Generator
    seconds: float
    pulls: list[Pull] = field(default_factory=list)
    distractors: list[Distractor] = field(default_factory=list)
    channels: dict[str, np.ndarray] = field(default_factory=dict)
    palps: dict[str, list[tuple[float, float, float, float, float, str]]] = field(default_factory=dict)
    taps: dict[str, list[tuple[float, float, float, float, tuple[int, ...]]]] = field(default_factory=dict)
    strikes: list[float] = field(default_factory=list)  # when drumming palps hit the ground
    occluders: list[dict[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.t = np.arange(-0.2, self.seconds + 0.2, STEP)

    # -- curves -----------------------------------------------------------------------------------------------
    def curve(self, name: str) -> np.ndarray:
        return self.channels.setdefault(name, np.zeros_like(self.t))

    def add(self, name: str, values: np.ndarray | float) -> None:
        self.channels[name] = self.curve(name) + values

    def at(self, name: str, when: float) -> float:
        return float(np.interp(when, self.t, self.curve(name)))

    def ramp(self, start: float, duration: float) -> np.ndarray:
        return smooth((self.t - start) / max(duration, 1e-6))

    def bump(self, start: float, rise: float, hold: float, fall: float) -> np.ndarray:
        return self.ramp(start, rise) - self.ramp(start + rise + hold, fall)

    def tell(self, kind: str, start: float, end: float) -> None:
        self.distractors.append(Distractor(kind, float(start), float(end)))

    # -- her abdomen ------------------------------------------------------------------------------------------
    def pull(
        self,
        start: float,
        rise: float,
        hold: float,
        fall: float | None,
        forward: float,
        side: float = 0.0,
        tilt_deg: float = 0.0,
        carapace: float = 0.0,
        pitch: float = 0.0,
        jolt: float = 0.0,
    ) -> None:
        """Draw (abdomen lengths) and tilt her abdomen within `rise` s, hold, let go in `fall` s (None: never).

        `carapace`: share of the draw by which the whole body follows. `pitch`: how much shorter the abdomen looks,
        tipped up or down. `jolt`: overshoot, share of the pull.
        """
        shape = self.ramp(start, rise)
        if jolt:
            after = np.clip(self.t - start - 0.6 * rise, 0, None)
            shape = shape + jolt * np.exp(-after / 0.12) * np.sin(2 * np.pi * 5 * after)
        release = start + rise + hold
        if fall is not None:
            shape = shape - self.ramp(release, fall)
        self.add("her forward", forward * shape)
        self.add("her side", side * shape)
        self.add("her turn", np.radians(tilt_deg) * shape)
        self.add("her stretch", (-0.12 * abs(forward) - pitch) * shape)
        self.add("her swell", 0.06 * abs(forward) * shape)
        heading = self.at("her heading", start)
        self.add("her x", carapace * forward * shape * np.cos(heading))
        self.add("her y", carapace * forward * shape * np.sin(heading))
        edge = EDGE * rise
        self.pulls.append(
            Pull(
                start + edge,
                start + rise - edge,
                None if fall is None else release + EDGE * fall,
                None if fall is None else release + fall,
                forward,
                side,
                tilt_deg,
                fall is not None and fall < 0.5,
            )
        )

    def breathe(self, who: str, rate: float, depth: float) -> None:
        phase = 2 * np.pi * rate * self.t + 0.6 * wander(self.rng, len(self.t), 0.05, 0.4)
        self.add(f"{who} stretch", depth * np.sin(phase))
        self.add(f"{who} swell", 0.7 * depth * np.sin(phase + 0.4))

    def drift(self, who: str, size: float, degrees: float = 0.0) -> None:
        """Slow sagging of the abdomen, far slower than a pull."""
        n = len(self.t)
        self.add(f"{who} forward", size * wander(self.rng, n, 0.01, 0.12, 1.5))
        self.add(f"{who} side", size * wander(self.rng, n, 0.01, 0.12, 1.5))
        self.add(f"{who} turn", np.radians(degrees) * wander(self.rng, n, 0.01, 0.12, 1.5))

    # -- whole animals ----------------------------------------------------------------------------------------
    def walk(
        self,
        who: str,
        start: float,
        seconds: float,
        ahead: float,
        aside: float = 0.0,
        turn_deg: float = 0.0,
        jerky: float = 0.3,
    ) -> None:
        """The whole animal moves `ahead` and `aside` (world) and turns; `jerky` 0..1 makes it go in steps."""
        x = np.clip((self.t - start) / seconds, 0, 1)
        steps = max(1, round(seconds * 1.7))
        stepped = (np.floor(x * steps) + smooth((x * steps) % 1)) / steps
        shape = (1 - jerky) * smooth(x) + jerky * np.where(x < 1, stepped, 1)
        heading = self.at(f"{who} heading", start)
        self.add(f"{who} x", shape * (ahead * np.cos(heading) - aside * np.sin(heading)))
        self.add(f"{who} y", shape * (ahead * np.sin(heading) + aside * np.cos(heading)))
        self.add(f"{who} heading", np.radians(turn_deg) * shape)
        sway = (
            np.radians(2.0) * np.sin(2 * np.pi * 1.7 * self.t) * self.bump(start, 0.3, max(0.0, seconds - 0.6), 0.3)
        )
        self.add(f"{who} turn", sway)
        self.tell(f"{who} walks", start, start + seconds)

    def lurch(self, who: str, start: float, rise: float, ahead: float, aside: float, back: float | None) -> None:
        """The whole body is pushed abruptly, legs planted; `back`: seconds until it rocks back."""
        shape = self.ramp(start, rise)
        if back is not None:
            shape = shape - self.ramp(start + back, 0.3)
        heading = self.at(f"{who} heading", start)
        self.add(f"{who} x", shape * (ahead * np.cos(heading) - aside * np.sin(heading)))
        self.add(f"{who} y", shape * (ahead * np.sin(heading) + aside * np.cos(heading)))
        self.tell(f"{who} lurches", start, start + (back or rise) + 0.3)

    def quiver(self, who: str, start: float, seconds: float, rate: float, size: float) -> None:
        """Body jerks at `rate` Hz with planted feet."""
        shape = (
            size * np.sin(2 * np.pi * rate * (self.t - start)) * self.bump(start, 0.08, max(0.0, seconds - 0.2), 0.12)
        )
        heading = self.at(f"{who} heading", start)
        self.add(f"{who} x", shape * np.cos(heading))
        self.add(f"{who} y", shape * np.sin(heading))
        self.tell(f"{who} quivers", start, start + seconds)

    def beat(self, who: str, start: float, seconds: float, rate: float, size: float, kind: str = "box") -> None:
        """Palps beat alternately: "box" against her, "drum" down on the ground."""
        self.palps.setdefault(who, []).append((start, seconds, rate, size, self.rng.uniform(0, 6), kind))
        self.tell(f"{who} palps {kind}", start, start + seconds)
        if kind == "drum":
            k = np.arange(1, int(2 * rate * seconds))
            self.strikes.extend((start + k / (2 * rate)).tolist())

    def tap(self, who: str, start: float, seconds: float, rate: float, size: float, legs: tuple[int, ...]) -> None:
        """Legs lift and strike."""
        self.taps.setdefault(who, []).append((start, seconds, rate, size, legs))
        self.tell(f"{who} legs tap", start, start + seconds)

    # -- camera and light -------------------------------------------------------------------------------------
    def handheld(self, sway: float, tremor: float, turn_deg: float, zoom: float, keystone: float = 0.0) -> None:
        """A hand's sway and tremor (shares of the picture's height), turn, zoom, and keystone of a turning wrist."""
        n = len(self.t)
        for axis in ("cam x", "cam y"):
            self.add(axis, sway * wander(self.rng, n, 0.05, 1.5, 1.3) + tremor * wander(self.rng, n, 2, 11, 0.7))
        self.add("cam turn", np.radians(turn_deg) * wander(self.rng, n, 0.05, 2.0, 1.3))
        self.add("cam zoom", zoom * wander(self.rng, n, 0.05, 0.8, 1.3))
        if keystone:
            for axis in ("cam yaw", "cam pitch"):
                self.add(axis, keystone * wander(self.rng, n, 0.05, 1.5, 1.3))

    def bump_camera(self, start: float, size: float) -> None:
        after = np.clip(self.t - start, 0, None)
        ring = np.exp(-after / 0.18) * np.sin(2 * np.pi * self.rng.uniform(4, 9) * after) * (self.t > start)
        a = self.rng.uniform(0, 2 * np.pi)
        self.add("cam x", size * np.cos(a) * ring)
        self.add("cam y", size * np.sin(a) * ring)
        self.add("cam turn", 0.5 * size * ring * self.rng.choice([-1, 1]))
        stays = self.ramp(start, 0.1) * size * self.rng.uniform(-0.5, 0.5)
        self.add("cam x", stays)
        self.tell("camera bump", start, start + 0.6)

    def pan(self, start: float, seconds: float, dx: float, dy: float, back: bool = True) -> None:
        shape = self.ramp(start, seconds) - (self.ramp(start + 2 * seconds, seconds) if back else 0)
        self.add("cam x", dx * shape)
        self.add("cam y", dy * shape)
        self.tell("pan", start, start + seconds * (3 if back else 1))

    def zoom(self, start: float, seconds: float, factor: float, back_after: float | None) -> None:
        shape = self.ramp(start, seconds) - (self.ramp(start + back_after, seconds) if back_after else 0)
        self.add("cam zoom", np.log(factor) * shape)
        self.tell("zoom step", start, start + seconds + (back_after or 0))

    def refocus(self, start: float, seconds: float, blur: float) -> None:
        """Blur in frame-height thousandths, with the breathing of the picture that focusing brings."""
        shape = self.bump(start, seconds * 0.4, seconds * 0.1, seconds * 0.5)
        self.add("blur", blur * shape)
        self.add("cam zoom", 0.012 * shape)
        self.tell("refocus", start, start + seconds)

    def light_step(self, start: float, factor: float, seconds: float = 0.15, until: float | None = None) -> None:
        shape = self.ramp(start, seconds) - (self.ramp(until, seconds) if until else 0)
        self.add("gain", np.log(factor) * shape)
        self.tell("light step", start, start + seconds if until is None else until + seconds)

    def white_step(self, start: float, red: float, blue: float, seconds: float = 0.3) -> None:
        self.add("red", red * self.ramp(start, seconds))
        self.add("blue", blue * self.ramp(start, seconds))
        self.tell("white balance step", start, start + seconds)

    def occlude(
        self,
        kind: str,
        start: float,
        end: float,
        sprite: np.ndarray,
        resolution: float,
        path: np.ndarray,
        angle: float,
        height: float = 0.8,
        beat: float = 0.0,
    ) -> None:
        """Something passes (or lies) over the scene: `path` (k, 2) world places from start to end."""
        self.occluders.append(
            {
                "kind": kind,
                "start": start,
                "end": end,
                "sprite": sprite,
                "resolution": resolution,
                "path": np.asarray(path, float),
                "angle": angle,
                "height": height,
                "beat": beat,
            }
        )
        if kind != "edge":
            self.tell(kind, start, end)

    # -- solving ----------------------------------------------------------------------------------------------
    def solve_feet(self, who: str, spider: Spider, hz: float = 100.0) -> tuple[np.ndarray, np.ndarray]:
        """Feet that stay planted until the body has gone too far, then step: (times, feet (n, 8, 3))."""
        t = np.arange(self.t[0], self.t[-1], 1 / hz)
        x, y, heading = (np.interp(t, self.t, self.curve(f"{who} {c}")) for c in ("x", "y", "heading"))
        feet = np.zeros((len(t), 8, 3))
        planted = spider.rest_feet(x[0], y[0], heading[0])
        planted = planted + self.rng.normal(0, 0.06, planted.shape)
        start, goal, clock = planted.copy(), planted.copy(), np.full(8, -1.0)
        reach = 0.42 * spider.look.size * spider.look.reach
        pairs = np.array([0, 1, 0, 1, 1, 0, 1, 0])
        for i in range(len(t)):
            rest = spider.rest_feet(x[i], y[i], heading[i])
            far = np.hypot(*(planted - rest).T)
            swinging = clock >= 0
            for leg in np.flatnonzero((far > reach) & ~swinging):
                if not (swinging & (pairs != pairs[leg])).any() or far[leg] > 1.6 * reach:
                    start[leg] = planted[leg]
                    ahead = rest[leg] + 0.6 * (rest[leg] - planted[leg])
                    goal[leg] = ahead + self.rng.normal(0, 0.04, 2)
                    clock[leg] = 0.0
                    swinging = clock >= 0
            moving = clock >= 0
            if moving.any():
                clock[moving] += 1 / hz / 0.16
                done = smooth(clock[moving])[:, None]
                planted[moving] = start[moving] * (1 - done) + goal[moving] * done
                feet[i, moving, 2] = 0.22 * np.sin(np.pi * np.clip(clock[moving], 0, 1))
                clock[clock >= 1] = -1
            feet[i, :, :2] = planted
        for begin, seconds, rate, size, legs in self.taps.get(who, []):
            envelope = np.interp(t, self.t, self.bump(begin, 0.1, max(0.0, seconds - 0.2), 0.1))
            for k, leg in enumerate(legs):
                phase = 2 * np.pi * rate * (t - begin) + k * np.pi
                lift = envelope * size * (0.5 - 0.5 * np.cos(phase))
                feet[:, leg, 2] += lift
                feet[:, leg, :2] += (0.25 * lift)[:, None] * np.array([np.cos(phase[0]), np.sin(phase[0])])
        return t, feet

    def palps_at(self, who: str, spider: Spider, when: float) -> np.ndarray:
        """Palp tips in the body's frame at one instant, (2, 3)."""
        size = spider.look.size
        tips = np.array([[0.82 * size, side * 0.16 * size, 0.08 * size] for side in SIDES])
        for begin, seconds, rate, reach, phase, kind in self.palps.get(who, []):
            if not begin <= when < begin + seconds:
                continue
            ease = min(1.0, (when - begin) / 0.08, (begin + seconds - when) / 0.08)
            for k in range(2):
                angle = 2 * np.pi * rate * (when - begin) + np.pi * k
                if kind == "drum":
                    tips[k, 2] += ease * reach * (0.5 + 0.5 * np.cos(angle))
                    tips[k, 0] += 0.3 * ease * reach * (0.5 + 0.5 * np.cos(angle))
                else:
                    tips[k, 0] += ease * reach * (0.35 + 0.65 * np.sin(angle + phase))
                    tips[k, 1] += 0.5 * ease * reach * np.cos(angle + phase) * SIDES[k]
        return tips

    def pose(self, who: str, spider: Spider, when: float, feet: tuple[np.ndarray, np.ndarray]) -> Pose:
        value = {
            c: self.at(f"{who} {c}", when)
            for c in ("x", "y", "heading", "forward", "side", "turn", "stretch", "swell", "rear")
        }
        i = (when - feet[0][0]) / (feet[0][1] - feet[0][0])
        low = int(np.clip(np.floor(i), 0, len(feet[0]) - 2))
        share = float(np.clip(i - low, 0, 1))
        planted = feet[1][low] * (1 - share) + feet[1][low + 1] * share
        return Pose(
            value["x"],
            value["y"],
            value["heading"],
            (value["forward"], value["side"]),
            value["turn"],
            value["stretch"],
            value["swell"],
            planted,
            self.palps_at(who, spider, when),
            value["rear"],
        )
