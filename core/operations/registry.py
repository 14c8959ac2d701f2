"""The kinds of operation: how each is read, planned and planned again. Listed once, here.

A kind's modules are imported when it is first read or planned: together they
would cost a start several times what one job needs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Any, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.operation import Operation
from core.plan import Plan, Step, refuse_too_many
from core.values.errors import FileError, PlanError
from core.values.fields import LONGEST_NAME, Problem, Table
from core.values.first_version import FIRST_CUT
from core.values.plain_text import quoted

if TYPE_CHECKING:
    from core.cutting import Progress
    from core.inputs import RunInput

Parameters = Mapping[str, Any]
"""An operation's own table as a job file holds it, in today's names: the canonical form, kept in the log."""


class Kind(NamedTuple):
    """One line of the registry: what must be known of a kind before its modules are loaded."""

    kind: str
    title: str
    summary: str
    declared: str
    """Where its declaration is: "core.operations.turn:TURN"."""
    short: str = ""
    """What it is called among others: "a diameter"."""
    usual: bool = False
    """Offered by itself where something is started."""
    on_radius: bool = False
    """The depths of its steps are on the radius."""
    screen: str = ""
    """Which counter its runs have: "" the usual one, "readings" the one that takes readings round a turn."""

    @property
    def operation(self) -> Operation:
        """What it declares; loads its modules."""
        module, _, name = self.declared.partition(":")
        found: Operation = getattr(import_module(module), name)
        return found


class PlanInput(NamedTuple):
    """What a run was planned from; never the job file itself, which may change."""

    kind: str
    parameters: Parameters
    lathe: Lathe
    material: str | None = None


def kind_of(kind: str) -> Kind | None:
    """Return a line of the registry, also of a kind that only runs of the first version have; None for any other."""
    return _OF_OLD_RUNS.get(kind) or OPERATIONS.get(kind)


def operation_of(kind: str) -> Operation:
    """Return what a kind declares; raises PlanError for one that only another version of the program has."""
    found = kind_of(kind)
    if found is None:
        raise PlanError(f"this program has no operation {quoted(kind)}: nothing can be planned for it")
    return found.operation


def read_operation(table: Table, lathe: Lathe) -> Any:
    """Return the checked parameters of an operation's table, None where a problem was noted."""
    table.text("name", required=True, longest=LONGEST_NAME)
    is_old = table.has("kind") and table.data["kind"] in list(_OF_OLD_RUNS)
    kind = table.data["kind"] if is_old else table.word("kind", tuple(OPERATIONS), required=True)
    if kind is None:
        return None
    found = operation_of(kind).read(table, lathe)
    table.refuse_unknown()
    return found


def make_plan(plan_input: PlanInput) -> Plan:
    """Return the plan of an operation; raises FileError with every problem, or PlanError."""
    operation, found = operation_of(plan_input.kind), parameters_of(plan_input)
    count_steps(found, plan_input.kind, plan_input.lathe, plan_input.material)
    return _thinned(operation.plan(found, plan_input.lathe, plan_input.material))


def _thinned(plan: Plan) -> Plan:
    from core.safety import without_repeats

    return replace(plan, steps=without_repeats(plan.steps))


def replan(
    plan_input: PlanInput, progress: "Progress", entered: "RunInput", set_up: Sequence[Step] | None = None
) -> tuple[Step, ...]:
    """Return the steps that replace the open ones of a run.

    Pure: from what the run was started with, how far it has come, and what was
    entered. What is still to be set up before the next cut stays, whatever is
    planned again; `set_up`: that, where it is not what the open steps say.
    Raises FileError or PlanError.
    """
    from core.inputs import Moved, PickedUp
    from core.safety import without_repeats
    from core.set_up_steps import dials_to_zero, set_up_steps, with_set_up

    operation = operation_of(plan_input.kind)
    known = progress.zeroed(dials_to_zero(progress.open_steps))
    steps = operation.replan(parameters_of(plan_input), plan_input.lathe, plan_input.material, known, entered)
    still_open = set_up_steps(progress.open_steps) if set_up is None else set_up
    # Once something was moved, power may have been off and on: what was said before is news again.
    said = () if isinstance(entered, Moved | PickedUp) else progress.cautions_given
    return without_repeats(with_set_up(still_open, steps, progress.next_id), said)


def parameters_of(plan_input: PlanInput) -> Any:
    """Return the checked parameters of a basis; raises FileError with every problem found."""
    problems: list[Problem] = []
    found = read_operation(Table(plan_input.parameters, "", problems), plan_input.lathe)
    if problems or found is None:
        raise FileError([str(problem) for problem in problems])
    return found


def count_steps(found: Any, kind: str, lathe: Lathe, material: str | None) -> int:
    """Return how many steps a plan will have, without making one; raises PlanError for more than a run can hold."""
    count = operation_of(kind).steps(found, lathe, material)
    refuse_too_many(count)
    return count.steps


def plan_of(table: Table, found: Any, kind: str, lathe: Lathe, material: str | None) -> Plan | None:
    """Return the plan, or note why there is none under the key concerned."""
    try:
        count_steps(found, kind, lathe, material)
        return _thinned(operation_of(kind).plan(found, lathe, material))
    except PlanError as error:
        table.problem(error.field, error.message)
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
            "by how much, or to a length",
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
            "runout",
            "Check the runout",
            "readings round a turn, then what to move",
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
            "Pattern of circles",
            "cutter in the spindle, work on the table",
            "core.operations.patterns.operation:PATTERN",
            short="a pattern",
        ),
        Kind(
            "by_hand",
            "Something done by hand",
            "one step to be ticked off",
            "core.operations.by_hand:BY_HAND",
            short="by hand",
        ),
    )
}

_OF_OLD_RUNS: Mapping[str, Kind] = {
    FIRST_CUT: Kind(FIRST_CUT, "Face or groove", "a run of the first version", "core.operations.face:FIRST_CUT")
}
"""Kinds that no file and no screen has any more; their runs continue as they were started."""
