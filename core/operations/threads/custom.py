"""A thread of one's own: the proportions that a standard gives its angle, basic sizes only."""

import math
from fractions import Fraction

from core.operations.threads.form import (
    BA_DEPTH,
    WHITWORTH_DEPTH,
    Diameters,
    Form,
    ba_form,
    flat_form,
    metric_form,
    thread_of,
    whitworth_form,
)
from core.operations.threads.metric import MINOR, PITCH_LINE, ROOT
from core.operations.threads.thread import LEAST_PITCH_MM, MOST_PITCH_MM, Say, Thread
from core.values.errors import ThreadError
from core.values.quantities import MM_PER_INCH, mm_text, number_text

LARGEST_MM = 1000.0
_ROOM = {60.0: ROOT, 55.0: 2 * WHITWORTH_DEPTH, 47.5: 2 * BA_DEPTH, 30.0: Fraction(1), 29.0: Fraction(1)}
"""Major diameter over pitch at which nothing is left of the core, by included angle [deg]."""
_NOTE = "No limits: basic sizes only."


def custom_thread(
    *,
    included_angle_deg: float,
    major_mm: float,
    pitch_mm: float | Fraction,
    internal: bool,
    say: Say = mm_text,
) -> Thread:
    """Return a thread of a form, major diameter and pitch that no series needs to have.

    included_angle_deg: 60 as ISO 68-1, 55 as BS 84, 47.5 with depth 0.6 P, 30 and 29 with depth P/2 [deg].
    major_mm, pitch_mm: [mm], above 0; something must be left of the core. `say` words a length [mm].
    Raises ThreadError with field "form", "major" or "pitch".

    >>> custom_thread(included_angle_deg=30, major_mm=20, pitch_mm=4, internal=False).minor_basic_mm
    16.0
    """
    if included_angle_deg not in _ROOM:
        raise ThreadError(
            f"found {number_text(included_angle_deg, 4)} deg; accepted are 60, 55, 47.5, 30 and 29 deg",
            field="form",
        )
    if not (math.isfinite(major_mm) and 0 < major_mm <= LARGEST_MM):
        raise ThreadError(f"found {say(major_mm)}; accepted is above 0 up to {say(LARGEST_MM)}", field="major")
    least, most = float(LEAST_PITCH_MM), min(major_mm / float(_ROOM[included_angle_deg]), float(MOST_PITCH_MM))
    if not least <= pitch_mm < most:
        found = f"found a pitch of {say(float(pitch_mm))} on {say(major_mm)}"
        raise ThreadError(f"{found}; accepted: from {say(least)} and below {say(most)}", field="pitch")
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
    """Return size and pitch as they will have been given: "25.4 x 2 mm", or "1 in x 11 tpi" for whole threads an inch.

    >>> _size_words(25.4, 25.4 / 11), _size_words(25.4, 1.27)
    ('1 in x 11 tpi', '25.4 x 1.27 mm')
    """
    tpi = number_text(MM_PER_INCH / Fraction(pitch_mm), 6)
    if tpi.isdecimal() and abs(pitch_mm * 100 - round(pitch_mm * 100)) > 1e-6:
        return f"{number_text(Fraction(major_mm) / MM_PER_INCH, 4)} in x {tpi} tpi"
    return f"{number_text(major_mm, 4)} x {number_text(pitch_mm, 4)} mm"


def _form(included_angle_deg: float, pitch_mm: float, internal: bool) -> Form:
    if included_angle_deg == 60:
        return metric_form(pitch_mm, internal)
    if included_angle_deg == 55:
        return whitworth_form(pitch_mm)
    if included_angle_deg == 47.5:
        return ba_form(pitch_mm)
    return flat_form(pitch_mm, included_angle_deg / 2, 0.0)


def _basic(included_angle_deg: float, major: Fraction, pitch: Fraction) -> Diameters:
    """Return major, pitch and minor diameter [mm], not rounded: 60 deg the minor of the internal profile."""
    if included_angle_deg == 60:
        return Diameters(major, major - PITCH_LINE * pitch, major - MINOR * pitch)
    depth = {55.0: WHITWORTH_DEPTH, 47.5: BA_DEPTH}.get(included_angle_deg, Fraction(1, 2)) * pitch
    return Diameters(major, major - depth, major - 2 * depth)
