"""The blank a thread is cut from: what to turn a bar, or bore a hole, to."""

from core.threads.thread import Thread


def blank_default_mm(thread: Thread) -> float:
    """Return the diameter of the blank (inside: of the bore) where none was measured [mm].

    The middle of the limits of the crest: outside the major, inside the minor
    diameter; the basic size where the standard does not limit it.

    >>> from core.threads.designation import read_thread
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
