"""A screw thread as read from its designation: its basic sizes, its limits of size and its form."""

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

LengthText = Callable[[float], str]
"""A function that returns a length [mm] as text in the user's unit."""


LEAST_PITCH_MM, MOST_PITCH_MM = Fraction(7, 100), Fraction(50)
"""The finest (25 BA: 0.07 mm) and the coarsest (ISO 2904: 44 mm) pitch of any standard; from memory."""


class Limits(NamedTuple):
    """The largest and the smallest size of each diameter [mm]. A limit is None if the standard does not state it."""

    major_max_mm: float | None = None
    major_min_mm: float | None = None
    pitch_diameter_max_mm: float | None = None
    pitch_diameter_min_mm: float | None = None
    minor_max_mm: float | None = None
    minor_min_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Thread:
    """One external or internal thread, with its basic sizes and its limits.

    Depths are on the radius [mm]. They count from the pitch line (the pitch cylinder) towards the root that the tool
    cuts: inwards for an external thread, outwards for an internal thread.
    """

    designation: str
    """The designation in the standard's own spelling, such as "M30x3.5-6g"."""
    system: str
    """The standard: "metric", "unified", "whitworth", "bsp", "ba", "trapezoidal", "acme" or "custom"."""
    internal: bool
    half_angle_deg: float
    pitch: Fraction
    """The pitch, exact [mm]."""
    starts: int = 1
    left_hand: bool = False
    tolerance_class: str = ""
    """The class in the designation ("6g", "2A", "medium"); "" without limits."""
    major_basic_mm: float
    pitch_diameter_basic_mm: float
    minor_basic_mm: float
    """Minor diameter of the internal thread for metric and Unified; else of the external design profile."""
    limits: Limits = field(default_factory=Limits)
    root_depth_mm: float
    """Depth from the pitch line to the root of the standard's design profile."""
    mating_crest_mm: float
    """Depth from the pitch line to the crest of a mating thread of basic size. The root must be deeper."""
    root_flat_mm: float
    """Flat of a tool that cuts the standard's own root; 0 if that root is rounded."""
    root_radius_mm: float
    """Radius of a tool that cuts the standard's own root; 0 if that root is flat."""
    notes: tuple[str, ...] = ()
    """Warnings about the figures, such as "calculated by formula" or "basic sizes only"."""

    @cached_property
    def pitch_mm(self) -> float:
        """The distance from one groove to the next [mm]."""
        return float(self.pitch)

    @property
    def lead_mm(self) -> float:
        """The travel of a nut in one turn [mm], which is the pitch times the number of starts."""
        return self.pitch_mm * self.starts

    @property
    def exact_lead(self) -> Fraction:
        """The lead as an exact fraction [mm], for change gears and thread dials. For example, 25.4/11 mm is 127/55."""
        return self.pitch * self.starts

    @property
    def has_limits(self) -> bool:
        """True if the standard limits the pitch diameter of this thread."""
        return self.limits.pitch_diameter_max_mm is not None

    @cached_property
    def wanted_pitch_diameter_mm(self) -> float:
        """The middle of the pitch diameter's limits [mm]; if there are no limits, the basic pitch diameter."""
        largest, least = self.limits.pitch_diameter_max_mm, self.limits.pitch_diameter_min_mm
        if largest is None or least is None:
            return self.pitch_diameter_basic_mm
        return (largest + least) / 2
