"""A film before it is rendered: everything that the renderer needs, decided by profile and seed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from tests.film.spiders import Look
from tests.film.stage import View
from tests.film.story import Story


@dataclass(slots=True)
class Scene:
    """One shot: where the camera stands and what the ground is. Shots share one story."""

    start: float
    view: View
    ground: str
    ground_seed: int
    grain: float
    contrast: float
    begins: str = "cut"
    dissolve: float = 0.0
    picture: tuple[np.ndarray, float] | None = (
        None  # a ground picture, its middle at the world's origin, and its scale
    )


@dataclass(slots=True)
class Recipe:
    """What is rendered, in render pixels (`size`) and shown pixels (`shown`)."""

    profile: str
    seed: int
    story: Story
    her: Look
    him: Look
    scenes: list[Scene]
    size: tuple[int, int]  # width, height rendered
    shown: tuple[int, int]  # width, height of the film as displayed
    rate: Fraction
    time_base: Fraction
    pts: np.ndarray
    shutter: float  # seconds of exposure
    noise: float  # grey levels
    softness: float  # standing blur, render pixels
    sharpen: float
    vignette: float
    readout: float  # rolling shutter, seconds from the first row to the last
    flicker: tuple[float, float]  # Hz (twice the mains), depth
    saturation: float
    options: dict[str, str]
    rotation: int = 0
    codec: str = "libx264"
    sun: tuple[float, float] = (0.5, 0.4)
    legs_over: tuple[int, ...] = ()  # her legs that lie over the abdomen
    his_legs_over: bool = True
    parallax: float = 0.0
    moving_shadow: Callable[[float], float] | None = None
    box_slack: float = 1.0
    denoise: float = 0.0  # grey levels below which the camera takes a change for noise and smears it over time
    specks: float = 0.0  # dirt and reflections that stay with the camera, 0..1
    sound: bool = False
    notes: dict[str, float] = field(default_factory=dict)
