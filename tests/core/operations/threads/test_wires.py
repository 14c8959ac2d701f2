"""Measuring over wires, compared with printed values and with wires laid into generated profiles."""

from collections.abc import Callable
from fractions import Fraction
from math import cos, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, fsolve  # type: ignore[import-untyped]

from core.operations.threads.profiles import (
    Diameters,
    GrooveForm,
    ba_form,
    flat_form,
    thread_of,
    unified_form,
    whitworth_form,
)
from core.operations.threads.thread import Thread
from core.operations.threads.wires import (
    best_wire_mm,
    choose_wire_mm,
    lead_correction_mm,
    over_one_wire_mm,
    over_wires_mm,
    pitch_diameter_error_mm,
    pitch_diameter_from_one_wire_mm,
    pitch_diameter_from_wires_mm,
    usable_wires_mm,
)
from core.values.errors import ThreadError
from tests.core.exact import power
from tests.published import Printed, printed_rows

IN = 25.4
FORMS: dict[float, Callable[[float], GrooveForm]] = {
    60: lambda pitch: unified_form(pitch, False),
    55: whitworth_form,
    47.5: ba_form,
    30: lambda pitch: flat_form(pitch, 15, 0.25),
    29: lambda pitch: flat_form(pitch, 14.5, 0.25),
}
CREST = {60: 0.32475953, 55: 0.3201635, 47.5: 0.3, 30: 0.25, 29: 0.25}
"""From crest to pitch line, in pitches: 3H/8 (ISO 68-1), H/3 (BS 84), 0.3 (BS 93), 1/4 (ISO 2901, ASME B1.5)."""
CREST_RADIUS = {60: 0.0, 55: 0.137329, 47.5: 0.1808346, 30: 0.0, 29: 0.0}
"""The radius of a crest, in pitches, as BS 84 and BS 93 print it."""
WIDE = 500.0
"""A pitch diameter so large that the lead angle does not matter."""


def _thread(
    included_deg: float, pitch_mm: float, pitch_diameter_mm: float, *, starts: int = 1, internal: bool = False
) -> Thread:
    """Return a thread of one of the forms with this basic pitch diameter."""
    crest_mm = CREST[included_deg] * pitch_mm
    basic = Diameters(
        major=Fraction(pitch_diameter_mm + 2 * crest_mm),
        pitch=Fraction(pitch_diameter_mm),
        minor=Fraction(pitch_diameter_mm - 2 * crest_mm),
    )
    form = FORMS[included_deg](pitch_mm)
    return thread_of(
        form, basic, pitch=Fraction(pitch_mm), designation="trial", system="custom", internal=internal, starts=starts
    )


def _rows(quantity: str) -> list[Printed]:
    return [row for row in printed_rows("wires") if row.quantity == quantity]


@pytest.mark.parametrize("row", _rows("best wire"))
def test_the_best_wire_size_matches_the_published_size(row: Printed) -> None:
    """The test covers each form in pitches, and printed Acme pitches."""
    best = best_wire_mm(row.inputs["pitch"], row.inputs["included_deg"] / 2)
    assert best == pytest.approx(float(row.printed), abs=row.tolerance)


def test_the_best_wire_size_of_a_trapezoidal_thread_matches_its_formula() -> None:
    """P / (2 cos 15 deg), with the cosine from that of 30 deg by the half-angle formula."""
    cosine = power((1 + power(3, "1/2") / 2) / 2, "1/2")
    assert best_wire_mm(4, 15) == pytest.approx(float(4 / (2 * cosine)), rel=1e-12)


@pytest.mark.parametrize("row", _rows("constant per wire"))
def test_each_millimetre_of_wire_diameter_raises_the_size_over_wires_by_the_published_constant(row: Printed) -> None:
    """The reading grows by the constant for each millimetre of wire diameter."""
    thread = _thread(row.inputs["included_deg"], 1, WIDE)
    rise = over_wires_mm(WIDE, 2, thread) - over_wires_mm(WIDE, 1, thread)
    assert rise == pytest.approx(float(row.printed), abs=row.tolerance)


