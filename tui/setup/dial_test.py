"""The dial test. It shows how far the slide should move for a reading of a dial, for comparison with an indicator."""

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from core.lathe.dial_face import example_reading, first_to_do, marks_around, marks_of, show_reading
from core.lathe.lathe import dial_words
from core.lathe.set_up.answers import dial_unit
from core.lathe.set_up.saving import lathe_as_answered
from core.values.dials import Dial
from core.values.errors import CoreError
from core.values.plain_text import wrapped
from tui.glyphs import glyphs_of
from tui.setup.lathe_draft import LatheDraft
from tui.setup.pictures import collar_lines
from tui.widgets.base_screen import BaseScreen
from tui.widgets.choice_field import ChoiceField
from tui.widgets.quantity_field import QuantityField

_LEAST_FOR_COLLAR = 16
"""The fewest rows of a screen that shows the drawing. On fewer rows there is room only for the sentences."""


class DialTestScreen(BaseScreen[None]):
    """Shows what belongs to a dial reading: turns, mark, slide travel, change of diameter and handle direction."""

    CSS_PATH = "setup.tcss"
    HELP = (
        "This page shows how the program reads each dial. Choose a dial, take up its backlash, set it to 0, turn it "
        "to the reading and measure the travel of the slide with an indicator. If the travel differs from this page, "
        "correct your answers about that dial before the first cut."
    )
    TERMS = ("backlash", "mark", "reading", "travel dial", "diameter dial")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "next_dial", "Next dial", priority=True, tooltip="Go to the next dial."),
        Binding("escape,asterisk,multiply", "back", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self, work: LatheDraft, dial: str = "") -> None:
        """Show the dial with the name `dial` first; the lathe's first dial if `dial` is ""."""
        super().__init__()
        self.title = "Dial test"
        self._dials = dict(lathe_as_answered(work.draft).dials)
        self._units = {name: dial_unit(work.draft.table(("dial", name))) for name in self._dials}
        self._first = dial if dial in self._dials else next(iter(self._dials), "")

    def compose_body(self) -> ComposeResult:
        """Yield fields for the dial and the reading, a drawing of the dial at this reading, and sentences about it."""
        if not self._dials:
            yield Static("No dial is set up yet. Answer the questions about a dial first.", markup=False)
            return
        yield ChoiceField("Dial", [dial_words(name) for name in self._dials], value=dial_words(self._first), id="dial")
        unit = self._units[self._first]
        text = example_reading(self._dials[self._first], unit)
        yield QuantityField("Turned from 0 to", str.strip, text=text, unit=unit, leave_out="*", id="reading")
        with VerticalScroll(id="setup-known", can_focus=False):
            yield Static(id="setup-first", markup=False)
            yield Static(id="setup-picture", markup=False)
            yield Static(id="setup-how", markup=False)

    @property
    def dial(self) -> Dial:
        """The selected dial, as the answers so far describe it."""
        chosen = self.query(ChoiceField)
        words = chosen.first().value if chosen else dial_words(self._first)
        return next(dial for name, dial in self._dials.items() if dial_words(name) == words)

    def on_mount(self) -> None:
        """Give the focus to the field for the reading."""
        if self._dials:
            self.query_one("#reading", QuantityField).focus()

    def on_resize(self) -> None:
        """Draw the dial again for the new width."""
        self._show()

    @on(ChoiceField.Changed, "#dial")
    def _chosen(self, event: ChoiceField.Changed) -> None:
        event.stop()
        self._show_example_reading()

    @on(QuantityField.Changed, "#reading")
    def _typed(self, event: QuantityField.Changed) -> None:
        event.stop()
        self.work_out(self._show, event.field.text)

    def _show_example_reading(self) -> None:
        field = self.query_one("#reading", QuantityField)
        field.unit = self._units[self.dial.name]
        field.text = example_reading(self.dial, field.unit)
        self._show()

    def _show(self) -> None:
        if not self._dials or not self.size.width:
            return
        field = self.query_one("#reading", QuantityField)
        first, picture, lines = "", "", []
        try:
            reading = field.value or field.text
            first = first_to_do(self.dial, reading)
            lines = list(show_reading(self.dial, reading))
            picture = "\n".join(self._collar(reading))
            field.show_error("")
        except CoreError as error:
            field.show_error(error.message if field.text.strip() else "")
        spell, columns = glyphs_of(self.app).text, max(self.size.width - 1, 1)
        self.query_one("#setup-first", Static).update("\n".join(wrapped(spell(first), columns)))
        self.query_one("#setup-picture", Static).update(picture)
        how = [line for sentence in lines for line in wrapped(spell(sentence), columns)]
        self.query_one("#setup-how", Static).update("\n".join(how))

    def _collar(self, text: str) -> list[str]:
        """Return the rows of a drawing of the dial at the reading `text`; [] for a digital readout or a low screen."""
        if self.dial.per_turn is None or self.size.height < _LEAST_FOR_COLLAR:
            return []
        return collar_lines(
            lambda each_side: marks_around(self.dial, marks_of(self.dial, text), each_side), self.size.width
        )

    def action_next_dial(self) -> None:
        """Select the next dial."""
        if self._dials:
            choice = self.query_one("#dial", ChoiceField)
            choice.index = (choice.index + 1) % len(choice.words)
            self._show_example_reading()

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the sentences by `pages` pages."""
        if self._dials:
            known = self.query_one("#setup-known")
            known.scroll_relative(y=pages * max(known.size.height - 1, 1), animate=False)

    def action_back(self) -> None:
        """Close this page."""
        self.dismiss()
