"""A hole on the spindle's axis: its tools in order, and how deep each tool goes.

Lengths are in mm, angles in degrees. Depths count from the face to the tip of a tool, unless the name of a value says
otherwise.
"""

from dataclasses import dataclass
from math import floor, pi, radians, tan
from typing import Literal, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.threads.drills import Drill
from core.operations.threads.thread import Thread

ToolKind = Literal["centre drill", "spotting drill", "drill", "reamer"]
Tap = Literal["taper", "second", "bottoming"]
DepthTo = Literal["full diameter", "point"]

USUAL_POINT_DEG = 118.0
"""Point angle of a usual twist drill; common practice, no source."""
TAP_LEADS: dict[Tap, int] = {"taper": 8, "second": 4, "bottoming": 2}
"""Number of pitches at the front of each hand tap that cut no full thread; common practice, no source."""
_CHIP_PITCHES = 1
"""Room for chips below a tap, in pitches; common practice, no source."""
_REAMER_LEAD = 0.25
"""The longest lead of a machine reamer, as a share of its diameter; common practice, no source."""
_REAMING_SPEED = 0.5
"""The speed of a reamer, as a share of the speed of a drill of the same size; common practice, no source."""


def point_length_mm(diameter_mm: float, point_angle_deg: float) -> float:
    """Return the length of a drill's point [mm], from its tip to where it has its full diameter.

    diameter_mm: the diameter of the drill [mm].
    point_angle_deg: the included angle of the point [deg].
    Source: a cone, d / 2 / tan(angle / 2).

    >>> round(point_length_mm(12, 90), 3), round(point_length_mm(12, 118), 3)
    (6.0, 3.605)
    """
    return diameter_mm / 2 / tan(radians(point_angle_deg / 2))


def room_below_thread_mm(pitch_mm: float, tap: Tap) -> float:
    """Return how far a blind hole must extend below its full thread [mm], to leave room for the lead of the tap and for
    chips.

    pitch_mm: the pitch of the thread [mm].
    tap: the last tap used.
    Source: the lead of the tap plus one pitch; common practice, no source.

    >>> room_below_thread_mm(1.25, "second")
    6.25
    """
    return (TAP_LEADS[tap] + _CHIP_PITCHES) * pitch_mm


def reamer_lead_mm(diameter_mm: float) -> float:
    """Return the longest usual lead of a machine reamer of this diameter [mm]. Hand reamers have a longer lead.

    Common practice, no source.

    >>> reamer_lead_mm(12.0)
    3.0
    """
    return _REAMER_LEAD * diameter_mm


class HoleTool(NamedTuple):
    """One tool used for a hole: its kind, its size and how deep it cuts."""

    kind: ToolKind
    key: str
    """The tool's name in the log of a run: "31/64 drill"."""
    name: str
    """The tool's name in a sentence: "31/64 in drill"."""
    size_mm: float
    """Diameter of the tool; 0 for a centre drill or spotting drill."""
    point_mm: float
    """Length of the tool's point; 0 for a reamer."""
    depth_mm: float
    """Final depth of the tool's tip, counted from the face."""
    peck_mm: float
    """The deepest peck at the face."""
    last_peck_mm: float
    """The deepest peck at the bottom. The limit falls evenly from the face to the bottom."""

    @property
    def full_mm(self) -> float:
        """The depth down to which the tool cuts its full diameter [mm]."""
        return self.depth_mm - self.point_mm


class Tapped(NamedTuple):
    """The thread to tap in a drilled hole."""

    thread: Thread
    tap: Tap
    depth_mm: float | None
    """Depth of full thread; None for a hole through the work."""


@dataclass(frozen=True, kw_only=True)
class Hole:
    """A hole on the spindle's axis, and the tools that make the hole."""

    dial: str
    drill: Drill
    """The last drill, which gives the hole its size unless a reamer follows."""
    point_angle_deg: float
    tools: tuple[HoleTool, ...]
    """The tools fed by the dial, in order."""
    starter: ToolKind | None
    """The tool that starts the hole by eye; None if the dial feeds the starter, or if nothing starts the hole."""
    depth_to: DepthTo
    """The end of the hole to which its depth is measured."""
    through_mm: float | None = None
    """Length of the work if the hole goes through; None for a blind hole."""
    strip_mm: float | None = None
    """Thickness of the strip held against the face for touch-off; None without a strip."""
    cutting_speed_m_per_min: float | None = None
    tapped: Tapped | None = None

    @property
    def last_drill(self) -> HoleTool:
        """The last drill used, which gives the hole its size before any reaming."""
        return next(tool for tool in reversed(self.tools) if tool.kind == "drill")

    @property
    def reamer(self) -> HoleTool | None:
        """The reamer; None if the hole is not reamed."""
        return self.tools[-1] if self.tools[-1].kind == "reamer" else None

    @property
    def full_mm(self) -> float:
        """The depth down to which the last drill cuts its full diameter [mm]."""
        return self.last_drill.full_mm

    @property
    def deepest_mm(self) -> float:
        """The longest travel of the slide that the dial moves, from touch-off to full depth, among all tools [mm]."""
        return max(tool.depth_mm for tool in self.tools) + (self.strip_mm or 0.0)

    def place_of(self, key: str) -> int | None:
        """Return the index in `tools` of the tool with this key; None if no tool has this key."""
        return next((place for place, tool in enumerate(self.tools) if tool.key == key), None)

    def wanted_rpm(self, tool: HoleTool) -> float | None:
        """Return the spindle speed that gives a tool the entered cutting speed [rpm]. A reamer gets half that speed.

        Return None if no cutting speed is entered, or if the tool is a centre drill or spotting drill.
        Source: cutting speed / (pi x diameter).
        """
        if self.cutting_speed_m_per_min is None or not tool.size_mm:
            return None
        part = _REAMING_SPEED if tool.kind == "reamer" else 1.0
        return part * 1000 * self.cutting_speed_m_per_min / (pi * tool.size_mm)

    def most_rpm(self, tool: HoleTool, lathe: Lathe) -> float | None:
        """Return the highest spindle speed for a tool [rpm]: its wanted speed, or the chuck's limit if that is lower.

        Return None if no cutting speed is entered, or if the tool is a centre drill or spotting drill.
        """
        wanted, limit = self.wanted_rpm(tool), lathe.spindle.most_rpm
        return wanted if wanted is None or limit is None else min(wanted, limit)

    def listed_rpm(self, tool: HoleTool, lathe: Lathe) -> float | None:
        """Return the lathe's highest speed [rpm] that exceeds neither the speed wanted for a tool nor the chuck's
        limit.

        Return None if no cutting speed is entered, if the tool is a centre drill or spotting drill, or if no speed of
        the lathe is low enough.
        """
        most = self.most_rpm(tool, lathe)
        if most is None:
            return None
        rpm = lathe.spindle.fastest_up_to(most)
        # On a stepless spindle any speed is possible, but nobody sets a fraction of a revolution.
        return floor(rpm) if rpm is not None and lathe.spindle.range_rpm else rpm
