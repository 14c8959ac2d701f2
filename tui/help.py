"""The help page of any screen: what the screen is for, its keys, and the terms used on it."""

from collections.abc import Sequence
from pathlib import Path

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget

from core.values.files import short_path
from core.values.plain_text import sentence, wrapped
from tui.glossary import TERMS
from tui.glyphs import glyphs_of
from tui.paths import Paths
from tui.widgets.base_screen import BaseScreen
from tui.widgets.key_bar import key_words

GENERAL = (
    "Tab goes to the next field or list, Shift+Tab to the one before. Every count and every answer is saved at once, "
    "so you can quit at any time.\n\n"
    "The program advises and controls nothing. The machine's manual, local rules and, where they apply, "
    "licensed trades come first."
)
Pairs = Sequence[tuple[str, str]]
"""Keys and what they do, or terms and what they mean."""


def places(paths: Paths, jobs: Path) -> str:
    """Return the sentences that say in which folders everything is saved; `jobs`: that of the user's jobs."""
    return (
        f"New jobs and exports go to {short_path(jobs)}, unless you enter another place. The log is in "
        f"{short_path(paths.data)}. Your lathes and settings are in {short_path(paths.config)}. Your copies of the "
        f"samples are in {short_path(paths.samples)}."
    )


def key_help(screen: Screen[object]) -> list[tuple[str, str]]:
    """Return pairs of keys and what they do, for each action of a screen that has an explanation."""
    actions: dict[tuple[str, str], tuple[list[str], str]] = {}
    for active in screen.active_bindings.values():
        binding = active.binding
        if not binding.description or not (binding.show or binding.tooltip):
            continue
        words = " ".join(filter(None, (sentence(binding.description), binding.tooltip)))
        keys, _ = actions.setdefault((binding.action, binding.description), ([], words))
        if key_words(binding) not in keys:
            keys.append(key_words(binding))
    return [(" or ".join(keys), words) for keys, words in actions.values()]


class HelpText(Widget):
    """Paragraphs, and pairs in two columns, wrapped to the width of the page."""

    def __init__(self, blocks: Sequence[str | Pairs]) -> None:
        super().__init__()
        self._blocks = blocks

    def render(self) -> Content:
        """Return the lines of the page."""
        return Content("\n").join(self._lines(self.size.width))

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return how many rows the page needs."""
        return len(self._lines(width))

    def _lines(self, columns: int) -> list[Content]:
        spell = glyphs_of(self.app).text
        lines: list[Content] = []
        for block in self._blocks:
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

    AUTO_FOCUS = ""
    BINDINGS = [
        Binding("escape,enter,f1,question_mark", "close", "Close", key_display="Esc"),
        Binding("up", "scroll_lines(-1)", "Up", show=False),
        Binding("down", "scroll_lines(1)", "Down", show=False),
    ]

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
        general = f"{GENERAL}\n\n{places(self.context.paths, self.context.jobs_folder)}"
        yield HelpText([*blocks, *_paragraphs(general)])

    def is_useful(self, action: str) -> bool:
        """Return whether the key bar shows a key. F1 closes this page as Esc does, so it is not shown."""
        return action != "help" and super().is_useful(action)

    def action_close(self) -> None:
        """Go back to the screen that the help is about."""
        self.dismiss()

    def action_scroll_lines(self, lines: int) -> None:
        """Scroll by lines."""
        self.query_one("#body").scroll_relative(y=lines, animate=False)


def _paragraphs(text: str) -> list[str]:
    return [part for part in text.split("\n\n") if part.strip()]
