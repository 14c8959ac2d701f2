"""The tip of a threading tool, the groove that it cuts, and the depth of this groove.

All depths are radial [mm], counted from the tip of the tool. The groove has the tool's own shape as long as the
compound angle does not exceed the half angle.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from core.operations.threads.thread import LengthText, Thread
from core.values.errors import PlanError
from core.values.quantities import mm_text


@dataclass(frozen=True, kw_only=True)
class ToolTip:
    """The tip of a symmetrical threading tool: its half angle [deg], and either a flat or a radius [mm].

    A sharp tip has neither.
    """

    half_angle_deg: float
    flat_mm: float = 0.0
    radius_mm: float = 0.0

    @cached_property
    def tan(self) -> float:
        return math.tan(math.radians(self.half_angle_deg))

    @cached_property
    def shortfall_mm(self) -> float:
        """The distance from the tip to the sharp point in which the flanks would meet [mm].

        It is f / (2 tan a) for a flat f, and r (1 / sin a - 1) for a nose radius r.
        """
        if self.radius_mm:
            return self.radius_mm * (1 / math.sin(math.radians(self.half_angle_deg)) - 1)
        return self.flat_mm / (2 * self.tan)

    @cached_property
    def round_height_mm(self) -> float:
        """The height above the tip at which the nose radius meets the flanks [mm]: r (1 - sin a)."""
        return self.radius_mm * (1 - math.sin(math.radians(self.half_angle_deg)))

    def below_pitch_line_mm(self, pitch_mm: float) -> float:
        """Return the distance from the tip to the pitch line, where groove and ridge are equally wide [mm].

        Source: geometry of the sharp V: P / (4 tan a) less the shortfall of the tip.
        """
        return pitch_mm / (4 * self.tan) - self.shortfall_mm

    def width_mm(self, height_mm: float) -> float:
        """Return the width of the groove at a height above the tip [mm].

        >>> round(ToolTip(half_angle_deg=30, flat_mm=0.3).width_mm(1.0), 4)
        1.4547
        """
        if height_mm <= 0:
            return 0.0
        if height_mm < self.round_height_mm:
            return 2 * math.sqrt(height_mm * (2 * self.radius_mm - height_mm))
        return 2 * self.tan * (height_mm + self.shortfall_mm)

    def area_mm2(self, height_mm: float) -> float:
        """Return the area of the groove's cross-section up to a height above the tip [mm2].

        Flat: f h + h^2 tan a. Nose radius: a segment of a circle, plus the trapezium above the segment.
        """
        if height_mm <= 0:
            return 0.0
        if height_mm < self.round_height_mm:
            from_centre = self.radius_mm - height_mm
            return self.radius_mm**2 * math.acos(from_centre / self.radius_mm) - from_centre * math.sqrt(
                height_mm * (2 * self.radius_mm - height_mm)
            )
        above = height_mm - self.round_height_mm
        return self._round_area_mm2 + self._round_width_mm * above + above**2 * self.tan

    def height_mm(self, area_mm2: float) -> float:
        """Return the height above the tip up to which the groove has a given area [mm]; the inverse of `area_mm2`."""
        if area_mm2 <= 0:
            return 0.0
        if area_mm2 < self._round_area_mm2:
            return self._height_in_round_mm(area_mm2)
        width, above_mm2 = self._round_width_mm, area_mm2 - self._round_area_mm2
        return self.round_height_mm + 2 * above_mm2 / (width + math.sqrt(width**2 + 4 * self.tan * above_mm2))

    @cached_property
    def _round_width_mm(self) -> float:
        if not self.radius_mm:
            return self.flat_mm
        return 2 * self.radius_mm * math.cos(math.radians(self.half_angle_deg))

    @cached_property
    def _round_area_mm2(self) -> float:
        a = math.radians(self.half_angle_deg)
        return self.radius_mm**2 * (math.pi / 2 - a - math.sin(a) * math.cos(a))

    def _height_in_round_mm(self, area_mm2: float) -> float:
        """Return the height above the tip [mm] for an area inside the rounded nose, found by halving an interval.

        Only the first one or two passes of a thread are shallow enough to need this search.
        """
        low, high = 0.0, self.round_height_mm
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if self.area_mm2(middle) < area_mm2 else (low, middle)
        return (low + high) / 2


class Groove(NamedTuple):
    """The depth of the groove that a tool cuts into a blank for one thread, on the radius [mm]."""

    depth_mm: float
    """From the blank to the tip, with the pitch diameter in the middle of its limits."""
    least_depth_mm: float
    most_depth_mm: float
    """The greatest depth inside the limits of the pitch diameter; the same as `depth_mm` without limits."""
    root_diameter_mm: float


def groove_for(thread: Thread, blank_mm: float, tip: ToolTip, length_text: LengthText = mm_text) -> Groove:
    """Return how deep a tip must go into a measured blank or, for an internal thread, into a measured bore.

    On the pitch line, the groove is as wide as the ridge. So the tip lies below the pitch line by P/(4 tan a), less the
    shortfall of the tip. `length_text`: a function that returns a length [mm] as text. Raise PlanError if the tip is
    too wide for the pitch, or if the blank is smaller (or the bore larger) than the root of the thread.
    """
    below_mm = tip.below_pitch_line_mm(thread.pitch_mm)
    if below_mm <= 0:
        raise _too_wide(thread, tip, length_text)
    sense = -1 if thread.internal else 1

    def depth(pitch_diameter_mm: float) -> float:
        return sense * (blank_mm - pitch_diameter_mm) / 2 + below_mm

    wanted = depth(thread.wanted_pitch_diameter_mm)
    root_mm = blank_mm - sense * 2 * wanted
    if wanted <= 0:
        what, side, off = ("bore", "beyond", "smaller") if thread.internal else ("blank", "below", "larger")
        raise PlanError(
            f"A {what} of {length_text(blank_mm)} is {side} the root of {thread.designation} at "
            f"{length_text(root_mm)}. Enter a {off} {what}.",
            field="blank",
        )
    limits = thread.limits
    ends = sorted(
        depth(end) for end in (limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm) if end is not None
    ) or [wanted]
    return Groove(depth_mm=wanted, least_depth_mm=ends[0], most_depth_mm=ends[-1], root_diameter_mm=root_mm)


def _too_wide(thread: Thread, tip: ToolTip, length_text: LengthText) -> PlanError:
    if tip.radius_mm:
        most = thread.pitch_mm / (4 * tip.tan) / (1 / math.sin(math.radians(tip.half_angle_deg)) - 1)
        size, field = f"A tool radius of {length_text(tip.radius_mm)}", "tool_radius"
    else:
        most, size, field = thread.pitch_mm / 2, f"A tool flat of {length_text(tip.flat_mm)}", "tool_flat"
    return PlanError(
        f"{size} is too wide for a pitch of {length_text(thread.pitch_mm)}. Enter a size below {length_text(most)}.",
        field=field,
    )
