"""The registry of all kinds of operation, and the functions that read, plan and replan an operation.

The modules of a kind are imported only when a job uses this kind. If all of them were imported, the program would take
several times as long to start.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Any, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.operation import SPEED, TOOL, WORKHOLDING, Operation
from core.plan import Plan, Step, refuse_too_many
from core.values.errors import CoreError, FileError, PlanError
from core.values.fields import LONGEST_NAME, Problem, Table
from core.values.first_version import FIRST_CUT
from core.values.plain_text import quoted

if TYPE_CHECKING:
    from core.cutting import Progress
    from core.inputs import RunInput
    from core.operations.patterns.errors_drawn import PatternErrors
    from core.operations.patterns.picture import PatternPicture

_MOST_RPM = 100_000
"""The highest speed that a job may state if the chuck's limit is not known [rpm]."""
Parameters = Mapping[str, Any]
"""An operation's table as in a job file, with today's key names. The log stores it in this form."""


class Kind(NamedTuple):
    """One entry of the registry: what the program must know about a kind before it imports the kind's modules."""

    kind: str
    title: str
    summary: str
    declared: str
    """The module and the name of the declaration, such as "core.operations.turn:TURN"."""
    short: str = ""
    """The name of the kind in a list, such as "a diameter"."""
    usual: bool = False
    """True if the kind is among the first that a screen offers."""
    on_radius: bool = False
    """True if the depths of its steps are on the radius."""
    finds_cuts_again: bool = False
    """True if a run can list its cuts, correct a wrong one, and find work that came off the table by its cuts."""
    angles_on_work: bool = False
    """True if the kind's angles lie on the work. The lathe file then says which way the rotary table's numbers rise."""
    screen: str = ""
    """The screen that counts its runs: "readings" for readings around a turn, "" for the usual counter."""

    @property
    def operation(self) -> Operation:
        """The declaration of the kind. The first access imports the kind's modules."""
        module, _, name = self.declared.partition(":")
        operation: Operation = getattr(import_module(module), name)
        return operation


class PlanInput(NamedTuple):
    """Everything from which a run is planned. The run stores these values, because the job file may change later."""

    kind: str
    parameters: Parameters
    lathe: Lathe
    material: str | None = None


def kind_of(kind: str) -> Kind | None:
    """Return the registry's entry for a kind; None for an unknown kind. Kinds that only old runs have are found too."""
    return _OF_OLD_RUNS.get(kind) or OPERATIONS.get(kind)


def finds_cuts_again(kind: str) -> bool:
    """Return whether a run of this kind can list its cuts, correct a wrong one, and find work that came off the table
    by its cuts.

    Return False for an unknown kind.
    """
    line = kind_of(kind)
    return line is not None and line.finds_cuts_again


def operation_of(kind: str) -> Operation:
    """Return the declaration of a kind. Raises PlanError if this version of the program does not have the kind."""
    line = kind_of(kind)
    if line is None:
        raise PlanError(
            f"This version has no operation {quoted(kind)}. Continue the run with the version that started it."
        )
    return line.operation


def read_operation(table: Table, lathe: Lathe) -> Any:
    """Return the checked parameters of an operation's table; None if an entry is wrong. Errors are added to
    `table.problems`.
    """
    table.text("name", required=True, longest=LONGEST_NAME)
    is_old = table.has("kind") and table.data["kind"] in list(_OF_OLD_RUNS)
    kind = table.data["kind"] if is_old else table.word("kind", tuple(OPERATIONS), required=True)
    if kind is None:
        return None
    operation = operation_of(kind)
    parameters = operation.read(table, lathe)
    stated_set_up(table, operation.set_up_keys, lathe)
    table.refuse_unknown()
    return parameters


class StatedSetUp(NamedTuple):
    """The set-up that an operation's table states. An item is "" or None if the table does not state it."""

    workholding: str = ""
    tool: str = ""
    speed_rpm: float | None = None


def stated_set_up(table: Table, keys: Collection[str], lathe: Lathe) -> StatedSetUp:
    """Return the set-up that an operation's table states. A speed above the chuck's limit is added to `table.problems`.

    `keys`: which of the keys WORKHOLDING, TOOL and SPEED the kind of operation accepts.
    """
    most_rpm = lathe.spindle.most_rpm or _MOST_RPM
    return StatedSetUp(
        workholding=(table.text(WORKHOLDING, longest=LONGEST_NAME) or "") if WORKHOLDING in keys else "",
        tool=(table.text(TOOL, longest=LONGEST_NAME) or "") if TOOL in keys else "",
        speed_rpm=table.value(SPEED, "rotation", above=0, most=most_rpm) if SPEED in keys else None,
    )


