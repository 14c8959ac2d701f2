"""A lathe with a rotary table, simulated from the settings on a card: the dial settings before each cut.

It uses the lathe's file and the card. From the job it takes only the state of the machine: the spindle's side, the
height error, and the position of the work on the table. Lengths in mm, angles in degrees. Derived.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.core.operations.patterns.outside.job_files import MM_PER_UNIT, Tables, deg, mm
from tests.core.operations.patterns.outside.wanted import Vector, comes_out_mm

TABLE, HEAD = "rotary_table", "boring_head"


@dataclass
class Stroke:
    """One cut step: the start and end of the tool's movement, from the work's centre."""

    start: Vector
    end: Vector
    angle_deg: float
    end_angle_deg: float
    slide_mm: float
    end_slide_mm: float
    depth_mm: float
    step: int
    """Number of the step on the card."""


@dataclass
class Cut:
    """All cut steps at one position."""

    layer: int
    position: int
    strokes: list[Stroke] = field(default_factory=list)
    head_mm: list[float] = field(default_factory=list)
    """How far the boring head was set from its zero at each stroke: + is a larger radius."""
    trials: int = 0
    """How many trial circles had been measured by then: after each, the head's dial starts from 0."""

    @property
    def depth_mm(self) -> float:
        """The depth of the last cut step."""
        return max(stroke.depth_mm for stroke in self.strokes)


class Machine:
    """The dials of a lathe with their settings, and the cuts made."""

    def __init__(self, operation: Tables, lathe: Tables) -> None:
        self.operation, self.lathe = operation, lathe
        self.set_mm: dict[str, float] = {}
        """How far each slide is from its zero, in its own sense: + inwards."""
        self.angle_deg = 0.0
        """How far the table is turned, clockwise seen on its face."""
        self.cuts: dict[tuple[int, int], Cut] = {}
        self.trials = 0

    def run(self, steps: list[Mapping[str, Any]]) -> dict[tuple[int, int], Cut]:
        """Do every step of a card, and return the cuts at each layer and position."""
        for step in steps:
            before = (self.slide_mm, self.angle_deg, self.depth_mm)
            for setting in step.get("settings", ()):
                self._set(setting, step.get("way", ""))
            self.trials += step["action"] == "measure" and "trial circle" in step["text"]
            if step["action"] == "cut":
                self._cut(step, *before)
        return self.cuts

    @property
    def slide_mm(self) -> float:
        """The distance by which the spindle's axis is nearer to the operator than the table's axis."""
        return self.set_mm.get(self.operation.get("offset_dial", "cross_slide"), 0.0)

    @property
    def depth_mm(self) -> float:
        """The depth of the cutter in the face."""
        return self.set_mm.get(self.operation.get("depth_dial", "carriage"), 0.0)

    def _set(self, setting: Mapping[str, Any], way: str) -> None:
        if setting["dial"] != TABLE:
            self.set_mm[setting["dial"]] = setting["position"] * mm_inwards(self.lathe["dial"][setting["dial"]])
            return
        table = self.lathe["rotary_table"]
        ratio = 1 if way == "direct" else table["ratio"]
        angle_deg = setting["position"] if "position" in setting else plate_deg(setting, ratio)
        self.angle_deg = -angle_deg if table.get("numbers_rise") == "anticlockwise" else angle_deg

    def _cut(self, step: Mapping[str, Any], slide_mm: float, angle_deg: float, depth_mm: float) -> None:
        key = step["layer"], step["position"]
        cut = self.cuts.setdefault(key, Cut(*key, trials=self.trials))
        shape = self.operation["layer"][step["layer"] - 1]["shape"]
        # Slots and arcs are fed in at their start, and then along at the same depth.
        along = shape in ("slots", "arcs") and len(cut.strokes) % 2 == 1
        if not along:
            slide_mm, angle_deg = self.slide_mm, self.angle_deg
        else:
            assert self.depth_mm == depth_mm, f"step {step['number']}: the depth changes while the work is fed"
            assert cut.strokes[-1].step == step["number"] - 1, f"step {step['number']} does not follow its feeding in"
        start = comes_out_mm(self.operation, slide_mm, angle_deg)
        end = comes_out_mm(self.operation, self.slide_mm, self.angle_deg)
        angles, slides = (angle_deg, self.angle_deg), (slide_mm, self.slide_mm)
        cut.strokes.append(Stroke(start, end, *angles, *slides, self.depth_mm, step["number"]))
        cut.head_mm.append(self.set_mm.get(HEAD, 0.0))


def mm_inwards(dial: Tables) -> float:
    """Return the slide travel inwards per unit of a dial's numbers; below 0 if the numbers fall inwards.

    On a boring head, inwards means towards a larger circle.
    """
    unit_mm = _unit_mm(dial)
    if "lead" in dial:
        travel_mm = mm(dial["lead"]) * unit_mm / mm(dial["per_turn"])
    else:
        travel_mm = unit_mm / 2 if dial["reads"] == "diameter" else unit_mm
    return -travel_mm if dial.get("numbers") == "fall" else travel_mm


def half_mark_mm(dial: Tables) -> float:
    """Return half a mark of a dial as slide travel [mm]."""
    return abs(mm_inwards(dial)) * mm(dial["graduation"]) / _unit_mm(dial) / 2


def _unit_mm(dial: Tables) -> float:
    """Return the unit of a dial's printed numbers in mm. A dial in thou prints inches."""
    return MM_PER_UNIT["mm" if dial["graduation"].endswith("mm") else "in"]


def plate_deg(setting: Mapping[str, Any], ratio: int) -> float:
    """Return the table's angle at a hole of a dividing plate. Ratio 1: at a notch of a plate on the table itself."""
    turns: float = setting["turns"] + (setting["holes"] / setting["circle"] if setting["holes"] else 0)
    return 360 * turns / ratio


def half_step_deg(steps: list[Mapping[str, Any]], lathe: Tables) -> float:
    """Return half a mark of the table's dial, or half a hole of the largest circle used, in degrees."""
    table = lathe["rotary_table"]
    widths = []
    for step in steps:
        ratio = 1 if step.get("way") == "direct" else table["ratio"]
        on_plates = [
            setting for setting in step.get("settings", ()) if setting["dial"] == TABLE and "circle" in setting
        ]
        widths += [180 / (ratio * setting["circle"]) for setting in on_plates]
    return max(widths) if widths else float(deg(table["dial_graduation"])) / 2
