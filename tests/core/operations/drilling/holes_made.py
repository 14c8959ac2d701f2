"""Holes for the tests, drilled on a lathe with a tailstock dial, and the true result of their cuts."""

from math import radians, tan
from typing import Any

from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.operations.registry import PlanInput
from core.plan import Plan, Step
from tests.core.counted import Counted
from tests.core.planned import make_plan


def drill_lathe(**keys: Any) -> Lathe:
    """Return a lathe with six speeds and a tailstock dial of 2 mm a turn, in marks of 0.05 mm.

    `keys` change the dial; a value of None deletes the key.
    """
    dial = {
        "per_turn": "2 mm",
        "graduation": "0.05 mm",
        "reads": "travel",
        "travel": "80 mm",
        "clockwise": "in",
        **keys,
    }
    dial = {key: value for key, value in dial.items() if value is not None}
    speeds = ["60 rpm", "95 rpm", "150 rpm", "240 rpm", "380 rpm", "600 rpm"]
    return lathe_from(
        {"format": 1, "name": "Bench", "dial": {"tailstock": dial}, "spindle": {"speeds": speeds}}, "bench.toml"
    )


def drill_input(lathe: Lathe | None = None, **keys: Any) -> PlanInput:
    """Return the plan input of a hole with these job-file keys."""
    return PlanInput(kind="drill", parameters={"kind": "drill", "name": "Hole", **keys}, lathe=lathe or drill_lathe())


def drill_plan(lathe: Lathe | None = None, **keys: Any) -> Plan:
    """Return the plan of a hole with these job-file keys."""
    return make_plan(drill_input(lathe, **keys))


def blind(depth: str, **keys: Any) -> dict[str, Any]:
    """Return the keys of a 12 mm hole with this depth of full diameter; `keys` change them."""
    return {"drill": "12 mm", "depth": depth, "depth_to": "full diameter", **keys}


def drilled(**keys: Any) -> Counted:
    """Return a run of a hole with these job-file keys."""
    return Counted(drill_lathe(), "drill", **keys)


def cuts_of_tool(plan: Plan, tool: str) -> list[Step]:
    """Return the pecks of one tool in a plan."""
    return [step for step in plan.steps if step.action == "cut" and step.extra["tool"] == tool]


def position_mm(step: Step) -> float:
    """Return how far the quill has moved out at a peck, counted from its touch-off [mm]."""
    return float(step.settings[0].position)  # type: ignore[union-attr]


def cone_mm(diameter_mm: float, included_deg: float) -> float:
    """Return the height of a cone [mm] by plane trigonometry: its radius over the tangent of half its angle."""
    return diameter_mm / 2 / tan(radians(included_deg) / 2)
