"""Moving, turning, scaling and bending in the plane, as complex numbers.

A point (x, y) of a picture is the complex number x + iy. The map z -> m·z + n·conj(z) + c is any affine map: `m`
turns and scales, `c` shifts, and `n` squeezes along one axis and stretches across it, as when something flat is
tipped towards the camera. With n = 0 it is a similarity. The turn is the argument of `m`, the scale its length.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Similarity:
    """z -> m·z + n·conj(z) + c; pixels, y running down, so a positive angle turns clockwise on the screen."""

    m: complex = 1 + 0j
    c: complex = 0j
    n: complex = 0j

    def __call__(self, z: complex) -> complex:
        """Where the point `z` = x + iy comes to lie."""
        return self.m * z + self.n * z.conjugate() + self.c

    def after(self, first: Similarity) -> Similarity:
        """The map that does `first` and then this one."""
        if not self.n and not first.n:
            return Similarity(self.m * first.m, self.m * first.c + self.c)
        return Similarity(
            self.m * first.m + self.n * first.n.conjugate(),
            self(first.c),
            self.m * first.n + self.n * first.m.conjugate(),
        )

    @property
    def inverse(self) -> Similarity:
        """The map that takes this one back."""
        if not self.n:
            return Similarity(1 / self.m, -self.c / self.m)
        area = abs(self.m) ** 2 - abs(self.n) ** 2
        m, n = self.m.conjugate() / area, -self.n / area
        return Similarity(m, -(m * self.c + n * self.c.conjugate()), n)

    @property
    def angle_deg(self) -> float:
        """Turn in degrees, clockwise on the screen."""
        return math.degrees(cmath.phase(self.m))

    @property
    def scale(self) -> float:
        """Length after by length before."""
        return abs(self.m)

    def matrix(self, middle: complex = 0j) -> NDArray[np.float64]:
        """The 2x3 matrix of z -> self(z - middle), as OpenCV's warps take it."""
        shift = self(-middle)
        m, n = self.m, self.n
        return np.array(
            [[m.real + n.real, n.imag - m.imag, shift.real], [m.imag + n.imag, m.real - n.real, shift.imag]],
            dtype=np.float64,
        )


STILL = Similarity()
