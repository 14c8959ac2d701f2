"""The page for the settings of pedals, instruments with a cable, the bell and the folder of jobs."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key

from core.values.errors import CoreError
from core.values.files import is_folder, name_of, short_path
from core.values.plain_text import clean, sentence
from tui.bell import Sound
from tui.controls import INSTRUMENT_UNITS, Controls, is_jobs_folder, keep_controls
from tui.pedal import TAKES_PLACE, own_name, pedal_refusal
from tui.widgets.base_screen import BaseScreen
from tui.widgets.key_bar import key_name
from tui.widgets.line_list import LineList
from tui.widgets.path_question import PathQuestion
from tui.widgets.question import QuestionScreen

_PEDALS = ("pedal", "undo_pedal")
_JOBS = 4
"""The index of the row for the folder of jobs."""
_UNIT_WORDS = {"": "the unit of the field or of the lathe", "mm": "mm", "in": "in"}
_SOUNDS = "one ring when a step is logged, two when you have to measure, and three when nothing was logged"


class PressNow(QuestionScreen[str], inherit_bindings=False):
    """A question that asks the user to press the pedal. The answer is the key that the pedal sends; Esc cancels."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "cancel", "Cancel", key_display="Esc", tooltip="Cancel. Nothing changes."),
    ]

    def __init__(self, question: str, refusal: Callable[[str], str]) -> None:
        """Make the question. `refusal` returns why a key cannot be used, or "" if it can be used."""
        super().__init__(question, detail=["A pedal or clicker acts like a keyboard with one key. Esc cancels."])
        self._refusal = refusal

    def on_key(self, event: Key) -> None:
        """Answer with the pressed key, or show why a pedal cannot use this key. Esc cancels the question instead."""
        if event.key == "escape":
            return
        event.stop()
        key = own_name(event.key)
        if problem := self._refusal(key):
            self.show_refusal(problem)
        else:
            self.give(key)