@pytest.mark.parametrize("row", _rows("constant per pitch"))
def test_each_millimetre_of_pitch_lowers_the_size_over_wires_by_the_published_constant(row: Printed) -> None:
    """The reading with the same wire falls by the constant for each millimetre of pitch."""
    fine, coarse = (_thread(row.inputs["included_deg"], pitch, WIDE) for pitch in (1, 2))
    fall = over_wires_mm(WIDE, 1, fine) - over_wires_mm(WIDE, 1, coarse)
    assert fall == pytest.approx(float(row.printed), abs=row.tolerance)


@pytest.mark.parametrize("row", _rows("over wires, basic pitch diameter"))
def test_the_size_over_wires_matches_the_published_size(row: Printed) -> None:
    """The handbook sizes are over wires other than the best ones, by the simple formula without the lead."""
    pitch_mm = IN / row.inputs["tpi"]
    pitch_diameter_mm = row.inputs["major_in"] * IN - 0.64951905 * pitch_mm
    thread = _thread(60, pitch_mm, pitch_diameter_mm)
    wire_mm = row.inputs["wire_in"] * IN
    over_mm = over_wires_mm(pitch_diameter_mm, wire_mm, thread)
    over_mm -= lead_correction_mm(pitch_diameter_mm, wire_mm, thread)
    assert over_mm / IN == pytest.approx(float(row.printed), abs=row.tolerance)


@pytest.mark.parametrize("row", _rows("least usable wire") + _rows("most usable wire"))
def test_the_range_of_usable_wires_matches_the_published_range(row: Printed) -> None:
    """Both ends of the range agree, in pitches."""
    least, most = usable_wires_mm(_thread(row.inputs["included_deg"], 1, WIDE))
    found = least if row.quantity.startswith("least") else most
    assert found == pytest.approx(float(row.printed), abs=row.tolerance)


def test_the_range_of_usable_wires_for_sharp_crests_matches_a_hand_calculation() -> None:
    """60 deg, crest 3H/8 up: level with the crest at 7H/8 / (3/2), touching the flank's end at 7H/8 / (3/4)."""
    height = power(3, "1/2") / 2
    usable = usable_wires_mm(_thread(60, 1, WIDE))
    assert usable == pytest.approx((float(height * 7 / 8 / Fraction(3, 2)), float(height * 7 / 8 / Fraction(3, 4))))


def test_the_range_of_usable_wires_for_rounded_crests_matches_a_hand_calculation() -> None:
    """55 deg: level with the crest, H/3 up, and touching the flank's end, r (1 - sin a) below the crest (BS 84)."""
    a, crest, radius = radians(27.5), CREST[55], CREST_RADIUS[55]
    least = (crest + 1 / (4 * tan(a))) / (0.5 + 0.5 / sin(a))
    flank_end = crest - radius * (1 - sin(a))
    most = 2 * (1 / 4 + flank_end * tan(a)) / cos(a)
    assert usable_wires_mm(_thread(55, 1, WIDE)) == pytest.approx((least, most), abs=5e-6)


def test_the_lead_correction_for_wires_in_tr20x4_matches_the_handbook_formula() -> None:
    """Tr20x4 over wires of 2.07 mm: 0.5 w tan^2 B cos a cot a, tan B = 4 / (18 pi) (handbook formula)."""
    a = radians(15)
    by_formula = 0.5 * 2.07 * (4 / (18 * pi)) ** 2 * cos(a) / tan(a)
    assert by_formula == pytest.approx(0.019, abs=0.0005)
    assert lead_correction_mm(18, 2.07, _thread(30, 4, 18)) == pytest.approx(by_formula, rel=0.002)


