"""Plans the remaining steps of a pattern again, after a measurement, a different setting, a move or an edit.

The open steps of the run show the remaining work. Each step has its layer, position and number. After an edit, the
remaining work follows from the depth already cut at each position.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from core.cutting import Progress
from core.inputs import (
    Edited,
    Measured,
    Moved,
    PickedUp,
    PositionCutWrong,
    PutBack,
    RunInput,
    SetTo,
    nothing_planned_from,
)
from core.lathe.lathe import Lathe
from core.operations.dividing.replanning import (
    carried_pattern,
    circle_in_use,
    from_depth_cut,
    measured_depth,
    open_pattern_steps,
    set_differently,
)
from core.operations.dividing.steps import (
    MOUNTING,
    DividedCut,
    OpenSteps,
    open_numbers,
    open_steps,
    unshifted,
    visit_numbers,
)
from core.operations.patterns.boring_head import Head
from core.operations.patterns.cut_elsewhere import cut_wrong_finding, put_back_finding, stands_after
from core.operations.patterns.layer_plan import (
    BY_RULE,
    CENTRED,
    CIRCLE_SET,
    LAYER_SET,
    MEASURED,
    TRIAL,
    LayerPlan,
    is_plain,
    layer_plans,
    planned_order,
)
from core.operations.patterns.layers import PatternJob
from core.operations.patterns.open_places import open_after_edit
from core.operations.patterns.set_elsewhere import set_elsewhere, sets_another_dial
from core.operations.patterns.steps import last_check, layer_steps, set_up_steps
from core.operations.patterns.trial_circle import (
    change_steps,
    edges_finding,
    head_after_trial,
    is_near,
    is_within_half_a_mark,
    measure_step,
    near_finding,
    refuse_impossible_circle,
    trial_step,
)
from core.plan import Step, numbered
from core.values.errors import PlanError


def replan_pattern(
    job: PatternJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining steps. Raises PlanError for an input that the pattern cannot use.

    `material`: the material of the work; None if the job names none. `entered`: the input after which the pattern is
    planned again. A trial circle is measured across groove centres. After a move, the new steps first find the zeros
    again. After an edit of job or lathe, the new steps cut only what each position still needs.
    """
    if isinstance(entered, PutBack):
        progress = replace(progress, put_back=entered)
    left = _Remaining(job, lathe, progress, is_edited=isinstance(entered, Edited))
    match entered:
        case Measured(what="circle"):
            steps = left.circle_measured(entered)
        case Measured(what="depth"):
            steps = left.depth_measured(entered.size_mm)
        case SetTo() if sets_another_dial(progress.open_steps, entered, job):
            steps = set_elsewhere(open_pattern_steps(progress), entered, lathe)
        case SetTo():
            current, planned = left.current, open_pattern_steps(progress)
            steps = set_differently(current.pattern, lathe, planned, entered.position, current.layer.offset_mm)
        case Moved() | PickedUp():
            steps = left.found_again()
        case PositionCutWrong():
            steps = left.cut_wrong(entered)
        case PutBack():
            steps = left.put_back(entered)
        case Edited():
            steps = left.edited()
        case _:
            raise nothing_planned_from(entered)
    if isinstance(entered, Moved | PickedUp | PutBack | Edited):
        steps = from_depth_cut(left.pattern_of, progress.open_steps, steps)
    return numbered([*steps, last_check(job)], progress.next_id)


