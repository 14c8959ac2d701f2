"""Shims under the jaws of a three-jaw chuck: how thick for a move, which of those there are, what they do."""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations_with_replacement
from math import cos, radians, sin, sqrt

from core.values.errors import PlanError
from core.values.quantities import mm_text

Vector = tuple[float, float]

JAWS_DEG = (0.0, 120.0, 240.0)
LARGEST_SHARE = 0.9
"""Of the radius, for a move."""


def shims_mm(
    move_mm: Vector, radius_mm: float | None, say: Callable[[float], str] = mm_text
) -> tuple[float, float, float]:
    """Return the shim under each jaw [mm] that moves a bar from the middle by `move_mm`; one at least is 0.

    move_mm: towards mark 0 and towards mark 90 [mm]; radius_mm: of the bar, for narrow
    jaw tips on radial lines [mm]; None for wide flat faces; say: words a length [mm].
    Raises PlanError for a move too large for the bar.
    Source: a jaw reaches the bar at n.c + sqrt(R² - (n x c)²), a flat one at n.c + R;
    all three jaws close alike, so each shim makes up what its jaw lacks. Straight
    away from one jaw: t = 1.5 e - R + sqrt(R² - 0.75 e²), flat 1.5 e.

    >>> [round(thickness, 4) for thickness in shims_mm((-1, 0), 10)]
    [1.4624, 0.0, 0.0]
    """
    reaches = _reaches(move_mm, radius_mm, say)
    return (max(reaches) - reaches[0], max(reaches) - reaches[1], max(reaches) - reaches[2])


def moved_by_mm(
    thicknesses_mm: Sequence[float], radius_mm: float | None, say: Callable[[float], str] = mm_text
) -> Vector:
    """Return where three shims move a bar to [mm], from the middle; the reverse of `shims_mm`.

    thicknesses_mm: under jaw 1, 2, 3 [mm]; radius_mm and say: as there [mm].
    Raises PlanError for a shim too thick for the bar.

    >>> [round(part, 4) for part in moved_by_mm((1.5, 0, 0), None)]
    [-1.0, 0.0]
    """
    move = (0.0, 0.0)
    for _ in range(60):
        reaches = _reaches(move, radius_mm, say)
        lacks = [wanted + reach for wanted, reach in zip(thicknesses_mm, reaches, strict=True)]
        # Jaws that all lack alike are merely further open: what the three have in common moves nothing.
        step_x = -2 / 3 * sum(lack * cos(radians(jaw)) for lack, jaw in zip(lacks, JAWS_DEG, strict=True))
        step_y = -2 / 3 * sum(lack * sin(radians(jaw)) for lack, jaw in zip(lacks, JAWS_DEG, strict=True))
        move = (move[0] + step_x, move[1] + step_y)
        if abs(step_x) + abs(step_y) < 1e-13:
            break
    return move


def nearest_shims(thickness_mm: float, drawer_mm: Sequence[float]) -> tuple[float, ...]:
    """Return one or two pieces from the drawer nearest to a thickness [mm], thickest first; () where none is nearer.

    Sheet can be cut, so a size serves more than once; fewer pieces win where two
    choices are as near.
    thickness_mm: [mm]; drawer_mm: sizes at hand [mm].

    >>> nearest_shims(0.16, (0.05, 0.1, 0.2, 0.5))
    (0.1, 0.05)
    """
    best: tuple[float, ...] = ()
    for pieces in _choices(drawer_mm):
        if abs(sum(pieces) - thickness_mm) < abs(sum(best) - thickness_mm) - 1e-9:
            best = pieces
    return tuple(sorted(best, reverse=True))


def _choices(drawer_mm: Sequence[float]) -> Iterator[tuple[float, ...]]:
    sizes = sorted(set(drawer_mm))
    for count in (1, 2):
        yield from combinations_with_replacement(sizes, count)


def _reaches(centre_mm: Vector, radius_mm: float | None, say: Callable[[float], str]) -> list[float]:
    """Return how far along each jaw's line the bar reaches, less its radius [mm]."""
    found = []
    for jaw in JAWS_DEG:
        x, y = cos(radians(jaw)), sin(radians(jaw))
        along, across = x * centre_mm[0] + y * centre_mm[1], x * centre_mm[1] - y * centre_mm[0]
        if radius_mm is None:
            found.append(along)
        elif abs(across) > LARGEST_SHARE * radius_mm:
            raise PlanError(
                f"found a move of {say(abs(across))} to the side on a bar of radius {say(radius_mm)}; "
                "accepted is less than nine tenths of the radius: is the diameter right?",
                field="diameter",
            )
        else:
            # The difference of two nearly equal roots, without losing its digits.
            found.append(along - across**2 / (radius_mm + sqrt(radius_mm**2 - across**2)))
    return found
