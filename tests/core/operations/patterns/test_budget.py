"""On a simulated machine, each allowed error changes the gaps by exactly the visible amount."""

import math
from itertools import combinations, product

import numpy as np
import pytest

from core.lathe.reader import example_lathe
from core.operations.patterns.budget import Allowance, allowances, budget_effects
from core.operations.patterns.effects import SEEN_MM
from core.operations.patterns.layers import PatternJob
from tests.core.figures import figures
from tests.core.operations.patterns.made import WIDE, job, layer, places

LATHE = example_lathe()


def allowed(wanted: PatternJob, seen_mm: float = SEEN_MM) -> dict[str, Allowance]:
    """Return the allowances of the budget by the name of the error."""
    return {allowance.error: allowance for allowance in allowances(wanted, seen_mm)}


def centres(offset: float, count: int, start: float, height: float) -> np.ndarray:
    """Return the circle centres that a machine with a height error cuts: (offset, -height) turned by the angle."""
    angles = np.deg2rad(start) + 2 * np.pi * np.arange(count) / count
    found: np.ndarray = complex(offset, -height) * np.exp(1j * angles)
    return found


def test_the_allowed_height_error_makes_a_barely_visible_change_in_the_narrowest_gap() -> None:
    """Twelve circles of 3 mm at 14 mm and twelve of 5 mm at 30 mm, 9 deg on: numpy compares every pair."""
    wanted = job(layer(12, 14, 3.0), layer(12, 30, 5.0, start=9))
    found = allowed(wanted)["height error"]
    assert found.most_mm is not None and found.does == "moves layers 1 and 2 against each other"

    def gaps(height: float) -> np.ndarray:
        inner, outer = centres(14, 12, 0, height), centres(30, 12, 9, height)
        return np.abs(inner[:, None] - outer[None, :]) - 8

    nearest = gaps(0).argmin(axis=1)
    change = max(np.abs(gaps(sign * found.most_mm) - gaps(0))[np.arange(12), nearest].max() for sign in (1, -1))
    assert change == pytest.approx(SEEN_MM, abs=1e-3)


def test_a_circle_centred_on_the_table_axis_moves_by_the_whole_height_error() -> None:
    """A lone circle in the middle of a blank moves towards the rim by the error itself.

    Eccentricity has the same effect.
    """
    found = allowed(job(layer(1, 0, 10.0), blank_diameter_mm=60.0))
    assert found["height error"].most_mm == pytest.approx(0.1, abs=1e-3)
    assert found["eccentricity"].most_mm == pytest.approx(0.1, abs=1e-3)
    assert "rim" in found["eccentricity"].does


def test_a_pattern_of_only_one_ring_allows_a_large_height_error() -> None:
    """Six circles at 20 mm touch at 20 mm apart. Each offset grows by h^2 / 40, and so do gap and radius.

    The gap to the rim changes by sqrt(400 + h^2) - 20 = 0.1 mm at h = 2.002 mm. Opposite circles are 40 mm apart, not
    neighbours.
    """
    found = allowed(job(layer(6, 20, 10.0), blank_diameter_mm=80.0))["height error"]
    assert found.most_mm == pytest.approx(math.sqrt(20.1**2 - 400), abs=2e-3)


def test_the_allowed_face_runout_makes_a_barely_visible_change_in_groove_width() -> None:
    """A 90 deg point loses 2 mm of width per mm of depth: 0.05 mm. Measured at half the radius, it is half as much."""
    assert allowed(job(layer(6, 20, 5.0)))["face runout"].most_mm == pytest.approx(0.05, abs=1e-4)
    found = allowed(job(layer(6, 20, 5.0), face_radius_mm=12.5))["face runout"]
    assert found.most_mm == pytest.approx(0.025, abs=1e-4) and "layer 1" in found.does
    wide = allowed(job(layer(6, 20, 5.0), layer(6, 20, 5.0, cutter=WIDE)))["face runout"]
    assert wide.most_mm == pytest.approx(0.05 / math.tan(math.radians(60)), abs=1e-4) and "layer 2" in wide.does


