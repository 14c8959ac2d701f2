"""A blank put back on the table is found again. The checks are hand values, a machine in numpy, and a fit by scipy."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares  # type: ignore[import-untyped]

from core.inputs import PutBack
from core.operations.patterns.elements import Element
from core.operations.patterns.layers import PolarSetting
from core.operations.patterns.place_settings import setting_to_meet
from core.operations.patterns.put_back import FoundCut, put_back
from core.values.errors import PlanError
from tests.core.figures import figures
from tests.core.operations.patterns.made import grooves, job, layer, places


def settings_to_meet(point: complex, height: float, far: bool) -> tuple[float, float]:
    """Return slide and table at which a simulated spindle meets a point of the table, found by a solver.

    The spindle lies at (slide, -height) from the table's axis, or (-slide, -height) on the far side. The table turns
    clockwise by its angle.
    """

    def off(tried: np.ndarray) -> np.ndarray:
        here = complex(-tried[0] if far else tried[0], -height) * np.exp(1j * np.deg2rad(tried[1]))
        return np.array([(here - point).real, (here - point).imag])

    start = [abs(point), np.angle(point, deg=True) + (180 if far else 0)]
    slide, angle = least_squares(off, start, xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    return float(slide), float(angle)


def found_again(
    cuts: tuple[Element, ...], shift: complex, turned_deg: float, height: float = 0.0, far: bool = False
) -> list[FoundCut]:
    """Return the settings at which cuts are found on a blank in another position."""
    return [
        FoundCut(
            one,
            *settings_to_meet(
                shift + complex(one.x_mm, one.y_mm) * complex(np.exp(1j * np.deg2rad(turned_deg))), height, far
            ),
        )
        for one in cuts
    ]


def test_two_dots_found_again_determine_the_shift_and_turn_of_the_blank() -> None:
    """Dots at (20, 0) and (0, 20), found at 20 mm and 90 deg, and 20 mm and 180 deg: turned by 90 deg, not shifted.

    Found at (20.3, 0) and (0.3, 20), the dots are 0.3 mm to the right.
    """
    dots = grooves(places((20.0, 0.0), (0.0, 20.0), shape="dots"))
    turned = put_back(job(layer()), [FoundCut(dots[0], 20, 90), FoundCut(dots[1], 20, 180)])
    assert turned[:3] == pytest.approx((0, 0, 90), abs=1e-9)
    assert turned.residual_mm == pytest.approx(0, abs=1e-9)
    right = FoundCut(dots[0], 20.3, 0), FoundCut(dots[1], math.hypot(0.3, 20), math.degrees(math.atan2(20, 0.3)))
    assert put_back(job(layer()), right)[:3] == pytest.approx((0.3, 0, 0), abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-179, 179), st.floats(-0.5, 0.5), st.booleans(), st.integers(2, 6))
def test_any_shift_and_turn_of_the_blank_is_calculated_from_cuts_found_again(
    x: float, y: float, turned: float, height: float, far: bool, count: int
) -> None:
    """The simulated table has any height error and either side."""
    keys = {"height_error_mm": height, "is_far": far, "eccentricity_mm": 0.2, "eccentric_at_deg": 70.0}
    cuts = grooves(layer(count, 21.0, 4.0, start=17, about_mm=(3.0, -1.0)), **keys)
    now = put_back(job(layer(), **keys), found_again(cuts, complex(x, y), turned, height, far))
    assert now[:3] == pytest.approx((x, y, turned), abs=1e-6)
    assert now.residual_mm < 1e-6


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 1000))
def test_the_fit_of_cuts_found_again_matches_a_least_squares_fit_by_scipy(seed: int) -> None:
    """All readings have small errors. A fit by scipy without the closed form gives the same result."""
    random = np.random.default_rng(seed)
    cuts = grooves(layer(5, 20.0, 4.0))
    work = np.array([complex(one.x_mm, one.y_mm) for one in cuts])
    noise = random.normal(0, 0.02, 5) + 1j * random.normal(0, 0.02, 5)
    table = (0.7 - 0.2j) + work * np.exp(1j * np.deg2rad(33)) + noise
    found = [FoundCut(one, abs(there), math.degrees(np.angle(there))) for one, there in zip(cuts, table, strict=True)]
    now = put_back(job(layer()), found, most_mm=1)

    def off(motion: np.ndarray) -> np.ndarray:
        there = complex(motion[0], motion[1]) + work * np.exp(1j * motion[2]) - table
        return np.concatenate([there.real, there.imag])

    best = least_squares(off, [0, 0, 0.5], xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    assert now[:3] == pytest.approx((best[0], best[1], np.rad2deg(best[2])), abs=1e-5)
    assert now.residual_mm == pytest.approx(np.sqrt((off(best) ** 2).sum() / 5), abs=1e-7)
    assert now.worst_mm == pytest.approx(np.abs(off(best)[:5] + 1j * off(best)[5:]).max(), abs=1e-6)


def refused(found: list[FoundCut]) -> str:
    """Return the sentence that refuses some readings."""
    with pytest.raises(PlanError) as error:
        put_back(job(layer()), found)
    return error.value.message


@pytest.mark.parametrize("shift_mm", [5e-324, -5e-324, 1e-310])
@pytest.mark.parametrize("far", [False, True])
def test_a_negligible_shift_of_the_blank_leaves_the_settings_unchanged(shift_mm: float, far: bool) -> None:
    """A place at 20 mm on the x axis needs slide 20 mm and table 0 deg, or 180 deg on the far side."""
    wanted = PolarSetting(20.0, Fraction(180 if far else 0))
    now = setting_to_meet(job(layer(), is_far=far), (20.0, 0.0), PutBack((0.0, shift_mm), 0.0), wanted)
    assert (now.slide_mm, now.angle_deg) == (20.0, wanted.angle_deg)


def test_the_refusal_of_contradictory_readings_names_the_wrong_reading() -> None:
    """Of four cuts, one reading is a turn of the slide's handle out. Two cuts alone do not show which one is wrong."""
    cuts = grooves(layer(4, 20.0, 4.0))
    found = found_again(cuts, 0.4 + 0.1j, 25)
    found[2] = found[2]._replace(slide_mm=found[2].slide_mm + 2)
    assert "layer 1, position 3 is wrong by" in refused(found)
    words = refused(found[1:3])
    assert "28.284 mm apart" in words and "third cut" in words
    assert "layer 1, position 3 is wrong by" in refused(found[1:])
    found[3] = found[3]._replace(slide_mm=found[3].slide_mm + 1)
    assert "do not fit together" in refused(found[1:])


