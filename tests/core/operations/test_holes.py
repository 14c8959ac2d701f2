"""Holes on a circle agree with printed coordinates and chords, and with roots of unity from numpy."""

import json
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import Edited, Measured, Moved
from core.lathe.reader import example_lathe
from core.operations.holes import BoltCircle, plan_holes, read_holes, replan_holes
from core.values.dials import Setting
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from tests.core.exact import power
from tests.core.figures import figures
from tests.published import Printed, printed_rows


def holes_problems(**keys: Any) -> tuple[BoltCircle | None, list[Problem]]:
    """Read a `holes` operation. Return the circle, or None, and the list of problems."""
    problems: list[Problem] = []
    table = Table(keys, "job", problems)
    found = read_holes(table, example_lathe())
    table.refuse_unknown()
    return found, problems


def bolt_circle(**keys: Any) -> BoltCircle:
    """Read a `holes` operation without problems and return the circle."""
    found, problems = holes_problems(**keys)
    assert found is not None and problems == []
    return found


@pytest.mark.parametrize("row", [row for row in printed_rows("holes") if row.quantity == "chord factor"])
def test_chords_between_holes_match_printed_spacing_tables(row: Printed) -> None:
    """The printed tables are for a circle with a diameter of 1."""
    found = bolt_circle(count=row.inputs["n"], circle="1 mm")
    assert plan_holes(found, example_lathe(), None).figures["chord_mm"] == pytest.approx(
        float(row.printed), abs=row.tolerance
    )


def exact_chords() -> dict[int, Fraction]:
    """Return the ratio of chord to diameter, sin(180°/n), for counts whose cosine is known exactly.

    Half-angle formulas give the sines from the cosines.
    """
    chords = {}
    for count, cosine in ((2, Fraction(0)), (3, Fraction(1, 2)), (5, (1 + power(5, "1/2")) / 4)):
        while count < 100:
            chords[count] = power(1 - cosine**2, "1/2")
            count, cosine = 2 * count, power((1 + cosine) / 2, "1/2")
    return chords


def test_chords_between_holes_match_exact_cosines() -> None:
    """The cosines for 2, 3 and 5 holes, and for their doubles, are known exactly."""
    for count, chord in exact_chords().items():
        figures = plan_holes(bolt_circle(count=count, circle="1 mm"), example_lathe(), None).figures
        assert figures["chord_mm"] == pytest.approx(float(chord), abs=1e-12), count


S, H = float(power("1/2", "1/2")), float(power("3/4", "1/2"))
"""Half the diagonal of a unit square, and the height of an equilateral triangle with sides of 1."""


@pytest.mark.parametrize(
    ("count", "start", "corners"),
    [
        (4, "45 deg", [(S, S), (-S, S), (-S, -S), (S, -S)]),
        (6, "-90 deg", [(0, -1), (H, -1 / 2), (H, 1 / 2), (0, 1), (-H, 1 / 2), (-H, -1 / 2)]),
    ],
)
def test_four_and_six_holes_lie_at_the_corners_of_a_square_and_a_hexagon(
    count: int, start: str, corners: list[tuple[float, float]]
) -> None:
    """Elementary geometry gives the corners on a circle with a radius of 1."""
    holes = plan_holes(bolt_circle(count=count, circle="2 mm", start=start), example_lathe(), None).figures["holes"]
    for corner, hole in zip(corners, holes, strict=True):
        assert (hole["x_mm"], hole["y_mm"]) == pytest.approx(corner, abs=1e-12)


@pytest.mark.parametrize("row", [row for row in printed_rows("holes") if row.quantity == "coordinates"])
def test_hole_coordinates_match_printed_tables(row: Printed) -> None:
    """Each printed coordinate counts from the datum that its table names."""
    keys = {key: value for key, value in row.inputs.items() if key != "n"}
    holes = plan_holes(bolt_circle(count=row.inputs["n"], **keys), example_lathe(), None).figures["holes"]
    for (x_mm, y_mm), hole in zip(json.loads(row.printed), holes, strict=True):
        assert hole["x_mm"] == pytest.approx(x_mm, abs=row.tolerance)
        assert hole["y_mm"] == pytest.approx(y_mm, abs=row.tolerance)


