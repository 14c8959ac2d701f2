"""The reader of sums matches Python's Fraction and pint, also for random text."""

import time
from fractions import Fraction
from math import cos, pi, radians, sin, tan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.conversion.convert import convert
from core.conversion.dimensions import ANGLE, LENGTH, NUMBER, PITCH, ROTATION, SPEED, Dimension
from core.conversion.expression import evaluate
from core.conversion.unit_lookup import unit_value
from core.values.errors import QuantityError
from tests.core.conversion.units_oracle import exact_registry

INCH = Fraction(254, 10)

# Units as a sum accepts them, with their dimension and size, from the international inch and the minute.
UNITS: dict[str, tuple[str, Fraction]] = {
    "mm": ("length", Fraction(1)),
    "cm": ("length", Fraction(10)),
    "in": ("length", INCH),
    "thou": ("length", INCH / 1000),
    "ft": ("length", 12 * INCH),
    "deg": ("angle", Fraction(1)),
    "arcmin": ("angle", Fraction(1, 60)),
    "s": ("time", Fraction(1)),
    "min": ("time", Fraction(60)),
}


class Oracle:
    """A value calculated together with its text: a Fraction for the number, and a count of units."""

    def __init__(self, text: str, number: Fraction, powers: dict[str, int]) -> None:
        self.text = text
        self.number = number
        self.powers = {name: power for name, power in powers.items() if power}

    def joined(self, sign: str, other: "Oracle") -> "Oracle | None":
        """Return two values joined by an operator. None if the result has no value."""
        text = f"({self.text}) {sign} ({other.text})"
        if sign in "+-":
            if self.powers != other.powers:
                return None
            number = self.number + other.number if sign == "+" else self.number - other.number
            return Oracle(text, number, self.powers)
        if sign == "/" and other.number == 0:
            return None
        factor = 1 if sign == "*" else -1
        names = {*self.powers, *other.powers}
        powers = {name: self.powers.get(name, 0) + factor * other.powers.get(name, 0) for name in names}
        number = self.number * other.number if sign == "*" else self.number / other.number
        return Oracle(text, number, powers)


def _dimension(powers: dict[str, int]) -> Dimension:
    return Dimension(**powers)


@st.composite
def numbers(draw: st.DrawFn) -> tuple[str, Fraction]:
    """Draw a number as a turner writes it, with its value."""
    whole, below = draw(st.integers(0, 999)), draw(st.sampled_from([2, 4, 8, 16, 32, 64]))
    above = draw(st.integers(1, below - 1))
    decimals = f"{draw(st.integers(0, 99)):02}"
    mark = draw(st.sampled_from(".,"))
    return draw(
        st.sampled_from(
            [
                (str(whole), Fraction(whole)),
                (f"{whole}{mark}{decimals}", Fraction(f"{whole}.{decimals}")),
                (f"{above}/{below}", Fraction(above, below)),
                (f"{whole} {above}/{below}", whole + Fraction(above, below)),
            ]
        )
    )


@st.composite
def leaves(draw: st.DrawFn) -> Oracle:
    """Draw a number, with or without a unit."""
    text, number = draw(numbers())
    name = draw(st.sampled_from(["", *UNITS]))
    if not name:
        return Oracle(text, number, {})
    kind, size = UNITS[name]
    return Oracle(f"{text} {name}", number * size, {kind: 1})


SUMS = st.recursive(
    leaves(),
    lambda inner: st.tuples(inner, st.sampled_from("+-*/"), inner).map(
        lambda parts: parts[0].joined(parts[1], parts[2]) or parts[0]
    ),
    max_leaves=8,
)


@settings(max_examples=120, deadline=None)
@given(SUMS)
def test_expressions_of_quantities_are_evaluated_exactly(oracle: Oracle) -> None:
    """Every sum has exactly the number that Fraction gives, and the dimension of its units."""
    if len(oracle.text) > 300:
        return
    value = evaluate(oracle.text, unit_value)
    assert value.number == oracle.number
    assert value.dimension == _dimension(oracle.powers)


