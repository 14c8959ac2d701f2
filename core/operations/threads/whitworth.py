"""Threads of Whitworth form: BSW, BSF and Whit according to BS 84, and pipe threads G (BSP) according to ISO 228-1."""

import re
from fractions import Fraction

from core.data import read_table
from core.operations.threads.inch import (
    InchThread,
    InchWords,
    inch_text,
    inch_threads,
    refuse_screw_number,
    size_and_pitch_text,
    threads_meant,
)
from core.operations.threads.profiles import WHITWORTH_DEPTH, Diameters, limits_mm, thread_of, whitworth_form
from core.operations.threads.spelling import (
    MEMORY_NOTE,
    enter,
    is_internal,
    nearest,
    number_in,
    read_ending,
    refusal,
)
from core.operations.threads.thread import Limits, Thread
from core.values.quantities import MM_PER_INCH, number_text

SERIES = ("BSW", "BSF", "WHIT")
_FITS = {"close": Fraction(2, 3), "medium": Fraction(1), "free": Fraction(3, 2), "normal": Fraction(3, 2)}
"""Tolerance of the effective diameter in each fit, as a multiple of the medium tolerance.

The free fit of nuts is named "normal".
"""
_LARGEST_WITH_ALLOWANCE_IN = Fraction(3, 4)
_LEAST_FOR_ALLOWANCE_IN = Fraction(1, 4)
_QUARTER_TPI = {"BSW": Fraction(20), "BSF": Fraction(26), "Whit": Fraction(20)}


def read_whitworth(words: InchWords, side: str | None) -> Thread:
    """Return the thread of Whitworth form that a designation names. Raise ThreadError if there is no such thread.

    side: "outside", "inside" or None. With None, the thread is inside if the fit is "normal", and otherwise outside.
    """
    refuse_screw_number(words)
    thread = _thread_meant(words)
    fit, internal = _fit(words, side)
    basic = whitworth_basic_in(thread)
    limits = _internal_limits(thread, basic, fit) if internal else _external_limits(thread, basic, fit)
    notes = [MEMORY_NOTE.format(standard="BS 84")]
    if thread.series == "Whit":
        notes.append("The length of engagement is taken as equal to the diameter.")
    size = size_and_pitch_text(thread.size_text, thread.tpi, words.starts)
    return thread_of(
        whitworth_form(float(MM_PER_INCH / thread.tpi)),
        Diameters(*(size_in * MM_PER_INCH for size_in in basic)),
        pitch=MM_PER_INCH / thread.tpi,
        designation=f"{size} {thread.series} {fit}{' LH' * words.ending.left_hand}",
        system="whitworth",
        internal=internal,
        starts=words.starts,
        left_hand=words.ending.left_hand,
        tolerance_class=fit,
        limits=limits,
        notes=tuple(notes),
    )


def whitworth_basic_in(thread: InchThread) -> Diameters:
    """Return the basic major, effective and minor diameters of a Whitworth thread [in].

    The depth of the thread is first rounded to 0.0001 in, as in BS 84.

    >>> half_inch = InchThread("1/2", Fraction(1, 2), Fraction(12), "BSW")
    >>> [float(size) for size in whitworth_basic_in(half_inch)]
    [0.5, 0.4466, 0.3932]
    """
    depth = round(WHITWORTH_DEPTH / thread.tpi, 4)
    return Diameters(thread.size_in, thread.size_in - depth, thread.size_in - 2 * depth)


def _thread_meant(words: InchWords) -> InchThread:
    if words.series == "WHIT":
        return _whit(words)
    if meant := threads_meant(words, (words.series,)):
        return meant[0]
    series = [one for one in inch_threads() if one.series == words.series]
    if of_size := [one for one in series if one.size_in == words.size]:
        raise refusal(words.text, f"has a pitch that does not exist in {words.series}", f"Enter {of_size[0].name}")
    around = nearest({one.name: one.size_in for one in series}, words.size)
    problem = f"has a size that does not exist in {words.series}"
    raise refusal(words.text, problem, f'{enter(around)}, or any size as in "1/2-12 Whit"')


