"""The kinds of operation: how each is read, planned and planned again. Listed once, here.

A kind's modules are imported when it is first read or planned: together they
would cost a start several times what one job needs.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from core.errors import FileError, PlanError
from core.fields import Problem, Table
from core.lathe import NEVER_ALONG_THE_BED, Lathe
from core.plain_text import quoted
from core.plan import Plan, Step, StepCount, refuse_too_many

if TYPE_CHECKING:
    from core.cutting import Progress
    from core.dial_shown import DialsShown
    from core.drawing import Drawing
    from core.state import State

Parameters = Mapping[str, Any]
"""An operation's own table as it stands in a job file: the canonical form, kept in the log."""


Asks = Literal["", "diameter", "place", "thread", "depth", "readings"]
"""What the counter asks when something was measured or moved: a diameter, the place a cut has reached, the sizes of
a thread, a depth at positions of the table, readings of an indicator; "" nothing."""


class Work(NamedTuple):
    """How a kind is read, counted, planned and planned again.

    `read` returns None where it noted a problem in the table. `steps` refuses what a new
    plan may not have, and says from formulas how many steps it will have, so that nothing is
    made in vain; runs already started are planned again without it.
    """

    read: Callable[[Table, Lathe], Any]
    steps: Callable[[Any, Lathe, str | None], StepCount]
    plan: Callable[[Any, Lathe, str | None], Plan]
    replan: Callable[[Any, Lathe, str | None, "Progress", str, Mapping[str, Any]], tuple[Step, ...]]


MovementsOf = Callable[[Any, Lathe], Callable[[Step, "DialsShown", tuple[int, int]], tuple[str, ...]]]
"""Returns, from the checked parameters and the lathe, what tells the movements of a step: see core.movements."""


DrawingsOf = Callable[[Any, Lathe], Callable[["State", Step], "Drawing | None"]]
"""Returns, from the checked parameters and the lathe, what draws a step: see core.step_pictures."""


class Operation(NamedTuple):
    """One kind of operation."""

    kind: str
    title: str
    summary: str
    work: Callable[[], Work]
    """Imports its modules."""
    asks: Asks = ""
    movements: "Callable[[], MovementsOf] | None" = None
    """Imports what tells the movements of a pass; None where the plan's own list serves every pass."""
    drawings: "Callable[[], DrawingsOf] | None" = None
    """Imports what draws the steps; None where they have no drawings, or one pattern for all (core.pictures)."""


class Basis(NamedTuple):
    """What a run was planned from; never the job file itself, which may change."""

    kind: str
    parameters: Parameters
    lathe: Lathe
    material: str | None = None


class _Given(dict[str, Any]):
    """What was entered, as planning again takes it; what was not entered is refused in words."""

    def __missing__(self, key: str) -> Any:
        name = key.removesuffix("_mm").replace("_", " ")
        raise PlanError(f"nothing can be planned from this: no {name} was entered. Write a note instead")


def operation_of(kind: str) -> Operation:
    """Return a kind of operation, also one that only runs of the first version have.

    Raises PlanError for one that only another version of the program has.
    """
    found = _OF_OLD_RUNS.get(kind) or OPERATIONS.get(kind)
    if found is None:
        raise PlanError(f"this program has no operation {quoted(kind)}: nothing can be planned for it")
    return found


def asks_of(kind: str) -> Asks:
    """Return what the counter asks about a kind of operation, "" for one that only another version has."""
    found = _OF_OLD_RUNS.get(kind) or OPERATIONS.get(kind)
    return found.asks if found else ""


def current_parameters(table: Parameters) -> Parameters:
    """Return an operation's table of a job file under today's names: a `cut` is a groove or a face, by its dial.

    >>> current_parameters({"kind": "cut", "dial": "saddle", "from": "0 mm", "to": "2 mm"})["kind"]
    'face'
    """
    if table.get("kind") != "cut":
        return table
    return {**table, "kind": "groove" if table.get("dial") in list(NEVER_ALONG_THE_BED) else "face"}


