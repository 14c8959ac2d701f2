"""The compound seen from above, with its own scale as it will read."""

from core.lathe.lathe import Lathe
from core.operations.compound_swing import swing_drawing
from core.operations.threads.groove_steps import swing_of
from core.operations.threads.job import ThreadJob
from tui.glyphs import glyphs_of
from tui.widgets.drawing_painter import paint_drawing
from tui.widgets.picture import Picture


class CompoundSketch(Picture):
    """Chuck on the left, the turner below; the scale's zero line and the angle from it to the slide."""

    def show_job(self, job: ThreadJob, lathe: Lathe) -> None:
        """Show how the compound stands for a thread."""
        drawing = swing_drawing(swing_of(job), lathe)
        self.show(lambda canvas: paint_drawing(canvas, drawing, glyphs_of(self.app).text))
