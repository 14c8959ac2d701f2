"""Compares the sizes that core calculates with printed sizes of threads."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction
from functools import cache

from core.operations.threads.designation import read_thread
from core.operations.threads.thread import Limits, Thread
from tests.published import Printed, printed_rows

UNIT_MM = {"mm": 1.0, "in": 25.4, "to the inch": 1.0}
_BASIC: dict[str, Callable[[Thread], float]] = {
    "pitch": lambda thread: thread.pitch_mm,
    "threads to the inch": lambda thread: 25.4 / thread.pitch_mm,
    "basic major diameter": lambda thread: thread.major_basic_mm,
    "basic pitch diameter": lambda thread: thread.pitch_diameter_basic_mm,
    "basic minor diameter": lambda thread: thread.minor_basic_mm,
    "thread depth": lambda thread: (
        thread.major_basic_mm - thread.pitch_diameter_basic_mm  # A rounded crest and root: the whole depth.
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
    "external minor diameter max, flat root": lambda thread: (
        thread.minor_basic_mm - thread.major_basic_mm + _size(thread.limits, "major", "max")
    ),
}
_read_once = cache(read_thread)


def by_designation(*tables: str) -> dict[str, list[Printed]]:
    """Return the printed rows of the named files, by the thread of each row."""
    blocks: dict[str, list[Printed]] = defaultdict(list)
    for table in tables:
        for row in printed_rows(table):
            blocks[row.inputs["designation"]].append(row)
    return blocks


def wrong_rows(rows: Iterable[Printed]) -> list[str]:
    """Return a message for each printed row that disagrees with the program."""
    lines = []
    for row in rows:
        designation, unit = row.inputs["designation"], row.inputs["unit"]
        found = figure(designation, row.quantity, unit)
        if abs(found - float(row.printed)) > row.tolerance + 1e-9:
            lines.append(f"{designation}, {row.quantity}: {row.printed} in {row.source}, here {found:.6f} {unit}")
    return lines


def wrong_sizes(designation: str, unit: str, worked_out: Mapping[str, Fraction], *, within: float = 1e-7) -> list[str]:
    """Return a message for each size that differs from the calculated size, rounded as in its standard."""
    lines = []
    for quantity, size in worked_out.items():
        found = figure(designation, quantity, unit)
        if abs(found - float(size)) > within:
            lines.append(f"{designation}, {quantity}: worked out {float(size)}, here {found:.6f} {unit}")
    return lines


def figure(designation: str, quantity: str, unit: str) -> float:
    """Return a printed quantity of a thread in the wanted unit, as core calculates it."""
    side = "inside" if quantity.startswith("internal") else "outside"
    thread = _read_once(designation, side=side)
    unit_mm = UNIT_MM[unit]
    if quantity in _BASIC:
        return _BASIC[quantity](thread) / unit_mm
    # Such as "external pitch diameter max" or "internal minor diameter tolerance".
    _, which, *_, what = quantity.split()
    which = {"pitch": "pitch_diameter"}.get(which, which)
    if what == "tolerance":
        return (_size(thread.limits, which, "max") - _size(thread.limits, which, "min")) / unit_mm
    return _size(thread.limits, which, what) / unit_mm


def _size(limits: Limits, which: str, end: str) -> float:
    size = getattr(limits, f"{which}_{end}_mm")
    assert isinstance(size, float), f"{which} {end} has no limit"
    return size
