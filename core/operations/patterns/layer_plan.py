"""Every layer of a pattern with its settings on one lathe, the tool to mount, and the numbers of its steps.

Logs store the numbers of steps permanently. In a plain pattern, the only kind of the first version, the numbers
continue from layer to layer in the written order. In all other patterns each layer has its own block of a million
numbers.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import NamedTuple

from core.inputs import PutBack
from core.lathe.lathe import Lathe, RotaryTable, dial_words
from core.operations.dividing.depth import DepthPasses, depth_passes
from core.operations.dividing.division import Dividing, circle_choices
from core.operations.dividing.operation import rotary_of
from core.operations.dividing.plates import Circle, fewest_changes
from core.operations.dividing.replanning import circle_in_use
from core.operations.dividing.set_up import is_same_circle
from core.operations.dividing.steps import AtPosition, DividedCut, Groove, OpenSteps
from core.operations.patterns.boring_head import HEAD, Head, direction, head_shown
from core.operations.patterns.cautions import swing_caution
from core.operations.patterns.feeding import arc, slide_start_words, slot
from core.operations.patterns.layers import Layer, PatternJob, PolarSetting
from core.operations.patterns.order import LayerNeeds, cutting_order, layer_needs
from core.operations.patterns.place_settings import (
    LayerSettings,
    arc_ends_deg,
    divided,
    layer_settings,
    slide_end_mm,
    slide_setting,
)
from core.operations.patterns.touch_off import touch_off_words
from core.plan import PatternPosition, Step
from core.values.dials import Dial, Setting
from core.values.errors import PlanError

AXES_MEET, TABLE_ZERO, FIRST_LAYER = 1, 2, 3
CENTRED = -1
"""The step that centres the blank on the table. Plain patterns cannot have it, because logs hold their numbers."""
BY_RULE, TRIAL, MEASURED, HEAD_ZERO, LAYER_SET, TOUCH_OFF, DRY_RUN, BEFORE_PATTERN = range(8)
"""The steps before the positions of a layer, in order, numbered from the layer's first step."""
CIRCLE_SET = HEAD_ZERO
"""The step that changes to the hole circle of a later layer. The first layer uses this number for the head's zero."""
ON_SCRAP, MOUNTED, HEAD_ZERO_AGAIN = -3, -2, -1
"""The numbers of steps that occur in no plain pattern."""
NUMBERS_A_LAYER = 1_000_000
_SAME_ROUNDING = 1e-9


class LayerPlan(NamedTuple):
    """One layer with its settings, the known state of the boring head, and the numbers of the layer's steps."""

    job: PatternJob
    slide: Dial
    """The dial of the slide that sets the offset."""
    layer: Layer
    before: Layer | None
    """The layer cut before this layer; None for the first layer."""
    first: int
    pattern: DividedCut
    head: Head
    pattern_before: DividedCut | None
    touches: str
    """Words for the touch-off place of the depth dial in this layer; "" for no touch-off."""
    swings: str
    """The caution that the cutter swings past the edge of the blank, else ""."""
    settings: LayerSettings
    mounts: str = ""
    """The part to mount: "cutter", "head" (with its cutter), "collet" (with its cutter); "" for nothing."""
    is_tried: bool = False
    """Whether a trial circle shows the radius of the head."""
    head_before_mm: float | None = None
    """The last circle radius of the head with this cutter; None if its dial does not show the radius."""
    is_plain: bool = True

    @property
    def changes_circle(self) -> bool:
        """True if the layer that is cut before this one uses another hole circle or another dividing plate."""
        before = self.pattern_before
        return before is not None and not is_same_circle(before.dividing, self.pattern.dividing)

    @property
    def moves_head(self) -> bool:
        """True if the boring head moves to another radius: by its dial, or by a trial circle if it has no dial."""
        return self.head_before_mm is not None and self.head_before_mm != self.layer.circle_radius_mm

    @property
    def numbers(self) -> range:
        """The numbers of all steps of the layer."""
        return range(self.first + (0 if self.is_plain else ON_SCRAP), self.pattern.next_number)

    def place(self, what: int) -> PatternPosition:
        """Return the place of one of the layer's steps that come before its positions.

        `what`: the number of the step within its layer, such as TRIAL.
        """
        return PatternPosition(self.first + what, self.pattern.held_shift if what == LAYER_SET else 0)