@settings(max_examples=100, deadline=None)
@given(leaves(), st.sampled_from("+-"), leaves())
def test_adding_quantities_of_different_kinds_is_refused(first: Oracle, sign: str, second: Oracle) -> None:
    """A length plus an angle is refused, and so is every other such pair."""
    text = f"({first.text}) {sign} ({second.text})"
    if first.powers == second.powers:
        assert evaluate(text, unit_value).dimension == _dimension(first.powers)
        return
    with pytest.raises(QuantityError):
        evaluate(text, unit_value)


@settings(max_examples=80, deadline=None)
@given(leaves(), leaves(), leaves())
def test_multiplications_are_evaluated_before_additions(first: Oracle, second: Oracle, third: Oracle) -> None:
    """Without brackets a + b * c is a + (b * c), and a - b + c is computed from the left."""
    product = second.joined("*", third)
    assert product is not None
    if first.powers == product.powers:
        value = evaluate(f"{first.text} + {second.text} * {third.text}", unit_value)
        assert value.number == first.number + product.number
    if first.powers == second.powers == third.powers:
        # A bare "1 - 1/4" differs from the mixed number 1-1/4 by its spaces.
        value = evaluate(f"{first.text} - {second.text} + {third.text}", unit_value)
        assert value.number == first.number - second.number + third.number


@pytest.mark.parametrize(
    ("text", "number", "dimension"),
    [
        ("1 1/4 in - 2*15 thou + 0.2 mm", Fraction("31.188"), LENGTH),
        ("(25.4 mm)/3", Fraction(254, 30), LENGTH),
        ("1/3 in", INCH / 3, LENGTH),
        ("1-1/4 in", INCH * 5 / 4, LENGTH),
        ("2 in-1/4 in", INCH * 7 / 4, LENGTH),
        ("-(-(5 mm))", Fraction(5), LENGTH),
        ("2 × 3 mm − 1 mm", Fraction(5), LENGTH),
        ("29,80 mm", Fraction("29.8"), LENGTH),
        (".5 mm", Fraction(1, 2), LENGTH),
        ('1 1/4"', INCH * 5 / 4, LENGTH),
        ("25.4 mm / 1 in", Fraction(1), NUMBER),
        ("1/(8 tpi)", Fraction("3.175"), LENGTH),
        ("1/(1.27 mm)", Fraction(100, 127), PITCH),
        ("70 rpm * 1.5 mm", Fraction("1.75"), SPEED),
        ("30 m / (2 min)", Fraction(250), SPEED),
        ("60/(1 min)", Fraction(1), ROTATION),
        ("12°30'", Fraction("12.5"), ANGLE),
        ("12d30m36s", Fraction("12.51"), ANGLE),
        ("90 deg - 12°30'36\"", Fraction("77.49"), ANGLE),
        ("sin(30 deg) * 3 mm", Fraction("1.5"), LENGTH),
        ("cos(120 deg)", Fraction(-1, 2), NUMBER),
        ("tan(135 deg)", Fraction(-1), NUMBER),
        ("sin(-90 deg)", Fraction(-1), NUMBER),
        ("cos(360 deg)", Fraction(1), NUMBER),
        ("180 deg / pi / 1 rad", Fraction(1), NUMBER),
    ],
)
def test_expressions_of_quantities_match_a_hand_calculation(text: str, number: Fraction, dimension: Dimension) -> None:
    """Sums that a turner can work out by hand have exactly that result."""
    value = evaluate(text, unit_value)
    assert (value.number, value.dimension) == (number, dimension)


@pytest.mark.parametrize("angle", [29.5, 27.5, 1.4287, -5.74, 89.0, 123.4, 1000.5])
def test_sine_cosine_and_tangent_match_pythons_math_module(angle: float) -> None:
    """Sine, cosine and tangent are compared."""
    for name, function in (("sin", sin), ("cos", cos), ("tan", tan)):
        value = float(evaluate(f"{name}({angle} deg)", unit_value).number)
        assert value == pytest.approx(function(radians(angle)), rel=1e-12)
    assert float(evaluate("pi * 32 mm", unit_value).number) == pytest.approx(pi * 32, rel=1e-15)
    assert float(evaluate("40 mm / cos(29.5 deg)", unit_value).number) == pytest.approx(40 / cos(radians(29.5)))


