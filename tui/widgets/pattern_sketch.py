"""A picture of a pattern, to scale, as lines or as wood. During a run it shows how far each position is cut."""

from typing import TYPE_CHECKING, ClassVar, Literal

from textual.strip import Strip

from core.operations.patterns.picture import ErrorsView, PatternPicture
from core.run.cut_progress import PatternProgress
from core.values.errors import CoreError
from tui.context import AppContext, context_of
from tui.terminal import terminal_of
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import WHOLE, PatternDrawing, View, draw_sparsely
from tui.widgets.picture import Picture

if TYPE_CHECKING:
    from core.operations.patterns.errors_drawn import PatternErrors
    from tui.widgets.wood_shading import WoodShading

_SLICE_S, _PAUSE_S = 0.008, 0.002
"""The longest time of shading without a pause, and the length of the pause in which keys are read [s]."""
_MANY = 150
"""If more grooves than this wait for their shading, only few dots are drawn until it is finished."""
_FEW = 4
"""The most grooves that are shaded at once, without showing lines first. One key press cuts no more grooves."""

ErrorsChange = Literal["larger", "smaller", "sensible", "other_way"]
"""A change that a key makes to the display of errors of the set-up."""


class PatternSketch(Picture):
    """Shows one pattern. The calculated drawing is kept as long as the pattern does not change."""

    shades: ClassVar[bool] = True
    """True if the pictures can be shown as wood, shaded by depth."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._picture: PatternPicture | None = None
        self._drawing: PatternDrawing | None = None
        self._standing: PatternProgress | None = None
        self._view, self._is_known = WHOLE, False
        self._shading: WoodShading | None = None
        self.errors: PatternErrors | None = None
        """The errors of the set-up that can be drawn; None if there are none."""
        self.errors_view = ErrorsView()
        """The user's choice of how errors are drawn."""
        self._comes = False
        """True while the next part of the shading is scheduled."""

    def show_pattern(self, picture: PatternPicture | None, standing: PatternProgress | None = None) -> None:
        """Show the pattern `picture`; None shows nothing.

        `standing` is the progress of a run in the pattern; None shows the whole pattern.
        """
        if picture is None:
            self._picture = self._drawing = self._shading = None
            self.show(None)
            return
        if self._drawing is None or picture != self._picture:
            self._picture, self._drawing, self._shading = picture, PatternDrawing(picture, self._view), None
            self._is_known = any(cut.cutter is not None and cut.depth_mm > 0 for cut in picture.cuts)
        elif standing == self._standing:
            return
        self._standing = standing
        if self._shading is not None:
            self._shading.follow(standing)
        self.show(self._draw_pattern)

    def show_errors(self, errors: "PatternErrors", view: ErrorsView) -> str:
        """Show a pattern with its set-up errors, drawn as `view` says. Return "" if that succeeds.

        If the lathe cannot be set for such a pattern, change nothing and return the reason. If the errors have grown
        since the user chose how much to enlarge them, they are enlarged less.
        """
        try:
            view = errors.lowered(view)
            picture = errors.picture(view)
        except CoreError as error:
            return error.message
        self.errors, self.errors_view = errors, view
        self.show_pattern(picture, self._standing)
        return ""

    def change_errors(self, how: ErrorsChange) -> str:
        """Draw the errors larger, smaller, at a sensible size, or with or without their correction.

        Return "", or the reason why the pattern cannot be drawn like this.
        """
        if self.errors is None:
            return ""
        return self.show_errors(self.errors, getattr(self.errors, how)(self.errors_view))

    @property
    def can_change_errors(self) -> bool:
        """True if the pattern has errors that can be drawn larger."""
        return self.errors is not None and self.errors.has_errors

    @property
    def can_correct_errors(self) -> bool:
        """True if there are errors that the lathe's settings can correct."""
        return self.errors is not None and self.errors.can_be_corrected

    @property
    def view(self) -> View:
        """The visible part of the pattern."""
        return self._view

    def show_view(self, view: View) -> None:
        """Show another part of the pattern."""
        self._view, self._shading = view, None
        if self._picture is not None:
            self._drawing = PatternDrawing(self._picture, view)
        self.refresh()

    @property
    def pattern(self) -> PatternPicture | None:
        """The pattern that is shown, with enlarged errors if the user enlarged them; None if nothing is shown."""
        return self._picture

    @property
    def true_pattern(self) -> PatternPicture | None:
        """The pattern with its errors at true size, for a printed drawing; None if nothing is shown."""
        if self._picture is None or self.errors is None or self.errors_view.factor == 1:
            return self._picture
        return self.errors.picture(self.errors_view._replace(factor=1))

    @property
    def standing(self) -> PatternProgress | None:
        """The progress of a run in the pattern; None if the whole pattern is shown."""
        return self._standing

    @property
    def can_be_wood(self) -> bool:
        """True if the pattern can be shaded, because cutter and depth are known for at least one groove."""
        return self.shades and self._picture is not None and self._is_known

    @property
    def as_wood(self) -> bool:
        """True if patterns are shown as wood, shaded by depth. The setting applies to all screens."""
        context = getattr(self.app, "context", None)
        return isinstance(context, AppContext) and context.shows_wood

    @as_wood.setter
    def as_wood(self, as_wood: bool) -> None:
        context_of(self).shows_wood = as_wood
        self.refresh()

    @property
    def _shaded(self) -> "WoodShading | None":
        """The finished shading; None if the user does not want wood or the shading is not finished.

        A wanted shading is started if needed.
        """
        columns, rows = self.size
        if not self.as_wood or self._picture is None or not columns or not rows or not self.can_be_wood:
            return None
        # A form first shows lines, which do not need this module.
        from tui.widgets.wood_shading import WoodShading

        shading = self._shading
        if shading is None or (shading.canvas.columns, shading.canvas.rows) != (columns, rows):
            shading = WoodShading(self._picture, self._view, columns, rows, terminal_of(self.app))
            shading.follow(self._standing)
            self._shading = shading
        if shading.is_done:
            return shading
        if shading.open_grooves <= _FEW:
            shading.work(_SLICE_S)
        self._shade_soon()
        return shading if shading.is_done else None

    @property
    def _waits_long(self) -> bool:
        """True if so many grooves are still unshaded that drawing all their lines would take too long."""
        return self.as_wood and self._shading is not None and self._shading.open_grooves > _MANY

    def _shade_soon(self) -> None:
        if not self._comes:
            self._comes = True
            self.set_timer(_PAUSE_S, self._shade_on)

    def _shade_on(self) -> None:
        """Shade a few more grooves, then let waiting keys be handled. After the last groove, show the wood."""
        self._comes = False
        if self._shading is None or not self.as_wood or not self.is_attached:
            return
        self._shading.work(_SLICE_S)
        if self._shading.is_done:
            self.refresh()
        else:
            self._shade_soon()

    def _draw_pattern(self, canvas: Canvas) -> None:
        shaded = self._shaded
        if shaded is not None and shaded.manner != "greys":
            shaded.draw(canvas)
        elif shaded is None and self._waits_long and self._picture is not None:
            draw_sparsely(canvas, self._picture, self._view)
        elif self._drawing is not None:
            self._drawing.draw(canvas, self._standing)

    def render_line(self, y: int) -> Strip:
        """Return visible row `y`, from the shading in greys if that is finished, otherwise from the drawing."""
        shaded = self._shaded
        if shaded is not None and shaded.manner == "greys" and y < shaded.canvas.rows:
            return shaded.strip(y, self.background_colors[1].rich_color)
        return super().render_line(y)
