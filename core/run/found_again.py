"""Finds the position of the work after it was taken off the table and put back.

The module lists the cuts that can be used, reads the settings at which the cutter fits into them again, and calculates
how the work lies.
"""

import math
from collections.abc import Collection, Sequence
from fractions import Fraction
from typing import NamedTuple

from core.events.state import State
from core.inputs import PositionCutWrong, PutBack
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.find_position import ROUND_DEG, read_at_step
from core.operations.dividing.handle_dial import TABLE
from core.operations.patterns.elements import Element, elements
from core.operations.patterns.layers import CutAsSet, Layer, PatternJob
from core.operations.patterns.place_settings import is_falling
from core.operations.patterns.put_back import LEAST_APART_MM, FoundCut, put_back
from core.operations.registry import PlanInput, finds_cuts_again, parameters_of
from core.plan import PlateSetting, Step
from core.run.cut_places import CutPlace, cut_places, read_slide_place, read_turns_and_reading
from core.run.work_as_it_lies import as_set, lay_at, on_work_mm
from core.values.dials import Dial
from core.values.errors import QuantityError
from core.values.plain_text import quoted

TO_FIND, ENOUGH = 2, 3
"""The number of cuts that must be found, and the number of cuts from which a wrong reading can be detected."""
_FAR_MM = 10.0


class CutToFind(NamedTuple):
    """A cut into which the user can bring the cutter's point again."""

    place: CutPlace
    element: Element
    """The shape and place of the cut on the work."""
    layer: Layer

    @property
    def where(self) -> tuple[int, int]:
        """Return the layer and the position of the cut."""
        return self.place.layer, self.place.position

    @property
    def name(self) -> str:
        """Return the name of the cut, as the user reads it."""
        return f"layer {self.place.layer}, position {self.place.position}"

    def is_cut_like(self, other: "CutToFind") -> bool:
        """Return whether this cut and `other` were made with the same cutter at the same setting of the boring head."""
        mine, others = (one.layer.cutter and one.layer.cutter.name for one in (self, other))
        return mine == others and self.element.radius_mm == other.element.radius_mm


class SlideReading(NamedTuple):
    """The position of the slide when the cutter's point is in an existing cut."""

    position: Fraction
    """The position of the slide, counted from its zero, in the unit of its dial."""
    slide_mm: float
    """The distance of the slide from the point where the axes meet, positive on the job's side [mm]."""
    shown: str


class TableReading(NamedTuple):
    """The angle of the table when the cutter's point is in an existing cut."""

    table_deg: Fraction
    """The angle of the table, counted from its zero in the direction of its numbers [deg]."""
    angle_deg: float
    """The same angle, positive in the direction in which positions come anticlockwise on the work [deg]."""


class CutRead(NamedTuple):
    """A cut, and the readings of slide and table at which the cutter's point now fits into it."""

    cut: CutToFind
    slide: SlideReading
    table: TableReading

    @property
    def found(self) -> FoundCut:
        """Return the cut and its readings in the form from which the position of the work is fitted."""
        return FoundCut(self.cut.element, self.slide.slide_mm, self.table.angle_deg)


class WorkFound(NamedTuple):
    """How the work now lies on the table: in words, and as the input from which the open steps are planned again."""

    words: str
    entered: PutBack


def cuts_to_find(plan_input: PlanInput, state: State) -> tuple[CutToFind, ...]:
    """Return the circles, dots and starts of slots that are already cut, the latest first.

    Return () if the kind of operation does not support finding its cuts again.
    """
    if not finds_cuts_again(plan_input.kind):
        return ()
    job: PatternJob = parameters_of(plan_input)
    found = []
    for place in cut_places(state):
        layer = next((layer for layer in job.layers if layer.number == place.layer), None)
        if layer is None or layer.shape == "arcs" or not 1 <= place.position <= len(layer.positions):
            continue
        element = _element(plan_input, job, layer, state, place)
        if element is not None:
            found.append(CutToFind(place, element, layer))
    return tuple(found)


