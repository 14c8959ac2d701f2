"""What can be done with an operation that is made up, below its fields."""

from tui.widgets.line_list import LineList


class Doings(LineList):
    """What can be done with what was typed; Up from the first line goes back to the fields."""

    def action_move(self, step: int) -> None:
        """Go up or down, and out at the top."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        else:
            super().action_move(step)
