"""Operations with lengths for the tests, the parts of their plans, and a simulated carriage with backlash."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.cutting import Progress, progress_of
from core.lathe.lathe import Lathe
from core.lathe.reader import read_lathe
from core.operations.registry import PlanInput, operation_of, parameters_of
from core.plan import Step
from core.values.dials import ZeroedDials
from core.values.errors import FileError
from tests.core.planned import make_plan

LATHE = read_lathe(Path("sample_jobs/metric_lathe.toml"))


SHAFT = [["25 mm", "22 mm"], ["30 mm", "48.5 mm"], ["36 mm", "60 mm"]]


def an_input(kind: str = "turn", lathe: Lathe = LATHE, **keys: Any) -> PlanInput:
    """Return the plan input of an operation with the keys of a job file (`from_` stands for "from")."""
    usual: dict[str, Any] = {"kind": kind, "name": "it", "cut": "1 mm", "finish": "0.2 mm"}
    if kind == "turn":
        usual |= {"from": "40 mm", "to": "36 mm"}
    if kind == "groove":
        usual |= {"dial": "cross_slide", "diameter_now": "36 mm", "diameter": "30 mm"}
    if kind == "shoulders":
        usual |= {"from": "40 mm", "shoulders": SHAFT}
    return PlanInput(kind=kind, parameters=usual | {key.rstrip("_"): value for key, value in keys.items()}, lathe=lathe)


def cuts(steps: Sequence[Step]) -> list[Step]:
    """Return the steps that cut."""
    return [step for step in steps if step.action == "cut"]


def carriage_at(step: Step) -> Fraction:
    """Return the position of the carriage dial at the end of a pass, counted from its zero [mm]."""
    setting = step.setting("carriage")
    assert setting is not None
    return setting.position


def done_up_to(steps: Sequence[Step], number: int) -> Progress:
    """Return the progress of a run in which the first `number` steps are done."""
    return progress_of(steps[:number], steps[number:], next_id=1000)


def movements(plan_input: PlanInput, step: Step, zeros: dict[str, Fraction] | None = None) -> tuple[str, ...]:
    """Return the movements of a pass as the counter shows them."""
    made = operation_of(plan_input.kind).movements
    assert made is not None
    of_step = made(parameters_of(plan_input), plan_input.lathe)
    assert of_step is not None
    return of_step(step, ZeroedDials(plan_input.lathe.dials, zeros or {}), (1, 1))


def problems(**keys: Any) -> str:
    """Return all problems of a refused operation as one text."""
    with pytest.raises(FileError) as refused:
        make_plan(an_input(**keys))
    return " ".join(refused.value.every)


class Carriage:
    """A simulated carriage with backlash: it does not move while the handle crosses the gap (a play operator)."""

    def __init__(self, backlash_mm: float, face_mm: float) -> None:
        self.gap_mm, self.face_mm = backlash_mm, face_mm
        self.handle_mm = self.tool_mm = face_mm - 20.0
        self.zero_mm = 0.0

    def wind(self, handle_mm: float) -> None:
        """Turn the handle to a position [mm]. The tool is pushed towards the chuck and pulled away from it."""
        self.handle_mm = handle_mm
        self.tool_mm = max(handle_mm - self.gap_mm, min(handle_mm, self.tool_mm)) if self.gap_mm else handle_mm

    def touch_face(self, error_mm: float = 0.0) -> None:
        """Wind towards the chuck until the tool is at the face, within an error [mm], and set the dial to 0."""
        self.wind(self.face_mm - 15.0)
        self.wind(self.face_mm + self.gap_mm + error_mm)
        assert self.tool_mm == pytest.approx(self.face_mm + error_mm)
        self.zero_mm = self.handle_mm

    def feed_to(self, position_mm: float, *, from_beyond: bool = False) -> float:
        """Feed by hand to a dial position and return the tool's distance from the face, both in mm."""
        self.wind(self.zero_mm + position_mm + 3.0 if from_beyond else self.zero_mm - 10.0)
        self.wind(self.zero_mm + position_mm)
        return self.tool_mm - self.face_mm


def play(carriage: Carriage, handle: np.ndarray) -> np.ndarray:
    """Return the tool's position for each position of the handle, by the textbook play operator."""
    tool, at = np.empty_like(handle), carriage.tool_mm
    for number, place in enumerate(handle):
        at = np.clip(at, place - carriage.gap_mm, place)
        tool[number] = at
    return tool
