"""The runout operation as a plan: prepare, read each mark, make the move; then again, as often as it takes."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from itertools import zip_longest

from core import safety
from core.cutting import Progress
from core.inputs import Edited, Moved, PickedUp, ReadingsTaken, RunInput, TurnAgain, nothing_planned_from
from core.lathe.lathe import Lathe, how_to_add
from core.operations.operation import Figures, Needs, Operation
from core.operations.runout.job import RunoutJob, angle_words, graduation_of, read_runout
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.step_place import ReadingPosition
from core.values.errors import PlanError

_MOST_MOVES = 20
"""Room for what readings taken beforehand say, and for every move that cures it."""


def count_runout(job: RunoutJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a runout operation takes, at most: every reading, and the moves that cure it."""
    round_of_readings = job.planes * (len(job.angles_deg) + 1) + (job.planes - 1) + 1
    return StepCount(1 + (_MOST_MOVES if job.readings_mm else 0) + round_of_readings)


def plan_runout(job: RunoutJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a runout operation; figures and move come from readings that the job brings.

    Raises PlanError where those readings cannot be worked out.
    """
    steps, figures, said = [_prepare(job, lathe)], {}, []
    if job.readings_mm:
        from core.operations.runout.figures import runout_figures
        from core.operations.runout.move_steps import curing_steps, said_of
        from core.operations.runout.sets_of_readings import findings, given_turns

        found = findings(job, given_turns(job), graduation_of(lathe))
        steps += curing_steps(found, job, lathe)
        figures, said = runout_figures(found, job, lathe), said_of(found, job, lathe)
    steps += _round(job, lathe, 1)
    return Plan(
        figures=figures,
        cautions=(*said, *_cautions(job, lathe)),
        general=safety.general(None, safety.INDICATOR_OFF, *_of_the_chuck(lathe)),
        steps=numbered(steps),
    )


def _of_the_chuck(lathe: Lathe) -> list[str]:
    """Return what holds once the work turns under power again."""
    return [caution for caution in safety.in_the_chuck(lathe) if caution == safety.UNSCREWS]


def replan_runout(
    job: RunoutJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the open ones: a new round of readings, or the moves that cure one.

    Raises PlanError.
    """
    match entered:
        case Moved() | PickedUp():
            steps = _another_round(job, lathe, progress)
        case Edited():
            steps = _edited(job, lathe, progress, entered)
        case TurnAgain():
            steps = _round(job, lathe, None, repeat=progress.next_id)
        case ReadingsTaken():
            steps = _cured(job, lathe, entered)
        case _:
            raise nothing_planned_from(entered)
    return numbered(steps, progress.next_id)


def _cured(job: RunoutJob, lathe: Lathe, taken: ReadingsTaken) -> list[Step]:
    """Return how a round of readings stands and the moves that cure it; raises PlanError where it tells nothing."""
    # Before there are readings, nothing that works them out need be loaded.
    from core.operations.runout.move_steps import curing_steps
    from core.operations.runout.sets_of_readings import findings, turns_of

    return curing_steps(findings(job, turns_of(job, taken), graduation_of(lathe)), job, lathe)


def _another_round(job: RunoutJob, lathe: Lathe, progress: Progress, *, same_marks: bool = True) -> list[Step]:
    # Once the first step of all is done, the marks are on the work.
    marked = same_marks and all(step.id != 1 for step in progress.open_steps)
    return [_prepare(job, lathe, marked=marked), *_round(job, lathe, progress.next_id)]


def _edited(job: RunoutJob, lathe: Lathe, progress: Progress, entered: Edited) -> list[Step]:
    """Return what follows once a job says other things of its work; readings that still hold are not taken again."""
    if isinstance(entered.readings, ReadingsTaken):
        # A round that tells nothing is read again.
        with suppress(PlanError):
            return _cured(job, lathe, entered.readings)
    if entered.readings == "under way":
        return list(_goes_on(job, lathe, progress.open_steps))
    coming = {step.reading_at.angle_deg for step in progress.open_steps if step.reading_at} - {None}
    prepare, *rest = _another_round(job, lathe, progress, same_marks=coming == set(job.angles_deg))
    if entered.readings != "none yet":
        return [prepare, *rest]
    if job.readings_mm:
        from core.operations.runout.sets_of_readings import given_turns, taken_as

        rest = [*_cured(job, lathe, taken_as(given_turns(job))), *rest]
    # Marks and indicator are ready already, unless other things came than an answer at the counter.
    ready = "kind" not in entered.plan_input and all(step.id != 1 for step in progress.open_steps)
    return rest if ready else [prepare, *rest]


def _goes_on(job: RunoutJob, lathe: Lathe, open_steps: Sequence[Step]) -> Iterator[Step]:
    """Yield the open steps of a round under way as a job now says them; the marks are on the work, and stay."""
    for step, coming in zip_longest(open_steps, open_steps[1:]):
        if step.reading_at is not None:
            yield _reading(job, step.reading_at)
        elif step.action != "set":
            yield _look(job)
        else:
            leads_to = None if coming is None else coming.reading_at
            yield _second_plane(job, lathe) if leads_to is not None and leads_to.plane == 2 else step


def _prepare(job: RunoutJob, lathe: Lathe, *, marked: bool = False) -> Step:
    at = {
        "outside": "square to the surface, pointing at the axis",
        "bore": "inside, square to the surface, pointing away from the axis",
        "face": "square to the face",
    }[job.surface]
    circle = ""
    if job.surface == "face" and job.diameter_mm is not None:
        circle = f", circling on {lathe.length_text(job.diameter_mm)}"
    plane = "; first at the plane nearer to the chuck" if job.planes == 2 else ""
    marks = "The marks stay as they are" if marked else _marks_words(job)
    return Step(
        action="set",
        title="Set the indicator",
        text=f"{marks}. Indicator {at}{circle}, pushed in a little, set to 0 at the first mark{plane}. "
        "Plunger pushed in reads +",
        cautions=(safety.TURN_BY_HAND,),
    )


def _marks_words(job: RunoutJob) -> str:
    first, *others = (angle_words(angle) for angle in job.angles_deg[:4])
    more = " and so on" if len(job.angles_deg) > 4 else ""
    marks = ", ".join([first + _jaw_words(job, job.angles_deg[0]), *others]) + more
    return f"Mark the work at {marks}, in the order in which the marks come under the indicator"


def _round(job: RunoutJob, lathe: Lathe, round_id: int | None, *, repeat: int = 0) -> list[Step]:
    """Return one round of readings, plane by plane, and the look at what to move.

    round_id: a number that no round before it has; None for the same round read again,
    `repeat` then a number larger than that of any time before.
    """
    steps: list[Step] = []
    for plane in range(1, job.planes + 1):
        if plane == 2:
            steps.append(_second_plane(job, lathe))
        planes = plane if job.planes == 2 else None
        steps += [_reading(job, ReadingPosition(angle, planes, round_id, repeat)) for angle in (*job.angles_deg, None)]
    return [*steps, _look(job)]


def _reading(job: RunoutJob, at: ReadingPosition) -> Step:
    return _close(job, at) if at.angle_deg is None else _read(job, at, at.angle_deg)


def _read(job: RunoutJob, at: ReadingPosition, angle_deg: float) -> Step:
    return Step(
        action="read",
        title=f"Read at {angle_words(angle_deg)}",
        text=f"Turn the {angle_words(angle_deg)} mark{_jaw_words(job, angle_deg)} to the indicator and read",
        expects=Expects.READING,
        place=at,
        required=True,
    )


def _close(job: RunoutJob, at: ReadingPosition) -> Step:
    first = angle_words(job.angles_deg[0])
    return Step(
        action="check",
        title="Close the turn",
        text=f"Turn the {first} mark to the indicator once more: it should read as at first. Type what it reads, "
        "and a small drift is spread over the turn",
        expects=Expects.READING,
        place=at,
    )


def _second_plane(job: RunoutJob, lathe: Lathe) -> Step:
    carried = "" if job.workholding == "between centres" else "; it may be set to 0 anew"
    keep = ", carried on the carriage and not set anew" if job.workholding == "between centres" else ""
    return Step(
        action="set",
        title="Go to the second plane",
        text=f"Indicator {lathe.length_text(job.apart_mm or 0.0)} along the axis, away from the chuck{keep}, "
        f"on the same mark {angle_words(job.angles_deg[0])}{carried}",
        cautions=(safety.TURN_BY_HAND,),
    )


def _look(job: RunoutJob) -> Step:
    wanted = "Look at what these readings advise: is it good enough, and if not, what to move and how far"
    return Step(
        action="check",
        title="Look at the advice",
        text=f"{wanted}. After a move read the whole turn again",
        cautions=(safety.SOFT_HAMMER,),
    )


def _jaw_words(job: RunoutJob, angle_deg: float) -> str:
    """Return " (jaw 2)" for a mark at which a jaw sits, "" for any other."""
    count = {"four jaw": 4, "three jaw": 3}.get(job.workholding or "", 0)
    jaw = angle_deg % 360 * count / 360
    return f" (jaw {round(jaw) % count + 1})" if count and abs(jaw - round(jaw)) < 1e-6 else ""


def _cautions(job: RunoutJob, lathe: Lathe) -> list[str]:
    """Return what must be said before anything is read."""
    said: list[str] = []
    if not job.readings_mm and job.drift_mm:
        said.append("drift belongs to readings in the job; a turn read now has its own closing reading.")
    if lathe.indicator is None:
        said.append(
            f"This lathe has no [indicator]: bare readings count in {lathe.indicator_unit}, a graduation of "
            f"{lathe.indicator_text(graduation_of(lathe))} is assumed; {how_to_add('yours')}."
        )
    if job.tolerance_mm is not None and job.tolerance_mm < graduation_of(lathe):
        said.append(
            f"The tolerance of {lathe.indicator_text(job.tolerance_mm)} is smaller than the indicator's graduation of "
            f"{lathe.indicator_text(graduation_of(lathe))}: it cannot be proved with it."
        )
    return said


def _needs(job: RunoutJob, lathe: Lathe, figures: Figures) -> Needs:
    kind = lathe.indicator.kind if lathe.indicator else "plunger"
    tool = "dial test indicator (lever)" if kind == "lever" else "dial indicator (plunger)"
    held = {"four jaw": "four-jaw chuck", "three jaw": "three-jaw chuck"}
    return Needs(place="spindle", workholding=held.get(str(job.workholding), job.workholding or ""), tool=tool)


RUNOUT = Operation(read=read_runout, steps=count_runout, plan=plan_runout, replan=replan_runout, needs=_needs)
