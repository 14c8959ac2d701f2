"""Reads a figure of a thread by the name that a printed table gives it."""

from collections.abc import Callable

from core.threads.designation import read_thread
from core.threads.thread import Limits, Thread
from tests.published import Printed

UNIT_MM = {"mm": 1.0, "in": 25.4}
_BASIC: dict[str, Callable[[Thread], float]] = {
    "pitch": lambda thread: thread.pitch_mm,
    "basic major diameter": lambda thread: thread.major_basic_mm,
    "basic pitch diameter": lambda thread: thread.pitch_diameter_basic_mm,
    "basic minor diameter": lambda thread: thread.minor_basic_mm,
    "thread depth": lambda thread: (
        thread.major_basic_mm - thread.pitch_diameter_basic_mm  # rounded crest and root: the whole depth
    ),
    "total height of thread": lambda thread: (thread.major_basic_mm - thread.minor_basic_mm) / 2,
    "root radius": lambda thread: thread.root_radius_mm,
    "external allowance": lambda thread: thread.major_basic_mm - _size(thread.limits, "major", "max"),
    "external pitch diameter allowance": lambda thread: (
        thread.pitch_diameter_basic_mm - _size(thread.limits, "pitch_diameter", "max")
    ),
    "external minor diameter max, root radius H/6": lambda thread: (
        _size(thread.limits, "pitch_diameter", "max") - 2 * thread.root_depth_mm
    ),
    "external minor diameter max, UN flat root": lambda thread: (
        thread.minor_basic_mm - thread.major_basic_mm + _size(thread.limits, "major", "max")
    ),
}


def figure(row: Printed) -> float:
    """Return the figure that the row prints, in the row's unit, as the core works it out."""
    side = "inside" if row.quantity.startswith("internal") else "outside"
    thread = read_thread(row.inputs["designation"], side=side)
    unit_mm = UNIT_MM[row.inputs["unit"]]
    if row.quantity in _BASIC:
        return _BASIC[row.quantity](thread) / unit_mm
    # Such as "external pitch diameter max" or "internal minor diameter tolerance".
    _, which, *_, what = row.quantity.split()
    which = {"pitch": "pitch_diameter"}.get(which, which)
    if what == "tolerance":
        return (_size(thread.limits, which, "max") - _size(thread.limits, which, "min")) / unit_mm
    return _size(thread.limits, which, what) / unit_mm


def name_of(row: Printed) -> str:
    """Return a name for the test of one row."""
    return f"{row.inputs['designation']} {row.quantity}"


def _size(limits: Limits, which: str, end: str) -> float:
    size = getattr(limits, f"{which}_{end}_mm")
    assert isinstance(size, float), f"{which} {end} has no limit"
    return size
