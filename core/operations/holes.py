"""Holes on a circle: their coordinates on the readouts of a mill, and the chord with which the user checks them.

x points right and y away from the operator. Angles count from +x towards +y. If the drawing counts y downwards, enter y
downwards too. The angles then run clockwise.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, NamedTuple

from core import safety
from core.cutting import Progress
from core.inputs import Edited, Moved, PickedUp, RunInput, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.dividing.division import even_targets_deg
from core.operations.dividing.job import SENSES, read_start
from core.operations.dividing.steps import open_numbers, open_steps
from core.operations.form import MATERIAL, Choice, Entry, Figure, Form, Row
from core.operations.operation import Figures, Needs, Operation
from core.plan import PatternPosition, Plan, Step, StepCount, numbered
from core.values.angles import dms_text
from core.values.dials import Dial
from core.values.fields import Table

if TYPE_CHECKING:
    from core.operations.patterns.picture import PatternPicture

MOST_HOLES = 1_000
CENTRE = ("centre_x", "centre_y")
"""The two fields of the centre's coordinates. The job file has one key for both."""
READOUT_MARK_MM = Fraction(1, 1000)
"""The last digit of a readout [mm] without dials "x" and "y" in the lathe file. Common practice, no source."""
_DATUM, _CHORD, _FIRST_HOLE = 1, 2, 3


@dataclass(frozen=True, kw_only=True)
class BoltCircle:
    """A circle of holes. Lengths are in mm. Angles are exact fractions of a degree."""

    count: int
    circle_mm: float
    """Diameter of the circle through the centres of the holes [mm]."""
    start_deg: Fraction = Fraction(0)
    centre_mm: tuple[float, float] = (0.0, 0.0)
    falling: bool = False
    """True if the holes are numbered from +x towards -y."""
    drill_mm: float | None = None

    @property
    def angles_deg(self) -> tuple[Fraction, ...]:
        """The exact angle of each hole, counted from +x [deg]."""
        return even_targets_deg(self.count, self.start_deg, falling=self.falling)

    @property
    def step_deg(self) -> Fraction:
        """The angle between neighbouring holes [deg], exact and never negative."""
        return Fraction(360, self.count)

    @property
    def holes_mm(self) -> list[tuple[float, float]]:
        """The centre of each hole as (x, y) [mm], in the order of the holes' numbers."""
        x_mm, y_mm = self.centre_mm
        radius = self.circle_mm / 2
        unit = [_unit_vector(angle) for angle in self.angles_deg]
        return [(x_mm + radius * cosine, y_mm + radius * sine) for cosine, sine in unit]

    @property
    def chord_mm(self) -> float:
        """The distance between the centres of neighbouring holes [mm]."""
        return self.circle_mm * math.sin(math.pi / self.count)


def _unit_vector(angle_deg: Fraction) -> tuple[float, float]:
    """Return the cosine and the sine of an angle [deg].

    Both are exact at 0, 90, 180 and 270 deg, where one coordinate of a hole equals that of the circle's centre.
    """
    quarter, remainder = divmod(angle_deg % 360, 90)
    cosine, sine = (
        (1.0, 0.0) if remainder == 0 else (math.cos(math.radians(remainder)), math.sin(math.radians(remainder)))
    )
    for _ in range(int(quarter)):
        cosine, sine = -sine, cosine
    return cosine + 0.0, sine + 0.0


def read_holes(table: Table, lathe: Lathe) -> BoltCircle | None:
    """Return the circle of a `holes` operation; None if an entry is wrong. Errors are added to `table.problems`."""
    before = len(table.problems)
    count = table.whole("count", required=True, least=2, most=MOST_HOLES)
    circle = table.length("circle", required=True, above=0)
    start = read_start(table)
    sense = table.word("sense", SENSES)
    centre = table.quantities("centre", "length", least=2, most=2)
    drill = table.length("drill", above=0)
    if len(table.problems) > before or count is None or circle is None:
        return None
    return BoltCircle(
        count=count,
        circle_mm=circle,
        start_deg=start,
        centre_mm=(float(centre[0].value), float(centre[1].value)) if centre else (0.0, 0.0),
        falling=sense == "falling",
        drill_mm=drill,
    )


