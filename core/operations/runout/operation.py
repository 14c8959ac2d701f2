"""The plan of a runout check: set the indicator, read every mark, make the moves, and repeat until the work is true."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import zip_longest

from core import safety
from core.cutting import Progress
from core.inputs import Edited, Moved, PickedUp, ReadingsTaken, RunInput, TurnAgain, nothing_planned_from
from core.lathe.lathe import Lathe, how_to_add
from core.operations.operation import Figures, Needs, Operation
from core.operations.runout.job import RunoutJob, graduation_of, indicator_words, mark_words, read_runout
from core.plan import Expects, Plan, ReadingPosition, Step, StepCount, numbered
from core.values.errors import PlanError

_MOST_MOVES = 20
"""The number of step numbers reserved for the moves that readings in the job lead to."""


def count_runout(job: RunoutJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return the largest number of steps that a runout check can have."""
    readings = job.planes * (len(job.angles_deg) + 1) + (job.planes - 1) + 1
    return StepCount(1 + (_MOST_MOVES if job.readings_mm else 0) + readings)


def plan_runout(job: RunoutJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a runout check. If the job has readings, the plan includes their figures and moves.

    Raises PlanError if those readings cannot be analysed.
    """
    steps, figures, cautions = [_set_indicator(job, lathe)], {}, []
    if job.readings_mm:
        from core.operations.runout.advice import move_steps, reading_cautions
        from core.operations.runout.findings import runout_figures
        from core.operations.runout.sets_of_readings import analyse_set, turns_in_job

        result = analyse_set(job, turns_in_job(job), graduation_of(lathe))
        steps += move_steps(result, job, lathe)
        figures, cautions = runout_figures(result, job, lathe), reading_cautions(result, job, lathe)
    steps += _set_of_readings(job, lathe, 1)
    return Plan(
        figures=figures,
        cautions=(*cautions, *_cautions(job, lathe)),
        general=safety.general(None, safety.INDICATOR_OFF, *_chuck_cautions(lathe)),
        steps=numbered(steps),
    )


def _chuck_cautions(lathe: Lathe) -> list[str]:
    # Nothing turns under power while readings are taken, so only later cautions matter.
    return [caution for caution in safety.in_the_chuck(lathe) if caution == safety.UNSCREWS]


def replan_runout(
    job: RunoutJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the remaining steps: another set of readings, or the moves after a set.

    Raises PlanError for impossible readings.
    """
    match entered:
        case Moved() | PickedUp():
            set_indicator, *following = _another_set(job, lathe, progress)
            # A step that is still open keeps its words, which another version may have written.
            steps = [replace(set_indicator, text=_open_indicator_text(progress) or set_indicator.text), *following]
        case Edited():
            steps = _edited(job, lathe, progress, entered)
        case TurnAgain():
            steps = _set_of_readings(job, lathe, None, repeat=progress.next_id)
        case ReadingsTaken():
            steps = _move_steps(job, lathe, entered)
        case _:
            raise nothing_planned_from(entered)
    return numbered(steps, progress.next_id)


def _move_steps(job: RunoutJob, lathe: Lathe, taken: ReadingsTaken) -> list[Step]:
    """Return the step that shows the result of a set of readings, then the steps with the moves.

    Raises PlanError for impossible readings.
    """
    # Loaded only once there are readings to analyse.
    from core.operations.runout.advice import move_steps
    from core.operations.runout.sets_of_readings import analyse_set, turns_entered

    return move_steps(analyse_set(job, turns_entered(job, taken), graduation_of(lathe)), job, lathe)


def _another_set(job: RunoutJob, lathe: Lathe, progress: Progress, *, same_marks: bool = True) -> list[Step]:
    # Once the first step is done, the marks are on the work.
    marked = same_marks and all(step.id != 1 for step in progress.open_steps)
    return [_set_indicator(job, lathe, marked=marked), *_set_of_readings(job, lathe, progress.next_id)]


def _open_indicator_text(progress: Progress) -> str:
    """Return the text of the current step if this step sets the indicator for the first plane; "" otherwise."""
    coming = next((step.reading_at for step in progress.open_steps if step.reading_at is not None), None)
    if coming is None or coming.plane == 2 or progress.open_steps[0].action != "set":
        return ""
    return progress.open_steps[0].text


def _edited(job: RunoutJob, lathe: Lathe, progress: Progress, entered: Edited) -> list[Step]:
    """Return the remaining steps after the job was edited. Readings that are still valid are kept."""
    if isinstance(entered.readings, ReadingsTaken):
        # A set that cannot be analysed is read again.
        with suppress(PlanError):
            return _move_steps(job, lathe, entered.readings)
    if entered.readings == "under way":
        return list(_continued(job, lathe, progress.open_steps))
    coming = {step.reading_at.angle_deg for step in progress.open_steps if step.reading_at} - {None}
    set_indicator, *following = _another_set(job, lathe, progress, same_marks=coming == set(job.angles_deg))
    if entered.readings != "none yet":
        return [set_indicator, *following]
    if job.readings_mm:
        from core.operations.runout.sets_of_readings import as_readings_taken, turns_in_job

        following = [*_move_steps(job, lathe, as_readings_taken(turns_in_job(job))), *following]
    # Marks and indicator are ready, unless more changed than an answer at the counter.
    ready = "kind" not in entered.plan_input and all(step.id != 1 for step in progress.open_steps)
    return following if ready else [set_indicator, *following]


def _continued(job: RunoutJob, lathe: Lathe, open_steps: Sequence[Step]) -> Iterator[Step]:
    """Yield the remaining steps of the set of readings in progress: the same marks, in the edited job's words."""
    for step, coming in zip_longest(open_steps, open_steps[1:]):
        if step.reading_at is not None:
            yield _reading(job, step.reading_at)
        elif step.action != "set":
            yield _look(job)
        else:
            next_reading = None if coming is None else coming.reading_at
            yield _second_plane(job, lathe) if next_reading is not None and next_reading.plane == 2 else step


def _set_indicator(job: RunoutJob, lathe: Lathe, *, marked: bool = False) -> Step:
    at = {
        "outside": "square to the surface, towards the axis",
        "bore": "inside, square to the surface, away from the axis",
        "face": "square to the face",
    }[job.surface]
    circle = ""
    if job.surface == "face" and job.diameter_mm is not None:
        circle = f", on a circle of {lathe.length_text(job.diameter_mm)}"
    plane = ", at the plane nearer to the chuck" if job.planes == 2 else ""
    marks = "Keep the marks on the work" if marked else _marks_words(job)
    return Step(
        action="set",
        title="Set the indicator",
        text=f"{marks}. Place the indicator {at}{circle}. Push the plunger in a little and set the indicator "
        f"to 0 at the first mark{plane}. A plunger pushed in reads +",
        cautions=(safety.TURN_BY_HAND,),
    )


def _marks_words(job: RunoutJob) -> str:
    first, *others = (mark_words(angle) for angle in job.angles_deg[:4])
    more = " and so on" if len(job.angles_deg) > 4 else ""
    marks = ", ".join([first + _jaw_words(job, job.angles_deg[0]), *others]) + more
    return f"Mark the work at {marks}, in the order in which the marks pass the indicator"


def _set_of_readings(job: RunoutJob, lathe: Lathe, set_id: int | None, *, repeat: int = 0) -> list[Step]:
    """Return the steps that take one set of readings, plane by plane, and the step that then shows the result.

    set_id: a number that no earlier set has; None to read the same set again.
    repeat: how many times the set has already been read; 0 the first time.
    """
    steps: list[Step] = []
    for plane in range(1, job.planes + 1):
        if plane == 2:
            steps.append(_second_plane(job, lathe))
        planes = plane if job.planes == 2 else None
        steps += [_reading(job, ReadingPosition(angle, planes, set_id, repeat)) for angle in (*job.angles_deg, None)]
    return [*steps, _look(job)]


def _reading(job: RunoutJob, at: ReadingPosition) -> Step:
    return _closing_step(job, at) if at.angle_deg is None else _reading_step(job, at, at.angle_deg)


def _reading_step(job: RunoutJob, at: ReadingPosition, angle_deg: float) -> Step:
    mark = mark_words(angle_deg)
    return Step(
        action="read",
        title=f"Read at {mark}",
        text=f"Turn the {mark} mark{_jaw_words(job, angle_deg)} to the indicator and enter the reading",
        expects=Expects.READING,
        place=at,
        required=True,
    )


def _closing_step(job: RunoutJob, at: ReadingPosition) -> Step:
    first = mark_words(job.angles_deg[0])
    return Step(
        action="check",
        title="Close the turn",
        text=f"Turn the {first} mark to the indicator once more. The indicator should read the same as at first. "
        "Enter the reading. The program spreads a small drift over the turn",
        expects=Expects.READING,
        place=at,
    )


def _second_plane(job: RunoutJob, lathe: Lathe) -> Step:
    centres = job.workholding == "between centres"
    zero = (
        "Move it with the carriage only and do not set the indicator to 0 again"
        if centres
        else "You may set the indicator to 0 again"
    )
    return Step(
        action="set",
        title="Move to the second plane",
        text=f"Move the indicator {lathe.length_text(job.apart_mm or 0.0)} along the axis, away from the chuck, "
        "to the same "
        f"mark {mark_words(job.angles_deg[0])}. {zero}",
        cautions=(safety.TURN_BY_HAND,),
    )


def _look(job: RunoutJob) -> Step:
    return Step(
        action="check",
        title="Look at the advice",
        text="Check whether the runout is small enough, or what to move and how far. After a move, read the whole turn "
        "again",
        cautions=(safety.SOFT_HAMMER,),
    )


def _jaw_words(job: RunoutJob, angle_deg: float) -> str:
    """Return " (jaw 2)" for a mark at a jaw; "" for any other mark."""
    count = {"four jaw": 4, "three jaw": 3}.get(job.workholding or "", 0)
    jaw = angle_deg % 360 * count / 360
    return f" (jaw {round(jaw) % count + 1})" if count and abs(jaw - round(jaw)) < 1e-6 else ""


def _cautions(job: RunoutJob, lathe: Lathe) -> list[str]:
    """Return the cautions that apply before the first reading is taken."""
    cautions: list[str] = []
    if not job.readings_mm and job.drift_mm:
        cautions.append(
            "The drift in the job applies only to readings in the job. A turn read now has its own closing reading."
        )
    if lathe.indicator is None:
        cautions.append(
            f"No indicator is set up. A reading without a unit is taken as {lathe.indicator_unit}, a graduation as "
            f"{lathe.indicator_text(graduation_of(lathe))}. To change that, {how_to_add('[indicator]')}."
        )
    if job.tolerance_mm is not None and job.tolerance_mm < graduation_of(lathe):
        cautions.append(
            f"The tolerance of {lathe.indicator_text(job.tolerance_mm)} is smaller than the indicator's graduation of "
            f"{lathe.indicator_text(graduation_of(lathe))}. This indicator cannot prove such a tolerance."
        )
    return cautions


def _needs(job: RunoutJob, lathe: Lathe, figures: Figures) -> Needs:
    workholdings = {"four jaw": "four-jaw chuck", "three jaw": "three-jaw chuck"}
    return Needs(
        place="spindle",
        workholding=workholdings.get(str(job.workholding), job.workholding or ""),
        tool=indicator_words(lathe),
    )


RUNOUT = Operation(read=read_runout, steps=count_runout, plan=plan_runout, replan=replan_runout, needs=_needs)