def replan(
    plan_input: PlanInput, progress: "Progress", entered: "RunInput", set_up: Sequence[Step] | None = None
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining steps of a run.

    The result depends only on the arguments: the values from which the run was planned, its progress, and what the user
    entered. Set-up steps that must still be done before the next cut are kept. `set_up`: these steps, or None if they
    are among the open steps of `progress`. Raises FileError if a parameter is wrong, and PlanError if no new steps are
    possible.
    """
    from core.inputs import Moved, PickedUp
    from core.safety import without_repeats
    from core.set_up_steps import dials_to_zero, set_up_steps, with_set_up

    operation = operation_of(plan_input.kind)
    known = progress.zeroed(dials_to_zero(progress.open_steps))
    steps = operation.replan(parameters_of(plan_input), plan_input.lathe, plan_input.material, known, entered)
    still_open = set_up_steps(progress.open_steps) if set_up is None else set_up
    # The power may have been off during a move, so every caution is shown again.
    earlier_cautions = () if isinstance(entered, Moved | PickedUp) else progress.cautions_given
    return without_repeats(with_set_up(still_open, steps, progress.next_id), earlier_cautions)


def parameters_of(plan_input: PlanInput) -> Any:
    """Return the checked parameters of a plan input. If any is wrong, a FileError lists every wrong parameter."""
    problems: list[Problem] = []
    parameters = read_operation(Table(plan_input.parameters, "", problems), plan_input.lathe)
    if problems or parameters is None:
        raise FileError([str(problem) for problem in problems])
    return parameters


def count_steps(parameters: Any, kind: str, lathe: Lathe, material: str | None) -> int:
    """Return how many steps a plan will have, without making the plan. Raises PlanError if there would be too many."""
    count = operation_of(kind).steps(parameters, lathe, material)
    refuse_too_many(count)
    return count.steps


def plan_of(table: Table, parameters: Any, kind: str, lathe: Lathe, material: str | None) -> Plan | None:
    """Return the plan of an operation; None if no plan can be made. The reason is then added to `table.problems`."""
    from core.safety import without_repeats

    try:
        count_steps(parameters, kind, lathe, material)
        plan = operation_of(kind).plan(parameters, lathe, material)
        return replace(plan, steps=without_repeats(plan.steps))
    except PlanError as error:
        table.problem(error.field, error.message)
        return None


def picture_of(plan_input: PlanInput) -> "PatternPicture | None":
    """Return the picture of an operation's pattern; None if it has no pattern or its parameters are wrong."""
    try:
        drawn = operation_of(plan_input.kind).pattern
        return drawn and drawn(parameters_of(plan_input), plan_input.lathe)
    except CoreError:
        return None


def picture_from(kind: str, parameters: Any, lathe: Lathe) -> "PatternPicture | None":
    """Return the picture of a pattern, made from checked parameters.

    Return None if this kind of operation has no pattern, or if the lathe cannot be set to the pattern.
    """
    drawn = operation_of(kind).pattern
    try:
        return drawn and drawn(parameters, lathe)
    except CoreError:
        return None


def errors_of(plan_input: PlanInput) -> "PatternErrors | None":
    """Return the set-up errors to draw in the picture of a pattern.

    Return None if this kind of operation cannot draw errors, or if its parameters are wrong.
    """
    try:
        errors = operation_of(plan_input.kind).errors
        return errors and errors(parameters_of(plan_input), plan_input.lathe)
    except CoreError:
        return None


OPERATIONS: Mapping[str, Kind] = {
    line.kind: line
    for line in (
        Kind(
            "turn",
            "Turn a diameter",
            "outside or in a bore",
            "core.operations.turn:TURN",
            short="a diameter",
            usual=True,
            on_radius=True,
        ),
        Kind(
            "face",
            "Face to a length",
            "by an amount, or to a length",
            "core.operations.face:FACE",
            short="a face",
            usual=True,
        ),
        Kind(
            "groove",
            "Cut a groove",
            "a relief, a slot, parting off",
            "core.operations.face:GROOVE",
            short="a groove",
            usual=True,
        ),
        Kind(
            "taper",
            "Turn a taper",
            "by ratio, angle, sizes or standard",
            "core.operations.taper:TAPER",
            short="a taper",
            on_radius=True,
        ),
        Kind(
            "thread",
            "Cut a thread",
            "limits, depth, passes, measuring",
            "core.operations.threads.operation:THREAD",
            short="a thread",
            usual=True,
            on_radius=True,
        ),
        Kind(
            "drill",
            "Drill a hole",
            "with the tailstock, in pecks; to ream or tap",
            "core.operations.drilling.operation:DRILL",
            short="a hole",
        ),
        Kind(
            "runout",
            "Check the runout",
            "readings round one turn, then what to move",
            "core.operations.runout.operation:RUNOUT",
            short="runout",
            screen="readings",
        ),
        Kind(
            "divide",
            "Divide on the rotary table",
            "by dial, plate or notches",
            "core.operations.dividing.operation:DIVIDE",
            short="dividing",
        ),
        Kind(
            "holes",
            "Holes on a circle",
            "coordinates for a mill's readout",
            "core.operations.holes:HOLES",
            short="holes on a circle",
        ),
        Kind(
            "pattern",
            "Cut a pattern",
            "cutter in the spindle, work on the table",
            "core.operations.patterns.operation:PATTERN",
            short="a pattern",
            finds_cuts_again=True,
            angles_on_work=True,
        ),
        Kind(
            "axes",
            "Bring two axes together",
            "the table's axis to the spindle's",
            "core.operations.axes.operation:AXES",
            short="two axes",
        ),
        Kind(
            "square",
            "Square and parallel",
            "vice, fence, slide, tailstock in line",
            "core.operations.square.operation:SQUARE",
            short="square",
        ),
        Kind(
            "shoulders",
            "Turn shoulders",
            "a stepped shaft, listed from a sketch",
            "core.operations.shoulders:SHOULDERS",
            short="shoulders",
            on_radius=True,
        ),
        Kind(
            "grind",
            "Grind a cutter",
            "its flat, flanks and tip, for a pattern",
            "core.operations.grinding.operation:GRIND",
            short="a cutter",
        ),
        Kind(
            "by_hand",
            "Something done by hand",
            "one step to tick off",
            "core.operations.by_hand:BY_HAND",
            short="by hand",
        ),
    )
}

_OF_OLD_RUNS: Mapping[str, Kind] = {
    FIRST_CUT: Kind(FIRST_CUT, "Face or groove", "a run of the first version", "core.operations.face:FIRST_CUT")
}
"""Kinds of operation that only runs of an earlier version have. Such a run continues as it was started."""
