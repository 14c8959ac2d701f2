"""The form for holes on a circle: coordinates for a mill's digital readout, and the chord for checking the holes."""

from collections.abc import Mapping, Sequence
from typing import Any

from textual.widget import Widget
from textual.widgets import Static

from core.operations.holes import CENTRE, HOLES_FORM, BoltCircle, hole_row
from core.operations.registry import picture_from
from tui.operation.circle_sketch import CircleSketch
from tui.operation.declared import DeclaredScreen
from tui.operation.form import OperationForm
from tui.operation.pictured import PicturedScreen
from tui.operation.results import FIELDS, FIGURES, PICTURES, STEPS
from tui.widgets.column_table import Column, ColumnTable

HOLES = "holes"
_COLUMNS = (
    Column("hole", 5),
    Column("x", 14),
    Column("y", 14),
    Column("angle", 12, rank=1),
)
_LEGEND = "Seen from above: x to the right, y away from you. + is the centre; 1 is the first hole."


class HolesForm(OperationForm):
    """The fields of a `holes` operation. Two fields, x and y, hold the centre."""

    def table(self) -> dict[str, Any]:
        """Return the operation's keys and values. If x or y is typed, the key `centre` holds both."""
        table = super().table()
        places = [table.pop(key, "") for key in CENTRE]
        return {**table, "centre": [place or "0 mm" for place in places]} if any(places) else table


class HolesScreen(PicturedScreen, DeclaredScreen):
    """The form for a `holes` operation, with a picture of the holes and a page of their coordinates."""

    PAGES = (FIELDS, FIGURES, HOLES, STEPS, PICTURES)

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form.

        `parameters`: a `holes` operation's keys and values, which fill the fields; None for a new operation.
        """
        super().__init__("holes", HOLES_FORM, parameters)

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the form's fields, filled in from an operation's keys and values. Two fields hold the centre."""
        centre = table.get("centre")
        if isinstance(centre, list):
            table = {**table, **dict(zip(CENTRE, centre, strict=False))}
        return HolesForm(self.rows(), table)

    def tables(self) -> Sequence[ColumnTable]:
        """Return the list of coordinates, which has a page of its own."""
        return (ColumnTable(_COLUMNS, id=HOLES),)

    def pictures(self) -> Sequence[Widget]:
        """Return the picture of the holes to scale, and its legend."""
        return (CircleSketch(id="circle"), Static(_LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Show the picture and the coordinates of the present plan. Clear both if there is no plan."""
        circle, lathe = self.entered if self.plan is not None else None, self.context.lathe
        table = self.query_one(ColumnTable)
        if isinstance(circle, BoltCircle):
            self.show_picture(picture_from(self.kind, circle, lathe))
            table.show_rows(circle.count, lambda index: hole_row(circle, index, lathe))
        else:
            self.show_picture(None)
            table.show_rows(0, lambda index: ())
