"""Cuts the text of a sum into numbers, names and signs."""

import re
from typing import Literal, NamedTuple

from core.conversion.drill_names import DRILL
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MINUTES, SECONDS

LONGEST_SUM = 300

NUMBER = (
    r"(?:\d+-\d+/\d+(?![.,]?\d)|\d+\ +\d+/\d+(?![.,]?\d)|\d+/\d+(?![.,]?\d)"
    r"|\d+[.,]\d+|[.,]\d+|\d+[.,]?)"
)
"""A number as fields take it: "1-1/4", "1 1/4", "3/64", "29,80", ".5". A fraction is one number: 1/4 in is (1/4) in."""

UNIT = r"(?:[A-Za-zµμΩ_°][A-Za-zµμΩ_]*[²³]?|''|[\"'])"

_PART = r"\d+(?:[.,]\d+)?"
_ANGLE = (
    rf"{_PART}\s*(?:°|deg(?:rees?)?\b|d(?=\s*\d))\s*{_PART}\s*"
    rf"(?:(?:'(?!')|′|{MINUTES}(?![A-Za-z]))(?:\s*{_PART}\s*(?:\"|″|''|{SECONDS}(?![A-Za-z])))?|\"|″|'')"
)
_TOKEN = re.compile(
    rf"\s*(?:(?P<drill>{DRILL})|(?P<angle>{_ANGLE})|(?P<number>{NUMBER})|(?P<power>\*\*|\^)|(?P<exponent>(?<=[\d.,])[eE][-+]?\d)"
    rf"|(?P<name>{UNIT})|(?P<sign>[-+*/()×·÷−]))",
    re.ASCII,
)
_SIGNS = {"×": "*", "·": "*", "÷": "/", "−": "-"}

Sort = Literal["drill", "angle", "number", "name", "sign", "end"]
_SORTS: tuple[Sort, ...] = ("drill", "angle", "number", "name")


class Token(NamedTuple):
    """One piece of a sum."""

    sort: Sort
    text: str


def tokens(text: str) -> list[Token]:
    """Return the pieces of a sum, an "end" last; raises QuantityError for what is none.

    >>> [token.text for token in tokens("1 1/4 in - 2*15 thou")]
    ['1 1/4', 'in', '-', '2', '*', '15', 'thou', '']
    """
    if len(text) > LONGEST_SUM:
        raise QuantityError(f"found {len(text)} characters; accepted are at most {LONGEST_SUM}")
    found: list[Token] = []
    place, end = 0, len(text.rstrip())
    while place < end:
        match = _TOKEN.match(text, place)
        if match is None:
            raise QuantityError(
                f"found {quoted(text[place:].lstrip()[:1])} in {quoted(text)}; accepted are numbers, units, "
                "+ - * / ( ), pi, sin, cos and tan"
            )
        found.append(_token(match, text))
        place = match.end()
    return [*found, Token("end", "")]


def _token(match: re.Match[str], text: str) -> Token:
    for sort in _SORTS:
        if piece := match[sort]:
            return Token(sort, piece)
    if piece := match["power"]:
        raise QuantityError(
            f"found {quoted(piece)} in {quoted(text)}; powers are not reckoned, accepted are + - * / and brackets"
        )
    if match["exponent"]:
        raise QuantityError(f"found an exponent in {quoted(text)}; accepted are numbers written out, such as 1250")
    return Token("sign", _SIGNS.get(match["sign"], match["sign"]))