def _height_of_laid_wire(included_deg: float, pitch_mm: float, wire_mm: float) -> float:
    """Return the height of a wire's centre above the pitch line in a generated profile [mm].

    The profile is an axial section without lead.
    """
    x = np.linspace(-pitch_mm / 2, pitch_mm / 2, 40001)
    height = (np.abs(x) - pitch_mm / 4) / tan(radians(included_deg / 2))
    crest, radius = CREST[included_deg] * pitch_mm, CREST_RADIUS[included_deg] * pitch_mm
    height = np.minimum(height, crest)
    if radius:
        from_middle = pitch_mm / 2 - np.abs(x)
        arc = crest - radius + np.sqrt(np.maximum(radius**2 - from_middle**2, 0))
        # The arc replaces the flank where the flank is tangent to the arc.
        tangent = radius * cos(radians(included_deg / 2))
        height = np.where(from_middle < tangent, arc, height)
    radius_wire = wire_mm / 2
    under = np.abs(x) <= radius_wire
    return float(np.max(height[under] + np.sqrt(radius_wire**2 - x[under] ** 2)))


@pytest.mark.parametrize("included_deg", FORMS)
def test_the_calculated_height_of_a_wire_matches_a_simulated_groove(included_deg: float) -> None:
    """This holds over the whole range of usable wires."""
    pitch_mm = 3.0
    thread = _thread(included_deg, pitch_mm, WIDE)
    least, most = usable_wires_mm(thread)
    for wire_mm in np.linspace(least, most, 9):
        laid = WIDE + 2 * _height_of_laid_wire(included_deg, pitch_mm, wire_mm) + wire_mm
        assert over_wires_mm(WIDE, wire_mm, thread) == pytest.approx(laid, abs=1e-5)


@pytest.mark.parametrize("included_deg", FORMS)
def test_wires_outside_the_usable_range_cannot_measure_the_thread(included_deg: float) -> None:
    """The crest is above a thinner wire, and a thicker wire leaves the flanks."""
    pitch_mm, crest_mm = 3.0, CREST[included_deg] * 3.0
    thread = _thread(included_deg, pitch_mm, WIDE)
    least, most = usable_wires_mm(thread)
    for wire_mm, stands_proud in ((0.999 * least, False), (1.001 * least, True)):
        top = _height_of_laid_wire(included_deg, pitch_mm, wire_mm) + wire_mm / 2
        assert (top > crest_mm) is stands_proud
    too_thick = 1.05 * most
    laid = WIDE + 2 * _height_of_laid_wire(included_deg, pitch_mm, too_thick) + too_thick
    assert abs(over_wires_mm(WIDE, too_thick, thread) - laid) > 1e-3


def _over_wires_in_helicoid(
    included_deg: float, pitch: float, lead: float, pitch_diameter: float, wire: float
) -> tuple[float, float]:
    """Return the measurement over straight wires in a true helicoid, and the radius of contact [mm].

    The unknowns are the wire's distance from the axis, its slant, and the point of contact (radius, turn). The point
    lies on the wire's surface at the least distance. The wire is free to slant and is pressed only at its middle.
    """
    slope, rise = tan(radians(included_deg / 2)), lead / (2 * pi)

    def conditions(unknowns: tuple[float, float, float, float]) -> list[float]:
        distance, slant, radius, turn = unknowns
        x, y = radius * cos(turn) - distance, radius * sin(turn)
        z = pitch / 4 + (radius - pitch_diameter / 2) * slope + rise * turn
        along = y * cos(slant) + z * sin(slant)
        outwards = x * cos(turn) + y * sin(turn) + z * slope
        round_about = -x * radius * sin(turn) + y * radius * cos(turn) + z * rise
        return [x * x + y * y + z * z - wire * wire / 4, outwards, round_about, along]

    start = (pitch_diameter / 2 + wire / 8, rise / (pitch_diameter / 2), pitch_diameter / 2, -0.01)
    (distance, _, radius, _), _, solved, message = fsolve(conditions, start, full_output=True, xtol=1e-13)
    assert solved == 1, message
    return float(2 * distance + wire), float(radius)


