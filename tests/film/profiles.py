"""The kinds of film: for each a recipe varied widely by seed.

Ranges are proposals from what keepers film (phone, camcorder, tripod beside a tank); no measured distribution exists.
"""

from __future__ import annotations

import zlib
from fractions import Fraction

import numpy as np

from tests.film import acts
from tests.film.recipe import Recipe, Scene
from tests.film.render import MARGIN
from tests.film.spiders import COLOURS, Look
from tests.film.stage import View
from tests.film.story import Story
from tests.film.textures import GROUNDS

PROFILES = (
    "tripod", "handheld", "dark", "occluded", "cuts", "exposure", "tiny", "subtle", "busy", "walking", "phone",
    "quiet", "everything",
)  # fmt: skip
EXTRA = ("ladder",)  # tripod, abdomen 80 px long, pulls of 1 to 10 % in steps: for the curve, not for the mean
DARK = ("black", "velvet red", "blue")
SIZES = ((320, 240), (480, 270), (480, 360), (640, 360), (640, 360), (640, 480), (854, 480), (960, 540))
SIZES = (*SIZES, (1280, 720), (1920, 1080))
RATES = tuple(Fraction(r) for r in (24, 25, 25, "30000/1001", 30, 30, 50, 60, 120))


def recipe(profile: str, seed: int) -> Recipe:
    """The recipe of one film; the same profile and seed always give the same one."""
    if profile not in PROFILES + EXTRA:
        raise ValueError(f"no profile {profile!r}; there are {', '.join(PROFILES)}")
    rng = np.random.default_rng([seed, zlib.crc32(profile.encode())])
    return globals()[f"_{profile}"](rng, seed)


def pick(rng: np.random.Generator, choices: tuple) -> object:
    return choices[int(rng.integers(len(choices)))]


