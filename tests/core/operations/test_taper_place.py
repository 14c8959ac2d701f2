"""A taper with a stated start: the compound at its zero, the carriage locked, and the readings at the large end."""

from fractions import Fraction

import numpy as np
import pytest

from core.inputs import Edited
from core.operations.registry import replan
from tests.core.figures import figures
from tests.core.operations.length_jobs import an_input, cuts, done_up_to, movements
from tests.core.planned import make_plan


def test_the_compound_travel_of_a_taper_with_a_stated_start_is_its_slant_length() -> None:
    """1:20 over 40 mm: 40 x sqrt(1 + 1/40^2) = 40.0125 mm, nearest mark of 0.02 mm: 40.02. Carriage: 22 = 18 + 4."""
    its = an_input("taper", taper="1:20", large="18 mm", length="40 mm", starts_at="22 mm")
    plan = make_plan(its)
    lock = next(step for step in plan.steps if step.title == "Lock the carriage")
    setting = lock.setting("carriage")
    assert setting is not None and (setting.turns, setting.reading) == (1, Fraction(4))
    words = " ".join(movements(its, cuts(plan.steps)[-1]))
    assert "62 mm" in words and "40 turns 0.02 mm" in words
    done = done_up_to(plan.steps, len(plan.steps) - 3)
    passes = [*cuts(plan.steps), *cuts(replan(its, done, Edited(plan_input={})))]
    assert all("the compound reads 40 turns and 0.02 mm" in step.text for step in passes)
    assert float(np.hypot(40, 1)) == pytest.approx(40.0125, abs=5e-5)


@pytest.mark.parametrize("keys", [{"starts_at": "22 mm"}, {"starts_at": "0 mm"}, {}])
def test_the_carriage_is_locked_for_a_taper_after_the_tool_touches_the_blank(keys: dict[str, str]) -> None:
    """At the face or off the free end the tool is not over the work, so the carriage must still move."""
    plan = make_plan(an_input("taper", taper="1:20", large="18 mm", length="40 mm", **keys))
    titles = [step.title for step in plan.steps]
    at = titles.index("Touch off the cross-slide")
    assert titles[at + 1] == "Lock the carriage" and "Lock the carriage" not in titles[:at]
    text = plan.steps[at].text
    assert text.index("withdraw the tool past 18 mm") < text.index("over the work") < text.index("just touches")


def test_the_compound_is_wound_back_to_where_its_trial_travel_began_before_it_is_zeroed() -> None:
    """The trial winds it 40 mm towards the chuck. Two turns back from there would leave 2 mm of travel."""
    plan = make_plan(an_input("taper", taper="1:20", large="18 mm", length="40 mm", starts_at="22 mm"))
    trial, zero = (next(step for step in plan.steps if step.title == title) for title in _TRIAL_AND_ZERO)
    assert "40.02 mm towards the chuck" in trial.text and "back to where its trial began" in zero.text


_TRIAL_AND_ZERO = ("Try the compound's travel", "Set the compound to 0")


def test_a_taper_set_by_rule_that_starts_at_the_face_needs_no_scribed_line() -> None:
    """At 0 there is no line to scribe. The carriage is locked with the tool at the face."""
    keys = {"taper": "1:20", "large": "18 mm", "length": "40 mm", "lengths_by": "rule"}
    plan = make_plan(an_input("taper", starts_at="0 mm", **keys))
    lock = next(step for step in plan.steps if step.title == "Lock the carriage")
    assert "just touches the end face" in lock.text
    assert not any("line at" in step.text for step in plan.steps if step.title == "Scribe the lengths")
    assert not any("rule" in words for words in plan.cautions)


def test_a_taper_start_between_two_marks_of_a_rule_gets_a_caution() -> None:
    """12.3 mm is scribed at 12.5 mm, which is 0.2 mm too far."""
    keys = {"taper": "1:20", "large": "18 mm", "length": "40 mm", "lengths_by": "rule"}
    plan = make_plan(an_input("taper", starts_at="12.3 mm", **keys))
    assert figures(next(words for words in plan.cautions if "a rule the taper starts" in words)) == {"0.2"}


def test_a_taper_without_a_stated_start_needs_no_carriage_reading() -> None:
    """The carriage is locked at the free end by eye, and the plan has the usual movements."""
    plan = make_plan(an_input("taper", taper="1:20", large="18 mm", length="40 mm"))
    assert plan.movements and all(step.setting("carriage") is None for step in plan.steps)
