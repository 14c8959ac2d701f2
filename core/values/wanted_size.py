"""The size that a cut should reach: a length, or two limits from a fit or a drawing.

A cut aims at the middle of the limits.
"""

from fractions import Fraction
from typing import NamedTuple

from core.values.dials import Unit
from core.values.errors import QuantityError
from core.values.plain_text import clean, quoted
from core.values.quantities import MM_PER_INCH, length_text, read_quantity

LONGEST = 60
EXAMPLES = "a length such as 29.80 mm, or limits such as 30 g6, 28.98 to 29.00 mm or 12.5 +0.02 -0.01 mm"


class WantedSize(NamedTuple):
    """The smallest and the largest wanted size [mm], both exact. They are equal if the user entered one length."""

    text: str
    """The size as the user typed it."""
    lower_mm: Fraction
    upper_mm: Fraction

    @property
    def middle_mm(self) -> float:
        """The size at which a cut aims [mm]: the middle between the limits."""
        return float((self.lower_mm + self.upper_mm) / 2)

    @property
    def has_limits(self) -> bool:
        """True if the smallest and the largest size differ."""
        return self.lower_mm < self.upper_mm

    def holds(self, size_mm: float) -> bool:
        """Return whether a size [mm] is within the limits, each of which is extended by a nanometre."""
        return float(self.lower_mm) - 1e-6 <= size_mm <= float(self.upper_mm) + 1e-6

    def words(self, unit: Unit) -> str:
        """Return the size, or both limits, in words.

        Limits are rounded inwards, so that a wrong size is never called right. `unit`: "mm" or "in".

        >>> read_wanted_size("30 g6").words("mm"), read_wanted_size("30 g6").words("in")
        ('29.98 mm to 29.993 mm (30 g6)', '1.1804 in to 1.1808 in (30 g6)')
        """
        if not self.has_limits:
            return length_text(float(self.lower_mm), unit)
        # The patterns of limits and the tables of fits are read only when a text needs them.
        from core.values.iso286 import fit_spelled
        from core.values.limits import LIMIT_STEP_IN, LIMIT_STEP_MM, rounded_inward

        one, step = (MM_PER_INCH, LIMIT_STEP_IN) if unit == "in" else (Fraction(1), LIMIT_STEP_MM)
        ends = rounded_inward(self.lower_mm / one, self.upper_mm / one, step)
        limits = " to ".join(length_text(float(end * one), unit) for end in ends)
        return f"{limits} ({self.text})" if fit_spelled(self.text) else limits


def read_wanted_size(text: object) -> WantedSize:
    """Return the wanted size that a text states: a length, two limits, or the hole or the shaft of a fit.

    Raises QuantityError if the text states none of these.

    >>> read_wanted_size("28.98 to 29.00 mm").middle_mm
    28.99
    """
    try:
        length_mm = read_quantity(text, "length", EXAMPLES).value
    except QuantityError:
        size = _with_limits(text) if isinstance(text, str) else None
        if size is None:
            raise
        return size
    return WantedSize(str(text).strip(), length_mm, length_mm)


def _with_limits(text: str) -> WantedSize | None:
    """Return the size with limits that a text states; None if the text does not state limits."""
    from core.values.iso286 import fit_spelled
    from core.values.limits import limits_spelled

    if len(text) > LONGEST:
        return None
    if fit := fit_spelled(text):
        if fit.only is None:
            raise QuantityError(
                f"{quoted(text)} names a hole and a shaft. Enter the one that you are cutting, such as "
                f"{clean(text.partition('/')[0].strip(), LONGEST)}."
            )
        return WantedSize(text.strip(), *fit.only.sizes_mm(fit.nominal_mm))
    limits = limits_spelled(text)
    return None if limits is None else WantedSize(text.strip(), limits.lower_mm, limits.upper_mm)
