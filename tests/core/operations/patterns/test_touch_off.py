"""A later cutter touches off where its path still meets land, near the highest part of the face."""

from dataclasses import replace

from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.operation import plan_pattern
from core.operations.patterns.touch_off import HIGHEST, touch_off_words
from core.safety import STOP_FIRST, TOUCH_OFF
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with
from tests.core.operations.patterns.machine import ACUTE, WIDE

DOTS = Layer(number=2, shape="dots", cutter=ACUTE, count=4, offset_mm=20, depths_mm=(0.4,))
WIDE_DOTS = Layer(number=1, shape="dots", cutter=WIDE, count=4, offset_mm=20, depths_mm=(1.0,))
JOB = PatternJob(layers=(WIDE_DOTS, DOTS))


def test_the_first_layer_touches_off_at_the_highest_part_of_the_face() -> None:
    """No groove is cut yet."""
    assert touch_off_words(JOB, WIDE_DOTS, []) == HIGHEST


def test_a_later_layer_touches_off_at_a_position_on_land() -> None:
    """The wide point has already cut three of the four places. Only position 4, at 270 deg, meets land."""
    wide = replace(WIDE_DOTS, skip=frozenset({4}))
    assert "position 4" in touch_off_words(JOB, DOTS, [wide])


def test_a_layer_that_lies_entirely_in_earlier_grooves_touches_off_beside_the_pattern() -> None:
    """Every dot lies in an earlier groove."""
    assert "beside the pattern" in touch_off_words(JOB, DOTS, [WIDE_DOTS])


def test_a_circle_that_crosses_earlier_grooves_can_still_touch_off_on_land() -> None:
    """A circle of 5 mm about a dot crosses no groove. A circle through several dots has land between them."""
    circles = Layer(number=2, cutter=ACUTE, count=1, offset_mm=0, circle_radius_mm=20, depths_mm=(0.4,))
    assert "position 1" in touch_off_words(JOB, circles, [WIDE_DOTS])


def test_the_touch_off_is_at_the_highest_position_on_land() -> None:
    """The face is highest at 90 deg, the angle of position 2."""
    job = replace(JOB, face_runout_mm=0.05, face_high_at_deg=90.0)
    outer = replace(WIDE_DOTS, offset_mm=35.0)
    words = touch_off_words(job, DOTS, [outer])
    assert "position 2" in words and "highest" in words


def test_a_wide_slot_leaves_no_land_at_a_dot_between_its_ends() -> None:
    """A wide slot from 10 to 30 mm at 0 deg covers the dot at 20 mm, 0 deg, but no other dot."""
    slot = Layer(number=1, shape="slots", cutter=WIDE, count=1, offset_mm=10, to_offset_mm=30, depths_mm=(1.0,))
    assert "position 2" in touch_off_words(JOB, DOTS, [slot])


def test_a_pattern_touches_off_with_the_cutter_turned_by_hand() -> None:
    """The drive is isolated. The head is turned for circles, the spindle for a cutter in a collet."""
    circles = Layer(number=1, cutter=ACUTE, count=4, offset_mm=20, circle_radius_mm=5, depths_mm=(0.4,))
    for layer, turned in (
        (circles, "turn the head by hand"),
        (replace(WIDE_DOTS, number=1), "turn the spindle by hand"),
    ):
        steps = plan_pattern(PatternJob(layers=(layer,)), lathe_with(), None).steps
        (step,) = [step for step in steps if TOUCH_OFF in step.cautions]
        assert step.text.startswith(STOP_FIRST) and turned in step.text


def test_the_step_after_each_cutter_change_says_where_to_touch_off() -> None:
    """The step gives the place."""
    steps = plan_pattern(PatternJob(layers=(replace(WIDE_DOTS, skip=frozenset({4})), DOTS)), lathe_with(), None).steps
    first, second = [step for step in steps if TOUCH_OFF in step.cautions]
    assert "highest" in first.text and "4" in figures(second.text)