@pytest.mark.parametrize("row", _rows("Acme C + c, best wire, 1 in pitch"))
def test_the_helicoid_solver_of_the_tests_reproduces_the_published_constants(row: Printed) -> None:
    """The constants are from a handbook, for large lead angles, with its own best wires."""
    lead = float(row.inputs["starts"])
    pitch_diameter = lead / (pi * tan(radians(row.inputs["lead_angle_deg"])))

    def touches_outside(wire: float) -> float:
        return _over_wires_in_helicoid(29, 1, lead, pitch_diameter, wire)[1] - pitch_diameter / 2

    best = float(brentq(touches_outside, 0.49, 0.53))
    over, _ = _over_wires_in_helicoid(29, 1, lead, pitch_diameter, best)
    assert over - pitch_diameter == pytest.approx(float(row.printed), abs=row.tolerance)


@pytest.mark.parametrize(
    ("included_deg", "pitch_mm", "starts", "pitch_diameter_mm", "within_mm"),
    [
        (60, 1.5, 1, 9.026, 0.002),  # M10: the correction of 0.0018 mm counts as 0.
        (60, 3.5, 1, 27.727, 0.004),
        (30, 1.5, 1, 7.25, 0.0005),  # Tr8x1.5
        (30, 4, 1, 18, 0.0006),  # Tr20x4
        (30, 7, 2, 36.5, 0.003),  # Tr40x14P7
        (29, 25.4 / 6, 1, 16.9, 0.001),  # Acme 3/4-6
        (55, 25.4 / 8, 1, 23.4, 0.004),
    ],
)
def test_the_size_over_wires_matches_the_size_in_an_exact_helicoid(
    included_deg: float, pitch_mm: float, starts: int, pitch_diameter_mm: float, within_mm: float
) -> None:
    """The error of the correction stays below the bound in the docstrings."""
    thread = _thread(included_deg, pitch_mm, pitch_diameter_mm, starts=starts)
    wire_mm = best_wire_mm(pitch_mm, included_deg / 2)
    lead_mm = starts * pitch_mm
    true_mm, _ = _over_wires_in_helicoid(included_deg, pitch_mm, lead_mm, pitch_diameter_mm, wire_mm)
    assert over_wires_mm(pitch_diameter_mm, wire_mm, thread) == pytest.approx(true_mm, abs=within_mm)


def test_a_negligible_lead_correction_is_taken_as_0() -> None:
    """M10 gets no correction. A thread of the same pitch with two starts gets one, and so does Tr20x4."""
    assert lead_correction_mm(9.026, 0.866, _thread(60, 1.5, 9.026)) == 0
    assert lead_correction_mm(9.026, 0.866, _thread(60, 1.5, 9.026, starts=2)) > 0.004
    assert lead_correction_mm(18, 2.07, _thread(30, 4, 18)) > 0.004


THREADS = st.builds(
    lambda included_deg, pitch_mm, slimness, starts: _thread(
        included_deg, pitch_mm, pitch_mm * starts * slimness, starts=starts
    ),
    st.sampled_from(list(FORMS)),
    st.floats(0.25, 8),
    st.floats(4, 60),
    st.integers(1, 4),
)


@given(THREADS, st.floats(0.97, 1.2), st.floats(-0.05, 0.05))
def test_a_pitch_diameter_converted_to_a_size_over_wires_and_back_is_unchanged(
    thread: Thread, thickness: float, out_by: float
) -> None:
    """The test covers three wires and one wire."""
    wire_mm = thickness * best_wire_mm(thread.pitch_mm, thread.half_angle_deg)
    pitch_diameter_mm = thread.pitch_diameter_basic_mm * (1 + out_by)
    over_mm = over_wires_mm(pitch_diameter_mm, wire_mm, thread)
    back_mm = pitch_diameter_from_wires_mm(over_mm, wire_mm, thread)
    assert back_mm == pytest.approx(pitch_diameter_mm, rel=1e-10)
    major_mm = thread.major_basic_mm - 0.02
    over_one_mm = over_one_wire_mm(pitch_diameter_mm, wire_mm, major_mm, thread)
    # On the side of the crest the anvil touches the major radius, on the other side the wire.
    assert over_one_mm - major_mm / 2 == pytest.approx(over_mm / 2, rel=1e-12)
    back_mm = pitch_diameter_from_one_wire_mm(over_one_mm, wire_mm, major_mm, thread)
    assert back_mm == pytest.approx(pitch_diameter_mm, rel=1e-10)


