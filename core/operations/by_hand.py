"""The operation for work by hand, such as filing an edge. Its plan is a single step, whose text the job states."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from core import safety
from core.cutting import Progress
from core.inputs import Edited, Moved, PickedUp, RunInput, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.form import MATERIAL, Entry, Figure, Form, Row
from core.operations.operation import Operation
from core.plan import Plan, Step, StepCount
from core.values.fields import LONGEST_NAME, Table

_LONGEST = 500
"""The most characters that the user's sentence may have."""


def _read(table: Table, lathe: Lathe) -> str | None:
    return table.text("text", required=True, longest=_LONGEST)


def _count(text: str, lathe: Lathe, material: str | None) -> StepCount:
    return StepCount(1)


def _plan(text: str, lathe: Lathe, material: str | None) -> Plan:
    return Plan(steps=(_step(text, 1),), general=safety.general(material, *safety.in_the_chuck(lathe)))


def _replan(text: str, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput) -> tuple[Step, ...]:
    match entered:
        case Moved() | PickedUp() | Edited():
            return (_step(text, progress.next_id),)
        case _:
            raise nothing_planned_from(entered)


def _step(text: str, step_id: int) -> Step:
    # Most work by hand is at the machine, such as filing an edge.
    return Step(id=step_id, action="check", text=text, cautions=(safety.STOP_FOR_HANDS,))


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    return (
        "What to do by hand",
        Entry(key="text", label="In one sentence", required=True, longest=_LONGEST),
        MATERIAL,
    )


def _name(text: str, lathe: Lathe) -> str:
    return text[:LONGEST_NAME].strip()


def _summary(text: str, lathe: Lathe, plan: Plan) -> str:
    return "One step to tick off."


def _figures(text: str, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    yield Figure("By hand", text)


_FORM = Form(
    rows=_rows,
    name=_name,
    summary=_summary,
    figures=_figures,
    help="This form adds work that you do by hand, such as filing an edge or scraping a burr. Describe the work in "
    "your own words. The counter shows your text as one step of the job, and one key marks the step as done.",
)
BY_HAND = Operation(read=_read, steps=_count, plan=_plan, replan=_replan, form=_FORM)