def read_operation(table: Table, lathe: Lathe) -> Any:
    """Return the checked parameters of an operation's table, None where a problem was noted."""
    table.text("name", required=True, longest=80)
    is_old = table.has("kind") and table.data["kind"] in list(_OF_OLD_RUNS)
    kind = table.data["kind"] if is_old else table.word("kind", tuple(OPERATIONS), required=True)
    if kind is None:
        return None
    found = operation_of(kind).work().read(table, lathe)
    table.refuse_unknown()
    return found


def make_plan(basis: Basis) -> Plan:
    """Return the plan of an operation; raises FileError with every problem, or PlanError."""
    work, found = operation_of(basis.kind).work(), parameters_of(basis)
    count_steps(found, basis.kind, basis.lathe, basis.material)
    return _thinned(work.plan(found, basis.lathe, basis.material))


def _thinned(plan: Plan) -> Plan:
    from core.safety import thinned

    return replace(plan, steps=thinned(plan.steps))


def replan(basis: Basis, progress: "Progress", cause: str, given: Mapping[str, Any]) -> tuple[Step, ...]:
    """Return the steps that replace the open ones of a run.

    Pure: from what the run was started with, how far it has come, and what was
    `given` (typed). What is still to be set up before the next cut stays, whatever is
    planned again. Raises FileError or PlanError.
    """
    from core.safety import thinned
    from core.setting_up import dials_to_zero, with_set_up

    work = operation_of(basis.kind).work()
    known = progress.zeroed(dials_to_zero(progress.open_steps))
    steps = work.replan(parameters_of(basis), basis.lathe, basis.material, known, cause, _Given(given))
    # Once something was moved, power may have been off and on: what was said before is news again.
    said = () if cause in {"moved", "picked up"} else progress.said
    return thinned(with_set_up(progress.open_steps, steps, progress.next_id), said)


def parameters_of(basis: Basis) -> Any:
    """Return the checked parameters of a basis; raises FileError with every problem found."""
    problems: list[Problem] = []
    found = read_operation(Table(basis.parameters, "", problems), basis.lathe)
    if problems or found is None:
        raise FileError([str(problem) for problem in problems])
    return found


def count_steps(found: Any, kind: str, lathe: Lathe, material: str | None) -> int:
    """Return how many steps a plan will have, without making one; raises PlanError for more than a run can hold."""
    count = operation_of(kind).work().steps(found, lathe, material)
    refuse_too_many(count)
    return count.steps


def plan_of(table: Table, found: Any, kind: str, lathe: Lathe, material: str | None) -> Plan | None:
    """Return the plan, or note why there is none under the key concerned."""
    try:
        count_steps(found, kind, lathe, material)
        return _thinned(operation_of(kind).work().plan(found, lathe, material))
    except PlanError as error:
        table.problem(error.field, error.message)
        return None


def _turning(read: Callable[[Table, Lathe], Any]) -> Work:
    from core.turning import count_cutting, plan_cutting

    def again(
        found: Any, lathe: Lathe, material: str | None, progress: "Progress", cause: str, given: Mapping[str, Any]
    ) -> tuple[Step, ...]:
        from core.turning_again import replan_cutting

        return replan_cutting(found, lathe, progress, cause, given)

    return Work(read=read, steps=count_cutting, plan=plan_cutting, replan=again)


def _turn() -> Work:
    from core.turning import read_turn

    return _turning(read_turn)


def _face() -> Work:
    from core.facing import read_face

    return _turning(read_face)


def _groove() -> Work:
    from core.facing import read_groove

    return _turning(read_groove)


def _first_cut() -> Work:
    from core.facing import read_first_cut

    return _turning(read_first_cut)


def _thread() -> Work:
    from core.threads.job import read_thread_job
    from core.threads.planning import count_thread, plan_thread

    def again(
        found: Any, lathe: Lathe, material: str | None, progress: "Progress", cause: str, given: Mapping[str, Any]
    ) -> tuple[Step, ...]:
        from core.threads.replanning import replan_thread

        return replan_thread(found, lathe, material, progress, cause, given)

    return Work(read=read_thread_job, steps=count_thread, plan=plan_thread, replan=again)


def _thread_movements() -> MovementsOf:
    from core.threads.movements import ThreadMovements

    return ThreadMovements


