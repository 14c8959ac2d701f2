"""The form for dividing: the positions, the method of setting the rotary table, and the cut at each position."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any, ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from core.lathe.lathe import dial_words
from core.operations.dividing.division import Dividing
from core.operations.dividing.job import DivideJob
from core.operations.dividing.setting_table import setting_row
from core.operations.form import MATERIAL, Choice, Entry, Figure, Row, set_up_rows
from core.operations.registry import picture_from
from core.plan import Plan
from core.values.angles import split_angles
from tui.operation.circle_sketch import CircleSketch
from tui.operation.divide_figures import WITH, Options, divide_figures, means_choice, means_options, set_by_words
from tui.operation.divisions import DivisionsScreen
from tui.operation.form import OperationForm
from tui.operation.pictured import PicturedScreen
from tui.operation.results import FIELDS, FIGURES, PICTURES, SETTINGS, STEPS
from tui.operation.screen import FILLING_IN
from tui.widgets.column_table import Column, ColumnTable

_EVEN, _LISTED = "even divisions", "listed angles"
_COLUMNS = (
    Column("no.", 4),
    Column("angle", 13, rank=4),
    Column("set to, from zero", 18, rank=1, align="left"),
    Column("turn on by", 18, rank=2, align="left"),
    Column("error", 11, rank=3),
    Column("at the work", 11, rank=5),
)
_LEGEND = "1 is the first position. Angles count anticlockwise from the right while the table's numbers rise."


class DivideForm(OperationForm):
    """The fields of a `divide` operation. One text field holds the whole list of angles."""

    def table(self) -> dict[str, Any]:
        """Return the operation's keys and values. The angles, typed into one field, become a list."""
        table = super().table()
        if "angles" in table:
            table["angles"] = split_angles(str(table["angles"]))
        return table


