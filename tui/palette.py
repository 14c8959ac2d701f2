"""The list of all actions that a screen offers now.

The user types words to narrow the list, and Enter runs the selected action. Textual's own command list is not used,
because its results arrive one by one, so that Enter could run an action that the user has not read. Textual's list also
shows characters that console fonts lack.
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

from tui.context import context_of
from tui.key_queue import TakesPedal
from tui.presses import COUNT_KEYS
from tui.widgets.key_bar import BoundAction, bound_actions
from tui.widgets.line_list import LineList
from tui.widgets.plain_input import PlainInput
from tui.widgets.question import QuestionScreen, Sentence
from tui.widgets.search_line import Sought

_OWN = "palette"
_GAP = 2
_NO_ACTION = "No action contains these words. Change the words, or press Esc."


def actions_now(screen: Screen[Any]) -> list[BoundAction]:
    """Return the actions that a screen offers now, the screen's own actions first.

    Actions that only scroll the screen are left out.
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
    """Return True if Textual has a method for the action.

    A key such as a digit that starts a number has no such method.
    """
    path, _, _ = bound.action.partition("(")
    owner, _, name = path.rpartition(".")
    node: DOMNode = {"app": bound.node.app, "screen": bound.node.screen}.get(owner, bound.node)
    return hasattr(node, f"action_{name}") or hasattr(node, f"_action_{name}")


def counting_actions(screen: Screen[Any]) -> frozenset[str]:
    """Return the actions that count passes on a screen. The list of actions shows them but refuses to run them.

    Otherwise an Enter key that is held while the list closes would count a pass that nobody has cut.
    """
    if not isinstance(screen, TakesPedal):
        return frozenset()
    active = screen.active_bindings
    return frozenset(active[key].binding.action for key in (*COUNT_KEYS, screen.pedal_key) if key in active)


class PaletteList(LineList):
    """The rows of actions, each with its name and keys. The selection stays visible while the user types."""

    can_focus = False
    can_search = False

    def __init__(self) -> None:
        super().__init__()
        self.actions: Sequence[BoundAction] = ()

    @property
    def is_pointing(self) -> bool:
        """Always True, because the selection is visible while the field has the focus."""
        return True

    def show_actions(self, actions: Sequence[BoundAction]) -> None:
        """Show `actions` and select the first action."""
        self.actions = actions
        self.set_count(len(actions))
        self.cursor = 0

    def line(self, index: int, columns: int) -> Content:
        """Return the row for the action with this index: its name and its keys."""
        names = max(len(each.words) for each in self.actions) + _GAP
        return Content.assemble(f"{self.actions[index].words:<{names}}", (_keys(self.actions[index]), "bold"))


class PaletteScreen(QuestionScreen[BoundAction]):
    """A question that asks which action of a screen to run."""

    HELP = (
        "This list shows the actions of the page from which you opened it, with their keys. Type words to shorten "
        "the list. The selected action is explained below the list, and Enter runs it."
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
        """Yield the search field, the list of matching actions, and the explanation of the selected action."""
        yield self._entry
        yield PaletteList()
        yield Sentence("", id="explanation")

    def on_mount(self) -> None:
        """Focus the search field and list every action."""
        self._entry.focus()
        self._narrow("")

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._narrow(event.value)

    @on(LineList.Moved)
    def _explain(self) -> None:
        """Show the explanation of the selected action."""
        listed = self.query_one(PaletteList)
        self.query_one("#explanation", Sentence).show(listed.actions[listed.cursor].tooltip if listed.actions else "")

    def _narrow(self, typed: str) -> None:
        """List the actions whose names, keys or explanations contain all typed words.

        Actions with all the words in their names come first.
        """
        sought = Sought(typed)
        named = [bound for bound in self._actions if sought.is_in(bound.words)]
        others = [bound for bound in self._actions if bound not in named and sought.is_in(_words(bound))]
        listed = [*named, *others] if typed.strip() else self._actions
        self.query_one(PaletteList).show_actions(listed)
        self._explain()
        self.show_refusal("" if listed else _NO_ACTION)

    def action_choose(self) -> None:
        """Run the selected action after all typed characters have reached the field."""
        context_of(self).keys.after_refresh(self, self._choose)

    def _choose(self) -> None:
        listed = self.query_one(PaletteList)
        if not listed.actions:
            self.show_refusal(_NO_ACTION)
        elif (chosen := listed.actions[listed.cursor]).action in self._counting:
            self.show_refusal(f"You cannot count a pass from this list. Press Esc, then {_keys(chosen)}.")
        else:
            self.give(chosen)

    def action_move(self, step: int) -> None:
        """Move the selection by `step` actions."""
        self.query_one(PaletteList).action_move(step)

    def action_scroll_known(self, pages: int) -> None:
        """Move the selection by `pages` pages."""
        self.query_one(PaletteList).action_page(pages)


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
