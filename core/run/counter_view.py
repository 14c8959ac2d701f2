"""The words and numbers on the counter screen: the current step of a run, its dial reading and its movements."""

from collections.abc import Callable, Collection
from fractions import Fraction
from functools import cached_property, partial
from typing import TYPE_CHECKING, NamedTuple

from core.events.state import State
from core.lathe.lathe import CARRIAGE, Lathe, dial_words
from core.operations.dividing.handle_dial import TABLE
from core.operations.lengths import ENDS
from core.operations.pass_words import is_drilled, on_the_radius, pass_length_text
from core.operations.patterns.boring_head import HEAD
from core.operations.registry import PlanInput, kind_of, operation_of, parameters_of
from core.plan import Step
from core.run.put_backs import slide_left_at
from core.run.revising import changes_files, plan_from, shown_settings, shown_text
from core.values.angles import dms_text
from core.values.dials import Dial, DialView, Setting, ZeroedDials, counts_in_size, place_words, times_past_0
from core.values.errors import CoreError
from core.values.plain_text import sentence

if TYPE_CHECKING:
    from core.run.table_view import TableView

_LONGEST_KIND = 18
ARCSECOND = Fraction(1, 3600)

_TITLES = {
    "set": "Set",
    "spring": "Spring pass",
    "measure": "Measure",
    "index": "Position",
    "read": "Read",
    "check": "Do by hand",
}


class CounterView(NamedTuple):
    """All words and numbers that the counter screen shows for the current step."""

    title: str
    text: str
    dial: DialView | None
    """The dial to set at this step; None if no dial is set."""
    also: tuple[str, ...]
    """The wanted readings of other dials: "cross-slide at 0, in the same turn"."""
    amounts: str
    """How much this pass takes off, and how much is left to go."""
    set_to: str
    """The setting in short: "compound 1 turn 0.22 mm"; "" if nothing is set."""
    before: str
    coming: tuple[str, ...]
    findings: tuple[str, ...]
    """The findings of the last measurement, if this step is the first one planned from it; else ()."""
    cautions: tuple[str, ...]
    """The caution of this step. Only steps of the first version have more than one."""
    movements: tuple[str, ...]
    """The movements of this pass, in order. The last movement is the key press."""
    done: int
    total: int


class Movements:
    """Describes the movements of the current pass. The plan input of the run is read only once.

    The movements are given as readings that the dials really show, not as positions counted from touch-off.
    """

    def __init__(self, plan_input: PlanInput) -> None:
        self._plan_input = plan_input

    def __call__(self, state: State) -> tuple[str, ...]:
        """Return the movements of the current pass in order, with the key press last; () if the step is not a pass.

        If the movements have no dial readings, or if this version cannot read the plan input of the run, they come from
        the plan: the plan of the run's beginning, or after an edit the plan of the edited job.
        """
        step = state.cursor
        if step is None:
            return ()
        if self._of_step is None:
            if step.action not in {"cut", "spring"}:
                return ()
            is_edited = any(changes_files(revision.entered) for revision in state.revisions)
            return (self._as_edited if is_edited else None) or state.plan.movements
        starts = _thread_start(state, step.id), _thread_start(state, _zeroed_last(state, CARRIAGE))
        return self._of_step(step, ZeroedDials(self._plan_input.lathe.dials, state.zeros), starts)

    @cached_property
    def _as_edited(self) -> tuple[str, ...] | None:
        try:
            return plan_from(self._plan_input).movements
        except CoreError:
            return None

    @cached_property
    def _of_step(self) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]] | None:
        try:
            movements = operation_of(self._plan_input.kind).movements
            return movements and movements(parameters_of(self._plan_input), self._plan_input.lathe)
        except CoreError:
            return None


def _thread_start(state: State, step_id: int) -> int:
    """Return the number of the thread start that a step cuts. The first start is 1."""
    for step in state.done_latest_first():
        if step.thread_start and step.id < step_id:
            return step.thread_start
    return 1


