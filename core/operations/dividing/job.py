"""A `divide` operation as its table says it."""

from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import SET_UP, Lathe, RotaryTable, how_to_add
from core.operations.dividing.depth import ORDERS, Order
from core.operations.dividing.division import WAYS, Dividing, Way, divide, usual_way
from core.operations.dividing.targets import MOST_DIVISIONS, even_targets_deg, listed_targets_deg, repeated_deg
from core.values.fields import Table
from core.values.quantities import number_text

SENSES = ("rising", "falling")


class DepthWanted(NamedTuple):
    """Depth at every position, in passes. Lengths in mm."""

    depth_mm: float
    cut_mm: float
    dial: str


class DivideJob(NamedTuple):
    """Positions round the circle, and what is cut at each."""

    divisions: int | None
    """None where the angles are listed."""
    angles_deg: tuple[Fraction, ...] = ()
    start_deg: Fraction = Fraction(0)
    falling: bool = False
    way: Way = "dial"
    radius_mm: float | None = None
    depth: DepthWanted | None = None
    order: Order = "round"

    @property
    def targets_deg(self) -> tuple[Fraction, ...]:
        """Every position from the table's zero, exact [deg]."""
        if self.divisions is not None:
            return even_targets_deg(self.divisions, self.start_deg, falling=self.falling)
        return listed_targets_deg(self.angles_deg, self.start_deg, falling=self.falling)

    @property
    def patterns_deg(self) -> tuple[tuple[Fraction, ...], ...]:
        """The only pattern of positions."""
        return (self.targets_deg,)

    def divided(self, table: RotaryTable) -> Dividing:
        """Return every position on a table; raises PlanError."""
        wanted = f"{self.divisions} divisions" if self.divisions else f"{len(self.angles_deg)} angles"
        return divide(table, self.way, self.targets_deg, falling=self.falling, wanted=wanted)


def read_divide(table: Table, lathe: Lathe) -> DivideJob | None:
    """Read a `divide` operation; None where a problem was noted."""
    before = len(table.problems)
    divisions = table.whole("divisions", least=2, most=MOST_DIVISIONS)
    angles = _angles(table)
    if not table.has("angles") and not table.has("divisions"):
        table.problem("divisions", "is missing; wanted is divisions, or angles")
    elif table.has("angles") and table.has("divisions"):
        table.problem("angles", "is given beside divisions; accepted is one of the two")
    start = read_start(table)
    sense = table.word("sense", SENSES)
    way = read_way(table, lathe, rotary_table(table, lathe, "with"))
    radius = table.length("radius", above=0)
    depth = read_depth(table, lathe)
    order = table.word("order", ORDERS)
    if len(table.problems) > before or way is None:
        return None
    return DivideJob(
        divisions=divisions,
        angles_deg=angles,
        start_deg=start,
        falling=sense == "falling",
        way=way,
        radius_mm=radius,
        depth=depth,
        order="position" if order == "position" else "round",
    )


def read_start(table: Table) -> Fraction:
    """Read the start angle, 0 where it is not given [deg]."""
    start = table.quantity("start", "angle", least=-360, most=360)
    return Fraction(0) if start is None else start.value


def _angles(table: Table) -> tuple[Fraction, ...]:
    angles = tuple(angle.value for angle in table.quantities("angles", "angle", most=MOST_DIVISIONS))
    for angle in angles:
        if not -360 <= angle <= 360:
            table.problem("angles", f"found {number_text(angle, 4)} deg; accepted is from -360 to 360 deg")
            return ()
    twice = repeated_deg(angles)
    if twice is not None:
        table.problem(
            "angles",
            f"found {number_text(twice, 4)} deg, a place that stands in the list already; accepted is every place once",
        )
        return ()
    return angles


def rotary_table(table: Table, lathe: Lathe, key: str) -> RotaryTable | None:
    """Return the lathe's rotary table, or note that it has none."""
    if lathe.rotary_table is None:
        table.problem(
            key, f"needs a rotary table, which this lathe ({lathe.name}) has not: {how_to_add('[rotary_table]')}"
        )
    return lathe.rotary_table


def read_way(table: Table, lathe: Lathe, rotary: RotaryTable | None) -> Way | None:
    """Read by what the table is set; None where the lathe has none, or not the means, which is then noted."""
    named = table.word("with", WAYS)
    if rotary is None:
        return None
    has = {"dial": rotary.dial_graduation_deg is not None, "plate": rotary.plates, "direct": rotary.direct}
    can = [way for way in WAYS if has[way]]
    if not can:
        table.problem(
            "with",
            "only the ratio of the rotary table is known. Say what sets it, the marks of its dial, dividing plates or "
            f"notches: in {SET_UP}, Rotary table; or in the lathe file as dial_graduation, plates or direct",
        )
        return None
    if named is not None and named not in can:
        accepted = " or ".join(f'"{way}"' for way in can)
        table.problem("with", f'found "{named}", which this rotary table has not; accepted is {accepted}')
        return None
    return next((way for way in WAYS if way == named), usual_way(rotary))


def read_depth(table: Table, lathe: Lathe) -> DepthWanted | None:
    """Read depth, cut and depth_dial; None where there is no depth, or a problem was noted."""
    depth = table.length("depth", above=0)
    cut = table.length("cut", above=0)
    dial = read_depth_dial(table, lathe)
    if not table.has("depth"):
        for key in ("cut", "depth_dial"):
            if table.has(key):
                table.problem(key, "is given without depth; accepted is with it")
        return None
    if not table.has("depth_dial"):
        table.problem("depth_dial", "is missing; wanted with depth is the dial it is set on")
    if depth is None or dial is None:
        return None
    return DepthWanted(depth_mm=depth, cut_mm=depth if cut is None else cut, dial=dial)


def read_depth_dial(table: Table, lathe: Lathe) -> str | None:
    """Read which dial sets the depth; None where it is not given or this lathe has not got it."""
    dial = table.text("depth_dial", longest=40)
    if dial is not None and dial not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem(
            "depth_dial",
            f'found "{dial}", which this lathe ({lathe.name}) has not; accepted are its dials: {known}',
        )
        return None
    return dial
