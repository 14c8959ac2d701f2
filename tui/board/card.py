"""The card of an operation on screen: its figures, cautions and steps, to read before a run is started."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content

from core.jobs.card import cautions
from core.jobs.changeover import Change, changes_before
from core.jobs.job import Job, JobOperation
from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.operations.pass_words import ON_THE_RADIUS, amount_words, on_the_radius
from core.operations.registry import errors_of
from core.pages.figure_words import lines_for
from core.pages.settings_page import settings_lines
from core.plan import Step
from core.values.plain_text import clean
from core.values.plain_text import wrapped_sizes as wrapped
from tui.glyphs import Glyphs, glyphs_of
from tui.operation.divide_figures import at_pace
from tui.terminal import terminal_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.canvas import CELL_ASPECT
from tui.widgets.figure_list import figure_contents
from tui.widgets.pager import Pager
from tui.widgets.pattern_drawing import WHOLE, pattern_lines

_LONGEST = 600
_PICTURE_COLUMNS = 56
_MOST_SHADED = 150


class CardScreen(BaseScreen[None]):
    """Shows the card of one operation, with the text that the command `halfnut card` prints."""

    HELP = (
        "The card shows the figures, cautions and steps of this operation, with the readings for this lathe. Every "
        "reading is on a mark of its dial and counts from the zero at touch-off. `halfnut card` prints the cards of "
        "the whole job."
    )
    TERMS = ("card", "mark", "reading", "touch off", "step", "pass")
    BINDINGS = [
        Binding("escape,c,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
        Binding("p,f10,ctrl+o", "view", "Picture", key_display="p", tooltip="Show the pattern on the whole screen."),
        Binding(
            "ctrl+w", "wood", "Wood", show=False, tooltip="Show the pattern as wood shaded by depth, or as outlines."
        ),
        Binding(
            "ctrl+d", "drawing", "Drawing", show=False, tooltip="Save the pattern at true size as an SVG file to print."
        ),
    ]

    def __init__(self, operation: JobOperation, job: Job) -> None:
        super().__init__()
        self.title = f"Card: {operation.number} {operation.name}"
        self._operation, self._lathe = operation, job.lathe
        self._changes = changes_before(operation, job)
        self._picture = operation.picture

    def compose_body(self) -> ComposeResult:
        """Yield the page that shows the card."""
        yield Pager(lambda columns: self._contents(columns))

    def _contents(self, columns: int) -> list[Content]:
        glyphs, dots = glyphs_of(self.app), terminal_of(self.app).dots
        drawn = self._wood(min(columns, _PICTURE_COLUMNS))
        if drawn is None and self._picture is not None:
            drawn = list(map(Content, pattern_lines(self._picture, min(columns, _PICTURE_COLUMNS), dots)))
        named = at_pace(self._operation, self.context.log.pace)
        return card_contents(self._operation, self._lathe, self._changes, columns, glyphs, drawn or (), named)

    def _wood(self, columns: int) -> list[Content] | None:
        """Return the pattern drawn as wood, `columns` characters wide.

        Return None if the user wants outlines, or if the drawing would take too long.
        """
        picture = self._picture
        known = picture is not None and any(cut.cutter is not None and cut.depth_mm for cut in picture.cuts)
        if picture is None or not known or len(picture.cuts) > _MOST_SHADED or not self.context.shows_wood:
            return None
        from tui.widgets.wood_shading import WoodShading

        shading = WoodShading(picture, WHOLE, columns, round(columns / CELL_ASPECT), terminal_of(self.app))
        shading.follow(None)
        while not shading.is_done:
            shading.work(1.0)
        return shading.contents(self.background_colors[1].rich_color)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return True to show an action's key, or False to hide it. Keys for the picture need an operation with one."""
        return self._picture is not None if action in {"view", "wood", "drawing"} else True

    def action_view(self) -> None:
        """Show the pattern alone on the whole screen."""
        if self._picture is not None:
            from tui.widgets.picture_keys import show_picture

            show_picture(self, self._operation.name, self._picture, errors=errors_of(self._operation.plan_input))

    def action_wood(self) -> None:
        """Switch the picture of the pattern between outlines and wood shaded by depth."""
        self.context.shows_wood = not self.context.shows_wood
        self.query_one(Pager).show(self._contents)

    def action_drawing(self) -> None:
        """Save the pattern as an SVG file at true size."""
        from tui.widgets.drawing_file import save_drawing

        save_drawing(self, self._operation.name, self._picture)

    def action_close(self) -> None:
        """Close the card and return to the job."""
        self.dismiss()


def card_contents(
    operation: JobOperation,
    lathe: Lathe,
    changes: Sequence[Change],
    columns: int,
    glyphs: Glyphs,
    picture: Sequence[Content],
    named: tuple[Mapping[str, Any], Mapping[str, str]],
) -> list[Content]:
    """Return the rows of an operation's card. The cautions come first, so that nobody misses them.

    `changes`: what to change on the lathe before the operation. `columns`: the width of the card [characters].
    `picture`: the rows of the operation's picture; empty if it has none. `named`: the operation's figures, and the
    labels, by key, that replace the usual ones.
    """
    lines_found = lines_for(lathe, named[0], whole=True, names=named[1])
    figures = [Figure(*line) for line in lines_found]
    mark = f"{glyphs['caution']} "
    lines = [_heading("Cautions")]
    for caution in cautions(operation, lathe):
        lines += _marked(glyphs.text(clean(caution, _LONGEST)), columns, mark)
    if figures:
        lines += [Content(""), _heading("Figures"), *figure_contents(figures, columns, glyphs)]
    if picture:
        lines += [Content(""), _heading("Picture"), *picture]
    if changes:
        lines += [Content(""), _heading("Before this operation")]
        for change in changes:
            words = glyphs.text(clean(change.text, _LONGEST))
            lines += [Content(line) for line in wrapped(words, columns, first="- ", others="  ")]
    settings = list(settings_lines(operation, columns))
    if settings:
        lines += [
            Content(""),
            _heading("Settings"),
            *(Content(glyphs.text(clean(line, _LONGEST))) for line in settings),
        ]
    lines += [Content(""), _heading("Steps")]
    steps = operation.plan.steps
    if any(amount_words(step, lathe) and on_the_radius(operation.kind, step) for step in steps):
        lines += [Content(line) for line in wrapped(ON_THE_RADIUS, columns)]
    digits = len(str(len(steps)))
    for number, step in enumerate(steps, start=1):
        lines += _step_lines(f"{number:>{digits}}  ", step, lathe, columns, glyphs)
    return lines


def _step_lines(head: str, step: Step, lathe: Lathe, columns: int, glyphs: Glyphs) -> Iterator[Content]:
    indent = " " * len(head)
    words = clean(step.text, _LONGEST)
    if amounts := amount_words(step, lathe):
        words += f" ({amounts})"
    for line in wrapped(glyphs.text(words), columns, first=head, others=indent):
        yield Content(line)
    for caution in step.cautions:
        text = glyphs.text(clean(caution, _LONGEST))
        yield from _marked(text, columns, f"{indent}{glyphs['caution']} ")


def _marked(sentence: str, columns: int, mark: str) -> list[Content]:
    lines = wrapped(sentence, columns, first=mark, others=" " * len(mark))
    return [Content.styled(line, "$text-warning") for line in lines]


def _heading(words: str) -> Content:
    return Content.styled(words.upper(), "bold $text-primary")