def _thread_drawings() -> DrawingsOf:
    from core.threads.groove_steps import thread_drawings

    return thread_drawings


def _cut_drawings(kind: Literal["turn", "face", "groove"]) -> Callable[[], DrawingsOf]:
    def drawings() -> DrawingsOf:
        from core.cut_drawing import cut_drawings

        return partial(cut_drawings, kind)

    return drawings


def _runout() -> Work:
    from core.runout.job import read_runout
    from core.runout.operation import count_runout, plan_runout, replan_runout

    return Work(read=read_runout, steps=count_runout, plan=plan_runout, replan=replan_runout)


def _index() -> Work:
    from core.indexing.job import read_index
    from core.indexing.operation import count_index, plan_index, replan_index

    return Work(read=read_index, steps=count_index, plan=plan_index, replan=replan_index)


def _bolts() -> Work:
    from core.bolts import count_bolts, plan_bolts, read_bolts, replan_bolts

    return Work(read=read_bolts, steps=count_bolts, plan=plan_bolts, replan=replan_bolts)


def _rings() -> Work:
    from core.rings.job import read_rings
    from core.rings.operation import count_rings, plan_rings, replan_rings

    return Work(read=read_rings, steps=count_rings, plan=plan_rings, replan=replan_rings)


def _check() -> Work:
    return Work(
        read=lambda table, lathe: table.text("text", required=True, longest=500),
        steps=lambda text, lathe, material: StepCount(1),
        plan=_plan_check,
        replan=_replan_check,
    )


def _plan_check(text: str, lathe: Lathe, material: str | None) -> Plan:
    from core import safety

    # What is done by hand is mostly done at the machine: a groove turned, an edge filed.
    step = Step(id=1, action="check", text=text, cautions=(safety.STOP_FOR_HANDS,))
    return Plan(steps=(step,), general=safety.general(material, *safety.in_the_chuck(lathe)))


def _replan_check(
    text: str, lathe: Lathe, material: str | None, progress: "Progress", cause: str, given: Mapping[str, Any]
) -> tuple[Step, ...]:
    from core import safety

    return (Step(id=progress.next_id, action="check", text=text, cautions=(safety.STOP_FOR_HANDS,)),)


OPERATIONS: Mapping[str, Operation] = {
    operation.kind: operation
    for operation in (
        Operation(
            kind="turn",
            title="Turn a diameter",
            summary="rough, measure, finish: outside or a bore",
            work=_turn,
            asks="diameter",
            drawings=_cut_drawings("turn"),
        ),
        Operation(
            kind="face",
            title="Face to a length",
            summary="by how much, or to a length",
            work=_face,
            asks="place",
            drawings=_cut_drawings("face"),
        ),
        Operation(
            kind="groove",
            title="Cut a groove",
            summary="a relief, a slot, parting off",
            work=_groove,
            asks="place",
            drawings=_cut_drawings("groove"),
        ),
        Operation(
            kind="thread",
            title="Cut a thread",
            summary="limits, depth, passes, measuring",
            work=_thread,
            asks="thread",
            movements=_thread_movements,
            drawings=_thread_drawings,
        ),
        Operation(
            kind="runout",
            title="Check the runout",
            summary="readings round a turn, and the move that cures them",
            work=_runout,
            asks="readings",
        ),
        Operation(
            kind="index",
            title="Divide on the rotary table",
            summary="divisions or angles, by dial, plate or notches",
            work=_index,
            asks="depth",
        ),
        Operation(
            kind="bolts",
            title="Holes on a circle",
            summary="coordinates for a mill's readout",
            work=_bolts,
        ),
        Operation(
            kind="rings",
            title="Rings of circles",
            summary="a cutter in the spindle, the work on the rotary table",
            work=_rings,
            asks="depth",
        ),
        Operation(
            kind="check",
            title="Something done by hand",
            summary="one step to be ticked off",
            work=_check,
        ),
    )
}

_OF_OLD_RUNS: Mapping[str, Operation] = {
    "cut": Operation(
        kind="cut", title="Face or groove", summary="a run of the first version", work=_first_cut, asks="place"
    )
}
"""Kinds that no file and no screen has any more; their runs continue as they were started."""
