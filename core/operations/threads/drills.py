"""The stock drills of a workshop: tapping drills for threads, and clearance holes for screws."""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from math import radians, tan
from typing import Literal, NamedTuple

from core.data import read_table
from core.operations.threads.thread import LengthText, Thread
from core.values.errors import QuantityError, ThreadError
from core.values.plain_text import clean, quoted
from core.values.quantities import LONGEST_TEXT, MM_PER_INCH, mm_text, number_text, read_quantity

Series = Literal["metric", "fractional", "number", "letter"]
FullDepth = Literal["3H/4", "5H/8", "full depth"]

FULL_DEPTH_WORDS: Mapping[FullDepth, str] = {
    "3H/4": "of 3H/4, the depth in tap charts",
    "5H/8": "of 5H/8, the basic depth",
    "full depth": "of the full depth of the form",
}
DRILL_EXAMPLES = "a drill such as 12 mm, 13/64 in, #7 or F"
"""The names of a drill that the user can enter, for refusals that start with "Enter"."""
PERCENT_WANTED = 75
"""The percentage of thread depth for which tap charts choose drills, so that a tap still turns easily."""

_BLUNT_DEG = 20
"""Trapezoidal and Acme threads have half angles below this angle. Their mating crest needs the whole depth."""

# Each range in hundredths of a millimetre: first, last, step; for sizes below 1 mm see `_metric`. BS 328 and
# ISO 235, from memory. Drills above 25 mm have a taper shank: common practice, no source.
_METRIC_STEPS = ((100, 295, 5), (300, 1390, 10), (1400, 3175, 25), (3200, 5000, 50))
# Each range in sixty-fourths of an inch: first, last, step. ASME B94.11M, from memory.
_FRACTIONAL_STEPS = ((1, 112, 1), (114, 128, 2))


class Drill(NamedTuple):
    """A stock drill with its diameter and its name, such as "#7", "F", "13/64" (inches) or "5.1 mm"."""

    name: str
    mm: float
    series: Series

    @property
    def text(self) -> str:
        """The drill's name with the unit of its size, such as "13/64 in"."""
        return drill_text(self.name)


class TappingDrill(NamedTuple):
    """The recommended tapping drill of a thread, and the percentage of the full thread depth that it leaves for the
    tap.
    """

    drill: Drill
    percent: float
    """Percent of the depth in `full_depth`. The same drill may leave 77 % of 3H/4 and 92 % of 5H/8."""
    full_depth: FullDepth


class ClearanceHole(NamedTuple):
    """The diameters of holes through which a screw passes freely [mm]: fine (H12), medium (H13) and coarse (H14) of ISO
    273.
    """

    fine_mm: float
    medium_mm: float
    coarse_mm: float


def drill_text(name: str) -> str:
    """Return the name of a drill with its unit. A name in plain fractions of an inch gets "in".

    >>> drill_text("13/64"), drill_text("#7"), drill_text("5.1 mm")
    ('13/64 in', '#7', '5.1 mm')
    """
    return f"{name} in" if name[-1:].isdigit() and not name.startswith("#") else name


@cache
def drill_series() -> Mapping[Series, tuple[Drill, ...]]:
    """Return the drills of every series, by the name of the series; each series is sorted by diameter.

    Source: ASME B94.11M for number, letter and fractional sizes; BS 328 and ISO 235 for metric sizes. Some sizes are
    from memory; core/data/drills.csv or a comment in this module says which.

    >>> [drill.name for drill in drill_series()["letter"][:3]]
    ['A', 'B', 'C']
    """
    return {
        "metric": _metric(),
        "fractional": _fractional(),
        "number": _listed("number"),
        "letter": _listed("letter"),
    }


def nearest_drills(diameter_mm: float) -> tuple[Drill, ...]:
    """Return, for every series, the nearest drills below and above a diameter [mm], or the drill of exactly that
    diameter.

    Beyond the end of a series, only one drill of that series is returned.

    >>> [drill.name for drill in nearest_drills(5.1)]
    ['5.1 mm', '3/16', '13/64', '#8', '#7', 'A']
    """
    neighbours: list[Drill] = []
    for drills in drill_series().values():
        not_above = bisect_right(drills, diameter_mm, key=lambda drill: drill.mm) - 1
        not_below = bisect_left(drills, diameter_mm, key=lambda drill: drill.mm)
        neighbours += drills[max(not_above, 0) : not_below + 1]
    return tuple(neighbours)


