"""The form of a thread's groove in each standard, and custom threads, which have a standard form but sizes of the
user's choice.

A standard fixes the depth of the root. The flat or radius of the root follows from that depth, because it must touch
both flanks. Depths are radial, from the pitch line.
"""

import math
from fractions import Fraction
from typing import NamedTuple

from core.operations.threads.thread import LEAST_PITCH_MM, MOST_PITCH_MM, LengthText, Limits, Thread
from core.values.errors import ThreadError
from core.values.quantities import MM_PER_INCH, mm_text, number_text

Range = tuple[Fraction | None, Fraction | None]
"""The least and the largest size. Either is None if the standard does not limit it."""
OPEN: Range = (None, None)

PITCH_LINE = Fraction(64951905, 10**8)
"""Major less pitch diameter, in pitches: 3H/4 (ISO 68-1)."""
MINOR = Fraction(108253175, 10**8)
"""Major less internal minor diameter, in pitches: 5H/4 (ISO 68-1)."""
ROOT = Fraction(122686909, 10**8)
"""Major less external minor diameter at the rounded root, in pitches: 17H/12 (ISO 965-1)."""
WHITWORTH_DEPTH = Fraction(640327, 10**6)
"""Depth from crest to root, in pitches: 2H/3 at 55 degrees (BS 84, ISO 228-1)."""
BA_DEPTH = Fraction(6, 10)
"""Depth from crest to root, in pitches, as BS 93 fixes it."""


class Diameters(NamedTuple):
    """The exact basic major, pitch and minor diameters of a thread, in mm or inches."""

    major: Fraction
    pitch: Fraction
    minor: Fraction


class GrooveForm(NamedTuple):
    """The form of a groove: its pitch [mm], its half angle [deg], and two distances from the pitch line [mm].

    The two distances are those to the root and to the crest of the mating thread.
    """

    pitch_mm: float
    half_angle_deg: float
    root_depth_mm: float
    mating_crest_mm: float
    rounded: bool

    @property
    def root_flat_mm(self) -> float:
        """The width of the flat at the root that touches both flanks [mm]: P/2 - 2 x depth x tan a."""
        if self.rounded:
            return 0.0
        return self.pitch_mm / 2 - 2 * self.root_depth_mm * math.tan(math.radians(self.half_angle_deg))

    @property
    def root_radius_mm(self) -> float:
        """The radius of the root that touches both flanks [mm]: (P / (4 tan a) - depth) / (1 / sin a - 1)."""
        if not self.rounded:
            return 0.0
        a = math.radians(self.half_angle_deg)
        return (self.pitch_mm / (4 * math.tan(a)) - self.root_depth_mm) / (1 / math.sin(a) - 1)


def metric_form(pitch_mm: float, internal: bool) -> GrooveForm:
    """Return the form of an ISO metric groove. `internal`: True for the groove of an internal thread.

    In an external thread, the root is H/3 deep and rounded with a radius of H/6 (ISO 965-1, d3). In an internal thread,
    the root is a flat at the major diameter, P/8 wide and 3H/8 deep (ISO 68-1). H is the height of the sharp V.

    >>> round(metric_form(1.0, False).root_radius_mm, 6)
    0.144338
    """
    return _sixty_degrees(pitch_mm, internal, root=1 / 3)


def unified_form(pitch_mm: float, internal: bool) -> GrooveForm:
    """Return the form of a Unified groove. `internal`: True for the groove of an internal thread.

    In an external thread, the root is rounded and 5H/16 deep, which is 11H/16 from the crest. In an internal thread,
    the form is that of ISO 68-1. H is the height of the sharp V.

    Source: ASME B1.1, the largest minor diameter of the rounded (UNR) root. The flat of P/4 that UN allows would leave
    no room for wear of the tool.
    """
    return _sixty_degrees(pitch_mm, internal, root=5 / 16)


def whitworth_form(pitch_mm: float) -> GrooveForm:
    """Return the form of a Whitworth groove: 55 degrees, with equally rounded crest and root (BS 84, ISO 228-1).

    >>> round(whitworth_form(1.0).root_radius_mm, 6)
    0.137329
    """
    return _rounded_alike(pitch_mm, 27.5, float(WHITWORTH_DEPTH) * pitch_mm / 2)