def _whit(words: InchWords) -> InchThread:
    """Return a Whit thread, which has the Whitworth form but may have any size and pitch."""
    if words.tpi is None:
        raise refusal(
            words.text, "does not say how many threads there are to the inch", 'Enter this number, as in "1/2-12 Whit"'
        )
    least = Fraction(13, 10) / words.tpi
    if words.size < least:
        raise refusal(words.text, "is too thin for its pitch", f"Enter {number_text(least, 4)} in or more")
    return InchThread(inch_text(words.size), words.size, words.tpi, "Whit")


def _fit(words: InchWords, side: str | None) -> tuple[str, bool]:
    """Return the fit (medium if none is written), and True if the thread is internal.

    `side`: "outside", "inside", or None to let the fit decide.
    """
    written = words.ending.class_text.lower()
    if written and written not in _FITS:
        problem = f"has the fit {words.ending.quoted_class}, which BS 84 does not list"
        raise refusal(words.text, problem, enter(list(_FITS)))
    class_internal = True if written == "normal" else None
    internal = is_internal(words.text, side, class_internal, "close, medium or free")
    if internal and written == "free":
        return "normal", internal
    return written or "medium", internal


def _effective_tolerance_in(size_in: Fraction, tpi: Fraction) -> float:
    """Return the tolerance T of the effective diameter [in].

    T = 0.002 D^(1/3) + 0.003 L^(1/2) + 0.005 p^(1/2), where D is the size, L = D is the length of engagement and p is
    the pitch [in]. Source: BS 84.
    """
    size, pitch = float(size_in), float(1 / tpi)
    return float(0.002 * size ** (1 / 3) + 0.003 * size**0.5 + 0.005 * pitch**0.5)


def _tenths(value_in: float | Fraction) -> Fraction:
    """Return a size rounded to 0.0001 in, as in the printed limits of BS 84."""
    return round(Fraction(value_in), 4)


def _external_limits(thread: InchThread, basic: Diameters, fit: str) -> Limits:
    """Return the limits of a bolt. The upper limits are the basic sizes less the allowance.

    The tolerances are T for the effective diameter, T + 0.01 sqrt p for the major diameter, and T + 0.02 sqrt p for the
    minor diameter (T + 0.013 sqrt p for the close fit). T is the tolerance for the fit [in], and p is the pitch [in].
    """
    effective = float(_FITS[fit]) * _effective_tolerance_in(thread.size_in, thread.tpi)
    root = float(1 / thread.tpi) ** 0.5
    tolerances = (effective + 0.01 * root, effective, effective + (0.013 if fit == "close" else 0.02) * root)
    allowance = _allowance_in(thread, fit)
    largest = [size - allowance for size in basic]
    ranges = [(size, size - _tenths(tolerance)) for size, tolerance in zip(largest, tolerances, strict=True)]
    return limits_mm(major=ranges[0], pitch=ranges[1], minor=ranges[2], unit_mm=MM_PER_INCH)


def _allowance_in(thread: InchThread, fit: str) -> Fraction:
    """Return the allowance of a bolt [in]. For medium and free fits up to 3/4 in, it is 0.3 T; for all others, it is 0.

    T is the tolerance of the effective diameter [in]. Sizes below 1/4 in have the allowance of 1/4 in. Source: BS 84,
    from memory of an extract in a handbook.
    """
    if fit == "close" or thread.size_in > _LARGEST_WITH_ALLOWANCE_IN:
        return Fraction(0)
    if thread.size_in < _LEAST_FOR_ALLOWANCE_IN:
        return _tenths(0.3 * _effective_tolerance_in(_LEAST_FOR_ALLOWANCE_IN, _QUARTER_TPI[thread.series]))
    return _tenths(0.3 * _effective_tolerance_in(thread.size_in, thread.tpi))


