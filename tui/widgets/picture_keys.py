"""The keys of every screen with a pattern, for the whole screen, for wood or lines, and for saving a drawing."""

from typing import TYPE_CHECKING, Any

from textual.binding import Binding

from core.operations.patterns.picture import ErrorsView, PatternPicture
from core.run.cut_progress import PatternProgress
from tui.widgets.base_screen import BaseScreen
from tui.widgets.pattern_sketch import PatternSketch

if TYPE_CHECKING:
    from core.operations.patterns.errors_drawn import PatternErrors

PICTURE_KEYS = (
    Binding("f10,ctrl+o", "view", "Picture", key_display="F10", tooltip="Show the pattern on the whole screen."),
    Binding("ctrl+w", "wood", "Wood", show=False, tooltip="Show the pattern as shaded wood or as lines."),
    Binding(
        "ctrl+d", "drawing", "Drawing", show=False, tooltip="Save the drawing at true size as an SVG file to print."
    ),
)
"""Bindings for screens that have the actions `view`, `wood` and `drawing`."""


def show_picture(
    screen: BaseScreen[Any],
    name: str,
    picture: PatternPicture,
    standing: PatternProgress | None = None,
    sketch: PatternSketch | None = None,
    errors: "PatternErrors | None" = None,
) -> None:
    """Show a pattern on the whole screen, with `name` as the title.

    `standing` is the progress of a run; None shows the whole pattern. `sketch` is drawn again when the page closes,
    because the user may have switched between wood and lines. If `errors` is not None, keys on that page draw the
    errors larger or corrected.
    """
    from tui.widgets.pattern_view import PatternView

    def closed(seen: ErrorsView) -> None:
        if sketch is not None:
            sketch.refresh()

    screen.context.push_screen(PatternView(name, picture, standing, closed, errors))