def _log(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def look(rng: np.random.Generator, male: bool, colours: tuple[str, ...] = tuple(COLOURS)) -> Look:
    size = float(rng.uniform(0.6, 0.85)) if male else 1.0
    return Look(
        colour=str(pick(rng, colours)),
        size=size,
        reach=float(rng.uniform(1.15, 1.5) if male else rng.uniform(0.85, 1.1)),
        plump=float(rng.uniform(0.55, 0.9)),
        abdomen=float(rng.uniform(0.65, 0.9)) if male else 1.0,
        pattern=str(pick(rng, ("", "", "stripes", "patch", "spots", "line"))),
        fur=float(rng.uniform(0.4, 1.4)),
        contrast=float(rng.uniform(0.5, 1.2)),
        brightness=float(rng.uniform(0.75, 1.3)),
        stout=float(rng.uniform(0.85, 1.15)) * (0.85 if male else 1.0),
    )


def base(
    rng: np.random.Generator,
    profile: str,
    seed: int,
    seconds: tuple[float, float] = (16, 24),
    abdomen: tuple[float, float] = (0.14, 0.30),
    sizes: tuple = SIZES,
    rates: tuple = RATES,
    contrast: tuple[float, float] = (0.5, 1.2),
    grounds: tuple = GROUNDS,
    her: tuple[str, ...] = tuple(COLOURS),
    noise: tuple[float, float] = (0.8, 4.5),
) -> Recipe:
    """A plain scene: both spiders face to face. `abdomen`: its length as a share of the picture's height."""
    shown = tuple(pick(rng, sizes))  # type: ignore[arg-type]
    halve = 2 if shown[1] >= 720 else 1
    size = (shown[0] // halve, shown[1] // halve)
    rate = Fraction(pick(rng, rates))  # type: ignore[call-overload]
    length = float(rng.uniform(*seconds)) * (0.4 if rate > 100 else 0.65 if rate > 40 else 1.0)
    scale = size[1] * float(rng.uniform(*abdomen))
    story = Story(rng, length)
    story.breathe("her", rng.uniform(0.2, 1.0), rng.uniform(0.001, 0.006))
    story.breathe("him", rng.uniform(0.3, 1.2), rng.uniform(0.001, 0.006))
    story.drift("her", rng.uniform(0.0, 0.006), rng.uniform(0.0, 0.5))
    him = look(rng, male=True)
    story.add("him x", rng.uniform(1.1, 1.45))
    story.add("him y", rng.uniform(-0.15, 0.15))
    story.add("him heading", np.pi + rng.uniform(-0.3, 0.3))
    time_base = Fraction(1, 90000)
    step = 1 / (rate * time_base)
    ticks = np.array([round(k * step) for k in range(int(length * rate))], np.int64)
    quality = str(int(rng.integers(17, 31)))
    view = scene_view(rng, size, scale)
    return Recipe(
        profile=profile,
        seed=seed,
        story=story,
        her=look(rng, False, her),
        him=him,
        scenes=[
            Scene(
                0.0,
                view,
                str(pick(rng, grounds)),
                seed * 10 + 1,
                _log(rng, 0.4, 1.6),
                float(rng.uniform(*contrast)),
                "film",
            )
        ],
        size=size,
        shown=shown,  # type: ignore[arg-type]
        rate=rate,
        time_base=time_base,
        pts=ticks,
        shutter=min(0.9 / float(rate), _log(rng, 1 / 500, 1 / 30)),
        noise=_log(rng, *noise),
        softness=float(rng.uniform(0.2, 0.9)),
        sharpen=float(pick(rng, (0.0, 0.0, 0.4, 0.9))),  # type: ignore[arg-type]
        vignette=float(rng.uniform(0, 0.35)),
        readout=float(rng.uniform(0.0, 0.02)),
        flicker=(100.0, 0.0),
        saturation=float(rng.uniform(0.6, 1.15)),
        options={
            "crf": quality,
            "preset": str(pick(rng, ("ultrafast", "veryfast", "veryfast", "faster"))),
            "g": str(int(pick(rng, (12, 25, 30, 60, 250)))),  # type: ignore[call-overload]
            "bf": str(int(pick(rng, (0, 0, 2, 3)))),  # type: ignore[call-overload]
            "sc_threshold": str(pick(rng, ("0", "40"))),
        },
        sun=(float(rng.uniform(-1, 1)), float(rng.uniform(-1, 1))),
        legs_over=tuple(int(k) for k in (3, 7) if rng.random() < 0.25),
        his_legs_over=bool(rng.random() < 0.7),
        parallax=float(pick(rng, (0.0, 0.0, 0.15, 0.4))),  # type: ignore[arg-type]
        box_slack=float(rng.uniform(0.95, 1.15)),
        specks=float(rng.uniform(0.2, 1)) if rng.random() < 0.2 else 0.0,
        denoise=float(rng.uniform(3, 9)) if rng.random() < 0.15 else 0.0,
        notes={"abdomen_share": scale / size[1]},
    )


def scene_view(
    rng: np.random.Generator,
    size: tuple[int, int],
    scale: float,
    turn: float | None = None,
    aim: tuple[float, float] = (-0.35, 0.0),
) -> View:
    """A camera standing anywhere round the pair, aimed near her abdomen's front."""
    view = View(
        scale, float(rng.uniform(0, 2 * np.pi)) if turn is None else turn, float(rng.uniform(0.0, 0.95)), (0.0, 0.0)
    )
    target = np.array(aim) + rng.uniform(-0.3, 0.3, 2)
    middle = np.array([int(s * MARGIN) for s in size]) / 2
    view.centre = tuple(middle - view.flat() @ target)  # type: ignore[assignment]
    return view


# -- the profiles -------------------------------------------------------------------------------------------------
def _tripod(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "tripod", seed)
    acts.pulls(film, rng, int(rng.integers(3, 6)))
    acts.male_life(film, rng, 0.5)
    return film


def _handheld(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "handheld", seed)
    acts.hold_by_hand(film, rng, rng.uniform(0.5, 1.6))
    acts.pulls(film, rng, int(rng.integers(3, 6)), least=0.05)
    acts.male_life(film, rng, 0.5)
    return film


def _dark(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "dark", seed, contrast=(0.15, 0.5), grounds=("soil", "bark", "moss"), her=DARK, noise=(1.5, 5))
    film.her = Look(
        **{**_fields(film.her), "contrast": float(rng.uniform(0.3, 0.7)), "brightness": float(rng.uniform(0.6, 1.1))}
    )
    film.story.add("gain", np.log(rng.uniform(0.45, 0.9)))
    film.story.add("bias", rng.uniform(0, 10))
    if rng.random() < 0.5:
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 1.0))
    acts.pulls(film, rng, int(rng.integers(3, 6)), least=0.06)
    acts.male_life(film, rng, 0.4)
    return film


def _occluded(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "occluded", seed, seconds=(20, 28))
    if rng.random() < 0.5:
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 1.0))
    acts.lasting_cover(film, rng, rng.uniform(0.1, 0.45))
    spans = acts.pulls(film, rng, int(rng.integers(2, 4)), least=0.06)
    if rng.random() < 0.4:
        acts.look_away(film, rng, spans)
    acts.covers_between(film, rng, spans, int(rng.integers(1, 4)), full=True)
    acts.male_life(film, rng, 0.6)
    film.legs_over = tuple(int(k) for k in (3, 7) if rng.random() < 0.7)
    return film


def _cuts(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "cuts", seed, seconds=(20, 28))
    if rng.random() < 0.6:
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 1.2))
    spans = acts.pulls(film, rng, int(rng.integers(3, 6)), least=0.05)
    acts.cut_between(film, rng, spans, int(rng.integers(1, 4)))
    acts.male_life(film, rng, 0.4)
    return film


def _exposure(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "exposure", seed)
    if rng.random() < 0.5:
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 1.0))
    acts.pulls(film, rng, int(rng.integers(3, 5)), least=0.05)
    acts.light_trouble(film, rng, int(rng.integers(4, 8)))
    acts.male_life(film, rng, 0.3)
    return film


