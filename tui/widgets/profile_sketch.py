"""The thread as the tool in hand cuts it, to scale, with the tool and the limits of size."""

from core.operations.threads.job import ThreadJob
from core.operations.threads.outline import ThreadOutline, thread_outline
from tui.widgets.canvas import Canvas
from tui.widgets.picture import Picture

LEGEND = "Solid: the thread and the tool at full depth. Dotted: its limits (basic sizes where it has none)."


class ProfileSketch(Picture):
    """Three grooves, the tool in the middle one, dotted lines at the limits."""

    def show_job(self, job: ThreadJob) -> None:
        """Show a thread; raises PlanError for one that cannot be cut."""
        outline = thread_outline(job)
        self.show(lambda canvas: draw_profile(canvas, outline))


def draw_profile(canvas: Canvas, outline: ThreadOutline) -> None:
    """Draw an outline: limits first, tool and names last."""
    canvas.show(-outline.x_mm, outline.x_mm, outline.y_least_mm, outline.y_most_mm)
    for level in outline.levels:
        canvas.line(-outline.x_mm, level.y_mm, outline.x_mm, level.y_mm, "reference", every=3)
    canvas.polyline(outline.profile)
    canvas.polyline(outline.tool, "mark", closed=True)
    for level in outline.levels:
        canvas.label(outline.x_mm, level.y_mm, level.name, "right")
