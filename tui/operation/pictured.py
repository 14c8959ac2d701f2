"""A form with a picture of positions. The picture can fill the whole screen or be saved as a drawing."""

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType

from core.operations.patterns.picture import ErrorsView, PatternPicture
from tui.operation.results import FIELDS
from tui.operation.screen import OperationScreen
from tui.widgets.drawing_file import save_drawing
from tui.widgets.pattern_sketch import PatternSketch
from tui.widgets.picture_keys import PICTURE_KEYS

if TYPE_CHECKING:
    from tui.operation.varied_view import VariedView


class PicturedScreen(OperationScreen):
    """A form whose `pictures` include one PatternSketch. The form passes each new picture to `show_picture`."""

    BINDINGS: ClassVar[list[BindingType]] = [*PICTURE_KEYS]

    _view: "VariedView | None" = None
    """The whole-screen page of the picture while that page is open; otherwise None."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Disable the keys for the picture unless the form has a plan or a plan is being made."""
        if action in {"view", "wood", "drawing"}:
            return True if self.ready or self.is_planning else None
        return super().check_action(action, parameters)

    def show_picture(self, picture: PatternPicture | None) -> None:
        """Show a picture in the form and on the picture's whole-screen page. None clears both."""
        self.query_one(PatternSketch).show_pattern(picture)
        self.follow_picture()

    def follow_picture(self) -> None:
        """Show the form's present picture on the whole-screen page, if that page is open."""
        if self._view is not None and self._view.is_mounted:
            sketch = self.query_one(PatternSketch)
            self._view.follow(self.title or "", sketch.true_pattern, sketch.errors)

    def drawn_otherwise(self) -> None:
        """Update the legend after the user has changed the display of errors on the whole-screen page."""

    def action_view(self) -> None:
        """Show the picture on the whole screen, where keys can also change numbers of the form."""
        self._with_picture(self._show_whole)

    def _with_picture(self, act: Callable[[], object]) -> None:
        """Call `act` as soon as the form's picture is ready."""
        if self.is_planning:
            self._when_settled(act)
        else:
            act()

    def _show_whole(self) -> None:
        from tui.operation.varied_view import VariedView

        sketch = self.query_one(PatternSketch)
        picture = sketch.true_pattern
        if picture is None:
            return
        self.keep_field()
        self._view = VariedView(self.title or "", picture, self, sketch, self._view_closed)
        self.context.push_screen(self._view)

    def _view_closed(self, seen: ErrorsView) -> None:
        self._view = None
        sketch = self.query_one(PatternSketch)
        if sketch.errors is not None and sketch.pattern is not None:
            sketch.show_errors(sketch.errors, seen)
            self.drawn_otherwise()
        sketch.refresh()
        if self._field is not None and FIELDS in self._visible.shown(self.page):
            self._field.focus()

    def action_wood(self) -> None:
        """Switch the picture between shaded wood and lines."""
        sketch = self.query_one(PatternSketch)
        sketch.as_wood = not sketch.as_wood

    def action_drawing(self) -> None:
        """Save the picture in a file, as a drawing at true size."""
        self._with_picture(self._save_drawing)

    def _save_drawing(self) -> None:
        save_drawing(self, self.title or "", self.query_one(PatternSketch).true_pattern)
