"""The pitch diameter of an external thread, calculated from a measurement over wires, and the reverse.

The wires lie in the groove, and a micrometer measures over them. The turner uses three wires (two of them on one side),
or two wires between anvils wide enough to stay square to the axis, or one wire with the crests on the opposite side.
All forms here have symmetrical flanks of half angle `a`. In a groove of pitch P, the centre of a wire of diameter w is
w / (2 sin a) above the point of the V. That point is P / (4 tan a) below the pitch line.
"""

from math import cos, hypot, pi, radians, sin, tan

from core.operations.threads.thread import LengthText, Thread
from core.values.errors import ThreadError
from core.values.quantities import mm_text

LEAD_CORRECTION_FROM_MM = 0.004
"""A smaller correction counts as 0, as in handbooks, which use 0.00015 in."""

_ROUND_CRESTED_DEG = (27.5, 23.75)
"""Half angles of BS 84, ISO 228-1 and BS 93, whose crests are rounded like their roots."""


def best_wire_mm(pitch_mm: float, half_angle_deg: float) -> float:
    """Return the diameter of the best measuring wire [mm].

    This wire touches the flanks at the pitch line, where errors of the flank angle do no harm.

    pitch_mm: the pitch, above 0 [mm]; half_angle_deg: half the included angle, between 0 and 90 [deg].
    Source: w = P / (2 cos a), ASME B1.2 and handbooks (60 deg: 0.57735 P).

    >>> round(best_wire_mm(1.5, 30), 4)
    0.866
    """
    return pitch_mm / (2 * cos(radians(half_angle_deg)))


def usable_wires_mm(thread: Thread) -> tuple[float, float]:
    """Return the smallest and the largest diameter of a wire that can measure this thread [mm].

    The thinnest wire just rises above the crest. The thickest wire touches the flanks at their outer ends, which are
    level with a flat crest and below a rounded crest. Raise ThreadError for an internal thread.
    Source: the contact is w/2 (1/sin a - sin a) above the point of the V, and the top of the wire w/2 (1/sin a + 1).
    Handbooks print 0.505 P and 1.010 P for 60 degrees.

    >>> from core.operations.threads.designation import read_thread
    >>> m10 = read_thread("M10")
    >>> [round(wire / 1.5, 3) for wire in usable_wires_mm(m10)]
    [0.505, 1.01]
    """
    _refuse_internal(thread)
    sine = sin(radians(thread.half_angle_deg))
    crest = (thread.major_basic_mm - thread.pitch_diameter_basic_mm) / 2
    rounded = thread.root_radius_mm if thread.half_angle_deg in _ROUND_CRESTED_DEG else 0.0
    flank_end = crest - rounded * (1 - sine)
    least = (crest + _point_depth_mm(thread)) / (0.5 / sine + 0.5)
    largest = (flank_end + _point_depth_mm(thread)) / (0.5 / sine - 0.5 * sine)
    return least, largest


def choose_wire_mm(thread: Thread, stock_mm: tuple[float, ...]) -> float:
    """Return the diameter of the wire to use [mm]: of all usable wires in stock, the one nearest to the best size.

    If no usable wire is in stock, return the best size itself.
    stock_mm: the diameters of the wires in stock [mm]. Raise ThreadError for an internal thread.

    >>> from core.operations.threads.designation import read_thread
    >>> choose_wire_mm(read_thread("M10"), (0.9, 1.1, 1.35))
    0.9
    """
    least, largest = usable_wires_mm(thread)
    best = best_wire_mm(thread.pitch_mm, thread.half_angle_deg)
    usable = [wire for wire in stock_mm if least <= wire <= largest]
    return min(usable, key=lambda wire: (abs(wire - best), wire), default=best)


def wire_caution(thread: Thread, wire_mm: float, length_text: LengthText = mm_text) -> str:
    """Return a caution about a wire that cannot measure this thread; "" for a usable wire.

    wire_mm: the diameter of the wire, above 0 [mm]. `length_text`: a function that returns a length [mm] as text. Raise
    ThreadError for an internal thread.

    >>> from core.operations.threads.designation import read_thread
    >>> wire_caution(read_thread("M20x2.5"), 0.5)
    'The wire of 0.5 mm does not rise above the crests. Use 1.263 mm to 2.526 mm, best 1.443 mm.'
    """
    least, largest = usable_wires_mm(thread)
    if least <= wire_mm <= largest:
        return ""
    fault = "does not rise above the crests" if wire_mm < least else "lies on the crests, not on the flanks"
    best = best_wire_mm(thread.pitch_mm, thread.half_angle_deg)
    usable = f"{length_text(least)} to {length_text(largest)}, best {length_text(best)}"
    return f"The wire of {length_text(wire_mm)} {fault}. Use {usable}."


