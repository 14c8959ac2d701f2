"""The sizes of a taper, read from the table of a `taper` operation. Lengths are in mm, angles in degrees."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import cos, radians, sin, sqrt, tan
from typing import Literal

from core.lathe.lathe import Lathe
from core.operations.size_cut import read_pass_depths
from core.operations.taper_angles import EXAMPLES, Taper, on_diameter, stated_taper
from core.operations.taper_place import TaperPlace, read_taper_place
from core.values.errors import QuantityError
from core.values.fields import Table
from core.values.quantities import number_text

_STEEPEST_DEG = 80.0
_EXAMPLE_MM: Mapping[str, float] = {"mm": 18.0, "in": 0.75 * 25.4}
"""Example of a large diameter [mm], by the lathe's unit."""


@dataclass(frozen=True, kw_only=True)
class TaperCut:
    """An outside taper, cut from a blank with the diameter of the large end."""

    half_deg: float
    large_mm: float
    length_mm: float
    cut_mm: float
    finish_mm: float
    named: str
    """The taper as entered: "MT 2", "1:20" or an angle; "" if the user entered two diameters."""
    work_length_mm: float | None = None
    """Length of the work between centres [mm]; None if the job does not state it."""
    place: TaperPlace | None = None
    """Where the small end is along the work; None if the job does not say."""

    @property
    def ends_mm(self) -> float:
        """The distance of the large end from the face [mm], or from the free end if the job states no face."""
        return self.length_mm + (self.place.starts_mm if self.place else 0.0)

    @property
    def slope(self) -> float:
        """The slope of one side against the axis [-], such as 0.025."""
        return tan(radians(self.half_deg))

    @property
    def small_mm(self) -> float:
        """The diameter of the small end, which is the free end [mm]."""
        return self.at_mm(0)

    @property
    def travel_mm(self) -> float:
        """The compound's travel from one end of the taper to the other [mm]."""
        return self.length_mm / cos(radians(self.half_deg))

    @property
    def tailstock_mm(self) -> float | None:
        """The set-over of the tailstock that would give the same taper [mm]; None if the length of the work is not
        known.
        """
        return None if self.work_length_mm is None else self.work_length_mm * sin(radians(self.half_deg))

    def at_mm(self, from_end_mm: float) -> float:
        """Return the wanted diameter [mm] at a distance from the free end [mm]."""
        return max(0.0, self.large_mm - 2 * (self.length_mm - from_end_mm) * self.slope)

    def error_off_centre_mm(self, off_centre_mm: float) -> float:
        """Return how much too large the free end becomes [mm] if the tool is off centre height by `off_centre_mm`.

        The large end is assumed to be right. A tool that is h above the axis, and x from the axis in its own horizontal
        plane, cuts a radius of sqrt(x^2 + h^2). The side of the taper is therefore curved.
        """
        large_mm = sqrt(max(0.0, (self.large_mm / 2) ** 2 - off_centre_mm**2))
        small_mm = max(0.0, large_mm - self.length_mm * self.slope)
        return 2 * sqrt(small_mm**2 + off_centre_mm**2) - self.small_mm


def read_taper(table: Table, lathe: Lathe) -> TaperCut | None:
    """Return the taper of a `taper` operation; None if an entry is wrong. Errors are added to `table.problems`."""
    before = len(table.problems)
    length, work = table.length("length", required=True, above=0), table.length("work_length", above=0)
    large, small = table.length("large", above=0), table.length("small", least=0)
    of, sizes = _of(table), read_pass_depths(table, lathe)
    place = read_taper_place(table, lathe)
    taper = _stated(table, of)
    if taper is not None and taper.large_mm is not None and not table.has("large"):
        large = float(taper.large_mm)
    elif not table.has("large"):
        table.problem(
            "large",
            f"Missing. Enter the diameter of the large end, such as {lathe.length_text(_EXAMPLE_MM[lathe.unit])}.",
        )
    if len(table.problems) > before or length is None or large is None or sizes is None:
        return None
    if taper is None:
        if small is None or small >= large:
            table.problem(
                "small", f"The small end must be smaller than {lathe.length_text(large)}. Enter a smaller diameter."
            )
            return None
        taper = on_diameter(Fraction(large - small) / Fraction(length))
    named = str(table.data.get("taper", ""))
    cut = TaperCut(
        half_deg=float(taper.half_deg),
        large_mm=large,
        length_mm=length,
        cut_mm=sizes[0],
        finish_mm=sizes[1],
        named=f"{named} {of}" if of else named,
        work_length_mm=work,
        place=place,
    )
    return cut if _is_possible(cut, table, lathe) else None


def _of(table: Table) -> Literal["included", "half"] | None:
    """Return which angle the user entered for the taper; None if the taper is not stated as an angle."""
    word = table.word("of", ("included", "half"))
    return "included" if word == "included" else "half" if word else None


def _stated(table: Table, of: Literal["included", "half"] | None) -> Taper | None:
    """Return the taper that the user entered; None if two diameters were entered, or if an entry is wrong.

    `of`: the angle that the text states; None if the text does not state an angle.
    """
    if table.has("taper") and table.has("small"):
        table.problem("small", "Both the taper and the small diameter are entered. Delete one of them.")
    elif table.has("of") and of is None:
        # The problem is already noted. Whether the user meant an angle is not known.
        return None
    elif table.has("taper"):
        try:
            return stated_taper(table.data["taper"], of)
        except QuantityError as error:
            table.problem("taper", error.message)
    elif not table.has("small"):
        table.problem("taper", f'Missing. Enter {EXAMPLES}. Or enter the diameter of the small end as "small".')
    elif of:
        table.problem("of", 'This entry applies only to an angle. Delete this entry, or enter an angle as "taper".')
    return None


def _is_possible(taper: TaperCut, table: Table, lathe: Lathe) -> bool:
    half_deg, length_mm, work_mm = taper.half_deg, taper.length_mm, taper.work_length_mm
    if not 0 < half_deg <= _STEEPEST_DEG:
        words = f"The half angle would be {number_text(half_deg, 2)}°"
        most = number_text(_STEEPEST_DEG, 0)
        table.problem("taper", f"{words}. Enter a taper with a half angle above 0° and up to {most}°.")
    elif length_mm > (point_mm := taper.large_mm / 2 / taper.slope) * (1 + 1e-9):
        table.problem(
            "length", f"The taper would come to a point before its end. Enter at most {lathe.length_text(point_mm)}."
        )
    elif work_mm is not None and work_mm < length_mm:
        words = f"This is less than the length of the taper, {lathe.length_text(length_mm)}"
        table.problem("work_length", f"{words}. Enter the whole length between the centres.")
    else:
        return True
    return False
