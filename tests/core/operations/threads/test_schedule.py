"""Properties of the passes of a thread: depth, chip area and number."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.operations.threads.groove import ToolTip
from core.operations.threads.schedule import PassLimits, Schedule, schedule, usual_passes
from tests.core.figures import figures

TIPS = st.one_of(
    st.builds(ToolTip, half_angle_deg=st.sampled_from([30.0, 27.5, 14.5]), flat_mm=st.floats(0, 0.6)),
    st.builds(ToolTip, half_angle_deg=st.sampled_from([30.0, 27.5]), radius_mm=st.floats(0.01, 0.6)),
)


def steps_of(planned: Schedule) -> list[int]:
    """Return the number of marks that each pass cuts."""
    return [after - before for before, after in pairwise((0, *planned.marks))]


@given(
    total=st.integers(1, 300),
    mark=st.sampled_from([0.005, 0.01, 0.0175, 0.025, 0.0222, 0.05]),
    deepest=st.floats(0.02, 0.4),
    share=st.floats(0.05, 1.0),
    passes=st.one_of(st.none(), st.integers(1, 60)),
    tip=TIPS,
    start=st.floats(0, 2),
)
def test_every_pass_schedule_reaches_the_wanted_mark_within_its_limits(
    total: int, mark: float, deepest: float, share: float, passes: int | None, tip: ToolTip, start: float
) -> None:
    """No pass is deeper or lighter than allowed, nor more than one mark deeper than the pass before it."""
    planned = schedule(
        total_marks=total,
        mark_mm=mark,
        passes=passes,
        usual_passes=15,
        limits=PassLimits(deepest_mm=deepest, lightest_mm=deepest * share),
        tip=tip,
        start_mm=start,
    )
    steps = steps_of(planned)
    most = max(1, math.floor(deepest / mark + 1e-9))
    least = min(most, max(1, math.ceil(deepest * share / mark - 1e-9)))
    assert planned.marks[-1] == total
    assert all(0 < step <= most for step in steps)
    assert all(after <= before + 1 for before, after in pairwise(steps))
    possible = any(count * least <= total <= count * most for count in range(1, total + 1))
    lightest = min(steps if possible else steps[:-1], default=least)
    assert lightest >= least or len(steps) == 1
    if passes and passes * least <= total <= passes * most:
        assert len(steps) == passes
        assert not planned.note or mark > deepest
    elif passes and passes != len(steps):
        assert planned.note


@given(tip=TIPS, passes=st.integers(5, 30))
def test_passes_planned_with_wide_limits_all_cut_the_same_chip_area(tip: ToolTip, passes: int) -> None:
    """With fine marks and wide limits, every pass cuts the same chip area to within the area of a mark."""
    mark = 0.0005
    planned = schedule(
        total_marks=4000,
        mark_mm=mark,
        passes=passes,
        usual_passes=passes,
        limits=PassLimits(deepest_mm=2, lightest_mm=mark),
        tip=tip,
    )
    areas = [
        tip.area_mm2(after * mark) - tip.area_mm2(before * mark) for before, after in pairwise((0, *planned.marks))
    ]
    assert max(areas) - min(areas) <= 2.5 * mark * tip.width_mm(2.0)


def test_with_a_pointed_tool_the_depths_of_the_passes_follow_the_square_root_rule() -> None:
    """With straight infeed, the depth after pass k of n is D sqrt(k / n), a published constant-area rule."""
    planned = schedule(
        total_marks=10_000,
        mark_mm=0.0001,
        passes=4,
        usual_passes=4,
        limits=PassLimits(deepest_mm=1, lightest_mm=0.0001),
        tip=ToolTip(half_angle_deg=30),
    )
    assert planned.marks == pytest.approx([5000, 7071, 8660, 10_000], abs=2)


def test_a_stated_number_of_passes_that_is_too_small_gets_a_note() -> None:
    """Three passes of at most 0.25 mm cannot cut 2 mm. The note says that 8 are planned."""
    planned = schedule(
        total_marks=200,
        mark_mm=0.01,
        passes=3,
        usual_passes=3,
        limits=PassLimits(deepest_mm=0.25, lightest_mm=0.03),
        tip=ToolTip(half_angle_deg=30),
    )
    assert len(planned.marks) == 8
    assert "8" in figures(planned.note)


def test_a_thread_of_3_5_mm_pitch_in_mild_steel_takes_15_to_20_passes() -> None:
    """The material is mild steel: common practice, no source."""
    assert 15 <= usual_passes(3.5, "mild steel") <= 20
    assert usual_passes(3.5, "aluminium") < usual_passes(3.5, "mild steel") < usual_passes(3.5, "stainless steel")
