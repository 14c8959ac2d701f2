"""Size and pitch as the designations M and Tr write them: "30x3.5", "24xPh6P3", "40x14(P7)"."""

import re
from fractions import Fraction
from typing import NamedTuple

from core.operations.threads.spelling import Ending, number_in, read_ending, refusal, starts_of

_NUMBER = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_SIZE_AND_PITCH = re.compile(
    rf"(?P<size>{_NUMBER})(?: ?x ?(?P<ph>ph)? ?(?P<first>{_NUMBER})(?: ?\(? ?p ?(?P<pitch>{_NUMBER}) ?\)?)?)?"
    r"(?P<ending>.*)",
    re.IGNORECASE,
)


class MetricWords(NamedTuple):
    """A designation in parts; sizes as written [mm]; no pitch where none is written."""

    text: str
    size_mm: Fraction
    pitch_mm: Fraction | None
    starts: int
    ending: Ending


def read_metric_words(prefix: str, text: str) -> MetricWords | None:
    """Return the parts of a designation that begins with `prefix`, None where it does not.

    Raises ThreadError for a lead without its pitch, or one that is no whole number of pitches.
    """
    if not text.upper().startswith(prefix.upper()):
        return None
    match = _SIZE_AND_PITCH.fullmatch(text[len(prefix) :].lstrip(" "))
    if match is None:
        return None
    size = number_in(match["size"], text)
    first = number_in(match["first"], text) if match["first"] else None
    pitch = number_in(match["pitch"], text) if match["pitch"] else first
    if match["ph"] and not match["pitch"]:
        raise refusal(text, f'a lead ("Ph") needs its pitch; accepted is such as "{prefix}24xPh6P3"')
    starts = starts_of(first, pitch, text) if first is not None and pitch is not None and match["pitch"] else 1
    return MetricWords(
        text=text, size_mm=size, pitch_mm=pitch, starts=starts, ending=read_ending(match["ending"], text)
    )