def _full_stop(text: str) -> str:
    """Return a step's text, with a full stop added if the text has more than one sentence."""
    return sentence(text) if ". " in text else text


def _zeroed_last(state: State, dial: str) -> int:
    """Return the id of the last step that set a dial to zero; 0 if no step has done so."""
    return next((step.id for step in state.done_latest_first() if dial in step.zeroed_dials), 0)


def counter_view(lathe: Lathe, state: State, movements: Movements) -> CounterView:
    """Return the words and numbers that the counter screen shows for a run.

    `lathe`: the lathe for which the run was planned.
    """
    step, last = state.cursor, state.last_done
    if step is None:
        return _ended(state)
    # When the user only enters a dial's reading, the dial stays where it is. A number would look like a setting.
    entered = step.zeroed_dials if step.required else ()
    settings = [setting for setting in shown_settings(lathe, state, step) if setting.dial not in entered]
    table, main = _table(lathe, state, step)
    others = [setting for setting in settings if setting.dial != TABLE]
    if step.feeds_along:
        # The dial that moves during the cut comes first. The depth stays the same.
        others.reverse()
    set_to = "" if main is None else f"{main.name} {main.number} {main.unit}".rstrip()
    if table is not None and table.from_zero:
        # The large number counts from the last position, and the log entry does not show that position.
        set_to = f"{dial_words(TABLE)} {table.from_zero}"
    if main is None and others:
        # Both readouts of a mill together give one position.
        readouts = [setting for setting in others if setting.dial not in lathe.dials]
        set_to = ", ".join(_set_to(lathe, state, setting) for setting in readouts or others[:1])
        main = _dial_shown(lathe, state, step, others.pop(0))
    return CounterView(
        title=_title(state, step),
        text=table.text if table else _full_stop(shown_text(lathe, state, step)),
        dial=main,
        # The movements say where a pass ends along the axis.
        also=tuple(_also(lathe, state, step, one) for one in others if one.dial != CARRIAGE or ENDS not in step.extra),
        amounts=_amounts(lathe, state, step),
        set_to=set_to,
        before="" if last is None else _short(lathe, state, last),
        coming=tuple(_short(lathe, state, coming, entered) for coming in state.upcoming(3)),
        findings=step.findings,
        # A caution about the table's position comes first.
        cautions=(table.caution,) if table and table.caution else step.cautions,
        movements=movements(state),
        done=(done := state.steps_done + _answered(state)),
        total=done + state.steps_open,
    )


def _answered(state: State) -> int:
    """Return how many steps were answered by the user and then replaced by new steps. They count as done."""
    if not state.plan_input.answered:
        return 0
    before = (entry.snapshot for entry in state.undo_stack if entry.kind == "revised")
    return sum("asks" in one.steps[one.cursor_at].extra for one in before if one.cursor_at < len(one.steps))


def _table(lathe: Lathe, state: State, step: Step) -> "tuple[TableView | None, DialView | None]":
    """Return what to show for setting the rotary table: in words, and as a dial.

    Return (None, None) if the step does not set the table.
    """
    is_fed_in = step.action == "cut" and not step.feeds_along
    if is_fed_in or all(setting.dial != TABLE for setting in step.settings):
        return None, None
    # The counter of a thread starts sooner without the modules for dividing.
    from core.run.table_view import table_view, zero_shown

    table = table_view(lathe, state, step)
    return table, table.dial if table else zero_shown(state, step)


def _ended(state: State) -> CounterView:
    words = {"finished": "Finished", "abandoned": "Abandoned"}.get(state.status, "All steps are done")
    return CounterView(
        title=words,
        text="Everything is logged. Press Done once more to finish this run." if state.status == "running" else "",
        dial=None,
        also=(),
        amounts="",
        set_to="",
        before="",
        coming=(),
        findings=(),
        cautions=(),
        movements=(),
        done=state.steps_done + _answered(state),
        total=len(state.steps) + _answered(state),
    )


