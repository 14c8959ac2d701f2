"""The `axes` operation: its plan, its figures, and the new plan after each of the user's answers."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from core import safety
from core.cutting import Progress
from core.events.state import State
from core.inputs import Edited, Moved, RunInput
from core.lathe.lathe import Lathe
from core.operations.asked_values import (
    Ask,
    AskedAt,
    Rest,
    all_asked,
    as_planned,
    asked_at,
    is_answer,
    rest_after,
    still_open,
)
from core.operations.axes.asks import ERROR_KEPT, FACE_KEPT, LASTING, again_asks, face_asks, kept_question, measure_asks
from core.operations.axes.height import (
    AxisError,
    bar_axes_mm,
    effect_on_pattern,
    face_slope,
    meets_at_mm,
    slipped,
)
from core.operations.axes.job import METHODS, NEAR_FAR, OTHERS, SURFACES, UP_DOWN, AxesJob, read_axes
from core.operations.axes.steps import SET_FACE, AxesAtLathe
from core.operations.form import MATERIAL, Choice, Entry, Figure, Form, Row
from core.operations.operation import Figures, Handover, Needs, Operation
from core.operations.patterns.cautions import head_general
from core.operations.runout.job import indicator_words
from core.plan import Plan, Step, StepCount, numbered
from core.questions import Asked

_OTHER_STEPS = 16
"""The largest number of steps of a set-up that have no question."""


def _count(job: AxesJob, lathe: Lathe, material: str | None) -> StepCount:
    # After a slip a sweep is read twice.
    asked = (2 * len(asks(job, lathe)) for asks in (face_asks, measure_asks, again_asks))
    return StepCount(_OTHER_STEPS + sum(asked))


def plan_axes(job: AxesJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of an `axes` operation.

    For each value that the job lacks, the plan has a step that asks for it.
    """
    here = AxesAtLathe(job, lathe)
    steps = _all_steps(here, _all_missing(job, lathe))
    return Plan(
        figures=axes_figures(here),
        cautions=tuple(_cautions(here)),
        general=_general(job, lathe, material),
        steps=numbered(as_planned(steps)),
    )


def _general(job: AxesJob, lathe: Lathe, material: str | None) -> tuple[str, ...]:
    of_the_set_up = safety.WORK_BY_HAND, safety.INDICATOR_OFF
    if job.method != "two circles":
        return safety.general(material, *of_the_set_up)
    # Two circles are cut with the boring head.
    of_the_head = (line for line in head_general(lathe, material) if line not in safety.general(material))
    return safety.general(material, *of_the_set_up, *of_the_head)


def _all_steps(here: AxesAtLathe, asked: frozenset[AskedAt]) -> Iterator[Step]:
    """Yield the steps of a whole set-up. `asked`: the values that the steps ask for."""
    yield from here.first()
    yield from here.face(asked)
    yield from here.points()
    yield from here.measure(asked)
    yield from here.read_again("readings")
    yield from here.lift()
    yield from here.again(asked)
    yield from here.result()


def _all_missing(job: AxesJob, lathe: Lathe) -> frozenset[AskedAt]:
    return frozenset().union(*(_missing(job, asks(job, lathe)) for asks in (face_asks, measure_asks, again_asks)))


def _missing(job: AxesJob, asks: Sequence[Ask]) -> frozenset[AskedAt]:
    """Return those values in `asks` that a job lacks.

    An optional value is included only if the value that it refines is missing too.
    """
    missing: set[AskedAt] = set()
    for ask in asks:
        key, place = ask.at
        if key == "droop_readings" and job.size("droop") is not None:
            continue
        have = len(job.measured.get(key, ())) > place if place is not None else key in job.measured
        refines = AskedAt(key.removesuffix("_turned"))
        if not have and (ask.required or refines in missing):
            missing.add(ask.at)
    return frozenset(missing)


def _cautions(here: AxesAtLathe) -> Iterator[str]:
    readings = here.job.four("readings")
    if readings is not None and slipped(readings, here.graduation_mm):
        yield here.slip_words(readings)
    if here.stack is not None and not here.stack.is_best:
        yield "There are too many pieces to try every combination. A better stack may exist."
    if here.lathe.indicator is None and here.job.method in {"bars compared", "sweep"}:
        yield f"No indicator is set up. One mark is assumed to be {here.lathe.indicator_text(here.graduation_mm)}."


