"""Simulated work under an indicator, from plain geometry. Nothing in this module comes from the program."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, radians, sin, sqrt

import numpy as np
from scipy.optimize import fsolve  # type: ignore[import-untyped]

Vector = tuple[float, float]


@dataclass(frozen=True)
class Bar:
    """A bar that is round, oval or lobed about `centre`. Centre and form move together with the work."""

    centre: Vector
    radius: float
    oval: float = 0.0
    lobes: float = 0.0

    def distance(self, angle_deg: float) -> float:
        """Return the distance from the axis to the surface along a mark, by a search outwards from the axis."""
        x, y = cos(radians(angle_deg)), sin(radians(angle_deg))
        distance = self.radius
        for _ in range(60):
            px, py = distance * x - self.centre[0], distance * y - self.centre[1]
            angle = atan2(py, px)
            form = self.radius + self.oval / 2 * cos(2 * angle - 0.7) + self.lobes / 2 * cos(3 * angle + 0.4)
            distance += form - hypot(px, py)
        return distance

    def readings(self, angles_deg: Sequence[float], surface: str) -> list[float]:
        """Return the readings at marks.

        Plunger in is +: the surface is further out, or in a bore nearer to the axis.
        """
        sense = -1 if surface == "bore" else 1
        return [sense * (self.distance(angle) - self.radius) for angle in angles_deg]

    def moved(self, from_mark_deg: float, amount: float) -> "Bar":
        """Return the bar after it was pushed from a mark towards the axis."""
        x, y = self.centre
        angle = radians(from_mark_deg)
        return Bar((x - amount * cos(angle), y - amount * sin(angle)), self.radius, self.oval, self.lobes)


def centre_in_three_jaws(shims: Sequence[float], radius: float, wide: bool) -> Vector:
    """Return the position at which three jaws that close alike hold a bar of this radius on its shims.

    Narrow tips are points on radial lines, wide faces straight lines square to these. Each must touch the bar. The
    opening of the jaws is solved together with the position.
    """

    def gaps(unknown: Sequence[float]) -> list[float]:
        x, y, opening = unknown
        found = []
        for jaw, thickness in enumerate(shims):
            angle = 2 * pi * jaw / 3
            tip = opening - thickness
            if wide:
                found.append(x * cos(angle) + y * sin(angle) + radius - tip)
            else:
                found.append(hypot(tip * cos(angle) - x, tip * sin(angle) - y) - radius)
        return found

    start = (0.0, 0.0, radius + max(shims))
    (x, y, opening), *_ = fsolve(gaps, start, xtol=1e-12, full_output=True)
    assert max(map(abs, gaps((x, y, opening)))) < 1e-10
    return float(x), float(y)


def first_harmonic(readings: Sequence[float]) -> tuple[float, float]:
    """Return the amplitude and high spot of evenly spaced readings, by numpy's transform."""
    bin_1 = 2 * np.fft.fft(readings)[1] / len(readings)
    return float(abs(bin_1)), float(np.degrees(np.angle(bin_1.conjugate())) % 360)


def limacon(angle_deg: float, offset: float, high_deg: float, radius: float) -> float:
    """Return the distance from the axis to a circle, minus the circle's radius, in closed form."""
    angle = radians(angle_deg - high_deg)
    return offset * cos(angle) + sqrt(radius**2 - (offset * sin(angle)) ** 2) - radius
