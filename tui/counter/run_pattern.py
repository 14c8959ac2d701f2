"""The picture of a run's pattern next to its counter: how far each position is cut, and the present position."""

from collections.abc import Mapping

from core.events.state import Revision, State
from core.lathe.lathe import dial_words
from core.operations.patterns.picture import PatternPicture
from core.operations.registry import PlanInput, finds_cuts_again, picture_of
from core.plan import Step
from core.run.cut_progress import ProgressTracker
from tui.counter.picture_panel import ASCII_LEGEND, ASCII_WOOD_LEGEND, LEGEND, WOOD_LEGEND
from tui.terminal import terminal_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.pattern_sketch import PatternSketch

_ALWAYS_FROM = 100
"""The least screen width [columns] at which the picture is shown next to the number without a key."""
_FACE_COLUMNS = 56
"""The columns of the number and its words next to the picture, on a wide screen."""
_LEAST_FACE, _LEAST_PICTURE = 38, 20
"""The fewest columns for words and the fewest for the picture, side by side on a smaller screen."""


class RunPattern(PatternSketch):
    """The picture at the right of the counter.

    If there is no room for both words and picture, the picture fills the screen.
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
        """The picture with every wrong cut where it really is, after these revisions of the run."""
        self._known_changing: tuple[tuple[Step, ...], int, frozenset[str]] = ((), 0, frozenset())
        """The steps and the layer of the last call of `changing`, and its result."""

    def draws(self, plan_input: PlanInput) -> bool:
        """Return whether an operation has a pattern that can be drawn."""
        if plan_input is not self._plan_input:
            self._plan_input, self._pattern = plan_input, picture_of(plan_input)
            self._known_revisions, self._drawn_as_cut, self._radii = (), None, None
        return self._pattern is not None

    def show_run(self, plan_input: PlanInput, state: State) -> None:
        """Draw how far each position is cut. The picture is visible if the user asked for it or there is room."""
        self.fit(plan_input)
        if self.display:
            self.show_pattern(self._as_cut(plan_input, state), self._follower.progress(state))

    def _as_cut(self, plan_input: PlanInput, state: State) -> PatternPicture | None:
        """Return the picture of the pattern, with every wrong cut where it really is; None without a pattern."""
        if self._pattern is None or not finds_cuts_again(plan_input.kind) or state.revisions == self._known_revisions:
            return self._drawn_as_cut or self._pattern
        from core.run.cut_places import moved_cuts

        moved = moved_cuts(plan_input, state)
        self._known_revisions = state.revisions
        self._drawn_as_cut = self._pattern.with_moved(moved.at_mm, moved.cut_again)
        return self._drawn_as_cut

    def show_whole(self, plan_input: PlanInput, state: State) -> None:
        """Open the pattern on a separate screen."""
        if self.draws(plan_input) and (picture := self._as_cut(plan_input, state)) is not None:
            from tui.widgets.picture_keys import show_picture

            screen = self.screen
            assert isinstance(screen, BaseScreen)
            show_picture(screen, screen.title or "", picture, self._follower.progress(state), self)

    def held(self, plan_input: PlanInput, state: State) -> str:
        """Return a sentence that names the dials to leave alone while the current layer is cut."""
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
        """Return the circle radii [mm] that a layer asks for. The picture has the radii that the head's marks allow."""
        if self._radii is None:
            from core.run.unchanged_settings import radii_asked_mm

            self._radii = radii_asked_mm(plan_input)
        if self._radii or self._pattern is None:
            return set(self._radii.get(layer, ()))
        return {cut.radius_mm for cut in self._pattern.cuts}

    def changing(self, state: State) -> frozenset[str]:
        """Return the names of the dials that the present layer sets differently from position to position."""
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

    def fit(self, plan_input: PlanInput) -> None:
        """Give the picture the room that the screen has now."""
        columns, rows = self.screen.size.width, self.screen.query_one("#body").size.height
        wide = columns >= _ALWAYS_FROM
        self.display = self.draws(plan_input) and (wide if self._asked is None else self._asked)
        beside = min(2 * rows, columns - (_FACE_COLUMNS if wide else _LEAST_FACE))
        self.styles.width = beside if beside >= _LEAST_PICTURE else columns

    @property
    def crowds(self) -> bool:
        """True if the picture leaves little room for words."""
        return self.display and self.screen.size.width < _ALWAYS_FROM

    @property
    def columns(self) -> int:
        """How many columns the picture takes; 0 while it is hidden."""
        width = self.styles.width if self.display else None
        return 0 if width is None else int(width.value)

    @property
    def legend(self) -> str:
        """The legend of the picture, in characters that this terminal has."""
        plain = terminal_of(self.app).dots == "ascii"
        if self.as_wood and self.can_be_wood:
            return ASCII_WOOD_LEGEND if plain else WOOD_LEGEND
        return ASCII_LEGEND if plain else LEGEND

    def switch(self) -> None:
        """Show the picture if it is hidden; hide the picture if it is visible."""
        self._asked = not self.display
