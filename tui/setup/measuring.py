"""The page that finds an answer of set-up by measuring: instructions, fields for the measurements, and the result."""

from collections.abc import Mapping
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from core.lathe.keys.entry import DIAL_UNIT
from core.lathe.set_up.answers import dial_unit, in_unit
from core.lathe.set_up.measuring import SIZE_UNIT, MeasuredAnswer, MeasuredField, MeasuringMethod
from core.safety import STOP_FIRST
from core.values.errors import CoreError
from core.values.plain_text import wrapped
from tui.glyphs import glyphs_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.caution_list import CautionList
from tui.widgets.quantity_field import QuantityField


class MeasureScreen(BaseScreen[MeasuredAnswer | None]):
    """Asks for measurements, and calculates an answer of set-up from them.

    When the screen closes, it returns the answer, or None if the user cancels.
    """

    CSS_PATH = "setup.tcss"
    HELP = (
        "This page works out an answer from your measurements. Follow the numbered instructions and type each "
        "measurement in the unit shown after its field, or with a unit of your own. The answer appears below when "
        "all fields are filled in, and Enter saves it."
    )
    TERMS = ("backlash", "mark", "reading")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter",
            "continue",
            "Next",
            priority=True,
            tooltip="Go to the next field. On the last field, save the answer.",
        ),
        Binding(
            "escape,asterisk,multiply",
            "cancel",
            "Cancel",
            key_display="Esc",
            tooltip="Cancel. Your answers stay as they were.",
        ),
    ]

    def __init__(self, finding: MeasuringMethod, table: Mapping[str, Any], sizes_in: str) -> None:
        """Ask for the measurements that the method `finding` needs.

        `table`: the answers so far about this part of the lathe. `sizes_in`: the unit of sizes typed without a unit,
        "mm" or "in".
        """
        super().__init__()
        self._sizes_in = sizes_in
        self.title = finding.title
        self._finding, self._table = finding, table
        self._found: MeasuredAnswer | None = None
        self._fields = {measured.key: self._field(measured) for measured in finding.measured}

    def _field(self, measured: MeasuredField) -> QuantityField[str]:
        units = {DIAL_UNIT: dial_unit(self._table), SIZE_UNIT: self._sizes_in}
        unit = units.get(measured.unit, measured.unit)
        return QuantityField(
            measured.label, str.strip, text=measured.start, unit=unit, required=True, leave_out="*", id=measured.key
        )

    def compose_body(self) -> ComposeResult:
        """Yield the instructions, the fields for the measurements, and the calculated answer."""
        with VerticalScroll(id="setup-known", can_focus=False):
            yield Static(id="setup-how", markup=False)
            yield CautionList([STOP_FIRST])
        with Vertical(id="setup-measured"):
            yield from self._fields.values()
        yield Static(id="setup-answer", markup=False)

    def on_mount(self) -> None:
        """Give the focus to the first required field."""
        empty = [field for field in self._fields.values() if not field.text]
        (empty or list(self._fields.values()))[0].focus()

    def on_resize(self) -> None:
        """Wrap the sentences for the new width."""
        spell, columns = glyphs_of(self.app).text, max(self.size.width - 1, 1)
        lines = [
            line
            for number, step in enumerate(self._finding.steps, start=1)
            for line in wrapped(
                spell(in_unit(step, dial_unit(self._table))), columns, first=f"{number}  ", others="   "
            )
        ]
        self.query_one("#setup-how", Static).update("\n".join(lines))
        self._show_found()

    @on(QuantityField.Changed)
    def _typed(self, event: QuantityField.Changed) -> None:
        event.stop()
        self.show_message("")
        self.work_out(self._work_out, event.field.text)

    def _work_out(self) -> None:
        """Calculate the answer from the fields. Show the error of a wrong field below that field."""
        self._found = None
        typed = {key: field.value for key, field in self._fields.items()}
        try:
            if all(typed.values()):
                self._found = self._finding.work_out(self._table, {key: text or "" for key, text in typed.items()})
                self._show_problem("", "")
        except CoreError as error:
            self._show_problem(error.field, error.message)
        self._show_found()

    def _show_problem(self, wrong: str, message: str) -> None:
        for key, field in self._fields.items():
            if field.value:
                field.show_error(message if key == wrong else "")
        if message and wrong not in self._fields:
            self.show_message(message)

    def _show_found(self) -> None:
        sentence = self._found.sentence if self._found else ""
        shown = self.query_one("#setup-answer", Static)
        shown.update("\n".join(wrapped(glyphs_of(self.app).text(sentence), max(self.size.width, 1))))
        shown.display = bool(sentence)

    def action_continue(self) -> None:
        """Go to the next field. From the last field, close the page with the answer."""
        fields = list(self._fields.values())
        here = next((place for place, field in enumerate(fields) if self.focused in field.walk_children()), 0)
        if here < len(fields) - 1:
            fields[here + 1].focus()
            return
        self._work_out()
        if self._found is not None:
            self.dismiss(self._found)
            return
        for field in fields:
            if not field.value or field.error:
                field.touch()
                field.focus()
                return

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the sentences by `pages` pages."""
        known = self.query_one("#setup-known")
        known.scroll_relative(y=pages * max(known.size.height - 1, 1), animate=False)

    def action_cancel(self) -> None:
        """Close the page without an answer."""
        self.dismiss(None)
