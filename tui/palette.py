"""The list of all actions that a screen offers now.

The user types words to narrow the list. Enter runs the selected action. Textual's own command list is not used: its
answers arrive one by one, so Enter could run another action than the user read. It also shows characters that console
fonts lack.
"""

from collections.abc import Sequence
from typing import Any

from textual import on
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.dom import DOMNode
from textual.screen import Screen
from textual.widgets import Input

from core.values.plain_text import clean
from tui.context import context_of
from tui.glyphs import cut, glyphs_of
from tui.key_queue import TakesPedal
from tui.presses import COUNT_KEYS
from tui.widgets.key_bar import BoundAction, bound_actions
from tui.widgets.line_list import LineList
from tui.widgets.plain_input import PlainInput
from tui.widgets.question import QuestionScreen
from tui.widgets.search_line import Sought

_OWN = "palette"
_GAP = 2
_NO_ACTION = "No action has these words. Change the words, or press Esc."


def actions_now(screen: Screen[Any]) -> list[BoundAction]:
    """Return the present actions of a screen, the screen's own actions first.

    Keys that only scroll are not included.
    """
    useful = getattr(screen, "is_useful", lambda action: True)
    offered = [
        bound
        for bound in bound_actions(screen)
        if bound.is_enabled
        and not bound.is_navigation
        and bound.action != _OWN
        and _exists(bound)
        and useful(bound.action.removeprefix("app."))
    ]
    return sorted(offered, key=lambda bound: bound.node is screen.app or bound.action == "search")


def _exists(bound: BoundAction) -> bool:
    """Return True if Textual can run an action. A key such as a digit that starts a number has no action to run."""
    path, _, _ = bound.action.partition("(")
    owner, _, name = path.rpartition(".")
    node: DOMNode = {"app": bound.node.app, "screen": bound.node.screen}.get(owner, bound.node)
    return hasattr(node, f"action_{name}") or hasattr(node, f"_action_{name}")


def counting_actions(screen: Screen[Any]) -> frozenset[str]:
    """Return the actions that count passes on a screen. The list shows these actions but refuses to run them.

    Otherwise an Enter that is held while the list closes would count a pass that nobody has cut.
    """
    if not isinstance(screen, TakesPedal):
        return frozenset()
    active = screen.active_bindings
    return frozenset(active[key].binding.action for key in (*COUNT_KEYS, screen.pedal_key) if key in active)


class ActionList(LineList):
    """The rows of actions, each with name, keys and explanation. The selection stays visible while the user types."""

    can_focus = False
    can_search = False

    def __init__(self) -> None:
        super().__init__()
        self.actions: Sequence[BoundAction] = ()

    @property
    def is_pointing(self) -> bool:
        """True, so that the selection is always visible."""
        return True

    def show_actions(self, actions: Sequence[BoundAction]) -> None:
        """Show these actions and select the first one."""
        self.actions = actions
        self.set_count(len(actions))
        self.cursor = 0

    def line(self, index: int, columns: int) -> Content:
        """Return the row for one action."""
        glyphs, action = glyphs_of(self.app), self.actions[index]
        names = max(len(each.words) for each in self.actions) + _GAP
        keys = max(len(_keys(each)) for each in self.actions) + _GAP
        words, room = glyphs.text(clean(action.tooltip)), max(columns - names - keys, 0)
        if len(words) > room and ". " in words:
            # The first sentence says what the action does. The help page has the other sentences.
            words = f"{words.partition('. ')[0]}."
        words = cut(words, room, glyphs["ellipsis"])
        return Content.assemble(f"{action.words:<{names}}", (f"{_keys(action):<{keys}}", "bold"), words)


class PaletteScreen(QuestionScreen[BoundAction]):
    """Asks which action of a screen to run."""

    HELP = (
        "This list contains the actions that the page below offers now, with their keys. Type words to shorten "
        "the list. Enter runs the selected action."
    )
    BINDINGS = [
        Binding("enter", "choose", "Do it", tooltip="Run the selected action."),
        Binding("down", "move(1)", "Next", show=False, tooltip="Select the next action."),
        Binding("up", "move(-1)", "Previous", show=False, tooltip="Select the previous action."),
    ]

    def __init__(self, about: Screen[Any]) -> None:
        super().__init__("What do you want to do?")
        self._actions, self._counting = actions_now(about), counting_actions(about)
        self._entry = PlainInput(placeholder="type words", leave_out="*")

    def compose_answer(self) -> ComposeResult:
        """Yield the field for words, and the list of matching actions."""
        yield self._entry
        yield ActionList()

    def on_mount(self) -> None:
        """Show every action."""
        self._entry.focus()
        self._narrow("")

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._narrow(event.value)

    def _narrow(self, typed: str) -> None:
        """Show the actions that contain all typed words. Actions with these words in their names come first."""
        sought = Sought(typed)
        named = [bound for bound in self._actions if sought.is_in(bound.words)]
        others = [bound for bound in self._actions if bound not in named and sought.is_in(_words(bound))]
        listed = [*named, *others] if typed.strip() else self._actions
        self.query_one(ActionList).show_actions(listed)
        self.show_refusal("" if listed else _NO_ACTION)

    def action_choose(self) -> None:
        """Run the selected action, after the keys typed just before have reached the field."""
        context_of(self).keys.after_refresh(self, self._choose)

    def _choose(self) -> None:
        listed = self.query_one(ActionList)
        if not listed.actions:
            self.show_refusal(_NO_ACTION)
        elif (chosen := listed.actions[listed.cursor]).action in self._counting:
            self.show_refusal(f"This list counts no pass. Press Esc, then {_keys(chosen)}.")
        else:
            self.give(chosen)

    def action_move(self, step: int) -> None:
        """Move the selection to another action."""
        self.query_one(ActionList).action_move(step)

    def action_scroll_known(self, pages: int) -> None:
        """Scroll the actions by a page."""
        self.query_one(ActionList).action_page(pages)


def _keys(bound: BoundAction) -> str:
    return " or ".join(bound.keys)


def _words(bound: BoundAction) -> str:
    return f"{bound.words} {_keys(bound)} {bound.tooltip}"


def open_palette(app: App[Any]) -> None:
    """Ask which action of the top screen to run, and run it."""
    context_of(app).ask_in_turn(_open(app))


async def _open(app: App[Any]) -> None:
    chosen = await context_of(app).ask(PaletteScreen(app.screen))
    if chosen is not None:
        # Textual checks again whether the action is enabled, as for its key.
        await app.run_action(chosen.action, chosen.node)
