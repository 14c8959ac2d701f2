"""Finding work again that was taken off the table and put back: the cuts to find, what is read there, how it lies."""

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
from core.operations.registry import PlanInput, parameters_of
from core.plan import PlateSetting, Step
from core.run.cut_places import CutPlace, cut_places, read_slide_place, read_turns_and_reading
from core.run.work_as_it_lies import as_set, lay_at, on_work_mm
from core.values.dials import Dial
from core.values.errors import QuantityError
from core.values.plain_text import quoted

TO_FIND, ENOUGH = 2, 3
"""How many cuts must be found, and with how many a wrong reading shows."""
_FAR_MM = 10.0


class CutToFind(NamedTuple):
    """A cut that the point can be brought into again."""

    place: CutPlace
    element: Element
    """As it came out on the work."""
    layer: Layer

    @property
    def where(self) -> tuple[int, int]:
        """Layer and position."""
        return self.place.layer, self.place.position

    @property
    def name(self) -> str:
        """What the user calls it."""
        return f"layer {self.place.layer}, position {self.place.position}"

    def is_cut_like(self, other: "CutToFind") -> bool:
        """Return whether cutter and head were as at another cut."""
        mine, others = (one.layer.cutter and one.layer.cutter.name for one in (self, other))
        return mine == others and self.element.radius_mm == other.element.radius_mm


class SlideReading(NamedTuple):
    """Where the slide is with the point in a cut."""

    position: Fraction
    """Counted from its zero [its dial's own unit]."""
    slide_mm: float
    """From where the axes meet, on the job's side."""
    shown: str


class TableReading(NamedTuple):
    """Where the table is with the point in a cut."""

    table_deg: Fraction
    """Counted from its zero, as its numbers run."""
    angle_deg: float
    """Positive where positions come anticlockwise on the work."""


class CutRead(NamedTuple):
    """A cut with the readings at which the point meets it now."""

    cut: CutToFind
    slide: SlideReading
    table: TableReading

    @property
    def found(self) -> FoundCut:
        """The cut as the fit needs it."""
        return FoundCut(self.cut.element, self.slide.slide_mm, self.table.angle_deg)


class WorkFound(NamedTuple):
    """How the work lies now: in words, and as the input that plans the rest there."""

    words: str
    entered: PutBack


def cuts_to_find(plan_input: PlanInput, state: State) -> tuple[CutToFind, ...]:
    """Return the circles, dots and starts of slots that are cut, the one cut last first; () without a pattern."""
    if plan_input.kind != "pattern":
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
    """Return a cut as it came out on the work; None if a log does not say how it was set."""
    settings = _as_really_set(plan_input.lathe, job, state, place)
    if settings is None:
        return None
    position = layer.positions[place.position - 1]
    cut = CutAsSet(layer, position, *settings, circle_radius_mm=position.circle_radius_mm)
    (element,) = elements(job, [cut])
    x_mm, y_mm = on_work_mm(job, lay_at(state, job, place.step.id), *settings)
    return element._replace(x_mm=x_mm, y_mm=y_mm)


def _as_really_set(lathe: Lathe, job: PatternJob, state: State, place: CutPlace) -> tuple[float, float] | None:
    """Return slide and table at a cut, also where it was cut in the wrong place."""
    for one in (revision.entered for revision in reversed(state.revisions)):
        if isinstance(one, PositionCutWrong) and (one.layer, one.position) == (place.layer, place.position):
            if one.cut_again or lathe.rotary_table is None:
                break
            slide_mm = _slide_mm(job, lathe.dial(job.offset_dial), one.slide)
            return slide_mm, float(one.table_deg * (-1 if is_falling(lathe.rotary_table) else 1))
    return as_set(place.step, job, lathe)


def farthest_first(cuts: Sequence[CutToFind], chosen: Collection[CutToFind]) -> list[CutToFind]:
    """Return the cuts still to choose from, the best one first.

    First those that were cut like the last one, with cutter and head as they are; then those far from the `chosen`.
    """
    rest = [cut for cut in cuts if cut not in chosen]
    return sorted(rest, key=lambda cut: (not cut.is_cut_like(cuts[0]) or _apart_mm(cut, chosen) < LEAST_APART_MM,
                                         -_apart_mm(cut, chosen)))  # fmt: skip


def _apart_mm(cut: CutToFind, chosen: Collection[CutToFind]) -> float:
    """Return how far a cut is from the nearest of the chosen ones; without any, as far as the first is."""
    here = cut.element.x_mm, cut.element.y_mm
    return min((math.dist(here, (one.element.x_mm, one.element.y_mm)) for one in chosen), default=LEAST_APART_MM)