def _title(state: State, step: Step) -> str:
    if step.action == "cut":
        count = f"pass {state.pass_number} of {state.pass_count}"
        if "shoulder" in step.extra:
            # Older logs number the shoulders only in the order of cutting.
            return f"Shoulder {step.extra.get('shoulder_row', step.extra['shoulder'])}, {count}"
        return f"{step.name}, {count}" if step.at.position else count.capitalize()
    if step.action == "index" and step.at.position and step.at.of:
        layer = f"Layer {step.at.layer}: " if step.at.layer else ""
        return f"{layer}{step.at.position} of {step.at.of}"
    return step.title or _old_title(step)


def _old_title(step: Step) -> str:
    """Return a title for a step of a run from the first version of the program, which gave its steps no titles."""
    if step.zeroed_dials and step.action != "check":
        return _zero_title(step)
    head, colon, _ = step.text.partition(":")
    return head if colon and len(head) <= _LONGEST_KIND and step.action == "check" else _TITLES[step.action]


def _zero_title(step: Step) -> str:
    if TABLE in step.zeroed_dials:
        return "Set the table to zero"
    if HEAD in step.zeroed_dials:
        return "Set the boring head to zero"
    return "Touch off" if step.expects else "Set to 0"


def _dial_shown(lathe: Lathe, state: State, step: Step, setting: Setting) -> DialView:
    dial = lathe.dials.get(setting.dial)
    if dial is None:
        return _readout_shown(setting)
    value = setting.position if setting.reading is None else setting.reading
    zero = state.zeros.get(setting.dial, Fraction(0))
    # The cutter is clear while the table turns, so the cutter comes in from zero at every position.
    is_along = step.feeds_along
    comes_in = step.action == "cut" and step.at.position is not None and not is_along
    now_at = zero if comes_in else dial_position(lathe, state, setting.dial)
    # For a dial that is set but does not cut, the operation may have better words than "in" and "out".
    is_set = step.action in {"set", "index"} or is_along
    setting_direction = _setting_direction(state) if is_set or dial.name == HEAD else None
    deeper = abs(setting.position - zero) > abs(now_at - zero)
    deeper_words = str(step.extra.get("direction", "")) if deeper else ""
    change = setting.position - now_at
    direction = "" if step.zeroed_dials else _direction(dial, change, deeper_words, setting_direction)
    if step.action == "set" and setting_direction and was_undone(state, setting.dial):
        # An undo turns no handle, so the slide's position and the direction from that position are not known.
        direction = ""
    if is_along:
        # During the cut no dial goes past its mark and back.
        direction = direction.partition(", past it")[0]
    elif step.action == "cut" and dial.per_turn is not None and abs(setting.position - zero) < abs(now_at - zero):
        # If a slide is wound back straight to its mark, it is too deep by the backlash of its screw.
        direction += " past it, then back to it"
    return DialView(
        name=dial_words(dial.name),
        number=dial.number_text(value),
        unit=dial.unit,
        turns=turns_words(dial, setting, zero),
        direction=direction,
    )


def _readout_shown(setting: Setting) -> DialView:
    """Return what to show for a readout that is not in the lathe file, such as the x or y readout of a mill."""
    number = f"{float(setting.position):.3f}"
    return DialView(name=setting.dial, number=number, unit=setting.unit, turns="", direction="")


def turns_words(dial: Dial, setting: Setting, zero: Fraction) -> str:
    """Return the words for the full turns, which come before the dial's number on the screen: "2 full turns and".

    If the dial was not set to 0 at touch-off, the words say how often the dial's 0 mark passes. `zero`: the dial's
    reading at touch-off.
    """
    if dial.per_turn is None:
        return ""
    if zero == 0:
        turns = dial.handle_turns(setting)
        return f"{turns} full turn{'s' if turns != 1 else ''} and" if turns else ""
    if counts_in_size(dial, zero):
        return f"size {dial.reading_text(setting.position)}, at"
    passed = times_past_0(dial, setting, zero)
    return {0: "", 1: "past its 0 once, to"}.get(passed, f"past its 0 {passed} times, to")


