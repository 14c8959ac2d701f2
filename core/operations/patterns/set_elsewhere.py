"""Plans the remaining steps again after a slide, or the end of an arc, was set to another reading than planned."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from core.inputs import SetTo
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.handle_dial import TABLE
from core.operations.dividing.replanning import AS_SET
from core.operations.patterns.layers import PatternJob
from core.plan import Step
from core.values.angles import dms_text
from core.values.dials import Setting
from core.values.errors import PlanError

_SET_SO = ", as set"


def sets_another_dial(open_steps: Sequence[Step], entered: SetTo, job: PatternJob) -> bool:
    """Return whether an input gives a real setting for the slide that sets the offset, or for the end of an arc.

    `open_steps`: the remaining steps, the current step first.
    """
    if not open_steps or open_steps[0].setting(entered.dial) is None:
        return False
    first = open_steps[0]
    if entered.dial == TABLE:
        return first.feeds_along
    return first.action in {"index", "cut"} and entered.dial == job.offset_dial


def set_elsewhere(steps: Sequence[Step], entered: SetTo, lathe: Lathe) -> list[Step]:
    """Return the remaining steps, the first with the real setting of its slide or of the end of its arc.

    Raises PlanError for a reading between two marks.
    """
    first = steps[0]
    planned = first.setting(entered.dial)
    if planned is None:
        raise PlanError("The next step does not set this dial.", field="position")
    off, finding = _off(lathe, planned, entered.position)
    as_set = _with_position(lathe, planned, entered.position)
    name = first.name.removesuffix(_SET_SO) + _SET_SO
    settings = tuple(as_set if setting == planned else setting for setting in first.settings)
    again = replace(
        first,
        title=name,
        text=f"{name}: {dial_words(entered.dial)} at {_shown(lathe, as_set, entered.shown)}",
        settings=settings,
        findings=(finding,) if off else (),
        extra={**first.extra, AS_SET: True},
    )
    return [again, *steps[1:]]


def _shown(lathe: Lathe, setting: Setting, shown: str) -> str:
    return shown if setting.dial == TABLE else lathe.dial(setting.dial).setting_text(setting)


def _with_position(lathe: Lathe, planned: Setting, position: Fraction) -> Setting:
    if planned.dial == TABLE:
        table = lathe.rotary_table
        per_turn = Fraction(360) / (table.ratio if table is not None else 1)
        turns, reading = divmod(position, per_turn)
        exact = planned.position - Fraction(planned.rounding)
        return planned._replace(position=position, turns=int(turns), reading=reading, rounding=float(position - exact))
    dial = lathe.dial(planned.dial)
    exact_mm = float((planned.position - Fraction(planned.rounding)) * dial.mm_per_unit)
    return dial.at_marks(round(dial.marks_at(position)), exact_mm if dial.rising_inwards else -exact_mm)


def _off(lathe: Lathe, planned: Setting, position: Fraction) -> tuple[Fraction, str]:
    """Return the difference between a real and a planned setting, as a number and in a sentence.

    `position`: the real setting. The number is in the unit of the dial, or in degrees for the table.
    """
    off = position - planned.position
    if planned.dial == TABLE:
        return (
            off,
            f"This arc ends {dms_text(abs(off))} {'further' if off > 0 else 'earlier'}. The other arcs stay as "
            "planned.",
        )
    dial = lathe.dial(planned.dial)
    amount = lathe.length_text(abs(float(off * dial.mm_per_unit)))
    finding = f"The slide is {amount} off at this position. The other positions are set from zero, so they stay right."
    return off, finding