def axes_figures(here: AxesAtLathe) -> dict[str, Any]:
    """Return the figures that follow from the values measured so far, under their keys on the printed card."""
    job, error, figures = here.job, here.error, dict[str, Any]()
    slope = face_slope(job)
    if slope is not None:
        figures |= {"face_up_deg": slope.up_deg, "face_across_deg": slope.across_deg}
    axes = bar_axes_mm(job) if job.method == "bars" else None
    if axes is not None:
        figures |= {"spindle_axis_mm": axes[0], "other_axis_mm": axes[1]}
    if error is None:
        return figures
    height, near = error.height_mm or 0.0, error.near_mm
    if job.method in {"bars", "bars compared"} or error.signed:
        figures["lift_mm"] = -height
    if job.method in {"sweep", "two circles"}:
        figures |= {"height_error_mm": height, "near_error_mm": near}
        if job.method == "two circles":
            # The two circles give sizes only. The lift gives the direction.
            figures |= {"height_error_mm": abs(height), "near_error_mm": abs(near or 0.0)}
    if here.stack is not None:
        figures |= {"stack_mm": list(here.stack.pieces_mm), "stack_left_mm": here.stack.left_mm}
        if here.stack.plate_mm is not None:
            figures["plate_to_make_mm"] = here.stack.plate_mm
    meets = meets_at_mm(job)
    if meets is not None:
        figures["meets_at_mm"] = meets
    return figures | _effects(here, height)


def _effects(here: AxesAtLathe, height_mm: float) -> dict[str, Any]:
    """Return the figures of the remaining error and of its effect on the ring of a pattern.

    `height_mm`: the height error as first measured [mm].
    """
    stays, again = height_mm, here.error_after
    if again is not None:
        stays = again.height_mm or 0.0
    elif here.stack is not None:
        stays = -here.stack.left_mm
    effect = effect_on_pattern(here.job.offset_mm, stays)
    return {
        "height_error_left_mm": stays,
        "effective_offset_mm": effect.effective_offset_mm,
        "turned_by_deg": effect.turned_by_deg,
    }


# In a run.