@settings(deadline=None)
@given(
    st.integers(2, 200),
    st.floats(1, 500),
    st.integers(-360, 360),
    st.floats(-300, 300),
    st.floats(-300, 300),
    st.booleans(),
)
def test_hole_coordinates_agree_with_the_roots_of_unity(
    count: int, circle: float, start: int, x_mm: float, y_mm: float, falling: bool
) -> None:
    """numpy's roots of unity, scaled, turned and moved, give every hole. Each readout is within half a mark."""
    keys = {"circle": f"{circle:.3f} mm", "start": f"{start} deg", "centre": [f"{x_mm:.3f} mm", f"{y_mm:.3f} mm"]}
    found = bolt_circle(count=count, sense="falling" if falling else "rising", **keys)
    sense = -1 if falling else 1
    turns = np.deg2rad(start) + sense * 2 * np.pi * np.arange(count) / count
    expected = round(x_mm, 3) + 1j * round(y_mm, 3) + round(circle, 3) / 2 * np.exp(1j * turns)
    plan = plan_holes(found, example_lathe(), None)
    holes = np.array([hole["x_mm"] + 1j * hole["y_mm"] for hole in plan.figures["holes"]])
    assert np.allclose(expected, holes, atol=1e-9)
    assert plan.figures["chord_mm"] == pytest.approx(abs(expected[1] - expected[0]), abs=1e-9)
    steps = [step for step in plan.steps if step.action == "index"]
    for place, step in zip(expected, steps, strict=True):
        for wanted, setting in zip((place.real, place.imag), step.settings, strict=True):
            assert isinstance(setting, Setting)
            assert abs(setting.position - wanted) <= 0.0005 + 1e-8


def test_a_hole_straight_above_or_beside_the_centre_shares_a_coordinate_with_it_exactly() -> None:
    """A hole straight above the centre has exactly the centre's x."""
    holes = bolt_circle(count=4, circle="64 mm", centre=["10 mm", "20 mm"]).holes_mm
    assert holes == [(42.0, 20.0), (10.0, 52.0), (-22.0, 20.0), (10.0, -12.0)]


@pytest.mark.parametrize(
    ("keys", "key"),
    [
        ({"count": 1}, "count"),
        ({"count": 10_000}, "count"),
        ({"count": 3.5}, "count"),
        ({"circle": "0 mm"}, "circle"),
        ({"circle": "64"}, "circle"),
        ({"centre": ["0 mm"]}, "centre"),
        ({"centre": ["0 mm", "0 deg"]}, "centre"),
        ({"drill": "-1 mm"}, "drill"),
        ({"start": "1 mm"}, "start"),
        ({"sense": "up"}, "sense"),
        ({"pitch": "1 mm"}, "pitch"),
    ],
)
def test_each_wrong_value_is_reported_under_its_own_key(keys: dict[str, Any], key: str) -> None:
    """One wrong key gives exactly one problem."""
    _, problems = holes_problems(**{"count": 4, "circle": "64 mm", **keys})
    assert [problem.key for problem in problems] == [key]


def test_two_missing_keys_are_reported_as_two_problems() -> None:
    """Both the count and the circle are missing."""
    assert [problem.key for problem in holes_problems()[1]] == ["count", "circle"]


def test_overlapping_holes_get_a_caution() -> None:
    """A 10 mm drill does not fit a chord of 9.99 mm."""
    close = plan_holes(bolt_circle(count=6, circle="19.98 mm", drill="10 mm"), example_lathe(), None)
    assert {"10", "9.99"} <= figures(close.cautions[0])
    wide = plan_holes(bolt_circle(count=6, circle="20.02 mm", drill="10 mm"), example_lathe(), None)
    assert len(wide.cautions) == len(close.cautions) - 1
    assert {"20.01", "0.01"} <= figures(wide.steps[1].text)


def test_after_the_work_has_moved_the_first_step_finds_the_datum_again() -> None:
    """Two of four holes are drilled. The datum is found first, then the other two holes follow."""
    found, lathe = bolt_circle(count=4, circle="64 mm"), example_lathe()
    steps = plan_holes(found, lathe, None).steps
    progress = progress_of(steps[:4], steps[4:], 50)
    new = replan_holes(found, lathe, None, progress, Moved())
    assert [step.at.position for step in new] == [None, 3, 4, None]
    assert new[0].zeroed_dials == ("x", "y") and new[0].id == 50
    edited = replan_holes(found, lathe, None, progress, Edited(plan_input={}))
    assert [step.at.position for step in edited] == [3, 4, None]
    with pytest.raises(PlanError):
        replan_holes(found, lathe, None, progress, Measured(what="size", size_mm=1.0))