def dial_position(lathe: Lathe, state: State, dial_name: str) -> Fraction:
    """Return the present position of a dial, counted from its zero.

    If no step has set the dial since touch-off, return its reading at touch-off; 0 if it was set to 0 there.
    """
    zero, left = state.zeros.get(dial_name, Fraction(0)), slide_left_at(state, dial_name)
    for step in state.done_latest_first():
        if left is not None and step.id <= left.last_id:
            return left.position
        if dial_name in step.zeroed_dials:
            return zero
        for setting in shown_settings(lathe, state, step):
            if setting.dial == dial_name:
                return setting.position
    return zero


def was_undone(state: State, dial_name: str) -> bool:
    """Return whether the event that last set a dial was undone."""
    for event in state.machine_events_latest_first():
        if event.step is not None and any(setting.dial == dial_name for setting in event.step.settings):
            return event.undone
    return False


def _setting_direction(state: State) -> Callable[[str, bool], str] | None:
    kind = kind_of(state.plan_input.kind)
    of_kind = None if kind is None else kind.operation.cut_direction
    if of_kind is None:
        return None
    return partial(of_kind, state.plan_input.parameters)


def _direction(
    dial: Dial, change: Fraction, deeper_words: str = "", setting_direction: Callable[[str, bool], str] | None = None
) -> str:
    """Return the direction in which to turn a dial, such as "clockwise, inwards".

    `change`: the change of the dial's position. Where "inwards" and "outwards" are not clear, `deeper_words` or
    `setting_direction` gives the words for the slide's direction.
    """
    if change == 0:
        return "leave it"
    inwards = (change > 0) == dial.rising_inwards
    direction = deeper_words or ("inwards" if inwards else "outwards")
    if setting_direction is not None:
        direction = setting_direction(dial.name, inwards)
    if dial.clockwise_goes is None:
        return direction
    clockwise = inwards == (dial.clockwise_goes == "in")
    return f"{'clockwise' if clockwise else 'anticlockwise'}, {direction}"


def _also(lathe: Lathe, state: State, step: Step, setting: Setting) -> str:
    name, dial = dial_words(setting.dial), lathe.dials.get(setting.dial)
    on_table = step.action == "index" and any(one.dial == TABLE for one in step.settings)
    if dial is not None and on_table and setting.position != dial_position(lathe, state, dial.name):
        shown = _dial_shown(lathe, state, step, setting)
        return f"{name} to {shown.turns} {shown.number} {shown.unit}, {shown.direction}".replace("  ", " ")
    if dial is None:
        shown = _readout_shown(setting)
        return f"{name} at {shown.number} {shown.unit}"
    if setting.position == 0 and dial.per_turn is not None:
        return f"{name} at 0, in the same turn"
    if dial.name == HEAD and not state.zeros.get(HEAD):
        from core.operations.patterns.boring_head import head_shown

        # A boring head is set below its zero as often as above it.
        return f"{name} at {head_shown(dial, setting)}"
    zero = state.zeros.get(setting.dial, Fraction(0))
    # The mark may be next to the dial's reading at touch-off.
    back = dial.per_turn is not None and dial.name != HEAD and abs(setting.position - zero) < dial.graduation
    same_turn = ", in the same turn" if back else ""
    return f"{name} at {place_words(dial, setting, zero)}{same_turn}"


def _amounts(lathe: Lathe, state: State, step: Step) -> str:
    if step.removed_mm is None or step.remaining_mm is None:
        return ""
    if step.action == "spring":
        if "shoulder_mm" in step.extra:
            return f"Takes {lathe.length_text(float(step.extra['shoulder_mm']))} off the shoulder."
        return f"Cuts only the metal that sprang away; {pass_length_text(step.remaining_mm, step, lathe)} to go."
    off = " off the radius" if on_the_radius(state.plan_input.kind, step) else ""
    takes, to_go = (pass_length_text(amount, step, lathe) for amount in (step.removed_mm, step.remaining_mm))
    return f"{takes} deeper; {to_go} to go." if is_drilled(step) else f"Takes {takes}{off}; {to_go} to go."


