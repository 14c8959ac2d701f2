"""The input of an `axes` operation: how two axes are compared, and the values measured before the run."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, cast

from core.lathe.lathe import Lathe
from core.operations.asked_values import AFTER, AskedAt, lengths_of, readings_of, without_old
from core.values.fields import Table

Method = Literal["bars", "bars compared", "sweep", "two circles"]
METHODS: tuple[Method, ...] = ("bars", "bars compared", "sweep", "two circles")
OTHERS = ("table", "slide", "milling spindle")
"""The machine part that has the other axis: a rotary table, a second slide or a milling spindle."""
SURFACES = ("bore", "outside")
UP_DOWN, NEAR_FAR = ("higher", "lower"), ("nearer", "further away")
"""The positions that the last circle can have, seen from the first."""
KEPT = ("face_kept", "error_kept")
"""Keys of the errors that the user left outside the tolerance: of the face, and after the stack."""
USUAL_OFFSET_MM = 20.0
"""Offset for which the effect of an error is shown, if the job names none [mm]."""

SWEPT = ("up", "near", "down", "far")
"""The four positions of a sweep, in order."""
_SIZES: Mapping[Method, tuple[str, ...]] = {
    "bars": (
        "spindle_bar",
        "other_bar",
        "over_spindle_bar",
        "over_spindle_bar_turned",
        "over_other_bar",
        "over_other_bar_turned",
        "over_spindle_bar_after",
        "over_other_bar_after",
    ),
    "bars compared": ("spindle_bar", "other_bar"),
    "sweep": (),
    "two circles": (
        "circle",
        "over_both_up",
        "over_both_level",
        "over_both_up_after",
        "over_both_level_after",
    ),
}
"""Keys of measured sizes, all above 0."""
_READINGS: Mapping[Method, tuple[str, ...]] = {
    "bars": (),
    "bars compared": ("difference", "difference_turned", "difference_after"),
    "sweep": ("droop",),
    "two circles": (),
}
"""Keys of single readings, and of values calculated from readings."""
_WORDS: Mapping[str, tuple[str, ...]] = {
    "last_circle": UP_DOWN,
    "last_circle_level": NEAR_FAR,
    "last_circle_after": UP_DOWN,
    "last_circle_level_after": NEAR_FAR,
}


@dataclass(frozen=True, kw_only=True)
class AxesJob:
    """The checked input of an `axes` operation. Lengths are in mm."""

    method: Method
    other: str = "table"
    """The machine part that has the other axis."""
    surface: str = "bore"
    """The surface around which an indicator in the spindle is swept."""
    face_circle_mm: float | None = None
    """Diameter of the circle on which the table's face is swept. None if the face is not read."""
    tolerance_mm: float | None = None
    """Largest error allowed, in height and across."""
    offset_mm: float = USUAL_OFFSET_MM
    """Offset of a pattern for which the effect of an error is shown."""
    measured: Mapping[str, Any] = field(default_factory=dict)
    """Measured values, by the keys of a job file: lengths, lists of readings, words. The run asks for all others."""

    @property
    def is_table(self) -> bool:
        """True if the other axis is that of a rotary table, which carries the work."""
        return self.other == OTHERS[0]

    def size(self, key: str) -> float | None:
        """Return the measured length stored under `key` [mm]; None if the length is not known."""
        value = self.measured.get(key)
        return None if value is None else float(value)

    def four(self, key: str) -> tuple[float, float, float, float] | None:
        """Return the four readings of a sweep stored under `key`, in the order up, near, down, far [mm]; None if any is
        missing.
        """
        readings = self.measured.get(key, ())
        return None if len(readings) < len(SWEPT) else (readings[0], readings[1], readings[2], readings[3])

    def forgetting(self, asked: Iterable[AskedAt]) -> "AxesJob":
        """Return a copy of this job without the values in `asked`, for which the run must still ask."""
        return replace(self, measured=without_old(self.measured, asked))


def read_axes(table: Table, lathe: Lathe) -> AxesJob | None:
    """Return the checked input of an `axes` operation; None after recording a problem in `table`.

    Measured values may be missing, because the run asks for them.
    """
    before = len(table.problems)
    method = cast(Method, table.word("method", METHODS, required=True) or "")
    values: dict[str, Any] = {
        "face_circle_mm": table.length("face_circle", above=0),
        "tolerance_mm": table.length("tolerance", above=0),
        "offset_mm": table.length("pattern_offset", above=0) or USUAL_OFFSET_MM,
    }
    if not method:
        return None
    values["other"] = table.word("other", OTHERS) or OTHERS[0]
    if method == "two circles" and values["other"] != OTHERS[0]:
        table.problem("other", "Two circles need a table that turns. Choose the rotary table, or another method.")
    measured: dict[str, Any] = dict(lengths_of(table, _SIZES[method], above=0))
    measured |= dict(lengths_of(table, _READINGS[method]))
    lists = {"face_readings": len(SWEPT)}
    if table.has("face_readings") and not table.has("face_circle"):
        table.problem("face_circle", "Missing. Enter the diameter of the circle on which the face was swept.")
    if method == "sweep":
        values["surface"] = table.word("surface", SURFACES) or "bore"
        lists |= {"readings": len(SWEPT), "droop_readings": 2, f"readings{AFTER}": len(SWEPT)}
    measured |= {key: readings for key, most in lists.items() if (readings := readings_of(table, key, most))}
    if method == "two circles":
        words = ((key, table.word(key, choices)) for key, choices in _WORDS.items())
        measured |= {key: word for key, word in words if word is not None}
    measured |= dict(lengths_of(table, KEPT, above=0))
    job = AxesJob(method=method, measured=measured, **values)
    _note_impossible(table, job)
    return None if len(table.problems) > before else job


def _note_impossible(table: Table, job: AxesJob) -> None:
    """Record a problem in `table` for a measured value that is impossible for these bars or circles."""
    for bar, over in (("spindle_bar", "over_spindle_bar"), ("other_bar", "over_other_bar")):
        for key in (over, f"{over}_turned", f"{over}{AFTER}"):
            size, height = job.size(bar), job.size(key)
            if size is not None and height is not None and height <= size / 2:
                table.problem(key, "This height is below the middle of the bar. Enter the height over its top.")
    circle = job.size("circle")
    for key in ("over_both_up", "over_both_level", f"over_both_up{AFTER}", f"over_both_level{AFTER}"):
        both = job.size(key)
        if circle is not None and both is not None and both < circle:
            table.problem(
                key, "Both circles together cannot measure less than one circle. Measure over both circles again."
            )