def _tiny(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "tiny", seed, abdomen=(0.06, 0.10), sizes=((480, 360), (640, 360), (640, 480), (854, 480)))
    if rng.random() < 0.4:
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 0.8))
    acts.pulls(film, rng, int(rng.integers(3, 6)), least=0.10)
    acts.male_life(film, rng, 0.5)
    return film


def _subtle(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(
        rng, "subtle", seed, abdomen=(0.24, 0.36), sizes=((640, 360), (640, 480), (854, 480), (960, 540), (1280, 720))
    )
    acts.pulls(film, rng, int(rng.integers(3, 6)), least=0.03, most=0.07, tilt=(2, 5))
    acts.male_life(film, rng, 0.3)
    return film


def _busy(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "busy", seed, seconds=(26, 34))
    if rng.random() < 0.6:
        acts.hold_by_hand(film, rng, rng.uniform(0.2, 1.2))
    if rng.random() < 0.4:
        film.options["crf"] = str(int(rng.integers(30, 37)))
        film.options["g"] = str(int(rng.integers(10, 30)))
    acts.every_distractor(film, rng)
    return film


def _walking(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "walking", seed, abdomen=(0.12, 0.22))
    if rng.random() < 0.5:
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 1.2))
    spans = acts.pulls(film, rng, int(rng.integers(2, 5)), least=0.05)
    acts.walks_between(film, rng, spans, int(rng.integers(3, 6)))
    acts.male_life(film, rng, 0.4)
    return film


def _phone(rng: np.random.Generator, seed: int) -> Recipe:
    sizes = ((360, 640), (270, 480), (480, 854), (540, 960), (720, 1280))
    film = base(
        rng, "phone", seed, abdomen=(0.08, 0.16), sizes=sizes, rates=(Fraction(30), Fraction(30), Fraction(60))
    )
    film.rotation = int(pick(rng, (90, 270)))  # type: ignore[call-overload]
    acts.uneven_times(film, rng)
    acts.hold_by_hand(film, rng, rng.uniform(0.4, 1.4))
    acts.pulls(film, rng, int(rng.integers(3, 5)), least=0.05)
    acts.male_life(film, rng, 0.4)
    film.sharpen = float(rng.uniform(0.3, 1.2))
    film.denoise = float(rng.uniform(3, 10)) if rng.random() < 0.5 else 0.0
    return film


def _quiet(rng: np.random.Generator, seed: int) -> Recipe:
    sizes = ((320, 240), (480, 270), (640, 360))
    film = base(rng, "quiet", seed, seconds=(60, 75), sizes=sizes, rates=(Fraction(24), Fraction(25), Fraction(30)))
    acts.pulls(film, rng, int(rng.integers(1, 3)), least=0.05)
    acts.male_life(film, rng, 0.1)
    return film


def _everything(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "everything", seed, seconds=(24, 32))
    acts.hold_by_hand(film, rng, rng.uniform(0.5, 1.4))
    spans = acts.pulls(film, rng, int(rng.integers(2, 5)), least=0.06)
    acts.walks_between(film, rng, spans, 1)
    acts.covers_between(film, rng, spans, int(rng.integers(1, 3)), full=bool(rng.random() < 0.4))
    acts.camera_trouble(film, rng, spans, int(rng.integers(1, 4)))
    acts.light_trouble(film, rng, int(rng.integers(1, 4)))
    if rng.random() < 0.5:
        acts.cut_between(film, rng, spans, 1)
    if rng.random() < 0.3:
        acts.look_away(film, rng, spans)
    if rng.random() < 0.4:
        acts.uneven_times(film, rng)
    acts.male_life(film, rng, 1.0)
    film.options["crf"] = str(int(rng.integers(22, 34)))
    return film


def _ladder(rng: np.random.Generator, seed: int) -> Recipe:
    film = base(rng, "ladder", seed, seconds=(40, 40), sizes=((640, 360),), rates=(Fraction(25), Fraction(30)))
    view = scene_view(rng, film.size, 80.0)
    view.slant = min(view.slant, 0.5)
    film.scenes[0].view = view
    film.noise = min(film.noise, 3.0)
    steps = [0.01, 0.015, 0.02, 0.025, 0.03, 0.04, 0.05, 0.07, 0.10]
    rng.shuffle(steps)
    for k, step in enumerate(steps):
        a = float(rng.normal(0, 0.4))
        start = 1.5 + 4.1 * k + float(rng.uniform(0, 0.8))
        fall = float(rng.uniform(0.5, 1.0))
        film.story.pull(start, rng.uniform(0.08, 0.25), 1.2, fall, step * np.cos(a), step * np.sin(a))
    acts.male_life(film, rng, 0.3)
    return film


def _fields(value: Look) -> dict:
    return {name: getattr(value, name) for name in value.__slots__}
