"""A simulated lathe that follows the steps of a pattern, and random patterns for it.

The lathe does not use the program's geometry. It turns dials to their settings and records where on the work, and how
deep, the cutter's point was. Places are complex numbers [mm].
"""

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from hypothesis import strategies as st

from core.lathe.lathe import Cutter, Lathe
from core.operations.patterns.layers import Layer, PatternJob
from core.plan import PlateSetting, Step
from core.values.dials import Setting

Place = tuple[int, int]
"""Layer and position."""


@dataclass
class Groove:
    """The groove cut at one position."""

    depth_mm: float = 0.0
    """The greatest depth so far."""
    at_mm: list[complex] = field(default_factory=list)
    """Where the spindle's axis was on the work, at each pass."""
    ends_mm: list[complex] = field(default_factory=list)
    """Where it was after the feed along a groove."""
    swept_deg: list[float] = field(default_factory=list)
    radius_mm: list[float] = field(default_factory=list)
    depths_mm: list[float] = field(default_factory=list)
    along_mm: list[float] = field(default_factory=list)
    """Depths of the feeds along."""


@dataclass
class Machine:
    """A lathe with dials, table and head, and the grooves cut so far. `touch_error_mm`: the error of each touch-off."""

    lathe: Lathe
    job: PatternJob
    touch_error_mm: float = 0.0
    head_mm: float = 0.0
    """True circle radius now."""
    at: dict[str, float] = field(default_factory=dict)
    """Slide travel [mm] of each dial; of the table degrees."""
    grooves: dict[Place, Groove] = field(default_factory=dict)
    head_zero_mm: float = 0.0
    mounted: tuple[str, bool] | None = None
    """The cutter, and whether the boring head holds it; None before a step mounts one."""
    is_touched_off: bool = False
    """Whether the depth dial was zeroed since the cutter was mounted."""
    indexed: Place | None = None
    placed: tuple[complex, float] | None = None
    """Shift of the work on the table [mm] and its turn [deg], since it was put back; None if it never was."""

    def run(self, steps: Iterable[Step]) -> None:
        """Do several steps as a turner would."""
        for step in steps:
            self.do(step)

    def do(self, step: Step) -> None:
        """Do one step."""
        for setting in step.settings:
            if setting.dial not in step.zeroed_dials:
                self._turn(setting)
        for dial in step.zeroed_dials:
            self.at[dial] = 0.0
            if dial == "boring_head":
                self.head_zero_mm = self.head_mm
        self.is_touched_off |= self.job.depth_dial in step.zeroed_dials
        if "with a rule" in step.title:
            self.head_mm = self._layer_of(step).circle_radius_mm
        if step.title in {"Mount the boring head", "Mount the cutter in a collet", "Change the cutter"}:
            self.mounted, self.is_touched_off = self._needs(self._layer_of(step)), False
        if step.action == "index" and step.at.position:
            self.indexed = (step.at.layer or 0, step.at.position)
        if step.action == "cut":
            self._cut(step)

    def _layer_of(self, step: Step) -> Layer:
        number = int(step.text.split(":")[0].removeprefix("Layer "))
        return self.job.layers[number - 1]

    @staticmethod
    def _needs(layer: Layer) -> tuple[str, bool]:
        return (layer.cutter.name if layer.cutter else "", layer.with_head)

    def _turn(self, setting: Setting | PlateSetting) -> None:
        if isinstance(setting, PlateSetting):
            assert self.lathe.rotary_table is not None
            turns = setting.turns + Fraction(setting.holes, setting.circle or 1)
            self.at["rotary_table"] = float(turns * 360 / self.lathe.rotary_table.ratio)
        elif setting.dial == "rotary_table":
            self.at["rotary_table"] = float(setting.position)
        else:
            dial = self.lathe.dials[setting.dial]
            travel = float(setting.position * dial.mm_per_unit) * (1 if dial.rising_inwards else -1)
            self.at[setting.dial] = travel
            if setting.dial == "boring_head":
                self.head_mm = self.head_zero_mm + travel

    @property
    def place_mm(self) -> complex:
        """Return the point of the work under the spindle's axis now [mm]."""
        assert self.lathe.rotary_table is not None
        falls = self.lathe.rotary_table.numbers_rise == "anticlockwise"
        angle = math.radians(self.at.get("rotary_table", 0.0)) * (-1 if falls else 1)
        spindle = complex(self.at.get(self.job.offset_dial, 0.0), -self.job.height_error_mm)
        # The place on the turned table, less the eccentricity of the work.
        on_table = spindle * cmath.exp(1j * angle)
        centre = self.job.eccentricity_mm * cmath.exp(1j * math.radians(self.job.eccentric_at_deg))
        shift, turn = self.placed or (centre, 0.0)
        return (on_table - shift) * cmath.exp(-1j * math.radians(turn))

    def _cut(self, step: Step) -> None:
        place = (step.at.layer or 0, step.at.position or 0)
        assert self.indexed == place, f"cut at {place}, but the table was turned to {self.indexed}"
        needs = {self._needs(layer) for layer in self.job.layers}
        assert self.mounted == self._needs(self.job.layers[place[0] - 1]) or (self.mounted is None and len(needs) == 1)
        assert self.is_touched_off, "cut before the depth dial was set to 0 with this cutter"
        groove = self.grooves.setdefault(place, Groove())
        depth_mm = self.at[self.job.depth_dial] - self.touch_error_mm
        if step.feeds_along:
            groove.ends_mm.append(self.place_mm)
            groove.swept_deg.append(float(step.extra.get("through_deg", 0.0)))
            groove.along_mm.append(depth_mm)
            return
        groove.at_mm.append(self.place_mm)
        groove.depths_mm.append(depth_mm)
        groove.depth_mm = max(groove.depth_mm, depth_mm)
        groove.radius_mm.append(self.head_mm)


