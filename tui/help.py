"""The help page of any screen, made from its own keys and words."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget

from core.values.files import short_path
from core.values.plain_text import wrapped
from tui.glyphs import glyphs_of
from tui.paths import Paths
from tui.widgets.base_screen import BaseScreen
from tui.widgets.key_bar import key_words

GENERAL = (
    "Everything is done with the keyboard; Tab goes to the next field or list, Shift+Tab to the one before. "
    "Every count and every answer is kept at once, so the program can be left at any time.\n\n"
    "The program advises and controls nothing. The machine's manual, local rules and, where they apply, "
    "licensed trades come first."
)


def places(paths: Paths) -> str:
    """Return the sentence that says where everything is kept."""
    return (
        f"New jobs and exports go to {short_path(paths.documents)}, unless you enter another place. The log is in "
        f"{short_path(paths.data)}; your lathes and settings are in {short_path(paths.config)}; your copies of the "
        f"samples are in {short_path(paths.samples)}."
    )


def key_help(screen: Screen[object]) -> list[tuple[str, str]]:
    """Return (keys, what they do) for each action of a screen that has words for it."""
    actions: dict[tuple[str, str], tuple[list[str], str]] = {}
    for active in screen.active_bindings.values():
        binding = active.binding
        if not binding.description or not (binding.show or binding.tooltip):
            continue
        words = f"{binding.description}. {binding.tooltip}" if binding.tooltip else f"{binding.description}."
        keys, _ = actions.setdefault((binding.action, binding.description), ([], words))
        if key_words(binding) not in keys:
            keys.append(key_words(binding))
    return [(" or ".join(keys), words) for keys, words in actions.values()]


class HelpText(Widget):
    """Paragraphs and a list of keys, wrapped to the width there is."""

    def __init__(self, paragraphs: list[str], keys: list[tuple[str, str]]) -> None:
        super().__init__()
        self._paragraphs, self._keys = paragraphs, keys

    def render(self) -> Content:
        """Return the page."""
        return Content("\n").join(self._lines(self.size.width))

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return how long the page is [rows]."""
        return len(self._lines(width))

    def _lines(self, columns: int) -> list[Content]:
        spell = glyphs_of(self.app).text
        lines: list[Content] = []
        widest = min(max((len(keys) for keys, _ in self._keys), default=0), columns // 3)
        for keys, words in self._keys:
            lead = f"{keys:<{widest}}  "
            first, *rest = wrapped(spell(words), columns, first=lead, others=" " * (widest + 2))
            lines.append(Content.assemble((keys, "bold $text-primary"), first[len(keys) :]))
            lines += [Content(line) for line in rest]
        for paragraph in self._paragraphs:
            lines += [Content(""), *(Content(line) for line in _paragraph_lines(spell(paragraph), columns))]
        return lines


def _paragraph_lines(paragraph: str, columns: int) -> list[str]:
    """Return a paragraph wrapped; one whose every line is indented is a drawing, and stays as it is."""
    drawn = [line for line in paragraph.split("\n") if line]
    if all(line.startswith(" ") for line in drawn):
        return drawn
    return wrapped(paragraph, columns)


class HelpScreen(BaseScreen[None]):
    """Tells what another screen is for and what its keys do."""

    AUTO_FOCUS = ""
    BINDINGS = [
        Binding("escape,enter,f1,question_mark", "leave", "Back", key_display="Esc"),
        Binding("up", "scroll_lines(-1)", "Up", show=False),
        Binding("down", "scroll_lines(1)", "Down", show=False),
    ]

    def __init__(self, about: Screen[object]) -> None:
        super().__init__()
        self.title = f"Help: {about.title or 'keys'}"
        self._keys = key_help(about)
        self._own = about.help_text if isinstance(about, BaseScreen) else ""

    def compose_body(self) -> ComposeResult:
        """The page."""
        text = f"{self._own}\n\n{GENERAL}\n\n{places(self.context.paths)}"
        yield HelpText([part for part in text.split("\n\n") if part.strip()], self._keys)

    def action_leave(self) -> None:
        """Go back to the screen the help was about."""
        self.dismiss()

    def action_scroll_lines(self, lines: int) -> None:
        """Scroll by lines."""
        self.query_one("#body").scroll_relative(y=lines, animate=False)
