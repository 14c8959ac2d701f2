"""The compound seen from above, with its own scale as it will read."""

from core.lathe import Lathe
from core.threads.compound_view import CompoundView, compound_view
from core.threads.job import ThreadJob
from tui.widgets.canvas import Canvas
from tui.widgets.picture import Picture

_BOUNDS = (-1.55, 1.75, -1.85, 0.65)
"""What the places of a compound view lie within: x from, to, y from, to."""


class CompoundSketch(Picture):
    """Chuck on the left, the turner below; the scale's zero line and the angle from it to the slide."""

    def show_job(self, job: ThreadJob, lathe: Lathe) -> None:
        """Show how the compound stands for a thread."""
        view = compound_view(job, lathe)
        self.show(lambda canvas: draw_compound(canvas, view))


def draw_compound(canvas: Canvas, view: CompoundView) -> None:
    """Draw a view: reference lines first, names last."""
    canvas.show(*_BOUNDS)
    canvas.line(-1.5, 0.0, 1.5, 0.0, "reference", every=4)
    canvas.polyline(view.zero, "reference", every=2)
    canvas.polyline(view.arc, "reference")
    canvas.polyline(view.chuck, closed=True)
    for wall in view.work:
        canvas.polyline(wall, closed=True)
    canvas.polyline(view.slide, closed=True)
    canvas.polyline(view.handle)
    canvas.polyline(view.tool, "mark")
    canvas.label(-1.3, 0.3, "chuck")
    canvas.label(1.75, 0.12, "tailstock", "right")
    canvas.label(*view.handle_at, "handle", "left" if view.leans == "right" else "right")
    if view.reading:
        canvas.label(*view.zero_at, "0")
        canvas.label(*view.reading_at, view.reading)
    canvas.label(-1.5, -1.75, "you", "left")
