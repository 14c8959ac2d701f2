"""The lines of the thread dial (thread dial indicator) on which the turner may close the half nuts.

The rule is derived here from first principles. While the half nuts are open, the leadscrew turns the dial. Let n be the
number of leadscrew threads from the point at which the half nuts were first closed. The half nuts close only at a whole
n. The tool then meets its groove again only if n leadscrew pitches are a whole number of leads. Line j of M lines, on a
wheel of T teeth, passes the fixed mark at n = jT/M. In every further turn of the dial, the line passes T threads later.
"""

from fractions import Fraction
from typing import NamedTuple

from core.values.errors import PlanError


class DialUse(NamedTuple):
    """One wheel of the thread dial, with the lines on which the half nuts may be closed for a thread."""

    teeth: int
    lines: int
    """The number of evenly spaced lines on the dial of this wheel."""
    use: tuple[int, ...]
    """The lines that suit at every turn of the dial, counted from the first line used (0); () if none does."""
    anywhere: bool
    """True if the half nuts may be closed at any point where they close."""


def thread_dial_uses(
    lead: Fraction, screw_pitch: Fraction, wheels: tuple[tuple[int, int], ...], *, exact: bool = True
) -> tuple[DialUse, ...]:
    """Return the usable lines of every wheel of the thread dial, the best wheel first.

    The best wheel makes the turner wait for the fewest leadscrew threads. Among equal waits, a wheel with fewer lines
    that must be skipped comes first, then a smaller wheel.
    lead: the lead of the thread [mm]; screw_pitch: the pitch of the leadscrew [mm]; both exact and above 0.
    wheels: the teeth and the lines of each wheel. exact: False if the change gears only come near the lead, so that no
    line can be used.
    Raise PlanError for a lead, a pitch or a count that is not above 0.
    The rule is derived in the docstring of this module.

    >>> [use.use for use in thread_dial_uses(Fraction(2), Fraction(3), ((16, 4), (14, 2)))]
    [(0, 1, 2, 3), (0,)]
    """
    _refuse_not_above_0(lead, "lead")
    _refuse_not_above_0(screw_pitch, "leadscrew")
    for count in (number for wheel in wheels for number in wheel):
        _refuse_not_above_0(count, "thread_dial")
    leads_per_thread = screw_pitch / lead
    uses = (_use(teeth, lines, leads_per_thread, exact) for teeth, lines in wheels)
    return tuple(sorted(uses, key=_rank))


def nut_stays_closed(
    lead: Fraction, screw_pitch: Fraction, wheels: tuple[tuple[int, int], ...], *, exact: bool = True
) -> bool:
    """Return True if the half nuts must stay closed, so that the reversed spindle brings the carriage back.

    lead: the lead of the thread [mm]; screw_pitch: the pitch of the leadscrew [mm]; both exact and above 0. wheels: the
    teeth and the lines of each wheel of the thread dial. exact: False if the change gears only come near the lead.
    Without a thread dial, the half nuts may be opened if the tool meets its groove wherever they close.
    Raise PlanError for a lead, a pitch or a count that is not above 0.

    >>> nut_stays_closed(Fraction(3, 2), Fraction(254, 80), ((16, 8),))
    True
    """
    if any(use.use for use in thread_dial_uses(lead, screw_pitch, wheels, exact=exact)):
        return False
    return not (exact and _is_whole(screw_pitch / lead))


def dial_use_words(use: DialUse) -> str:
    """Return the instruction for closing the half nuts with one wheel of the thread dial, without a full stop.

    >>> dial_use_words(DialUse(teeth=16, lines=4, use=(0, 2), anywhere=False))
    'close the half nuts on every 2nd line (0, 2), counted from the line first used'
    """
    if not use.use and not use.anywhere:
        return "keep the half nuts closed and reverse the spindle"
    some = not use.anywhere and 1 < len(use.use) < use.lines
    return f"close the half nuts {closing_place(use)}{', counted from the line first used' if some else ''}"


def closing_place(use: DialUse) -> str:
    """Return a phrase for the lines on which to close the half nuts. Line 0 is the first line that the turner used.

    >>> closing_place(DialUse(teeth=16, lines=4, use=(0, 2), anywhere=False))
    'on every 2nd line (0, 2)'
    """
    if use.anywhere:
        return "wherever they engage"
    if len(use.use) == use.lines:
        return "on any line"
    if len(use.use) == 1:
        return "on one line only, the line first used"
    numbers = ", ".join(str(line) for line in use.use)
    return f"on every {_ordinal(use.lines // len(use.use))} line ({numbers})"


def _use(teeth: int, lines: int, leads_per_thread: Fraction, exact: bool) -> DialUse:
    use: tuple[int, ...] = ()
    # One turn of the dial must be whole leads. Otherwise not even the same line suits at every turn.
    if exact and _is_whole(teeth * leads_per_thread):
        places = [Fraction(line * teeth, lines) for line in range(lines)]
        use = tuple(line for line, n in enumerate(places) if _is_whole(n) and _is_whole(n * leads_per_thread))
    return DialUse(teeth=teeth, lines=lines, use=use, anywhere=exact and _is_whole(leads_per_thread))


def _rank(use: DialUse) -> tuple[bool, Fraction, Fraction, int]:
    """Return a sort key that puts the best wheel first. The usable lines are evenly spaced, so all waits are equal."""
    if not use.use:
        return True, Fraction(0), Fraction(0), use.teeth
    wait = Fraction(1) if use.anywhere else Fraction(use.teeth, len(use.use))
    return False, wait, Fraction(use.lines, len(use.use)), use.teeth


def _is_whole(number: Fraction) -> bool:
    return number.denominator == 1


def _ordinal(number: int) -> str:
    endings = {1: "st", 2: "nd", 3: "rd"}
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{endings.get(number % 10, 'th')}"


def _refuse_not_above_0(number: Fraction | int, field: str) -> None:
    if not number > 0:
        raise PlanError(f"A {field.replace('_', ' ')} of {number} is not possible. Enter more than 0.", field=field)
