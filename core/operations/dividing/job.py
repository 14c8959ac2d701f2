"""Reads a `divide` operation from a job file or a form."""

from dataclasses import dataclass
from fractions import Fraction

from core.lathe.lathe import SET_UP, Lathe, RotaryTable, how_to_add
from core.operations.dividing.depth import ORDERS, Order
from core.operations.dividing.division import (
    MEANS,
    MOST_DIVISIONS,
    Dividing,
    Means,
    divide,
    even_targets_deg,
    listed_targets_deg,
    repeated_deg,
    usual_means,
)
from core.values.fields import Table
from core.values.plain_text import sentence
from core.values.quantities import number_text

SENSES = ("rising", "falling")


@dataclass(frozen=True, kw_only=True)
class DepthWanted:
    """The depth to cut at every position, the deepest allowed cut, and the dial that sets the depth. Lengths
    are in mm.
    """

    depth_mm: float
    cut_mm: float
    dial: str


@dataclass(frozen=True, kw_only=True)
class DivideJob:
    """The checked parameters of a `divide` operation: positions in a full turn, and the depth at each."""

    divisions: int | None
    """The number of even divisions; None if the angles are listed."""
    angles_deg: tuple[Fraction, ...] = ()
    start_deg: Fraction = Fraction(0)
    falling: bool = False
    means: Means = "dial"
    radius_mm: float | None = None
    depth: DepthWanted | None = None
    order: Order = "round"

    @property
    def targets_deg(self) -> tuple[Fraction, ...]:
        """The exact angle of every position, counted from the table's zero [deg]."""
        if self.divisions is not None:
            return even_targets_deg(self.divisions, self.start_deg, falling=self.falling)
        return listed_targets_deg(self.angles_deg, self.start_deg, falling=self.falling)

    @property
    def targets_by_layer_deg(self) -> tuple[tuple[Fraction, ...], ...]:
        """The exact angles of all positions [deg], as a single layer, because a `divide` operation has only one."""
        return (self.targets_deg,)

    def wanted_depth_mm(self, layer: int | None, position: int | None = None) -> float | None:
        """Return the final depth wanted at every position [mm]; None if nothing is cut.

        `layer` and `position` make no difference, because a `divide` operation has the same depth everywhere.
        """
        return None if self.depth is None else self.depth.depth_mm

    def divided(self, table: RotaryTable) -> Dividing:
        """Return the setting of every position on a rotary table. Raises PlanError if the table cannot be set to a
        position.
        """
        wanted = f"{self.divisions} divisions" if self.divisions else f"{len(self.angles_deg)} angles"
        return divide(table, self.means, self.targets_deg, falling=self.falling, wanted=wanted)


def read_divide(table: Table, lathe: Lathe) -> DivideJob | None:
    """Return the checked parameters of a `divide` operation; None if an entry is wrong. Errors are added to
    `table.problems`.
    """
    before = len(table.problems)
    divisions = table.whole("divisions", least=2, most=MOST_DIVISIONS)
    angles = _angles(table)
    if not table.has("angles") and not table.has("divisions"):
        table.problem("divisions", "No positions are entered. Enter divisions, such as 7, or angles.")
    elif table.has("angles") and table.has("divisions"):
        table.problem("angles", "Both divisions and angles are entered. Keep only one of the two.")
    start = read_start(table)
    sense = table.word("sense", SENSES)
    means = read_means(table, lathe, rotary_table(table, lathe, "with"))
    radius = table.length("radius", above=0)
    depth = read_depth(table, lathe)
    order = table.word("order", ORDERS)
    if len(table.problems) > before or means is None:
        return None
    return DivideJob(
        divisions=divisions,
        angles_deg=angles,
        start_deg=start,
        falling=sense == "falling",
        means=means,
        radius_mm=radius,
        depth=depth,
        order="position" if order == "position" else "round",
    )


def read_start(table: Table) -> Fraction:
    """Return the angle of the first position from the table's zero [deg]; 0 if no start angle is entered."""
    start = table.quantity("start", "angle", least=-360, most=360)
    return Fraction(0) if start is None else start.value


def _angles(table: Table) -> tuple[Fraction, ...]:
    angles = tuple(angle.value for angle in table.quantities("angles", "angle", most=MOST_DIVISIONS))
    for angle in angles:
        if not -360 <= angle <= 360:
            table.problem(
                "angles", f"{number_text(angle, 4)} deg is more than a turn. Enter angles from -360 to 360 deg."
            )
            return ()
    twice = repeated_deg(angles)
    if twice is not None:
        table.problem(
            "angles",
            f"{number_text(twice, 4)} deg is already in the list. Enter each position only once.",
        )
        return ()
    return angles


def rotary_table(table: Table, lathe: Lathe, key: str) -> RotaryTable | None:
    """Return the lathe's rotary table. If the lathe has none, add a problem to `table` under `key` and return None."""
    if lathe.rotary_table is None:
        table.problem(key, f"This lathe ({lathe.name}) has no rotary table. {sentence(how_to_add('[rotary_table]'))}")
    return lathe.rotary_table


def read_means(table: Table, lathe: Lathe, rotary: RotaryTable | None) -> Means | None:
    """Return the means of setting the rotary table: dial, plate or notches.

    Return None if an entry is wrong, with a problem added to `table`, or if there is no rotary table.
    """
    named = table.word("with", MEANS)
    if rotary is None:
        return None
    has = {"dial": rotary.dial_graduation_deg is not None, "plate": rotary.plates, "direct": rotary.direct}
    can = [means for means in MEANS if has[means]]
    if not can:
        table.problem(
            "with",
            "Only the ratio of the rotary table is known. Enter its dial marks, dividing plates or notches "
            f'in {SET_UP}, Rotary table. In the lathe file the keys are "dial_graduation", "plates" and "direct".',
        )
        return None
    if named is not None and named not in can:
        accepted = " or ".join(f'"{means}"' for means in can)
        table.problem("with", f'This rotary table has no "{named}". Enter {accepted}.')
        return None
    return next((means for means in MEANS if means == named), usual_means(rotary))


def read_depth(table: Table, lathe: Lathe) -> DepthWanted | None:
    """Return the depth, the deepest cut and the depth dial; None if no depth is entered or an entry is wrong."""
    depth = table.length("depth", above=0)
    cut = table.length("cut", above=0)
    dial = read_depth_dial(table, lathe)
    if not table.has("depth"):
        for key in ("cut", "depth_dial"):
            if table.has(key):
                table.problem(key, "This entry has no use without a depth. Enter a depth too, or remove this entry.")
        return None
    if not table.has("depth_dial"):
        table.problem("depth_dial", "No dial is entered for the depth. Enter one, such as carriage.")
    if depth is None or dial is None:
        return None
    return DepthWanted(depth_mm=depth, cut_mm=depth if cut is None else cut, dial=dial)


def read_depth_dial(table: Table, lathe: Lathe) -> str | None:
    """Return the name of the dial that sets the depth; None if the table names no dial, or one that the lathe lacks."""
    dial = table.text("depth_dial", longest=40)
    if dial is not None and dial not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem(
            "depth_dial",
            f'This lathe ({lathe.name}) has no dial "{dial}". Enter one of its dials: {known}.',
        )
        return None
    return dial