def count_holes(holes: BoltCircle, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a circle of holes takes: one for each hole, and three for setting up and checking."""
    return StepCount(holes.count + _FIRST_HOLE)


def plan_holes(holes: BoltCircle, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan for a circle of holes: find the datum, check the chord, drill each hole, and check the result."""
    return Plan(
        figures={
            "holes": [{"x_mm": x_mm, "y_mm": y_mm} for x_mm, y_mm in holes.holes_mm],
            "chord_mm": holes.chord_mm,
        },
        cautions=tuple(_cautions(holes, lathe)),
        general=safety.general(material),
        movements=("Bring both readouts to the numbers shown, lock the slides", "Drill", "Drill clear", "Then the key"),
        steps=numbered([*_steps(holes, lathe), _last_check(holes, lathe)]),
    )


def replan_holes(
    holes: BoltCircle, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining ones. Raises PlanError for an input that a `holes` operation cannot
    use.

    After a move, the user first finds the datum again. After an edit of the job, all remaining steps are planned again.
    """
    is_open = open_numbers(progress.open_steps)
    steps = _steps(holes, lathe)
    match entered:
        case Moved() | PickedUp():
            datum = replace(steps[0], text=f"Isolate the drive. {steps[0].text}")
            remaining = [datum, *open_steps(steps[1:], is_open)]
        case Edited():
            first = min(is_open, default=len(steps) + 1)
            remaining = open_steps(steps, range(first, len(steps) + 1))
        case _:
            raise nothing_planned_from(entered)
    return numbered([*remaining, _last_check(holes, lathe)], progress.next_id)


def readouts(lathe: Lathe) -> tuple[Dial, Dial]:
    """Return the dials "x" and "y" of the lathe file. A missing one is replaced by a readout that shows 0.001 mm."""
    dials = [lathe.dials.get(name) or Dial(name=name, unit="mm", graduation=READOUT_MARK_MM) for name in ("x", "y")]
    return dials[0], dials[1]


def _steps(holes: BoltCircle, lathe: Lathe) -> list[Step]:
    dial_x, dial_y = readouts(lathe)
    x_mm, y_mm = holes.centre_mm
    datum = Step(
        action="set",
        title="Find the datum",
        text=f"Find the datum and set both readouts to 0 there. The circle's centre is at x {lathe.length_text(x_mm)}, "
        f"y {lathe.length_text(y_mm)}. Always approach a reading from the same side",
        settings=(dial_x.at_marks(0), dial_y.at_marks(0)),
        zeroed_dials=(dial_x.name, dial_y.name),
        place=PatternPosition(_DATUM),
    )
    scribe = Step(
        action="check",
        title="Spot two holes and measure",
        text=f"Spot the first two holes, {_at(holes, 0, lathe)} and {_at(holes, 1, lathe)}. {safety.STOP_FIRST} "
        f"Measure between their centres. Wanted: {lathe.length_text(holes.chord_mm)}"
        f"{_over_pins(holes, lathe)}. Drill only after this check",
        cautions=(safety.CLAMP,),
        place=PatternPosition(_CHORD),
    )
    return [datum, scribe, *_hole_steps(holes, (dial_x, dial_y))]


def _at(holes: BoltCircle, index: int, lathe: Lathe) -> str:
    row = hole_row(holes, index, lathe)
    return f"x {row.x} y {row.y}"


class HoleRow(NamedTuple):
    """The coordinates of one hole as texts, in the form in which the readouts show them."""

    number: str
    x: str
    y: str
    angle: str


def hole_row(holes: BoltCircle, index: int, lathe: Lathe) -> HoleRow:
    """Return the coordinates of one hole as texts, in the form in which the readouts show them.

    `index`: the index of the hole, from 0.
    """
    dial_x, dial_y = readouts(lathe)
    x_mm, y_mm = holes.holes_mm[index]
    x, y = dial_x.setting_text(dial_x.at_travel(x_mm)), dial_y.setting_text(dial_y.at_travel(y_mm))
    return HoleRow(str(index + 1), x, y, dms_text(holes.angles_deg[index] % 360, Fraction(1, 3600)))


def over_and_between(holes: BoltCircle) -> tuple[float, float]:
    """Return the size over two pins in neighbouring holes, and the gap between these pins [mm].

    The pins are as thick as the drill. The gap is 0 or less if the holes touch or overlap. If the drill is not known,
    both results are the chord.
    """
    drill_mm = holes.drill_mm or 0.0
    return holes.chord_mm + drill_mm, holes.chord_mm - drill_mm


def _over_pins(holes: BoltCircle, lathe: Lathe) -> str:
    if holes.drill_mm is None or holes.drill_mm >= holes.chord_mm:
        return ""
    outside, inside = over_and_between(holes)
    return (
        f" (once drilled, {lathe.length_text(outside)} over and {lathe.length_text(inside)} between two pins of the "
        "drill's size)"
    )


def _hole_steps(holes: BoltCircle, dials: Sequence[Dial]) -> list[Step]:
    steps = []
    for number, (angle, centre) in enumerate(zip(holes.angles_deg, holes.holes_mm, strict=True), start=1):
        settings = tuple(dial.at_travel(place) for dial, place in zip(dials, centre, strict=True))
        where = ", ".join(
            f"{dial.name} {dial.setting_text(setting)}" for dial, setting in zip(dials, settings, strict=True)
        )
        steps.append(
            Step(
                action="index",
                title=f"Hole {number} of {holes.count}",
                text=f"Hole {number} of {holes.count}: {where}",
                settings=settings,
                place=PatternPosition(_FIRST_HOLE + number - 1, position=number, of=holes.count),
                extra={"angle_deg": float(angle), "x_mm": centre[0], "y_mm": centre[1]},
            )
        )
    return steps


def _last_check(holes: BoltCircle, lathe: Lathe) -> Step:
    return Step(
        action="check",
        title="Count the holes",
        text=f"{safety.STOP_FIRST} Count the holes: there must be {holes.count}. The last and the first hole must also "
        f"be {lathe.length_text(holes.chord_mm)} apart",
    )


def _cautions(holes: BoltCircle, lathe: Lathe) -> list[str]:
    if holes.drill_mm is not None and holes.drill_mm >= holes.chord_mm:
        return [
            f"The holes overlap. The drill is {lathe.length_text(holes.drill_mm)}, but "
            f"the centres are only {lathe.length_text(holes.chord_mm)} apart."
        ]
    return []


def _needs(holes: BoltCircle, lathe: Lathe, figures: Figures) -> Needs:
    tool = "" if holes.drill_mm is None else f"centre drill, then a drill of {lathe.length_text(holes.drill_mm)}"
    return Needs(place="mill", tool=tool)


def _picture(holes: BoltCircle, lathe: Lathe) -> "PatternPicture":
    from core.operations.patterns.picture import CutPicture, PatternPicture, PatternPlace

    radius_mm, hole_mm = holes.circle_mm / 2, (holes.drill_mm or holes.circle_mm / 20) / 2
    cuts = tuple(
        CutPicture(PatternPlace(1, number), "circle", (radius_mm * x, radius_mm * y), radius_mm=hole_mm)
        for number, (x, y) in enumerate(map(_unit_vector, holes.angles_deg), start=1)
    )
    return PatternPicture(extent_mm=radius_mm + hole_mm, cuts=cuts, rim_mm=radius_mm)


# The form.


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    unit = lathe.unit
    return (
        "Which holes",
        Entry(key="count", label="Holes", whole=True, required=True),
        Entry(key="circle", label="Circle, diameter", unit=unit, required=True),
        Entry(key="start", label="First hole at", unit="deg", hint="(0, to the right)"),
        Choice(key="sense", label="Direction", options=(("towards +y", None), ("towards -y", "falling"))),
        Entry(key="drill", label="Drill", unit=unit, hint="(not set)"),
        "Position of the centre, from your datum",
        *(Entry(key=key, label=f"Centre, {key[-1]}", unit=unit, hint="(0)") for key in CENTRE),
        MATERIAL,
    )


def _name(holes: BoltCircle, lathe: Lathe) -> str:
    return f"{holes.count} holes on {lathe.length_text(holes.circle_mm)}"


def _summary(holes: BoltCircle, lathe: Lathe, plan: Plan) -> str:
    row = hole_row(holes, 0, lathe)
    return f"Chord {lathe.length_text(holes.chord_mm)}; hole 1 at x {row.x}, y {row.y}."


def _figures(holes: BoltCircle, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    length_text, direction = lathe.length_text, "-y" if holes.falling else "+y"
    yield Figure("Holes", str(holes.count), f"{dms_text(holes.step_deg)} apart, towards {direction}")
    yield Figure("Circle", length_text(holes.circle_mm), "diameter through the centres")
    yield Figure("First hole at", dms_text(holes.start_deg), "from +x towards +y")
    yield Figure(
        "Centre", f"x {length_text(holes.centre_mm[0])}, y {length_text(holes.centre_mm[1])}", "from the datum"
    )
    yield Figure("Chord for checking", length_text(holes.chord_mm), "between neighbouring holes, centre to centre")
    if holes.drill_mm is not None:
        yield Figure("Drill", length_text(holes.drill_mm))
        over_mm, between_mm = over_and_between(holes)
        yield Figure("Over two pins", length_text(over_mm), "of the drill's size, in neighbouring holes")
        if between_mm > 0:
            yield Figure("Between two pins", length_text(between_mm))


_HELP = (
    "This form works out what a mill's two readouts must show for each hole on a circle. Enter the circle's "
    "diameter, the number of holes and the position of the centre. Press F6 for the coordinates, F5 to start, F4 to "
    "save.\n\n"
    "The first hole is at the start angle: 0 is to the right (+x), 90 is away from you (+y). If your drawing counts "
    "y downwards, enter the centre's y in the same way. The angles then run clockwise.\n\n"
    "The centre is measured from your datum, where you set both readouts to 0. A lathe file for a mill has dials "
    "named x and y. Without these dials, the form assumes readouts that show 0.001 mm.\n\n"
    "Before you drill, spot the first two holes and measure the chord, which is the distance between their centres."
)
HOLES_FORM = Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP)
HOLES = Operation(
    read=read_holes,
    steps=count_holes,
    plan=plan_holes,
    replan=replan_holes,
    form=HOLES_FORM,
    needs=_needs,
    pattern=_picture,
)
