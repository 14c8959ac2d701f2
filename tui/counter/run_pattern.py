"""The picture of a run's pattern next to the counter.

It shows how far each position is cut, and the present position.
"""

from collections.abc import Callable, Mapping

from textual.geometry import Size

from core.events.state import Revision, State
from core.lathe.lathe import dial_words
from core.operations.patterns.picture import PatternPicture
from core.operations.registry import PlanInput, finds_cuts_again, picture_of
from core.plan import Step
from core.run.cut_progress import ProgressTracker
from tui.counter.picture_panel import ASCII_LEGEND, ASCII_WOOD_LEGEND, LEGEND, NO_ROOM, WOOD_LEGEND, widest
from tui.terminal import terminal_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.pattern_sketch import PatternSketch

_ALWAYS_FROM = 100
"""The smallest screen width [columns] at which the picture is shown next to the number without a key."""
_FACE_COLUMNS = 56
"""The columns of the number and its text next to the picture, on a wide screen."""
_LEAST_FACE, _LEAST_PICTURE = 38, 20
"""The fewest columns for the text and the fewest for the picture, side by side on a smaller screen."""


class RunPattern(PatternSketch):
    """The picture of a pattern at the right of the counter.

    On a screen that is too narrow for both the text and the picture, the picture fills the screen.
    """

    DEFAULT_CSS = """
    RunPattern { dock: right; height: 100%; display: none; }
    """

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._asked: bool | None = None
        """True if the user showed the picture with a key, False if the user hid it, None without a key."""
        self._pattern: PatternPicture | None = None
        self._plan_input: PlanInput | None = None
        self._radii: Mapping[int, frozenset[float]] | None = None
        """The circle radii of each layer [mm]; None until the first use."""
        self._follower = ProgressTracker()
        self._known_revisions: tuple[Revision, ...] = ()
        self._drawn_as_cut: PatternPicture | None = None
        """The picture with every misplaced cut where it really is, after these revisions of the run."""
        self._known_changing: tuple[tuple[Step, ...], int, frozenset[str]] = ((), 0, frozenset())
        """The steps and the layer of the last call of `changing`, and its result."""
        self._fitted_to = Size()
        """The size of the screen when the picture was last fitted."""
        self._narrowest = 0
        """The picture's smallest width so far at a position [columns]. It keeps its width from position to position."""

    def draws(self, plan_input: PlanInput) -> bool:
        """Return whether the operation has a pattern that can be drawn."""
        if plan_input is not self._plan_input:
            self._plan_input, self._pattern = plan_input, picture_of(plan_input)
            self._known_revisions, self._drawn_as_cut, self._radii = (), None, None
        return self._pattern is not None

    def show_run(self, plan_input: PlanInput, state: State, words_fit: Callable[[int], bool]) -> None:
        """Draw how far each position of the pattern is cut, if the user asked for the picture or there is room for it.

        `words_fit`: a function that returns whether the step's text fits a given width [columns].
        """
        self._fit(plan_input, state, words_fit)
        if self.display:
            self.show_pattern(self._as_cut(plan_input, state), self._follower.progress(state))

    def _as_cut(self, plan_input: PlanInput, state: State) -> PatternPicture | None:
        """Return the picture of the pattern, with every misplaced cut where it really is; None without a pattern."""
        if self._pattern is None or not finds_cuts_again(plan_input.kind) or state.revisions == self._known_revisions:
            return self._drawn_as_cut or self._pattern
        from core.run.cut_places import moved_cuts

        moved = moved_cuts(plan_input, state)
        self._known_revisions = state.revisions
        self._drawn_as_cut = self._pattern.with_moved(moved.at_mm, moved.cut_again)
        return self._drawn_as_cut

    def show_whole(self, plan_input: PlanInput, state: State) -> None:
        """Show the pattern alone on the whole screen."""
        if self.draws(plan_input) and (picture := self._as_cut(plan_input, state)) is not None:
            from tui.widgets.picture_keys import show_picture

            screen = self.screen
            assert isinstance(screen, BaseScreen)
            show_picture(screen, screen.title or "", picture, self._follower.progress(state), self)

    def held(self, plan_input: PlanInput, state: State) -> str:
        """Return a sentence that names the dials to leave alone while this layer is cut; "" between layers."""
        if not self.draws(plan_input) or self._pattern is None:
            return ""
        # A run without a pattern starts sooner without the modules of layers.
        from core.run.unchanged_settings import layer_at_hand, unchanged_words

        layer = layer_at_hand(state)
        if layer is None:
            return ""
        changing = self._changing_at(state, layer)
        radii = self._radii_of(plan_input, layer)
        return unchanged_words(plan_input.lathe, state, radii.pop() if len(radii) == 1 else 0.0, changing)

    def _radii_of(self, plan_input: PlanInput, layer: int) -> set[float]:
        """Return the circle radii [mm] that the user asked for in a layer.

        The picture has slightly different radii, which lie on marks of the boring head.
        """
        if self._radii is None:
            from core.run.unchanged_settings import radii_asked_mm

            self._radii = radii_asked_mm(plan_input)
        if self._radii or self._pattern is None:
            return set(self._radii.get(layer, ()))
        return {cut.radius_mm for cut in self._pattern.cuts}

    def changing(self, state: State) -> frozenset[str]:
        """Return the names of the dials whose setting differs from position to position of the present layer."""
        from core.run.unchanged_settings import layer_at_hand

        layer = layer_at_hand(state)
        return frozenset() if layer is None else frozenset(map(dial_words, self._changing_at(state, layer)))

    def _changing_at(self, state: State, layer: int) -> frozenset[str]:
        from core.operations.patterns.setting_rows import changing_dials

        steps, known_layer, changing = self._known_changing
        if steps is not state.steps or known_layer != layer:
            changing = changing_dials(
                step for step in state.steps if step.at.layer == layer and step.at.position is not None
            )
            self._known_changing = state.steps, layer, changing
        return changing

    def _fit(self, plan_input: PlanInput, state: State, words_fit: Callable[[int], bool]) -> None:
        """Give the picture the room that the text leaves. Hide the picture if the text leaves too little room.

        `words_fit`: a function that returns whether the step's text fits a given width [columns].
        """
        screen_size = self.screen.size
        wide = screen_size.width >= _ALWAYS_FROM
        self.display = self.draws(plan_input) and (wide if self._asked is None else self._asked)
        if not self.display:
            return
        if screen_size != self._fitted_to:
            self._fitted_to, self._narrowest = screen_size, screen_size.width
        rows = self.screen.query_one("#body").size.height
        most = min(2 * rows, screen_size.width - (_FACE_COLUMNS if wide else _LEAST_FACE))
        if most < _LEAST_PICTURE:
            self.styles.width = screen_size.width
            return
        width = widest(min(most, self._narrowest), _LEAST_PICTURE, screen_size.width, words_fit)
        self.display = width is not None or wide
        self.styles.width = most if width is None else width
        if width is not None and state.cursor is not None and state.cursor.at.position is not None:
            self._narrowest = width

    @property
    def crowds(self) -> bool:
        """True if the picture leaves so little room that the text has to be shortened."""
        return self.display and self.screen.size.width < _ALWAYS_FROM

    @property
    def columns(self) -> int:
        """The width of the picture in columns; 0 while it is hidden."""
        width = self.styles.width if self.display else None
        return 0 if width is None else int(width.value)

    @property
    def legend(self) -> str:
        """The legend of the picture, which explains its signs, in characters that this terminal has."""
        plain = terminal_of(self.app).dots == "ascii"
        if self.as_wood and self.can_be_wood:
            return ASCII_WOOD_LEGEND if plain else WOOD_LEGEND
        return ASCII_LEGEND if plain else LEGEND

    def switch(self, show: Callable[[], None]) -> str:
        """Show the picture if it is hidden, otherwise hide it. `show`: a function that arranges the screen again.

        Return a message: the legend, or the reason why the picture is not shown; "" if the picture was hidden.
        """
        self._asked = not self.display
        self._fitted_to = Size()
        show()
        if self._asked and not self.display:
            return f"{NO_ROOM} Press . to see the pattern alone."
        return self.legend if self.display else ""
