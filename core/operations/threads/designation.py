"""Reads a thread's designation from a drawing, such as "M30x3.5-6g", and lists the standard threads of a given
pitch.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from core.operations.threads.ba import ba_series
from core.operations.threads.inch import inch_threads
from core.operations.threads.metric import metric_series
from core.operations.threads.spelling import enter, normalized, refusal
from core.operations.threads.thread import Thread
from core.operations.threads.trapezoidal import trapezoidal_series
from core.operations.threads.whitworth import bsp_series
from core.values.errors import ThreadError
from core.values.quantities import MM_PER_INCH

if TYPE_CHECKING:
    from core.operations.threads.inch import InchWords

EXAMPLES = (
    'Enter a designation such as "M10", "M30x3.5-6g", "1/4-20 UNC-2A", "1/2 BSW", "G1/2 A", "BA 4", '
    '"Tr20x4-7e" or "3/4-6 Acme-2G"'
)
_TAPER = re.compile(r"(?:R[CP]?|PT|NPT|BSPT)[ 0-9]|.*(?:NPT|BSPT)", re.IGNORECASE)
_BSP = re.compile(r"(?:BSPP? ?(?P<last>[0-9 /-]+)|(?P<first>[0-9 /-]+?)[ -]*BSPP?)", re.IGNORECASE)


def read_thread(text: str, *, side: str | None = None) -> Thread:
    """Return the thread that a designation names, with its limits of size.

    side: "outside", "inside" or None. None means that the class decides; without a class, the thread is outside.
    Raise ThreadError with the field "thread" and a message that says what is wrong and what to enter instead.
    Source: the designations of ISO 965-1, ASME B1.1, BS 84, ISO 228-1, BS 93, ISO 2904 and ASME B1.5.

    >>> read_thread("m10").designation, read_thread("1/4 - 20 unc", side="inside").designation
    ('M10x1.5-6g', '1/4-20 UNC-2B')
    """
    prepared = normalized(text)
    for read in _readers():
        thread = read(prepared, side)
        if thread is not None:
            return thread
    from core.operations.threads.inch import read_inch_words

    words = read_inch_words(prepared)
    if words is None or (not words.series and words.tpi is None) or _TAPER.match(prepared):
        raise _unknown(prepared)
    return _read_inch(words, side)


def _readers() -> Iterator[Callable[[str, str | None], Thread | None]]:
    """Yield the function that reads the designations of each standard.

    The module of a function is imported only if the functions yielded before it have not found a thread.
    """
    from core.operations.threads.metric import read_metric

    yield read_metric
    from core.operations.threads.trapezoidal import read_trapezoidal

    yield read_trapezoidal
    from core.operations.threads.whitworth import read_bsp

    yield read_bsp
    from core.operations.threads.ba import read_ba

    yield read_ba


def _read_inch(words: "InchWords", side: str | None) -> Thread:
    from core.operations.threads import unified, whitworth

    if words.series in unified.SERIES:
        return unified.read_unified(words, side)
    if words.series in whitworth.SERIES:
        return whitworth.read_whitworth(words, side)
    if words.series:
        from core.operations.threads.acme import read_acme

        return read_acme(words, side)
    return _read_without_series(words, side)


def _read_without_series(words: "InchWords", side: str | None) -> Thread:
    """Return the only standard thread with the size and pitch of a designation. The thread's notes name its series.

    Raise ThreadError if no series, or more than one, has a thread of this size and pitch. `side`: "outside", "inside"
    or None if it is not known.
    """
    from core.operations.threads.inch import inch_text, size_and_pitch_text, threads_meant
    from core.operations.threads.unified import CLASSES, LISTED_SERIES

    of_class = words.ending.class_text.upper() in CLASSES
    meant = threads_meant(words, LISTED_SERIES if of_class else (*LISTED_SERIES, "BSW", "BSF", "Acme"))
    if len(meant) == 1:
        series = meant[0].series
        thread = _read_inch(words._replace(series=series.upper()), side)
        note = f"You entered no series. Only {meant[0].name} has this size and pitch."
        return replace(thread, notes=(note, *thread.notes))
    names = [thread.name for thread in meant]
    size_text = f"{'#' * words.is_number}{inch_text(words.size)}"
    special = f"{size_and_pitch_text(size_text, words.tpi or Fraction(1), 1)} UNS"
    raise refusal(words.text, "does not name a thread series", enter(names or [special]))


def _unknown(text: str) -> ThreadError:
    if _TAPER.match(text):
        return refusal(text, "is a taper pipe thread, which this program does not plan", EXAMPLES)
    if match := _BSP.fullmatch(text):
        size = (match["first"] or match["last"]).strip(" -")
        return refusal(text, "may be a parallel or a taper thread", f'Enter "G{size}" for the parallel thread')
    return refusal(text, "is not a thread that this program knows", EXAMPLES)


def standard_threads_with_pitch(pitch_mm: float, *, within_mm: float = 0.0005) -> list[str]:
    """Return the designations of all standard threads that have a given pitch, sorted by series and then by size.

    pitch_mm: the wanted pitch [mm]; within_mm: the largest difference from this pitch that still counts [mm].

    >>> standard_threads_with_pitch(0.81)
    ['BA 2']
    """
    return [name for name, pitch in _all_threads() if abs(float(pitch) - pitch_mm) <= within_mm]


def _all_threads() -> list[tuple[str, Fraction]]:
    """Return the designation and the exact pitch [mm] of every thread of the standard series."""
    inch = [(thread.name, MM_PER_INCH / thread.tpi) for thread in inch_threads()]
    return [*metric_series(), *inch, *bsp_series(), *ba_series(), *trapezoidal_series()]