def wanted_mm(layer: Layer) -> dict[int, complex]:
    """Return the wanted place of each cut position on the work [mm], calculated from the keys of the layer."""
    if layer.at_mm:
        places = np.array([complex(*place) for place in layer.at_mm])
    else:
        k = np.arange(layer.count)
        start, spread = math.radians(layer.start_deg), math.radians(layer.spread_deg)
        ring = (layer.offset_mm + layer.offset_step_mm * k) * np.exp(1j * (start + spread * k / layer.count))
        rings = np.arange(layer.repeat)
        turned = math.radians(layer.repeat_start_deg) + 2 * np.pi * rings / layer.repeat
        centres = layer.repeat_offset_mm * np.exp(1j * turned) if layer.repeat > 1 else np.array([0])
        places = (complex(*layer.about_mm) + centres[:, None] + ring[None, :]).ravel()
    return {number: complex(place) for number, place in enumerate(places, start=1) if number not in layer.skip}


def can_be_reached(job: PatternJob, place: complex) -> bool:
    """Return whether a place is at least as far from the table's axis as the height error."""
    centre = job.eccentricity_mm * cmath.exp(1j * math.radians(job.eccentric_at_deg))
    return abs(place + centre) > job.height_error_mm


WIDE, ACUTE, NARROW = Cutter("wide", 120.0), Cutter("acute", 60.0), Cutter("narrow", 40.0)


@st.composite
def layers(draw: st.DrawFn, number: int) -> Layer:
    """Draw a random layer of any shape."""
    shape = draw(st.sampled_from(("circles", "dots", "slots", "arcs")))
    count = draw(st.integers(1, 5))
    depths = tuple(draw(st.lists(st.sampled_from((0.3, 0.6, 1.0)), min_size=1, max_size=3)))
    common = {
        "number": number,
        "cutter": draw(st.sampled_from((WIDE, ACUTE, NARROW))),
        "count": count,
        "start_deg": Fraction(draw(st.integers(0, 359))),
        "offset_mm": draw(st.integers(5, 40)) / 1.0,
        "depths_mm": depths,
        "cut_mm": draw(st.sampled_from((None, 0.3))),
        "skip": frozenset({2}) if count > 2 and draw(st.booleans()) else frozenset(),
    }
    if shape == "circles":
        common |= {"circle_radius_mm": draw(st.integers(3, 15)) / 1.0}
    if shape == "slots":
        return Layer(shape="slots", to_offset_mm=draw(st.integers(5, 40)) / 1.0 + 0.5, **common)
    if shape == "arcs":
        common["through_deg"] = Fraction(draw(st.sampled_from((30, 200, 360))))
    kind = draw(st.sampled_from(("ring", "about", "rings", "free", "spiral", "all at one")))
    if kind == "about":
        common["about_mm"] = (draw(st.integers(-9, 9)) / 1.0, draw(st.integers(-9, 9)) / 1.0)
    if kind == "rings":
        common |= {"repeat": 2, "repeat_offset_mm": 12.0}
    if kind == "free":
        at = [(float(draw(st.integers(-30, 30))), float(draw(st.integers(1, 30)))) for _ in range(count)]
        common |= {"at_mm": tuple(at)}
    if kind == "spiral":
        common |= {"spread_deg": Fraction(1080), "offset_step_mm": 0.7}
    if kind == "all at one":
        common |= {"spread_deg": Fraction(0), "offset_step_mm": 1.5}
    return Layer(shape=shape, **common)


@st.composite
def jobs(draw: st.DrawFn, most_layers: int = 3) -> PatternJob:
    """Draw a random pattern with any layers."""
    count = draw(st.integers(1, most_layers))
    corrects = draw(st.booleans())
    return PatternJob(
        layers=tuple(draw(layers(number)) for number in range(1, count + 1)),
        order=draw(st.sampled_from(("round", "position"))),
        layer_order=draw(st.sampled_from(("wide first", "fewest changes", "written"))),
        means=draw(st.sampled_from(("dial", "dial", "plate"))),
        is_far=draw(st.booleans()),
        correct=corrects,
        height_error_mm=draw(st.sampled_from((0.0, 0.4))) if corrects else 0.0,
        eccentricity_mm=draw(st.sampled_from((0.0, 0.7))) if corrects else 0.0,
        eccentric_at_deg=40.0,
    )
