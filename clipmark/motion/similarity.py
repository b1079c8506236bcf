"""Moving, turning and scaling in the plane, as two complex numbers.

A point (x, y) of a picture is the complex number x + iy; a similarity takes z to m·z + c. Composing and inverting
are then one line each, the angle is the argument of `m` and the scale its length.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Similarity:
    """z -> m·z + c; pixels, y running down, so a positive angle turns clockwise on the screen."""

    m: complex = 1 + 0j
    c: complex = 0j

    def __call__(self, z: complex) -> complex:
        return self.m * z + self.c

    def after(self, first: Similarity) -> Similarity:
        """The map that does `first` and then this one."""
        return Similarity(self.m * first.m, self.m * first.c + self.c)

    @property
    def inverse(self) -> Similarity:
        return Similarity(1 / self.m, -self.c / self.m)

    @property
    def angle_deg(self) -> float:
        return math.degrees(cmath.phase(self.m))

    @property
    def scale(self) -> float:
        return abs(self.m)

    def matrix(self, middle: complex = 0j) -> NDArray[np.float64]:
        """The 2x3 matrix of z -> self(z - middle), as OpenCV's warps take it."""
        shift = self.c - self.m * middle
        return np.array(
            [[self.m.real, -self.m.imag, shift.real], [self.m.imag, self.m.real, shift.imag]], dtype=np.float64
        )


STILL = Similarity()
