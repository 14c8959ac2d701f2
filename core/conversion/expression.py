"""Evaluates a typed sum of quantities with + - * / brackets, pi, sin, cos and tan, and never runs it as code.

sum     = product {("+" | "-") product}
product = signed {("*" | "/") signed}
signed  = {"+" | "-"} operand
operand = drill | angle | number [unit] | "pi" | function "(" sum ")" | "(" sum ")" [unit] | unit
"""

import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from functools import cache
from typing import Literal, NamedTuple

from core.conversion.dimensions import ANGLE, LENGTH, NUMBER, UnitLookup, Value, with_article
from core.conversion.units import PI
from core.data import read_table
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MINUTES, MM_PER_INCH, NUMBER_PATTERN, SECONDS, read_number, read_quantity

DEEPEST_BRACKETS = 30
FUNCTIONS: dict[str, Callable[[float], float]] = {"sin": math.sin, "cos": math.cos, "tan": math.tan}

# The whole degrees at which sine, cosine and tangent are rational (Niven).
_EXACT_SIN = {0: Fraction(0), 30: Fraction(1, 2), 90: Fraction(1), 150: Fraction(1, 2), 180: Fraction(0)}
_EXACT_TAN = {0: Fraction(0), 45: Fraction(1), 135: Fraction(-1)}

_DRILL = (
    r"(?i:(?:\bdrill\s*)?(?:\#|\b(?:no\.?|number)(?=[\s\d]))\s*\d{1,4}(?![\w.,/])(?:\s+drill\b)?"
    r"|\b(?:drill\s+(?:letter\s+)?|letter\s+(?:drill\s+)?)[a-z]\b(?:\s+drill\b)?"
    r"|\b[a-z]\s+drill\b)"
)
"""Matches a number or letter drill: "#7", "no 7 drill", "letter F", "drill F", "F drill"."""

_DRILL_NAME = re.compile(r"(?i:\d+|\b[a-z]\b)", re.ASCII)

LONGEST_SUM = 300

UNIT = r"(?:[A-Za-zµμΩ_°][A-Za-zµμΩ_]*[²³]?|''|[\"'])"

_PART = r"\d+(?:[.,]\d+)?"
_ANGLE = (
    rf"{_PART}\s*(?:°|deg(?:rees?)?\b|d(?=\s*\d))\s*{_PART}\s*"
    rf"(?:(?:'(?!')|′|{MINUTES}(?![A-Za-z]))(?:\s*{_PART}\s*(?:\"|″|''|{SECONDS}(?![A-Za-z])))?|\"|″|'')"
)
_TOKEN = re.compile(
    rf"\s*(?:(?P<drill>{_DRILL})|(?P<angle>{_ANGLE})|(?P<number>{NUMBER_PATTERN})|(?P<power>\*\*|\^)|(?P<exponent>(?<=[\d.,])[eE][-+]?\d)"
    rf"|(?P<name>{UNIT})|(?P<sign>[-+*/()×·÷−]))",
    re.ASCII,
)
_SIGNS = {"×": "*", "·": "*", "÷": "/", "−": "-"}

Sort = Literal["drill", "angle", "number", "name", "sign", "end"]
_SORTS: tuple[Sort, ...] = ("drill", "angle", "number", "name")


class Token(NamedTuple):
    """One piece of a typed sum, such as a number, a unit or a plus sign."""

    sort: Sort
    text: str


def evaluate(text: str, units: UnitLookup) -> Value:
    """Return the value of a typed sum in base units, exact except for sines, cosines and tangents.

    `text`: at most 300 characters. `units`: a function that returns the value of a unit by its name. Raises
    QuantityError, whose message says what is wrong and what to enter.

    >>> from core.conversion.unit_lookup import unit_value
    >>> evaluate("1 1/4 in - 2*15 thou + 0.2 mm", unit_value).number
    Fraction(7797, 250)
    """
    return _Reader(text, units).whole()


