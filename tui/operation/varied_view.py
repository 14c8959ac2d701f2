"""The page that shows a form's picture on the whole screen, where keys change a number of the form."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from core.operations.patterns.picture import ErrorsView, PatternPicture
from tui.glyphs import glyphs_of
from tui.operation.screen import PLANNING, OperationScreen
from tui.widgets.pattern_sketch import PatternSketch
from tui.widgets.pattern_view import PatternView

if TYPE_CHECKING:
    from core.operations.patterns.errors_drawn import PatternErrors

_NO_NUMBER = "No number of the form is selected. Press Tab to select one."


class VariedView(PatternView):
    """A form's picture on the whole screen, below the number that the keys change. The form makes the changes."""

    HELP = (
        "This page shows the pattern of your form on the whole screen. Press > or < to change the number in the "
        "first row, Tab to select the next number, and Ctrl+Z to undo a change. Press + to enlarge the picture, - to "
        "reduce it, 4, 6, 8 or 2 to move it, and 5 to see all of it."
    )
    BINDINGS = [
        Binding(
            "greater_than_sign",
            "vary(1)",
            "Vary",
            key_display="< >",
            tooltip="Increase or reduce the number in the first row.",
        ),
        Binding("less_than_sign", "vary(-1)", show=False, tooltip="Reduce the number in the first row."),
        Binding("tab", "next_number(1)", "Number", priority=True, tooltip="Select the next number."),
        Binding("shift+tab", "next_number(-1)", show=False, priority=True, tooltip="Select the previous number."),
        Binding("ctrl+z", "undo", "Undo", tooltip="Undo the last change of the form."),
        Binding("ctrl+y", "redo", "Redo", tooltip="Redo the change that Ctrl+Z has undone."),
    ]
    DEFAULT_CSS = """
    VariedView #varied { height: 1; text-style: bold; }
    """

    def __init__(
        self,
        name: str,
        picture: PatternPicture,
        form: OperationScreen,
        sketch: PatternSketch,
        closed: Callable[[ErrorsView], object],
    ) -> None:
        """Make the page for `form`, whose own picture is `sketch`.

        `name`: the title of the page. `picture`: the picture to show. `closed`: a function that the page calls when it
        closes, with the selected display of errors.
        """
        super().__init__(name, picture, None, closed, sketch.errors, sketch.errors_view)
        self._form, self._sketch = form, type(sketch)

    def compose_body(self) -> ComposeResult:
        """Yield the row with the number that the keys change, and the picture."""
        yield Static(id="varied", markup=False)
        yield self._sketch(id="whole-picture")

    def on_mount(self) -> None:
        """Show the number that the keys < and > change."""
        self._show_number()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Show the keys for undo and redo only while the form has a change to undo or redo."""
        if action in {"undo", "redo"}:
            return self._form.has_before if action == "undo" else self._form.has_after
        if action == "wood":
            return self._sketch.shades
        return super().check_action(action, parameters)

    def follow(self, name: str, picture: PatternPicture | None, errors: "PatternErrors | None") -> None:
        """Show the form's present picture with its errors of the set-up.

        `name`: the title of the page. `picture`: None if the form has no picture. `errors`: None if there are no errors
        to draw.
        """
        self.title, self._errors = name, errors
        sketch = self.query_one(PatternSketch)
        sketch.errors = errors
        if picture is None:
            sketch.show_pattern(None)
            self.show_message(PLANNING if self._form.is_planning else self._form.problem_words)
        else:
            self._picture = picture
            if errors is None or sketch.show_errors(errors, sketch.errors_view):
                sketch.show_pattern(picture)
            self._say()
        self._show_number()
        self.refresh_bindings()

    def _show_number(self) -> None:
        words = f"{self._form.varied_words}. {self._form.step_words}" if self._form.varied_words else _NO_NUMBER
        self.query_one("#varied", Static).update(Content(glyphs_of(self.app).text(words)))

    def action_vary(self, steps: int) -> None:
        """Change the form's selected number by `steps` steps. The form then calls `follow`."""
        self._form.action_vary(steps)
        self._show_number()

    def action_next_number(self, step: int) -> None:
        """Select the next number of the form, or with a negative `step` the previous number."""
        self._form.vary_next(step)
        self._show_number()

    def action_undo(self) -> None:
        """Undo the last change of the form."""
        self._form.action_undo()

    def action_redo(self) -> None:
        """Redo the change of the form that was undone last."""
        self._form.action_redo()
