"""What a screen or a card needs to draw a pattern to scale: circles and spokes in mm about the table's axis."""

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from core.operations.registry import PlanInput, operation_of, parameters_of
from core.plan import Expects, Step
from core.values.errors import CoreError

if TYPE_CHECKING:
    from core.events.state import State
    from core.operations.patterns.picture import LayerPicture

Fate = Literal["coming", "begun", "cut"]
"""begun: cut, but not yet to its full depth."""


class Place(NamedTuple):
    """One position of one layer, both counted from 1."""

    layer: int
    position: int


class SpokePicture(NamedTuple):
    """One position at which something is cut at the rim: a line towards the table's axis."""

    position: int
    inner_mm: tuple[float, float]
    outer_mm: tuple[float, float]


class PatternPicture(NamedTuple):
    """A pattern as seen on the work's face; position 1 at its start angle from the right, counted anticlockwise."""

    reach_mm: float
    """Radius about the middle that the picture must show."""
    layers: "tuple[LayerPicture, ...]" = ()
    spokes: tuple[SpokePicture, ...] = ()
    rim_mm: float | None = None
    """Radius of the blank, or of the circle that the positions lie on."""


class Standing(NamedTuple):
    """How a run stands at every position of its pattern."""

    fates: Mapping[Place, Fate]
    """Positions that were skipped throughout are left out."""
    present: Place | None = None
    """The position at hand."""


_SPOKE = 0.78
"""Where a spoke begins, of the radius."""


def picture_of(plan_input: PlanInput) -> PatternPicture | None:
    """Return the picture of an operation, None where it has no pattern or its parameters cannot be read."""
    try:
        drawn = operation_of(plan_input.kind).pattern
        return drawn and drawn(parameters_of(plan_input))
    except CoreError:
        return None


def picture_from(kind: str, found: Any) -> PatternPicture | None:
    """Return the picture of checked parameters, None where they make no pattern."""
    drawn = operation_of(kind).pattern
    return drawn and drawn(found)


def spoke_pictures(angles_deg: Iterable[float], radius_mm: float) -> tuple[SpokePicture, ...]:
    """Return a spoke at each angle, its end on a circle of that radius."""
    return tuple(
        SpokePicture(
            position=number,
            inner_mm=(_SPOKE * radius_mm * x, _SPOKE * radius_mm * y),
            outer_mm=(radius_mm * x, radius_mm * y),
        )
        for number, (x, y) in enumerate(map(unit_vector, angles_deg), start=1)
    )


def unit_vector(angle_deg: float) -> tuple[float, float]:
    """Return cosine and sine of an angle [deg]."""
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)


class Follower:
    """Tells how a run stands at every position, again after each key: which step belongs where is found once."""

    def __init__(self) -> None:
        self._steps: tuple[Step, ...] | None = None
        self._told_by: dict[Place, list[int]] = {}

    def standing(self, state: "State") -> Standing:
        """Return how the run stands now."""
        if state.steps is not self._steps:
            self._steps, self._told_by = state.steps, _told_by(state.steps)
        marks = state.results
        fates: dict[Place, Fate] = {}
        for place, step_ids in self._told_by.items():
            left = {mark.status if (mark := marks.get(step_id)) else "open" for step_id in step_ids}
            if left != {"skipped"}:
                fates[place] = "coming" if "done" not in left else "begun" if "open" in left else "cut"
        return Standing(fates=fates, present=_present(state))


def _told_by(steps: tuple[Step, ...]) -> dict[Place, list[int]]:
    """Return the steps that tell how each position stands: its cuts; where it has none, its stops."""
    stops: dict[Place, list[int]] = {}
    cuts: dict[Place, list[int]] = {}
    for step in steps:
        place = _place(step)
        if place is not None:
            (cuts if step.action == "cut" else stops).setdefault(place, []).append(step.id)
    return stops | cuts


def _present(state: "State") -> Place | None:
    """Return where the work stands now; a depth is measured where it was cut last."""
    cursor = state.cursor
    if cursor is not None and cursor.expects == Expects.DEPTH:
        cursor = state.last_done
    return None if cursor is None else _place(cursor)


def _place(step: Step) -> Place | None:
    position = step.at.position
    return None if position is None else Place(step.at.layer or 1, position)
