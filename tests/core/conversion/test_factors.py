"""Conversion factors match printed ones, and exact fractions from the definitions of their units."""

from fractions import Fraction
from math import pi

import pytest

from core.conversion.convert import convert
from tests.core.exact import rounded
from tests.published import Printed, none_wrong, printed_rows


def _of_quantity(quantity: str) -> list[Printed]:
    return [row for row in printed_rows("conversion") if row.quantity == quantity]


def figure_of(asked: str, key: str) -> float:
    """Return a figure of an answer, or a value of its list of units."""
    figures = convert(asked, None).figures
    if key in figures:
        return float(figures[key])
    return float(next(one["value"] for one in figures["values"] if one["unit"] == key))


@pytest.mark.parametrize("row", _of_quantity("figure"), ids=str)
def test_conversion_factors_match_published_factors(row: Printed) -> None:
    """The factors agree with NIST SP 811 appendix B and handbooks, to the last printed digit."""
    assert figure_of(row.inputs["asked"], row.inputs["key"]) == pytest.approx(
        float(row.printed), rel=0, abs=row.tolerance
    )


FOOT_M, POUND_KG, GRAVITY = Fraction("0.3048"), Fraction("0.45359237"), Fraction("9.80665")
"""International foot and pound of 1959 and standard gravity, exact by definition (NIST SP 811, appendix B)."""
POUND_FORCE_N, INCH_M = POUND_KG * GRAVITY, FOOT_M / 12
GALLON_L = 231 * INCH_M**3 * 1000
FACTORS: dict[str, tuple[str, Fraction]] = {
    "1 in": ("mm", INCH_M * 1000),
    "1 ft": ("mm", FOOT_M * 1000),
    "1 thou": ("um", INCH_M * 1000),
    "1 microinch": ("um", INCH_M),
    "1 yard": ("mm", 3 * FOOT_M * 1000),
    "1 mm": ("thou", 1 / INCH_M),
    "1 deg": ("rad", Fraction(pi) / 180),
    "1 arcmin": ("rad", Fraction(pi) / 180 / 60),
    "1 arcsec": ("rad", Fraction(pi) / 180 / 3600),
    "1 ft/min": ("m_per_min", FOOT_M),
    "1 in/s": ("m_per_min", INCH_M * 60),
    "1 mile/h": ("m_per_min", 5280 * FOOT_M / 60),
    "1 km/h": ("m_per_min", Fraction(1000, 60)),
    "1 lbf": ("N", POUND_FORCE_N),
    "1 kgf": ("N", GRAVITY),
    "1 ozf": ("N", POUND_FORCE_N / 16),
    "1 psi": ("MPa", POUND_FORCE_N / INCH_M**2 / 10**6),
    "1 ksi": ("MPa", POUND_FORCE_N / INCH_M**2 / 1000),
    "1 bar": ("MPa", Fraction("0.1")),
    "1 atm": ("bar", Fraction("1.01325")),
    "1 mmHg": ("MPa", Fraction("13.5951") * GRAVITY / 10**6),
    "1 lb": ("kg", POUND_KG),
    "1 oz": ("kg", POUND_KG / 16),
    "1 slug": ("kg", POUND_FORCE_N / FOOT_M),
    "1 short_ton": ("kg", 2000 * POUND_KG),
    "1 long_ton": ("kg", 2240 * POUND_KG),
    "1 hp": ("W", 550 * FOOT_M * POUND_FORCE_N),
    "1 metric_horsepower": ("W", 75 * GRAVITY),
    "1 lbf*ft": ("N m (J)", POUND_FORCE_N * FOOT_M),
    "1 lbf*in": ("N m (J)", POUND_FORCE_N * INCH_M),
    "1 kWh": ("N m (J)", Fraction(3_600_000)),
    "1 US_liquid_gallon": ("L", GALLON_L),
    "1 imperial_gallon": ("L", Fraction("4.54609")),
    "1 in³": ("cm³", (100 * INCH_M) ** 3),
    "1 ft³": ("L", (10 * FOOT_M) ** 3),
    "1 in²": ("mm²", (1000 * INCH_M) ** 2),
    "1 ft²": ("cm²", (100 * FOOT_M) ** 2),
    "1 lb/in³": ("kg/m³", POUND_KG / INCH_M**3),
    "1 h": ("s", Fraction(3600)),
    "68 degF": ("°C", Fraction(68 - 32) / Fraction("1.8")),
    "1 US_liquid_gallon/min": ("cm³/min", 1000 * GALLON_L),
    "40 ft/min at 1/2 in": ("rpm", 12 * 40 / Fraction(pi) * 2),
}


def test_conversion_factors_match_the_definitions_of_the_units() -> None:
    """The factors agree with fractions calculated from NIST SP 811 appendix B, with Python's pi."""
    none_wrong(
        [
            f"{asked}: worked out {float(factor)} {key}, here {figure_of(asked, key)}"
            for asked, (key, factor) in FACTORS.items()
            if figure_of(asked, key) != pytest.approx(float(factor), rel=1e-9)
        ]
    )


def test_decimal_equivalents_of_sixty_fourths_are_converted_to_their_fractions() -> None:
    """Each 64th of an inch is found from all its decimals, and from the four in a handbook's table."""
    wrong = []
    for count in range(1, 64):
        fraction = Fraction(count, 64)
        for decimals in (fraction, rounded(fraction, "0.0001")):
            shown = convert(f"{float(decimals)} in", None).figures["fraction"]
            if shown != str(fraction):
                wrong.append(f"{float(decimals)} in: {fraction}, here {shown}")
    none_wrong(wrong)


@pytest.mark.parametrize("row", _of_quantity("half angle"), ids=str)
def test_conversions_between_half_angle_and_taper_per_foot_match_published_values(row: Printed) -> None:
    """The printed half angle of a Morse taper gives the printed taper per foot, and the reverse."""
    per_foot = figure_of(f"{row.printed} deg", "half_taper_per_foot_in")
    assert per_foot == pytest.approx(row.inputs["per_foot"], abs=24 * row.tolerance * pi / 180)
    one_to = 12 / row.inputs["per_foot"]
    assert figure_of(f"1:{one_to:.6f}", "deg") / 2 == pytest.approx(float(row.printed), abs=row.tolerance)
