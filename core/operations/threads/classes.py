"""Which other classes of its standard a thread keeps, and what else can be saved of one cut too far."""

from core.lathe.lathe import Lathe
from core.operations.threads.designation import read_thread
from core.operations.threads.job import ThreadJob
from core.operations.threads.thread import Thread
from core.values.errors import ThreadError

_CLASSES: dict[tuple[str, bool], tuple[str, ...]] = {
    ("metric", False): ("4h", "6h", "6g", "6f", "6e", "8g", "8e"),
    ("metric", True): ("5H", "6H", "7H", "8H", "6G", "7G", "8G"),
    ("unified", False): ("3A", "2A", "1A"),
    ("unified", True): ("3B", "2B", "1B"),
    ("whitworth", False): ("close", "medium", "free"),
    ("whitworth", True): ("close", "medium", "normal"),
    ("bsp", False): ("A", "B"),
    ("ba", False): ("close", "normal"),
    ("trapezoidal", False): ("7e", "8e", "8c", "9c"),
    ("trapezoidal", True): ("7H", "8H", "9H"),
    ("acme", False): ("4G", "3G", "2G"),
    ("acme", True): ("4G", "3G", "2G"),
}
"""Classes worth naming, by system and side, the finer first."""


def other_classes(thread: Thread) -> tuple[Thread, ...]:
    """Return the same thread in the other classes that its standard has, the finer first.

    >>> [other.tolerance_class for other in other_classes(read_thread("1/4-20 UNC-2A"))]
    ['3A', '1A']
    """
    if not thread.tolerance_class:
        return ()
    before, own, after = thread.designation.rpartition(thread.tolerance_class)
    found = []
    for name in _CLASSES.get((thread.system, thread.internal), ()):
        if name != own:
            try:
                found.append(read_thread(before + name + after, side="inside" if thread.internal else "outside"))
            except ThreadError:
                # Not every size has every class.
                continue
    return tuple(found)


def classes_kept(thread: Thread, pitch_diameter_mm: float, crest_mm: float) -> tuple[str, ...]:
    """Return the other classes whose limits hold this pitch diameter and this crest.

    crest_mm: the blank, inside the bore, as measured [mm].

    >>> classes_kept(read_thread("M30x3.5-6g"), 27.40, 29.75)
    ('8g', '8e')
    """
    return tuple(other.tolerance_class for other in other_classes(thread) if _keeps(other, pitch_diameter_mm, crest_mm))


def _keeps(thread: Thread, pitch_diameter_mm: float, crest_mm: float) -> bool:
    limits = thread.limits
    crest = (
        (limits.minor_min_mm, limits.minor_max_mm) if thread.internal else (limits.major_min_mm, limits.major_max_mm)
    )
    pitch = (limits.pitch_diameter_min_mm, limits.pitch_diameter_max_mm)
    return _within(pitch_diameter_mm, pitch) and _within(crest_mm, crest)


def _within(size_mm: float, limits: tuple[float | None, float | None]) -> bool:
    least, largest = limits
    return (least is None or size_mm >= least) and (largest is None or size_mm <= largest)


def what_is_saved(job: ThreadJob, lathe: Lathe, pitch_diameter_mm: float, over_mm: float) -> str:
    """Say what a thread cut `over_mm` past its limits can still be. Common practice, no source, but for the classes."""
    kept = classes_kept(job.thread, pitch_diameter_mm, job.blank_mm)
    size = "larger" if job.thread.internal else "smaller"
    suited = f"a mating part made to suit, its pitch diameter {lathe.length_text(over_mm)} {size} than usual"
    again = "bore it out for the next larger thread" if job.thread.internal else "turn it off for a smaller thread"
    if kept:
        return f"it is still inside class {', '.join(kept)}; else {suited}, or {again}"
    return f"no other class of its standard takes it; what is left is {suited}, or {again}"
