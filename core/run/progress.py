"""Between a run's state and its operation: where the work stands, and what comes instead of the open steps."""

from collections.abc import Collection, Mapping
from contextlib import suppress
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from core.cutting import spring_after, takes_nothing
from core.events.event import digest
from core.events.state import LOGGED_WITH_A_RUN, LoggedPlanInput, State
from core.inputs import Edited, ExtraSpringPass, ReadingsThatHold, RunInput, SetTo
from core.lathe.lathe import Lathe, dial_words
from core.lathe.reader import lathe_from
from core.operations.registry import PlanInput, kind_of, operation_of, parameters_of, replan
from core.plan import Step, numbered
from core.values.dials import DialsShown, Setting
from core.values.errors import CoreError, PlanError, QuantityError
from core.values.plain_text import quoted
from core.values.quantities import read_number

if TYPE_CHECKING:
    from core.jobs.job import JobOperation


def plan_input_of(logged: LoggedPlanInput) -> PlanInput:
    """Return what a run is planned from, its lathe read anew; raises FileError where the log holds nonsense."""
    lathe = lathe_from(logged.lathe, logged.lathe_name, example=logged.stand_in)
    parameters = {**logged.parameters, **logged.answered} if logged.answered else logged.parameters
    return PlanInput(kind=logged.kind, parameters=parameters, lathe=lathe, material=logged.material)


def logged_plan_input(plan_input: PlanInput) -> LoggedPlanInput:
    """Return a basis as plain data for the log."""
    return LoggedPlanInput(
        kind=plan_input.kind,
        parameters=dict(plan_input.parameters),
        material=plan_input.material,
        lathe=dict(plan_input.lathe.data),
        lathe_name=plan_input.lathe.name,
        stand_in=plan_input.lathe.example,
    )


def goes_by(digests: Collection[str], operation: "JobOperation") -> bool:
    """Tell whether a run was started from what job and lathe still say, also under the names of the first version.

    `digests`: of what the run is planned from, see `LoggedPlanInput.digests`.
    """
    now, written = (
        logged_plan_input(operation.plan_input).digest,
        digest(operation.written, operation.plan_input.lathe.written),
    )
    return now in digests or written in digests


def revised_steps(plan_input: PlanInput, state: State, entered: RunInput) -> tuple[Step, ...]:
    """Return the steps that replace the open ones after an input; raises PlanError or FileError.

    One more spring pass goes before the open steps; every other input is the operation's own matter.
    """
    if isinstance(entered, ExtraSpringPass):
        return _one_more_spring(state)
    # An answer at the counter comes alone, and changes nothing that was set up.
    files_changed = isinstance(entered, Edited) and "kind" in entered.plan_input
    set_up = _set_up_as_edited(plan_input, state) if files_changed else None
    return replan(plan_input, state.progress, entered, set_up)


def _set_up_as_edited(plan_input: PlanInput, state: State) -> list[Step] | None:
    """Return what a plan from an edited basis has to be set up yet; None where the open steps say that.

    They do where the edit changes none of it, once a pass or a reading is taken, and where anything but an edit was
    entered: then a place is being found again.
    """
    from core.set_up_steps import prepares, set_up_left, set_up_steps

    settled = [step for step in state.steps if step.id in state.results]
    only_edited = all(isinstance(revision.entered, Edited) for revision in state.revisions)
    # Where a table is turned or a mark read next, its operation itself says what is set up again.
    is_next = state.cursor is not None and (prepares(state.cursor) or state.cursor.action == "cut")
    if not only_edited or not is_next or not all(map(prepares, settled)):
        return None
    planned, before = _steps_planned(plan_input), tuple[Step, ...]()
    # What another version planned, this one may refuse.
    with suppress(CoreError):
        before = _steps_planned(plan_input_of(state.plan_input))
    if [step.text for step in set_up_steps(planned)] == [step.text for step in set_up_steps(before)]:
        return None
    return set_up_left(planned, settled)


def _steps_planned(plan_input: PlanInput) -> tuple[Step, ...]:
    return operation_of(plan_input.kind).plan(parameters_of(plan_input), plan_input.lathe, plan_input.material).steps


