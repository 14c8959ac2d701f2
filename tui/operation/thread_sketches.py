"""Pictures of a thread to scale: its profile with the tool and the limits of size, and the compound from above."""

from core.lathe.lathe import Lathe
from core.operations.compound_drawing import swing_drawing
from core.operations.threads.compound import swing_of
from core.operations.threads.drawings import ThreadOutline, thread_outline
from core.operations.threads.job import ThreadJob
from tui.glyphs import glyphs_of
from tui.widgets.canvas import Canvas
from tui.widgets.drawing_painter import paint_drawing
from tui.widgets.picture import Picture

LEGEND = "Solid: the thread and the tool at full depth. Dotted: limits, or basic sizes without limits."


class ProfileSketch(Picture):
    """A picture of three thread grooves with the tool in the middle groove. Dotted lines show the limits of size."""

    def show_job(self, job: ThreadJob) -> None:
        """Show a thread's profile. Raise PlanError if the thread cannot be cut."""
        outline = thread_outline(job)
        self.show(lambda canvas: draw_profile(canvas, outline))


def draw_profile(canvas: Canvas, outline: ThreadOutline) -> None:
    """Draw the limits of size, then the profile and the tool, then the labels of the limits."""
    canvas.show(-outline.x_mm, outline.x_mm, outline.y_least_mm, outline.y_most_mm)
    for level in outline.levels:
        canvas.line(-outline.x_mm, level.y_mm, outline.x_mm, level.y_mm, "reference", every=3)
    canvas.polyline(outline.profile)
    canvas.polyline(outline.tool, "mark", closed=True)
    for level in outline.levels:
        canvas.label(outline.x_mm, level.y_mm, level.name, "right")


class CompoundSketch(Picture):
    """A picture of the compound from above, with the chuck on the left, the operator below, and the angle scale."""

    def show_job(self, job: ThreadJob, lathe: Lathe) -> None:
        """Show the compound at the angle to which it is set for a thread."""
        drawing = swing_drawing(swing_of(job), lathe)
        self.show(lambda canvas: paint_drawing(canvas, drawing, glyphs_of(self.app).text))