def read_drill(value: object) -> Drill:
    """Return the drill that the user entered: a stock drill ("#7", "F") or a diameter ("12 mm", "13/64 in").

    Raise QuantityError if the entry is neither.

    >>> read_drill("f").mm, read_drill("13/64 in").name
    (6.5278, '13/64 in')
    """
    name = value.strip().upper() if isinstance(value, str) else ""
    for series in ("number", "letter"):
        for drill in drill_series()[series]:
            if drill.name == name:
                return drill
    if name.startswith("#"):
        raise QuantityError(f"{quoted(value)} is not a number drill. Enter #1 to #80, or a size such as 6.8 mm.")
    quantity = read_quantity(value, "length", DRILL_EXAMPLES)
    if quantity.value <= 0:
        raise QuantityError(f"{quoted(value)} is too small. Enter {DRILL_EXAMPLES}.")
    return Drill(
        clean(str(value).strip(), LONGEST_TEXT), float(quantity.value), "fractional" if quantity.is_inch else "metric"
    )


def percent_of_thread(drill_mm: float, thread: Thread, full_depth: FullDepth) -> float:
    """Return the depth of thread that a tap cuts in a drilled hole, as a percentage of the full depth.

    drill_mm: the diameter of the hole [mm].
    full_depth: the name of the depth that counts as 100 %, one of those that `full_depths` returns.
    Source: 100 (D - hole) / (1.299 P) for 3H/4, and 100 (D - hole) / (1.0825 P) for 5H/8; handbooks and ISO 68-1.

    >>> from core.operations.threads.designation import read_thread
    >>> m6 = read_thread("M6", side="inside")
    >>> [round(percent_of_thread(5, m6, full)) for full in ("3H/4", "5H/8")]
    [77, 92]
    """
    return 100 * (thread.major_basic_mm - drill_mm) / (2 * _depth_mm(thread, full_depth))


def tapping_drill(thread: Thread) -> TappingDrill | None:
    """Return the stock drill for tapping an internal thread; None if no stock drill suits.

    The wanted hole is d - P for metric threads. It is D - P for trapezoidal and Acme threads, for which the next larger
    drill may be chosen. For all other threads it leaves 75 % of the full depth. Unified threads take number, letter and
    inch drills first; other threads take metric drills first.
    The drill must be inside the limits of the minor diameter. Without limits, it must be between the basic minor
    diameter and P/4 above the wanted hole.
    Raise ThreadError for an external thread.
    Source: ISO 2306 and tap charts in handbooks. Except for Unified threads, 75 % is common practice, without a
    source.

    >>> from core.operations.threads.designation import read_thread
    >>> tapping_drill(read_thread("M16", side="inside")).drill.name
    '14 mm'
    """
    if not thread.internal:
        raise ThreadError(
            f"{thread.designation} is an outside thread. Enter an inside thread, since only these are tapped.",
            field="thread",
        )
    inch_first = thread.system == "unified"
    preferred = [drill for drill in _all_drills() if (drill.series == "metric") != inch_first]
    least_mm, most_mm = hole_limits_mm(thread)
    for drills in (preferred, _all_drills()):
        if inside := [drill for drill in drills if least_mm <= drill.mm <= most_mm]:
            drill = min(inside, key=lambda drill: _distance(drill, thread))
            full_depth = full_depths(thread)[0]
            percent = percent_of_thread(drill.mm, thread, full_depth)
            return TappingDrill(drill=drill, percent=percent, full_depth=full_depth)
    return None


