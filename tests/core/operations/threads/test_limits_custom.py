"""Roots, assumed blanks and custom threads, compared with the profile constants of the standards."""

import math

import pytest

from core.operations.threads.designation import read_thread
from core.operations.threads.job import blank_default_mm
from core.operations.threads.profiles import custom_thread
from core.values.errors import ThreadError


@pytest.mark.parametrize("text", ["M30x3.5", "1-8 UNC", "1/2 BSW", "G1/2", "4 BA", "Tr20x4", "3/4-6 Acme"])
@pytest.mark.parametrize("side", ["outside", "inside"])
def test_a_root_flat_or_root_radius_meets_both_flanks(text: str, side: str) -> None:
    """A tool with the flat or radius of the root makes groove and ridge equally wide."""
    thread = read_thread(text, side=side)
    a = math.radians(thread.half_angle_deg)
    short_mm = thread.root_flat_mm / (2 * math.tan(a)) + thread.root_radius_mm * (1 / math.sin(a) - 1)
    assert thread.root_depth_mm + short_mm == pytest.approx(thread.pitch_mm / (4 * math.tan(a)))


@pytest.mark.parametrize(
    ("text", "radius_pitches", "flat_pitches"),
    [
        ("60 deg outside", 0.144338, 0.0),
        ("60 deg inside", 0.0, 0.125),
        ("55 deg outside", 0.137329, 0.0),
        ("47.5 deg outside", 0.1808346, 0.0),
        ("30 deg outside", 0.0, 0.366025),
        ("29 deg outside", 0.0, 0.3707),
    ],
)
def test_root_radii_and_root_flats_match_published_values(
    text: str, radius_pitches: float, flat_pitches: float
) -> None:
    """Root radius and flat, in pitches, are those of ISO 68-1, BS 84, BS 93, ISO 2901 and ASME B1.5."""
    angle, _, side = text.split()
    thread = custom_thread(included_angle_deg=float(angle), major_mm=20, pitch_mm=1.0, internal=side == "inside")
    assert radius_pitches == pytest.approx(thread.root_radius_mm, abs=0.0000051)
    assert flat_pitches == pytest.approx(thread.root_flat_mm, abs=0.000051)


@pytest.mark.parametrize(
    ("angle_deg", "pitch_diameter_mm", "minor_mm"),
    [
        # Depth over pitch: 0.64951905 and 1.08253175 (ISO 68-1), 0.640327 (BS 84), 0.6 (BS 93), 0.5 (ISO 2901, B1.5).
        (60, 20 - 0.64951905 * 2, 20 - 1.08253175 * 2),
        (55, 20 - 0.640327 * 2, 20 - 2 * 0.640327 * 2),
        (47.5, 18.8, 17.6),
        (30, 19.0, 18.0),
        (29, 19.0, 18.0),
    ],
)
def test_a_custom_thread_has_the_proportions_of_the_standard_for_its_angle(
    angle_deg: float, pitch_diameter_mm: float, minor_mm: float
) -> None:
    """The thread is 20 x 2 mm. A custom thread has no limits."""
    thread = custom_thread(included_angle_deg=angle_deg, major_mm=20, pitch_mm=2, internal=False)
    assert not thread.has_limits and thread.notes
    assert pitch_diameter_mm == pytest.approx(thread.pitch_diameter_basic_mm, abs=1e-6)
    assert minor_mm == pytest.approx(thread.minor_basic_mm, abs=1e-6)
    assert blank_default_mm(thread) == 20


@pytest.mark.parametrize(
    ("angle_deg", "major_mm", "pitch_mm", "field", "part"),
    [
        (62.0, 20.0, 2.0, "form", "60, 55, 47.5, 30 or 29"),
        (math.nan, 20.0, 2.0, "form", "60"),
        (60.0, 0.0, 2.0, "major", "above 0"),
        (60.0, math.inf, 2.0, "major", "1000"),
        (60.0, 20.0, 0.0, "pitch", "0.07 mm to below"),
        (60.0, 20.0, 17.0, "pitch", "below"),
        (30.0, 20.0, math.nan, "pitch", "0.07 mm to below"),
    ],
)
def test_the_refusal_of_a_custom_thread_names_the_wrong_field(
    angle_deg: float, major_mm: float, pitch_mm: float, field: str, part: str
) -> None:
    """The fields are form, major and pitch."""
    with pytest.raises(ThreadError) as caught:
        custom_thread(included_angle_deg=angle_deg, major_mm=major_mm, pitch_mm=pitch_mm, internal=False)
    assert field == caught.value.field
    assert part in caught.value.message


@pytest.mark.parametrize(
    ("text", "side", "blank_mm"),
    [
        # Middle of the printed limits (ISO 965-2: M30 6g 29.947/29.522; M10 6H 8.376/8.676; ISO 228-1).
        ("M30x3.5-6g", None, (29.947 + 29.522) / 2),
        ("M10-6H", None, (8.376 + 8.676) / 2),
        ("G1/2", "inside", 18.631 + 0.541 / 2),
    ],
)
def test_the_assumed_blank_diameter_is_midway_between_its_limits(text: str, side: str | None, blank_mm: float) -> None:
    """The limits are those of the major diameter outside, and of the minor diameter inside."""
    assert blank_mm == pytest.approx(blank_default_mm(read_thread(text, side=side)))
