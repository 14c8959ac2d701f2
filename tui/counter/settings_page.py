"""The list of a run's positions on the rotary table, with the readings at each position and how far each is cut."""

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from core.events.state import State
from core.lathe.lathe import Lathe
from core.operations.patterns.picture import PatternPlace
from core.operations.patterns.setting_rows import PlaceSteps, place_steps, setting_row
from core.run.cut_progress import CutState, PatternProgress, ProgressTracker
from core.run.work_as_it_lies import steps_as_work_lies
from tui.widgets.base_screen import BaseScreen
from tui.widgets.column_table import Column, ColumnTable

_COLUMNS = (
    Column("", 8, rank=1, align="left"),
    Column("layer", 5, rank=2),
    Column("no.", 4),
    Column("table, from zero", 18, rank=3, align="left"),
    Column("slide", 20, rank=4, align="left"),
    Column("to", 20, rank=5, align="left"),
    Column("angle", 11, rank=6),
    Column("head", 34, rank=7, align="left"),
)
_WORDS: dict[CutState, str] = {"coming": "to come", "started": "started", "cut": "cut"}


class SettingsPage(BaseScreen[None]):
    """Lists all positions of a run. The cursor starts at the present position."""

    TITLE = "Settings of every position"
    HELP = (
        "This list shows the readings of table, slide and boring head at every position, for the work as it lies "
        "now. To find a position again, bring the cutter's point into its cut, then compare the readings. The "
        'column "to" shows the reading at the end of a slot or an arc.'
    )
    TERMS = ("boring head", "layer", "notches", "position", "rotary table")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,full_stop,0", "close", "Close", key_display="Esc", tooltip="Close this list."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next position (same as the Down key)."),
        Binding(
            "minus,subtract",
            "move(-1)",
            "Previous",
            show=False,
            tooltip="Go to the previous position (same as the Up key).",
        ),
    ]

    def __init__(self, lathe: Lathe, state: State) -> None:
        super().__init__()
        self._lathe = lathe
        self._places = _places_now(state)
        self._progress = ProgressTracker().progress(state)

    def compose_body(self) -> ComposeResult:
        """Yield the list of positions."""
        yield ColumnTable(_COLUMNS)

    def on_mount(self) -> None:
        """Fill the list, and put the cursor on the present position."""
        table = self.query_one(ColumnTable)
        table.show_rows(len(self._places), self._row)
        present = [at for at, place in enumerate(self._places) if _place(place) == self._progress.present]
        table.lines.cursor = present[0] if present else 0
        table.lines.focus()

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` rows; up if `step` is negative."""
        self.query_one(ColumnTable).lines.action_move(step)

    def action_close(self) -> None:
        """Close the list."""
        self.dismiss()

    def _row(self, index: int) -> tuple[str, ...]:
        return (_state_words(self._places[index], self._progress), *setting_row(self._places[index], self._lathe))


def _places_now(state: State) -> list[PlaceSteps]:
    """Return the steps that set each position for the work as it lies now.

    A finished position has the step that was done last; any other position has the planned step.
    """
    chosen: dict[PatternPlace, int] = {}
    steps = steps_as_work_lies(state)
    for step in steps:
        if step.action == "index" and step.at.position is not None:
            place = PatternPlace(step.at.layer or 1, step.at.position)
            if place not in chosen or state.status_of(step.id) == "done":
                chosen[place] = step.id
    wanted = set(chosen.values())
    return place_steps(step for step in steps if step.action != "index" or step.id in wanted)


def _place(place: PlaceSteps) -> PatternPlace:
    return PatternPlace(place.start.at.layer or 1, place.start.at.position or 0)


def _state_words(place: PlaceSteps, progress: PatternProgress) -> str:
    if _place(place) == progress.present:
        return "now"
    state = progress.states.get(_place(place))
    return "skipped" if state is None else _WORDS[state]
