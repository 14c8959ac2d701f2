"""The help page of any screen: what the screen is for, its keys, and the terms used on it."""

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen

from core.logbook.schema import FILE_NAME
from core.values.files import may_exist, short_path
from core.values.plain_text import sentence, wrapped
from tui.context import AppContext
from tui.glossary import TERMS
from tui.glyphs import glyphs_of
from tui.manual import version
from tui.widgets.base_screen import BaseScreen
from tui.widgets.key_bar import bound_actions
from tui.widgets.pager import Pager

GENERAL = (
    "Tab goes to the next field or list, Shift+Tab to the one before. Every count and every answer is saved at once, "
    "so you can quit at any time.\n\n"
    "The program advises and controls nothing. The machine's manual, local rules and, where they apply, "
    "licensed trades come first."
)
Pairs = Sequence[tuple[str, str]]
"""Keys and what they do, or terms and what they mean."""


def places(context: AppContext) -> list[tuple[str, str]]:
    """Return pairs of what the program uses and in which file or folder it is; the version comes first."""
    paths, job, lathe = context.paths, context.job, context.lathe_path or context.paths.own_lathe
    not_yet = "" if may_exist(lathe) else " (not set up yet)"
    return [
        ("version", f"halfnut {version()}"),
        *([("open job", short_path(job.path.absolute()))] if job else []),
        ("new jobs", f"{short_path(context.jobs_folder)}, with exports, unless you enter another place"),
        ("samples", f"{short_path(paths.samples)}, your copies"),
        ("log", short_path(paths.data / FILE_NAME)),
        ("lathe", f"{short_path(lathe)}, if the job names no other{not_yet}"),
        ("settings", f"{short_path(paths.controls)}: pedal, instruments, bell"),
    ]


def key_help(screen: Screen[object]) -> list[tuple[str, str]]:
    """Return pairs of keys and what they do, for each action of a screen that has an explanation."""
    return [
        (" or ".join(action.keys), " ".join(filter(None, (sentence(action.words), action.tooltip))))
        for action in bound_actions(screen)
    ]


def help_lines(blocks: Sequence[str | Pairs], columns: int, spell: Callable[[str], str]) -> list[Content]:
    """Return paragraphs, and pairs in two columns, wrapped to a width; `spell` writes words for the terminal."""
    lines: list[Content] = []
    for block in blocks:
        if lines:
            lines.append(Content(""))
        if isinstance(block, str):
            lines += [Content(line) for line in _paragraph_lines(spell(block), columns)]
        else:
            lines += _pair_lines([(name, spell(words)) for name, words in block], columns)
    return lines


def _pair_lines(pairs: Pairs, columns: int) -> list[Content]:
    widest = min(max((len(name) for name, _ in pairs), default=0), columns // 3)
    lines: list[Content] = []
    for name, words in pairs:
        first, *others = wrapped(words, columns, first=f"{name:<{widest}}  ", others=" " * (widest + 2))
        lines.append(Content.assemble((name, "bold $text-primary"), first[len(name) :]))
        lines += [Content(line) for line in others]
    return lines


def _paragraph_lines(paragraph: str, columns: int) -> list[str]:
    """Return the lines of a wrapped paragraph. If all its lines are indented, it is a drawing and stays as it is."""
    drawn = [line for line in paragraph.split("\n") if line]
    if all(line.startswith(" ") for line in drawn):
        return drawn
    return wrapped(paragraph, columns)


class HelpScreen(BaseScreen[None]):
    """The help page of another screen: what it is for, what its keys do and what its terms mean."""

    BINDINGS = [Binding("escape,enter,f1,question_mark", "close", "Close", key_display="Esc")]

    def __init__(self, about: Screen[object]) -> None:
        super().__init__()
        self.title = "Help: question" if about.is_modal else f"Help: {about.title or 'keys'}"
        self._keys = key_help(about)
        self._help, self._more, self._terms = about.HELP or "", "", tuple[str, ...]()
        if isinstance(about, BaseScreen):
            self._help, self._more, self._terms = about.help_text, about.more_help, about.terms

    def compose_body(self) -> ComposeResult:
        """Yield what the screen is for, its keys, more about it, its terms, and the folders of the program."""
        blocks: list[str | Pairs] = [*_paragraphs(self._help), self._keys, *_paragraphs(self._more)]
        if self._terms:
            terms = sorted(self._terms, key=str.casefold)
            blocks += ["Words used here:", [(term, TERMS[term]) for term in terms]]
        blocks += [*_paragraphs(GENERAL), "Where things are:", places(self.context)]
        yield Pager(lambda columns: help_lines(blocks, columns, glyphs_of(self.app).text))

    def is_useful(self, action: str) -> bool:
        """Return whether the key bar shows a key. F1 closes this page as Esc does, so it is not shown."""
        return action != "help" and super().is_useful(action)

    def action_close(self) -> None:
        """Go back to the screen that the help is about."""
        self.dismiss()


def _paragraphs(text: str) -> list[str]:
    return [part for part in text.split("\n\n") if part.strip()]