class _Spindle(NamedTuple):
    """The tool in the spindle, as it changes from layer to layer."""

    holder: str = ""
    """"head" or "collet"; "" before anything is mounted."""
    cutter: str = ""
    head_cutter: str | None = None
    """The cutter in the boring head; None for an empty head. The dial shows the radius only with a cutter."""
    head_mm: float | None = None
    """The last circle radius of the head."""
    zero_mm: float = 0.0
    """The circle radius at which the head's dial was set to 0, as planned."""

    def mounts(self, layer: Layer) -> str:
        """Return which part must be mounted for a layer: "head", "collet" or "cutter"; "" if nothing changes."""
        holder = "head" if layer.with_head else "collet"
        if holder != self.holder:
            return holder
        return "cutter" if cutter_name(layer) != self.cutter else ""

    def knows_radius(self, layer: Layer) -> bool:
        """Return whether the circle radius of the boring head is known at the start of a layer."""
        return self.head_cutter == cutter_name(layer) and self.head_mm is not None

    def after(self, layer: Layer) -> "_Spindle":
        name = cutter_name(layer)
        if not layer.with_head:
            lost = self.head_cutter == name
            return self._replace(holder="collet", cutter=name, head_cutter=None if lost else self.head_cutter)
        zero_mm = self.zero_mm if self.knows_radius(layer) else layer.circle_radius_mm
        last_mm = layer.cut_positions[-1].circle_radius_mm
        return _Spindle("head", name, name, last_mm, zero_mm)


def cutter_name(layer: Layer) -> str:
    """Return the name of a layer's cutter; "" for a layer that names no cutter."""
    return "" if layer.cutter is None else layer.cutter.name


def is_plain(job: PatternJob) -> bool:
    """Return whether the first version could cut a pattern: only even rings, one cutter, and the written order."""
    has_order = job.layer_order == "written" or len(job.layers) <= 2
    return has_order and all(layer.is_even_ring for layer in job.layers) and len(set(map(cutter_name, job.layers))) == 1


def layer_plans(
    job: PatternJob,
    lathe: Lathe,
    is_open: OpenSteps | None = None,
    heads: Mapping[int, Head] | None = None,
    planned_steps: Iterable[Step] = (),
    order: Sequence[int] = (),
    put_back: PutBack | None = None,
) -> list[LayerPlan]:
    """Return every layer with its settings on a lathe, in the order of cutting.

    Raises PlanError if the lathe cannot cut a layer.

    `heads`: the boring head by layer number, for the layers that follow a new trial circle; None without one.
    `is_open`: the numbers of the remaining steps, each with the shift from an earlier trial circle, which applies to
    all other layers; None for a new plan. `planned_steps`: the remaining steps, which keep their hole circles. `order`:
    the layer numbers in the order of cutting; if empty, the program finds the order. `put_back`: the work's new
    position on the table; None if the work was not removed.
    """
    table, plain, steps = rotary_of(lathe), is_plain(job), list(planned_steps)
    settings = {layer.number: layer_settings(job, layer, table, put_back) for layer in job.layers}
    choices = {
        layer.number: _circle_choices(job, layer, table, settings[layer.number], steps, put_back)
        for layer in job.layers
    }
    layers = [job.layers[number - 1] for number in order or layer_order(job, choices)]
    picked = [choices[layer.number] for layer in layers]
    circles = fewest_changes(picked) if all(picked) else (None,) * len(layers)
    plans: list[LayerPlan] = []
    first, spindle = FIRST_LAYER, _Spindle()
    for layer, circle in zip(layers, circles, strict=True):
        first = first if plain else NUMBERS_A_LAYER * layer.number
        planned = spindle.after(layer).zero_mm
        head = Head(lathe.dials.get(HEAD), zero_radius_mm=planned, planned_zero_mm=planned)
        plan = _layer_plan(job, layer, lathe, settings[layer.number], circle, first, head, plans, spindle, put_back)
        if heads and layer.number in heads:
            head = heads[layer.number]
        else:
            head = head.shifted(_head_shift(plan, is_open or {}))
        plans.append(_with_head(job, lathe, plan, head))
        first, spindle = plan.pattern.next_number, spindle.after(layer)
    return plans


def planned_order(job: PatternJob, lathe: Lathe) -> tuple[int, ...]:
    """Return the layer numbers in the order in which a new plan cuts the layers.

    Raises PlanError if the lathe cannot cut a layer.
    """
    table = rotary_of(lathe)
    settings = {layer.number: layer_settings(job, layer, table) for layer in job.layers}
    choices = {
        layer.number: _circle_choices(job, layer, table, settings[layer.number], [], None) for layer in job.layers
    }
    return layer_order(job, choices)


