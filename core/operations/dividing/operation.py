"""The `divide` operation: plans its steps, and plans the remaining steps again after an input."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from core.cutting import Progress, rounding_note
from core.inputs import Edited, Measured, Moved, PickedUp, RunInput, SetTo, nothing_planned_from
from core.lathe.lathe import Lathe, RotaryTable, dial_words, how_to_add
from core.operations.dividing.depth import depth_passes, depth_question, pass_count
from core.operations.dividing.job import DivideJob, read_divide
from core.operations.dividing.replanning import (
    circle_in_use,
    from_depth_cut,
    measured_depth,
    open_pattern_steps,
    set_differently,
)
from core.operations.dividing.set_up import depth_touch_off, mounting_steps, table_zero_step
from core.operations.dividing.steps import (
    MOUNTING,
    DividedCut,
    OpenSteps,
    estimated_time_s,
    open_numbers,
    open_steps,
    pattern_count,
    pattern_steps,
    unshifted,
    without_idle_turns,
)
from core.operations.dividing.words import (
    TABLE_ROUND,
    arc_mm,
    backlash_caution,
    coarse_mark,
    dividing_cautions,
    with_cautions,
    worst_error_text,
)
from core.operations.operation import TOOL, WORKHOLDING, Figures, Needs, Operation
from core.plan import PatternPosition, Plan, Step, StepCount, numbered
from core.safety import STOP_FIRST, general
from core.values.errors import PlanError
from core.values.plain_text import sentence

if TYPE_CHECKING:
    from core.events.state import State
    from core.operations.patterns.picture import PatternPicture
    from core.operations.settings_table import SettingsTable
    from core.questions import Asked

_TABLE_ZERO, _TOUCH_OFF, _FIRST_OF_PATTERN = 1, 2, 3


def count_divide(job: DivideJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a `divide` operation will have. Raises PlanError if the depth cannot be cut."""
    depth = job.depth
    passes = None if depth is None else pass_count(lathe, depth.dial, depth.depth_mm, depth.cut_mm)
    positions = job.divisions or len(job.angles_deg)
    # Mounting a plate, setting the table to 0, touching off, the last check.
    around = (job.means != "dial") + 1 + (passes is not None) + 1
    return StepCount(around + pattern_count(positions, passes, job.order), "cut", "a deeper cut, or fewer positions")


