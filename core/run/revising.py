"""Connects a run with its operation: reads its plan input, plans new steps after an input, and reads its dials."""

import re
from collections.abc import Collection, Mapping
from contextlib import suppress
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from core.cutting import spring_after, takes_nothing
from core.events.event import digest
from core.events.state import LOGGED_WITH_A_RUN, LoggedPlanInput, State
from core.inputs import Edited, ExtraSpringPass, ReadingsThatHold, RunInput, SetTo
from core.lathe.lathe import CARRIAGE, Lathe, dial_words
from core.lathe.reader import lathe_from
from core.operations.lengths import end_settings
from core.operations.registry import PlanInput, kind_of, operation_of, parameters_of, replan
from core.plan import Plan, Step, numbered
from core.values.dials import Setting, ZeroedDials
from core.values.errors import CoreError, FileError, PlanError, QuantityError
from core.values.plain_text import quoted
from core.values.quantities import read_number

if TYPE_CHECKING:
    from core.jobs.job import JobOperation


def plan_input_of(logged: LoggedPlanInput) -> PlanInput:
    """Return the plan input of a run from its log. Raises FileError if the logged values cannot be read."""
    lathe = lathe_from(logged.lathe, logged.lathe_name, example=logged.stand_in)
    parameters = {**logged.parameters, **logged.answered} if logged.answered else logged.parameters
    kind = kind_of(logged.kind)
    if logged.logged_digest and kind is not None:
        parameters = kind.operation.logged_by_first_version(parameters, lathe)
    return PlanInput(kind=logged.kind, parameters=parameters, lathe=lathe, material=logged.material)


def logged_plan_input(plan_input: PlanInput) -> LoggedPlanInput:
    """Return a plan input as plain data for the log."""
    return LoggedPlanInput(
        kind=plan_input.kind,
        parameters=dict(plan_input.parameters),
        material=plan_input.material,
        lathe=dict(plan_input.lathe.data),
        lathe_name=plan_input.lathe.name,
        stand_in=plan_input.lathe.example,
    )


def still_matches(digests: Collection[str], operation: "JobOperation") -> bool:
    """Return whether a run was planned from an operation's present job and lathe.

    `digests`: the digests of the run's plan input, with the names of the first version and with today's names.
    """
    current, written = (
        logged_plan_input(operation.plan_input).digest,
        digest(operation.written, operation.plan_input.lathe.written),
    )
    return current in digests or written in digests


def revised_steps(plan_input: PlanInput, state: State, entered: RunInput) -> tuple[Step, ...]:
    """Return the steps that replace the open steps of a run after an input of the user.

    An extra spring pass is put before the open steps. For every other input, the operation plans again. Raises
    PlanError for an input that cannot be used, and FileError for parameters that cannot be read.
    """
    if isinstance(entered, ExtraSpringPass):
        return _one_more_spring(state)
    answered = dict[str, Any]()
    if isinstance(entered, Edited) and entered.plan_input.keys() == {"answered"}:
        answered = entered.plan_input["answered"]
        plan_input = plan_input._replace(parameters={**plan_input.parameters, **answered})
    # An answer at the counter changes no set-up.
    set_up = _set_up_as_edited(plan_input, state) if changes_files(entered) else None
    try:
        return replan(plan_input, state.progress, entered, set_up)
    except FileError as error:
        # A user who answered a question at the counter has seen no key of a job file.
        refusals = ((words.partition(": "), words) for words in error.every)
        raise FileError([parts[2] if parts[0] in answered else words for parts, words in refusals]) from error


def changes_files(entered: RunInput) -> bool:
    """Return whether an input is an edit of the job or the lathe, and not an answer on the counter screen."""
    return isinstance(entered, Edited) and "kind" in entered.plan_input


def _set_up_as_edited(plan_input: PlanInput, state: State) -> list[Step] | None:
    """Return the set-up steps that an edited plan still needs; None to keep the open set-up steps.

    They are kept if the edit does not change the set-up, if a pass or a reading has been done, or if the last input was
    not an edit, so that a position is being found again.
    """
    from core.set_up_steps import SET_UP_TITLE, in_words_of, prepares, set_up_left, set_up_steps

    settled = [step for step in state.steps if step.id in state.results]
    only_edited = all(isinstance(revision.entered, Edited) for revision in state.revisions)
    # If the next step turns a table or reads a mark, the operation itself plans the set-up again.
    is_next = state.cursor is not None and (prepares(state.cursor) or state.cursor.action == "cut")
    if not only_edited or not is_next or not all(map(prepares, settled)):
        return None
    planned, before = plan_from(plan_input).steps, tuple[Step, ...]()
    # This version may refuse a job that another version planned.
    with suppress(CoreError):
        before = plan_from(plan_input_of(state.plan_input)).steps
    if [step.text for step in set_up_steps(planned)] == [step.text for step in set_up_steps(before)]:
        return None
    if not state.revisions:
        settled = in_words_of(set_up_steps(before), settled)
    # The plan of a single operation does not hold the differences from the previous operation.
    first = [step for step in state.open_steps() if step.title == SET_UP_TITLE]
    return [*first, *set_up_left(planned, settled)]


def plan_from(plan_input: PlanInput) -> Plan:
    """Return the plan of an operation from its beginning. Raises FileError or PlanError if it cannot be planned."""
    return operation_of(plan_input.kind).plan(parameters_of(plan_input), plan_input.lathe, plan_input.material)