class ControlsScreen(BaseScreen[None]):
    """The list of settings for pedals, instruments, the bell and the folder of jobs. Enter changes the selected one."""

    AUTO_FOCUS = ""
    HELP = (
        "This page contains the settings for pedals, for measuring instruments with a cable, for the bell and for "
        "the folder of your jobs. Select a setting and press Enter. If you selected a pedal, then press the pedal "
        "itself."
    )
    MORE_HELP = (
        "A pedal counts a pass on the counter, as the Space key does. One press counts once, even if you hold the "
        "pedal down or its switch bounces. If a pedal sends PgUp or PgDn, these keys no longer scroll on the "
        "counter. A pedal cannot use a key that the counter needs.\n\n"
        "An instrument with a cable types its number and Enter, like a keyboard. At a step that asks for a "
        "measurement, the number is logged. At any other step, the counter asks what you measured. A number without "
        "a unit is taken in the unit that you set on this page.\n\n"
        "The folder of jobs may be on a USB stick that you use on two computers. The board lists the jobs in this "
        "folder, and new jobs and exports are saved there. The log stays on this computer. To merge the log of "
        "another computer, press m in the history."
    )
    TERMS = ("pass", "undo")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "set", "Set", tooltip="Change the selected setting."),
        Binding(
            "delete", "remove", "Remove", tooltip="Remove the selected pedal, or go back to the default folder of jobs."
        ),
        Binding(
            "escape,asterisk,multiply",
            "close",
            "Close",
            key_display="Esc",
            tooltip="Close this page. Everything is saved.",
        ),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Select the next setting (same as the Down key)."),
        Binding(
            "minus,subtract",
            "move(-1)",
            "Previous",
            show=False,
            tooltip="Select the previous setting (same as the Up key).",
        ),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.title = "Pedal, instruments, bell, jobs"

    def compose_body(self) -> ComposeResult:
        """Yield the list of settings."""
        controls = LineList(id="controls")
        controls.can_search = False
        yield controls

    def on_mount(self) -> None:
        """Show the present settings."""
        self.set_focus(self.query_one("#controls"))
        self._show()
        self.show_message(self.context.controls_problem)

    def _show(self) -> None:
        controls = self.context.controls
        self.query_one("#controls", LineList).show(
            [
                f"Pedal that counts   {_pedal_words(controls.pedal)}",
                f"Pedal that undoes   {_pedal_words(controls.undo_pedal)}",
                f"Instruments send    {_UNIT_WORDS[controls.instrument_unit]}",
                f"Bell                {'on' if controls.bell else 'off'}",
                f"Folder of jobs      {name_of(self.context.jobs_folder)}",
            ]
        )

    def action_set(self) -> None:
        """Change the selected setting.

        A pedal asks for its key, and the folder of jobs asks for a path. The unit and the bell change to their next
        value without a question.
        """
        line, controls = self.query_one("#controls", LineList).cursor, self.context.controls
        if line < len(_PEDALS):
            self.context.ask_in_turn(self._ask_for_pedal(_PEDALS[line]))
        elif line == len(_PEDALS):
            units = INSTRUMENT_UNITS
            unit = units[(units.index(controls.instrument_unit) + 1) % len(units)]
            self._keep(replace(controls, instrument_unit=unit), "")
        elif line == _JOBS:
            self.context.ask_in_turn(self._ask_for_folder())
        else:
            self._keep(replace(controls, bell=not controls.bell), "" if controls.bell else f"You hear {_SOUNDS}.")
            self.context.bell.say(Sound.LOGGED)

    async def _ask_for_pedal(self, name: str) -> None:
        controls = self.context.controls
        other = controls.undo_pedal if name == "pedal" else controls.pedal
        does = "counts a pass" if name == "pedal" else "undoes"
        key = await self.context.ask(
            PressNow(f"Now press the pedal that {does}.", lambda pressed: pedal_refusal(pressed, other))
        )
        if key is not None:
            gives_way = " On the counter, this key no longer scrolls." if key in TAKES_PLACE else ""
            self._keep(_with_pedal(controls, name, key), f"{key_name(key)} {does} on the counter.{gives_way}")

    async def _ask_for_folder(self) -> None:
        if self.context.paths.jobs is not None:
            self.show_message(
                "The option --jobs sets the folder of jobs for this session. To set another folder here, start "
                "without this option."
            )
            return
        now = self.context.jobs_folder
        folder = await self.context.ask(
            PathQuestion(
                "In which folder are your jobs?",
                _refuse_no_folder,
                text=f"{short_path(now)}/",
                ending="/",
                detail=[
                    "The folder may be on a USB stick, often below /media. New jobs and exports are saved in "
                    "this folder."
                ],
            )
        )
        if folder is not None:
            jobs = "" if folder == self.context.paths.documents else str(folder)
            self._keep(replace(self.context.controls, jobs=jobs), f"Your jobs are now in {name_of(folder)}.")

    def action_remove(self) -> None:
        """Remove the selected pedal. If the folder of jobs is selected, return to the usual folder."""
        line = self.query_one("#controls", LineList).cursor
        if line < len(_PEDALS):
            self._keep(_with_pedal(self.context.controls, _PEDALS[line], ""), "The pedal has been removed.")
        elif line == _JOBS and self.context.controls.jobs:
            self._keep(replace(self.context.controls, jobs=""), "The usual folder of jobs is used again.")
        else:
            self.show_message("This setting cannot be removed. Press Enter to change it.")

    def _keep(self, controls: Controls, words: str) -> None:
        """Use the changed settings from now on, save them, and show `words` as a message."""
        self.context.controls = controls
        self._show()
        try:
            keep_controls(self.context.paths.controls, controls)
        except CoreError as error:
            words = f"{words} The setting could not be saved for the next start. {sentence(error.message)}".lstrip()
        self.show_message(words)

    def action_move(self, step: int) -> None:
        """Move the selection by `step` rows."""
        self.query_one("#controls", LineList).action_move(step)

    def action_close(self) -> None:
        """Close this page."""
        self.dismiss()


def _refuse_no_folder(path: Path) -> None:
    """Raise CoreError if a path is not an existing folder or cannot be saved as the folder of jobs."""
    if not is_folder(path):
        raise CoreError(f"There is no folder {name_of(path)}. Enter an existing folder, such as /media/stick/jobs.")
    if not is_jobs_folder(path):
        raise CoreError(f"{name_of(path)} cannot be used. Enter a folder without special characters in its name.")


def _with_pedal(controls: Controls, name: str, key: str) -> Controls:
    return replace(controls, pedal=key) if name == "pedal" else replace(controls, undo_pedal=key)


def _pedal_words(key: str) -> str:
    return clean(key_name(key)) if key else "none (press Enter, then the pedal)"