def test_the_allowed_face_runout_never_exceeds_the_depth_of_a_shallow_groove() -> None:
    """A groove 0.04 mm deep is 0.08 mm wide with a 90 deg point. A runout of 0.04 mm leaves no groove on one side."""
    found = allowed(job(layer(6, 20, 5.0, depths_mm=(0.04,))))["face runout"]
    assert found.most_mm == pytest.approx(0.04, abs=1e-6) and "uncut" in found.does


@pytest.mark.parametrize("shape", ["circles", "dots", "slots", "arcs"])
def test_raising_the_smallest_visible_change_raises_every_allowed_error(shape: str) -> None:
    """Each allowed error grows with the smallest visible change."""
    keys: dict[str, object] = {"arcs": {"through": 60}, "slots": {"to_offset_mm": 35.0}}.get(shape, {})
    wanted = job(layer(7, 25, 3.0, shape=shape, **keys), places((3.0, 9.0), (-4.0, 2.0)))
    fine, coarse = allowed(wanted, 0.05), allowed(wanted, 0.2)
    for error in fine:
        few, more = fine[error].most_mm, coarse[error].most_mm
        assert few is not None and (more is None or more > few)


def test_a_height_error_moves_each_listed_place_at_right_angles_to_its_offset() -> None:
    """Two dots 4 mm apart, at 3 and 5 mm from the axis, form a right angle.

    The simulated machine confirms the result.
    """
    at = [(3.0, 0.0), (0.0, 5.0), (3.0, 4.0)]
    found = allowed(job(places(*at, shape="dots")))["height error"]
    points = np.array([complex(*one) for one in at])

    def moved(height: float) -> np.ndarray:
        result: np.ndarray = points * (1 - 1j * height / np.abs(points))
        return result

    assert found.most_mm is not None
    changes = [
        abs(abs(moved(sign * found.most_mm)[i] - moved(sign * found.most_mm)[j]) - abs(points[i] - points[j]))
        for sign, (i, j) in product((1, -1), combinations(range(3), 2))
    ]
    assert max(changes) >= SEEN_MM - 1e-3
    # No pair of neighbours changes by more. The outermost place, 5 mm from the axis, counts as the rim.
    neighbours = [(0, 2), (1, 2)]
    least = [
        abs(abs(moved(sign * found.most_mm)[i] - moved(sign * found.most_mm)[j]) - abs(points[i] - points[j]))
        for sign, (i, j) in product((1, -1), neighbours)
    ]
    assert max(least) <= SEEN_MM + 1e-3


def test_the_tolerance_budget_is_shown_in_the_unit_of_the_lathe() -> None:
    """Each error appears with its number, rounded down."""
    rows = list(budget_effects(job(layer(1, 0, 10.0), blank_diameter_mm=60.0), LATHE))
    assert [row.cause for row in rows] == ["Height error allowed", "Eccentricity allowed", "Face runout allowed"]
    assert figures(rows[0].amount) == {"0.1"}
    assert figures(rows[2].amount) == {"0.05", "10"}


def test_the_tolerance_budget_shows_the_effect_of_an_entered_error_with_and_without_correction() -> None:
    """A height error of 0.3 mm turns two rings against each other. After the correction no gap changes."""
    wanted = job(layer(12, 14, 3.0), layer(12, 30, 5.0, start=9), height_error_mm=0.3)
    without, corrected = list(budget_effects(wanted, LATHE))[-2:]
    inner, outer = centres(14, 12, 0, 0.3), centres(30, 12, 9, 0.3)
    right = np.abs(centres(14, 12, 0, 0)[:, None] - centres(30, 12, 9, 0)[None, :])
    nearest = right.argmin(axis=1)
    change = (np.abs(inner[:, None] - outer[None, :]) - right)[np.arange(12), nearest]
    assert f"{np.abs(change).max():.3f}" in figures(without.amount)
    assert "between layers 1 and 2" in without.meaning
    assert corrected.amount == "no gap changes"
    # The form also lists gaps on real marks, which do change slightly.
    assert "before rounding to marks" in corrected.meaning and "before rounding to marks" in without.meaning


def test_a_dot_on_the_table_axis_allows_any_face_runout() -> None:
    """The dot has no radius, so the face under it is as high as at the touch-off."""
    dot = layer(1, 0.0, shape="dots")
    assert "face runout" not in allowed(job(dot, face_radius_mm=30.0))
    assert allowed(job(dot, layer(6, 20.0), face_radius_mm=30.0))["face runout"].most_mm