def layer_order(job: PatternJob, choices: Mapping[int, Sequence[Circle]]) -> tuple[int, ...]:
    """Return the layer numbers in the order of cutting. `choices`: the possible hole circles by layer number."""
    if is_plain(job):
        return tuple(layer.number for layer in job.layers)
    needs: tuple[LayerNeeds, ...] = tuple(
        layer_needs(job, layer, frozenset(circle.plate for circle in choices[layer.number])) for layer in job.layers
    )
    return tuple(job.layers[index].number for index in cutting_order(needs, job.layer_order))


def _circle_choices(
    job: PatternJob,
    layer: Layer,
    table: RotaryTable,
    settings: LayerSettings,
    planned: list[Step],
    put_back: PutBack | None,
) -> list[Circle]:
    with naming_layer(layer):
        targets = [*settings.targets_deg, *arc_ends_deg(layer, table, settings)]
        possible = circle_choices(table, job.means, targets, f"{layer.count} {layer.shape}")
    kept = circle_in_use(planned, layer.number)
    if kept is not None and kept[0] == job.means and put_back is not None and job.means == "plate":
        # The mounted plate stays, even if another plate would now be more exact.
        plates = enumerate(table.plates, start=1)
        return [Circle(number, kept[1] or 0) for number, plate in plates if kept[1] in plate] or possible
    return [circle for circle in possible if kept == (job.means, circle.holes)] or possible


@contextmanager
def naming_layer(layer: Layer) -> Iterator[None]:
    """Return a context in which the message of each PlanError gets the name of the layer."""
    try:
        yield
    except PlanError as error:
        raise PlanError(f"layer {layer.number}: {error.message}", field=error.field) from None


def _head_shift(plan: LayerPlan, is_open: OpenSteps) -> int:
    """Return the shift of the boring head in the remaining steps of a layer [marks]; 0 if no step sets the head.

    A shift of the depth dial is not included.
    """
    with_head = [plan.first + LAYER_SET, *plan.pattern.numbers_with_held]
    return next((is_open[number] for number in with_head if number in is_open), 0)


def _layer_plan(
    job: PatternJob,
    layer: Layer,
    lathe: Lathe,
    settings: LayerSettings,
    circle: Circle | None,
    first: int,
    head: Head,
    earlier: list[LayerPlan],
    spindle: _Spindle,
    put_back: PutBack | None,
) -> LayerPlan:
    """Return the plan of a layer, without the settings of the boring head.

    `circle`: the hole circle to use; None for the usual one. `first`: the number from which the layer's steps are
    counted. `earlier`: the plans of the layers that are cut before. `spindle`: the tool in the spindle before the
    layer. `put_back`: the work's new position on the table; None if the work was not removed.
    """
    before = earlier[-1] if earlier else None
    with naming_layer(layer):
        dividing = divided(job, rotary_of(lathe), settings, circle)
        own = _at_positions(job, layer, lathe, dividing, settings, put_back)
    passes = max((at.passes for at in own.values() if at.passes), key=lambda one: one.depth_mm, default=None)
    mounts, known = spindle.mounts(layer), spindle.knows_radius(layer)
    touches = passes is not None and (bool(mounts) or not any(plan.touches for plan in earlier))
    plain = is_plain(job)
    pattern = DividedCut(
        dividing=dividing,
        order=job.order,
        passes=passes,
        skip=layer.skip,
        first_number=first + BEFORE_PATTERN,
        layer=layer.number,
        radius_mm=job.shape(layer).offset_mm if layer.is_even_ring else None,
        own=own,
        way_words=_WayWords(job, layer, lathe).of,
        is_measured=not earlier,
        cuts_a_pass=2 if layer.shape in {"slots", "arcs"} else 1,
    )
    moves_head = known and head.dial is None and spindle.head_mm != layer.circle_radius_mm
    return LayerPlan(
        job=job,
        slide=lathe.dial(job.offset_dial),
        layer=layer,
        before=before and before.layer,
        first=first,
        pattern=pattern,
        head=head,
        pattern_before=before and before.pattern,
        touches=touch_off_words(job, layer, [plan.layer for plan in earlier]) if touches else "",
        swings=swing_caution(job, layer, lathe) if layer.with_head else "",
        settings=settings,
        mounts="" if plain else mounts,
        is_tried=layer.with_head and (not known or moves_head),
        head_before_mm=spindle.head_mm if layer.with_head and known else None,
        is_plain=plain,
    )


