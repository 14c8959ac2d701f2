"""A hole on the spindle's axis: the tools that make it, in order, and how far each goes past the face.

Lengths in mm, angles in degrees. Depths count from the face to the tip of a tool, unless a name says otherwise.
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
"""How many pitches of each hand tap have no full thread yet; common practice, no source."""
_CHIP_PITCHES = 1
"""Room for chips below a tap, in pitches; common practice, no source."""
_REAMING_SPEED = 0.5
"""The speed of a reamer, as a part of the speed of a drill of its size; common practice, no source."""


def point_length_mm(diameter_mm: float, point_angle_deg: float) -> float:
    """Return the length of a drill's point [mm], from its tip to its full diameter.

    diameter_mm: of the drill [mm]; point_angle_deg: included angle of its point [deg].
    Source: a cone, d / 2 / tan(angle / 2).

    >>> round(point_length_mm(12, 90), 3), round(point_length_mm(12, 118), 3)
    (6.0, 3.605)
    """
    return diameter_mm / 2 / tan(radians(point_angle_deg / 2))


def room_below_thread_mm(pitch_mm: float, tap: Tap) -> float:
    """Return how much deeper than its full thread a blind hole must be [mm], for the tap's lead and for chips.

    pitch_mm: [mm]; tap: the last tap that goes in.
    Source: lead of the tap plus one pitch; common practice, no source.

    >>> room_below_thread_mm(1.25, "second")
    6.25
    """
    return (TAP_LEADS[tap] + _CHIP_PITCHES) * pitch_mm


class HoleTool(NamedTuple):
    """One tool of a hole, and how far it goes."""

    kind: ToolKind
    name: str
    """Its name in a sentence: "6.8 mm drill"."""
    size_mm: float
    """Its diameter; 0 for a centre drill or spotting drill."""
    point_mm: float
    """Length of its point; 0 for a reamer."""
    depth_mm: float
    """How far its tip goes past the face."""
    peck_mm: float
    """The deepest peck, at the face."""
    last_peck_mm: float
    """The deepest peck at the bottom. Between face and bottom the pecks get smaller evenly."""

    @property
    def full_mm(self) -> float:
        """How far its full diameter goes past the face."""
        return self.depth_mm - self.point_mm


class Tapped(NamedTuple):
    """The thread that is tapped in a hole afterwards."""

    thread: Thread
    tap: Tap
    depth_mm: float | None
    """Depth of full thread; None for a hole through the work."""


@dataclass(frozen=True, kw_only=True)
class Hole:
    """A hole, and the tools that make it."""

    dial: str
    drill: Drill
    """The last drill, which gives the hole its size unless it is reamed."""
    point_angle_deg: float
    tools: tuple[HoleTool, ...]
    """The tools that are fed by the dial, in order."""
    starter: ToolKind | None
    """The drill that starts the hole by eye; None if it is fed by the dial, or if nothing starts the hole."""
    depth_to: DepthTo
    """The end of the hole to which its depth is measured."""
    through_mm: float | None = None
    """Length of the work at a hole that goes through it."""
    strip_mm: float | None = None
    """Thickness of the strip held against the face to touch off on; None to touch off without one."""
    cutting_speed_m_per_min: float | None = None
    tapped: Tapped | None = None

    @property
    def last_drill(self) -> HoleTool:
        """The last drill."""
        return next(tool for tool in reversed(self.tools) if tool.kind == "drill")

    @property
    def reamer(self) -> HoleTool | None:
        """The reamer; None if the hole is not reamed."""
        return self.tools[-1] if self.tools[-1].kind == "reamer" else None

    @property
    def full_mm(self) -> float:
        """Depth of the full diameter of the last drill."""
        return self.last_drill.full_mm

    @property
    def deepest_mm(self) -> float:
        """The farthest that the dial's slide goes for any of the tools, from where the tool touches off."""
        return max(tool.depth_mm for tool in self.tools) + (self.strip_mm or 0.0)

    def named(self, name: str) -> int | None:
        """Return the index of a tool by its name, None if the hole has no such tool."""
        return next((place for place, tool in enumerate(self.tools) if tool.name == name), None)

    def wanted_rpm(self, tool: HoleTool) -> float | None:
        """Return the speed for a tool [rpm] by the cutting speed entered; None if there is none.

        Source: cutting speed / (pi x diameter).
        """
        if self.cutting_speed_m_per_min is None or not tool.size_mm:
            return None
        part = _REAMING_SPEED if tool.kind == "reamer" else 1.0
        return part * 1000 * self.cutting_speed_m_per_min / (pi * tool.size_mm)

    def listed_rpm(self, tool: HoleTool, lathe: Lathe) -> float | None:
        """Return the lathe's nearest speed not above the wanted one, nor above the chuck's; None if there is none."""
        wanted, most = self.wanted_rpm(tool), lathe.spindle.most_rpm
        if wanted is None:
            return None
        rpm = lathe.spindle.fastest_up_to(wanted if most is None else min(wanted, most))
        # A stepless spindle could turn at any speed: nobody sets a part of a turn.
        return floor(rpm) if rpm is not None and lathe.spindle.range_rpm else rpm
