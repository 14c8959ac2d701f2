"""Unified inch threads: their series, basic sizes and limits, calculated and rounded as in ASME B1.1.

Each value is rounded in the same step as in the standard, and exact ties go to the even figure, as printed. This module
therefore calculates in exact fractions of an inch.
"""

from fractions import Fraction
from typing import NamedTuple

from core.operations.threads.inch import (
    InchThread,
    InchWords,
    inch_text,
    inch_threads,
    number_size_in,
    size_and_pitch_text,
    threads_meant,
)
from core.operations.threads.profiles import MINOR, PITCH_LINE, Diameters, Range, limits_mm, thread_of, unified_form
from core.operations.threads.spelling import enter, is_internal, nearest, refusal
from core.operations.threads.thread import Limits, Thread
from core.values.quantities import MM_PER_INCH, number_text

CLASSES = ("1A", "2A", "3A", "1B", "2B", "3B")
_OF_2A = {
    "1A": Fraction(3, 2),
    "2A": Fraction(1),
    "3A": Fraction(3, 4),
    "1B": Fraction(195, 100),
    "2B": Fraction(13, 10),
    "3B": Fraction(975, 1000),
}
"""Tolerance of the pitch diameter in each class, as a multiple of the tolerance of 2A."""
_SMALLEST_TO_3_PLACES = Fraction(138, 1000)
"""From this size up (#6), the internal minor diameter is printed to three places [in]."""


class UnifiedThread(NamedTuple):
    """The values that the standard's formulas need: major diameter [in], threads per inch, and length of engagement
    [in].
    """

    major_in: Fraction
    tpi: Fraction
    engagement_in: Fraction

    @property
    def pitch_in(self) -> Fraction:
        """The pitch [in], rounded to eight decimal places as in the standard."""
        return round(1 / self.tpi, 8)

    @property
    def basic_pitch_diameter_in(self) -> Fraction:
        """The basic pitch diameter [in], D - 0.64951905 P, rounded to four decimal places."""
        return round(self.major_in - round(PITCH_LINE * self.pitch_in, 6), 4)

    @property
    def basic_minor_in(self) -> Fraction:
        """The basic minor diameter of the internal thread [in], D - 1.08253175 P, rounded to four decimal places."""
        return round(self.major_in - round(MINOR * self.pitch_in, 6), 4)


def pitch_tolerance_in(thread: UnifiedThread, tolerance_class: str) -> Fraction:
    """Return the tolerance of the pitch diameter [in], rounded to six decimal places.

    Source: ASME B1.1. The tolerance of class 2A is 0.0015 D^(1/3) + 0.0015 LE^(1/2) + 0.015 P^(2/3).

    >>> ue = UnifiedThread(major_in=Fraction(1, 2), tpi=Fraction(28), engagement_in=Fraction(9, 28))
    >>> float(pitch_tolerance_in(ue, "2A"))
    0.003668
    """
    size, engagement, pitch = float(thread.major_in), float(thread.engagement_in), float(thread.pitch_in)
    of_2a = Fraction(0.0015 * size ** (1 / 3) + 0.0015 * engagement**0.5 + 0.015 * pitch ** (2 / 3))
    return round(round(of_2a, 6) * _OF_2A[tolerance_class], 6)


def external_ranges_in(thread: UnifiedThread, tolerance_class: str) -> tuple[Range, Range]:
    """Return the limits of the major and of the pitch diameter [in], the larger limit first, to four decimal places."""
    allowance = Fraction(0)
    if tolerance_class != "3A":
        allowance = round(Fraction(3, 10) * pitch_tolerance_in(thread, "2A"), 4)
    factor = 0.09 if tolerance_class == "1A" else 0.06
    tolerance = round(Fraction(factor * float(thread.pitch_in) ** (2 / 3)), 6)
    major = round(thread.major_in - allowance, 4)
    pitch = round(thread.major_in - allowance - round(PITCH_LINE * thread.pitch_in, 6), 4)
    return (
        (major, round(major - tolerance, 4)),
        (pitch, round(pitch - pitch_tolerance_in(thread, tolerance_class), 4)),
    )