def ba_form(pitch_mm: float) -> GrooveForm:
    """Return the form of a British Association groove: 47.5 degrees, with rounded crest and root, 0.6 P deep (BS
    93).
    """
    return _rounded_alike(pitch_mm, 23.75, float(BA_DEPTH) * pitch_mm / 2)


def flat_form(pitch_mm: float, half_angle_deg: float, clearance_mm: float) -> GrooveForm:
    """Return the form of a trapezoidal or Acme groove, whose root is flat.

    The mating thread's crest is P/4 from the pitch line. The root is deeper than this crest by `clearance_mm`.

    Source: ISO 2901 (half angle 15 degrees), ASME B1.5 (14.5 degrees).

    >>> round(flat_form(1.0, 14.5, 0).root_flat_mm, 4)
    0.3707
    """
    return GrooveForm(
        pitch_mm=pitch_mm,
        half_angle_deg=half_angle_deg,
        root_depth_mm=pitch_mm / 4 + clearance_mm,
        mating_crest_mm=pitch_mm / 4,
        rounded=False,
    )


def _sixty_degrees(pitch_mm: float, internal: bool, root: float) -> GrooveForm:
    """Return the form of a 60-degree groove. `internal`: True for the groove of an internal thread.

    In an external thread, the root is `root` times H below the pitch line. H is the height of the sharp V.
    """
    height = math.sqrt(3) / 2 * pitch_mm
    return GrooveForm(
        pitch_mm=pitch_mm,
        half_angle_deg=30.0,
        root_depth_mm=(3 / 8 if internal else root) * height,
        mating_crest_mm=(3 / 8 if internal else 1 / 4) * height,
        rounded=not internal,
    )


def _rounded_alike(pitch_mm: float, half_angle_deg: float, depth_mm: float) -> GrooveForm:
    return GrooveForm(
        pitch_mm=pitch_mm,
        half_angle_deg=half_angle_deg,
        root_depth_mm=depth_mm,
        mating_crest_mm=depth_mm,
        rounded=True,
    )


def limits_mm(
    *, major: Range = OPEN, pitch: Range = OPEN, minor: Range = OPEN, unit_mm: Fraction = Fraction(1)
) -> Limits:
    """Return limits of size [mm] from the ranges of the diameters in another unit. `unit_mm`: the length of that unit
    [mm].

    A diameter whose range is not passed has no limits.
    """
    sizes = [None if size is None else float(size * unit_mm) for size in (*major, *pitch, *minor)]
    return Limits(
        major_max_mm=sizes[0],
        major_min_mm=sizes[1],
        pitch_diameter_max_mm=sizes[2],
        pitch_diameter_min_mm=sizes[3],
        minor_max_mm=sizes[4],
        minor_min_mm=sizes[5],
    )


def thread_of(
    form: GrooveForm,
    basic: Diameters,
    *,
    pitch: Fraction,
    designation: str,
    system: str,
    internal: bool,
    starts: int = 1,
    left_hand: bool = False,
    tolerance_class: str = "",
    limits: Limits | None = None,
    notes: tuple[str, ...] = (),
) -> Thread:
    """Return a thread with the given form, basic sizes and limits. `pitch`: the exact pitch [mm]."""
    return Thread(
        designation=designation,
        system=system,
        internal=internal,
        half_angle_deg=form.half_angle_deg,
        pitch=pitch,
        starts=starts,
        left_hand=left_hand,
        tolerance_class=tolerance_class,
        major_basic_mm=float(basic.major),
        pitch_diameter_basic_mm=float(basic.pitch),
        minor_basic_mm=float(basic.minor),
        limits=limits or Limits(),
        root_depth_mm=form.root_depth_mm,
        mating_crest_mm=form.mating_crest_mm,
        root_flat_mm=form.root_flat_mm,
        root_radius_mm=form.root_radius_mm,
        notes=notes,
    )


LARGEST_MM = 1000.0
_ROOM = {60.0: ROOT, 55.0: 2 * WHITWORTH_DEPTH, 47.5: 2 * BA_DEPTH, 30.0: Fraction(1), 29.0: Fraction(1)}
"""For each included angle [deg], the major diameter in pitches at which the thread has no core left."""
_NOTE = "This thread has basic sizes, but no limits."


