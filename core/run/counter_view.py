"""What the counter shows of a run, in words and numbers ready to be painted."""

from collections.abc import Callable, Collection
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from core.events.state import State
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.by_dial import TABLE
from core.operations.pass_words import on_the_radius, pass_length_text
from core.operations.patterns.head_dial import HEAD
from core.operations.registry import kind_of
from core.plan import Step
from core.run.progress import shown_settings, shown_text
from core.values.angles import dms_text
from core.values.dials import Dial, DialShown, Setting, counts_in_size, place_words, times_past_0

if TYPE_CHECKING:
    from core.run.movements import Movements
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
    """Everything the counter shows of the step at hand."""

    title: str
    text: str
    dial: DialShown | None
    """The dial to be set at this step; None where nothing is set."""
    also: tuple[str, ...]
    """What else must stand where: "cross-slide at 0, in the same turn"."""
    amounts: str
    """What this pass takes off and what is still to go."""
    set_to: str
    """The dial as the log line says it: "compound 1 turn 0.22 mm"; "" where nothing is set."""
    before: str
    coming: tuple[str, ...]
    findings: tuple[str, ...]
    """What a measurement has just shown, at the step planned from it."""
    cautions: tuple[str, ...]
    """What to beware of at this step, one at most but in runs of the first version."""
    hands: tuple[str, ...]
    """The movements of this pass, in order, ending with the key."""
    done: int
    total: int


def counter_view(lathe: Lathe, state: State, movements: "Movements") -> CounterView:
    """Return what to show of a run; `lathe` is the one it was planned for, `movements` those of its operation."""
    step, last = state.cursor, state.last_done
    if step is None:
        return _ended(state)
    # A dial whose reading is to be entered stays where it is: a number would be taken for one to set.
    entered = step.zeroed_dials if step.required else ()
    settings = [setting for setting in shown_settings(lathe, state, step) if setting.dial not in entered]
    table, main = _table(lathe, state, step)
    others = [setting for setting in settings if setting.dial != TABLE]
    set_to = "" if main is None else f"{main.name} {main.large or main.number} {main.unit}".rstrip()
    if main is None and others:
        # Both readouts of a mill belong to one place.
        readouts = [setting for setting in others if setting.dial not in lathe.dials]
        set_to = ", ".join(_set_to(lathe, state, setting) for setting in readouts or others[:1])
        main = _dial_shown(lathe, state, step, others.pop(0))
    return CounterView(
        title=_title(state, step),
        text=table.text if table else shown_text(lathe, state, step),
        dial=main,
        also=tuple(_also(lathe, state, setting) for setting in others),
        amounts=_amounts(lathe, state, step),
        set_to=set_to,
        before="" if last is None else _short(lathe, state, last),
        coming=tuple(_short(lathe, state, coming, entered) for coming in state.upcoming(3)),
        findings=step.findings,
        # Where the table is not certainly where it was, that comes before all else.
        cautions=(table.caution,) if table and table.caution else step.cautions,
        hands=movements(state),
        done=state.steps_done,
        total=state.steps_done + state.steps_open,
    )


def _table(lathe: Lathe, state: State, step: Step) -> "tuple[TableView | None, DialShown | None]":
    """Return what the rotary table shows at a step that turns it or sets it to zero, and its dial."""
    if all(setting.dial != TABLE for setting in step.settings):
        return None, None
    # A thread's counter needs nothing of dividing, and is there sooner without it.
    from core.run.table_view import table_view, zero_shown

    table = table_view(lathe, state, step)
    return table, table.dial if table else zero_shown(state, step)


def _ended(state: State) -> CounterView:
    words = {"finished": "Finished", "abandoned": "Abandoned"}.get(state.status, "All steps are done")
    return CounterView(
        title=words,
        text="Everything is logged. One more key ends this run." if state.status == "running" else "",
        dial=None,
        also=(),
        amounts="",
        set_to="",
        before="",
        coming=(),
        findings=(),
        cautions=(),
        hands=(),
        done=state.steps_done,
        total=len(state.steps),
    )


def _title(state: State, step: Step) -> str:
    if step.action == "cut":
        count = f"pass {state.pass_number} of {state.pass_count}"
        return f"{step.name}, {count}" if step.at.position else count.capitalize()
    if step.action == "index" and step.at.position and step.at.of:
        layer = f"Layer {step.at.layer}: " if step.at.layer else ""
        return f"{layer}{step.at.position} of {step.at.of}"
    return step.title or _old_title(step)


def _old_title(step: Step) -> str:
    """Return what kind of step it is, where it has no title: as the first version planned it."""
    if step.zeroed_dials and step.action != "check":
        return _zero_title(step)
    head, colon, _ = step.text.partition(":")
    return head if colon and len(head) <= _LONGEST_KIND and step.action == "check" else _TITLES[step.action]