class DivideScreen(PicturedScreen):
    """The form for a `divide` operation, with a picture of its positions and a list of their settings."""

    HELP = (
        "This form plans positions on the rotary table, and a cut at each position if you enter a depth. Enter a "
        "number of even divisions or a list of angles, then press F5 to start or F4 to save. Press Ctrl+R to see "
        "which numbers your table divides exactly."
    )
    MORE_HELP = (
        "Every position is counted from the table's zero and set to the nearest mark or hole, so rounding errors "
        "never add up. The error of a position is shown as an angle of the table. If you enter the radius of the "
        "work, the error is also shown as a length.\n\n"
        f"Separate angles with ; or +, or with a comma and a space, for example 0; 37.5; 90°30'. {FILLING_IN}\n\n"
        "If the table's numbers are rising, the table's scale rises from one position to the next, and you turn to "
        "each position from below. If they are falling, the scale falls and you turn from above.\n\n"
        "If you enter no depth, the counter leads you from position to position, and you decide what to cut."
    )
    TERMS = ("rotary table", "position", "arc second", "dividing plate", "sector arms", "notches", "operation")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+r", "divisions", "What divides", tooltip="Show exact divisions, and how to set any number."),
    ]
    PAGES = (FIELDS, FIGURES, SETTINGS, STEPS, PICTURES)

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form.

        `parameters`: a `divide` operation's keys and values, which fill the fields; None for a new operation.
        """
        super().__init__("divide", parameters)

    # Fields.

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the form's fields, filled in from an operation's keys and values. One field holds all angles."""
        angles = table.get("angles")
        if isinstance(angles, list):
            table = {**table, "angles": "; ".join(str(angle) for angle in angles)}
        return DivideForm(self.rows(), table)

    def rows(self) -> Sequence[Row]:
        """Return the form's headings and fields, in the order in which a turner fills them in."""
        unit = self.context.lathe.unit
        listed = "angles" in self.initial
        return (
            "Positions",
            Choice(
                key="by",
                label="Positions from",
                options=((_EVEN, None), (_LISTED, None)),
                start=_LISTED if listed else _EVEN,
            ),
            Entry(key="divisions", label="Divisions", whole=True, required=True),
            Entry(key="angles", label="Angles", hint="such as 0; 37.5; 90", required=True),
            Entry(key="start", label="Start angle", unit="deg", hint="(0)"),
            Choice(key="sense", label="Table's numbers", options=(("rising", None), ("falling", "falling"))),
            "How to set the table",
            means_choice(self.context.lathe, self.initial.get(WITH)),
            Entry(key="radius", label="Radius of the work", unit=unit, hint="(not set)"),
            "Cut at each position",
            Entry(key="depth", label="Depth", unit=unit, hint="(none)", set_on=("depth_dial",)),
            Entry(key="cut", label="Deepest cut", unit=unit, hint="(in one cut)", set_on=("depth_dial",)),
            Choice(key="depth_dial", label="Depth is set on", options=_dials(list(self.context.lathe.dials))),
            Choice(
                key="order",
                label="Order of cuts",
                options=(("once round at each depth", None), ("each to full depth", "position")),
            ),
            MATERIAL,
            *set_up_rows(speed=False),
        )

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of the fields to hide: those that do not apply to the selected options and the depth."""
        unused = {"angles"} if form.chosen("by") == _EVEN else {"divisions"}
        if form.entries["depth"][1].value is None:
            unused |= {"cut", "depth_dial", "order"}
        return unused

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return, by field key, the values that the plan uses for empty fields. The form shows these in brackets."""
        depth = self.entered.depth
        return {"cut": "" if depth is None else f"{self.context.lathe.length_text(depth.cut_mm)}, in one cut"}

    def offers(self) -> Mapping[str, Options]:
        """Return, by field key, the methods of setting the rotary table to choose from, exact methods first."""
        return {WITH: means_options(self.context.lathe, self.entered)} if isinstance(self.entered, DivideJob) else {}

    def suggested_name(self) -> str:
        """Return a suggested name for the operation, with the number of positions."""
        if not isinstance(self.entered, DivideJob):
            return self.title or "Divide"
        if self.entered.divisions is not None:
            return f"Divide into {self.entered.divisions}"
        return f"Divide at {len(self.entered.angles_deg)} angles"

    # Figures, settings, pictures.

    @property
    def dividing(self) -> Dividing | None:
        """All positions, each with its setting of the rotary table; None if there is no plan or no rotary table."""
        table = self.context.lathe.rotary_table
        if self.plan is None or table is None or not isinstance(self.entered, DivideJob):
            return None
        return self.entered.divided(table)

    def summary(self, plan: Plan) -> str:
        """Return a sentence with the first movement of the rotary table and the error of the worst position."""
        dividing = self.dividing
        return "" if dividing is None else set_by_words(dividing, self.entered, self.context.lathe)

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Yield the figures about the rotary table's settings, their errors, and the time."""
        dividing = self.dividing
        if dividing is not None:
            lathe = self.context.lathe
            yield from divide_figures(plan, self.entered, dividing, lathe, self.context.log.pace(self.kind, lathe.name))

    def tables(self) -> Sequence[ColumnTable]:
        """Return the list of all settings, which has a page of its own."""
        return (ColumnTable(_COLUMNS, id=SETTINGS),)

    def pictures(self) -> Sequence[Widget]:
        """Return the picture of the positions on a circle, and its legend."""
        return (CircleSketch(id="circle"), Static(_LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Show the picture and the settings of the present plan. Clear both if there is no plan."""
        dividing, lathe = self.dividing, self.context.lathe
        self.show_picture(None if dividing is None else picture_from(self.kind, self.entered, lathe))
        settings = self.query_one(ColumnTable)
        if dividing is None:
            settings.show_rows(0, lambda index: ())
            return
        radius_mm = self.entered.radius_mm
        settings.show_rows(dividing.count, lambda index: setting_row(dividing, index, radius_mm, lathe.length_text))

    # Exact divisions.

    def action_divisions(self) -> None:
        """Open the page about exact divisions. The number chosen there becomes the form's number of divisions."""
        form = self.query_one(OperationForm)
        typed = form.entries["divisions"][1].text if form.chosen("by") == _EVEN else ""
        self.app.push_screen(DivisionsScreen(typed), self._take)

    def _take(self, divisions: int | None) -> None:
        if divisions is None:
            return
        form = self.query_one(OperationForm)
        form.choices["by"][1].value = _EVEN
        form.entries["divisions"][1].text = str(divisions)
        form.post_message(OperationForm.Edited(form))

    def _offered_actions(self) -> list[tuple[str, Callable[[], None]]]:
        return [*super()._offered_actions(), ("See what divides exactly (Ctrl+R)", self.action_divisions)]


def _dials(names: list[str]) -> tuple[tuple[str, str | None], ...]:
    """Return the lathe's dials `names` as options for a choice; the single option "none" if there are no dials."""
    return tuple((dial_words(name), name) for name in names) or (("none", None),)