class _Reader:
    """Evaluates one typed sum by recursive descent. The allowed depth of brackets limits the recursion."""

    def __init__(self, text: str, units: UnitLookup) -> None:
        self._text = text
        self._units = units
        self._tokens = _tokens(text)
        self._place = 0
        self._depth = 0

    def whole(self) -> Value:
        """Return the value of the whole text."""
        with self._in_context():
            value = self._sum()
            if self._next.sort != "end":
                raise QuantityError(f"Put an operator such as + or * {self._at(self._next)}.")
        return value

    @property
    def _next(self) -> Token:
        return self._tokens[self._place]

    def _take(self) -> Token:
        token = self._next
        self._place += 1
        return token

    def _takes(self, *signs: str) -> str:
        """Move past the next piece and return its text, if it is one of `signs`; otherwise return ""."""
        if self._next.sort == "sign" and self._next.text in signs:
            return self._take().text
        return ""

    @contextmanager
    def _in_context(self) -> Iterator[None]:
        """Put the user's text in quotes before the message of a QuantityError that is raised in the `with` block.

        If the message already quotes that text, it is not changed.
        """
        try:
            yield
        except QuantityError as error:
            if quoted(self._text) in error.message:
                raise
            raise QuantityError(f"{quoted(self._text)}: {error.message}") from None

    def _sum(self) -> Value:
        value = self._product()
        while sign := self._takes("+", "-"):
            value = value + self._product() if sign == "+" else value - self._product()
        return value

    def _product(self) -> Value:
        value = self._signed()
        while sign := self._takes("*", "/"):
            if sign == "*":
                value = value * self._signed()
            else:
                start = self._place
                divisor = self._signed()
                self._refuse_two_ways(value, divisor, start)
                value = value / divisor
        return value

    def _refuse_two_ways(self, value: Value, divisor: Value, start: int) -> None:
        """Raise QuantityError for a division such as "10 / 4 mm", which may mean 2.5 mm or 2.5 per mm.

        `value`: the dividend. `start`: the index of the divisor's first piece.
        """
        plain_number = self._tokens[start].sort == "number" and self._place - start > 1
        if plain_number and value.dimension == NUMBER and divisor.dimension != NUMBER:
            divided_by = " ".join(token.text for token in self._tokens[start : self._place])
            raise QuantityError(
                f'"/ {divided_by}" can be read two ways. Put brackets round the division or round "{divided_by}".'
            )

    def _signed(self) -> Value:
        negative = False
        while sign := self._takes("+", "-"):
            negative ^= sign == "-"
        value = self._operand()
        return -value if negative else value

    def _operand(self) -> Value:
        before, token = self._place - 1, self._take()
        if token.sort == "drill":
            return Value(drill_size_in(token.text) * MM_PER_INCH, LENGTH)
        if token.sort == "angle":
            return Value(read_quantity(token.text, "angle").value, ANGLE)
        if token.sort == "number":
            self._refuse_hyphen(token, before)
            return self._with_unit(Value(read_number(token.text)))
        if token.sort == "name":
            return self._named_value(token)
        if token.text == "(":
            return self._with_unit(self._bracketed())
        raise QuantityError(f"Put a number with its unit {self._at(token)}.")

    def _refuse_hyphen(self, token: Token, before: int) -> None:
        """Raise QuantityError for a number with a hyphen that could be a minus sign.

        A text such as "1-1/4 in" is accepted, because the hyphen can only join the fraction to the whole number.
        `token`: the piece with the number. `before`: the index of the piece before the number; below 0 if there is
        none.
        """
        if "-" not in token.text:
            return
        lone = before < 0 or self._tokens[before].text in {"(", "+", "-"}
        if not (lone and self._next.sort == "name"):
            raise QuantityError(
                f"{token.text} can be read two ways. Enter {token.text.replace('-', ' ')} or "
                f"{token.text.replace('-', ' - ')}."
            )

    def _named_value(self, token: Token) -> Value:
        if token.text.casefold() == "pi":
            return Value(PI)
        function = FUNCTIONS.get(token.text.casefold())
        if function is None:
            return self._unit(token)
        if not self._takes("("):
            raise QuantityError(f"{token.text} needs an angle in brackets, such as {token.text}(29.5 deg).")
        return _of_angle(token.text.casefold(), function, self._bracketed())

    def _bracketed(self) -> Value:
        """Return the value of the sum after an opening bracket, and move past the closing bracket.

        Raises QuantityError if the closing bracket is missing, or if too many brackets are inside each other.
        """
        self._depth += 1
        if self._depth > DEEPEST_BRACKETS:
            raise QuantityError(f"There are too many brackets. Put at most {DEEPEST_BRACKETS} inside each other.")
        value = self._sum()
        if not self._takes(")"):
            raise QuantityError(f"Put a closing bracket {self._at(self._next)}.")
        self._depth -= 1
        return value

    def _with_unit(self, value: Value) -> Value:
        """Return a value with the unit that comes next in the text, or the value unchanged if no unit comes next.

        Raises QuantityError if the value already has a unit.
        """
        token = self._next
        if token.sort != "name" or token.text.casefold() in {"pi", *FUNCTIONS}:
            return value
        if value.dimension != NUMBER:
            raise QuantityError(
                f"{token.text} follows {with_article(value.dimension)}, which already has a unit. Enter only one unit."
            )
        self._take()
        return value * self._unit(token)

    def _unit(self, token: Token) -> Value:
        name = token.text
        if name[-1] in "²³":
            one = self._units(name[:-1])
            return one * one * one if name[-1] == "³" else one * one
        return self._units(name)

    def _at(self, token: Token) -> str:
        return "at the end" if token.sort == "end" else f"before {quoted(token.text)}"


