"""Fits harmonics by least squares to the readings of one turn, at even or uneven angles. Angles are in degrees.

The solver is plain Python: with three to seven unknowns it needs no library, so the program also starts quickly on a
small computer.
"""

from collections.abc import Mapping, Sequence
from math import atan2, cos, degrees, fsum, hypot, radians, sin, sqrt
from typing import NamedTuple

from core.values.errors import PlanError

LARGEST_FACTOR = 10.0
"""If marks multiply a reading's error by more than this in a harmonic, they cannot determine that harmonic."""

_LEAST_PIVOT = 1e-12

Matrix = list[list[float]]


class Harmonics(NamedTuple):
    """A fitted curve, in the unit of the readings: mean + sum over k of a cos(k angle) + b sin(k angle)."""

    mean: float
    waves: Mapping[int, tuple[float, float]]
    """The pair (a, b) of each order k."""
    covariance: tuple[tuple[float, ...], ...]
    """The covariance of mean, a, b, a, b ..., for readings of variance 1."""

    def amplitude(self, order: int) -> float:
        """Return the amplitude of one order: half the distance between its lowest and its highest value."""
        return hypot(*self.waves[order])

    def high_deg(self, order: int) -> float:
        """Return the first mark at which one order is highest [deg], from 0 to 360/order."""
        return direction_deg(*self.waves[order], order)

    def at(self, angle_deg: float) -> float:
        """Return the fitted reading at a mark [deg]."""
        return self.mean + fsum(
            a * cos(order * radians(angle_deg)) + b * sin(order * radians(angle_deg))
            for order, (a, b) in self.waves.items()
        )

    def errors(self) -> tuple[float, float]:
        """The standard errors of the first-order vector: along its direction, and across it.

        They apply to readings with a standard error of 1. If the vector is zero and so has no direction, both values
        are the largest standard error in any direction.
        """
        (aa, ab), (_, bb) = self.covariance[1][1:3], self.covariance[2][1:3]
        a, b = self.waves[1]
        size = hypot(a, b)
        if size == 0:
            return (_worst(aa, ab, bb),) * 2
        x, y = a / size, b / size
        along = aa * x * x + 2 * ab * x * y + bb * y * y
        across = aa * y * y - 2 * ab * x * y + bb * x * x
        return sqrt(along), sqrt(across)


def direction_deg(x: float, y: float, order: int = 1) -> float:
    """Return the first mark at which a wave is highest [deg], from 0 to 360/order.

    x: the wave's cosine part, which is highest at mark 0.
    y: the wave's sine part, which is highest a quarter of a wave further round.
    order: how many times the wave repeats in a turn.

    >>> direction_deg(0, -1), direction_deg(1, -1e-18)
    (270.0, 0.0)
    """
    turn = 360.0 / order
    angle = degrees(atan2(y, x)) / order % turn
    # For an angle just below zero, % gives nearly a full turn.
    return 0.0 if turn - angle < 1e-9 else angle


def evenly_spaced(count: int) -> tuple[float, ...]:
    """Return `count` marks spaced evenly round one turn, starting at 0 [deg].

    >>> evenly_spaced(4)
    (0.0, 90.0, 180.0, 270.0)
    """
    return tuple(360.0 * number / count for number in range(count))


def determines(angles_deg: Sequence[float], orders: Sequence[int] = (1,)) -> bool:
    """Return whether readings at these marks [deg] determine the harmonics of these orders.

    They do not if an error of a reading becomes more than LARGEST_FACTOR times as large in one of these harmonics.
    """
    inverse = _inverse(_normal(_columns(angles_deg, orders)))
    if inverse is None:
        return False
    pairs = range(1, len(inverse), 2)
    worst = max(_worst(inverse[i][i], inverse[i][i + 1], inverse[i + 1][i + 1]) for i in pairs)
    return worst <= LARGEST_FACTOR