def plan_divide(job: DivideJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a `divide` operation. Raises PlanError if the lathe cannot set the positions or the depth."""
    pattern = _pattern(job, lathe)
    steps = [*_set_up(pattern), *pattern_steps(pattern), _last_check(job, pattern, lathe)]
    return Plan(
        figures=_figures(job, pattern, steps),
        cautions=tuple(_cautions(job, pattern, lathe)),
        general=general(material, TABLE_ROUND),
        movements=_movements(pattern),
        steps=numbered(with_cautions(steps)),
    )


def replan_divide(
    job: DivideJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining steps. Raises PlanError for an input that a `divide` operation cannot
    use.

    After a move, the zeros of the dials are found again before the remaining steps. After an edit of the job or the
    lathe, everything from the first open position is planned again.
    """
    pattern = _pattern(job, lathe)
    is_open = open_numbers(progress.open_steps)
    match entered:
        case Measured(what="depth"):
            steps = measured_depth(pattern, progress, entered.size_mm, is_open)
        case SetTo():
            steps = set_differently(pattern, lathe, open_pattern_steps(progress), entered.position, job.radius_mm)
        case Moved() | PickedUp():
            # The user touches off again, so a correction by measurement no longer applies.
            steps = _from_zero(pattern, unshifted(is_open), mount=MOUNTING in is_open)
        case Edited():
            from_here = without_idle_turns(pattern, from_first_open(progress.open_steps, pattern.next_number), is_open)
            is_other = circle_in_use(progress.open_steps) not in {
                None,
                (pattern.dividing.means, pattern.dividing.circle),
            }
            # The table is at a hole of the old circle. Only hole 0 of both circles lines up.
            steps = _from_zero(pattern, from_here, mount=True) if is_other else _still_open(pattern, from_here)
        case _:
            raise nothing_planned_from(entered)
    if not isinstance(entered, Measured | SetTo):
        steps = from_depth_cut(lambda step: pattern, progress.open_steps, steps)
    return numbered([*with_cautions(steps), _last_check(job, pattern, lathe)], progress.next_id)


def _from_zero(pattern: DividedCut, is_open: OpenSteps, *, mount: bool) -> list[Step]:
    """Return the steps that find the zeros of the dials again, then the remaining steps.

    `is_open`: the numbers of the remaining steps. `mount`: True if the dividing plate is not on the table yet.
    """
    set_up = [step for step in _set_up(pattern, again=True) if mount or step.at.step != MOUNTING]
    return [*set_up, *pattern_steps(pattern, is_open, restart=True)]


def _still_open(pattern: DividedCut, is_open: OpenSteps) -> list[Step]:
    return [*open_steps(_set_up(pattern), is_open), *pattern_steps(pattern, is_open)]


def from_first_open(steps: Iterable[Step], end: int) -> OpenSteps:
    """Return the remaining steps, extended to every step number from the first open position up to `end` (not
    included).

    All these steps are needed because an edit may have changed the positions. Set-up steps do not count as positions,
    so finding the zeros again does not cause everything to be cut again.
    """
    listed = list(steps)
    is_open = open_numbers(listed)
    at_positions = (step.at.step for step in listed if step.at.position is not None)
    first = min((number for number in at_positions if number is not None), default=min(is_open, default=end))
    before = {number: shift for number, shift in is_open.items() if number < first}
    return {**before, **{number: is_open.get(number, 0) for number in range(first, end)}}


def _pattern(job: DivideJob, lathe: Lathe) -> DividedCut:
    depth = job.depth
    return DividedCut(
        dividing=job.divided(rotary_of(lathe)),
        order=job.order,
        passes=None if depth is None else depth_passes(lathe, depth.dial, depth.depth_mm, depth.cut_mm),
        first_number=_FIRST_OF_PATTERN,
        radius_mm=job.radius_mm,
    )


def rotary_of(lathe: Lathe) -> RotaryTable:
    """Return the lathe's rotary table. Raises PlanError if the lathe has none."""
    if lathe.rotary_table is None:
        raise PlanError(
            f"This lathe ({lathe.name}) has no rotary table. {sentence(how_to_add('[rotary_table]'))}", field="with"
        )
    return lathe.rotary_table


def _set_up(pattern: DividedCut, again: bool = False) -> list[Step]:
    steps = mounting_steps(pattern.divided_cuts, PatternPosition(MOUNTING))
    steps.append(table_zero_step(pattern.dividing, PatternPosition(_TABLE_ZERO), again))
    if pattern.passes is not None:
        steps.append(
            depth_touch_off(pattern.passes.infeed, "the work at the first position", PatternPosition(_TOUCH_OFF))
        )
    return steps


def _figures(job: DivideJob, pattern: DividedCut, steps: list[Step]) -> dict[str, Any]:
    dividing = pattern.dividing
    figures: dict[str, Any] = {
        "positions": dividing.count,
        "worst_error_arcsec": float(dividing.worst_error_deg * 3600),
        "worst_neighbour_error_arcsec": float(dividing.worst_neighbour_error_deg * 3600),
    }
    if job.radius_mm is not None:
        figures["worst_error_mm"] = arc_mm(dividing.worst_error_deg, job.radius_mm)
        figures["worst_neighbour_error_mm"] = arc_mm(dividing.worst_neighbour_error_deg, job.radius_mm)
    if pattern.passes is not None:
        figures["passes"] = sum(step.action == "cut" for step in steps)
    return figures | {"estimated_time_s": estimated_time_s(steps, dividing.table)}


def _cautions(job: DivideJob, pattern: DividedCut, lathe: Lathe) -> list[str]:
    dividing, passes, depth = pattern.dividing, pattern.passes, job.depth
    cautions = dividing_cautions(dividing, job.divisions is not None, job.radius_mm, lathe)
    if passes is not None and depth is not None:
        cautions += coarse_mark(passes.infeed, depth.cut_mm, lathe)
        note = rounding_note(passes.infeed, passes.marks[-1], depth.depth_mm, False, lathe.length_text)
        cautions += [note] if note else []
    return [*cautions, backlash_caution(dividing)]


def _movements(pattern: DividedCut) -> tuple[str, ...]:
    movements = ["Take the tool clear", "Unlock the table, turn it to its reading, lock it"]
    if pattern.passes is not None:
        movements.append(f"Set the {dial_words(pattern.passes.infeed.dial.name)} to its reading")
    return (*movements, "Cut", "Take the tool clear again", "Then the key")


def _last_check(job: DivideJob, pattern: DividedCut, lathe: Lathe) -> Step:
    dividing = pattern.dividing
    text = f"{STOP_FIRST} Count the positions: there must be {dividing.count}. Compare the last gap with the first"
    if dividing.worst_error_deg:
        text += (
            f". The settings put every position within {worst_error_text(dividing, job.radius_mm, lathe)} of its "
            "exact place"
        )
    return Step(action="check", title="Count the positions", text=text)


def _questions(job: DivideJob, lathe: Lathe, state: "State") -> "tuple[Asked, ...]":

    return (depth_question(job, lathe, state),)


def _needs(job: DivideJob, lathe: Lathe, figures: Figures) -> Needs:
    tool = f"cutter, fed in by the {dial_words(job.depth.dial)}" if job.depth else ""
    return Needs(place="rotary table", tool=tool)


def _picture(job: DivideJob, lathe: Lathe) -> "PatternPicture":
    from core.operations.patterns.picture import PatternPicture, rim_cuts

    # Without a radius the picture has no scale, so any radius will do.
    radius_mm = job.radius_mm or 1.0
    cuts = tuple(rim_cuts(map(float, job.targets_deg), radius_mm))
    return PatternPicture(extent_mm=radius_mm, cuts=cuts, rim_mm=radius_mm, to_scale=job.radius_mm is not None)


def _settings(job: DivideJob, lathe: Lathe, plan: Plan) -> "tuple[SettingsTable, ...]":
    from core.operations.dividing.setting_table import settings_of

    return () if lathe.rotary_table is None else (settings_of(job.divided(lathe.rotary_table), job.radius_mm, lathe),)


DIVIDE = Operation(
    read=read_divide,
    steps=count_divide,
    plan=plan_divide,
    replan=replan_divide,
    questions=_questions,
    depth_dial=lambda job: job.depth.dial if job.depth else "",
    needs=_needs,
    set_up_keys=(WORKHOLDING, TOOL),
    pattern=_picture,
    settings=_settings,
)
