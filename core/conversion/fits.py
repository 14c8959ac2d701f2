"""Fits as drawings give them, "30 H7/g6": limits of hole and shaft, what plays or pinches, what the dials show."""

import re
from fractions import Fraction
from typing import NamedTuple

from core.conversion.answers import Answer
from core.conversion.dial_readings import DialReading, reading_rows, readings_within
from core.conversion.iso286 import Zone, zone
from core.conversion.limits import INWARD, STEP_IN, both_row, inward, limit_row, middle_row
from core.conversion.tokens import NUMBER
from core.conversion.wording import Row, field_text, figure_text, unit_row
from core.lathe.lathe import Lathe
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, number_text, read_number, read_quantity

# "1e3" is a slip for a thousand, so that a shaft e asks for its space.
_FIT = re.compile(
    rf"\s*[Øø⌀]?\s*(?P<size>{NUMBER})\s*(?P<unit>mm\b|in\b|\")?(?P<first>(?<![\d.,])[A-Za-z]{{1,2}}\d{{1,2}}"
    r"|(?![eE])[A-Za-z]{1,2}\d{1,2}|\s+[A-Za-z]{1,2}\d{1,2})"
    r"(?:\s*[-/ ]\s*(?P<second>[A-Za-z]{1,2}\d{1,2}))?\s*",
    re.ASCII,
)


class Fit(NamedTuple):
    """A nominal size with a hole, a shaft, or both."""

    nominal_mm: Fraction
    hole: Zone | None
    shaft: Zone | None


def fit_spelled(text: str) -> Fit | None:
    """Return the fit that a text states, None where it states none.

    Raises QuantityError for two holes or two shafts, and for a tolerance that
    the tables do not hold.

    >>> fit_spelled("30 H7/g6").shaft.code
    'g6'
    """
    match = _FIT.fullmatch(text)
    if match is None:
        return None
    size = read_number(match["size"])
    if match["unit"]:
        size = read_quantity(f"{match['size']} {match['unit']}", "length").value
    zones = [zone(size, code.strip()) for code in (match["first"], match["second"]) if code]
    holes = [one for one in zones if one.is_hole]
    shafts = [one for one in zones if not one.is_hole]
    if len(holes) > 1 or len(shafts) > 1 or (len(zones) == 2 and not zones[0].is_hole):
        raise QuantityError(
            f'found {quoted(text)}; accepted is a hole in capitals before a shaft in small letters: "30 H7/g6"'
        )
    return Fit(nominal_mm=size, hole=holes[0] if holes else None, shaft=shafts[0] if shafts else None)


def fit_answer(asked: str, fit: Fit, lathe: Lathe | None) -> Answer:
    """Return the limits of hole and shaft, the fit between them and the marks of each dial inside."""
    figures: dict[str, object] = {"nominal_mm": float(fit.nominal_mm)}
    rows: list[Row] = [unit_row("nominal", fit.nominal_mm, "mm")]
    dials: tuple[DialReading, ...] = ()
    for part, one in (("hole", fit.hole), ("shaft", fit.shaft)):
        if one is None:
            continue
        figures[part] = _part_figures(fit.nominal_mm, one)
        rows += _part_rows(part, fit.nominal_mm, one)
        lower_mm, upper_mm = sizes_mm(fit.nominal_mm, one)
        dials += readings_within(lathe, lower_mm, upper_mm, ("diameter",), "hole" if one.is_hole else "shaft")
    if fit.hole is not None and fit.shaft is not None:
        fit_figures, row = _between(fit.hole, fit.shaft)
        figures |= fit_figures
        rows.append(row)
    only = fit.shaft if fit.hole is None else fit.hole if fit.shaft is None else None
    return Answer(
        asked=asked,
        kind="fit",
        figures=figures,
        rows=(*rows, Row("inches are rounded", INWARD), *reading_rows(dials)),
        dials=dials,
        field_text=field_text(fit.nominal_mm if only is None else _middle_mm(fit.nominal_mm, only), "mm"),
    )


def sizes_mm(nominal_mm: Fraction, one: Zone) -> tuple[Fraction, Fraction]:
    """Return the least and the largest size of a hole or a shaft [mm]."""
    return nominal_mm + one.lower_um / 1000, nominal_mm + one.upper_um / 1000


def _middle_mm(nominal_mm: Fraction, one: Zone) -> Fraction:
    return nominal_mm + (one.lower_um + one.upper_um) / 2000


def _sizes_in(nominal_mm: Fraction, one: Zone) -> tuple[Fraction, Fraction]:
    lower_mm, upper_mm = sizes_mm(nominal_mm, one)
    return inward(lower_mm / MM_PER_INCH, upper_mm / MM_PER_INCH, STEP_IN)


def _part_figures(nominal_mm: Fraction, one: Zone) -> dict[str, float]:
    lower_mm, upper_mm = sizes_mm(nominal_mm, one)
    lower_in, upper_in = _sizes_in(nominal_mm, one)
    return {
        "lower_um": float(one.lower_um),
        "upper_um": float(one.upper_um),
        "min_mm": float(lower_mm),
        "max_mm": float(upper_mm),
        "min_in": float(lower_in),
        "max_in": float(upper_in),
    }


def _part_rows(part: str, nominal_mm: Fraction, one: Zone) -> list[Row]:
    lower_mm, upper_mm = sizes_mm(nominal_mm, one)
    lower_in, upper_in = _sizes_in(nominal_mm, one)
    return [
        Row(f"{part} {one.code}", f"{_signed(one.lower_um)} to {_signed(one.upper_um)}"),
        limit_row(f"{part}, least", lower_mm, lower_in),
        limit_row(f"{part}, most", upper_mm, upper_in),
        both_row(f"{part}, limits", lower_mm, upper_mm),
        middle_row(f"{part}, middle", _middle_mm(nominal_mm, one)),
    ]


def _between(hole: Zone, shaft: Zone) -> tuple[dict[str, object], Row]:
    """Return how much hole and shaft play (negative: pinch), and what such a fit is called.

    Source: ISO 286-1, clause 3; a fit whose least clearance is 0 counts as clearance.
    """
    least, most = hole.lower_um - shaft.upper_um, hole.upper_um - shaft.lower_um
    name = "clearance" if least >= 0 else "interference" if most <= 0 else "transition"
    figures = {
        "clearance_min_mm": float(least / 1000),
        "clearance_max_mm": float(most / 1000),
        "fit": name,
    }
    return figures, Row("fit", f"{name}: {_play(least)} to {_play(most)}")


def _play(clearance_um: Fraction) -> str:
    thou = figure_text(abs(clearance_um) / MM_PER_INCH, "thou", 3)
    return f"{figure_text(abs(clearance_um), 'µm')} ({thou}) {'interference' if clearance_um < 0 else 'clearance'}"


def _signed(deviation_um: Fraction) -> str:
    return f"{'+' if deviation_um > 0 else ''}{number_text(deviation_um, 1)} µm"