def edited(plan_input: PlanInput, state: State) -> tuple[PlanInput, Edited]:
    """Return what is planned from once a run goes by another basis, and what its log takes down of that.

    What was answered at the counter stays where the basis does not say it, as do
    readings that still hold.
    """
    fields = logged_plan_input(plan_input)
    answered = {key: value for key, value in state.plan_input.answered.items() if key not in fields.parameters}
    now = plan_input._replace(parameters={**plan_input.parameters, **answered})
    plan_input_data = {name: getattr(fields, name) for name in LOGGED_WITH_A_RUN} | {"answered": answered}
    return now, Edited(plan_input=plan_input_data, readings=_readings_that_hold(now, state))


def answered(plan_input: PlanInput, state: State, answers: Mapping[str, Any]) -> tuple[PlanInput, Edited]:
    """Return what is planned from once parameters were answered at the counter, and what its log takes down of that."""
    all_answers = {**state.plan_input.answered, **answers}
    now = plan_input._replace(parameters={**plan_input.parameters, **all_answers})
    return now, Edited(plan_input={"answered": all_answers}, readings=_readings_that_hold(now, state))


def _readings_that_hold(plan_input: PlanInput, state: State) -> ReadingsThatHold:
    kind = kind_of(plan_input.kind)
    if kind is None or kind.screen != "readings":
        return None
    # Only an indicator is read in rounds.
    from core.run.readings_taken import readings_that_hold

    return readings_that_hold(plan_input, state)


def _one_more_spring(state: State) -> tuple[Step, ...]:
    """Return the last pass once more, taking nothing, and the open steps under new ids."""
    done = (step for step in state.done_latest_first() if step.depth_mm is not None and not takes_nothing(step))
    last = next(done, None)
    if last is None:
        raise PlanError("no pass has been taken yet; a spring pass repeats one")
    latest = state.undoable
    if latest is not None and latest.kind == "revised" and isinstance(state.revisions[-1].entered, SetTo):
        raise PlanError("the dial has been set on for the next pass: take that one first, then a spring pass")
    return numbered([spring_after(last), *state.open_steps()], state.next_step_id)


def shown_settings(lathe: Lathe, state: State, step: Step) -> tuple[Setting, ...]:
    """Return what the dials show at a step: counted from what they showed at touch-off."""
    dials = DialsShown(lathe.dials, state.zeros)
    # A dial being zeroed at this very step does not yet count from its new zero.
    return tuple(
        setting if setting.dial in step.zeroed_dials else dials.setting(setting)
        for setting in step.settings
        if isinstance(setting, Setting)
    )


def shown_text(lathe: Lathe, state: State, step: Step) -> str:
    """Return a step's text with the readings that its dials really show.

    A plan is written before any dial is touched off: its texts name readings that count from 0.
    """
    dials, text = DialsShown(lathe.dials, state.zeros), step.text
    for setting in step.settings:
        dial = lathe.dials.get(setting.dial)
        if dial is None or not isinstance(setting, Setting) or setting.dial in step.zeroed_dials:
            continue
        if state.zeros.get(setting.dial):
            text = text.replace(f" to {dial.setting_text(setting)}", f" to {dials.words(setting)}")
    return text


def read_shown(lathe: Lathe, dial_name: str, text: str, *, at_touch_off: bool = False) -> Fraction:
    """Return what a dial is said to show, in its own unit, exact.

    Raises QuantityError for anything but a number from 0 up to a full turn. A
    readout takes any, and so does the touch-off of a dial that is to count in the
    size of the work: one that reads diameter and whose numbers fall going in.
    """
    dial = lathe.dial(dial_name)
    number = read_number(text.removesuffix(dial.unit).strip())
    sizes = at_touch_off and dial.reads_diameter and not dial.rising_inwards
    if dial.per_turn is not None and not sizes and not 0 <= number < dial.per_turn:
        raise QuantityError(
            f"found {quoted(text)}; the {dial_words(dial_name)} shows from 0 to less than "
            f"{dial.reading_text(dial.per_turn)}"
        )
    return number


def position_shown(lathe: Lathe, state: State, setting: Setting, shown: Fraction) -> Fraction:
    """Return the position, from the zero of touch-off, nearest to the planned one, at which a dial shows `shown`.

    A reading fits once in every turn; the turn next to the planned one is meant.
    """
    dial = lathe.dial(setting.dial)
    zero = state.zeros.get(setting.dial, Fraction(0))
    planned = setting.position + zero
    if dial.per_turn is None:
        return shown - zero
    turn = round((planned - shown) / dial.per_turn)
    return shown + turn * dial.per_turn - zero
