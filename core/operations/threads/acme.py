"""The sizes and limits of Acme general-purpose threads of classes 2G, 3G and 4G, according to ASME B1.5."""

from fractions import Fraction

from core.operations.threads.inch import (
    InchThread,
    InchWords,
    inch_text,
    inch_threads,
    refuse_screw_number,
    size_and_pitch_text,
    threads_meant,
)
from core.operations.threads.profiles import Diameters, Range, flat_form, limits_mm, thread_of
from core.operations.threads.spelling import MEMORY_NOTE, enter, is_internal, nearest, refusal
from core.operations.threads.thread import Limits, Thread
from core.values.quantities import MM_PER_INCH, number_text

HALF_ANGLE_DEG = 14.5
_CLASSES = {
    "2G": (0.008, 0.030, 0.006),
    "3G": (0.006, 0.014, 0.0028),
    "4G": (0.004, 0.010, 0.002),
}
"""For each class: the allowance over sqrt D, and the tolerance's shares over sqrt P and sqrt D [in]; from memory."""
SPECIAL_NOTE = "ASME B1.5 does not list this size and pitch. The limits come from its formulas."
_LEAST_CREST_TOLERANCE_IN = Fraction(5, 1000)


def read_acme(words: InchWords, side: str | None) -> Thread:
    """Return the Acme thread that a designation names. Raise ThreadError if there is no such thread.

    side: "outside", "inside" or None; None means outside.
    """
    refuse_screw_number(words)
    thread = _thread_meant(words)
    size, tpi = thread.size_in, thread.tpi
    notes = () if thread in inch_threads() else (SPECIAL_NOTE,)
    written = words.ending.class_text.upper()
    if written and written not in _CLASSES:
        problem = f"has the class {words.ending.quoted_class}, which is not a general-purpose class"
        raise refusal(words.text, problem, enter(list(_CLASSES)))
    tolerance_class = written or "2G"
    internal = is_internal(words.text, side, None, "")
    basic = acme_basic_in(size, tpi)
    limits = (_internal_limits if internal else _external_limits)(basic, tpi, tolerance_class)
    return thread_of(
        flat_form(float(MM_PER_INCH / tpi), HALF_ANGLE_DEG, float(_clearance_in(tpi) / 2 * MM_PER_INCH)),
        Diameters(*(size_in * MM_PER_INCH for size_in in basic)),
        pitch=MM_PER_INCH / tpi,
        designation=_designation(words, size, tpi, tolerance_class),
        system="acme",
        internal=internal,
        starts=words.starts,
        left_hand=words.ending.left_hand,
        tolerance_class=tolerance_class,
        limits=limits,
        notes=(*notes, MEMORY_NOTE.format(standard="ASME B1.5")),
    )


def acme_basic_in(size_in: Fraction, tpi: Fraction) -> Diameters:
    """Return the basic major, pitch and minor diameters of an external Acme thread [in].

    For size D and pitch P these are D, D - P/2, and D - P less the clearance.

    >>> [float(size) for size in acme_basic_in(Fraction(3, 4), Fraction(6))]
    [0.75, 0.6667, 0.5633]
    """
    return Diameters(size_in, round(size_in - 1 / (2 * tpi), 4), round(size_in - 1 / tpi - _clearance_in(tpi), 4))


def _clearance_in(tpi: Fraction) -> Fraction:
    """Return the clearance on the diameter that an Acme thread has at its minor and internal major diameters [in]."""
    return Fraction(20, 1000) if tpi <= 10 else Fraction(10, 1000)


def _thread_meant(words: InchWords) -> InchThread:
    """Return the Acme thread that a designation names.

    Raise ThreadError for a size that is not standard and has no threads per inch, and for a size too thin for its
    pitch.
    """
    if meant := threads_meant(words, ("Acme",)):
        return meant[0]
    if words.tpi is None:
        around = nearest({one.name: one.size_in for one in inch_threads() if one.series == "Acme"}, words.size)
        problem = "is not a standard size, and does not say how many threads there are to the inch"
        raise refusal(words.text, problem, enter(around))
    least = 2 / words.tpi
    if words.size < least:
        raise refusal(words.text, "is too thin for its pitch", f"Enter a size of {number_text(least, 4)} in or more")
    return InchThread(inch_text(words.size), words.size, words.tpi, "Acme")


def _tenths(value_in: float | Fraction) -> Fraction:
    return round(Fraction(value_in), 4)


def _pitch_tolerance_in(size: Fraction, tpi: Fraction, tolerance_class: str) -> Fraction:
    _, of_pitch, of_size = _CLASSES[tolerance_class]
    return Fraction(of_pitch * float(1 / tpi) ** 0.5 + of_size * float(size) ** 0.5)


def _external_limits(basic: Diameters, tpi: Fraction, tolerance_class: str) -> Limits:
    """Return the limits of size of an external Acme thread [mm].

    The upper limits are the basic sizes, except that the pitch diameter's is lower by the allowance.
    """
    tolerance = _pitch_tolerance_in(basic.major, tpi, tolerance_class)
    pitch = basic.pitch - _tenths(_CLASSES[tolerance_class][0] * float(basic.major) ** 0.5)
    return limits_mm(
        major=(basic.major, basic.major - _crest_tolerance_in(tpi)),
        pitch=(pitch, _tenths(pitch - tolerance)),
        minor=(basic.minor, _tenths(basic.minor - Fraction(3, 2) * tolerance)),
        unit_mm=MM_PER_INCH,
    )


def _internal_limits(basic: Diameters, tpi: Fraction, tolerance_class: str) -> Limits:
    """Return the limits of size of an internal Acme thread [mm].

    The lower limits are the basic pitch diameter, the minor diameter D - P, and the basic major diameter plus the
    clearance.
    """
    clearance = _clearance_in(tpi)
    minor = _tenths(basic.major - 1 / tpi)
    tolerance = _pitch_tolerance_in(basic.major, tpi, tolerance_class)
    major: Range = (basic.major + 2 * clearance, basic.major + clearance)
    return limits_mm(
        major=major,
        pitch=(_tenths(basic.pitch + tolerance), basic.pitch),
        minor=(minor + _crest_tolerance_in(tpi), minor),
        unit_mm=MM_PER_INCH,
    )


def _crest_tolerance_in(tpi: Fraction) -> Fraction:
    return max(_tenths(Fraction(5, 100) / tpi), _LEAST_CREST_TOLERANCE_IN)


def _designation(words: InchWords, size: Fraction, tpi: Fraction, tolerance_class: str) -> str:
    hand = "-LH" * words.ending.left_hand
    return f"{size_and_pitch_text(inch_text(size), tpi, words.starts)} Acme-{tolerance_class}{hand}"
