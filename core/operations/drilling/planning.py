"""The plan of a hole on the spindle's axis: its steps, figures and cautions."""

from collections.abc import Iterator
from typing import Any

from core import safety
from core.lathe.lathe import Lathe, dial_words
from core.operations.drilling.hole import Hole, HoleTool, Tapped, reamer_lead_mm
from core.operations.drilling.job import reaming_mm
from core.operations.drilling.tool_cut import ToolCut
from core.operations.threads.drills import Drill, full_depths, hole_limits_mm, nearest_drills, percent_of_thread
from core.plan import Plan, Step, StepCount, numbered

_LONG_DIAMETERS = 5
"""A hole deeper than this many diameters wanders; common practice, no source."""
_PECK_DIAMETERS = 3
"""Chips jam in a deeper peck; common practice, no source."""
_PILOT_FROM_MM = 13.0
"""A larger drill needs a pilot hole; common practice, no source."""


def count_drilling(hole: Hole, lathe: Lathe, material: str | None) -> StepCount:
    """Return the number of steps that a hole needs."""
    tools = sum(cut.count() for cut in tool_cuts(hole, lathe))
    return StepCount(1 + (hole.starter is not None) + tools + (hole.tapped is not None), "peck", "a deeper peck")


def plan_drilling(hole: Hole, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a hole. Raise PlanError if the lathe lacks the dial that feeds the drill."""
    steps = [_prepare(hole, lathe), *([_start(hole)] if hole.starter else [])]
    steps += [step for cut in tool_cuts(hole, lathe) for step in cut.steps()]
    steps += tap_steps(hole, lathe)
    passes = sum(step.action == "cut" for step in steps)
    return Plan(
        figures={**_figures(hole, lathe), "passes": passes},
        cautions=tuple(_cautions(hole, lathe)),
        general=safety.general(material, *safety.in_the_chuck(lathe), safety.DRILL_LONG, *safety.grabs(material)),
        steps=numbered(steps),
    )


def tool_cuts(hole: Hole, lathe: Lathe, first: int = 0) -> list[ToolCut]:
    """Return a `ToolCut` for each tool of a hole, in the order of use, starting with the tool at index `first`."""
    return [ToolCut(hole, lathe, place) for place in range(first, len(hole.tools))]


def _prepare(hole: Hole, lathe: Lathe) -> Step:
    comes_out = lathe.length_text(hole.deepest_mm)
    text = (
        "Face the end flat, without a pip. Check that the tailstock is in line with the spindle. Check that the "
        f"quill can come out {comes_out}"
    )
    if hole.through_mm is not None:
        behind_mm = max(tool.depth_mm for tool in hole.tools) - hole.through_mm
        text += f". Leave {lathe.length_text(behind_mm)} free behind the work for the tools"
    return Step(action="set", title="Prepare the face", text=text)


def _start(hole: Hole) -> Step:
    """Return the step that starts the hole with a tool fed by eye."""
    first = hole.tools[0]
    text = (
        f"{safety.STOP_FIRST} Fit the {hole.starter} and lock the tailstock. Start the spindle. Drill a cone nearly "
        f"as wide as the {first.name}. Withdraw the drill"
    )
    title = "Centre drill" if hole.starter == "centre drill" else "Spot the hole"
    return Step(action="set", title=title, text=text, cautions=(safety.CENTRE_DRILL,))


def tap_steps(hole: Hole, lathe: Lathe) -> list[Step]:
    """Return the step in which the turner taps the hole by hand; [] for a hole without a thread."""
    if hole.tapped is None:
        return []
    depth_mm, deep = hole.tapped.depth_mm, "right through"
    if depth_mm is not None:
        deep = f"until {lathe.length_text(depth_mm)} of full thread is cut, with the {hole.tapped.tap} tap last"
    text = (
        f"{safety.STOP_FIRST} Countersink the mouth. Tap {hole.tapped.thread.designation} {deep}. Guide the tap with "
        "the tailstock's centre. Oil the tap, and turn it back often to break the chip"
    )
    return [Step(action="check", title="Tap the hole", text=text, cautions=(safety.TAP_BY_HAND,))]


# Figures.


def _figures(hole: Hole, lathe: Lathe) -> dict[str, Any]:
    last = hole.last_drill
    figures: dict[str, Any] = {}
    if hole.tapped is not None:
        figures |= _thread_figures(hole.drill, hole.tapped)
    else:
        figures |= {"drill": hole.drill.name} if hole.drill.name != lathe.length_text(hole.drill.mm) else {}
        figures["drill_mm"] = hole.drill.mm
    figures |= {"full_diameter_mm": hole.full_mm, "tip_mm": last.depth_mm, "point_mm": last.point_mm}
    if hole.through_mm is not None:
        figures["past_mm"] = hole.full_mm - hole.through_mm
    if hole.reamer is not None:
        figures |= {"ream_mm": hole.reamer.size_mm, "ream_depth_mm": hole.reamer.depth_mm}
    if (rpm := hole.listed_rpm(last, lathe)) is not None:
        figures["speed_rpm"] = rpm
    return figures


def _thread_figures(drill: Drill, tapped: Tapped) -> dict[str, Any]:
    basis = full_depths(tapped.thread)[0]
    figures = {
        "designation": tapped.thread.designation,
        "tapping_drill": drill.name,
        "tapping_drill_mm": drill.mm,
        "tapping_percent": percent_of_thread(drill.mm, tapped.thread, basis),
        "tapping_basis": basis,
    }
    if tapped.depth_mm is not None:
        figures |= {"thread_depth_mm": tapped.depth_mm, "last_tap": tapped.tap}
    return {**figures, "nearest_drills": [{"name": near.name, "mm": near.mm} for near in nearest_drills(drill.mm)]}


# Cautions with numbers.


def _cautions(hole: Hole, lathe: Lathe) -> Iterator[str]:
    """Yield the cautions for this hole, the most serious first."""
    length_text, drills = lathe.length_text, [tool for tool in hole.tools if tool.kind == "drill"]
    if hole.tapped is not None:
        yield from _thread_cautions(hole.drill, hole.tapped, lathe)
    thinnest = drills[0]
    if thinnest.size_mm > _PILOT_FROM_MM:
        pilot = _stock_pilot(thinnest.size_mm / 3, in_inches=hole.drill.series != "metric")
        yield f"The {thinnest.name} pushes hard without a pilot. Enter a pilot such as {pilot}."
    if thinnest.depth_mm > _LONG_DIAMETERS * thinnest.size_mm:
        deep = f"{thinnest.depth_mm / thinnest.size_mm:.0f} diameters"
        yield f"The {thinnest.name} goes {deep} deep and may wander. Check that it starts true, and withdraw it often."
    if thinnest.peck_mm > _PECK_DIAMETERS * thinnest.size_mm:
        most = length_text(_PECK_DIAMETERS * thinnest.size_mm)
        yield (
            f"In pecks of {length_text(thinnest.peck_mm)}, chips jam in the {thinnest.name}. Enter a peck of at most "
            f"{most}."
        )
    if hole.reamer is not None:
        yield from _reaming_cautions(hole.reamer, hole, lathe)
    for tool in hole.tools:
        yield from _speed_cautions(hole, tool, lathe)
    travel_mm = lathe.dials[hole.dial].slide_travel_mm
    if travel_mm is None:
        can_go = f"Check that the quill can travel {length_text(hole.deepest_mm)}"
        yield f"The lathe file does not give the travel of the {dial_words(hole.dial)}. {can_go}."


def _stock_pilot(size_mm: float, *, in_inches: bool) -> str:
    """Return the name of the stock drill nearest to a diameter [mm], such as "6.3 mm" or "1/4 in".

    `in_inches`: True to choose among inch drills, False among metric drills.
    """
    series = "fractional" if in_inches else "metric"
    near = [drill for drill in nearest_drills(size_mm) if drill.series == series]
    return min(near, key=lambda drill: abs(drill.mm - size_mm)).text


def _thread_cautions(drill: Drill, tapped: Tapped, lathe: Lathe) -> Iterator[str]:
    least_mm, most_mm = hole_limits_mm(tapped.thread)
    if drill.mm < least_mm - 1e-9:
        smallest = lathe.length_text(least_mm)
        yield (
            f"The {drill.text} drill is smaller than the smallest hole for this thread, {smallest}. The tap turns "
            "hard and may break."
        )
    if drill.mm > most_mm + 1e-9:
        largest = lathe.length_text(most_mm)
        yield (
            f"The {drill.text} drill is larger than the largest hole for this thread, {largest}. The thread will be "
            "shallow."
        )
    yield from tapped.thread.notes


def _reaming_cautions(reamer: HoleTool, hole: Hole, lathe: Lathe) -> Iterator[str]:
    takes_mm, usual_mm = reamer.size_mm - hole.drill.mm, reaming_mm(reamer.size_mm)
    if not usual_mm / 2 <= takes_mm <= 2.5 * usual_mm:
        little = "little. The reamer may rub" if takes_mm < usual_mm else "much. The reamer may jam"
        usual = lathe.length_text(usual_mm)
        yield f"The drill leaves {lathe.length_text(takes_mm)} for the reamer, which is too {little}. {usual} is usual."
    if hole.through_mm is not None:
        through_mm = hole.through_mm + reamer_lead_mm(reamer.size_mm)
        if reamer.depth_mm < through_mm - 1e-9:
            enough = lathe.length_text(through_mm)
            yield f"The far end of the bore may stay below size. Enter a depth to ream of at least {enough}."


def _speed_cautions(hole: Hole, tool: HoleTool, lathe: Lathe) -> Iterator[str]:
    most = hole.most_rpm(tool, lathe)
    if most is None or hole.listed_rpm(tool, lathe) is not None:
        return
    chuck_limits = most == lathe.spindle.most_rpm
    if lathe.spindle.slowest_rpm is None:
        limit = ", the chuck's limit" if chuck_limits else ""
        yield f"Run the {tool.name} at {most:.0f} rpm at most{limit}. The lathe file lists no speeds."
    else:
        limit = "chuck allows" if chuck_limits else "cutting speed gives"
        yield (
            f"The slowest speed, {lathe.spindle.slowest_rpm:g} rpm, is above the {most:.0f} rpm that the {limit} for "
            f"the {tool.name}."
        )