def _reading(dial: Dial, setting: Setting, zero: Fraction) -> str:
    """Return a setting in short form: "0.94", or "1 turn 0.22" for a dial that was set to 0.

    The turns can be counted only from 0. `zero`: the dial's reading at touch-off.
    """
    turns = 0 if zero else dial.handle_turns(setting)
    number = dial.number_text(setting.position if setting.reading is None else setting.reading)
    return f"{turns} turn{'s' if turns > 1 else ''} {number}" if turns else number


def _set_to(lathe: Lathe, state: State, setting: Setting) -> str:
    """Return a dial's name and its setting with turns and unit, such as "compound 1 turn 0.22 mm"."""
    dial = lathe.dials.get(setting.dial)
    if dial is None:
        shown = _readout_shown(setting)
        return f"{shown.name} {shown.number} {shown.unit}".rstrip()
    return f"{dial_words(dial.name)} {_reading(dial, setting, state.zeros.get(dial.name, Fraction(0)))} {dial.unit}"


def _short(lathe: Lathe, state: State, step: Step, unknown: Collection[str] = ()) -> str:
    """Return a step in two or three words: its dial reading, or otherwise its title.

    `unknown`: the dials whose reading at touch-off has not been entered yet, so that their later readings are not
    known.
    """
    settings = shown_settings(lathe, state, step)
    if step.action == "cut" and settings and settings[0].dial in unknown:
        return "cut"
    if step.feeds_along:
        return "feed along"
    if step.action in {"cut", "spring"} and settings:
        zero = state.zeros.get(settings[0].dial, Fraction(0))
        dial = lathe.dials.get(settings[0].dial)
        reading = step.text if dial is None else _reading(dial, settings[0], zero)
        # Between positions of the table, a number without a name could belong to either dial.
        name = f"{dial_words(settings[0].dial)} " if step.at.position else ""
        return "spring pass" if step.action == "spring" else name + reading
    if step.action == "index" and step.at.position:
        return f"position {step.at.position}{_short_place(step)}"
    title = step.title or _old_title(step)
    return title[:1].lower() + title[1:]


def coming_steps(lathe: Lathe, state: State, count: int) -> tuple[str, ...]:
    """Return in short form the `count` steps after the current step, such as "Pass 3: 0.76 mm" or "Measure"."""
    cursor, number = state.cursor, state.pass_number
    unknown = cursor.zeroed_dials if cursor is not None and cursor.required else ()
    lines = []
    for step in state.upcoming(count):
        words = _short(lathe, state, step, unknown)
        if step.action == "cut":
            number += 1
            dial = lathe.dials.get(step.settings[0].dial) if step.settings else None
            unit = f" {dial.unit}" if dial is not None and words != "cut" and not step.feeds_along else ""
            words = f"pass {number}: {words}{unit}"
        elif step.zeroed_dials and step.action != "check":
            dials = [name for name in map(dial_words, step.zeroed_dials) if name not in words]
            words = f"{words}: {' and '.join(dials)}" if dials else words
        elif step.action == "check" and ":" not in step.text[: _LONGEST_KIND + 1]:
            words = f"by hand: {step.text}"
        lines.append(words[:1].upper() + words[1:])
    return tuple(lines)


def _short_place(step: Step) -> str:
    """Return the reading of the rotary table's dial, such as " at 12°30'"; "" if the step does not set this dial."""
    setting = step.setting(TABLE)
    if setting is None or setting.reading is None:
        return ""
    return f" at {dms_text(setting.reading, ARCSECOND)}"


def hours_and_minutes(time_ms: int) -> str:
    """Return a time [ms] in words, as hours and minutes.

    >>> hours_and_minutes(4_980_000)
    '1 h 23 min'
    """
    hours, minutes = divmod(time_ms // 60_000, 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"