def internal_ranges_in(thread: UnifiedThread, tolerance_class: str) -> tuple[Range, Range]:
    """Return the limits of the pitch and of the minor diameter [in], the larger limit first.

    From screw number 6 up, the minor diameters of classes 1B and 2B have three decimal places. In class 3B, the
    smallest minor diameter has three decimal places and the largest has four.
    """
    pitch = thread.basic_pitch_diameter_in
    least = thread.basic_minor_in
    largest = least + round(_minor_tolerance_in(thread, tolerance_class), 4)
    if thread.major_in >= _SMALLEST_TO_3_PLACES:
        least = round(least, 3)
        largest = largest if tolerance_class == "3B" else round(largest, 3)
    return (round(pitch + pitch_tolerance_in(thread, tolerance_class), 4), pitch), (largest, least)


def _minor_tolerance_in(thread: UnifiedThread, tolerance_class: str) -> Fraction:
    """Return the tolerance TD1 of an internal minor diameter [in] (ASME B1.1)."""
    pitch, size = thread.pitch_in, thread.major_in
    small = Fraction(0.05 * float(pitch) ** (2 / 3)) + Fraction(3, 100) * pitch / size - Fraction(2, 1000)
    most = Fraction(394, 1000) * pitch
    if tolerance_class == "3B":
        coarse = thread.tpi < 13
        floor = Fraction(12, 100) * pitch if coarse else Fraction(23, 100) * pitch - Fraction(3, 2) * pitch**2
        return min(max(small, floor), most)
    usual = pitch / 4 - Fraction(4, 10) * pitch**2
    if size < Fraction(1, 4):
        return min(max(small, usual), most)
    return usual if thread.tpi >= 4 else Fraction(15, 100) * pitch


LISTED_SERIES = ("UNC", "UNF", "UNEF", "UN")
SERIES = (*LISTED_SERIES, "UNS")
LARGEST_NUMBER = 12
_ENGAGED_BY_DIAMETER_TPI = (4, 6, 8)
"""Constant-pitch series whose length of engagement is the diameter; in all others, it is nine pitches."""


def read_unified(words: InchWords, side: str | None) -> Thread:
    """Return the Unified thread that a designation names. Raise ThreadError if there is no such thread.

    side: "outside", "inside" or None. None means that the class decides; without a class, the thread is outside.
    """
    meant = _thread_meant(words)
    tolerance_class, internal = _tolerance_class(words, side)
    # ASME B1.1 first rounds the basic major diameter to four places: 19/64 is 0.2969.
    size_in = round(meant.size_in, 4)
    thread = UnifiedThread(major_in=size_in, tpi=meant.tpi, engagement_in=_engagement_in(meant))
    basic = Diameters(
        major=size_in * MM_PER_INCH,
        pitch=thread.basic_pitch_diameter_in * MM_PER_INCH,
        minor=thread.basic_minor_in * MM_PER_INCH,
    )
    size = size_and_pitch_text(meant.size_text, meant.tpi, words.starts)
    return thread_of(
        unified_form(float(MM_PER_INCH / meant.tpi), internal),
        basic,
        pitch=MM_PER_INCH / meant.tpi,
        designation=f"{size} {meant.series}-{tolerance_class}{'-LH' * words.ending.left_hand}",
        system="unified",
        internal=internal,
        starts=words.starts,
        left_hand=words.ending.left_hand,
        tolerance_class=tolerance_class,
        limits=_limits(thread, tolerance_class),
    )


def _limits(thread: UnifiedThread, tolerance_class: str) -> Limits:
    if tolerance_class.endswith("A"):
        major, pitch = external_ranges_in(thread, tolerance_class)
        return limits_mm(major=major, pitch=pitch, unit_mm=MM_PER_INCH)
    pitch, minor = internal_ranges_in(thread, tolerance_class)
    return limits_mm(major=(None, thread.major_in), pitch=pitch, minor=minor, unit_mm=MM_PER_INCH)


def _engagement_in(meant: InchThread) -> Fraction:
    by_diameter = meant.series in ("UNC", "UNF") or (meant.series == "UN" and meant.tpi in _ENGAGED_BY_DIAMETER_TPI)
    return meant.size_in if by_diameter else 9 / meant.tpi