@dataclass(frozen=True)
class _Remaining:
    """The remaining work of a pattern, as the open steps of its run show it."""

    job: PatternJob
    lathe: Lathe
    progress: Progress
    is_edited: bool

    @cached_property
    def plans(self) -> list[LayerPlan]:
        """Every layer in the order of cutting. Finished layers come first."""
        return self._plans()

    def _plans(self, heads: dict[int, Head] | None = None, without: Iterable[int] = ()) -> list[LayerPlan]:
        is_open = {number: shift for number, shift in self.open_by_steps.items() if number not in set(without)}
        put_back = self.progress.put_back
        return layer_plans(self.job, self.lathe, is_open, heads, self.progress.open_steps, self._order, put_back)

    @cached_property
    def open_by_steps(self) -> OpenSteps:
        """The numbers of the open steps in the logged plan, each with its shift [marks]."""
        return open_numbers(self.progress.open_steps)

    @cached_property
    def is_open(self) -> OpenSteps:
        """The numbers of the remaining steps in the edited job, each with its shift [marks]."""
        return open_after_edit(self.plans, self.progress) if self.is_edited else self.open_by_steps

    @cached_property
    def _order(self) -> tuple[int, ...]:
        """The order of the layers: finished layers first, then the order of the open steps.

        An edit can change the order of later layers.
        """
        numbers = [layer.number for layer in self.job.layers]
        if is_plain(self.job):
            return tuple(numbers)
        known = _layers_of(self.progress.open_steps, numbers)
        settled = sorted((*self.progress.done_steps, *self.progress.skipped_steps), key=lambda step: step.id)
        # The cut layers, in their order of cutting, show which parts are mounted now.
        started = _layers_of(settled, numbers)
        done = [number for number in started if number not in known]
        if not self.is_edited:
            missing = [number for number in numbers if number not in started and number not in known]
            return (*missing, *done, *known)
        first = [*done, *(number for number in known[:1] if number in started)]
        return (*first, *(number for number in planned_order(self.job, self.lathe) if number not in first))

    @cached_property
    def current(self) -> LayerPlan:
        """The layer of the first remaining step. If no step remains, the last layer."""
        return next((plan for plan in self.plans if self.has_open(plan)), self.plans[-1])

    @property
    def later(self) -> list[LayerPlan]:
        """The layers after the current layer."""
        return self.plans[self.plans.index(self.current) + 1 :]

    def has_open(self, plan: LayerPlan) -> bool:
        return any(number in self.is_open for number in plan.numbers)

    def pattern_of(self, step: Step) -> DividedCut:
        """Return the settings of the layer that a step belongs to."""
        plan = next((plan for plan in self.plans if plan.layer.number == step.at.layer), self.current)
        return plan.pattern

    def steps_of(self, plan: LayerPlan, is_open: OpenSteps | None = None, restart: bool = False) -> list[Step]:
        return layer_steps(self.job, plan, self.lathe, self.is_open if is_open is None else is_open, restart)

    def set_up(self, again: bool = False) -> list[Step]:
        """Return the steps that mount the dividing plate of the current layer and find the zeros.

        `again`: whether the zeros are found again during the run.
        """
        steps = set_up_steps(self.job, self.current, self.lathe, again)
        # After the first cut the work is never centred again. It stays in place or is found by its cuts.
        centres = not again or CENTRED in self.is_open
        return [step for step in steps if centres or step.at.step != CENTRED]

    def found_again(self) -> list[Step]:
        """Return the steps that find the zeros again, followed by the remaining steps.

        The dividing plate is mounted only if it is not on the lathe. The new touch-off replaces any correction by a
        measured depth.
        """
        current, is_open = self.current, unshifted(self.is_open)
        mounts = MOUNTING in is_open or (current.changes_circle and current.first + CIRCLE_SET in is_open)
        steps = [step for step in self.set_up(again=True) if mounts or step.at.step != MOUNTING]
        if current.layer.with_head:
            steps.append(_if_touched(current, self.lathe))
        steps += self.steps_of(current, is_open, restart=True)
        return [*steps, *(step for plan in self.later for step in self.steps_of(plan, is_open))]

    def edited(self) -> list[Step]:
        """Return the steps that the positions still need after an edit.

        If the current layer now has another hole circle, the steps first set the table to 0 again.
        """
        current, dividing = self.current, self.current.pattern.dividing
        later = [step for plan in self.later for step in self.steps_of(plan)]
        used = circle_in_use(self.progress.open_steps, current.layer.number)
        if used in {None, (dividing.means, dividing.circle)}:
            return [*open_steps(self.set_up(), self.is_open), *self.steps_of(current), *later]
        return [*self.set_up(again=True), *self.steps_of(current, restart=True), *later]

    def depth_measured(self, measured_mm: float) -> list[Step]:
        """Return the remaining steps of the current and later layers, corrected by a measured depth [mm].

        The correction ends at the first later layer that has its own touch-off.
        """
        current = self.current
        before = {number: shift for number, shift in self.is_open.items() if number < current.pattern.first_number}
        steps = [*self.steps_of(current, before)] if any(number in current.numbers for number in before) else []
        steps += measured_depth(current.pattern, self.progress, measured_mm, self.is_open)
        is_carried = True
        for plan in self.later:
            passes = plan.pattern.passes
            is_carried &= not plan.touches
            if passes is None or not is_carried:
                steps += self.steps_of(plan)
                continue
            now = self.progress.marks(passes.infeed)
            carried = plan._replace(pattern=carried_pattern(plan.pattern, now, measured_mm, None))
            steps += self.steps_of(carried, unshifted(self.is_open))
        return steps

    def put_back(self, entered: PutBack) -> list[Step]:
        """Return the remaining steps for the work's new position on the table, with a new touch-off."""
        current, is_open = self.current, unshifted(self.is_open)
        changes = current.changes_circle and current.first + CIRCLE_SET in is_open
        steps = layer_steps(self.job, current, self.lathe, is_open, restart=not changes, touches=True)
        steps += [step for plan in self.later for step in self.steps_of(plan, is_open)]
        finding = put_back_finding(self.job, self.plans[self.plans.index(current) :], entered, self.lathe)
        return [replace(steps[0], findings=(finding,)), *steps[1:]] if steps and finding else steps

    def cut_wrong(self, entered: PositionCutWrong) -> list[Step]:
        """Return the remaining steps after a position was cut in the wrong place.

        The remaining passes of that position are dropped, because they would deepen the wrong groove. If the user wants
        the position cut again, all its passes are open once more.
        """
        plan = self._plan_of(entered)
        finding = cut_wrong_finding(plan, entered, self.lathe)
        where = (entered.layer, entered.position)
        here = {step.at.step for step in self.progress.open_steps if step.at.where == where}
        is_open = {number: shift for number, shift in self.is_open.items() if number not in here}
        if entered.cut_again:
            pattern = plan.pattern
            self._refuse_if_not_set_up(plan, entered.position)
            for visit in visit_numbers(pattern):
                if visit.position == entered.position:
                    is_open |= dict.fromkeys(visit.numbers, self._shift_of(plan))
                    if visit.numbers[0] in pattern.numbers_with_held:
                        is_open[visit.numbers[0]] = pattern.held_shift
        steps = open_steps(self.set_up(), is_open)
        stands = stands_after(plan, self.progress.done_steps, entered)
        for each in self.plans:
            steps += layer_steps(self.job, each, self.lathe, is_open, stands=stands if each is plan else None)
        return [replace(steps[0], findings=(finding,)), *steps[1:]] if steps else steps

    def _plan_of(self, entered: PositionCutWrong) -> LayerPlan:
        """Return the layer of a wrongly cut position; raises PlanError if the job has no such layer."""
        plan = next((plan for plan in self.plans if plan.layer.number == entered.layer), None)
        if plan is None:
            raise PlanError(
                f"There is no layer {entered.layer}. Enter a layer from 1 to {len(self.job.layers)}.", field="layer"
            )
        return plan

    def _refuse_if_not_set_up(self, plan: LayerPlan, position: int) -> None:
        """Raise PlanError if a position is to be cut again in a layer for which the lathe is not set up."""
        numbers = (step.at.step for step in reversed(self.progress.done_steps))
        last = next((number for number in numbers if number is not None), None)
        if last not in plan.numbers:
            raise PlanError(
                f"Layer {plan.layer.number} is not set up now, so position {position} cannot be cut again. "
                "Enter its real place without cutting the position again.",
                field="position",
            )

    def _shift_of(self, plan: LayerPlan) -> int:
        """Return the shift of the remaining passes in a layer [marks]."""
        cuts = (step for step in self.progress.open_steps if step.action == "cut")
        return next((step.at.shift_marks for step in cuts if step.at.layer == plan.layer.number), 0)

    def circle_measured(self, measured: Measured) -> list[Step]:
        """Return the remaining steps after a measured trial circle.

        Unless the circle is near enough to the wanted size, the steps move the boring head and, where needed, cut
        another trial circle.
        """
        current, lathe, measured_mm = self.current, self.lathe, measured.size_mm
        refuse_impossible_circle(current.layer, lathe, measured_mm)
        is_first = current.head_before_mm is None
        moved = not is_near(current.head, current.layer, measured_mm)
        # The head stays if the circle is near enough. A difference below half a mark still counts in the rounding of
        # later layers.
        is_rounding = moved or is_within_half_a_mark(current.head, current.layer, measured_mm)
        counted_mm = measured_mm if is_rounding else 2 * current.layer.circle_radius_mm
        head = head_after_trial(current.head, current.layer, counted_mm, is_first)
        tried = {current.first + what for what in (BY_RULE, TRIAL, MEASURED)}
        still_open = {number: shift for number, shift in self.is_open.items() if number not in tried}
        steps = open_steps(self.set_up(), still_open)
        if moved:
            steps += change_steps(current.layer, head, lathe, measured_mm, is_first)
        if moved and (current.first + LAYER_SET in still_open or head.dial is None):
            # The numbers stay the same, so that a second measurement moves the head again.
            place, is_first_layer = current.place(TRIAL), current.before is None
            steps.append(trial_step(current.layer, place, is_first=is_first_layer, again=True))
            by_edges = not current.is_plain
            steps.append(measure_step(current.layer, lathe, current.place(MEASURED), by_edges=by_edges))
        plans = self._plans(self._heads(head), without=tried)
        steps += [step for plan in plans for step in self.steps_of(plan, still_open)]
        near = "" if moved else near_finding(current.head, current.layer, measured_mm, lathe)
        finding = " ".join(filter(None, (edges_finding(current.layer, measured, lathe), near)))
        return [replace(steps[0], findings=(finding,)), *steps[1:]] if steps and finding else steps

    def _heads(self, head: Head) -> dict[int, Head]:
        """Return the head after a trial circle of the current layer, for all layers that depend on its setting."""
        heads = {self.current.layer.number: head}
        for plan in self.later:
            if plan.layer.with_head and plan.head_before_mm is None:
                break
            heads[plan.layer.number] = head
        return heads


def _layers_of(steps: Iterable[Step], numbers: Collection[int]) -> list[int]:
    """Return the layer numbers of some steps, in the order of the steps.

    `numbers`: the layers that the job still has. All other layers are left out.
    """
    found = dict.fromkeys(step.at.layer for step in steps if step.at.layer)
    return [number for number in found if number in numbers]


def _if_touched(layer_plan: LayerPlan, lathe: Lathe) -> Step:
    place, by_edges = layer_plan.place(MEASURED), not layer_plan.is_plain
    step = measure_step(layer_plan.layer, lathe, place, by_edges=by_edges)
    return replace(step, text=f"Only if the boring head has been touched: cut a trial circle. {step.text}")
