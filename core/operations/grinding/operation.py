"""The `grind` operation: its plan, its figures, and the new plan after each reading across the flat."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from core import safety
from core.cutting import Progress
from core.events.state import State
from core.inputs import Edited, Moved, PickedUp, RunInput, nothing_planned_from
from core.lathe.keys.cutters import cutter_table
from core.lathe.lathe import Cutter, Lathe
from core.operations.asked_values import as_planned, asked_at, is_answer, still_open
from core.operations.form import MATERIAL, Choice, Entry, Figure, Form, Row
from core.operations.grinding.job import BLANKS, MADE_OF, SPINDLE, STEEL, GrindJob, read_grind
from core.operations.grinding.point import ridge_relief_deg
from core.operations.grinding.steps import CHECK, GrindAtBench, flat_ask
from core.operations.operation import Figures, Handover, Needs, Operation
from core.plan import Plan, Step, StepCount, numbered
from core.questions import Asked
from core.values.angles import angle_text
from core.values.errors import PlanError
from core.values.quantities import number_text

if TYPE_CHECKING:
    from core.drawing import Drawing

_FAR_OFF_DEG = 1.0
"""An included angle further from the wanted one gets a caution [deg]. Our own choice."""


def _count(job: GrindJob, lathe: Lathe, material: str | None) -> StepCount:
    return StepCount(len(list(GrindAtBench(job, lathe).steps())))


def plan_grind(job: GrindJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a `grind` operation. If the job has no reading across the flat, a step asks for it.

    `material`: the material named by the job; None if it names none.
    """
    return Plan(
        figures=grind_figures(job),
        cautions=tuple(_cautions(job)),
        general=safety.general(material, safety.GRINDER, safety.WHEEL_STARTS),
        steps=numbered(as_planned(GrindAtBench(job, lathe).steps())),
    )


def _cautions(job: GrindJob) -> Iterator[str]:
    off_deg = job.ground.tip_angle_deg - job.wanted.tip_angle_deg
    if abs(off_deg) > _FAR_OFF_DEG:
        yield (
            f"The nearest marks of the scale give {angle_text(job.ground.tip_angle_deg)}, not "
            f"{angle_text(job.wanted.tip_angle_deg)}. Set the rest between two marks with a gauge."
        )


def grind_figures(job: GrindJob) -> dict[str, Any]:
    """Return the figures of a `grind` plan for the card, by key."""
    cutter, first, second = job.ground, job.first, job.second
    figures: dict[str, Any] = {
        "across_flat_mm": job.half_shank_mm,
        "roll_deg": first.roll_deg,
        "rest_deg": first.rest_deg,
    }
    if job.on_axis:
        figures |= {"second_roll_deg": second.roll_deg, "second_rest_deg": second.rest_deg}
    else:
        figures["least_relief_deg"] = round(job.least_relief_deg, 2)
    figures |= {"comes_out_deg": round(cutter.tip_angle_deg, 2), "groove_width_mm": job.groove_width_mm}
    if not (job.on_axis or cutter.tip_flat_mm or cutter.tip_radius_mm):
        figures["point_relief_deg"] = round(ridge_relief_deg(first.half_angle_deg, first.roll_deg), 2)
    if job.readings_mm:
        figures["to_grind_mm"] = job.to_grind_mm
    return figures


# In a run.


