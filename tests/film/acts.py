"""Groups of acts and troubles that profiles are composed of. Each adds to a recipe's story and keeps the truth."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from tests.film.recipe import Recipe, Scene
from tests.film.textures import GROUNDS, bark_piece, furry_rod, hand, soft_shadow

Spans = list[tuple[float, float]]


def pulls(
    film: Recipe,
    rng: np.random.Generator,
    count: int,
    least: float = 0.03,
    most: float = 0.35,
    tilt: tuple[float, float] = (3, 25),
) -> Spans:
    """Place `count` pulls, one in each stretch of the film; returns the spans that they take, onset to released."""
    story = film.story
    slot = (story.seconds - 2.0) / count
    spans = []
    unreleased = 0
    for k in range(count):
        start = 1.0 + slot * k + rng.uniform(0.25, max(0.3, 0.45 * slot))
        room = 1.0 + slot * (k + 1) - start - 0.5
        rise = float(rng.uniform(0.06, 0.30))
        fall: float | None = float(rng.uniform(0.06, 0.3)) if rng.random() < 0.35 else float(rng.uniform(0.6, 2.5))
        fall = min(fall, max(0.06, 0.5 * (room - rise - 0.3)))
        hold = float(np.clip(np.exp(rng.uniform(np.log(0.3), np.log(8))), 0.3, max(0.3, room - rise - fall)))
        if rng.random() < 0.15 and unreleased < 2:
            fall, unreleased = None, unreleased + 1
        size = float(np.exp(rng.uniform(np.log(least), np.log(most))))
        kind = rng.choice(["draw", "draw", "tip", "both"])
        twist = float(rng.choice([-1, 1]) * rng.uniform(*tilt)) if kind != "draw" else float(rng.normal(0, 1.0))
        if kind == "tip":
            # turned by so much its middle already moves by about half of that angle; a little draw comes with it
            forward, side = float(rng.uniform(-0.2, 0.6) * least), float(rng.normal(0, 0.3) * least)
        else:
            a = rng.normal(0, 0.45)
            forward, side = size * float(np.cos(a)), size * float(np.sin(a))
        jolt = float(rng.uniform(0, 0.15)) if rng.random() < 0.4 else 0.0
        pitch = float(rng.uniform(-0.04, 0.10)) if kind != "draw" else 0.0
        follows = float(rng.choice([0, 0, rng.uniform(0, 0.25)]))
        story.pull(start, rise, hold, fall, forward, side, twist, follows, pitch, jolt)
        if rng.random() < 0.5:  # he stretches toward her with it
            story.lurch("him", start - 0.05, 0.25, rng.uniform(0.01, 0.06), 0.0, rise + hold)
        spans.append((start, start + rise + hold + (fall or 0.3)))
    return spans


def gaps(film: Recipe, spans: Spans, least: float) -> Spans:
    """Stretches between pulls that are at least so long, with a margin at both ends."""
    edges = [(0.0, 0.6), *sorted(spans), (film.story.seconds - 0.5, film.story.seconds)]
    free = [(a[1] + 0.6, b[0] - 0.7) for a, b in pairwise(edges)]
    return [(a, b) for a, b in free if b - a >= least]


def spot(rng: np.random.Generator, free: Spans, seconds: float) -> float | None:
    """A random start for something `seconds` long inside the free stretches; None where nothing is long enough."""
    fit = [(a, b) for a, b in free if b - a >= seconds]
    if not fit:
        return None
    room = np.array([b - a - seconds + 0.01 for a, b in fit])
    a, b = fit[int(rng.choice(len(fit), p=room / room.sum()))]
    return float(rng.uniform(a, b - seconds))


# -- animals ------------------------------------------------------------------------------------------------------
def male_life(film: Recipe, rng: np.random.Generator, busy: float) -> None:
    """What a male does beside her all the time: palps, taps, jerks; `busy` 0..1.5 is how much of the film."""
    story, t = film.story, 0.3
    while t < story.seconds - 1:
        seconds = float(rng.uniform(0.5, 3.5))
        if rng.random() < busy:
            what = rng.choice(["box", "box", "drum", "tap", "quiver"])
            if what in ("box", "drum"):
                story.beat(
                    "him", t, seconds, rng.uniform(4, 12 if what == "box" else 8), rng.uniform(0.05, 0.16), what
                )
            elif what == "tap":
                legs = ((0, 4), (0,), (0, 4, 1))[int(rng.integers(3))]
                story.tap("him", t, seconds, rng.uniform(1, 5), rng.uniform(0.1, 0.35), legs)
            else:
                story.quiver("him", t, min(seconds, 1.2), rng.uniform(5, 14), rng.uniform(0.01, 0.04))
        t += seconds + float(rng.uniform(0.2, 2.0))
    if busy and rng.random() < 0.5:
        story.tap("her", rng.uniform(1, story.seconds - 3), rng.uniform(0.6, 2), rng.uniform(2, 7), 0.15, (0, 4))


def her_walk(film: Recipe, rng: np.random.Generator, start: float, seconds: float, size: float = 1.0) -> None:
    """She goes or turns; he follows so that the picture stays plausible."""
    ahead, aside = float(rng.uniform(-0.5, 0.5) * size), float(rng.uniform(-0.3, 0.3) * size)
    turn = float(rng.uniform(-35, 35) * size)
    jerky = float(rng.uniform(0, 0.9))
    film.story.walk("her", start, seconds, ahead, aside, turn, jerky)
    heading = film.story.at("her heading", start)
    shape = film.story.ramp(start + 0.1, seconds)
    film.story.add("him x", shape * (ahead * np.cos(heading) - aside * np.sin(heading)))
    film.story.add("him y", shape * (ahead * np.sin(heading) + aside * np.cos(heading)))


def walks_between(film: Recipe, rng: np.random.Generator, spans: Spans, count: int) -> None:
    free = gaps(film, spans, 0.8)
    for _ in range(count):
        seconds = float(rng.uniform(0.5, 3.0))
        start = spot(rng, free, seconds)
        if start is None:
            continue
        her_walk(film, rng, start, seconds, float(rng.uniform(0.3, 1.0)))
        free = _without(free, start, start + seconds)


def _without(free: Spans, start: float, end: float) -> Spans:
    out: Spans = []
    for a, b in free:
        if end <= a or start >= b:
            out.append((a, b))
        else:
            out += [(a, start - 0.3), (end + 0.3, b)]
    return [(a, b) for a, b in out if b - a > 0.3]


# -- things in front ----------------------------------------------------------------------------------------------
def _cover_sprite(film: Recipe, rng: np.random.Generator, kind: str) -> tuple[np.ndarray, float]:
    resolution = 90.0
    if kind == "hand":
        return hand(rng, 5.5 * resolution, 1.6 * resolution, bool(rng.random() < 0.3)), resolution
    if kind == "brush":
        from tests.film.textures import Coat

        tone = float(rng.uniform(60, 200))
        coat = Coat((tone * 0.6, tone * 0.75, tone), (tone, tone, tone), 0.2, 1.0, 0.5)
        return furry_rod(rng, 3.0 * resolution, 0.22 * resolution, coat, 0.5), resolution
    if kind == "leg":
        from tests.film.spiders import COLOURS
        from tests.film.textures import Coat

        body, hair, _ = COLOURS[film.him.colour]
        return furry_rod(rng, 2.2 * resolution, 0.15 * resolution, Coat(body, hair, 0.4, 1.0, 0.5), 0.7), resolution
    return bark_piece(rng, rng.uniform(1.6, 3.0) * resolution, rng.uniform(1.0, 1.8) * resolution), resolution


def pass_over(
    film: Recipe, rng: np.random.Generator, kind: str, start: float, seconds: float, full: bool = False
) -> None:
    """A leg, brush, hand or piece of bark sweeps over (or past) her abdomen."""
    story = film.story
    her = np.array([story.at("her x", start), story.at("her y", start)])
    heading = story.at("her heading", start)
    target = her - 0.85 * np.array([np.cos(heading), np.sin(heading)])
    sprite, resolution = _cover_sprite(film, rng, kind)
    half = sprite.shape[1] / resolution / 2
    a = float(rng.uniform(0, 2 * np.pi))
    out = np.array([np.cos(a), np.sin(a)])
    aside = np.array([-out[1], out[0]])
    if kind in ("leg", "brush", "hand") and not full:
        # reaches in with its tip and strokes across
        tip = target + rng.uniform(-0.2, 0.5) * out
        middle = tip + half * out
        swing = rng.uniform(0.3, 1.0) * aside
        path = [middle + 2.5 * out, middle - swing * 0.5, middle + swing * 0.5, middle + 2.5 * out]
        story.occlude(
            kind,
            start,
            start + seconds,
            sprite,
            resolution,
            np.array(path),
            a + np.pi,
            0.8,
            float(rng.choice([0, 3])),
        )
        return
    path = [
        target + (half + 3) * out,
        target + rng.uniform(-0.2, 0.2) * aside,
        target + rng.uniform(-0.2, 0.2) * aside,
    ]
    path += [target + (half + 3) * (out if rng.random() < 0.5 else -out)]
    story.occlude(kind, start, start + seconds, sprite, resolution, np.array(path), a + np.pi, 0.8)


def covers_between(film: Recipe, rng: np.random.Generator, spans: Spans, count: int, full: bool) -> None:
    free = gaps(film, spans, 0.9)
    for k in range(count):
        seconds = float(rng.uniform(0.8, 2.6))
        start = spot(rng, free, seconds)
        if start is None:
            continue
        whole = full and (k == 0 or rng.random() < 0.5)
        kind = str(rng.choice(["hand", "bark"] if whole else ["leg", "brush", "hand"]))
        pass_over(film, rng, kind, start, seconds, whole)
        free = _without(free, start, start + seconds)


def lasting_cover(film: Recipe, rng: np.random.Generator, share: float) -> None:
    """A bark edge or a resting leg that lies over part of the abdomen for the whole film."""
    if rng.random() < 0.3:
        sprite, resolution = _cover_sprite(film, rng, "leg")
        at = np.array([-0.85, 0.0]) + rng.uniform(-0.3, 0.3, 2)
        film.story.occlude("edge", -1.0, 1e6, sprite, resolution, np.array([at, at]), rng.uniform(0, np.pi), 0.5)
        return
    sprite, resolution = _cover_sprite(film, rng, "bark")
    a = float(rng.uniform(0.6 * np.pi, 1.4 * np.pi))  # from the rear or the side, so that the front stays free
    out = np.array([np.cos(a), np.sin(a)])
    half = sprite.shape[0] / resolution / 2
    radius = 0.5 if abs(np.cos(a)) > 0.7 else 0.5 * film.her.plump
    at = np.array([-0.85, 0.0]) + out * (radius * (1 - 2 * share) + half)
    film.story.occlude("edge", -1.0, 1e6, sprite, resolution, np.array([at, at]), a + np.pi / 2, 0.4)
    film.notes["cover"] = share


# -- camera -------------------------------------------------------------------------------------------------------
def hold_by_hand(film: Recipe, rng: np.random.Generator, level: float) -> None:
    wrist = float(rng.uniform(0.002, 0.012)) if rng.random() < 0.5 else 0.0  # share of size from edge to edge
    film.story.handheld(0.018 * level, 0.0022 * level, 0.9 * level, 0.012 * level, wrist * level)


def camera_trouble(film: Recipe, rng: np.random.Generator, spans: Spans, count: int) -> None:
    story, free = film.story, gaps(film, spans, 0.7)
    for _ in range(count):
        kind = str(rng.choice(["bump", "pan", "zoom", "refocus"]))
        seconds = {"bump": 0.7, "pan": 2.4, "zoom": 2.5, "refocus": 1.5}[kind]
        start = spot(rng, free, seconds)
        if start is None:
            continue
        if kind == "bump":
            story.bump_camera(start, float(np.exp(rng.uniform(np.log(0.004), np.log(0.05)))))
        elif kind == "pan":
            story.pan(start, rng.uniform(0.2, 0.8), rng.uniform(-0.12, 0.12), rng.uniform(-0.1, 0.1))
        elif kind == "zoom":
            story.zoom(start, rng.uniform(0.05, 0.6), rng.uniform(1.05, 1.25), rng.uniform(1.0, 1.8))
        else:
            story.refocus(start, 1.4, rng.uniform(2, 8))
        free = _without(free, start, start + seconds)


def look_away(film: Recipe, rng: np.random.Generator, spans: Spans) -> None:
    """The camera swings to something else for a while: her abdomen leaves the picture and comes back."""
    seconds = float(rng.uniform(0.8, 1.6))
    start = spot(rng, gaps(film, spans, seconds + 1.0), seconds + 1.0)
    if start is None:
        return
    shape = film.story.bump(start, 0.4, seconds, 0.5)
    away = float(rng.choice([-1, 1]) * rng.uniform(0.68, 0.8))
    if rng.random() < 0.6:
        film.story.add("cam x", away * film.size[0] / film.size[1] * shape)
    else:
        film.story.add("cam y", 1.05 * away * shape)
    film.story.tell("camera looks away", start, start + seconds + 0.9)


def cut_between(film: Recipe, rng: np.random.Generator, spans: Spans, count: int) -> None:
    """Cuts to other angles; a third of them dissolve."""
    from tests.film.profiles import scene_view

    free = [(a + 0.2, b) for a, b in gaps(film, spans, 0.9)]
    used: list[float] = []
    for _ in range(count):
        dissolve = float(rng.uniform(0.4, 0.8)) if rng.random() < 0.3 else 0.0
        start = spot(rng, free, 0.6 + dissolve)
        if start is None:
            continue
        used.append(start)
        first = film.scenes[0]
        scale = first.view.scale * float(rng.uniform(0.75, 1.25))
        when = start
        aim = (film.story.at("her x", when) - 0.35, film.story.at("her y", when))
        view = scene_view(rng, film.size, scale, aim=aim)
        kind = first.ground if rng.random() < 0.7 else str(rng.choice(GROUNDS))
        seed = film.seed * 10 + 1 + len(used)
        scene = Scene(
            start, view, kind, seed, first.grain, first.contrast, "dissolve" if dissolve else "cut", dissolve
        )
        film.scenes.append(scene)
        free = _without(free, start - 2.0, start + 2.0 + dissolve)
    film.scenes.sort(key=lambda s: s.start)


# -- light --------------------------------------------------------------------------------------------------------
def light_trouble(film: Recipe, rng: np.random.Generator, count: int) -> None:
    story = film.story
    if rng.random() < 0.6:
        film.flicker = (float(rng.choice([100.0, 120.0])), float(rng.uniform(0.05, 0.35)))
        film.shutter = float(rng.choice([1 / 500, 1 / 240, 1 / 120]))
        film.readout = float(rng.uniform(0.008, 0.025))
        story.tell("flicker", 0, story.seconds)
    for _ in range(count):
        t = float(rng.uniform(0.5, story.seconds - 1))
        kind = str(rng.choice(["step", "white", "lamp"]))
        if kind == "step":
            story.light_step(t, rng.choice([rng.uniform(0.6, 0.92), rng.uniform(1.08, 1.5)]), rng.uniform(0.03, 0.6))
        elif kind == "white":
            story.white_step(t, rng.uniform(-0.12, 0.12), rng.uniform(-0.15, 0.15), rng.uniform(0.03, 0.8))
        else:
            story.light_step(t, rng.uniform(1.1, 1.5), 0.03, until=min(story.seconds - 0.2, t + rng.uniform(0.3, 3)))
    # automatic exposure keeps the sum of the steps near where it began
    curve = story.curve("gain")
    story.channels["gain"] = np.clip(curve, curve[0] - 0.55, curve[0] + 0.5)
    if rng.random() < 0.5:
        start, seconds = float(rng.uniform(1, 0.6 * story.seconds)), float(rng.uniform(0.6, 6))
        back = start + seconds + float(rng.uniform(0.5, 4))
        film.moving_shadow = lambda when: float(
            -0.3 + 1.6 * np.clip((when - start) / seconds, 0, 1) - 1.6 * np.clip((when - back) / seconds, 0, 1)
        )
        story.tell("moving shadow", start, start + seconds)
        story.tell("moving shadow", back, back + seconds)


# -- times --------------------------------------------------------------------------------------------------------
def uneven_times(film: Recipe, rng: np.random.Generator) -> None:
    """Phone timing: every frame jitters, some are dropped, the rate sags for a while."""
    step = float(1 / film.rate / film.time_base)
    n = len(film.pts)
    gaps_ = step * (1 + np.clip(rng.normal(0, 0.06, n), -0.3, 0.3))
    drop = rng.random(n) < 0.015
    gaps_[drop] *= rng.integers(2, 4, int(drop.sum()))
    if rng.random() < 0.5:
        a = int(rng.integers(0, n))
        gaps_[a : a + n // 5] *= 1.25  # dim light: longer exposures
    ticks = np.round(np.concatenate([[0], np.cumsum(gaps_)])).astype(np.int64)
    end = int((film.story.seconds - 0.05) / film.time_base)
    film.pts = ticks[ticks < end]
    film.notes["uneven"] = 1.0


def every_distractor(film: Recipe, rng: np.random.Generator) -> None:
    """No pull at all, but everything that may look like one (in a random order, spread over the film)."""
    story = film.story
    kinds = [
        "walk", "walk", "turn", "lurch", "lurch", "quiver", "box", "box", "drum", "leg", "brush", "hand", "shake",
        "bump", "pan", "zoom", "refocus", "step", "white", "her tap", "slow", "edge",
    ]  # fmt: skip
    rng.shuffle(kinds)
    slot = (story.seconds - 2) / len(kinds)
    if rng.random() < 0.5:
        film.flicker = (float(rng.choice([100.0, 120.0])), float(rng.uniform(0.03, 0.25)))
    for k, kind in enumerate(kinds):
        t = 1.0 + slot * k + float(rng.uniform(0, 0.3))
        _distract(film, rng, kind, t)
    story.breathe("her", rng.uniform(0.3, 0.9), rng.uniform(0.004, 0.010))


def _distract(film: Recipe, rng: np.random.Generator, kind: str, t: float) -> None:
    story = film.story
    if kind == "walk":
        her_walk(film, rng, t, rng.uniform(0.4, 2.0), rng.uniform(0.2, 1.0))
    elif kind == "turn":
        story.walk(
            "her", t, rng.uniform(0.3, 1.5), 0, 0, rng.choice([-1, 1]) * rng.uniform(5, 35), rng.uniform(0, 0.8)
        )
    elif kind == "lurch":
        size = rng.uniform(0.03, 0.14)
        story.lurch(
            "her",
            t,
            rng.uniform(0.1, 0.4),
            size * rng.choice([-1, 1]),
            rng.normal(0, 0.03),
            rng.choice([None, 0.6, 1.0]),
        )
    elif kind == "quiver":
        story.quiver("him", t, rng.uniform(0.4, 1.2), rng.uniform(5, 14), rng.uniform(0.02, 0.06))
        story.lurch("him", t + 0.3, 0.12, rng.uniform(-0.15, 0.15), 0, 0.5)
    elif kind in ("box", "drum"):
        story.beat(
            "him", t, rng.uniform(0.8, 2.5), rng.uniform(4, 12 if kind == "box" else 8), rng.uniform(0.06, 0.18), kind
        )
    elif kind in ("leg", "brush", "hand"):
        pass_over(film, rng, kind, t, rng.uniform(0.7, 1.8), full=bool(kind == "hand" and rng.random() < 0.4))
    elif kind == "shake":
        n = len(story.t)
        from tests.film.story import wander

        envelope = story.bump(t, 0.2, 0.8, 0.3)
        for axis in ("cam x", "cam y"):
            story.add(axis, envelope * rng.uniform(0.004, 0.02) * wander(rng, n, 2, 9, 0.5))
        story.tell("camera shake", t, t + 1.3)
    elif kind == "bump":
        story.bump_camera(t, float(np.exp(rng.uniform(np.log(0.004), np.log(0.05)))))
    elif kind == "pan":
        story.pan(t, rng.uniform(0.15, 0.5), rng.uniform(-0.12, 0.12), rng.uniform(-0.1, 0.1))
    elif kind == "zoom":
        story.zoom(t, rng.uniform(0.04, 0.5), rng.uniform(1.05, 1.25), rng.uniform(0.8, 1.5))
    elif kind == "refocus":
        story.refocus(t, rng.uniform(0.5, 1.5), rng.uniform(2, 8))
    elif kind == "step":
        story.light_step(
            t, rng.choice([rng.uniform(0.65, 0.92), rng.uniform(1.08, 1.4)]), rng.uniform(0.03, 0.5), t + 1.2
        )
    elif kind == "white":
        story.white_step(t, rng.uniform(-0.12, 0.12), rng.uniform(-0.15, 0.15))
    elif kind == "her tap":
        story.tap(
            "her",
            t,
            rng.uniform(0.6, 1.5),
            rng.uniform(2, 7),
            rng.uniform(0.1, 0.3),
            ((0, 4), (3, 7), (3,))[int(rng.integers(3))],
        )
    elif kind == "slow":
        # far slower than a pull: the abdomen sags over seconds
        story.add("her forward", rng.uniform(-0.05, 0.05) * story.ramp(t, rng.uniform(3, 6)))
        story.tell("slow change", t, t + 5)
    elif kind == "edge":
        sprite = soft_shadow(120, 60, 20, 0.5)
        at = np.array([story.at("her x", t), story.at("her y", t)])
        a = rng.uniform(0, 6.28)
        out = np.array([np.cos(a), np.sin(a)])
        story.occlude("mist", t, t + 1.2, sprite, 60, np.array([at + 4 * out, at - 4 * out]), a)