def _tolerance_class(words: InchWords, side: str | None) -> tuple[str, bool]:
    """Return the tolerance class (2A or 2B if none is written), and True if the thread is internal.

    If no class is written, `side` ("outside", "inside" or None) decides; None means outside.
    """
    written = words.ending.class_text.upper()
    if written and written not in CLASSES:
        problem = f"has the class {words.ending.quoted_class}, which is not a Unified class"
        raise refusal(words.text, problem, enter(list(CLASSES)))
    class_internal = written.endswith("B") if written else None
    classes = "1B, 2B or 3B" if side == "inside" else "1A, 2A or 3A"
    internal = is_internal(words.text, side, class_internal, classes)
    return written or ("2B" if internal else "2A"), internal


def _thread_meant(words: InchWords) -> InchThread:
    """Return the thread that a designation names. Raise ThreadError if no thread, or two threads, match."""
    if words.is_number and not (words.size.denominator == 1 and words.size <= LARGEST_NUMBER):
        problem = f"has the screw number {inch_text(words.size)}, which does not exist"
        raise refusal(words.text, problem, "Enter #0 to #12")
    if words.constant and words.tpi and words.constant != inch_text(words.tpi):
        problem = f"has {inch_text(words.tpi)} threads to the inch and {words.constant}-{words.series}"
        raise refusal(words.text, problem, "Enter the same number in both places")
    if words.series == "UNS":
        return _special_thread(words)
    meant = threads_meant(words, (words.series,))
    if len(meant) == 1:
        return meant[0]
    raise refusal(words.text, *_problem_and_remedy(words, meant))


def _problem_and_remedy(words: InchWords, meant: list[InchThread]) -> tuple[str, str]:
    """Return two texts for an error message: what is wrong with a designation, and what to enter instead.

    meant: the threads that match the designation. The second text names a series with this size and pitch, or else the
    pitches of this size, or else the nearest sizes.
    """
    of_pitch = threads_meant(words, LISTED_SERIES)
    if words.tpi and of_pitch:
        return f"has a size and pitch that are not {words.series}", enter([one.name for one in of_pitch])
    series = [one for one in inch_threads() if one.series == words.series]
    of_size = meant or [one for one in series if one.has_size_of(words)]
    if of_size:
        names = [one.name for one in of_size]
        problem = (
            f"may be more than one {words.series} thread"
            if meant
            else f"has a pitch that does not exist in {words.series} at this size"
        )
        return problem, f"{enter(names)}, or UNS for any pitch"
    of_pitch = [one for one in series if words.tpi in (None, one.tpi)] or series
    sizes = {one.name: one.size_in for one in of_pitch}
    around = nearest(sizes, number_size_in(int(words.size)) if words.is_number else words.size)
    return f"has a size that does not exist in {words.series}", f"{enter(around)}, or UNS for any size"


def _special_thread(words: InchWords) -> InchThread:
    """Return a thread of the series UNS, which has combinations of size and pitch that are in no other series."""
    if words.tpi is None:
        raise refusal(
            words.text, "does not say how many threads there are to the inch", 'Enter this number, as in "1-14 UNS"'
        )
    if others := threads_meant(words, LISTED_SERIES):
        raise refusal(words.text, "is in a standard series", enter([one.name for one in others]))
    size = number_size_in(int(words.size)) if words.is_number else words.size
    text = f"#{words.size}" if words.is_number else inch_text(size)
    if size.denominator == 1 and size <= LARGEST_NUMBER and _could_be_number(int(size), words.tpi):
        text = f"{size}.0"
        if words.is_bare:
            problem = f"has {size}, which may be a screw number or inches"
            raise refusal(words.text, problem, f'Enter "#{size}" or "{text}"')
    if not max(Fraction(6, 100), Fraction(5, 4) / words.tpi) <= size:
        problem = f"is {number_text(size, 4)} in with {number_text(words.tpi, 4)} threads to the inch"
        raise refusal(words.text, problem, "Enter a diameter of at least 0.06 in and 1.25 pitches")
    return InchThread(text, size, words.tpi, "UNS")


def _could_be_number(number: int, tpi: Fraction) -> bool:
    """Return True if a screw of this number can have this pitch, which may be at most a quarter of its diameter."""
    return 4 / tpi <= number_size_in(number)