REFUSED = [
    "", " ", "5", "mm mm", "5 mm 3 mm", "5 mm 3", "(5 mm", "5 mm)", "()", "5 mm +", "* 5 mm", "5 mm ** 2",
    "5 mm ^ 2",
    "9**9**9 mm", "1e999 mm", "1e3 mm", "[1]", "{5} mm", "5 mm; 3 mm", "5 mm = 3 mm", "0x10 mm", "1_000 mm",
    "1,250 mm",
    "1.234,5 mm", "1'250 mm", "NaN mm", "inf mm", "infinity", "1/0 mm", "5 mm / 0", "5 mm / (2 - 2)",
    "5 mm / (1 in - 25.4 mm)",
    "5 mm + 3 deg", "5 mm + 3", "3 - 1/4 in", "10 / 4 mm", "10 mm + 8 tpi", "(10-1/4) in", "10 mm/2-1/4 in",
    "sin(5)",
    "sin(5 mm)", "sin 30 deg", "sin", "tan(90 deg)", "tan(-270 deg)", "cos(1 1/4 in)", "5 mil", "5 mils",
    "2 tenths",
    "5 frobs per fortnight", "5 frobs", "5 kin", "5 PS", "5 dB", "3 gallons", "2 tons", "5 c", "1 e",
    "5 degF + 3 mm",
    "12°75'", "12.5°30'", "(" * 31 + "5 mm" + ")" * 31, "(" * 300, "5 mm" + " " * 400, "1" * 50 + " mm", "٣ mm",
    "5 ㎜",
    "__import__('os').system('true')", "lambda: 5", "5 mm\x00", "5 mm\x1b[2J", "\ud800", "5 1/2 1/4 in",
    "1//2 in", "5 mm,", "..", "5..5 mm", "abs(5 mm)", "pi", "2 + 3", "101 m", "0.0000001 mm", "10000001 rpm",
    "-8 tpi",
    "0 tpi", "5 mm²mm", "5 mm at 3 mm", "25 m/min at 3 deg", "25 m/min at 0 mm", "25 m/min at -3 mm", "25 m/min at",
    "5 deg pitch", "12.5 +0.02 -0.01", "12.5 +0.02 -0.01 deg", "12.5 +0.02 -0.01 mil", "30 +0.1 mm",
    "100 -0.05 mm", "30 +0.10 mm", "1 in 1/4", "1:0", "1:-5", "-300 degC",
]  # fmt: skip


@pytest.mark.parametrize("text", REFUSED)
def test_invalid_expressions_are_refused_with_one_short_sentence(text: str) -> None:
    """The sentence is printable."""
    begun = time.process_time()
    with pytest.raises(QuantityError) as refusal:
        convert(text, None)
    assert time.process_time() - begun < 2
    message = refusal.value.message
    assert 10 < len(message) < 600
    assert message.isprintable(), ascii(message)


def test_unusual_spaces_and_direction_marks_in_pasted_text_are_accepted() -> None:
    """No-break spaces separate words as other spaces do. Direction marks are removed."""
    answer = convert("1\u00a01/4\u202fin\u200e", None)
    assert (answer.asked, answer.figures["mm"]) == ("1 1/4 in", 31.75)


PIECES = st.sampled_from(
    ["5", "1/4", "1 1/4", "3-1/8", ".5", "9,5", "mm", "in", "thou", "deg", "°", "'",
     '"', "tpi", "rpm", "min", "m", "d", "s",
     "+", "-", "*", "/", "(", ")", "sin", "cos", "tan", "pi", " ", "at", "H7", "g6", "/", "±", "%", ":", "1", "0",
     "W", "N", "#", "#7", "no", "drill", "letter", "F", "per", "foot",
     "²", "e", "E", "lbf", "degC", "pitch", "\t", "×", "**", "^", "_", "é", "ft", "K"]
)  # fmt: skip
ANYTHING = st.one_of(
    st.text(max_size=60), st.lists(PIECES, max_size=25).map("".join), st.lists(PIECES, max_size=25).map(" ".join)
)


