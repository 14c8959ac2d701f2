"""Limits of size and fits in every unit, rounded inward, with each dial's marks between the limits."""

from fractions import Fraction

from core.conversion.answers import Conversion
from core.conversion.dial_readings import DialReading, FitPart, reading_rows, readings_within
from core.conversion.lengths import check_length
from core.lathe.lathe import Lathe
from core.values.iso286 import Fit, Zone
from core.values.limits import LIMIT_STEP_IN, LIMIT_STEP_MM, SizeLimits, rounded_inward
from core.values.quantities import MM_PER_INCH, number_text
from core.values.words import Row, exact_text, field_text, figure_text, unit_row

INWARD = "inward, so every size between them is within the limits"


def limits_answer(asked: str, limits: SizeLimits, lathe: Lathe | None) -> Conversion:
    """Return the answer for two limits: in mm and inches, rounded inward, with each dial's marks between them.

    `asked`: the question, which the answer repeats. `lathe`: None for an answer without dial readings.
    """
    for limit_mm in (limits.lower_mm, limits.upper_mm):
        check_length(asked, limit_mm)
    lower_mm, upper_mm = rounded_inward(limits.lower_mm, limits.upper_mm, LIMIT_STEP_MM)
    lower_in, upper_in = rounded_inward(limits.lower_mm / MM_PER_INCH, limits.upper_mm / MM_PER_INCH, LIMIT_STEP_IN)
    dials = readings_within(lathe, limits.lower_mm, limits.upper_mm)
    middle_mm = (limits.lower_mm + limits.upper_mm) / 2
    rows = (
        _limit_row("least", lower_mm, lower_in),
        _limit_row("most", upper_mm, upper_in),
        _both_row("limits", limits.lower_mm, limits.upper_mm),
        Row("rounding", INWARD),
        _middle_row("middle", middle_mm),
        *reading_rows(dials),
    )
    return Conversion(
        asked=asked,
        kind="limits",
        figures={
            "lower_mm": float(lower_mm),
            "upper_mm": float(upper_mm),
            "lower_in": float(lower_in),
            "upper_in": float(upper_in),
        },
        rows=rows,
        dials=dials,
        field_text=field_text(middle_mm, "mm"),
    )


def fit_answer(asked: str, fit: Fit, lathe: Lathe | None) -> Conversion:
    """Return the answer for a fit: limits of hole and shaft, kind of fit, and each dial's marks between the limits.

    `asked`: the question, which the answer repeats. `lathe`: None for an answer without dial readings.
    """
    figures: dict[str, object] = {"nominal_mm": float(fit.nominal_mm)}
    rows: list[Row] = [unit_row("nominal", fit.nominal_mm, "mm")]
    dials: tuple[DialReading, ...] = ()
    parts: tuple[tuple[FitPart, Zone | None], ...] = (("hole", fit.hole), ("shaft", fit.shaft))
    for part, zone in parts:
        if zone is not None:
            figures[part] = _part_figures(fit.nominal_mm, zone)
            rows += _part_rows(part, fit.nominal_mm, zone)
            dials += readings_within(lathe, *zone.sizes_mm(fit.nominal_mm), ("diameter",), part)
    if fit.hole is not None and fit.shaft is not None:
        clearance_figures, row = _clearance(fit.hole, fit.shaft)
        figures |= clearance_figures
        rows.append(row)
    aimed_at_mm = _middle_mm(fit.nominal_mm, fit.only) if fit.only else fit.nominal_mm
    return Conversion(
        asked=asked,
        kind="fit",
        figures=figures,
        rows=(*rows, Row("inches are rounded", INWARD), *reading_rows(dials)),
        dials=dials,
        field_text=field_text(aimed_at_mm, "mm"),
    )


