"""The declaration of the `drill` operation. Modules that a new plan does not need are imported on first use."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from core.cutting import Progress
from core.events.state import State
from core.inputs import Measured, RunInput
from core.lathe.lathe import Lathe, dial_words
from core.operations.drilling.form import DRILL_FORM
from core.operations.drilling.hole import Hole
from core.operations.drilling.job import read_hole
from core.operations.drilling.planning import count_drilling, plan_drilling
from core.operations.drilling.tool_cut import TOOL
from core.operations.operation import SET_UP_KEYS, Figures, Needs, Operation
from core.plan import Step
from core.values.dials import ZeroedDials

if TYPE_CHECKING:
    from core.drawing import Drawing
    from core.questions import Asked
    from core.replanning import ComparedCut


def _replan(hole: Hole, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput) -> tuple[Step, ...]:
    from core.operations.drilling.replanning import replan_drilling

    return replan_drilling(hole, lathe, material, progress, entered)


def _measured_cut(hole: Hole, lathe: Lathe, material: str | None) -> "ComparedCut":
    from core.operations.drilling.replanning import DrilledHole

    return DrilledHole(hole, lathe)


def _wanted_mm(hole: Hole, cut: Step, measured: Measured) -> tuple[float, float] | None:
    from core.operations.drilling.replanning import wanted_depth_mm

    return wanted_depth_mm(hole, cut, measured)


def _questions(hole: Hole, lathe: Lathe, state: State) -> "tuple[Asked, ...]":
    from core.operations.drilling.replanning import drilling_questions

    return drilling_questions(hole, lathe, state)


def _moved(hole: Hole, lathe: Lathe, state: State) -> "Asked | None":
    from core.operations.drilling.replanning import drilling_moved

    return drilling_moved(hole, lathe, state)


def _drawings(hole: Hole, lathe: Lathe) -> "Callable[[State, Step], Drawing | None]":
    from core.operations.drilling.drawing import hole_drawings

    return hole_drawings(hole, lathe)


def _overview(hole: Hole, lathe: Lathe) -> "tuple[tuple[str, Drawing], ...]":
    from core.operations.drilling.drawing import overview

    return overview(hole, lathe)


def _movements(hole: Hole, lathe: Lathe) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]]:
    quill = dial_words(hole.dial)

    def movements(step: Step, dials: ZeroedDials, starts: tuple[int, int]) -> tuple[str, ...]:
        if step.action != "cut":
            return ()
        place = hole.place_of(str(step.extra.get(TOOL, "")))
        if place is not None and hole.tools[place].kind == "reamer":
            return (
                "Spindle on, slow",
                f"Feed the {quill} to its reading in one movement",
                "Withdraw the reamer, spindle still forwards",
                "Stop the spindle",
                "Then the key",
            )
        return (
            "Spindle on",
            f"Feed the {quill} to its reading",
            "Withdraw the drill right out of the hole",
            "Stop the spindle, clear the chips",
            "Then the key",
        )

    return movements


def _needs(hole: Hole, lathe: Lathe, figures: Figures) -> Needs:
    tools = ([hole.starter] if hole.starter else []) + [tool.name for tool in hole.tools]
    return Needs(place="spindle", tool=f"in the tailstock, one after the other: {', '.join(tools)}")


DRILL = Operation(
    read=read_hole,
    steps=count_drilling,
    plan=plan_drilling,
    replan=_replan,
    questions=_questions,
    moved=_moved,
    movements=_movements,
    measured_cut=_measured_cut,
    wanted_mm=_wanted_mm,
    drawings=_drawings,
    overview=_overview,
    needs=_needs,
    form=DRILL_FORM,
    set_up_keys=SET_UP_KEYS,
    figure_names={
        "drill_mm": "drill's size",
        "passes": "cuts of all tools",
        "full_diameter_mm": "depth of the full diameter",
        "tip_mm": "depth to the point",
        "point_mm": "length of the point",
        "past_mm": "full diameter past the far face",
        "ream_mm": "reamer",
        "ream_depth_mm": "depth to ream",
        "speed_rpm": "speed of the last drill",
        "designation": "thread to tap",
        "thread_depth_mm": "depth of full thread",
        "last_tap": "last tap",
    },
)