def lead_correction_mm(pitch_diameter_mm: float, wire_mm: float, thread: Thread) -> float:
    """Return how much the lead angle adds to a measurement over wires [mm]; 0 if the amount is too small to matter.

    A correction of up to 0.004 mm counts as 0. Whether it does is decided at the wanted pitch diameter of the thread,
    so that limits and readings are treated alike.
    pitch_diameter_mm, wire_mm: above 0 [mm].
    Source: the closed form of ASME B1.2, w (sqrt(1/sin²a + tan²B / tan²a) - 1/sin a), tan B = lead / (pi d2).
    For a straight wire in a true helicoid, this formula gives too much, by 0.0006 mm for Tr20x4, and by 0.003 mm for
    Tr40x14P7.

    >>> from core.operations.threads.designation import read_thread
    >>> round(lead_correction_mm(18.0, 2.07, read_thread("Tr20x4")), 3)
    0.019
    """
    if _lead_term_mm(thread.wanted_pitch_diameter_mm, wire_mm, thread) <= LEAD_CORRECTION_FROM_MM:
        return 0.0
    return _lead_term_mm(pitch_diameter_mm, wire_mm, thread)


def over_wires_mm(pitch_diameter_mm: float, wire_mm: float, thread: Thread) -> float:
    """Return the measurement over three wires, or over two wires between square faces [mm].

    The result includes the lead-angle correction, if this is above 0.004 mm (see `lead_correction_mm`).
    pitch_diameter_mm: above 0 [mm], taken from the limits, because the basic pitch diameter ignores the allowance;
    wire_mm: the measured diameter of the wires, above 0 [mm].
    Raise ThreadError for an internal thread, and for a pitch diameter or wire that is not above 0.
    Source: M = d2 + w (1 + 1/sin a) - P / (2 tan a), ASME B1.2 and handbooks.

    >>> from core.operations.threads.designation import read_thread
    >>> m10 = read_thread("M10")
    >>> round(over_wires_mm(9.026, 0.9, m10), 3)  # 9.026 + 3 x 0.9 - 0.866 x 1.5
    10.427
    """
    _refuse_internal(thread)
    _refuse_no_size(pitch_diameter_mm, "pitch diameter")
    correction_mm = lead_correction_mm(pitch_diameter_mm, wire_mm, thread)
    return pitch_diameter_mm + _rise_mm(wire_mm, thread) + correction_mm


def pitch_diameter_from_wires_mm(
    over_mm: float, wire_mm: float, thread: Thread, length_text: LengthText = mm_text
) -> float:
    """Return the pitch diameter that follows from a measurement over three wires, or over two wires between square
    faces [mm].

    This is the inverse of `over_wires_mm`, including the lead-angle correction.
    over_mm: the micrometer reading [mm]; wire_mm: the measured diameter of the wires, above 0 [mm]. `length_text`: a
    function that returns a length [mm] as text.
    Raise ThreadError for an internal thread, for a wire that is not above 0, and for a reading so small that the thread
    would have no core.

    >>> from core.operations.threads.designation import read_thread
    >>> round(pitch_diameter_from_wires_mm(10.427, 0.9, read_thread("M10")), 3)
    9.026
    """
    _refuse_internal(thread)
    uncorrected = over_mm - _rise_mm(wire_mm, thread)
    pitch_diameter, before = uncorrected, 0.0
    while abs(pitch_diameter - before) > 1e-12 * thread.major_basic_mm:
        # The correction grows as the diameter falls, so the loop settles or ends at the core.
        if pitch_diameter <= 2 * thread.root_depth_mm:
            least = 2 * thread.root_depth_mm + _rise_mm(wire_mm, thread)
            raise ThreadError(
                f"{length_text(over_mm)} is too small for {thread.designation} over wires of {length_text(wire_mm)}. "
                f"Enter a size above {length_text(least)}.",
                field="over_wires",
            )
        before = pitch_diameter
        pitch_diameter = uncorrected - lead_correction_mm(before, wire_mm, thread)
    return pitch_diameter