def test_too_few_or_unsuitable_cuts_for_locating_the_blank_are_refused() -> None:
    """One cut, two cuts next to each other, an arc, and a slide past the axis are refused."""
    cuts = grooves(layer(4, 20.0, 4.0))
    found = found_again(cuts, 0j, 0)
    assert "better three" in refused(found[:1])
    near = grooves(places((20.0, 0.0), (22.0, 0.0), shape="dots"))
    assert "2 mm apart" in refused(found_again(near, 0j, 0))
    (arc,) = grooves(layer(1, 20.0, shape="arcs", through=90))
    assert "arc" in refused([found[0], FoundCut(arc, 20, 0)])
    assert "past the table's axis" in refused([found[0], found[1]._replace(slide_mm=-20.0)])


def test_the_message_about_the_position_of_the_blank_names_the_cut_with_the_largest_error() -> None:
    """Small errors are accepted, and the message names the cut with the largest error."""
    found = found_again(grooves(layer(3, 20.0, 4.0)), 0.4 + 0.1j, 25)
    found[1] = found[1]._replace(slide_mm=found[1].slide_mm + 0.06)
    now = put_back(job(layer()), found)
    assert {"1", "2", f"{round(now.worst_mm, 3):g}", f"{round(now.turned_deg, 3):g}°"} <= figures(
        now.words(PutBack((0.0, 0.0), 0.0))
    )
    assert now.worst == found[1] and 0.01 < now.residual_mm < now.worst_mm < 0.06