def edited_input(plan_input: PlanInput, state: State) -> tuple[PlanInput, Edited]:
    """Return the plan input of a run after its job or lathe was edited, and the input to log.

    Answers given on the counter screen are kept, unless the edited job itself has a value for the same key, or no
    longer asks for it. Indicator readings that are still valid are kept too.
    """
    fields = logged_plan_input(plan_input)
    answers = {key: value for key, value in state.plan_input.answered.items() if key not in fields.parameters}
    edited = plan_input._replace(parameters={**plan_input.parameters, **answers})
    if answers:
        try:
            parameters_of(edited)
        except FileError:
            # These answers belong to questions that the edited job no longer asks.
            answers, edited = {}, plan_input
    plan_input_data = {name: getattr(fields, name) for name in LOGGED_WITH_A_RUN} | {"answered": answers}
    return edited, Edited(plan_input=plan_input_data, readings=_readings_still_valid(edited, state))


def answered_input(plan_input: PlanInput, state: State, answers: Mapping[str, Any]) -> tuple[PlanInput, Edited]:
    """Return the plan input of a run after an answer on the counter screen, and the input to log."""
    all_answers = {**state.plan_input.answered, **answers}
    edited = plan_input._replace(parameters={**plan_input.parameters, **all_answers})
    return edited, Edited(plan_input={"answered": all_answers}, readings=_readings_still_valid(edited, state))


def _readings_still_valid(plan_input: PlanInput, state: State) -> ReadingsThatHold:
    kind = kind_of(plan_input.kind)
    if kind is None or kind.screen != "readings":
        return None
    # Only a runout check has sets of readings.
    from core.run.runout_view import readings_still_valid

    return readings_still_valid(plan_input, state)


def _one_more_spring(state: State) -> tuple[Step, ...]:
    """Return a spring pass at the setting of the last pass, followed by the open steps. All these steps get new ids."""
    done = (step for step in state.done_latest_first() if step.depth_mm is not None and not takes_nothing(step))
    last = next(done, None)
    if last is None:
        raise PlanError("No pass has been done yet. A spring pass repeats the last pass.")
    latest = state.undoable
    if latest is not None and latest.kind == "revised" and isinstance(state.revisions[-1].entered, SetTo):
        raise PlanError("The dial is already set for the next pass. Do that pass first, then the spring pass.")
    return numbered([spring_after(last), *state.open_steps()], state.next_step_id)


def shown_settings(lathe: Lathe, state: State, step: Step) -> tuple[Setting, ...]:
    """Return the settings of a step, with the readings that the dials really show after their touch-off."""
    dials = ZeroedDials(lathe.dials, state.zeros)
    # A dial that is zeroed at this step does not count from its new zero yet.
    return tuple(
        setting if setting.dial in step.zeroed_dials else dials.setting(setting)
        for setting in step.settings
        if isinstance(setting, Setting)
    )


def shown_text(lathe: Lathe, state: State, step: Step) -> str:
    """Return the text of a step, with the readings that the dials really show.

    A plan is made before any dial is touched off, so the planned text holds readings counted from 0.
    """
    dials, shown = ZeroedDials(lathe.dials, state.zeros), dict[str, str]()
    # A groove has several positions of the carriage, but its step has only the last of these as a setting.
    plunges = end_settings(step, lathe.dials[CARRIAGE]) if CARRIAGE in lathe.dials else ()
    for setting in (*step.settings, *plunges):
        dial = lathe.dials.get(setting.dial)
        if dial is None or not isinstance(setting, Setting) or setting.dial in step.zeroed_dials:
            continue
        if state.zeros.get(setting.dial):
            verb = "reads" if f"{dial_words(setting.dial)} reads " in step.text else "to"
            shown.setdefault(f" {verb} {dial.setting_text(setting)}", f" {verb} {dials.words(setting)}")
    # A reading just put in must not be replaced again.
    planned = "|".join(map(re.escape, sorted(shown, key=len, reverse=True)))
    return re.sub(planned, lambda found: shown[found[0]], step.text) if shown else step.text


def read_dial(lathe: Lathe, dial_name: str, text: str, *, at_touch_off: bool = False) -> Fraction:
    """Return a dial reading that the user entered, as an exact number in the dial's own unit.

    Raises QuantityError for a reading that is not from 0 to a full turn. A digital readout may show any number. So may
    a dial at touch-off if it reads diameter and its numbers fall as the tool moves in, so that it can show the size of
    the work. `at_touch_off`: True if the user reads the dial while the tool touches the work.
    """
    dial = lathe.dial(dial_name)
    number = read_number(text.removesuffix(dial.unit).strip())
    sizes = at_touch_off and dial.reads_diameter and not dial.rising_inwards
    if dial.per_turn is not None and not sizes and not 0 <= number < dial.per_turn:
        raise QuantityError(
            f"{quoted(text)} is not on the {dial_words(dial_name)}. Enter a reading from 0 to less than "
            f"{dial.reading_text(dial.per_turn)}."
        )
    return number


def position_at_reading(lathe: Lathe, state: State, setting: Setting, shown: Fraction) -> Fraction:
    """Return the position, counted from touch-off, at which a dial shows the reading `shown`.

    The dial shows the same reading once in every turn. The position nearest to the planned position is returned.
    """
    dial = lathe.dial(setting.dial)
    zero = state.zeros.get(setting.dial, Fraction(0))
    planned = setting.position + zero
    if dial.per_turn is None:
        return shown - zero
    turn = round((planned - shown) / dial.per_turn)
    return shown + turn * dial.per_turn - zero
