"""Exports logged runs to a file as text, CSV or JSON, or copies the whole log to a file."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

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
_COPY = "A copy of the whole log, to merge into the log of another computer"


def export(
    screen: BaseScreen[None],
    stem: str,
    runs: Callable[[], Iterable[LoggedRun]],
    back_up: Callable[[Path], Iterable[Path]] | None = None,
) -> None:
    """Ask for a format and a file name, and write `runs` to the file.

    `runs`: a function that reads the runs from the log. `stem`: the first part of the proposed file name. `back_up`: a
    function that copies the whole log to a path; None to offer no copy.
    """
    screen.context.ask_in_turn(_export(screen, stem, runs, back_up))


async def _export(
    screen: BaseScreen[None],
    stem: str,
    runs: Callable[[], Iterable[LoggedRun]],
    back_up: Callable[[Path], Iterable[Path]] | None,
) -> None:
    ask = screen.context.ask
    chosen = await ask(OneOf("Which format do you want for the export?", [*_FORMS, *([_COPY] if back_up else [])]))
    if chosen is None:
        return
    if chosen == len(_FORMS) and back_up is not None:
        target = await ask(new_file(screen.context, "In which file do you want to save the copy?", f"{stem}.sqlite3"))
        try:
            if target is not None:
                copies = " and ".join(map(name_of, back_up(target)))
                screen.show_message(f"The log has been copied to {copies}.")
        except CoreError as error:
            screen.show_message(error.message)
        return
    ending, write = list(_FORMS.values())[chosen]
    path = await ask(new_file(screen.context, "In which file do you want to save the runs?", f"{stem}{ending}"))
    if path is None:
        return
    try:
        count = write_new(path, write(runs()))
    except CoreError as error:
        screen.show_message(error.message)
    else:
        screen.show_message(f"{count} rows have been saved in {name_of(path)}.")
