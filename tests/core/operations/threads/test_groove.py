"""The tool's tip and the groove's depth, compared with standards and with integrals by scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from core.operations.threads.designation import read_thread
from core.operations.threads.groove import ToolTip, groove_for
from core.values.errors import PlanError
from tests.core.thread_jobs import job_of

H_60 = math.sqrt(3) / 2  # Height of the sharp triangle for a pitch of 1.

# Depth from the basic major diameter to the tip, for a pitch of 1.
# Sources: ISO 68-1 and handbook infeed figures; multiples of H are derived from the basic profile.
DEPTHS_60_DEG = [
    ("sharp, 7H/8", ToolTip(half_angle_deg=30), 0.75777222),
    ("flat P/8, 3H/4", ToolTip(half_angle_deg=30, flat_mm=1 / 8), 0.64951905),
    ("flat P/4, 5H/8", ToolTip(half_angle_deg=30, flat_mm=1 / 4), 0.54126588),
    ("radius H/6, 17H/24", ToolTip(half_angle_deg=30, radius_mm=H_60 / 6), 0.61343466),
    ("radius 0.125 P", ToolTip(half_angle_deg=30, radius_mm=0.125), 0.63277),
]


@pytest.mark.parametrize(("what", "tip", "printed"), DEPTHS_60_DEG)
def test_the_thread_depth_below_the_basic_major_diameter_matches_published_values(
    what: str, tip: ToolTip, printed: float
) -> None:
    """From crest to pitch line is 3H/8; the tip lies below the pitch line as printed."""
    assert 3 * H_60 / 8 + tip.below_pitch_line_mm(1.0) == pytest.approx(printed, abs=5e-6)


def test_a_full_form_whitworth_tool_cuts_the_published_depth() -> None:
    """BS 84: depth 0.640327 P with a root radius of 0.137329 P; half of this depth is below the pitch line."""
    tip = ToolTip(half_angle_deg=27.5, radius_mm=0.137329)
    assert 2 * tip.below_pitch_line_mm(1.0) == pytest.approx(0.640327, abs=2e-6)


@given(
    st.sampled_from([30.0, 27.5, 23.75, 15.0, 14.5]),
    st.floats(0.01, 1.0),
    st.booleans(),
    st.floats(0.01, 3.0),
)
def test_the_area_of_a_groove_matches_the_integral_of_its_width(
    half: float, size: float, is_round: bool, height: float
) -> None:
    """scipy integrates the width, and the inverse of the area gives the height back."""
    tip = ToolTip(half_angle_deg=half, radius_mm=size) if is_round else ToolTip(half_angle_deg=half, flat_mm=size)
    kink = min(tip.round_height_mm, height)
    integral = quad(tip.width_mm, 0, kink, limit=200)[0] + quad(tip.width_mm, kink, height, limit=200)[0]
    assert tip.area_mm2(height) == pytest.approx(integral, rel=1e-6, abs=1e-9)
    assert tip.height_mm(tip.area_mm2(height)) == pytest.approx(height, rel=1e-6)


def test_a_smaller_blank_gets_a_shallower_groove_with_the_same_root_diameter() -> None:
    """A blank turned 0.1 mm undersize is cut 0.05 mm less deep."""
    thread, tip = read_thread("M30x3.5-6g"), ToolTip(half_angle_deg=30, flat_mm=0.3)
    full, small = groove_for(thread, 29.85, tip), groove_for(thread, 29.75, tip)
    assert full.depth_mm - small.depth_mm == pytest.approx(0.05)
    assert full.root_diameter_mm == pytest.approx(small.root_diameter_mm)


def test_the_depth_of_an_external_groove_matches_a_hand_calculation() -> None:
    """M30x3.5-6g, pitch diameter 27.674/27.462 mm (ISO 965-2), blank 29.85 mm, flat 0.30 mm, calculated by hand.

    (29.85 - 27.568)/2 + (1.75 - 0.30)/(2 tan 30) = 1.141 + 1.255737 = 2.396737.
    """
    groove = groove_for(read_thread("M30x3.5-6g"), 29.85, ToolTip(half_angle_deg=30, flat_mm=0.3))
    assert groove.depth_mm == pytest.approx(2.396737, abs=1e-6)


def test_the_depth_of_an_internal_groove_matches_a_hand_calculation() -> None:
    """M20x1.5-6H, pitch diameter 19.026/19.216 mm (ISO 965-2), bore 18.5 mm, sharp tip: 0.3105 + 0.649519 mm."""
    groove = groove_for(read_thread("M20x1.5-6H"), 18.5, ToolTip(half_angle_deg=30))
    assert groove.depth_mm == pytest.approx(0.3105 + 0.649519, abs=1e-5)
    assert groove.root_diameter_mm == pytest.approx(18.5 + 2 * groove.depth_mm)


@pytest.mark.parametrize(
    ("blank", "tip", "field"),
    [
        (20.0, ToolTip(half_angle_deg=30), "blank"),
        (29.85, ToolTip(half_angle_deg=30, flat_mm=4.0), "tool_flat"),
        (29.85, ToolTip(half_angle_deg=30, flat_mm=1.75), "tool_flat"),
        (29.85, ToolTip(half_angle_deg=30, radius_mm=1.6), "tool_radius"),
    ],
)
def test_a_blank_that_is_too_small_or_a_tool_tip_that_is_too_wide_is_refused(
    blank: float, tip: ToolTip, field: str
) -> None:
    """A blank below the root and a tip too wide for the pitch are refused under their own keys."""
    with pytest.raises(PlanError) as refusal:
        groove_for(read_thread("M30x3.5-6g"), blank, tip)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("keys", "flat_mm"),
    [
        # ISO 2904: 0.366 P - 0.536 ac, ac 0.25 for P 4 and 0.5 for P 6. ASME B1.5: 0.3707 P - 0.259 x clearance, which
        # is 0.020 in up to 10 to the inch; printed as 0.0566 in for 6 to the inch (from memory).
        ({"thread": "Tr20x4-7e"}, 0.366 * 4 - 0.536 * 0.25),
        ({"thread": "Tr36x6-7H"}, 0.366 * 6 - 0.536 * 0.5),
        ({"thread": "3/4-6 Acme-2G"}, 0.0566 * 25.4),
        ({"form": "30 deg", "major": "20 mm", "pitch": "4 mm"}, 0.366 * 4),
        ({"form": "29 deg", "major": "1 in", "pitch": "5 tpi"}, 0.3707 * 5.08),
        ({"thread": "M20"}, 0.0),
        ({"thread": "1/2 BSW"}, 0.0),
        ({"thread": "Tr20x4-7e", "tool_flat": "0 mm"}, 0.0),
        ({"thread": "Tr20x4-7e", "tool_flat": "1.2 mm"}, 1.2),
    ],
)
def test_the_default_tool_tip_for_a_wide_root_has_the_flat_width_that_the_standard_gives(
    keys: dict[str, str], flat_mm: float
) -> None:
    """The user enters 0 for a sharp tip."""
    assert job_of(**keys).tip.flat_mm == pytest.approx(flat_mm, abs=0.0015)


def test_the_depth_of_a_trapezoidal_thread_matches_iso_2904() -> None:
    """Tr20x4: h3 = P/2 + ac = 2.25 mm from a 20 mm blank (ISO 2904), plus half of the distance of 7e below 18 mm."""
    job = job_of(thread="Tr20x4-7e", blank="20 mm")
    limits = job.thread.limits
    below_mm = (18 - ((limits.pitch_diameter_max_mm or 0) + (limits.pitch_diameter_min_mm or 0)) / 2) / 2
    assert job.groove.depth_mm == pytest.approx(2.25 + below_mm, abs=1e-6)