def _limit_row(label: str, limit_mm: Fraction, limit_in: Fraction) -> Row:
    """Return the row for one limit, which the caller has already rounded in mm and in inches.

    >>> _limit_row("least", Fraction("12.49"), Fraction("0.4918")).words
    '12.49 mm (12490 µm), 0.4918 in (491.8 thou)'
    """
    metric, inch = number_text(limit_mm, 9), number_text(limit_in, 9)
    words = f"{metric} mm ({number_text(limit_mm * 1000, 6)} µm), {inch} in ({number_text(limit_in * 1000, 6)} thou)"
    return Row(label, words, f"{metric} mm")


def _both_row(label: str, lower_mm: Fraction, upper_mm: Fraction) -> Row:
    """Return one row with both limits [mm], unrounded, as text that a field for limits accepts."""
    text = f"{number_text(lower_mm, 6)} to {number_text(upper_mm, 6)} mm"
    return Row(label, text, text, is_limits=True)


def _middle_row(label: str, middle_mm: Fraction) -> Row:
    """Return a row with the size half-way between the limits, which is the size to aim at."""
    words = f"{exact_text(middle_mm, 'mm')}, {exact_text(middle_mm / MM_PER_INCH, 'in')}"
    return Row(label, words, field_text(middle_mm, "mm"))


def _middle_mm(nominal_mm: Fraction, zone: Zone) -> Fraction:
    return nominal_mm + (zone.lower_um + zone.upper_um) / 2000


def _sizes_in(nominal_mm: Fraction, zone: Zone) -> tuple[Fraction, Fraction]:
    lower_mm, upper_mm = zone.sizes_mm(nominal_mm)
    return rounded_inward(lower_mm / MM_PER_INCH, upper_mm / MM_PER_INCH, LIMIT_STEP_IN)


def _part_figures(nominal_mm: Fraction, zone: Zone) -> dict[str, float]:
    lower_mm, upper_mm = zone.sizes_mm(nominal_mm)
    lower_in, upper_in = _sizes_in(nominal_mm, zone)
    return {
        "lower_um": float(zone.lower_um),
        "upper_um": float(zone.upper_um),
        "min_mm": float(lower_mm),
        "max_mm": float(upper_mm),
        "min_in": float(lower_in),
        "max_in": float(upper_in),
    }


def _part_rows(part: FitPart, nominal_mm: Fraction, zone: Zone) -> list[Row]:
    lower_mm, upper_mm = zone.sizes_mm(nominal_mm)
    lower_in, upper_in = _sizes_in(nominal_mm, zone)
    return [
        Row(f"{part} {zone.code}", f"{_signed(zone.lower_um)} to {_signed(zone.upper_um)}"),
        _limit_row(f"{part}, least", lower_mm, lower_in),
        _limit_row(f"{part}, most", upper_mm, upper_in),
        _both_row(f"{part}, limits", lower_mm, upper_mm),
        _middle_row(f"{part}, middle", _middle_mm(nominal_mm, zone)),
    ]


def _clearance(hole: Zone, shaft: Zone) -> tuple[dict[str, object], Row]:
    """Return the smallest and largest clearance of hole and shaft (below 0: interference), and the row that gives both.

    Source: ISO 286-1, clause 3; a fit whose smallest clearance is 0 counts as a clearance fit.
    """
    least, most = hole.lower_um - shaft.upper_um, hole.upper_um - shaft.lower_um
    name = "clearance" if least >= 0 else "interference" if most <= 0 else "transition"
    figures = {
        "clearance_min_mm": float(least / 1000),
        "clearance_max_mm": float(most / 1000),
        "fit": name,
    }
    return figures, Row("fit", f"{name}: {_clearance_text(least)} to {_clearance_text(most)}")


def _clearance_text(clearance_um: Fraction) -> str:
    thou = figure_text(abs(clearance_um) / MM_PER_INCH, "thou", 3)
    return f"{figure_text(abs(clearance_um), 'µm')} ({thou}) {'interference' if clearance_um < 0 else 'clearance'}"


def _signed(deviation_um: Fraction) -> str:
    return f"{'+' if deviation_um > 0 else ''}{number_text(deviation_um, 1)} µm"
