"""A page that shows a pattern on the whole screen. The user can enlarge and move it, and see wood or lines."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.reactive import reactive

from core.operations.patterns.picture import ErrorsView, PatternPicture
from core.run.cut_progress import PatternProgress
from core.values.quantities import number_text
from tui.widgets.base_screen import BaseScreen
from tui.widgets.drawing_file import save_drawing
from tui.widgets.pattern_drawing import WHOLE, View
from tui.widgets.pattern_sketch import ErrorsChange, PatternSketch

if TYPE_CHECKING:
    from core.operations.patterns.errors_drawn import PatternErrors

_STEP = 1.5
_MOST_ZOOM = _STEP**7
"""The largest magnification. Beyond it curves would have gaps."""
_AS_IT_IS = ErrorsView()
_PAN = 0.5
"""The distance by which a key moves the view, as a share of the visible radius."""


class PatternView(BaseScreen[None]):
    """The picture of one pattern, as large as the screen."""

    AUTO_FOCUS = ""
    HELP = (
        "This page shows a pattern on the whole screen. Press + to enlarge the picture, - to reduce it, 4, 6, 8, 2 "
        "or the arrow keys to move it, and 5 to see all of it. Press / to switch between wood shaded by depth and "
        "lines."
    )
    MORE_HELP = (
        "The picture is to scale, seen on the work's face: 0 deg is at the right, and angles count anticlockwise. + "
        "is the work's centre. 1 is the first position of each layer.\n\n"
        "Wood shows the depth at each point: darker or denser is deeper. Lines show the edges of grooves, or the "
        "middle of a narrow groove. During a run, finished cuts are shaded and later cuts are lines.\n\n"
        "The picture contains the entered errors of the set-up. Press 9 or Ctrl+E to draw the errors larger, by a "
        "factor that the screen shows. Press 3 to draw the errors smaller, or 1 to draw them at a size that is easy "
        "to see. Press 7 or Ctrl+N to see the pattern with or without the corrections by the settings. The figures "
        "are always true. x is a position that was cut in the wrong place."
    )
    TERMS = ("land", "layer", "position")
    BINDINGS = [
        Binding("plus,add,equals_sign", "zoom(1)", "Larger", key_display="+", tooltip="Enlarge the picture."),
        Binding("minus,subtract", "zoom(-1)", "Smaller", key_display="-", tooltip="Reduce the picture to show more."),
        Binding("4,left", "pan(-1, 0)", "Left", key_display="4", tooltip="Move the view to the left."),
        Binding("6,right", "pan(1, 0)", "Right", key_display="6", tooltip="Move the view to the right."),
        Binding("8,up", "pan(0, 1)", "Up", key_display="8", tooltip="Move the view up."),
        Binding("2,down", "pan(0, -1)", "Down", key_display="2", tooltip="Move the view down."),
        Binding("5,home", "whole", "All", key_display="5", tooltip="Show the whole picture again."),
        Binding(
            "slash,divide,w,ctrl+w", "wood", "Wood", key_display="/", tooltip="Shade by depth, or draw lines only."
        ),
        Binding(
            "9,ctrl+e",
            "errors('larger')",
            "Errors",
            key_display="9",
            tooltip="Draw the errors larger, or at true size.",
        ),
        Binding("3", "errors('smaller')", "Smaller errors", show=False, tooltip="Draw the errors smaller."),
        Binding(
            "1", "errors('sensible')", "Sensible", show=False, tooltip="Draw the errors at a size that is easy to see."
        ),
        Binding(
            "7,ctrl+n",
            "errors('other_way')",
            "Corrected",
            key_display="7",
            tooltip="Draw the errors as corrected by the settings, or uncorrected.",
        ),
        Binding("ctrl+d", "drawing", "Drawing", tooltip="Save the drawing at true size as an SVG file to print."),
        Binding(
            "0,escape,f10,full_stop",
            "close",
            "Close",
            key_display="0",
            tooltip="Close the picture (same as the Esc key).",
        ),
    ]
    DEFAULT_CSS = """
    PatternView PatternSketch { height: 1fr; }
    """

    view = reactive(WHOLE)
    """The visible part of the picture."""

    def __init__(
        self,
        name: str,
        picture: PatternPicture,
        standing: PatternProgress | None,
        closed: Callable[[ErrorsView], object],
        errors: "PatternErrors | None" = None,
        errors_view: ErrorsView = _AS_IT_IS,
    ) -> None:
        """Make the page, with `name` as its title.

        `standing` is the progress of a run; None shows the whole pattern. `errors` are errors of the set-up, which keys
        draw larger; None if there are none. `errors_view` says how the errors are drawn at first. When the page closes,
        `closed` is called with how they are drawn then.
        """
        super().__init__()
        self._errors, self._errors_view = errors, errors_view
        self.title, self._picture, self._standing, self._when_closed = name, picture, standing, closed

    def compose_body(self) -> ComposeResult:
        """Yield the picture."""
        yield PatternSketch(id="whole-picture")

    def on_mount(self) -> None:
        """Show the whole pattern."""
        sketch = self.query_one(PatternSketch)
        sketch.show_pattern(self._picture, self._standing)
        if self._errors is not None:
            sketch.show_errors(self._errors, self._errors_view)
        self._say()

    def watch_view(self, view: View) -> None:
        """Show the part of the picture that the user chose."""
        if self.is_mounted:
            self.query_one(PatternSketch).show_view(view)
            self._say()

    def _say(self) -> None:
        sketch = self.query_one(PatternSketch)
        if sketch.pattern is None:
            return
        words = ["To scale." if self._picture.to_scale else "Not to scale, because no radius is entered."]
        if self._errors is not None and sketch.can_change_errors:
            words = [self._errors.words(sketch.errors_view), self._errors.figures(sketch.errors_view)]
        if self.view.zoom != 1:
            words[0] = f"{words[0]} Enlarged {number_text(self.view.zoom, 1)} times.".removeprefix("To scale. ")
        if sketch.shades and not sketch.can_be_wood:
            words.append("Drawn as lines, because the cutter and the depth are not known.")
        elif sketch.shades and sketch.as_wood and len(words) == 1:
            deepest_mm = max(cut.depth_mm for cut in self._picture.cuts)
            words.append(f"Darker or denser is deeper: {self.context.lathe.length_text(deepest_mm)} at most.")
        self.show_message(" ".join(words))

    def action_zoom(self, steps: int) -> None:
        """Enlarge the picture about the middle of the screen, or reduce it if `steps` is negative."""
        zoom = min(max(self.view.zoom * _STEP**steps, 1.0), _MOST_ZOOM)
        self.view = WHOLE if zoom == 1 else self.view._replace(zoom=zoom)

    def action_pan(self, right: int, up: int) -> None:
        """Move the view by `right` steps to the right and `up` steps up. Its centre never leaves the picture."""
        reach_mm = self._picture.extent_mm
        step_mm = _PAN * reach_mm / self.view.zoom
        x_mm, y_mm = self.view.x_mm + right * step_mm, self.view.y_mm + up * step_mm
        self.view = self.view._replace(
            x_mm=min(max(x_mm, -reach_mm), reach_mm), y_mm=min(max(y_mm, -reach_mm), reach_mm)
        )

    def action_whole(self) -> None:
        """Show the whole pattern again."""
        self.view = WHOLE

    def action_wood(self) -> None:
        """Switch between shaded wood and lines."""
        sketch = self.query_one(PatternSketch)
        sketch.as_wood = not sketch.as_wood
        self._say()

    def action_errors(self, how: ErrorsChange) -> None:
        """Draw the errors larger, smaller, at a sensible size, or with or without their correction."""
        refusal = self.query_one(PatternSketch).change_errors(how)
        self._say()
        if refusal:
            self.show_message(refusal)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Enable the keys for errors only if the pattern has errors that these keys can change."""
        if action != "errors" or not self.is_mounted:
            return action != "errors"
        sketch = self.query_one(PatternSketch)
        return sketch.can_correct_errors if parameters == ("other_way",) else sketch.can_change_errors

    def action_drawing(self) -> None:
        """Save the pattern as a drawing at true size, in a file that the user names."""
        picture = self.query_one(PatternSketch).true_pattern
        if picture is not None:
            save_drawing(self, self.title or "", picture)

    def action_close(self) -> None:
        """Close the page."""
        self._when_closed(self.query_one(PatternSketch).errors_view)
        self.dismiss()