def _at_positions(
    job: PatternJob,
    layer: Layer,
    lathe: Lathe,
    dividing: Dividing,
    settings: LayerSettings,
    put_back: PutBack | None,
) -> dict[int, AtPosition]:
    """Return the settings and cuts at every position of a layer, without the settings of the boring head.

    `put_back`: the work's new position on the table; None if the work was not removed.
    """
    depths: dict[float, DepthPasses] = {}
    own: dict[int, AtPosition] = {}
    for position, wanted, on_table in zip(layer.positions, settings.wanted, dividing.positions, strict=True):
        if position.number in layer.skip:
            continue
        depth_mm = position.depth_mm
        if depth_mm is not None and depth_mm not in depths:
            depths[depth_mm] = depth_passes(lathe, job.depth_dial, depth_mm, layer.cut_mm or depth_mm)
        slide = slide_setting(job, lathe, wanted.slide_mm)
        groove: Groove | None = None
        if depth_mm is not None and layer.shape == "slots":
            end = PolarSetting(position.to_offset_mm or 0.0, job.polar_setting(layer, position).angle_deg)
            groove = slot(job, lathe, slide, slide_setting(job, lathe, slide_end_mm(job, end, put_back)))
        elif depth_mm is not None and layer.shape == "arcs":
            groove = arc(dividing, layer, on_table, wanted.slide_mm)
        passes = None if depth_mm is None else depths[depth_mm]
        own[position.number] = AtPosition((slide,), passes, groove, radius_mm=wanted.slide_mm)
    return own


def _with_head(job: PatternJob, lathe: Lathe, plan: LayerPlan, head: Head) -> LayerPlan:
    """Return the plan of a layer with the boring head's settings at its positions.

    If all positions have the same settings and depths, the plan stores them once for the whole layer.
    """
    layer, pattern = plan.layer, plan.pattern
    own = dict(pattern.own)
    if layer.with_head:
        for position in layer.cut_positions:
            setting = head.setting(position.circle_radius_mm or 0.0)
            if setting is not None:
                at = own[position.number]
                own[position.number] = at._replace(held=(*at.held, setting))
    first = own[layer.cut_positions[0].number]
    alike = all(
        at.groove is None and at.passes is first.passes and _same_places(at.held, first.held) for at in own.values()
    )
    shift = head.shift(layer.circle_radius_mm) if layer.with_head else 0
    radius_mm = pattern.radius_mm if pattern.radius_mm is not None or not alike else first.radius_mm
    return plan._replace(
        head=head,
        pattern=replace(pattern, held=first.held, held_shift=shift, own={} if alike else own, radius_mm=radius_mm),
    )


def _same_places(one: Sequence[Setting], other: Sequence[Setting]) -> bool:
    pairs = list(zip(one, other, strict=True))
    return all(a.position == b.position and abs(a.rounding - b.rounding) < _SAME_ROUNDING for a, b in pairs)


class _WayWords(NamedTuple):
    """Words for moving a dial whose setting changes from position to position in a layer."""

    job: PatternJob
    layer: Layer
    lathe: Lathe

    def of(self, setting: Setting, before: Setting | None) -> str:
        """Return words for moving a dial to a setting.

        `before`: the setting before the move; None for the dial's zero.
        """
        dial = self.lathe.dial(setting.dial)
        change = dial.marks_at(setting.position) - (0 if before is None else dial.marks_at(before.position))
        if dial.name == HEAD:
            return f"Boring head to {head_shown(dial, setting)}, {direction(HEAD, change > 0)}"
        name = dial_words(dial.name).capitalize()
        way = self._to_slot(setting) or direction(dial.name, change > 0, self.job.is_far)
        return f"{name} to {dial.setting_text(setting)}, {way}"

    def _to_slot(self, setting: Setting) -> str:
        """Return words for taking up the backlash before the start of a slot; "" if that is not needed."""
        if self.layer.shape != "slots":
            return ""
        start, end = self.layer.offset_mm, self.layer.to_offset_mm
        to = slide_setting(self.job, self.lathe, end)
        return slide_start_words(self.job, self.lathe, setting, to) if end < start else ""