def over_one_wire_mm(pitch_diameter_mm: float, wire_mm: float, major_diameter_mm: float, thread: Thread) -> float:
    """Return the measurement over one wire and the crests on the opposite side [mm].

    pitch_diameter_mm, wire_mm: above 0 [mm]. major_diameter_mm: the measured major diameter, above 0 [mm]; half of the
    error of this diameter enters the result.
    Raise ThreadError for an internal thread, and for a diameter that is not above 0.
    Source: from the axis, one anvil is at half the measurement over three wires, the other at half the major diameter.

    >>> from core.operations.threads.designation import read_thread
    >>> round(over_one_wire_mm(9.026, 0.9, 9.9, read_thread("M10")), 4)  # (10.427 + 9.9) / 2
    10.1635
    """
    _refuse_no_size(major_diameter_mm, "major diameter")
    return (over_wires_mm(pitch_diameter_mm, wire_mm, thread) + major_diameter_mm) / 2


def pitch_diameter_from_one_wire_mm(
    over_mm: float, wire_mm: float, major_diameter_mm: float, thread: Thread, length_text: LengthText = mm_text
) -> float:
    """Return the pitch diameter that follows from a measurement over one wire and the crests on the opposite side [mm].

    This is the inverse of `over_one_wire_mm`.
    over_mm: the micrometer reading [mm]; wire_mm, major_diameter_mm: the measured diameters of the wire and of the
    crests, above 0 [mm]. `length_text`: a function that returns a length [mm] as text.
    Raise ThreadError for an internal thread, for a diameter that is not above 0, and for a reading so small that the
    thread would have no core.

    >>> from core.operations.threads.designation import read_thread
    >>> round(pitch_diameter_from_one_wire_mm(10.1635, 0.9, 9.9, read_thread("M10")), 3)
    9.026
    """
    _refuse_no_size(major_diameter_mm, "major diameter")
    return pitch_diameter_from_wires_mm(2 * over_mm - major_diameter_mm, wire_mm, thread, length_text)


def pitch_diameter_error_mm(wire_error_mm: float, reading_error_mm: float, thread: Thread) -> float:
    """Return the error of a pitch diameter measured over three wires [mm], from the errors of the wires and of the
    reading.

    wire_error_mm: the error of the wire diameter, the same for all wires [mm]; reading_error_mm: the error of the
    micrometer reading [mm]. The error of the reading counts once, that of the wires 1 + 1/sin a times.
    Source: the derivative of the formula in `over_wires_mm`. Independent errors are added in squares (GUM, 5.1.2).

    >>> from core.operations.threads.designation import read_thread
    >>> m10 = read_thread("M10")
    >>> round(pitch_diameter_error_mm(0.001, 0.004, m10), 6)
    0.005
    """
    return hypot(reading_error_mm, wire_error_mm * (1 + 1 / sin(radians(thread.half_angle_deg))))


def _point_depth_mm(thread: Thread) -> float:
    return thread.pitch_mm / (4 * tan(radians(thread.half_angle_deg)))


def _rise_mm(wire_mm: float, thread: Thread) -> float:
    """Return by how much the measurement over three wires exceeds the pitch diameter [mm], without the lead-angle
    correction.
    """
    _refuse_no_size(wire_mm, "wire")
    return wire_mm * (1 + 1 / sin(radians(thread.half_angle_deg))) - 2 * _point_depth_mm(thread)


def _lead_term_mm(pitch_diameter_mm: float, wire_mm: float, thread: Thread) -> float:
    """Return the lead-angle correction [mm], even if it is too small to matter."""
    half_angle = radians(thread.half_angle_deg)
    cosecant = 1 / sin(half_angle)
    tan_lead_angle = thread.lead_mm / (pi * pitch_diameter_mm)
    return wire_mm * (hypot(cosecant, tan_lead_angle / tan(half_angle)) - cosecant)


def _refuse_internal(thread: Thread) -> None:
    if thread.internal:
        raise ThreadError(
            f"{thread.designation} is an inside thread. Wires measure outside threads only.",
            field="thread",
        )


def _refuse_no_size(size_mm: float, what: str) -> None:
    if not size_mm > 0:
        raise ThreadError(
            f"A {what} of {size_mm:g} mm is not possible. Enter a size above 0.", field=what.replace(" ", "_")
        )
