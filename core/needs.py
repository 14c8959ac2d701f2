"""What an operation needs of the lathe before its first step: work, tool, compound, gears, speed.

A kind says it from its checked parameters, in words that two operations share where they need the
same. `core.changeover` compares them.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from core.lathe import Lathe, dial_words
from core.operations import Basis, operation_of, parameters_of
from core.quantities import number_text

if TYPE_CHECKING:
    from core.bolts import BoltCircle
    from core.indexing.job import IndexJob
    from core.rings.job import RingsJob
    from core.runout.job import RunoutJob
    from core.threads.job import ThreadJob
    from core.turning import Cutting

Place = Literal["", "spindle", "rotary table", "mill"]
"""What carries the work; "" where an operation does not say."""


class Needs(NamedTuple):
    """What must be set up for an operation; "" and None where it does not say, or where it does not matter."""

    place: Place = ""
    workholding: str = ""
    """How the work is held there, where the job says it."""
    tool: str = ""
    compound: str = ""
    """Which way the compound lies."""
    gears: str = ""
    """What gives a thread its lead: a train of wheels, or levers."""
    turns: str = ""
    """Which way spindle and leadscrew turn for a thread, where they do not turn as usual."""
    speed_rpm: float | None = None
    feeds: bool = False
    """True for a cut with a feed, for which the gears of a thread are far too coarse."""


NeedsOf = Callable[[Any, Lathe, Mapping[str, Any]], Needs]
"""Returns what an operation needs, from its checked parameters, its lathe and the figures of its plan."""


def needs_of(basis: Basis, figures: Mapping[str, Any]) -> Needs:
    """Return what an operation needs; raises FileError where its table cannot be read.

    >>> from core.lathe_file import stand_in_lathe
    >>> table = {"kind": "turn", "name": "x", "from": "30 mm", "to": "28 mm", "cut": "1 mm"}
    >>> needs_of(Basis("turn", table, stand_in_lathe()), {}).tool
    'turning tool'
    """
    found = NEEDS.get(basis.kind) or operation_of(basis.kind).needs
    return found(parameters_of(basis), basis.lathe, figures) if found else Needs()


def _turn(cutting: "Cutting", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    return Needs(place="spindle", tool="boring tool" if cutting.in_a_bore else "turning tool", feeds=True)


def _face(cutting: "Cutting", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    compound = "along the bed, parallel to the spindle axis" if cutting.dial == "compound" else ""
    return Needs(place="spindle", tool="facing tool", compound=compound, feeds=True)


def _groove(cutting: "Cutting", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    where = " for a bore" if cutting.in_a_bore else ""
    compound = "square to the spindle axis" if cutting.dial == "compound" else ""
    return Needs(place="spindle", tool=f"grooving tool{where}", compound=compound, feeds=True)


def _thread(job: "ThreadJob", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    from core.threads.grinding import ground_words
    from core.threads.way import spindle_backwards, way_words

    bar = "boring bar with a " if job.thread.internal else ""
    own = "the chamfer is cut with its own tool"
    if job.relief_mm is not None:
        own = "chamfer and relief are cut with their own tools"
    reverses = job.thread.left_hand or spindle_backwards(job)
    return Needs(
        place="spindle",
        tool=f"{bar}threading tool, {ground_words(job, lathe)[0]}, once {own}",
        compound=_compound_of(job, lathe),
        gears=_gears_words(job, lathe, figures),
        turns=way_words(job) if reverses else "",
        speed_rpm=job.speed_rpm or figures.get("speed_rpm"),
    )


def _compound_of(job: "ThreadJob", lathe: Lathe) -> str:
    from core.threads.job import angle_text
    from core.threads.planning import swing_words

    if job.set_over_deg is not None:
        return f"{angle_text(job.set_over_deg)} off square to the axis, {swing_words(job)}"
    # Depth is on the cross-slide: the compound only indexes the starts, and else lies as it will.
    return "along the bed, parallel to the spindle axis" if job.thread.starts > 1 and "compound" in lathe.dials else ""


def _gears_words(job: "ThreadJob", lathe: Lathe, figures: Mapping[str, Any]) -> str:
    from core.figure_words import train_words
    from core.threads.planning import pitch_text

    trains = figures.get("change_gears")
    if trains:
        return train_words(trains[0])
    levers = "levers of the gearbox" if figures.get("in_gearbox") else "leadscrew geared"
    return f"{levers} for {pitch_text(job.thread.lead_mm, job.thread, lathe)}"


def _runout(job: "RunoutJob", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    kind = lathe.indicator.kind if lathe.indicator else "plunger"
    tool = "dial test indicator (lever)" if kind == "lever" else "dial indicator (plunger)"
    held = {"four jaw": "four-jaw chuck", "three jaw": "three-jaw chuck"}
    return Needs(place="spindle", workholding=held.get(str(job.holding), job.holding or ""), tool=tool)


def _index(job: "IndexJob", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    tool = f"cutter, fed in by the {dial_words(job.depth.dial)}" if job.depth else ""
    return Needs(place="rotary table", tool=tool)


def _bolts(bolts: "BoltCircle", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    tool = "" if bolts.drill_mm is None else f"centre drill, then a drill of {lathe.say(bolts.drill_mm)}"
    return Needs(place="mill", tool=tool)


def _rings(job: "RingsJob", lathe: Lathe, figures: Mapping[str, Any]) -> Needs:
    head = "in the cutter head (boring head or fly cutter)"
    if job.tip is None:
        return Needs(place="rotary table", tool=f"cutter {head}")
    flat = f"a flat of {lathe.say(job.tip.flat_mm)}" if job.tip.flat_mm else "sharp"
    tool = f"cutter with a point of {number_text(job.tip.angle_deg, 2)} deg, {flat}, {head}"
    return Needs(place="rotary table", tool=tool)


NEEDS: Mapping[str, NeedsOf] = {
    "turn": _turn,
    "face": _face,
    "groove": _groove,
    "thread": _thread,
    "runout": _runout,
    "index": _index,
    "bolts": _bolts,
    "rings": _rings,
}
"""By kind of operation, where its declaration does not say it. What is done by hand needs only what its text says."""