@settings(max_examples=500, deadline=2000)
@given(ANYTHING)
def test_any_text_gets_either_an_answer_or_a_printable_refusal(text: str) -> None:
    """No text gives another error, an unprintable message, or a number beyond a float."""
    try:
        answer = convert(text, None)
    except QuantityError as refusal:
        assert 0 < len(refusal.message) < 600
        assert refusal.message.isprintable(), ascii(refusal.message)
        return
    assert answer.asked.isprintable()
    for label, words, *_ in answer.rows:
        assert label.isprintable() and words.isprintable()
        assert "nan" not in words.split() and "inf" not in words.split()


@settings(max_examples=120, deadline=None)
@given(
    st.decimals("0.01", "9999", places=2),
    st.sampled_from(["mm", "cm", "m", "um", "in", "inch", "thou", "ft"]),
    st.sampled_from([("mm", "millimeter"), ("um", "micrometer"), ("in", "inch"), ("thou", "thou")]),
)
def test_converted_lengths_match_those_computed_by_pint(number: object, unit: str, wanted: tuple[str, str]) -> None:
    """Every pair of length units agrees with pint."""
    asked = exact_registry().Quantity(Fraction(str(number)), "micrometer" if unit == "um" else unit)
    if asked.to("m").magnitude > 100:
        return
    figure = convert(f"{number} {unit}", None).figures[wanted[0]]
    assert figure == pytest.approx(float(asked.to(wanted[1]).magnitude), rel=1e-14)


@pytest.mark.parametrize("unit", ["deg", "arcmin", "arcsec", "rad", "°", "'"])
@pytest.mark.parametrize("wanted", ["deg", "arcmin", "arcsec", "rad"])
def test_converted_angles_match_those_computed_by_pint(unit: str, wanted: str) -> None:
    """Every pair of angle units agrees with pint."""
    name = {"°": "degree", "'": "arcmin"}.get(unit, unit)
    expected = float(exact_registry().Quantity(Fraction(29, 4), name).to(wanted).magnitude)
    assert convert(f"7.25 {unit}", None).figures[wanted] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("unit", ["m/min", "ft/min", "mm/s", "in/s", "in/min", "m/s", "ft/h", "mm/min"])
@pytest.mark.parametrize(
    ("key", "wanted"),
    [("m_per_min", "m/min"), ("ft_per_min", "ft/min"), ("mm_per_min", "mm/min"), ("in_per_min", "in/min")],
)
def test_converted_speeds_match_those_computed_by_pint(unit: str, key: str, wanted: str) -> None:
    """Every pair of speed units agrees with pint."""
    expected = float(exact_registry().Quantity(Fraction(25, 2), unit).to(wanted).magnitude)
    assert convert(f"12.5 {unit}", None).figures[key] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("units", "shown"),
    [
        (["N", "lbf", "kgf", "kN", "ozf"], {"N": "newton", "kgf": "kgf", "lbf": "lbf"}),
        (["Pa", "psi", "bar", "MPa", "atm", "mmHg"], {"MPa": "MPa", "bar": "bar", "psi": "psi"}),
        (["kg", "lb", "oz", "g", "long_ton"], {"kg": "kg", "g": "g", "lb": "lb", "oz": "oz"}),
        (["W", "kW", "hp", "metric_horsepower"], {"W": "W", "kW": "kW", "hp": "hp"}),
        (["s", "min", "h", "week"], {"s": "s", "min": "min", "h": "hour"}),
        (["N*m", "lbf*ft", "lbf*in", "J", "Wh"], {"N m (J)": "N*m", "lbf ft": "lbf*ft", "lbf in": "lbf*in"}),
        (["L", "imperial_gallon", "US_pint", "cc"], {"L": "L", "cm³": "cm**3", "in³": "in**3", "mm³": "mm**3"}),
    ],
)
def test_conversions_of_units_not_used_in_lathe_files_match_those_by_pint(
    units: list[str], shown: dict[str, str]
) -> None:
    """Every pair of units that lathe files do not use agrees with pint, through the reader of sums."""
    registry = exact_registry()
    for unit in units:
        values = {one["unit"]: one["value"] for one in convert(f"3.5 {unit}", None).figures["values"]}
        assert set(values) >= set(shown)
        for name, pint_name in shown.items():
            expected = float(registry.Quantity(Fraction(7, 2), unit).to(pint_name).magnitude)
            assert values[name] == pytest.approx(expected, rel=1e-9), unit
