"""Exports logged runs to a file, as text, CSV or JSON."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from core.pages.log_export import LoggedRun, as_csv, as_json, as_text
from core.values.errors import CoreError
from core.values.files import name_of, write_new
from tui.widgets.base_screen import BaseScreen
from tui.widgets.path_question import new_file
from tui.widgets.question import OneOf

_FORMS: Mapping[str, tuple[str, Callable[[Iterable[LoggedRun]], Iterator[str]]]] = {
    "Text, to read or print": (".txt", as_text),
    "CSV, for a spreadsheet": (".csv", as_csv),
    "JSON, for programs": (".json", as_json),
}


def export(screen: BaseScreen[None], stem: str, runs: Callable[[], Iterable[LoggedRun]]) -> None:
    """Ask for the format and the file, and write `runs` to it.

    `stem` is how the proposed file name starts.
    """
    screen.context.ask_in_turn(_export(screen, stem, runs))


async def _export(screen: BaseScreen[None], stem: str, runs: Callable[[], Iterable[LoggedRun]]) -> None:
    ask = screen.context.ask
    chosen = await ask(OneOf("Which form do you want?", list(_FORMS)))
    if chosen is None:
        return
    ending, write = list(_FORMS.values())[chosen]
    path = await ask(new_file(screen.context, "To which file?", f"{stem}{ending}"))
    if path is None:
        return
    try:
        count = write_new(path, write(runs()))
    except CoreError as error:
        screen.show_message(error.message)
    else:
        screen.show_message(f"{count} lines are saved in {name_of(path)}.")
