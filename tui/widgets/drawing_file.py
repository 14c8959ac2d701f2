"""Saves a pattern as an SVG drawing at true size, in a new file that the user names."""

import re
from typing import Any

from core.operations.patterns.picture import PatternPicture
from core.values.errors import CoreError
from core.values.files import name_of, write_new
from tui.widgets.base_screen import BaseScreen

_NOT_IN_A_NAME = re.compile(r"[^a-z0-9]+")
_LONGEST_NAME = 60


def save_drawing(screen: BaseScreen[Any], name: str, picture: PatternPicture | None) -> None:
    """Ask for a file name and save a pattern as SVG.

    An existing file is never replaced. `name` is the title of the drawing, from which a file name is suggested. If
    `picture` is None or has no real size, only a message is shown.
    """
    if picture is None or not picture.to_scale:
        screen.show_message("The drawing has no size. Enter the radius of the work.")
        return
    screen.context.ask_in_turn(_save(screen, name, picture))


async def _save(screen: BaseScreen[Any], name: str, picture: PatternPicture) -> None:
    from core.pages.pattern_svg import pattern_svg
    from tui.widgets.path_question import new_file

    stem = _NOT_IN_A_NAME.sub("_", name.lower()).strip("_")[:_LONGEST_NAME] or "pattern"
    path = await screen.context.ask(new_file(screen.context, "Where do you want to save the drawing?", f"{stem}.svg"))
    if path is None:
        return
    try:
        write_new(path, pattern_svg(picture, name).splitlines())
    except CoreError as error:
        screen.show_message(error.message)
    else:
        screen.show_message(f"The drawing has been saved in {name_of(path)}. Print it at 100 %.")
