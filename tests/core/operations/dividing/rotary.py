"""Test data for dividing: lathes with rotary tables, and operations read from the keys of a job file."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

from core.lathe.lathe import Lathe, RotaryTable
from core.lathe.reader import example_lathe
from core.operations.dividing.job import DivideJob, read_divide
from core.operations.dividing.plates import COMMON_PLATES
from core.operations.patterns.job import read_pattern
from core.operations.patterns.layers import PatternJob
from core.values.dials import Dial
from core.values.fields import Problem, Table

MINUTE = Fraction(1, 60)
CIRCLES = (
    *(15, 16, 17, 18, 19, 20),
    *(21, 23, 27, 29, 31, 33),
    *(37, 39, 41, 43, 47, 49),
)
"""Hole circles of the three plates that most dividing heads come with; common practice, no source."""
EXACT_AT_40 = [number for number in range(2, 361) if any(40 * circle % number == 0 for circle in CIRCLES)]
"""Divisions that one circle gives exactly: 40 turns divided by the number are whole holes of that circle."""
COMPOUND_AT_40 = (51, 57, 63, 69, 77, 87, 91, 93, 96, 99)
"""Divisions that two circles of one plate give and no single circle does: the smaller ones that handbooks list."""
WHOLE_DEGREES = [number for number in range(1, 361) if 360 % number == 0]
"""The divisors of 360. One published list lacks 40."""
HEAD = Dial(
    name="boring_head",
    unit="in",
    graduation=Fraction(1, 1000),
    per_turn=Fraction(1, 20),
    reads_diameter=True,
    most_rpm=2000,
)


def lathe_with(
    ratio: int = 72,
    *,
    minutes: Fraction | int | None = 2,
    vernier_seconds: int | None = None,
    plates: bool = False,
    direct: tuple[int, ...] = (),
    head: bool = True,
) -> Lathe:
    """Return the example lathe with a rotary table that has the given ratio, dial graduation and other fields."""
    table = RotaryTable(
        ratio=Fraction(ratio),
        dial_graduation_deg=None if minutes is None else minutes * MINUTE,
        vernier_deg=None if vernier_seconds is None else Fraction(vernier_seconds, 3600),
        plates=COMMON_PLATES if plates else (),
        direct=direct,
        backlash_deg=3 * MINUTE,
    )
    lathe = example_lathe()
    dials = {**lathe.dials, "boring_head": HEAD} if head else lathe.dials
    return replace(lathe, rotary_table=table, dials=dials)


def divide_problems(lathe: Lathe, **keys: Any) -> tuple[DivideJob | None, list[Problem]]:
    """Return a `divide` operation read from keys ("with_" for "with"), and its problems."""
    problems: list[Problem] = []
    table = Table({key.rstrip("_"): value for key, value in keys.items()}, "job", problems)
    found = read_divide(table, lathe)
    table.refuse_unknown()
    return found, problems


def divide_job(lathe: Lathe, **keys: Any) -> DivideJob:
    """Return a `divide` operation read from keys that must be free of problems."""
    found, problems = divide_problems(lathe, **keys)
    assert found is not None and problems == []
    return found


def pattern_keys(*layers: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """Return the keys of a pattern of circles, cut as written with one cutter.

    `tip_angle` and `tip_flat` belong to the cutter. `cut` applies to every layer with a depth.
    """
    cut = {"cut": keys.pop("cut")} if "cut" in keys else {}
    point = {key: keys.pop(key) for key in ("tip_angle", "tip_flat") if key in keys}
    keys = {"layer_order": "written", **keys, **({"cutter": [{"name": "only", **point}]} if point else {})}
    return {**keys, "layer": [{"shape": "circles", **(cut if "depth" in layer else {}), **layer} for layer in layers]}


def layers_problems(lathe: Lathe, *layers: dict[str, Any], **keys: Any) -> tuple[PatternJob | None, list[Problem]]:
    """Return a `pattern` operation read from keys, and its problems."""
    problems: list[Problem] = []
    table = Table(pattern_keys(*layers, **keys), "job", problems)
    found = read_pattern(table, lathe)
    table.refuse_unknown()
    return found, problems


def layers_job(lathe: Lathe, *layers: dict[str, Any], **keys: Any) -> PatternJob:
    """Return a `pattern` operation read from keys that must be free of problems."""
    found, problems = layers_problems(lathe, *layers, **keys)
    assert found is not None and problems == []
    return found
