"""Words for the figures on a thread's card: pitch, change gears, half nuts, and drills near the tapping drill.

This module is outside the package for threads, so that a card without a thread does not import that package.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from core.values.dials import Unit
from core.values.quantities import MM_PER_INCH, length_text, number_text

_NAMED_IN_MM = re.compile(r"M\d|Tr\d|BA \d", re.ASCII)
"""Matches the start of a thread designation whose standard is in millimetres."""
_NEAR = 0.1
"""Largest difference between a drill and the tapping drill for the drill to be listed, as a share of its size."""


def is_named_in_mm(designation: str) -> bool:
    """Return whether a thread's designation belongs to a standard in millimetres.

    >>> is_named_in_mm("M27x3-6g"), is_named_in_mm("1 1/8-12 UNF-2A")
    (True, False)
    """
    return _NAMED_IN_MM.match(designation) is not None


def screw_pitch_words(length_mm: float, designation: str, unit: Unit) -> str:
    """Return a thread's pitch or lead in words: in the thread's unit and, if different, in the lathe's unit.

    `length_mm`: the pitch or lead [mm]. `unit`: the lathe's unit. The unit of a thread is mm or threads per inch (tpi).

    >>> screw_pitch_words(25.4 / 12, "1 1/8-12 UNF-2A", "mm"), screw_pitch_words(3, "M27x3-6g", "mm")
    ('12 tpi (2.1167 mm)', '3 mm')
    """
    tpi = f"{number_text(float(MM_PER_INCH) / length_mm, 3)} tpi"
    in_mm = f"{number_text(length_mm, 4)} mm"
    other = length_text(length_mm, "in") if unit == "in" else in_mm
    if is_named_in_mm(designation) or (designation.endswith(" mm") and unit != "in"):
        return f"{in_mm} ({other})" if unit == "in" else in_mm
    if designation.endswith(" mm"):
        # A custom thread: an inch lathe cuts and checks its pitch in threads per inch.
        return f"{in_mm} ({tpi})"
    return f"{tpi} ({other})"


def train_words(drivers: Sequence[int], driven: Sequence[int]) -> str:
    """Return a train of change gears in words: the teeth of each driver and of the wheel that it drives, in the order
    of meshing.

    >>> train_words((40, 25), (20, 50))
    '40 drives 20, 25 drives 50'
    """
    pairs = zip(drivers, driven, strict=True)
    return ", ".join(f"{first} drives {second}" for first, second in pairs)


def change_gear_words(train: Mapping[str, Any]) -> str:
    """Return a train of change gears in words, with the error of the resulting lead in parts per million.

    >>> change_gear_words({"drivers": [40], "driven": [20], "error_ppm": 0})
    '40 drives 20: exact'
    """
    error_ppm = train["error_ppm"]
    off = f"{error_ppm:+.0f} parts in a million off" if abs(error_ppm) >= 1 else "exact" if error_ppm == 0 else "near"
    return f"{train_words(train['drivers'], train['driven'])}: {off}"


def half_nut_words(dial_use: Mapping[str, Any]) -> str:
    """Return in words the lines of one thread-dial wheel at which the half nuts may be closed."""
    # Only a thread has half nuts, and only its card needs the module.
    from core.operations.threads.thread_dial import DialUse, dial_use_words

    use = DialUse(
        teeth=dial_use["teeth"], lines=dial_use["lines"], use=tuple(dial_use["use"]), anywhere=dial_use["anywhere"]
    )
    return f"wheel of {use.teeth}, {use.lines} lines: {dial_use_words(use)}"


def full_depth_words(full_depth: str) -> str:
    """Return in words the depth that counts as 100 % of a thread, followed by the meaning of H if the depth contains H.

    >>> full_depth_words("3H/4"), full_depth_words("full depth")
    ('3H/4 on the radius; H is 0.866 of the pitch', 'full depth')
    """
    return f"{full_depth} on the radius; H is 0.866 of the pitch" if "H" in full_depth else full_depth


def drills_near(drills: Sequence[Mapping[str, Any]], figures: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """Yield the drills whose diameters are within 10 % of the tapping drill's diameter, without the tapping drill
    itself.
    """
    tapping_mm = figures.get("tapping_drill_mm")
    for drill in drills:
        is_near = tapping_mm is None or abs(drill["mm"] - tapping_mm) < _NEAR * tapping_mm
        if is_near and drill["name"] != figures.get("tapping_drill"):
            yield drill


def drill_words(drill: Mapping[str, Any]) -> str:
    """Return the name of a drill, followed by its diameter in mm unless the name already states the diameter.

    >>> drill_words({"name": "#7", "mm": 5.1054}), drill_words({"name": "5 mm", "mm": 5.0})
    ('#7 (5.1054 mm)', '5 mm')
    """
    from core.operations.threads.drills import drill_text

    name, size = drill_text(str(drill["name"])), f"{number_text(drill['mm'], 4)} mm"
    return name if name == size else f"{name} ({size})"
