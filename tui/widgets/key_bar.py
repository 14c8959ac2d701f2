"""The bottom lines of every screen: the keys that do something now, in plain words."""

from collections.abc import Iterable
from operator import itemgetter
from typing import NamedTuple, Protocol, runtime_checkable

from textual.binding import Binding
from textual.content import Content
from textual.geometry import Size
from textual.screen import Screen
from textual.widget import Widget

_WORDS = {
    "space": "Space",
    "enter": "Enter",
    "escape": "Esc",
    "tab": "Tab",
    "backspace": "Backspace",
    "delete": "Del",
    "insert": "Ins",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "home": "Home",
    "end": "End",
    "up": "Up",
    "down": "Down",
    "left": "Left",
    "right": "Right",
    "question_mark": "?",
    "plus": "+",
    "minus": "-",
    "asterisk": "*",
    "slash": "/",
    "full_stop": ".",
    "comma": ",",
}
_SAME_KEY = {"add": "plus", "subtract": "minus", "multiply": "asterisk", "divide": "slash"}
"""The names that some terminals send for keys of the number pad."""

_BETWEEN = "  "
_MORE = "F1 more"
_DROPPED_FIRST = ("F3", "F12", "F2")
_LEAST_FOR_TWO = 10
"""The fewest rows of a screen whose keys may take two lines."""


class KeyItem(NamedTuple):
    """A key in the bar, and what it does."""

    keys: str
    words: str

    @property
    def text(self) -> str:
        """The key and what it does, as the bar shows them."""
        return f"{self.keys} {self.words}"


@runtime_checkable
class _SaysWhatIsUseful(Protocol):
    """A screen that knows which keys do something now."""

    def is_useful(self, action: str) -> bool:
        """Return whether the key bar shows a key now."""


def key_words(binding: Binding) -> str:
    """Return the name of a key as it is printed on a keyboard.

    >>> key_words(Binding("ctrl+q", "quit"))
    'Ctrl+Q'
    """
    if binding.key_display:
        return binding.key_display
    *modifiers, key = _SAME_KEY.get(binding.key, binding.key).split("+")
    word = _WORDS.get(key, key)
    if modifiers or (key[0] == "f" and key[1:].isdigit()):
        word = word.upper() if word == key else word
    return "+".join([*(modifier.capitalize() for modifier in modifiers), word])


def key_name(key: str) -> str:
    """Return the name of a key by itself, in capitals if it is a letter.

    >>> key_name("pagedown"), key_name("b"), key_name("f8")
    ('PgDn', 'B', 'F8')
    """
    return key.upper() if len(key) == 1 else key_words(Binding(key, ""))


def key_items(screen: Screen[object]) -> list[KeyItem]:
    """Return the keys that do something on a screen now, one for each action.

    The screen's own keys come first, then Esc, then those that work everywhere.
    """
    items: dict[str, tuple[int, KeyItem]] = {}
    for active in screen.active_bindings.values():
        binding, of_app = active.binding, active.node is screen.app
        if not (binding.show and binding.description and active.enabled):
            continue
        # If both the screen and the program have a key for an action, the screen's key is shown.
        action = binding.action.removeprefix("app.")
        if not isinstance(screen, _SaysWhatIsUseful) or screen.is_useful(action):
            place = 2 if of_app or action == "help" else 1 if binding.key == "escape" else 0
            items.setdefault(action, (place, KeyItem(key_words(binding), binding.description)))
    return [entry for _, entry in sorted(items.values(), key=itemgetter(0))]


def key_lines(items: Iterable[KeyItem], columns: int, rows: int) -> list[list[KeyItem]]:
    """Return keys in at most `rows` lines. Those that do not fit are only on the help page."""
    lines: list[list[KeyItem]] = [[]]
    pending = list(items)
    used = 0
    while pending:
        item = pending[0]
        last_line = len(lines) == rows
        reserved = len(_BETWEEN + _MORE) if last_line and _width(pending) > columns - used else 0
        needed = len(item.text) + (len(_BETWEEN) if lines[-1] else 0)
        if used + needed <= columns - reserved or (not lines[-1] and not last_line):
            lines[-1].append(item)
            used += needed
            pending.pop(0)
        elif not last_line:
            lines.append([])
            used = 0
        else:
            lines[-1].append(KeyItem("F1", "more"))
            break
    return lines


def fitted(items: Iterable[KeyItem], columns: int, rows: int) -> list[list[KeyItem]]:
    """Return keys in lines. If they do not fit, those that lead to other screens are dropped first."""
    kept = list(items)
    lines = key_lines(kept, columns, rows)
    for key in _DROPPED_FIRST:
        if not lines[-1] or lines[-1][-1].text != _MORE:
            break
        kept = [item for item in kept if item.keys != key]
        lines = key_lines(kept, columns, rows)
    return lines


def _width(items: Iterable[KeyItem]) -> int:
    return sum(len(item.text) + len(_BETWEEN) for item in items)


class KeyBar(Widget):
    """Shows the keys of its screen that do something now, in at most two lines."""

    def __init__(self) -> None:
        super().__init__()
        self._items: list[KeyItem] | None = None
        """The keys that are shown; None before the first layout."""

    def on_mount(self) -> None:
        """Update the bar whenever the keys that do something change."""
        self.screen.bindings_updated_signal.subscribe(self, self._changed)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return how many rows the keys need."""
        # The screen itself has no size yet at its first layout.
        return len(self._lines(width, viewport.height))

    def render(self) -> Content:
        """Return the keys."""
        lines = []
        for items in self._lines(self.size.width, self.screen.size.height):
            parts: list[str | tuple[str, str]] = []
            for item in items:
                parts.append(_BETWEEN if parts else "")
                parts += [(item.keys, "bold $text-primary"), f" {item.words}"]
            lines.append(Content.assemble(*parts))
        return Content("\n").join(lines)

    def _lines(self, columns: int, screen_rows: int) -> list[list[KeyItem]]:
        if self._items is None:
            self._items = key_items(self.screen)
        return fitted(self._items, columns, 1 if screen_rows < _LEAST_FOR_TWO else 2)

    def _changed(self, screen: Screen[object]) -> None:
        """Show the keys that do something now. If they are the same as before, arrange nothing, as that takes time."""
        if self.is_attached and screen is self.screen:
            items = key_items(screen)
            if items != self._items:
                self._items = items
                self.refresh(layout=True)