def replan_grind(
    job: GrindJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the remaining steps after a reading, a move, or a change of the job or the lathe.

    `entered`: what the user entered. `material`: the material named by the job; None if it names none. Raises PlanError
    for any other input.
    """
    here = GrindAtBench(job, lathe)
    if is_answer(entered) and progress.open_steps and asked_at(progress.open_steps[0]) is not None:
        follows = [*here.flat(), *here.point()]
        shown = [here.flat_words()] if here.flat_words() else []
        steps = [replace(follows[0], findings=tuple(shown)), *follows[1:]]
    elif isinstance(entered, Moved | PickedUp):
        steps = _after_move(here, progress)
    elif isinstance(entered, Edited):
        steps = still_open(here.steps(), progress)
        if progress.open_steps and not steps:
            steps = as_planned(here.steps())
    else:
        raise nothing_planned_from(entered)
    return numbered(steps, progress.next_id)


def _after_move(here: GrindAtBench, progress: Progress) -> list[Step]:
    """Return the remaining steps after the block was moved.

    They start with the step that sets block and rest for the current flank.
    """
    every = list(here.point())
    titles = {step.title for step in progress.open_steps}
    first = next((number for number, step in enumerate(every) if step.title in titles), len(every))
    if any(asked_at(step) is not None for step in progress.open_steps):
        return [*here.flat(), *every]
    while 0 < first < len(every) and every[first].action == "check" and every[first - 1].action == "set":
        first -= 1
    return every[first:]


def grind_questions(job: GrindJob, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the question for the reading of the current step; () after the last step.

    Raises PlanError at a step without a reading. The message says when the flat is measured.
    """
    if state.cursor is None:
        return ()
    at = asked_at(state.cursor)
    if at is not None and at.place is not None:
        return (flat_ask(at.place).asked(state, lathe.unit),)
    measured_next = next((step.title for step in state.open_steps() if asked_at(step) is not None), None)
    if measured_next is not None:
        raise PlanError(f'Nothing is measured at this step. Enter the size at the step "{measured_next}".')
    in_run = any(is_answer(revision.entered) for revision in state.revisions)
    correct = "press - until that step returns" if in_run else "change the operation (key e on the board)"
    raise PlanError(f"The flat is already measured. To correct its size, {correct}.")


def handover(job: GrindJob, lathe: Lathe, state: State) -> Handover | None:
    """Return the finished cutter, for use in a pattern; None until its point has been checked."""
    if any(step.title == CHECK for step in state.open_steps()):
        return None
    cutter = job.ground._replace(tip_angle_deg=round(job.ground.tip_angle_deg, 2))
    words = f"cutter {job.name}, {GrindAtBench(job, lathe).point_words()}"
    return Handover(
        kind="pattern",
        parameters={},
        words=words,
        applied=lambda table: with_cutter(table, cutter),
        to_do=lambda table: unused_words(table, job.name),
    )


def with_cutter(table: Mapping[str, Any], cutter: Cutter) -> dict[str, Any]:
    """Return a pattern's job-file table with a cutter as ground.

    A cutter of the same name gets the new sizes. If all layers use one other cutter, that cutter gets the new sizes and
    keeps its name. Otherwise the new cutter is added to the list.

    >>> with_cutter({"cutter": [{"name": "fine", "tip_angle": "90 deg"}]}, Cutter("new", 89.56))
    {'cutter': [{'name': 'fine', 'tip_angle': '89.56 deg'}]}
    """
    cutters = [dict(one) for one in table.get("cutter", ())]
    names = [one.get("name") for one in cutters]
    used = _used_names(table)
    if cutter.name not in names and len(used) == 1:
        cutter = cutter._replace(name=used.pop())
    if cutter.name in names:
        cutters[names.index(cutter.name)] = cutter_table(cutter)
    else:
        cutters.append(cutter_table(cutter))
    return {**table, "cutter": cutters}


def unused_words(table: Mapping[str, Any], name: str) -> str:
    """Return advice for a pattern that lists the cutter `name` but uses it in no layer; "" for any other pattern.

    >>> unused_words({"cutter": [{"name": "new"}], "layer": [{"cutter": "fine"}]}, "new")
    'Choose this cutter in each layer that it cuts.'
    """
    listed = any(one.get("name") == name for one in table.get("cutter", ()))
    return "Choose this cutter in each layer that it cuts." if listed and name not in _used_names(table) else ""


def _used_names(table: Mapping[str, Any]) -> set[str]:
    """Return the names of the cutters that a pattern's layers use.

    A layer without a name uses the only cutter listed.
    """
    cutters = table.get("cutter", ())
    only = cutters[0].get("name") if len(cutters) == 1 else None
    used = {layer.get("cutter", only) for layer in table.get("layer", ({},))}
    return used - {None}


def _drawings(job: GrindJob, lathe: Lathe) -> "Callable[[State, Step], Drawing | None]":
    from core.operations.grinding.drawing import grind_drawings

    return grind_drawings(job, lathe)


def _overview(job: GrindJob, lathe: Lathe) -> "tuple[tuple[str, Drawing], ...]":
    from core.operations.grinding.drawing import overview

    return overview(job, lathe)


def _needs(job: GrindJob, lathe: Lathe, figures: Figures) -> Needs:
    """Return no needs: the cutter is ground at the bench, so the lathe stays as it is."""
    return Needs()


# How it is entered.

_SHARP, _FLAT, _ROUND = "sharp", "flat", "round nose"
_IN_HEAD, _IN_SPINDLE = "boring head or fly cutter", "spindle, on its own axis"


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    unit = lathe.unit
    tip = _FLAT if table.get("tip_flat") else _ROUND if table.get("tip_radius") else _SHARP
    return (
        "Where it cuts",
        Choice(key="held_in", label="Held in", options=((_IN_HEAD, None), (_IN_SPINDLE, SPINDLE))),
        Entry(
            key="circle_radius",
            label="Smallest circle radius",
            unit=unit,
            required=True,
            applies=("held_in", (_IN_HEAD,)),
        ),
        Entry(key="depth", label="Depth of groove", unit=unit, required=True),
        MATERIAL,
        "Its point",
        Entry(key="tip_angle", label="Included angle", unit="deg", required=True),
        Choice(key="tip", label="Tip", options=((_SHARP, None), (_FLAT, None), (_ROUND, None)), start=tip),
        Entry(key="tip_flat", label="Width of the flat", unit=unit, required=True, applies=("tip", (_FLAT,))),
        Entry(key="tip_radius", label="Radius of the nose", unit=unit, required=True, applies=("tip", (_ROUND,))),
        Entry(key="relief", label="Relief angle", unit="deg"),
        "Its blank",
        Entry(key="shank", label="Diameter or width", unit=unit, required=True),
        Choice(key="blank", label="Shape", options=((BLANKS[0], None), (BLANKS[1], BLANKS[1]))),
        Choice(
            key="made_of",
            label="Made of",
            options=tuple((word, None if word == STEEL else word) for word in MADE_OF),
        ),
        Entry(
            key="scale_graduation",
            label="One mark of the rest",
            unit="deg",
            hint=f"({number_text(lathe.protractor_deg, 2)} deg)",
        ),
        Entry(key="cutter", label="Name of the cutter", longest=80),
        "Already measured",
        Entry(
            key="across_flat",
            label="Across flat and back",
            unit=unit,
            hint="(asked at its step)",
            longest=400,
            listed=True,
        ),
    )


def _hints(job: GrindJob, lathe: Lathe) -> Mapping[str, str]:
    return {"relief": angle_text(job.suggested_relief_deg), "cutter": job.name}


def _name(job: GrindJob, lathe: Lathe) -> str:
    return f"Grind the {job.name}"


def _summary(job: GrindJob, lathe: Lathe, plan: Plan) -> str:
    first = job.first
    setting = f"Roll the block {angle_text(first.roll_deg)}, set the rest to {angle_text(first.rest_deg)}."
    if not job.on_axis:
        return f"{setting} Turn the block over for the second flank."
    second = job.second
    return f"{setting} Second flank: {angle_text(second.roll_deg)} and {angle_text(second.rest_deg)}."


def _figures(job: GrindJob, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    notes = {
        "least_relief_deg": "heel clears the smallest circle",
        "comes_out_deg": f"{angle_text(job.wanted.tip_angle_deg)} is wanted",
        "across_flat_mm": "the flat is then on the shank's axis",
    }
    for key, value in grind_figures(job).items():
        text = angle_text(value) if key.endswith("_deg") else lathe.length_text(value)
        yield Figure(_FIGURE_NAMES[key].capitalize(), text, notes.get(key, ""))


_FIGURE_NAMES: Mapping[str, str] = {
    "across_flat_mm": "across flat and back",
    "roll_deg": "roll of the block",
    "rest_deg": "rest, shank to wheel",
    "second_roll_deg": "second flank, roll",
    "second_rest_deg": "second flank, rest",
    "least_relief_deg": "least relief",
    "comes_out_deg": "included angle as ground",
    "groove_width_mm": "groove width at the face",
    "point_relief_deg": "relief behind the point",
    "to_grind_mm": "to grind off the flat",
}
"""The figures of a `grind` plan, in the order in which they are shown."""
_HELP = (
    "This form plans how to grind a small cutter for a pattern from a round or square blank. Enter the cutter's "
    "point, its blank and the smallest circle that it must cut. halfnut shows the reading across the flat, the roll "
    "of the block and the angle of the rest.\n\n"
    "A block holds the shank. You roll the block about the shank to grind the relief, and turn it on the rest to "
    "grind the point. A rolled block needs a smaller angle at the rest than half the angle of the point. The form "
    "shows the nearest mark and the included angle that results.\n\n"
    "In a boring head, the outer heel of the cutter may rub in the groove, most of all in a small circle. The form "
    "refuses a relief that is too small. On the spindle's own axis, only the first flank cuts. You roll the block "
    "further for the second flank, so that its heel stays inside the circle that the first flank cuts.\n\n"
    "After the check, press T to put the cutter, as you ground it, into a pattern of the open job."
)
GRIND = Operation(
    read=read_grind,
    steps=_count,
    plan=plan_grind,
    replan=replan_grind,
    questions=grind_questions,
    needs=_needs,
    figure_names=_FIGURE_NAMES,
    drawings=_drawings,
    overview=_overview,
    hands_over=handover,
    form=Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP, hints=_hints),
)