def tapping_words(thread: Thread, tapping: TappingDrill) -> str:
    """Return text that gives the size of a thread's tapping drill and the percentages of thread that the drill leaves.

    Each percentage is followed by the name of the depth that counts as 100 %.

    >>> from core.operations.threads.designation import read_thread
    >>> m6 = read_thread("M6", side="inside")
    >>> tapping_words(m6, tapping_drill(m6))
    '5 mm: 77 % of 3H/4, the depth in tap charts; 92 % of 5H/8, the basic depth'
    """
    percents = [
        f"{percent_of_thread(tapping.drill.mm, thread, full):.0f} % {FULL_DEPTH_WORDS[full]}"
        for full in full_depths(thread)
    ]
    return f"{tapping.drill.text}: {'; '.join(percents)}"


def height_words(thread: Thread, length_text: LengthText) -> str:
    """Return the note that explains the H in the text of `tapping_words`; "" if that text contains no H.

    `length_text`: a function that returns a length [mm] as text.

    >>> from core.operations.threads.designation import read_thread
    >>> height_words(read_thread("M6", side="inside"), mm_text)
    'H, the height of the sharp V, is 0.866 of the pitch: 0.866 mm'
    """
    if not _is_60_degree(thread):
        return ""
    return f"H, the height of the sharp V, is 0.866 of the pitch: {length_text(_sharp_height_mm(thread))}"


def clearance_hole_mm(nominal: str) -> ClearanceHole:
    """Return the diameters of the clearance holes for a metric screw.

    nominal: the size of the screw, such as "M10", "m 10" or "M2,5".
    Raise ThreadError for a size that the standard does not list.
    Source: ISO 273. Some sizes are from memory; core/data/clearance_holes.csv says which.

    >>> clearance_hole_mm("M10")
    ClearanceHole(fine_mm=10.5, medium_mm=11.0, coarse_mm=12.0)
    """
    match = re.fullmatch(r"M\s*(\d{1,3}(?:[.,]\d{1,2})?)", nominal.strip().upper(), re.ASCII)
    size = f"M{number_text(Fraction(match[1].replace(',', '.')), 2)}" if match else ""
    rows = {row["nominal"]: row for row in read_table("clearance_holes")}
    if size not in rows:
        raise ThreadError(
            f"ISO 273 gives no clearance hole for {quoted(nominal)}. Enter one of {', '.join(rows)}.", field="nominal"
        )
    row = rows[size]
    return ClearanceHole(
        fine_mm=float(row["fine_mm"]), medium_mm=float(row["medium_mm"]), coarse_mm=float(row["coarse_mm"])
    )


def clearance_hole(thread: Thread) -> ClearanceHole | None:
    """Return the clearance holes for a screw with this thread; None if ISO 273 does not list the screw's size.

    >>> from core.operations.threads.designation import read_thread
    >>> clearance_hole(read_thread("M10x1-6g")).medium_mm
    11.0
    """
    if thread.system != "metric":
        return None
    size = f"M{number_text(thread.major_basic_mm, 2)}"
    return clearance_hole_mm(size) if any(row["nominal"] == size for row in read_table("clearance_holes")) else None


def clearance_hole_words(hole: ClearanceHole) -> str:
    """Return text that gives the diameters of a screw's clearance holes, each with the name of its fit.

    >>> clearance_hole_words(clearance_hole_mm("M10"))
    'fine 10.5 mm, medium 11 mm, coarse 12 mm'
    """
    return f"fine {mm_text(hole.fine_mm)}, medium {mm_text(hole.medium_mm)}, coarse {mm_text(hole.coarse_mm)}"


def nearest_words(drill_mm: float) -> str:
    """Return text that lists the stock drills nearest to a diameter [mm], grouped by series.

    >>> nearest_words(5.1)
    'metric 5.1 mm; fractional 3/16 in, 13/64 in; number #8, #7'
    """
    # The series ends before this size, so its last drill is not near.
    near = [drill for drill in nearest_drills(drill_mm) if abs(drill.mm - drill_mm) < 0.1 * drill_mm]
    parts = []
    for series in drill_series():
        if names := [drill.text for drill in near if drill.series == series]:
            parts.append(f"{series} {', '.join(names)}")
    return "; ".join(parts)