def _internal_limits(thread: InchThread, basic: Diameters, fit: str) -> Limits:
    """Return the limits of a nut. The lower limits are the basic sizes.

    The tolerance of the minor diameter is 0.2 p plus 0.004, 0.005 or 0.007 in, depending on the pitch p [in].
    """
    tolerance = _tenths(float(_FITS[fit]) * _effective_tolerance_in(thread.size_in, thread.tpi))
    more = Fraction(4, 1000) if thread.tpi >= 26 else Fraction(5, 1000) if thread.tpi >= 22 else Fraction(7, 1000)
    minor = _tenths(Fraction(2, 10) / thread.tpi + more)
    return limits_mm(
        major=(None, basic.major),
        pitch=(basic.pitch + tolerance, basic.pitch),
        minor=(basic.minor + minor, basic.minor),
        unit_mm=MM_PER_INCH,
    )


_PIPE_THREAD = re.compile(r"G ?(?P<size>[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+)(?P<ending>.*)", re.IGNORECASE)
_TOLERANCES = {"A": 1, "B": 2}
"""Tolerance of the pitch diameter in the external classes, as a multiple of the tolerance of class A."""


def read_bsp(text: str, side: str | None) -> Thread | None:
    """Return the pipe thread that a normalized designation names; None for any other designation.

    If no class is written, `side` ("outside", "inside" or None) decides; None means outside. Raise ThreadError for a
    size or a class that does not exist.
    """
    match = _PIPE_THREAD.fullmatch(text)
    if match is None:
        return None
    row = _row_of(number_in(match["size"], text), text)
    ending = read_ending(match["ending"], text)
    written = ending.class_text.upper()
    if written and written not in _TOLERANCES:
        problem = f"has the class {ending.quoted_class}, which ISO 228-1 does not list"
        raise refusal(text, problem, "Enter A or B for an outside thread, or no class for an inside thread")
    internal = is_internal(text, side, False if written else None, "no class at all")
    tolerance_class = "" if internal else written or "A"
    class_text = f" {tolerance_class}" if tolerance_class else ""
    return thread_of(
        whitworth_form(float(MM_PER_INCH / Fraction(row["tpi"]))),
        _basic(row),
        pitch=MM_PER_INCH / Fraction(row["tpi"]),
        designation=f"G{row['size']}" + class_text + " LH" * ending.left_hand,
        system="bsp",
        internal=internal,
        left_hand=ending.left_hand,
        tolerance_class=tolerance_class,
        limits=_limits(row, tolerance_class),
        notes=(MEMORY_NOTE.format(standard="ISO 228-1"),),
    )


def bsp_series() -> list[tuple[str, Fraction]]:
    """Return the designation and the exact pitch [mm] of each pipe thread in ISO 228-1."""
    return [(f"G{row['size']}", MM_PER_INCH / Fraction(row["tpi"])) for row in read_table("bsp_series")]


def _row_of(size: Fraction, text: str) -> dict[str, str]:
    rows = {number_in(row["size"], text): row for row in read_table("bsp_series")}
    if size not in rows:
        around = nearest({f"G{inch_text(one)}": one for one in rows}, size)
        raise refusal(text, "has a size that ISO 228-1 does not list", enter(around))
    return rows[size]


def _basic(row: dict[str, str]) -> Diameters:
    """Return a pipe thread's basic diameters [mm], from a depth of thread rounded to 0.001 mm, as in the standard."""
    return Diameters(Fraction(row["major_mm"]), Fraction(row["pitch_diameter_mm"]), Fraction(row["minor_mm"]))


def _limits(row: dict[str, str], external_class: str) -> Limits:
    """Return the limits of size of a pipe thread.

    The limits of an external thread lie below its basic sizes; its minor diameter has no limits. Those of an internal
    thread lie above its basic sizes; its major diameter has no limits.
    """
    basic = _basic(row)
    tolerance = Fraction(row["pitch_diameter_tolerance_mm"])
    if external_class:
        return limits_mm(
            major=(basic.major, basic.major - Fraction(row["major_tolerance_mm"])),
            pitch=(basic.pitch, basic.pitch - _TOLERANCES[external_class] * tolerance),
        )
    return limits_mm(
        major=(None, basic.major),
        pitch=(basic.pitch + tolerance, basic.pitch),
        minor=(basic.minor + Fraction(row["minor_tolerance_mm"]), basic.minor),
    )
