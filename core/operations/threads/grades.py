"""Tolerance grades of ISO 965-1, which ISO 2903 shares: one table cell of grade 6, the others stepped from it.

Printed tolerances are preferred numbers R40: a grade is four places wider than
the one before, and the pitch diameter inside five places wider than outside.
"""

import itertools
import math
from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from core.operations.threads.preferred import stepped_um

PITCH_GRADES = {
    False: {3: 0.5, 4: 0.63, 5: 0.8, 6: 1.0, 7: 1.25, 8: 1.6, 9: 2.0},
    True: {4: 0.85, 5: 1.06, 6: 1.32, 7: 1.7, 8: 2.12},
}
"""Outside and inside: the tolerance of each grade over that of the external grade 6."""
CREST_GRADES = {
    False: {4: 0.63, 6: 1.0, 8: 1.6},
    True: {4: 0.63, 5: 0.8, 6: 1.0, 7: 1.25, 8: 1.6},
}
_RANGES = tuple(map(Fraction, ["0.99", "1.4", "2.8", "5.6", "11.2", "22.4", "45", "90", "180", "355"]))
"""Ranges of the basic major diameter [mm]: over, up to and including."""


class Figure(NamedTuple):
    """Micrometres, and where they come from: "" the table, else "formula" or "memory"."""

    um: int
    origin: str = ""


def pitch_tolerance(
    major_mm: Fraction,
    pitch_mm: Fraction,
    grade: int,
    *,
    internal: bool,
    cells: Mapping[tuple[Fraction, Fraction], Figure],
) -> Figure:
    """Return Td2 or TD2. major_mm: above 0.99, up to 355 [mm]; pitch_mm: [mm].

    cells: grade 6 outside, by lower end of the range and pitch [mm]; where it
    has none, 90 P^0.4 d^0.1 with d the geometric mean of the range (ISO 965-1).
    """
    over, to = next((low, high) for low, high in itertools.pairwise(_RANGES) if major_mm <= high)
    cell = cells.get((over, pitch_mm))
    if cell is None:
        of_grade_6 = 90 * float(pitch_mm) ** 0.4 * math.sqrt(over * to) ** 0.1
        return by_formula(of_grade_6 * PITCH_GRADES[internal][grade])
    return Figure(um=stepped_um(cell.um, 4 * (grade - 6) + 5 * internal), origin=cell.origin)


def by_formula(value_um: float) -> Figure:
    """Return the preferred number nearest to a value worked out by formula [um]."""
    return Figure(um=stepped_um(value_um, 0), origin="formula")