def _metric() -> tuple[Drill, ...]:
    # 0.20 0.22 0.25 0.28 0.30 ...
    hundredths = [10 * tenths + more for tenths in range(2, 10) for more in (0, 2, 5, 8)]
    hundredths += [size for first, last, step in _METRIC_STEPS for size in range(first, last + 1, step)]
    return tuple(Drill(name=mm_text(size / 100, 2), mm=size / 100, series="metric") for size in hundredths)


def _fractional() -> tuple[Drill, ...]:
    sizes = [Fraction(n, 64) for first, last, step in _FRACTIONAL_STEPS for n in range(first, last + 1, step)]
    return tuple(Drill(name=_inch_name(size), mm=float(size * MM_PER_INCH), series="fractional") for size in sizes)


def _inch_name(size: Fraction) -> str:
    """Return the name of a drill whose size is in inches, such as "13/64", "1 1/4" or "1"."""
    whole, part = divmod(size, 1)
    return " ".join(str(number) for number in (whole, part) if number)


def _listed(series: Series) -> tuple[Drill, ...]:
    drills = [
        Drill(name=row["name"], mm=float(Fraction(row["inches"]) * MM_PER_INCH), series=series)
        for row in read_table("drills")
        if row["series"] == series
    ]
    return tuple(sorted(drills, key=lambda drill: drill.mm))


def _all_drills() -> tuple[Drill, ...]:
    return tuple(drill for drills in drill_series().values() for drill in drills)


def _is_60_degree(thread: Thread) -> bool:
    return thread.half_angle_deg == 30


def full_depths(thread: Thread) -> tuple[FullDepth, ...]:
    """Return the names of the depths that may count as 100 % of this thread, the most usual first."""
    return ("3H/4", "5H/8") if _is_60_degree(thread) else ("full depth",)


def _depth_mm(thread: Thread, full_depth: FullDepth) -> float:
    """Return the depth on the radius [mm] that `full_depth` names."""
    if full_depth == "3H/4":
        return 0.75 * _sharp_height_mm(thread)
    if full_depth == "5H/8":
        return 0.625 * _sharp_height_mm(thread)
    if thread.half_angle_deg < _BLUNT_DEG:
        return thread.pitch_mm / 2
    return (thread.major_basic_mm - thread.minor_basic_mm) / 2


def _sharp_height_mm(thread: Thread) -> float:
    """Return H, the height of the V that the flanks of a thread would form without flats or radii [mm]."""
    return thread.pitch_mm / (2 * tan(radians(thread.half_angle_deg)))


def _wanted_hole_mm(thread: Thread) -> float:
    """Return the ideal diameter of a hole for tapping [mm], even if no stock drill has this diameter."""
    simple = thread.half_angle_deg < _BLUNT_DEG or (_is_60_degree(thread) and thread.system != "unified")
    if simple:
        return thread.major_basic_mm - thread.pitch_mm
    full_mm = 2 * _depth_mm(thread, full_depths(thread)[0])
    return thread.major_basic_mm - full_mm * PERCENT_WANTED / 100


def hole_limits_mm(thread: Thread) -> tuple[float, float]:
    """Return the smallest and the largest diameter of a hole for tapping [mm].

    These are the limits of the minor diameter. Without limits, they are the basic minor diameter and P/4 above the
    ideal hole.
    """
    least, most = thread.limits.minor_min_mm, thread.limits.minor_max_mm
    if least is None:
        blunt = thread.half_angle_deg < _BLUNT_DEG
        least = thread.major_basic_mm - thread.pitch_mm if blunt else thread.minor_basic_mm
    if most is None:
        most = _wanted_hole_mm(thread) + thread.pitch_mm / 4
    return least, most


def _distance(drill: Drill, thread: Thread) -> tuple[float, int]:
    """Return a sort key that puts the drill nearest to the ideal hole first.

    Of two drills equally near, the one that is an even number of tenths of a millimetre below the major diameter comes
    first. So a hole of d - P gets the drill that ISO 2306 prints: 6.8 mm for M8, but 10.2 mm for M12.
    """
    tenths_below = round((thread.major_basic_mm - drill.mm) * 10)
    return round(abs(drill.mm - _wanted_hole_mm(thread)), 6), tenths_below % 2