def fit(angles_deg: Sequence[float], readings: Sequence[float], orders: Sequence[int] = (1,)) -> Harmonics:
    """Return the harmonics that fit the readings best, by least squares.

    angles_deg: marks on the work [deg].
    orders: 1 for the offset, 2 for oval work, 3 for three lobes.
    Raises PlanError if the marks do not determine these harmonics.
    Source: normal equations. For N evenly spaced readings r, they become the sums of the discrete Fourier transform: a
    = 2/N sum of r cos(k angle), b = 2/N sum of r sin(k angle).

    >>> circle = fit((0, 90, 180, 270), (0.10, 0.02, -0.06, 0.04))
    >>> round(circle.amplitude(1), 5), round(circle.high_deg(1), 2)
    (0.08062, 352.87)
    """
    columns = _columns(angles_deg, orders)
    inverse = _inverse(_normal(columns))
    if inverse is None:
        raise PlanError(
            f"These {len(angles_deg)} marks cannot separate an offset from a change of size. "
            "Take three or more marks, spread round the work.",
            field="angles",
        )
    # Subtract the mean first, so that readings far from zero keep their last digits.
    level = fsum(readings) / len(readings)
    sums = [fsum(x * (r - level) for x, r in zip(column, readings, strict=True)) for column in columns]
    solved = [fsum(cell * total for cell, total in zip(row, sums, strict=True)) for row in inverse]
    return Harmonics(
        mean=level + solved[0],
        waves={order: (solved[2 * i + 1], solved[2 * i + 2]) for i, order in enumerate(orders)},
        covariance=tuple(tuple(row) for row in inverse),
    )


def alias_share(angles_deg: Sequence[float], lobes: int, orders: Sequence[int] = (1,)) -> float:
    """Return the largest share of a form's height that looks like another form at these marks [-].

    The form has `lobes` lobes. It looks like the last of the fitted `orders`, which do not include `lobes`. A share of
    1 is the whole height.
    Source: N evenly spaced readings show order j as the order m N - j or j - m N, for any whole m (sampling theorem).

    >>> round(alias_share((0, 90, 180, 270), 3), 9)
    1.0
    """
    waves = [fit(angles_deg, column, orders).waves[orders[-1]] for column in _columns(angles_deg, (lobes,))[1:]]
    (p, q), (r, s) = waves
    # Largest singular value of the two by two matrix.
    squares, determinant = p * p + q * q + r * r + s * s, p * s - q * r
    return sqrt((squares + sqrt(max(0.0, squares * squares - 4 * determinant * determinant))) / 2)


def _columns(angles_deg: Sequence[float], orders: Sequence[int]) -> Matrix:
    columns = [[1.0] * len(angles_deg)]
    for order in orders:
        turned = [order * radians(angle) for angle in angles_deg]
        columns += [[cos(angle) for angle in turned], [sin(angle) for angle in turned]]
    return columns


def _normal(columns: Matrix) -> Matrix:
    return [[fsum(x * y for x, y in zip(left, right, strict=True)) for right in columns] for left in columns]


def _inverse(matrix: Matrix) -> Matrix | None:
    """Return the inverse of a matrix, by Gauss-Jordan elimination with pivoting; None if the matrix is singular."""
    size = len(matrix)
    rows = [[*row, *(float(i == j) for j in range(size))] for i, row in enumerate(matrix)]
    for column in range(size):
        best = max(range(column, size), key=lambda i: abs(rows[i][column]))
        pivot = rows[best][column]
        if abs(pivot) < _LEAST_PIVOT * size:
            return None
        rows[column], rows[best] = rows[best], rows[column]
        rows[column] = [cell / pivot for cell in rows[column]]
        for i in range(size):
            if i != column:
                factor = rows[i][column]
                rows[i] = [cell - factor * top for cell, top in zip(rows[i], rows[column], strict=True)]
    return [row[size:] for row in rows]


def _worst(aa: float, ab: float, bb: float) -> float:
    """Return the largest standard error in any direction, from the entries of a two-by-two covariance matrix."""
    return sqrt((aa + bb) / 2 + hypot((aa - bb) / 2, ab))