def _zero_title(step: Step) -> str:
    if TABLE in step.zeroed_dials:
        return "Table to zero"
    if HEAD in step.zeroed_dials:
        return "Head to zero"
    return "Touch off" if step.expects else "Set to 0"


def _dial_shown(lathe: Lathe, state: State, step: Step, setting: Setting) -> DialShown:
    dial = lathe.dials.get(setting.dial)
    if dial is None:
        return _readout_shown(setting)
    value = setting.position if setting.reading is None else setting.reading
    zero = state.zeros.get(setting.dial, Fraction(0))
    # Before the table is turned the cutter is taken clear, so it comes in to every position anew.
    comes_in = step.action == "cut" and step.at.position is not None
    now_at = zero if comes_in else stands_at(lathe, state, setting.dial)
    # A dial that is set, not cut with: its operation may know better than in and out.
    way = _cut_direction(state) if step.action == "set" or dial.name == HEAD else None
    deeper = abs(setting.position - zero) > abs(now_at - zero)
    goes = str(step.extra.get("direction", "")) if deeper else ""
    direction = "" if step.zeroed_dials else _direction(dial, setting.position - now_at, goes, way)
    if step.action == "set" and way and was_undone(state, setting.dial):
        # An undo turns no handle: where the slide is, its reading tells, and no way from elsewhere.
        direction = ""
    if step.action == "cut" and dial.per_turn is not None and abs(setting.position - zero) < abs(now_at - zero):
        # Wound back to its mark a slide lies the play of its screw deeper than that says.
        direction += " past it, then back to it"
    return DialShown(
        name=dial_words(dial.name),
        number=dial.number_text(value),
        unit=dial.unit,
        turns=turns_words(dial, setting, zero),
        direction=direction,
    )


def _readout_shown(setting: Setting) -> DialShown:
    """Return a readout that no lathe file describes: a mill's x or y."""
    number = f"{float(setting.position):.3f}"
    return DialShown(name=setting.dial, number=number, unit=setting.unit, turns="", direction="")


def turns_words(dial: Dial, setting: Setting, zero: Fraction) -> str:
    """Say how often the handle has gone round; a dial that was not set to 0 passes its 0 mark instead."""
    if dial.per_turn is None:
        return ""
    if zero == 0:
        turns = dial.handle_turns(setting)
        return f"{turns} full turn{'s' if turns != 1 else ''} and" if turns else ""
    if counts_in_size(dial, zero):
        return f"size {dial.reading_text(setting.position)}, at"
    passed = times_past_0(dial, setting, zero)
    return {0: "", 1: "past its 0 once, to"}.get(passed, f"past its 0 {passed} times, to")


def stands_at(lathe: Lathe, state: State, dial_name: str) -> Fraction:
    """Return where a dial stands now: where the last step that set it left it, else at its zero."""
    zero = state.zeros.get(dial_name, Fraction(0))
    for step in state.done_latest_first():
        if dial_name in step.zeroed_dials:
            return zero
        for setting in shown_settings(lathe, state, step):
            if setting.dial == dial_name:
                return setting.position
    return zero


def was_undone(state: State, dial_name: str) -> bool:
    """Tell whether the step that set a dial last was undone since."""
    for act in state.machine_events_latest_first():
        if act.step is not None and any(setting.dial == dial_name for setting in act.step.settings):
            return act.undone
    return False


def _cut_direction(state: State) -> Callable[[str, bool], str] | None:
    kind = kind_of(state.plan_input.kind)
    return None if kind is None else kind.operation.cut_direction


def _direction(
    dial: Dial, change: Fraction, goes: str = "", cut_direction: Callable[[str, bool], str] | None = None
) -> str:
    """Say which way to turn for a change of the dial's count.

    `goes` and `cut_direction` say where to, where in and out do not.
    """
    if change == 0:
        return "as it stands"
    inwards = (change > 0) == dial.rising_inwards
    way = goes or ("inwards" if inwards else "outwards")
    if cut_direction is not None:
        way = cut_direction(dial.name, inwards)
    if dial.clockwise_goes is None:
        return way
    clockwise = inwards == (dial.clockwise_goes == "in")
    return f"{'clockwise' if clockwise else 'anticlockwise'}, {way}"