def replan_axes(
    job: AxesJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that remain after the user's input. After a move, all values that the move may have changed are
    measured again.

    Raise PlanError for an input that the operation cannot use.
    """
    face, measure, again = (
        frozenset(ask.at for ask in asks(job, lathe)) for asks in (face_asks, measure_asks, again_asks)
    )
    sets_face = any(step.title == SET_FACE for step in progress.open_steps)
    face_open = face if sets_face or face & all_asked(progress.open_steps) else frozenset()
    lasting = {at for at in measure - all_asked(progress.open_steps) if at.key in LASTING}
    rest = rest_after(progress, entered, (measure - lasting) | again | face_open)
    here = AxesAtLathe(job.forgetting(rest.open_asks), lathe)
    if isinstance(entered, Edited) and not is_answer(entered):
        return numbered(
            _after_edit(here, progress, rest.open_asks - {FACE_KEPT, ERROR_KEPT}, face | measure | again),
            progress.next_id,
        )
    steps = list(_from_face(here, rest, face))
    if isinstance(entered, Moved) and not steps:
        steps += here.cut_circles()
    steps += _from_measuring(here, rest, measure, again, face_too=bool(face_open))
    return numbered(steps, progress.next_id)


def _after_edit(
    here: AxesAtLathe, progress: Progress, asked: frozenset[AskedAt], every: frozenset[AskedAt]
) -> list[Step]:
    """Return the steps that remain after a change of the job or the lathe. If the method has changed, return all steps.

    `asked`: the values that the remaining steps ask for.
    `every`: all values that the present method uses.
    """
    steps = still_open(_all_steps(here, asked), progress)
    if not progress.open_steps or (asked <= every and steps):
        return steps
    return as_planned(_all_steps(here, _all_missing(here.job, here.lathe)))


def _from_face(here: AxesAtLathe, rest: Rest, face: frozenset[AskedAt]) -> Iterator[Step]:
    """Yield the steps from the sweep of the face up to the points; no steps if the run is past the face.

    `face`: the values read on the face.
    """
    asked = rest.open_asks & face
    if rest.at == FACE_KEPT:
        yield from here.points()
        return
    if not asked and rest.at not in face:
        return
    if not asked:
        yield from here.read_again("face_readings")
    yield from here.face(asked)
    yield from here.points()


def _from_measuring(
    here: AxesAtLathe, rest: Rest, measure: frozenset[AskedAt], again: frozenset[AskedAt], *, face_too: bool
) -> Iterator[Step]:
    """Yield the steps from the value just answered, or else from the first missing value, to the end of the run.

    `measure`: the values from which the error is calculated. `again`: the values measured after the bolts are tight.
    `face_too`: True if the run is still at the face, so that all measuring follows.
    """
    asked = rest.open_asks
    answered = rest.at
    if face_too or asked & measure or answered in measure:
        yield from here.measure(asked & measure)
        if not asked & measure and answered is not None:
            yield from here.read_again("readings")
        yield from here.lift()
        yield from here.again(asked & again)
    elif asked & again or answered in again:
        yield from here.again(asked & again)
        if not asked & again and answered is not None:
            yield from here.read_again("readings_after")
    yield from here.result()


def axes_questions(job: AxesJob, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the question for the value that the current step asks for; () if the step asks for none."""
    at = None if state.cursor is None else asked_at(state.cursor)
    if at is None:
        return ()
    if at in {FACE_KEPT, ERROR_KEPT}:
        return (kept_question(at, state, AxesAtLathe(job, lathe).outside_mm(at)),)
    every = (*face_asks(job, lathe), *measure_asks(job, lathe), *again_asks(job, lathe))
    return tuple(ask.asked(state, lathe.indicator_unit if ask.reads else lathe.unit) for ask in every if ask.at == at)


def handover(job: AxesJob, lathe: Lathe, state: State) -> Handover | None:
    """Return the latest height error of a rotary table, for use in a pattern.

    Return None for any other axis, while a value has still to be measured, or if the sign of the error is not known.
    """
    if not job.is_table or all_asked(state.open_steps()) - {ERROR_KEPT}:
        return None
    here = AxesAtLathe(job, lathe)
    error: AxisError | None = here.error_after or here.error
    if error is None or not error.signed or error.height_mm is None:
        return None
    return Handover(
        kind="pattern",
        parameters={"height_error": f"{round(error.height_mm, 4) + 0.0:g} mm"},
        words=f"height error {lathe.length_text(error.height_mm)}",
    )


# How it is entered.

_LABELS = dict(
    zip(
        METHODS, ("bars and heights", "one indicator over both bars", "indicator swept", "two circles cut"), strict=True
    )
)
_BARS, _COMPARED, _SWEEP, _CIRCLES = ((_LABELS[method],) for method in METHODS)


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    asked = "(asked at its step)"

    def size(key: str, label: str, methods: tuple[str, ...], hint: str = asked) -> Entry:
        return Entry(key=key, label=label, unit=lathe.unit, hint=hint, applies=("method", methods))

    def reading(key: str, label: str, methods: tuple[str, ...], *, listed: bool = False) -> Entry:
        unit = lathe.indicator_unit
        return Entry(
            key=key, label=label, unit=unit, hint=asked, longest=400, applies=("method", methods), listed=listed
        )

    def side(key: str, label: str, choices: tuple[str, ...]) -> Choice:
        options = (("asked", None), *((word, word) for word in choices))
        return Choice(key=key, label=label, options=options, applies=("method", _CIRCLES))

    return (
        "How the axes are compared",
        Choice(key="method", label="By", options=tuple((words, key) for key, words in _LABELS.items())),
        Choice(
            key="other",
            label="Whose axis",
            options=tuple((word, None if word == OTHERS[0] else word) for word in OTHERS),
        ),
        Choice(
            key="surface",
            label="Swept round",
            options=(("the bore", None), ("the outside", SURFACES[1])),
            applies=("method", _SWEEP),
        ),
        Entry(key="face_circle", label="Sweep the face on", unit=lathe.unit, hint="(checked by eye)"),
        Entry(key="tolerance", label="Tolerance", unit=lathe.unit, hint="(not set)"),
        Entry(key="pattern_offset", label="Offset of the pattern", unit=lathe.unit, hint="(20 mm)"),
        MATERIAL,
        "Already measured",
        reading("face_readings", "Face: up near down far", tuple(_LABELS.values()), listed=True)._replace(
            hint="(if it is swept)"
        ),
        size("spindle_bar", "Bar in the spindle", (*_BARS, *_COMPARED)),
        size("over_spindle_bar", "Height over it", _BARS),
        size("over_spindle_bar_turned", "  half a turn on", _BARS, "(if turned)"),
        size("other_bar", "Bar in the table", (*_BARS, *_COMPARED)),
        size("over_other_bar", "Height over that", _BARS),
        size("over_other_bar_turned", "  half a turn on", _BARS, "(if turned)"),
        reading("difference", "Other bar reads", _COMPARED),
        reading("difference_turned", "  half a turn on", _COMPARED),
        reading("droop", "Droop", _SWEEP),
        reading("droop_readings", "  or read: up down", _SWEEP, listed=True),
        reading("readings", "Up near down far", _SWEEP, listed=True),
        size("circle", "One circle", _CIRCLES),
        size("over_both_up", "Both, upright", _CIRCLES),
        side("last_circle", "Cut last, it lies", UP_DOWN),
        size("over_both_level", "Both, level", _CIRCLES),
        side("last_circle_level", "Cut last, it lies", NEAR_FAR),
        "Measured again, bolts tight",
        size("over_spindle_bar_after", "Over the spindle's bar", _BARS),
        size("over_other_bar_after", "Over the other bar", _BARS),
        reading("difference_after", "Other bar reads", _COMPARED),
        reading("readings_after", "Up near down far", _SWEEP, listed=True),
        size("over_both_up_after", "Both, upright", _CIRCLES),
        side("last_circle_after", "Cut last, it lies", UP_DOWN),
        size("over_both_level_after", "Both, level", _CIRCLES),
        side("last_circle_level_after", "Cut last, it lies", NEAR_FAR),
    )


def _name(job: AxesJob, lathe: Lathe) -> str:
    return f"{job.other.capitalize()} to the spindle's axis"


def _summary(job: AxesJob, lathe: Lathe, plan: Plan) -> str:
    here = AxesAtLathe(job, lathe)
    if here.error is None:
        return "The counter asks for each value at its step."
    return f"{here.found_words(here.error)} {here.lift_words()}."


def _figures(job: AxesJob, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    here, say = AxesAtLathe(job, lathe), lathe.length_text
    figures = axes_figures(here)
    for key, name in _FIGURE_NAMES.items():
        if key in figures and key != "stack_mm":
            value = figures[key]
            yield Figure(name.capitalize(), f"{value:.3f}°" if key.endswith("_deg") else say(value))
        elif key in figures:
            yield Figure(name.capitalize(), " + ".join(map(say, figures[key])) or "nothing")
    if not figures:
        yield Figure("Measured", "nothing yet", "each value is asked at its step")


def _needs(job: AxesJob, lathe: Lathe, figures: Figures) -> Needs:
    return Needs(place="rotary table") if job.is_table else Needs(tool=indicator_words(lathe))


_FIGURE_NAMES: Mapping[str, str] = {
    "face_up_deg": "face leans, top towards the spindle",
    "face_across_deg": "face leans, near side towards the spindle",
    "spindle_axis_mm": "spindle's axis over the surface",
    "other_axis_mm": "other axis over the surface",
    "height_error_mm": "other axis higher by",
    "near_error_mm": "other axis nearer by",
    "lift_mm": "lift of the other axis",
    "stack_mm": "stack",
    "stack_left_mm": "gap that the stack leaves",
    "plate_to_make_mm": "plate to make for the gap",
    "meets_at_mm": "reading at which the axes meet",
    "height_error_left_mm": "remaining height error",
    "effective_offset_mm": "true offset, axis to axis",
    "turned_by_deg": "ring turned by",
}
"""The figures of an axes plan, in the order in which they are shown."""
_HELP = (
    "This form plans how to bring the axis of a rotary table, a second slide or a milling spindle to the height and "
    "line of the spindle's axis. The counter asks for each value at its step, unless you enter the value here.\n\n"
    "You can compare the axes in four ways. With bars, hold one bar in the spindle and one in the table's chuck. "
    "Measure the height of each bar's top from one surface, turn both bars half a turn and measure again. Or carry "
    "one indicator from bar to bar and enter the difference. With a sweep, hold an indicator in the spindle and turn "
    "it by hand round the table's bore. The result allows for the droop of the indicator, and shows whether a "
    "reading slipped. With two circles, you need only a caliper. Cut one circle at offset 0, turn the table half a "
    "turn and cut again. With two points, you bring the points together by eye, which is good only to 0.2 mm.\n\n"
    "The order matters. First adjust the gibs and check the cross-slide. Then true the table's face, set the height, "
    "set the slide and tighten the bolts. Then measure again, mount the blank and skim its face in place. You can "
    "put the remaining error into the pattern of the open job."
)
AXES = Operation(
    read=read_axes,
    steps=_count,
    plan=plan_axes,
    replan=replan_axes,
    questions=axes_questions,
    needs=_needs,
    figure_names=_FIGURE_NAMES,
    hands_over=handover,
    form=Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP),
)
