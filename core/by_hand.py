"""Something done by hand, such as a hole drilled or an edge filed: one step to be ticked off."""

from core import safety
from core.cutting import Progress
from core.fields import Table
from core.inputs import RunInput
from core.lathe import Lathe
from core.operation import Operation
from core.plan import Plan, Step, StepCount


def _read(table: Table, lathe: Lathe) -> str | None:
    return table.text("text", required=True, longest=500)


def _count(text: str, lathe: Lathe, material: str | None) -> StepCount:
    return StepCount(1)


def _plan(text: str, lathe: Lathe, material: str | None) -> Plan:
    return Plan(steps=(_step(text, 1),), general=safety.general(material, *safety.in_the_chuck(lathe)))


def _replan(text: str, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput) -> tuple[Step, ...]:
    return (_step(text, progress.next_id),)


def _step(text: str, step_id: int) -> Step:
    # What is done by hand is mostly done at the machine: a groove turned, an edge filed.
    return Step(id=step_id, action="check", text=text, cautions=(safety.STOP_FOR_HANDS,))


BY_HAND = Operation(read=_read, steps=_count, plan=_plan, replan=_replan)
