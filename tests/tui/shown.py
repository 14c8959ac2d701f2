"""A screen on which a test shows its own widgets."""

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widget import Widget

from core.plan import Step
from tui.widgets.base_screen import BaseScreen
from tui.widgets.choice_field import ChoiceField
from tui.widgets.quantity_field import QuantityField


class Shown(BaseScreen[None]):
    """A screen that shows the widgets of one test, and records what they report."""

    TITLE = "Shown"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "possible", "Possible", tooltip="Can be done."),
        Binding("f6", "impossible", "Impossible"),
    ]

    def __init__(self, *widgets: Widget) -> None:
        super().__init__()
        self._widgets = widgets
        self.told: list[object] = []

    def compose_body(self) -> ComposeResult:
        """Yield the widgets."""
        yield from self._widgets

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Disable the action `impossible`."""
        return None if action == "impossible" else True

    def action_possible(self) -> None:
        """Record the call of the enabled action."""
        self.told.append("done")

    def action_impossible(self) -> None:
        """Record the call, which would be a fault because the action is disabled."""
        self.told.append("impossible")

    def on_quantity_field_changed(self, event: QuantityField.Changed) -> None:
        """Record the value of a changed field."""
        self.told.append(event.field.value)

    def on_choice_field_changed(self, event: ChoiceField.Changed) -> None:
        """Record the selected word."""
        self.told.append(event.value)


def some_steps(count: int) -> tuple[Step, ...]:
    return tuple(
        Step(
            id=number,
            action="cut",
            text=f"Cut: compound to 0.{number:02}",
            removed_mm=0.1,
            remaining_mm=1.0,
            cautions=("tool out first",) if number == 2 else (),
        )
        for number in range(1, count + 1)
    )
