"""A new operation in one file, as a newcomer would add it: the cross-slide presses a knurl into the work in passes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from core import safety
from core.cutting import Infeed, Progress, cut_steps
from core.inputs import RunInput, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.form import MATERIAL, Entry, Figure, Form, Row
from core.operations.operation import Operation
from core.plan import Plan, Step, StepCount, numbered
from core.values.fields import Table

LIFT_FIRST = "Lift the knurling tool off before the carriage goes back."
"""A caution that only knurling has. It is shown once, at the first pass."""


class Knurl(NamedTuple):
    """The checked parameters of a knurl: its depth [mm] and its number of passes."""

    depth_mm: float
    passes: int


def _read(table: Table, lathe: Lathe) -> Knurl | None:
    depth = table.quantity("depth", "length", required=True, above=0)
    passes = table.whole("passes", required=True, least=1, most=20)
    return None if depth is None or passes is None else Knurl(float(depth.value), passes)


def _count(knurl: Knurl, lathe: Lathe, material: str | None) -> StepCount:
    return StepCount(knurl.passes, "passes", "fewer passes")


def _plan(knurl: Knurl, lathe: Lathe, material: str | None) -> Plan:
    infeed = Infeed(dial=lathe.dial("cross_slide"))
    last = infeed.marks(knurl.depth_mm)
    marks = [round(last * number / knurl.passes) for number in range(1, knurl.passes + 1)]
    cuts = cut_steps(infeed, marks, name="Knurl", last_marks=last)
    steps = [replace(cut, cautions=(LIFT_FIRST,)) for cut in cuts]
    return Plan(steps=numbered(steps), general=safety.general(material), figures={"knurl_depth_mm": knurl.depth_mm})


def _replan(
    knurl: Knurl, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    raise nothing_planned_from(entered)


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    return (
        "What is knurled",
        Entry(key="depth", label="Depth", unit=lathe.unit, required=True),
        Entry(key="passes", label="Passes", whole=True, required=True),
        MATERIAL,
    )


def _figures(knurl: Knurl, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    yield Figure("Passes", str(knurl.passes))


KNURL = Operation(
    read=_read,
    steps=_count,
    plan=_plan,
    replan=_replan,
    figure_names={"knurl_depth_mm": "depth of the knurl"},
    form=Form(
        rows=_rows,
        name=lambda knurl, lathe: "Knurl",
        summary=lambda knurl, lathe, plan: f"{knurl.passes} passes.",
        figures=_figures,
        help="A knurl, pressed in by the cross-slide.",
    ),
)
