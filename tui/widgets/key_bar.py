"""The bottom rows of every screen: the keys that do something now, each with its action."""

from collections.abc import Iterable, Sequence
from operator import itemgetter
from typing import NamedTuple, Protocol, runtime_checkable

from textual.binding import Binding
from textual.content import Content
from textual.dom import DOMNode
from textual.geometry import Size
from textual.keys import key_to_character
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
"""Alternative names that some terminals send for keys of the number pad."""

_NAVIGATION = frozenset(
    ("up", "down", "left", "right", "pageup", "pagedown", "home", "end", "plus", "add", "minus", "subtract")
)

_BETWEEN = "  "
_MORE = "F1 more"
_DROPPED_FIRST = ("F3", "F12", "F2")
_SEARCH, _ACTIONS = "/ Search", "Ctrl+P Actions"
"""Actions whose keys are shown only if the bar needs no further row for them."""
_LEAST_FOR_TWO = 10
"""The fewest rows of a screen that may have two rows of keys."""


class BoundAction(NamedTuple):
    """An action of a screen, and the keys that run it."""

    words: str
    keys: list[str]
    """The names of its keys, as printed on a keyboard."""
    tooltip: str
    action: str
    """The action as Textual runs it on `node`."""
    node: DOMNode
    is_enabled: bool
    is_navigation: bool
    """True if its keys only move through the contents of the screen."""


class KeyItem(NamedTuple):
    """A key in the key bar, and the name of the action that it runs."""

    keys: str
    words: str

    @property
    def text(self) -> str:
        """The key and its action as the key bar shows them, such as "F1 Help"."""
        return f"{self.keys} {self.words}"


@runtime_checkable
class _SaysWhatIsUseful(Protocol):
    """A screen that decides which keys the key bar shows."""

    def is_useful(self, action: str) -> bool:
        """Return True if the key bar shows the key of `action` now."""


def key_words(binding: Binding) -> str:
    """Return the name of a binding's key as it is printed on a keyboard.

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
    """Return the name of a single key as it is printed on a keyboard. A letter becomes a capital.

    >>> key_name("pagedown"), key_name("b"), key_name("f8")
    ('PgDn', 'B', 'F8')
    """
    return key.upper() if len(key) == 1 else key_words(Binding(key, ""))


def bound_actions(screen: Screen[object]) -> list[BoundAction]:
    """Return those actions of a screen that have an explanation. Each action is listed once, with all its keys.

    The help page and the list of actions use this function.
    """
    actions: dict[tuple[str, str], BoundAction] = {}
    for key, active in screen.active_bindings.items():
        binding, named = active.binding, key_words(active.binding)
        if not binding.description or not (binding.show or binding.tooltip):
            continue
        bound = actions.setdefault(
            (binding.action, binding.description),
            BoundAction(
                binding.description,
                [],
                binding.tooltip,
                binding.action,
                active.node,
                active.enabled,
                key in _NAVIGATION and not binding.show,
            ),
        )
        if named not in bound.keys:
            bound.keys.append(named)
    return list(actions.values())


def key_items(screen: Screen[object]) -> list[KeyItem]:
    """Return the keys that do something on a screen now, one key for each action.

    The screen's own keys come first, then Esc, then the keys that work on every screen.
    """
    items: dict[str, tuple[int, KeyItem]] = {}
    for key, active in screen.active_bindings.items():
        binding, of_app = active.binding, active.node is screen.app
        if _is_typed(screen.focused, key) or not (binding.show and binding.description and active.enabled):
            continue
        # If both the screen and the program have a key for an action, the screen's key is shown.
        action = binding.action.removeprefix("app.")
        if not isinstance(screen, _SaysWhatIsUseful) or screen.is_useful(action):
            place = 2 if of_app or action in {"help", "search"} else 1 if binding.key == "escape" else 0
            items.setdefault(action, (place, KeyItem(key_words(binding), binding.description)))
    return [entry for _, entry in sorted(items.values(), key=itemgetter(0))]


def _is_typed(focused: Widget | None, key: str) -> bool:
    """Return True if a key types a character into the focused field."""
    return focused is not None and focused.check_consume_key(key, key_to_character(key))


def key_lines(items: Iterable[KeyItem], columns: int, rows: int) -> list[list[KeyItem]]:
    """Return keys arranged in at most `rows` rows of `columns` columns.

    If not all keys fit, the last entry refers to the help page instead.
    """
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
    """Return the keys for the key bar, arranged in at most `rows` rows of `columns` columns.

    If not all keys fit, keys that open other screens are left out first. The keys for the search and for the list of
    actions are included only if there is room.
    """
    every = list(items)
    kept = [item for item in every if item.text not in {_SEARCH, _ACTIONS}]
    lines = key_lines(kept, columns, rows)
    if lines[-1] and lines[-1][-1].text != _MORE:
        return _with_room(every, kept, lines, columns)
    for key in _DROPPED_FIRST:
        if not lines[-1] or lines[-1][-1].text != _MORE:
            break
        kept = [item for item in kept if item.keys != key]
        lines = key_lines(kept, columns, rows)
    return lines


def _with_room(
    every: Sequence[KeyItem], kept: Sequence[KeyItem], lines: list[list[KeyItem]], columns: int
) -> list[list[KeyItem]]:
    """Return `lines` with the keys for the search and for the list of actions added if there is room.

    `every` contains all keys, and `kept` the keys that are in `lines` now. Keys that open other pages are left out to
    make room for the search, because the search concerns the visible page.
    """
    shown = {item.text for item in kept}
    leads_away = [item.text for key in _DROPPED_FIRST for item in kept if item.keys == key]
    for added, given_up in [(_SEARCH, ""), *((_SEARCH, text) for text in leads_away), (_ACTIONS, "")]:
        tried = shown - {given_up} | {added}
        fuller = key_lines([item for item in every if item.text in tried], columns, len(lines))
        if added not in shown and fuller[-1] and fuller[-1][-1].text != _MORE:
            lines, shown = fuller, tried
    return lines


def _width(items: Iterable[KeyItem]) -> int:
    return sum(len(item.text) + len(_BETWEEN) for item in items)


class KeyBar(Widget):
    """Shows the keys that do something on its screen now, in at most two rows."""

    def __init__(self) -> None:
        super().__init__()
        self._items: list[KeyItem] | None = None
        """The keys that are shown; None before the first layout."""

    def on_mount(self) -> None:
        """Update the bar whenever the useful keys change."""
        self.screen.bindings_updated_signal.subscribe(self, self._changed)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the number of rows that the keys need."""
        # The screen itself has no size yet at its first layout.
        return len(self._lines(width, viewport.height))

    def render(self) -> Content:
        """Return the keys and their actions as text for the screen."""
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
        """Show the keys that do something now. Arrange them again only if they have changed."""
        if self.is_attached and screen is self.screen:
            items = key_items(screen)
            if items != self._items:
                self._items = items
                self.refresh(layout=True)
