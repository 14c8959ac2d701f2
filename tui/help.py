"""The help page of a screen: the screen's purpose, keys and terms."""

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
    "Tab goes to the next field or list, Shift+Tab to the previous one. Every count and every answer is saved "
    "immediately. You can quit at any time.\n\n"
    "The program gives advice and controls nothing. Follow the machine's manual and local rules first. Leave work "
    "that is reserved for licensed trades to those trades."
)
Pairs = Sequence[tuple[str, str]]
"""Pairs of a key and its action, or of a term and its meaning."""


def places(context: AppContext) -> list[tuple[str, str]]:
    """Return (description, text) pairs for the program's version and for the user's files and folders."""
    paths, job, lathe = context.paths, context.job, context.lathe_path or context.paths.own_lathe
    not_yet = "" if may_exist(lathe) else " (not set up yet)"
    return [
        ("version", f"halfnut {version()}"),
        *([("open job", short_path(job.path.absolute()))] if job else []),
        ("new jobs", f"{short_path(context.jobs_folder)}, for exports too, unless you enter another folder"),
        ("samples", f"{short_path(paths.samples)}, your copies"),
        ("log", short_path(paths.data / FILE_NAME)),
        ("lathe", f"{short_path(lathe)}, unless the job names another{not_yet}"),
        ("settings", f"{short_path(paths.controls)}: pedal, instruments, bell, folder of jobs"),
    ]


def key_help(screen: Screen[object]) -> list[tuple[str, str]]:
    """Return a (keys, explanation) pair for each action of a screen. Actions without an explanation are left out."""
    return [
        (" or ".join(action.keys), " ".join(filter(None, (sentence(action.words), action.tooltip))))
        for action in bound_actions(screen)
    ]


def help_lines(blocks: Sequence[str | Pairs], columns: int, spell: Callable[[str], str]) -> list[Content]:
    """Return the rows of a help page that is `columns` wide.

    Each of `blocks` is a paragraph, which is wrapped, or a sequence of pairs, which are set in two columns. `spell`
    replaces characters that the terminal lacks.
    """
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
    """Return a paragraph as wrapped rows. A paragraph whose rows are all indented is a drawing and is not wrapped."""
    drawn = [line for line in paragraph.split("\n") if line]
    if all(line.startswith(" ") for line in drawn):
        return drawn
    return wrapped(paragraph, columns)


class HelpScreen(BaseScreen[None]):
    """The help page of another screen: the purpose of that screen, its keys and its terms."""

    BINDINGS = [Binding("escape,enter,f1,question_mark", "close", "Close", key_display="Esc")]

    def __init__(self, about: Screen[object]) -> None:
        super().__init__()
        self.title = "Help: question" if about.is_modal else f"Help: {about.title or 'keys'}"
        self._keys = key_help(about)
        self._help, self._more, self._terms = about.HELP or "", "", tuple[str, ...]()
        if isinstance(about, BaseScreen):
            self._help, self._more, self._terms = about.help_text, about.more_help, about.terms

    def compose_body(self) -> ComposeResult:
        """Yield the purpose of the screen, its keys, further explanations, its terms, and the user's folders."""
        blocks: list[str | Pairs] = [*_paragraphs(self._help), self._keys, *_paragraphs(self._more)]
        if self._terms:
            terms = sorted(self._terms, key=str.casefold)
            blocks += ["Terms on this screen:", [(term, TERMS[term]) for term in terms]]
        blocks += [*_paragraphs(GENERAL), "Your files and folders:", places(self.context)]
        yield Pager(lambda columns: help_lines(blocks, columns, glyphs_of(self.app).text))

    def is_useful(self, action: str) -> bool:
        """Return True if the key bar shows the key of `action`. F1 is hidden, because Esc also closes this page."""
        return action != "help" and super().is_useful(action)

    def action_close(self) -> None:
        """Close the help page."""
        self.dismiss()


def _paragraphs(text: str) -> list[str]:
    return [part for part in text.split("\n\n") if part.strip()]
