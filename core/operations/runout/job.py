"""The input of a runout operation: its fields, and how they are read from a job file or a form and checked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, cast

from core.lathe.lathe import Lathe
from core.operations.runout.harmonics import determines, evenly_spaced
from core.values.dials import Unit
from core.values.errors import PlanError, QuantityError
from core.values.fields import Table
from core.values.plain_text import counted, quoted
from core.values.quantities import number_text, read_quantity

Surface = Literal["outside", "bore", "face"]
Workholding = Literal["four jaw", "three jaw", "flange", "screwed on", "between centres"]

SURFACES: tuple[Surface, ...] = ("outside", "bore", "face")
WORKHOLDINGS: tuple[Workholding, ...] = ("four jaw", "three jaw", "flange", "screwed on", "between centres")
USUAL_POSITIONS = 8
LEAST_POSITIONS, MOST_POSITIONS = 3, 360
MOST_STYLUS_DEG = 80.0

_SAME_MARK_DEG = 1e-6


USUAL_GRADUATION_MM: Mapping[Unit, float] = {"mm": 0.01, "in": 0.0127}
"""Graduation of an indicator that is not in the lathe file, by the unit of the lathe's sizes: 0.01 mm, 0.0005 in.

Common practice, no source.
"""


@dataclass(frozen=True, kw_only=True)
class RunoutJob:
    """The marks to read, the workholding and the tolerance. Lengths are in mm. A field without an entry is None."""

    angles_deg: tuple[float, ...]
    """Marks on the work, in the order in which they pass the indicator."""
    surface: Surface = "outside"
    planes: int = 1
    apart_mm: float | None = None
    """Distance of the two planes along the axis. The first plane is nearer to the chuck."""
    drift_mm: float = 0.0
    """The closing reading minus the first reading of `readings_mm`."""
    diameter_mm: float | None = None
    """The diameter that the indicator touches. It is also the diameter of the bar at the jaws.

    On a face it is the diameter of the circle that the indicator follows.
    """
    bolt_circle_mm: float | None = None
    stylus_deg: float = 0.0
    """Angle between a lever indicator's stylus and the surface."""
    tolerance_mm: float | None = None
    """The largest total indicator reading allowed."""
    workholding: Workholding | None = None
    readings_mm: tuple[tuple[float, ...], ...] = ()
    """Readings taken before the run, one turn for each plane; () if there are none."""


def read_runout(table: Table, lathe: object) -> RunoutJob | None:
    """Return the checked parameters of a `runout` operation; None after recording a problem in `table`.

    `lathe` is not used.
    """
    before = len(table.problems)
    surface = table.word("surface", SURFACES) or "outside"
    planes = table.whole("planes", least=1, most=2) or 1
    if surface == "face" and planes == 2:
        table.problem("planes", "A face is read in one plane. Enter 1.")
    sizes: dict[str, Any] = {
        "apart_mm": table.length("apart", required=planes == 2, above=0),
        "drift_mm": table.length("drift") or 0.0,
        "diameter_mm": table.length("diameter", above=0),
        "bolt_circle_mm": table.length("bolt_circle", above=0),
        "stylus_deg": table.angle("stylus_angle", least=0, most=MOST_STYLUS_DEG) or 0.0,
        "tolerance_mm": table.length("tolerance", above=0),
    }
    if planes == 1 and table.has("apart"):
        table.problem("apart", "A distance apart needs two planes. Enter 2 planes, or delete the distance.")
    workholding = table.word("workholding", WORKHOLDINGS)
    readings = _read_readings(table, planes)
    angles = _read_angles(table, len(readings[0]) if readings else None)
    for turn in readings:
        if angles and len(turn) != len(angles):
            table.problem(
                "readings",
                f"The list has {counted(len(turn), 'reading')} for {len(angles)} positions. Enter one for each.",
            )
            break
    if len(table.problems) > before or not angles:
        return None
    return RunoutJob(
        surface=cast(Surface, surface),
        angles_deg=angles,
        planes=planes,
        workholding=cast(Any, workholding),
        readings_mm=readings,
        **sizes,
    )