def _of_angle(name: str, function: Callable[[float], float], value: Value) -> Value:
    """Return the sine, cosine or tangent of an angle. The result is exact if it is rational, as for sin(30 deg).

    `name`: "sin", "cos" or "tan", for messages. `function`: the function of that name, for an angle in radians.
    """
    if value.dimension != ANGLE:
        raise QuantityError(
            f"{name} needs an angle, not {with_article(value.dimension)}. Enter an angle, such as {name}(29.5 deg)."
        )
    turn = value.number % 360
    if name == "tan":
        if turn % 180 == 90:
            raise QuantityError("tan of 90 deg is infinite. Enter another angle.")
        exact = _EXACT_TAN.get(int(turn % 180)) if turn.denominator == 1 else None
    else:
        exact = _exact_sin(turn + 90 if name == "cos" else turn)
    return Value(Fraction(function(math.radians(turn))) if exact is None else exact)


def _exact_sin(angle_deg: Fraction) -> Fraction | None:
    half_turn, into_half_deg = divmod(angle_deg, 180)
    exact = _EXACT_SIN.get(int(into_half_deg)) if into_half_deg.denominator == 1 else None
    return exact if exact is None or half_turn % 2 == 0 else -exact


def _tokens(text: str) -> list[Token]:
    """Return the pieces of a typed sum, with an "end" piece last. Raises QuantityError for an unknown character.

    >>> [token.text for token in _tokens("1 1/4 in - 2*15 thou")]
    ['1 1/4', 'in', '-', '2', '*', '15', 'thou', '']
    """
    if len(text) > LONGEST_SUM:
        raise QuantityError(f"The text has {len(text)} characters. Enter at most {LONGEST_SUM}.")
    pieces: list[Token] = []
    place, end = 0, len(text.rstrip())
    while place < end:
        match = _TOKEN.match(text, place)
        if match is None:
            raise QuantityError(
                f"{quoted(text[place:].lstrip()[:1])} in {quoted(text)} cannot be read. Enter numbers, units, "
                "+ - * / ( ), pi, sin, cos and tan."
            )
        pieces.append(_token(match, text))
        place = match.end()
    return [*pieces, Token("end", "")]


def _token(match: re.Match[str], text: str) -> Token:
    for sort in _SORTS:
        if piece := match[sort]:
            return Token(sort, piece)
    if piece := match["power"]:
        raise QuantityError(f"{quoted(piece)} in {quoted(text)} is a power. Enter only + - * / and brackets.")
    if match["exponent"]:
        raise QuantityError(f"{quoted(text)} has an exponent. Enter the number in full, such as 1250.")
    return Token("sign", _SIGNS.get(match["sign"], match["sign"]))


def drill_size_in(text: str) -> Fraction:
    """Return the exact diameter [in] of a drill by its name, such as "#7" or "F".

    Raises QuantityError if there is no such drill.
    Source: ASME B94.11M; core/data/drills.csv says which sizes are from memory.

    >>> drill_size_in("no 7 drill"), drill_size_in("letter F")
    (Fraction(201, 1000), Fraction(257, 1000))
    """
    match = _DRILL_NAME.search(text)
    name = "" if match is None else match[0].upper()
    size = _sizes_in().get(f"#{int(name)}" if name.isdecimal() else name)
    if size is None:
        raise QuantityError(f"There is no drill {quoted(text)}. Enter #1 to #80 or letter A to Z.")
    return size


@cache
def _sizes_in() -> dict[str, Fraction]:
    return {row["name"]: Fraction(row["inches"]) for row in read_table("drills")}
