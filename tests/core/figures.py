"""The figures in a sentence: what a test asserts of one, so that its words may become better."""

import re

_FIGURE = re.compile(r"\d+(?:[.,]\d+)?(?:°(?:\d+'(?:\d+(?:\.\d+)?\")?)?|/\d+)?")


def figures(sentence: str) -> frozenset[str]:
    """Return the figures in a sentence, as they are spelled, without units.

    >>> sorted(figures("17 of 36: on to 3°30' (the 32nd turn), 0.125 mm"))
    ['0.125', '17', '32', '36', "3°30'"]
    """
    return frozenset(_FIGURE.findall(sentence))
