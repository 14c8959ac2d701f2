"""Turning and facing: equal roughing cuts, then a semi-finishing cut as deep as the finishing cut.

The order is common practice: rough, measure, a semi-finishing cut of the same
depth as the finishing cut (so that the tool springs alike in both), measure,
carry the difference over, finish.
"""

import math
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

from core import safety
from core.cutting import Infeed, cut_steps, play_words, rounding_note, touch_off_step
from core.errors import PlanError
from core.fields import Table
from core.lathe import Lathe, dial_words
from core.plan import Plan, Step, numbered

USUAL_FINISH_MM = 0.15
"""Depth of a finishing cut where none is given; common practice, no source."""


class Cutting(NamedTuple):
    """From one place to another along one dial, in passes. Lengths in mm."""

    dial: str
    from_mm: float
    to_mm: float
    cut_mm: float
    finish_mm: float
    on_diameter: bool
    """True: from and to are diameters, depths are on the radius."""

    @property
    def total_mm(self) -> float:
        """Depth to take off altogether [mm], on the radius where a diameter is cut."""
        return abs(self.from_mm - self.to_mm) / (2 if self.on_diameter else 1)

    def remaining_mm(self, measured_mm: float) -> float:
        """Return what is left to cut at a measured size [mm]; below 0 where it has gone too far."""
        sense = 1 if self.from_mm > self.to_mm else -1
        return sense * (measured_mm - self.to_mm) / (2 if self.on_diameter else 1)

    def size_mm(self, depth_mm: float) -> float:
        """Return the size [mm] at a depth from the start [mm], on the radius where a diameter is cut."""
        sense = 1 if self.to_mm > self.from_mm else -1
        return self.from_mm + sense * depth_mm * (2 if self.on_diameter else 1)

    def infeed(self, lathe: Lathe) -> Infeed:
        """Return the infeed on this lathe; raises PlanError where the dial is missing."""
        rises = self.to_mm > self.from_mm
        return Infeed(dial=lathe.dial(self.dial), outwards=rises if self.on_diameter else not rises)


def read_turn(table: Table, lathe: Lathe) -> Cutting | None:
    """Read a `turn` operation; None where a problem was noted."""
    before = len(table.problems)
    side = table.word("side", ("outside", "inside")) or "outside"
    found = _read_sizes(table, lathe, above=0)
    if len(table.problems) > before or found is None:
        return None
    start, end, cut, finish = found
    if (end >= start) if side == "outside" else (end <= start):
        smaller = "smaller" if side == "outside" else "larger"
        table.problem(
            "to",
            f"found {lathe.say(end)} after from {lathe.say(start)}; accepted on the {side} is a {smaller} diameter",
        )
        return None
    return Cutting(dial="cross_slide", from_mm=start, to_mm=end, cut_mm=cut, finish_mm=finish, on_diameter=True)


def read_cut(table: Table, lathe: Lathe) -> Cutting | None:
    """Read a `cut` operation; None where a problem was noted."""
    before = len(table.problems)
    dial = table.text("dial", required=True, longest=40)
    found = _read_sizes(table, lathe, above=None)
    if dial is not None and dial not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem(
            "dial",
            f'found "{dial}", which this lathe ({lathe.name}) has not; accepted are its dials: {known}',
        )
    if len(table.problems) > before or found is None or dial is None:
        return None
    start, end, cut, finish = found
    if start == end:
        table.problem("to", f"found {lathe.say(end)}, the same as from; accepted is another place")
        return None
    return Cutting(dial=dial, from_mm=start, to_mm=end, cut_mm=cut, finish_mm=finish, on_diameter=False)


def _read_sizes(table: Table, lathe: Lathe, above: float | None) -> tuple[float, float, float, float] | None:
    start = table.length("from", required=True, above=above)
    end = table.length("to", required=True, above=above)
    cut = table.length("cut", required=True, above=0)
    finish = table.length("finish", above=0)
    if start is None or end is None or cut is None:
        return None
    if finish is not None and finish > cut:
        found = f"found {lathe.say(finish)}, deeper than cut {lathe.say(cut)}"
        table.problem("finish", f"{found}; accepted is at most that")
    return start, end, cut, finish if finish is not None else min(cut, USUAL_FINISH_MM)