@pytest.mark.parametrize("included_deg", FORMS)
def test_the_errors_of_wire_and_reading_combine_as_the_root_of_the_sum_of_their_squares(included_deg: float) -> None:
    """Each error alone moves the pitch diameter as the conversion does."""
    thread = _thread(included_deg, 2, WIDE)
    wire_mm, step_mm = best_wire_mm(2, included_deg / 2), 0.001
    over_mm = over_wires_mm(WIDE, wire_mm, thread)
    moved = WIDE - pitch_diameter_from_wires_mm(over_mm, wire_mm + step_mm, thread)
    assert pitch_diameter_error_mm(step_mm, 0, thread) == pytest.approx(moved, rel=1e-6)
    moved = pitch_diameter_from_wires_mm(over_mm + step_mm, wire_mm, thread) - WIDE
    assert pitch_diameter_error_mm(0, step_mm, thread) == pytest.approx(moved, rel=1e-6)
    both = pitch_diameter_error_mm(step_mm, step_mm, thread)
    assert both**2 == pytest.approx(
        pitch_diameter_error_mm(step_mm, 0, thread) ** 2 + pitch_diameter_error_mm(0, step_mm, thread) ** 2
    )


@pytest.mark.parametrize(
    ("pitch_mm", "drawer_mm", "chosen_mm"),
    [
        (1.5, (0.9, 1.1, 1.35), 0.9),
        (2.0, (0.9, 1.1, 1.35), 1.1),
        (1.5, (), 0.8660),
        (3.5, (0.9, 1.1, 1.35), 2.0207),  # No wire rises above the crest.
        (0.5, (0.9, 1.1, 1.35), 0.2887),  # No wire reaches the flanks.
        (1.5, (0.77, 0.88, 5.0), 0.88),
    ],
)
def test_the_usable_wire_in_stock_nearest_to_the_best_size_is_chosen(
    pitch_mm: float, drawer_mm: tuple[float, ...], chosen_mm: float
) -> None:
    """The best size is 0.57735 P. Without a usable wire in stock, this size is chosen."""
    thread = _thread(60, pitch_mm, 20 * pitch_mm)
    assert choose_wire_mm(thread, drawer_mm) == pytest.approx(chosen_mm, abs=6e-5)


def test_wires_are_refused_for_internal_threads() -> None:
    """Every function on wires refuses them and names the thread."""
    inside = _thread(60, 1.5, 9.026, internal=True)
    for call in (
        lambda: usable_wires_mm(inside),
        lambda: choose_wire_mm(inside, ()),
        lambda: over_wires_mm(9.026, 0.9, inside),
        lambda: pitch_diameter_from_wires_mm(10.4, 0.9, inside),
    ):
        with pytest.raises(ThreadError, match="trial is an inside thread"):
            call()


@pytest.mark.parametrize("size_mm", [0.0, -1.0, float("nan")])
def test_a_wire_or_diameter_of_0_or_less_is_refused(size_mm: float) -> None:
    """The refusal names the wrong size."""
    thread = _thread(60, 1.5, 9.026)
    with pytest.raises(ThreadError, match="A wire of"):
        over_wires_mm(9, size_mm, thread)
    with pytest.raises(ThreadError, match="A pitch diameter of"):
        over_wires_mm(size_mm, 0.9, thread)
    with pytest.raises(ThreadError, match="A major diameter of"):
        over_one_wire_mm(9, 0.9, size_mm, thread)


@pytest.mark.parametrize("starts", [1, 4])
@pytest.mark.parametrize("over_mm", [-5.0, 0.0, 1.0, 2.2])
def test_a_size_over_wires_that_would_leave_the_thread_without_a_core_is_refused(over_mm: float, starts: int) -> None:
    """The refusal names the reading and the least possible reading."""
    thread = _thread(30, 1.5, 7.25, starts=starts)
    with pytest.raises(ThreadError, match=r"Enter more than \d"):
        pitch_diameter_from_wires_mm(over_mm, 0.776, thread)
