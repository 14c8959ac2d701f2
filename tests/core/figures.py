"""Finds the figures in a sentence, so that a test can check the figures without depending on the wording."""

import re

_FIGURE = re.compile(r"\d+(?:[.,]\d+)?(?:°(?:\d+'(?:\d+(?:\.\d+)?\")?)?|/\d+)?")


def figures(sentence: str) -> frozenset[str]:
    """Return the figures in a sentence as they are written, without units.

    >>> sorted(figures("17 of 36: on to 3°30' (the 32nd turn), 0.125 mm"))
    ['0.125', '17', '32', '36', "3°30'"]
    """
    return frozenset(_FIGURE.findall(sentence))