def plan_cutting(cutting: Cutting, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a turning or cutting operation.

    Raises PlanError where the lathe has not the dial, or its marks are coarser
    than the whole cut.
    """
    infeed = cutting.infeed(lathe)
    total = infeed.marks(cutting.total_mm)
    if total < 1:
        raise PlanError(
            f"found {lathe.say(cutting.total_mm)} to cut, less than one mark of the "
            f"{dial_words(cutting.dial)} ({lathe.say(infeed.mark_mm)}); accepted is at least one mark",
            field="to",
        )
    note = ending_note(cutting, lathe, infeed, total, cutting.total_mm)
    steps = [
        touch_off(cutting, lathe, infeed, cutting.from_mm),
        *told_last(passes(cutting, infeed, Fraction(0), total, 0.0, cutting.total_mm), note),
        last_check(cutting, lathe, note),
    ]
    return Plan(
        figures={
            "from_mm": cutting.from_mm,
            "to_mm": cutting.to_mm,
            "passes": sum(step.action == "cut" for step in steps),
        },
        cautions=tuple(_cautions(infeed, cutting, lathe, note, material)),
        hands=_hands(infeed),
        steps=numbered(steps),
    )


def passes(
    cutting: Cutting, infeed: Infeed, now: Fraction, last: int, depth_mm: float, exact_mm: float | None
) -> list[Step]:
    """Return rough, measure, semi-finish, measure, finish, from where the dial stands to the last mark."""
    rough, semi, finish = _split(round(last - now), cutting, infeed)
    groups = [("Rough", rough), ("Semi-finish", semi), ("Finish", finish)]
    steps: list[Step] = []
    reached = now
    for name, sizes in groups:
        if not sizes:
            continue
        if steps:
            steps.append(_measure(cutting))
        marks = [round(reached + marks) for marks in accumulate(sizes)]
        steps += cut_steps(
            infeed,
            marks,
            name=name,
            from_marks=reached,
            start_depth_mm=depth_mm + infeed.depth_mm(reached - now),
            last_marks=last,
            last_exact_depth_mm=exact_mm,
        )
        reached = Fraction(marks[-1])
    return steps


def _split(total: int, cutting: Cutting, infeed: Infeed) -> tuple[list[int], list[int], list[int]]:
    """Split whole marks into roughing cuts (equal, none too deep), a semi-finishing and a finishing cut.

    Up to half a finishing cut left for roughing is no cut of its own, it would only
    rub: the semi-finishing cut takes it too, where it may be that deep.
    """
    finish, deepest = finish_marks(cutting, infeed), _deepest_marks(cutting, infeed)
    if total <= finish:
        return [], [], [total]
    if total <= 2 * finish:
        return [], [total - total // 2], [total // 2]
    rough = total - 2 * finish
    if 2 * rough <= finish and finish + rough <= deepest:
        return [], [finish + rough], [finish]
    count = math.ceil(rough / deepest)
    ends = [round(Fraction(rough * (number + 1), count)) for number in range(count)]
    return [end - start for start, end in zip([0, *ends], ends, strict=False)], [finish], [finish]


def _deepest_marks(cutting: Cutting, infeed: Infeed) -> int:
    return max(1, math.floor(cutting.cut_mm / infeed.mark_mm + 1e-9))


def finish_marks(cutting: Cutting, infeed: Infeed) -> int:
    """Return the finishing cut in marks; rounding must not make it deeper than a cut may be."""
    return max(1, min(infeed.marks(cutting.finish_mm), _deepest_marks(cutting, infeed)))


def ending_note(cutting: Cutting, lathe: Lathe, infeed: Infeed, last: int, exact_mm: float) -> str:
    """Say what the last mark leaves against the wanted size; past it, what a mark less would leave."""
    note = rounding_note(infeed, last, exact_mm, cutting.on_diameter, lathe.say)
    past_mm = infeed.depth_mm(last) - exact_mm
    if past_mm < infeed.mark_mm / 4 or last < 2:
        return note
    short_mm = (infeed.mark_mm - past_mm) * (2 if cutting.on_diameter else 1)
    return f"{note}; one mark less ends {lathe.say(short_mm)} short of it"


def told_last(steps: list[Step], note: str) -> list[Step]:
    """Return the passes with the note at the last of them, before it is cut."""
    return [*steps[:-1], replace(steps[-1], cautions=(*steps[-1].cautions, note))] if note else steps


def touch_off(cutting: Cutting, lathe: Lathe, infeed: Infeed, size_mm: float) -> Step:
    """Return the touching-off on what is there now: the blank, or what was measured when the place is found again."""
    name = dial_words(infeed.dial.name)
    if cutting.on_diameter:
        text = f"{name.capitalize()}: play taken up{play_words(infeed.dial)}, tool just touching the work"
        return touch_off_step(infeed.dial, f"{text} at {lathe.say(size_mm)}", size_mm)
    where = "where the cut starts" if size_mm == cutting.from_mm else f"the ground reached, at {lathe.say(size_mm)}"
    text = f"{name.capitalize()}: play taken up{play_words(infeed.dial)}, tool just touching {where}"
    return touch_off_step(infeed.dial, text)


def _measure(cutting: Cutting) -> Step:
    what = "Measure the diameter" if cutting.on_diameter else "Measure which place it has come to"
    return Step(
        action="measure",
        text=f"{what} and type it: the difference is carried over",
        expects="size",
        cautions=(safety.MEASURE_STOPPED,),
    )


def last_check(cutting: Cutting, lathe: Lathe, note: str) -> Step:
    """Return the measurement at the end, with what the dial says of it, "" for nothing."""
    text = f"Measure: {lathe.say(cutting.to_mm)} is wanted; then break the edges"
    return Step(
        action="check",
        text=f"{text}. By the dial {note}" if note else text,
        cautions=(safety.MEASURE_STOPPED,),
    )


def _cautions(infeed: Infeed, cutting: Cutting, lathe: Lathe, note: str, material: str | None) -> list[str]:
    found = []
    if infeed.mark_mm > cutting.cut_mm * (1 + 1e-9):
        found.append(
            f"one mark of the {dial_words(infeed.dial.name)} is {lathe.say(infeed.mark_mm)} deep, "
            f"more than the cut of {lathe.say(cutting.cut_mm)} allowed"
        )
    if note:
        found.append(note)
    return [
        *found,
        *safety.AT_THE_MACHINE,
        safety.BY_HAND_FIRST,
        *safety.for_material(material),
        safety.ADVICE,
    ]


def _hands(infeed: Infeed) -> tuple[str, ...]:
    name = dial_words(infeed.dial.name)
    return (f"{name.capitalize()} to its reading", "Cut", "Withdraw the tool, back to the start", "Then the key")
