"""The step that sets the carriage dial for a thread, tried on a simulated carriage with backlash.

A handwheel is turned by its carriage while the half nuts are closed (common practice, no source).
"""

import numpy as np
import pytest

from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.operations.threads.carriage_travel import stop_settings, stop_steps
from tests.core.figures import figures
from tests.core.operations.length_jobs import LATHE, Carriage
from tests.core.thread_jobs import job_of

TO_CHUCK = {"thread": "M20x2.5", "relief": "6 mm", "length": "30 mm"}
FROM_CHUCK = {**TO_CHUCK, "thread": "M20x2.5-LH", "runs": "from the chuck"}
AWAY, TOWARDS = "away from the chuck", "towards the chuck"


def step_text(lathe: Lathe = LATHE, **keys: str) -> str:
    """Return the text of the step that sets the carriage dial for a thread."""
    (step,) = stop_steps(job_of(lathe, **keys), lathe)
    assert step.zeroed_dials == ("carriage",)
    return step.text


def in_a_pass_mm(carriage: Carriage, position_mm: float) -> float:
    """Return where closed half nuts have moved the tool, from the face [mm], when the dial shows a position [mm].

    numpy moves the tool in steps of 0.001 mm and lets it push the handle, as in the textbook play operator.
    """
    carriage.wind(carriage.face_mm - 10.0)
    tool_mm = np.arange(carriage.tool_mm, carriage.face_mm + position_mm + 2.0, 0.001)
    handle_mm = np.maximum(carriage.handle_mm, tool_mm)
    at = int(np.argmax(handle_mm - carriage.zero_mm >= position_mm - 1e-9))
    return float(tool_mm[at] - carriage.face_mm)


def set_at_face(carriage: Carriage, direction: str) -> None:
    """Wind the tool to the face in one direction, then set the dial to 0."""
    from_mm = carriage.face_mm + (15.0 if direction == AWAY else -15.0)
    carriage.wind(from_mm)
    carriage.wind(carriage.face_mm + (0.0 if direction == AWAY else carriage.gap_mm))
    assert carriage.tool_mm == pytest.approx(carriage.face_mm)
    carriage.zero_mm = carriage.handle_mm


@pytest.mark.parametrize("backlash_mm", [0.1, 0.4, 1.0])
def test_setting_the_carriage_dial_in_the_stated_direction_makes_its_stop_reading_exact(backlash_mm: float) -> None:
    """Set in the direction of the step, the dial is right in a pass. Set in the other, it is out by the backlash."""
    aim = stop_settings(job_of(LATHE, **TO_CHUCK), LATHE)
    assert aim is not None
    position_mm = float(aim.aim.position)
    direction = AWAY if AWAY in step_text(**TO_CHUCK) else TOWARDS
    off_mm = {}
    for tried in (AWAY, TOWARDS):
        carriage = Carriage(backlash_mm, 7.0)
        set_at_face(carriage, tried)
        off_mm[tried] = in_a_pass_mm(carriage, position_mm) - position_mm
    assert off_mm.pop(direction) == pytest.approx(0.0, abs=0.0011)
    assert list(off_mm.values()) == pytest.approx([backlash_mm], abs=0.0011)


def test_for_a_thread_cut_from_the_chuck_backlash_is_taken_up_towards_the_chuck() -> None:
    """The dial shows where such a pass starts, and the turner winds the carriage there by hand, towards the chuck."""
    text = step_text(**FROM_CHUCK)
    assert TOWARDS in text and AWAY not in text
    carriage = Carriage(0.4, 7.0)
    set_at_face(carriage, TOWARDS)
    assert carriage.feed_to(33.0) == pytest.approx(33.0)


def test_the_step_that_sets_the_carriage_dial_states_the_size_of_the_backlash() -> None:
    """A lathe file with a backlash of 0.4 mm has 0.4 in the text; one without it does not."""
    data = dict(LATHE.data)
    data["dial"] = {**data["dial"], "carriage": {**data["dial"]["carriage"], "backlash": "0.4 mm"}}
    assert "0.4" in figures(step_text(lathe_from(data, "test"), **TO_CHUCK))
    assert "0.4" not in figures(step_text(**TO_CHUCK))