def _also(lathe: Lathe, state: State, setting: Setting) -> str:
    name, dial = dial_words(setting.dial), lathe.dials.get(setting.dial)
    if dial is None:
        shown = _readout_shown(setting)
        return f"{name} at {shown.number} {shown.unit}"
    if setting.position == 0 and dial.per_turn is not None:
        return f"{name} at 0, in the same turn"
    if dial.name == HEAD and not state.zeros.get(HEAD):
        from core.operations.patterns.head import head_shown

        # It goes below its zero as often as above.
        return f"{name} at {head_shown(dial, setting)}"
    zero = state.zeros.get(setting.dial, Fraction(0))
    # Its mark may be the one beside what it showed at touch-off.
    back = dial.per_turn is not None and dial.name != HEAD and abs(setting.position - zero) < dial.graduation
    same_turn = ", in the same turn" if back else ""
    return f"{name} at {place_words(dial, setting, zero)}{same_turn}"


def _amounts(lathe: Lathe, state: State, step: Step) -> str:
    if step.removed_mm is None or step.remaining_mm is None:
        return ""
    if step.action == "spring":
        return f"takes only what sprang away; {pass_length_text(step.remaining_mm, step, lathe)} to go on the radius"
    on = " on the radius" if on_the_radius(state.plan_input.kind, step) else ""
    takes, to_go = (pass_length_text(amount, step, lathe) for amount in (step.removed_mm, step.remaining_mm))
    return f"takes {takes}{on}; then {to_go} to go{on}"


def _reading(dial: Dial, setting: Setting, zero: Fraction) -> str:
    """Return a setting as short as it can be said: "0.94", "1 turn 0.22"; the mark alone where 0 was not set."""
    turns = 0 if zero else dial.handle_turns(setting)
    number = dial.number_text(setting.position if setting.reading is None else setting.reading)
    return f"{turns} turn{'s' if turns > 1 else ''} {number}" if turns else number


def _set_to(lathe: Lathe, state: State, setting: Setting) -> str:
    """Return a dial with all that it is set to, whole turns among it."""
    dial = lathe.dials.get(setting.dial)
    if dial is None:
        shown = _readout_shown(setting)
        return f"{shown.name} {shown.number} {shown.unit}".rstrip()
    return f"{dial_words(dial.name)} {_reading(dial, setting, state.zeros.get(dial.name, Fraction(0)))} {dial.unit}"


def _short(lathe: Lathe, state: State, step: Step, unknown: Collection[str] = ()) -> str:
    """Return a step in two or three words: its reading, or what kind it is.

    unknown: dials whose reading is only being entered; what they will show is not known yet.
    """
    settings = shown_settings(lathe, state, step)
    if step.action == "cut" and settings and settings[0].dial in unknown:
        return "cut"
    if step.action in {"cut", "spring"} and settings:
        zero = state.zeros.get(settings[0].dial, Fraction(0))
        dial = lathe.dials.get(settings[0].dial)
        reading = step.text if dial is None else _reading(dial, settings[0], zero)
        # Between positions of the table a bare number would not tell whose it is.
        name = f"{dial_words(settings[0].dial)} " if step.at.position else ""
        return "spring pass" if step.action == "spring" else name + reading
    if step.action == "index" and step.at.position:
        return f"position {step.at.position}{_short_place(step)}"
    return (step.title or _old_title(step)).lower()


def coming_steps(lathe: Lathe, state: State, count: int) -> tuple[str, ...]:
    """Return the next `count` steps after the one at hand, each with its reading: "Pass 3: 0.76 mm", "Measure"."""
    cursor, number = state.cursor, state.pass_number
    unknown = cursor.zeroed_dials if cursor is not None and cursor.required else ()
    lines = []
    for step in state.upcoming(count):
        words = _short(lathe, state, step, unknown)
        if step.action == "cut":
            number += 1
            dial = lathe.dials.get(step.settings[0].dial) if step.settings else None
            unit = f" {dial.unit}" if dial is not None and words != "cut" else ""
            words = f"pass {number}: {words}{unit}"
        elif step.zeroed_dials and step.action != "check":
            words = f"{words}: {' and '.join(map(dial_words, step.zeroed_dials))}"
        elif step.action == "check" and ":" not in step.text[: _LONGEST_KIND + 1]:
            words = f"by hand: {step.text}"
        lines.append(words[:1].upper() + words[1:])
    return tuple(lines)


def _short_place(step: Step) -> str:
    """Return where the table's dial is to stop, "" where it has none."""
    setting = step.setting(TABLE)
    if setting is None or setting.reading is None:
        return ""
    return f" at {dms_text(setting.reading, ARCSECOND)}"


def hours_and_minutes(time_ms: int) -> str:
    """Return a run's time as hours and minutes.

    >>> hours_and_minutes(4_980_000)
    '1 h 23 min'
    """
    hours, minutes = divmod(time_ms // 60_000, 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"
