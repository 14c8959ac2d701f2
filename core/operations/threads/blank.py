"""The blank a thread is cut from: what to turn a bar, or bore a hole, to."""

from core.operations.threads.thread import Say, Thread
from core.values.errors import PlanError
from core.values.quantities import mm_text

_LEAST_ROOM_MM = 0.5
"""So far off on the diameter a blank is always planned, with a caution; else a pitch; common practice, no source."""


def blank_default_mm(thread: Thread) -> float:
    """Return the diameter of the blank (inside: of the bore) where none was measured [mm].

    The middle of the limits of the crest: outside the major, inside the minor
    diameter; the basic size where the standard does not limit it.

    >>> from core.operations.threads.designation import read_thread
    >>> [round(blank_default_mm(read_thread(text)), 4) for text in ("M30x3.5-6g", "M10-6H")]
    [29.7345, 8.526]
    """
    limits = thread.limits
    largest, least = limits.major_max_mm, limits.major_min_mm
    basic = thread.major_basic_mm
    if thread.internal:
        largest, least, basic = limits.minor_max_mm, limits.minor_min_mm, thread.minor_basic_mm
    if largest is None or least is None:
        return basic
    return (largest + least) / 2


def refuse_blank(thread: Thread, blank_mm: float, say: Say = mm_text) -> None:
    """Raise PlanError for a blank far above the crest of its thread (inside: a bore far below it).

    What is a slip of the hand must not plan hundreds of passes. A blank a little off, up to a
    pitch on the diameter, is planned with a caution. `say` words a length [mm].

    >>> from core.operations.threads.designation import read_thread
    >>> refuse_blank(read_thread("M27"), 28.5)
    """
    limits, room_mm = thread.limits, max(thread.pitch_mm, _LEAST_ROOM_MM)
    if thread.internal:
        crest_mm = thread.minor_basic_mm if limits.minor_min_mm is None else limits.minor_min_mm
        bound_mm, is_off = crest_mm - room_mm, blank_mm < crest_mm - room_mm
        what, advice = "bore", f"at least {say(bound_mm)}: bore a smaller hole out first"
    else:
        crest_mm = thread.major_basic_mm if limits.major_max_mm is None else limits.major_max_mm
        bound_mm, is_off = crest_mm + room_mm, blank_mm > crest_mm + room_mm
        what, advice = "blank", f"at most {say(bound_mm)}: turn a larger bar down first"
    if is_off:
        raise PlanError(
            f"a {what} of {say(blank_mm)} is far off {thread.designation}, whose crest is at {say(crest_mm)}. "
            f"Enter {advice}",
            field="blank",
        )