def check_angles(angles_deg: Sequence[float]) -> None:
    """Raise PlanError if readings at these marks [deg] cannot show the offset of the work.

    This is so for fewer than three marks, for a repeated mark, and for marks so close together that an offset looks
    like a change of size.
    """
    if len(angles_deg) < LEAST_POSITIONS:
        raise PlanError(
            f"{counted(len(angles_deg), 'reading')} cannot show the offset. Take {LEAST_POSITIONS} or more.",
            field="readings",
        )
    marks = sorted(angle % 360 for angle in angles_deg)
    for mark, following in zip(marks, [*marks[1:], marks[0] + 360], strict=True):
        if following - mark < _SAME_MARK_DEG:
            raise PlanError(
                f"The mark {mark_words(mark)} is in the list twice (360° is the same as 0°). Enter each mark once. "
                'If the second is a closing reading, enter it as "drift".',
                field="angles",
            )
    if not determines(angles_deg):
        raise PlanError(
            f"These {len(angles_deg)} marks are too close together to separate an offset from a change of size. "
            "Spread them over at least a third of the turn.",
            field="angles",
        )


def mark_words(angle_deg: float) -> str:
    """Return a mark [deg] as text, rounded to a tenth of a degree.

    >>> mark_words(22.5), mark_words(359.98)
    ('22.5°', '0°')
    """
    return f"{number_text(round(angle_deg % 360, 1) % 360, 1)}°"


def _read_angles(table: Table, readings: int | None) -> tuple[float, ...]:
    """Return the marks to read [deg]; () after recording a problem in `table`.

    `readings`: the number of readings in the job; None if the job has no readings.
    """
    positions = table.whole("positions", least=LEAST_POSITIONS, most=MOST_POSITIONS)
    if not table.has("angles"):
        if table.has("positions"):
            return evenly_spaced(positions) if positions else ()
        count = USUAL_POSITIONS if readings is None else readings
        if count < LEAST_POSITIONS:
            table.problem(
                "readings", f"The list has only {counted(count, 'reading')}. Enter {LEAST_POSITIONS} or more."
            )
            return ()
        return evenly_spaced(count)
    if table.has("positions"):
        table.problem("angles", "Positions and angles both set the marks. Enter only one of them.")
        return ()
    angles = tuple(float(angle.value) for angle in table.quantities("angles", "angle", most=MOST_POSITIONS))
    try:
        if angles:
            check_angles(angles)
    except PlanError as error:
        table.problem("angles", error.message)
        return ()
    return angles


def _read_readings(table: Table, planes: int) -> tuple[tuple[float, ...], ...]:
    """Return the readings of each plane [mm]; () if the job has none, or after recording a problem in `table`."""
    accepted = 'a list such as ["0.00 mm", "0.02 mm"]'
    if planes == 2:
        accepted = f"a list of two lists, each {accepted}"
    items = table.items("readings", accepted, least=planes, most=2 if planes == 2 else MOST_POSITIONS)
    turns = items if planes == 2 else [items] if items else []
    try:
        return tuple(_lengths(turn, accepted) for turn in turns)
    except QuantityError as error:
        table.problem("readings", error.message)
        return ()


def _lengths(turn: Any, accepted: str) -> tuple[float, ...]:
    if not isinstance(turn, list) or len(turn) > MOST_POSITIONS:
        raise QuantityError(f"{quoted(turn)} is not a list of readings. Enter {accepted}.")
    return tuple(float(read_quantity(item, "length").value) for item in turn)


def graduation_of(lathe: Lathe) -> float:
    """Return the graduation of the lathe's indicator [mm].

    If the lathe file has no indicator, return the usual graduation for the lathe's unit of length.
    """
    return lathe.indicator.graduation_mm if lathe.indicator else USUAL_GRADUATION_MM[lathe.indicator_unit]


def indicator_words(lathe: Lathe) -> str:
    """Return the kind of the lathe's indicator in words; "dial indicator (plunger)" if the lathe has none."""
    kind = lathe.indicator.kind if lathe.indicator else "plunger"
    return "dial test indicator (lever)" if kind == "lever" else "dial indicator (plunger)"


def logged_mark_mm(lathe: Lathe) -> float:
    """Return the length of one mark [mm], for logged readings whose unit is marks of the indicator.

    For a lathe without an indicator, only the first version of the program logged readings in marks.
    """
    return lathe.indicator.graduation_mm if lathe.indicator else USUAL_GRADUATION_MM["mm"]