def _element(plan_input: PlanInput, job: PatternJob, layer: Layer, state: State, place: CutPlace) -> Element | None:
    """Return the shape of a cut and its place on the work; None if the log does not hold the cut's settings."""
    settings = _as_really_set(plan_input.lathe, job, state, place)
    if settings is None:
        return None
    position = layer.positions[place.position - 1]
    cut = CutAsSet(layer, position, *settings, circle_radius_mm=position.circle_radius_mm)
    (element,) = elements(job, [cut])
    x_mm, y_mm = on_work_mm(job, lay_at(state, job, place.step.id), *settings)
    return element._replace(x_mm=x_mm, y_mm=y_mm)


def _as_really_set(lathe: Lathe, job: PatternJob, state: State, place: CutPlace) -> tuple[float, float] | None:
    """Return the slide's position [mm] and the table's angle [deg] at which a cut was really made; None if unknown."""
    for one in (revision.entered for revision in reversed(state.revisions)):
        if isinstance(one, PositionCutWrong) and (one.layer, one.position) == (place.layer, place.position):
            if one.cut_again or lathe.rotary_table is None:
                break
            slide_mm = _slide_mm(job, lathe.dial(job.offset_dial), one.slide)
            return slide_mm, float(one.table_deg * (-1 if is_falling(lathe.rotary_table) else 1))
    return as_set(place.step, job, lathe)


def farthest_first(cuts: Sequence[CutToFind], chosen: Collection[CutToFind]) -> list[CutToFind]:
    """Return the cuts that the user can still choose, the best cut first.

    Cuts made with the mounted cutter at the present setting of the boring head come first. Among cuts that are equal in
    this, those far from the `chosen` cuts come first.
    """
    rest = [cut for cut in cuts if cut not in chosen]
    return sorted(rest, key=lambda cut: (not cut.is_cut_like(cuts[0]) or _apart_mm(cut, chosen) < LEAST_APART_MM,
                                         -_apart_mm(cut, chosen)))  # fmt: skip


def _apart_mm(cut: CutToFind, chosen: Collection[CutToFind]) -> float:
    """Return the distance from a cut to the nearest chosen cut [mm]; the same value for every cut if none is chosen."""
    here = cut.element.x_mm, cut.element.y_mm
    return min((math.dist(here, (one.element.x_mm, one.element.y_mm)) for one in chosen), default=LEAST_APART_MM)


def cannot_be_found(plan_input: PlanInput, state: State) -> str:
    """Return why the cuts cannot show where the work is, and what to do instead; "" if the cuts can show it."""
    if len(cuts_to_find(plan_input, state)) < TO_FIND:
        return "Cut two circles, dots or slots first. Those cuts show how the work lies."
    job: PatternJob = parameters_of(plan_input)
    if _finds_zeros_next(job, state):
        return "The next steps find the zeros of the slide and the table. Do those steps first, then find the work."
    if job.means == "direct":
        return (
            "A table with notches cannot follow work that has turned. Set the slide and the table to a position "
            "already cut. Turn the "
            "work on the table until the cutter's point falls into that cut. Check with a second cut."
        )
    return ""


def _finds_zeros_next(job: PatternJob, state: State) -> bool:
    """Return whether the next steps find the zero of the slide or of the table, from which all readings are counted."""
    for step in state.open_steps():
        if step.action in {"index", "cut"}:
            return False
        if {job.offset_dial, TABLE} & set(step.zeroed_dials):
            return True
    return False


def meeting_words(cut: CutToFind, last: CutToFind) -> list[str]:
    """Return sentences on how to bring the cutter's point into a cut.

    `last`: the latest cut, which the mounted cutter made.
    """
    ready = "Leave the cutter and the boring head unchanged."
    if not cut.is_cut_like(last):
        cutter = f' cutter "{cut.layer.cutter.name}"' if cut.layer.cutter and cut.layer.cutter.name else " its cutter"
        head = ", with the head set as for that layer" if cut.layer.with_head else ""
        ready = f"Mount{cutter} as for layer {cut.place.layer}{head}."
    if cut.element.shape == "circle":
        how = "Turn the cutter by hand. Move the slide and the table until its point follows the whole circle."
    elif cut.element.shape == "dot":
        how = "Move the slide and the table until the cutter's point falls into the middle of the dot."
    else:
        how = (
            "Move the slide and the table until the cutter's point falls into the end of the slot where it was fed in."
        )
    return [ready, how, "End both moves in the cutting direction, with the backlash taken up."]


def slide_name(plan_input: PlanInput) -> str:
    """Return the name of the slide, as the user reads it."""
    return dial_words(_slide_dial(plan_input).name)


