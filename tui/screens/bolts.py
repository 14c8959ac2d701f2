"""The screen of holes on a circle: where they lie for a mill's readout, and the chord to check them by."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from textual.widget import Widget
from textual.widgets import Static

from core.bolts import BoltCircle, hole_row, over_and_between
from core.form import MATERIAL, Choice, Entry, Figure, Row
from core.indexing.angle_text import dms_text
from core.pictures import picture_from
from core.plan import Plan
from tui.screens.operation import OperationScreen
from tui.widgets.circle_sketch import CircleSketch
from tui.widgets.column_table import Column, ColumnTable
from tui.widgets.operation_form import OperationForm
from tui.widgets.operation_results import FIELDS, FIGURES, PICTURES, STEPS

HOLES = "holes"
_CENTRE = ("centre_x", "centre_y")
_COLUMNS = (
    Column("hole", 5),
    Column("x", 14),
    Column("y", 14),
    Column("angle", 12, rank=1),
)
_LEGEND = "Seen from above: x to the right, y away from you. + is the centre; 1 is the first hole."


class BoltsForm(OperationForm):
    """Asks for the two places of the centre apart."""

    def table(self) -> dict[str, Any]:
        """Return the operation's table; the centre as a pair, where either of its places was typed."""
        table = super().table()
        places = [table.pop(key, "") for key in _CENTRE]
        return {**table, "centre": [place or "0 mm" for place in places]} if any(places) else table


class BoltsScreen(OperationScreen):
    """Makes up one `bolts` operation."""

    HELP = (
        "The holes are counted from the first, at the start angle: 0 is to the right (+x), 90 is away from you (+y). "
        "Where a drawing counts y downwards, type it so: the angles then run clockwise.\n\n"
        "The centre is counted from your datum, where both readouts are set to 0. Lathe files that describe a mill "
        "have dials named x and y; else readouts with thousandths of a millimetre are taken.\n\n"
        "Spot the first two holes and measure the chord between them before anything is drilled.\n\n"
        "A bare number counts in the unit behind its field. + and - choose among words."
    )
    PAGES = (FIELDS, FIGURES, HOLES, STEPS, PICTURES)

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """`parameters`: the table of a bolts operation to begin with."""
        super().__init__("bolts", parameters)

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the fields, the centre of the table in two of them."""
        centre = table.get("centre")
        if isinstance(centre, list):
            table = {**table, **dict(zip(_CENTRE, centre, strict=False))}
        return BoltsForm(self.rows(), table)

    def rows(self) -> Sequence[Row]:
        """Return the questions in the order in which a turner asks."""
        unit = self.halfnut.lathe.unit
        return (
            "Which holes",
            Entry(key="count", label="Holes", whole=True, required=True),
            Entry(key="circle", label="Circle, diameter", unit=unit, required=True),
            Entry(key="start", label="First hole at", unit="deg", hint="(0, to the right)"),
            Choice(key="sense", label="On from there", options=(("towards +y", None), ("towards -y", "falling"))),
            Entry(key="drill", label="Drill", unit=unit, hint="(not given)"),
            "Where the centre lies, from your datum",
            Entry(key="centre_x", label="Centre, x", unit=unit, hint="(0)"),
            Entry(key="centre_y", label="Centre, y", unit=unit, hint="(0)"),
            MATERIAL,
        )

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return nothing: all fields apply."""
        return ()

    def suggested_name(self) -> str:
        """Return how many holes there are, and on which circle."""
        if not isinstance(self.found, BoltCircle):
            return self.title or "Holes on a circle"
        return f"{self.found.count} holes on {self.halfnut.lathe.say(self.found.circle_mm)}"

    def summary(self, plan: Plan) -> str:
        """Return the chord, and where the first hole lies."""
        say = self.halfnut.lathe.say
        row = hole_row(self.found, 0, self.halfnut.lathe)
        return f"Chord {say(plan.figures['chord_mm'])}; hole 1 at x {row.x}, y {row.y}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the circle, the chord to check by, and where the centre is."""
        found, say = self.found, self.halfnut.lathe.say
        way = "-y" if found.falling else "+y"
        yield Figure("Holes", str(found.count), f"{dms_text(found.step_deg)} apart, on towards {way}")
        yield Figure("Circle", say(found.circle_mm), "diameter through the centres")
        yield Figure("First hole at", dms_text(found.start_deg), "from +x towards +y")
        yield Figure("Centre", f"x {say(found.centre_mm[0])}, y {say(found.centre_mm[1])}", "from the datum")
        yield Figure("Chord to check by", say(found.chord_mm), "between neighbours, centre to centre")
        if found.drill_mm is not None:
            yield Figure("Drill", say(found.drill_mm))
            over_mm, between_mm = over_and_between(found)
            yield Figure("Over two pins", say(over_mm), "of the drill's size, in neighbouring holes")
            if between_mm > 0:
                yield Figure("Between two pins", say(between_mm))

    def tables(self) -> Sequence[ColumnTable]:
        """Return the table of coordinates."""
        return (ColumnTable(_COLUMNS, id=HOLES),)

    def pictures(self) -> Sequence[Widget]:
        """Return the holes to scale."""
        return (CircleSketch(id="circle"), Static(_LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Show picture and coordinates of what is planned now."""
        found, lathe = self.found if self.plan is not None else None, self.halfnut.lathe
        table = self.query_one(ColumnTable)
        if isinstance(found, BoltCircle):
            self.query_one(CircleSketch).show_positions(picture_from(found))
            table.show_rows(found.count, lambda index: hole_row(found, index, lathe))
        else:
            self.query_one(CircleSketch).show_positions(None)
            table.show_rows(0, lambda index: ())
