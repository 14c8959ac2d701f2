"""The keys of the counter. Each key has a word for the key bar and a sentence for the help page."""

from textual.binding import Binding, BindingType

from tui.counter.picture_panel import LEGEND

NUMBER_KEY = Binding(
    "0", "type_number", "Number", key_display="0-9", tooltip="Type the number that this step asks for."
)
_UNDO = "Undo the last count or answer."


def _with_letter(digit: str, letter: str, action: str, words: str, tooltip: str) -> tuple[Binding, Binding]:
    """Return two key bindings of one action. The letter is used at steps where the digit types a number."""
    return (
        Binding(digit, action, words, tooltip=tooltip),
        Binding(letter, action, words, key_display=letter.upper(), tooltip=tooltip),
    )


COUNTER_KEYS: list[BindingType] = [
    Binding("space,enter", "done", "Done", key_display="Space", tooltip="Count this pass or step as done."),
    Binding("minus,subtract", "undo", "Undo", key_display="-", tooltip=_UNDO),
    Binding("backspace", "undo", "Undo", tooltip=_UNDO),
    *_with_letter("1", "m", "measured", "Measured", "Enter a measurement. The remaining steps are planned again."),
    *_with_letter("2", "s", "set_differently", "Set", "Enter the reading that you actually set."),
    *_with_letter("3", "p", "spring", "Spring", "Add a spring pass at the same reading."),
    *_with_letter("4", "n", "note", "Note", "Write a note in the log."),
    *_with_letter(
        "5",
        "u",
        "moved",
        "Moved",
        "Find the position again after a move. Use this key if the work, the tool, a slide or a dial was moved.",
    ),
    *_with_letter("6", "g", "go_back", "Repeat", "Repeat a finished or skipped step."),
    *_with_letter("7", "k", "skip", "Skip", "Skip this step."),
    *_with_letter(
        "8",
        "w",
        "where",
        "Where?",
        "Find the rotary table's position. In a pattern, use this key also to list the readings of the cut "
        "positions, to enter a position that was cut in the wrong place, or to find the position of work that you "
        "took off the table.",
    ),
    Binding(
        "l",
        "settings",
        "List",
        key_display="L",
        show=False,
        tooltip="List the readings at every position. The list shows the readings of the rotary table, the slide "
        "and the boring head.",
    ),
    Binding(
        "t", "hand_over", "To pattern", key_display="T", tooltip="Use the result of this run in this job's pattern."
    ),
    Binding(
        "asterisk,multiply,v",
        "picture",
        "Picture",
        key_display="*",
        tooltip="Show or hide the picture of this step. The picture shows the work as you see it from where you "
        f"stand. The picture of a pattern uses these signs. {LEGEND}",
    ),
    Binding(
        "full_stop,comma,decimal,f10,ctrl+o",
        "whole_picture",
        "Full picture",
        key_display=".",
        show=False,
        tooltip="Show the pattern on the whole screen. There, press + to enlarge the picture and - to reduce it.",
    ),
    Binding(
        "ctrl+w",
        "wood",
        "Wood",
        show=False,
        tooltip="Show the pattern as wood or outlines. Wood is shaded by depth.",
    ),
    Binding(
        "slash,divide,c",
        "cautions",
        "Cautions",
        key_display="/",
        tooltip="Read the cautions of this run again.",
    ),
    Binding("s", "summary", "Summary", key_display="S", tooltip="Show a summary of this run on one page."),
    Binding(
        "o",
        "other_run",
        "Other run",
        key_display="O",
        tooltip="Open another run of this job. The list contains the unfinished runs.",
    ),
    Binding(
        "9",
        "app.convert",
        "Convert",
        tooltip="Convert a quantity. F12 does the same.",
    ),
    Binding("0", "close", "Close", tooltip="Close the counter. Everything is saved."),
    Binding("escape", "close", "Close", tooltip="Close the counter. Everything is saved."),
]
