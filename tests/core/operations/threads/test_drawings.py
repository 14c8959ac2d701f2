"""Outlines in the drawings of threads, compared with the definitions of the sizes that they show."""

import math
from typing import Any

import numpy as np
import pytest

from core.lathe.lathe import CompoundScale, Lathe
from core.lathe.reader import example_lathe
from core.operations.compound_drawing import CompoundView, swing_view
from core.operations.threads.compound import compound_scale_words, swing_of
from core.operations.threads.drawings import thread_outline
from core.operations.threads.job import ThreadJob, read_thread_job
from core.values.fields import Table
from tests.core.figures import figures

LATHE = example_lathe()


def job(lathe: Lathe = LATHE, **table: Any) -> ThreadJob:
    """Return a thread job with these job-file keys."""
    found = read_thread_job(Table(table, "", []), lathe)
    assert found is not None
    return found


def view_of(thread: ThreadJob, lathe: Lathe) -> CompoundView:
    """Return the coordinates of the compound's drawing for a thread on this lathe."""
    return swing_view(swing_of(thread), lathe.compound)


JOBS = [
    {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.3 mm"},
    {"thread": "M30x3.5-6g", "blank": "29.5 mm"},
    {"thread": "M20x1.5-6H", "blank": "18.6 mm", "tool_flat": "0.15 mm"},
    {"thread": "7/8-9 UNC-2A", "tool_radius": "0.012 in"},
    {"thread": "1/2 BSW", "tool_radius": "0.3 mm"},
    {"thread": "Tr20x4-7e", "tool_flat": "1.2 mm"},
    {"thread": "3/4-6 Acme-2G", "side": "inside", "tool_flat": "1.4 mm"},
]


def groove_width_mm(profile: tuple[tuple[float, float], ...], pitch_mm: float, y_mm: float) -> float:
    """Return the width of the middle groove of an outline at a height [mm], by straight lines between its points."""
    sides = []
    for sense in (-1, 1):
        flank = [(y, abs(x)) for x, y in profile if 0 <= sense * x <= pitch_mm / 2 + 1e-9]
        flank.sort()
        sides.append(np.interp(y_mm, [y for y, _ in flank], [x for _, x in flank]))
    return float(sum(sides))


@pytest.mark.parametrize("table", JOBS, ids=lambda table: f"{table['thread']} {table.get('blank', '')}")
def test_a_drawn_groove_is_half_a_pitch_wide_at_the_pitch_diameter(table: dict[str, str]) -> None:
    """ISO 5408 defines the pitch cylinder so. The tool must reach this width."""
    thread = job(**table)
    outline = thread_outline(thread)
    y_mm = (thread.thread.wanted_pitch_diameter_mm - thread.blank_mm) / 2
    width = groove_width_mm(outline.profile, thread.thread.pitch_mm, y_mm)
    assert width == pytest.approx(thread.thread.pitch_mm / 2, abs=1e-6)


@pytest.mark.parametrize("table", JOBS, ids=lambda table: f"{table['thread']} {table.get('blank', '')}")
def test_drawn_thread_grooves_are_one_pitch_apart(table: dict[str, str]) -> None:
    """The tool lies in the middle groove and reaches from the root to beyond the surface."""
    thread = job(**table)
    outline = thread_outline(thread)
    deepest = max(abs(y) for _, y in outline.profile)
    roots = sorted(x for x, y in outline.profile if abs(y) == pytest.approx(deepest, abs=1e-9))
    assert roots[-1] - roots[0] == pytest.approx(2 * thread.thread.pitch_mm + thread.tip.flat_mm, abs=1e-9)
    into = 1 if thread.thread.internal else -1
    assert min(into * y for _, y in outline.profile) >= -1e-9
    tool = [into * y for _, y in outline.tool]
    assert max(tool) == pytest.approx(deepest) and min(tool) < 0
    assert max(abs(x) for x, _ in outline.tool) > thread.tip.flat_mm / 2


def test_a_nose_radius_is_drawn_as_an_arc_of_that_radius() -> None:
    """All points of a rounded tip lie on one circle of the nose radius, found by least squares."""
    thread = job(thread="M30x3.5-6g", tool_radius="0.5 mm")
    outline = thread_outline(thread)
    lowest = min(y for _, y in outline.tool)
    nose = np.array([(x, y) for x, y in outline.tool if y <= lowest + 0.25 + 1e-9])
    coefficients = np.column_stack([2 * nose, np.ones(len(nose))])
    x, y, rest = np.linalg.lstsq(coefficients, (nose**2).sum(axis=1), rcond=None)[0]
    assert len(nose) > 10
    assert math.sqrt(rest + x**2 + y**2) == pytest.approx(0.5, abs=1e-6)


def test_limits_are_drawn_at_their_distance_from_the_surface_of_the_blank() -> None:
    """ISO 965-2, M30x3.5-6g: major 29.522 mm to 29.947 mm, pitch diameter 27.462 mm to 27.674 mm.

    The blank is 29.85 mm.
    """
    outline = thread_outline(job(**JOBS[0]))
    found = sorted((level.name, level.y_mm) for level in outline.levels)
    wanted = [("major", 29.522), ("major", 29.947), ("pitch dia", 27.462), ("pitch dia", 27.674)]
    for (name, y_mm), (wanted_name, diameter_mm) in zip(found, wanted, strict=True):
        assert name == wanted_name
        assert y_mm == pytest.approx((diameter_mm - 29.85) / 2, abs=0.0003)


def test_a_thread_without_limits_is_drawn_with_its_basic_sizes() -> None:
    """A custom thread has one level at its major diameter and one at its pitch diameter."""
    outline = thread_outline(job(form="60 deg", major="20 mm", pitch="2 mm", blank="20 mm"))
    assert [(level.name, round(level.y_mm, 3)) for level in outline.levels] == [("major", 0.0), ("pitch dia", -0.65)]


def test_a_thread_on_an_oversize_blank_is_drawn_with_sharp_crests() -> None:
    """If neighbouring grooves meet, the crest is at their meeting point, below the blank."""
    thread = job(form="60 deg", major="20 mm", pitch="2 mm", blank="22 mm")
    highest = max(thread_outline(thread).profile, key=lambda point: point[1])
    assert abs(highest[0]) % 2 == pytest.approx(1.0)
    assert highest[1] == pytest.approx(
        -1 + math.sqrt(3) / 8, abs=1e-6
    )  # Sharp crests are H/8 above the basic major diameter.


# Scale readings. Common practice, no source: zero parallel to the axis, 30 degrees off square reads 60, 29 reads 61.
SCALES = [("parallel", "30 deg", "60°"), ("parallel", "29 deg", "61°"), ("perpendicular", "29 deg", "29°")]


def with_scale(zero: Any, end_deg: float | None = None) -> Lathe:
    """Return the example lathe with another scale on its compound."""
    data = dict(vars(LATHE)) | {"compound": CompoundScale(zero=zero, end_deg=end_deg)}
    return Lathe(**data)


def direction_deg(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Return the direction from one point to another [deg], anticlockwise from the tailstock."""
    return math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))


@pytest.mark.parametrize("runs", ["to the chuck", "from the chuck"])
@pytest.mark.parametrize("side", ["outside", "inside"])
@pytest.mark.parametrize(("zero", "compound_angle", "reading"), SCALES)
def test_the_drawn_compound_angle_agrees_with_the_scale_reading_next_to_it(
    zero: str, compound_angle: str, reading: str, side: str, runs: str
) -> None:
    """The drawn angle between the scale's zero direction and the slide is the reading written next to it."""
    lathe = with_scale(zero)
    view = view_of(job(lathe, thread="M30x3.5", side=side, compound_angle=compound_angle, runs=runs), lathe)
    slide_deg = direction_deg(view.slide[0], view.slide[1])
    zero_deg = direction_deg(*view.zero)
    assert view.reading == reading
    assert abs(slide_deg - zero_deg) % 360 == pytest.approx(float(reading.rstrip("°")), abs=1e-6)
    assert zero_deg % 180 == pytest.approx(0.0 if zero == "parallel" else 90.0)
    assert abs(abs(slide_deg) - 90) == pytest.approx(float(compound_angle.split()[0]))


@pytest.mark.parametrize(
    ("side", "runs", "leans"),
    [
        ("outside", "to the chuck", "right"),
        ("outside", "from the chuck", "left"),
        ("inside", "to the chuck", "left"),
        ("inside", "from the chuck", "right"),
    ],
)
def test_the_drawn_compound_handle_is_on_the_side_that_the_direction_of_the_cut_requires(
    side: str, runs: str, leans: str
) -> None:
    """The handle points to the tailstock for a cut towards the chuck, and the other way for a bore.

    Common practice, no source.
    """
    view = view_of(job(thread="M30x3.5", side=side, runs=runs), LATHE)
    assert view.leans == leans
    assert (view.handle_at[0] > view.slide[0][0]) == (leans == "right")


def test_a_locked_compound_is_drawn_without_a_scale_reading() -> None:
    """With straight infeed the scale is not used. A compound that moves to the next start lies along the axis."""
    straight = job(thread="M30x3.5", infeed="straight")
    assert view_of(straight, LATHE).reading == ""
    assert compound_scale_words(straight, LATHE) == ""
    lathe = with_scale("parallel")
    starts = view_of(job(lathe, thread="M24xPh6P3", infeed="straight"), lathe)
    assert starts.reading == "0°"
    assert direction_deg(starts.slide[0], starts.slide[1]) == pytest.approx(0.0)


def test_the_text_about_the_compound_angle_says_if_its_scale_is_too_short_or_unknown() -> None:
    """The text says that the scale ends too soon or is not described."""
    flank = {"thread": "M30x3.5", "compound_angle": "29 deg"}
    assert figures(compound_scale_words(job(**flank), with_scale("parallel"))) == {"61°", "29°"}
    beyond = compound_scale_words(job(**flank), with_scale("parallel", 60.0))
    assert figures(beyond) == {"29°", "61°"} and beyond.startswith("29")
    bare = Lathe(**(dict(vars(LATHE)) | {"compound": None}))
    assert figures(compound_scale_words(job(bare, **flank), bare)) == {"29°"}
    assert view_of(job(bare, **flank), bare).reading == ""