def slide_example(plan_input: PlanInput, state: State) -> str:
    """Return an example of a slide reading that the user can enter."""
    dial = _slide_dial(plan_input)
    if dial.per_turn is None or state.zeros.get(dial.name):
        return f"Enter the reading of the {dial_words(dial.name)}."
    half = dial.number_text(dial.per_turn / 2)
    return f"Enter the whole turns from zero, then the reading: 6+{half} means 6 whole turns and a reading of {half}."


def table_example(cut: CutToFind) -> str:
    """Return an example of a table reading that the user can enter, made from the table's setting at that cut."""
    plate = _plate(cut.place.step)
    if plate is None:
        return (
            "Enter the whole turns from zero and the reading, such as 12+3-26. Or enter the table's own scale, such as "
            "160-30."
        )
    return (
        f"Put the index pin in the nearest hole of the {plate.circle} circle. "
        "Enter the turns from zero and the hole, such as 12+9."
    )


def read_slide(plan_input: PlanInput, state: State, cut: CutToFind, text: str) -> SlideReading:
    """Return the position of the slide from the reading that the user typed.

    A dial shows the same reading in every turn, so the text must also have the turns if the dial was set to 0. Raises
    QuantityError for text that is not such a reading.
    """
    dial, job, lathe = _slide_dial(plan_input), parameters_of(plan_input), plan_input.lathe
    # In the middle of the work the planned setting does not show on which side the slide is.
    is_below = dial.at_travel(-_FAR_MM if job.is_far else _FAR_MM).position < 0
    read = read_turns_and_reading(lathe, state, dial.name, text, is_below=is_below)
    if read is None:
        read = read_slide_place(lathe, state, cut.place, text)
        if dial.per_turn is not None and not state.zeros.get(dial.name):
            half = dial.number_text(dial.per_turn / 2)
            raise QuantityError(
                f"The reading {quoted(text)} occurs once in every turn. "
                f"Enter the whole turns from zero too, such as 6+{half}."
            )
    position, shown = read
    return SlideReading(position, _slide_mm(job, dial, position), shown)


def read_table(plan_input: PlanInput, cut: CutToFind, text: str) -> TableReading:
    """Return the angle of the table from the reading that the user typed.

    The dial shows the same reading in every turn of the handle, so a reading without whole turns raises QuantityError.
    """
    table = plan_input.lathe.rotary_table
    if table is None:
        raise QuantityError("This lathe has no rotary table.")
    read = read_at_step(text, cut.place.step, table)
    if read.by_scale:
        raise QuantityError(
            "The degree scale alone does not show the hole. Enter the hole too, such as 9 holes at 154 deg."
        )
    if read.every_deg != ROUND_DEG:
        raise QuantityError(
            f"The reading {quoted(text)} occurs once in every turn. Enter the whole turns from zero too, such as "
            f"{'12+9' if _plate(cut.place.step) else '12+3-26'}."
        )
    return TableReading(read.angle_deg, float(read.angle_deg * (-1 if is_falling(table) else 1)))


def work_found(plan_input: PlanInput, state: State, read: Sequence[CutRead]) -> WorkFound:
    """Return how the work now lies on the table, calculated from the readings at two or more cuts.

    Raises ReadingSlippedError for readings that contradict each other, and PlanError for cuts from which this cannot be
    calculated.
    """
    job: PatternJob = parameters_of(plan_input)
    fit = put_back(job, [one.found for one in read], to_text=plan_input.lathe.length_text)
    last = read[-1]
    entered = PutBack(
        (fit.shift_x_mm, fit.shift_y_mm), fit.turned_deg, table_deg=last.table.table_deg, slide=last.slide.position
    )
    return WorkFound(fit.words(lay_at(state, job), plan_input.lathe.length_text), entered)


def _slide_dial(plan_input: PlanInput) -> Dial:
    return plan_input.lathe.dial(parameters_of(plan_input).offset_dial)


def _slide_mm(job: PatternJob, dial: Dial, position: Fraction) -> float:
    travel_mm = dial.travel_mm(1) * float(dial.marks_at(position))
    return -travel_mm if job.is_far else travel_mm


def _plate(step: Step) -> PlateSetting | None:
    return next((setting for setting in step.settings if isinstance(setting, PlateSetting)), None)