def custom_thread(
    *,
    included_angle_deg: float,
    major_mm: float,
    pitch_mm: float | Fraction,
    internal: bool,
    length_text: LengthText = mm_text,
) -> Thread:
    """Return a thread of a standard form whose major diameter and pitch the user has chosen freely.

    included_angle_deg: 60 as in ISO 68-1, 55 as in BS 84, 47.5 with a depth of 0.6 P, 30 or 29 with a depth of P/2
    [deg].
    major_mm, pitch_mm: above 0 [mm]; the groove must leave a core. `length_text`: a function that returns a length [mm]
    as text.
    Raise ThreadError with the field "form", "major" or "pitch".

    >>> custom_thread(included_angle_deg=30, major_mm=20, pitch_mm=4, internal=False).minor_basic_mm
    16.0
    """
    if included_angle_deg not in _ROOM:
        raise ThreadError(
            f"No thread form has an angle of {number_text(included_angle_deg, 4)} deg. "
            "Enter 60, 55, 47.5, 30 or 29 deg.",
            field="form",
        )
    if not (math.isfinite(major_mm) and 0 < major_mm <= LARGEST_MM):
        raise ThreadError(
            f"A diameter of {length_text(major_mm)} is out of range. Enter a diameter above 0 and up to "
            f"{length_text(LARGEST_MM)}.",
            field="major",
        )
    least, most = float(LEAST_PITCH_MM), min(major_mm / float(_ROOM[included_angle_deg]), float(MOST_PITCH_MM))
    if not least <= pitch_mm < most:
        problem = f"A pitch of {length_text(float(pitch_mm))} is not possible on a diameter of {length_text(major_mm)}."
        raise ThreadError(
            f"{problem} Enter a pitch from {length_text(least)} to below {length_text(most)}.", field="pitch"
        )
    return thread_of(
        _form(included_angle_deg, float(pitch_mm), internal),
        _basic(included_angle_deg, Fraction(major_mm), Fraction(pitch_mm)),
        pitch=Fraction(pitch_mm),
        designation=f"{included_angle_deg:g} deg {_size_words(major_mm, float(pitch_mm))}",
        system="custom",
        internal=internal,
        notes=(_NOTE,),
    )


def _size_words(major_mm: float, pitch_mm: float) -> str:
    """Return the size and pitch as text, in the unit in which the user probably entered them: "25.4 x 2 mm" or "1 in x
    11 tpi".

    >>> _size_words(25.4, 25.4 / 11), _size_words(25.4, 1.27)
    ('1 in x 11 tpi', '25.4 x 1.27 mm')
    """
    tpi = number_text(MM_PER_INCH / Fraction(pitch_mm), 6)
    if tpi.isdecimal() and abs(pitch_mm * 100 - round(pitch_mm * 100)) > 1e-6:
        return f"{number_text(Fraction(major_mm) / MM_PER_INCH, 4)} in x {tpi} tpi"
    return f"{number_text(major_mm, 4)} x {number_text(pitch_mm, 4)} mm"


def _form(included_angle_deg: float, pitch_mm: float, internal: bool) -> GrooveForm:
    if included_angle_deg == 60:
        return metric_form(pitch_mm, internal)
    if included_angle_deg == 55:
        return whitworth_form(pitch_mm)
    if included_angle_deg == 47.5:
        return ba_form(pitch_mm)
    return flat_form(pitch_mm, included_angle_deg / 2, 0.0)


def _basic(included_angle_deg: float, major: Fraction, pitch: Fraction) -> Diameters:
    """Return the unrounded basic major, pitch and minor diameters [mm].

    For a 60-degree thread, the minor diameter is that of the internal thread.
    """
    if included_angle_deg == 60:
        return Diameters(major, major - PITCH_LINE * pitch, major - MINOR * pitch)
    depth = {55.0: WHITWORTH_DEPTH, 47.5: BA_DEPTH}.get(included_angle_deg, Fraction(1, 2)) * pitch
    return Diameters(major, major - depth, major - 2 * depth)