def cannot_be_found(plan_input: PlanInput, state: State) -> str:
    """Return why the work cannot be found again by its cuts now, and what to do instead; "" if it can."""
    if len(cuts_to_find(plan_input, state)) < TO_FIND:
        return "Two circles, dots or slots must be cut before the work can be found again by them."
    job: PatternJob = parameters_of(plan_input)
    if _finds_zeros_next(job, state):
        return "First do the next steps, which find the zeros of slide and table. Then find the work."
    if job.means == "direct":
        return (
            "Notches cannot follow work that is turned. Set slide and table to a position that is cut, and turn the "
            "work on the table until the point falls into that cut. Confirm it on a second."
        )
    return ""


def _finds_zeros_next(job: PatternJob, state: State) -> bool:
    """Return whether the next steps find the zeros of slide or table, from which the readings count."""
    for step in state.open_steps():
        if step.action in {"index", "cut"}:
            return False
        if {job.offset_dial, TABLE} & set(step.zeroed_dials):
            return True
    return False


def meeting_words(cut: CutToFind, last: CutToFind) -> list[str]:
    """Return how the point is brought into a cut, in sentences. `last`: the cut whose cutter is mounted."""
    ready = "Leave cutter and head as they were."
    if not cut.is_cut_like(last):
        cutter = f' cutter "{cut.layer.cutter.name}"' if cut.layer.cutter and cut.layer.cutter.name else " its cutter"
        head = ", with the head set as it was there" if cut.layer.with_head else ""
        ready = f"Mount{cutter} as for layer {cut.place.layer}{head}."
    if cut.element.shape == "circle":
        how = "Move slide and table until the point, turned by hand, follows the whole circle."
    elif cut.element.shape == "dot":
        how = "Move slide and table until the point falls into the middle of the dot."
    else:
        how = "Move slide and table until the point falls into the slot where it was fed in."
    return [ready, how, "End both moves as when you cut, with the backlash taken up."]


def slide_name(plan_input: PlanInput) -> str:
    """Return what the user calls the slide."""
    return dial_words(_slide_dial(plan_input).name)


def slide_example(plan_input: PlanInput, state: State) -> str:
    """Return what to enter for the slide."""
    dial = _slide_dial(plan_input)
    if dial.per_turn is None or state.zeros.get(dial.name):
        return f"What the {dial_words(dial.name)} shows."
    return f"Whole turns from zero, then the reading: 6+{dial.number_text(dial.per_turn / 2)} for 6 turns."


def table_example(cut: CutToFind) -> str:
    """Return what to enter for the table, as it is set at that cut."""
    plate = _plate(cut.place.step)
    if plate is None:
        return "Whole turns from zero and the reading, such as 12+3-26; or the table's own scale, such as 160-30."
    return f"Pin in the nearest hole of the {plate.circle} circle: whole turns from zero and the hole, such as 12+9."


def read_slide(plan_input: PlanInput, state: State, cut: CutToFind, text: str) -> SlideReading:
    """Return where the slide is; raises QuantityError.

    A reading alone comes once in every turn, so the turns are needed if the dial counts them from 0.
    """
    dial, job, lathe = _slide_dial(plan_input), parameters_of(plan_input), plan_input.lathe
    # In the middle of the work the planned setting does not show which way the slide goes.
    is_below = dial.at_travel(-_FAR_MM if job.is_far else _FAR_MM).position < 0
    read = read_turns_and_reading(lathe, state, dial.name, text, is_below=is_below)
    if read is None:
        read = read_slide_place(lathe, state, cut.place, text)
        if dial.per_turn is not None and not state.zeros.get(dial.name):
            half = dial.number_text(dial.per_turn / 2)
            raise QuantityError(
                f"{quoted(text)} comes once in every turn. Enter the whole turns from zero too: 6+{half} for 6 turns."
            )
    position, shown = read
    return SlideReading(position, _slide_mm(job, dial, position), shown)


def read_table(plan_input: PlanInput, cut: CutToFind, text: str) -> TableReading:
    """Return where the table is; raises QuantityError. A reading alone comes once in every turn of the handle."""
    table = plan_input.lathe.rotary_table
    if table is None:
        raise QuantityError("This lathe has no rotary table.")
    read = read_at_step(text, cut.place.step, table)
    if read.by_scale:
        raise QuantityError("The degree scale does not show the hole. Enter the hole too, such as 9 holes at 154 deg.")
    if read.every_deg != ROUND_DEG:
        raise QuantityError(
            f"{quoted(text)} comes once in every turn of the handle. Enter the whole turns from zero too, such as "
            f"{'12+9' if _plate(cut.place.step) else '12+3-26'}."
        )
    return TableReading(read.angle_deg, float(read.angle_deg * (-1 if is_falling(table) else 1)))


def work_found(plan_input: PlanInput, state: State, read: Sequence[CutRead]) -> WorkFound:
    """Return how the work lies now, from the readings at two cuts or more.

    Raises ReadingSlippedError for readings that do not fit together, PlanError for cuts that do not show it.
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
