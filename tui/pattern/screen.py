"""The screen of the pattern form: layers of circles, dots, slots and arcs, cut on a rotary table."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import chain
from typing import Any

from textual import on
from textual.binding import Binding
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Static

from core.operations.dividing.steps import Pace
from core.operations.form import Figure, Row
from core.operations.patterns.budget import budget_effects
from core.operations.patterns.effects import ERROR_KEYS, SetUpErrors, read_errors, set_up_effects
from core.operations.patterns.errors_drawn import PatternErrors
from core.operations.patterns.field_texts import solved_text
from core.operations.patterns.form_values import open_field_answer
from core.operations.patterns.geometry import Meeting
from core.operations.patterns.job import MOST_LAYERS
from core.operations.patterns.layers import PatternJob
from core.operations.patterns.setting_rows import place_steps, setting_row
from core.plan import Plan
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from tui.operation.divide_figures import WITH, Options, means_options, time_text
from tui.operation.form import OperationForm
from tui.operation.results import FIELDS, FIGURES, PICTURES, SETTINGS, STEPS
from tui.pattern import fields
from tui.pattern.errors import ERROR_KEYS as KEYS_FOR_ERRORS
from tui.pattern.errors import DrawsErrors
from tui.pattern.figures import cuts_text, layer_figures
from tui.pattern.form import CutterList, LayerList, PatternForm
from tui.widgets.column_table import Column, ColumnTable
from tui.widgets.line_list import LineList
from tui.widgets.pattern_sketch import PatternSketch

_LEGEND = (
    "To scale, seen on the face: 0 deg is at the right, and angles count anticlockwise. + is the work's centre, the "
    "broken circle is the blank, and 1 is the first position of each layer. Press Ctrl+W for wood or lines."
)
_MOST_CUTTERS = 40
_MANY_POSITIONS = 120
"""From this number of positions on, planning would delay the response to keys."""
_COLUMNS = (
    Column("layer", 5, rank=1),
    Column("no.", 4),
    Column("table, from zero", 18, rank=2, align="left"),
    Column("slide", 20, rank=3, align="left"),
    Column("to", 20, rank=4, align="left"),
    Column("angle", 11, rank=5),
    Column("head", 34, rank=6, align="left"),
)


class PatternScreen(DrawsErrors):
    """The screen with the form of one `pattern` operation."""

    HELP = (
        "This form plans a pattern: a cutter turns in the spindle, the rotary table divides the work, and a slide "
        "sets the offset. Fill in the layers one by one, each with its own shape, positions, cutter and depth. Press "
        "F6 to see figures, steps and the picture, F5 to start, or F4 to save."
    )
    MORE_HELP = (
        "The boring head cuts circles. For a dot, feed the cutter straight in. For a slot, feed the cutter in, then "
        "move the slide. For an arc, feed the cutter in, then turn the table.\n\n"
        "The lists show the pattern's own cutters and all layers. The fields below a list show the selected entry. "
        "In a list, press a to add an entry or x to delete the selected entry. Press b to move a layer up or n to "
        "move it down. A layer can also use a cutter of the lathe file.\n\n"
        "For circles, leave the count, the offset or the circle radius empty and choose a condition: neighbours that "
        "meet, an overlap, or a radius that the pattern must keep. The empty field shows the calculated value. Press "
        "= to fill it in.\n\n"
        "Under Depth, enter one depth, or a list that repeats round the layer, such as 0.6, 0.3, 0.3. In a list of "
        "depths, press < or > to change the depth at the cursor. Under Positions, enter coordinates such as 10, 0; "
        "-3, 12.5. Under Skipped, enter 4, 8, 12-15, or every 4th, or 3 cut, 2 skipped. The fields under What if "
        "change no setting. The figures show how such an error would change the grooves.\n\n"
        "The picture shows the entered errors. Press Ctrl+E to draw the errors larger, by a factor that the legend "
        "names. Press Ctrl+N to see the errors that remain after correction by the settings. Press Ctrl+T to copy "
        "the result of a runout check."
    )
    TERMS = (
        "arc second",
        "boring head",
        "circle radius",
        "condition",
        "land",
        "layer",
        "offset",
        "position",
        "rotary table",
    )
    LEGEND = _LEGEND
    PAGES = (FIELDS, FIGURES, SETTINGS, STEPS, PICTURES)
    BINDINGS = [
        Binding(
            "equals_sign,asterisk,multiply",
            "fill_in",
            "Fill in",
            key_display="=",
            priority=True,
            tooltip="Put the calculated value into the field.",
        ),
        *KEYS_FOR_ERRORS,
        Binding("ctrl+k", "kept", "Kept", tooltip="Keep this pattern, or open a kept pattern."),
        *(
            # Declared for the help page only: the lists handle these keys.
            Binding(key, f"{action}", words, key_display=key, show=False, tooltip=tooltip)
            for key, action, words, tooltip in (
                ("a", "add_layer", "Add", "In a list: add a layer or a cutter."),
                ("x", "remove_layer", "Delete", "In a list: delete the layer or cutter."),
                ("b", "shift_layer(-1)", "Move up", "In the list of layers: move the layer up."),
                ("n", "shift_layer(1)", "Move down", "In the list of layers: move the layer down."),
            )
        ),
    ]

    solvable = reactive(False, bindings=True)
    """True if an empty size of the selected layer was calculated."""

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form.

        `parameters`: a `pattern` operation's keys and values, which fill the fields; None for a new operation.
        """
        super().__init__("pattern", parameters)
        self._known_errors: PatternErrors | None = None

    def rows(self) -> Sequence[Row]:
        """Return no rows, because PatternForm determines its fields itself."""
        return ()

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the form that holds all cutters and layers of the pattern."""
        return PatternForm(self.context.lathe, table, (*ERROR_KEYS, fields.SEEN))

    @property
    def _form(self) -> PatternForm:
        return self.query_one(PatternForm)

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of fields that do not apply to the chosen shapes, positions and sizes."""
        return self._form.fit()

    def offers(self) -> Mapping[str, Options]:
        """Return the methods of setting the rotary table, exact methods first."""
        return {WITH: means_options(self.context.lathe, self.entered)} if isinstance(self.entered, PatternJob) else {}

    def plan_typed(self) -> None:
        """Calculate the size that is left empty, if possible; then read all fields and plan the operation."""
        form = self._form
        form.use(form.fit())
        form.answer, form.refusal = None, ""
        chosen = fields.conditions(form.present_layer.words)
        # Perhaps no whole count satisfies the condition exactly. So the largest count that fits is offered.
        wants_count = len(chosen) == 1 and chosen[0] in fields.MEETS and not form.present_layer.texts["count"].strip()
        if fields.CONDITION in form.present_layer.keys and (not chosen or wants_count):
            table = form.table()
            layer = {key: value for key, value in table["layer"][form.at].items() if key != "meet"}
            meeting: Meeting = "grooves" if chosen == ("grooves meet",) else "points"
            try:
                form.answer = open_field_answer(
                    meeting, layer, table, self.context.lathe.unit, self.context.lathe.cutters
                )
            except PlanError as error:
                form.refusal = "" if chosen else error.message
        super().plan_typed()
        self.solvable = bool(self._worked_out)

    @property
    def _worked_out(self) -> Mapping[str, str]:
        """The calculated values of the selected layer's empty sizes, as text for their fields, by key."""
        form = self._form
        if form.answer is not None:
            return {form.answer.key: form.answer.text}
        if not isinstance(self.entered, PatternJob) or not fields.conditions(form.present_layer.words):
            return {}
        layer, present, unit = self.entered.layers[form.at], form.present_layer, self.context.lathe.unit
        empty = [key for key in fields.SIZES if key in present.keys and not present.texts.get(key, "").strip()]
        return {key: solved_text(key, layer, unit) for key in empty}

    # Layers and cutters.

    def action_go(self, step: int) -> None:
        """Go to another field or row. In a list, immediately show the fields of the selected layer or cutter."""
        super().action_go(step)
        self._turn_to_pointed()

    @on(LineList.Moved, "#layers")
    @on(LineList.Moved, "#cutters")
    def _turn_to_pointed(self) -> None:
        form = self._form
        layer, cutter = self.query_one(LayerList).cursor, self.query_one(CutterList).cursor
        if layer != form.at and layer < len(form.layer_fields):
            form.turn_to(layer)
            self.judge()
        if cutter != form.cutter_at and cutter < len(form.cutters):
            form.turn_to_cutter(cutter)
            self.judge()

    def action_enter(self) -> None:
        """Add a layer or cutter in the last row of a list. Anywhere else, Enter works as in every form."""
        form, layers, cutters = self._form, self.query_one(LayerList), self.query_one(CutterList)
        if layers.has_focus and layers.cursor == len(form.layer_fields):
            self.action_add_layer()
            self.call_after_refresh(form.choices["shape"][1].focus)
        elif cutters.has_focus and cutters.cursor == len(form.cutters):
            self.action_add_cutter()
            self.call_after_refresh(form.entries["name"][1].focus)
        else:
            super().action_enter()

    def action_add_layer(self) -> None:
        """Add a copy of the selected layer, or say that no more layers are allowed."""
        if len(self._form.layer_fields) < MOST_LAYERS:
            self._form.add_layer()
            self._rearranged("")
        else:
            self.show_message(f"A pattern has at most {MOST_LAYERS} layers.")

    def action_remove_layer(self) -> None:
        """Delete the selected layer, or say that it is the only layer."""
        if len(self._form.layer_fields) == 1:
            self.show_message("This is the only layer. Change its fields instead.")
            return
        number = self._form.at + 1
        self._form.remove_layer()
        self._rearranged(f"Layer {number} has been deleted.")

    def action_shift_layer(self, step: int) -> None:
        """Swap the selected layer with the layer below (`step` 1) or above (-1)."""
        self._form.shift_layer(step)
        self._rearranged("")

    def action_add_cutter(self) -> None:
        """Add a cutter to this pattern, or say that no more cutters are allowed."""
        if len(self._form.cutters) < _MOST_CUTTERS:
            self._form.add_cutter()
            self._rearranged("")
        else:
            self.show_message(f"A pattern has at most {_MOST_CUTTERS} cutters of its own.")

    def action_remove_cutter(self) -> None:
        """Delete the selected cutter."""
        if self._form.cutters:
            self._form.remove_cutter()
            self._rearranged("The cutter has been deleted.")

    def _rearranged(self, words: str) -> None:
        self._unsaved = True
        self.show_message(words)
        self.judge()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether a key is shown. The key "Fill in" is shown only while there is a value to fill in."""
        if action == "fill_in":
            return self.solvable
        return super().check_action(action, parameters)

    def action_fill_in(self) -> None:
        """Fill the empty fields with the calculated values, and remove the conditions."""
        label = self._form.fill_in(self._worked_out)
        if label:
            self._rearranged(f"{label} has been filled in.")

    def _offered_actions(self) -> list[tuple[str, Callable[[], None]]]:
        return [*super()._offered_actions(), ("Keep this pattern, or open a kept one (Ctrl+K)", self.action_kept)]

    def action_kept(self) -> None:
        """Show the page of kept patterns. A pattern without errors can be kept there."""
        from tui.pattern.kept_screen import FormPattern, KeptScreen

        if not (self.ready or self.is_planning):
            refusal = f"The form's pattern cannot be kept yet. Close this page. {self.problem_words}"
            self.context.push_screen(KeptScreen(PatternScreen, refusal=refusal))
            return
        name = self.changing or self.suggested_name()
        table = {key: value for key, value in self.typed_table(name).items() if key not in {"kind", "name"}}
        self.context.push_screen(KeptScreen(PatternScreen, FormPattern(name, table)))

    # Figures and pictures.

    def suggested_name(self) -> str:
        """Return a name for the operation, with the numbers of its circles, dots, slots and arcs."""
        return f"Pattern of {cuts_text(self.entered)}" if isinstance(self.entered, PatternJob) else "Pattern"

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return the calculated values of the empty fields, by key, each with the key press that fills it in."""
        return {key: f"{text}: press =" for key, text in self._worked_out.items()}

    def summary(self, plan: Plan) -> str:
        """Return a sentence with the numbers of positions and cuts, and the time."""
        cuts = f"{plan.figures['passes']} cuts, " if "passes" in plan.figures else ""
        return f"{cuts_text(self.entered).capitalize()}, {cuts}{time_text(plan, self.context.lathe, self._pace)}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the figures of each layer, and figures for how neighbouring layers lie relative to each other."""
        return layer_figures(self.entered, plan, self.context.lathe, self._pace)

    @property
    def _pace(self) -> Pace | None:
        return self.context.log.pace(self.kind, self.context.lathe.name)

    @property
    def _errors(self) -> SetUpErrors:
        return read_errors(Table({**self._form.table(), **self._form.screen_table()}, "", []))

    @property
    def _pattern_errors(self) -> PatternErrors:
        """The errors of the entered pattern.

        The picture and the figures share this object, so that the cuts are computed only once.
        """
        job, lathe, wrong, known = self.entered, self.context.lathe, self._errors.wrong, self._known_errors
        if known is None or known.job is not job or known.lathe is not lathe or known.wrong != wrong:
            known = self._known_errors = PatternErrors(job, lathe, wrong)
        return known

    def _unread_errors(self) -> Iterator[Figure]:
        """Yield the "What if" fields that cannot be read, each with what to enter instead."""
        problems = list[Problem]()
        read_errors(Table(self._form.screen_table(), "", problems))
        for problem in problems:
            label = self._form.label_of(problem.key).strip()
            yield Figure(label, "not used", self._form.in_field_words(problem.message))

    def further_figures(self, plan: Plan) -> Sequence[Figure]:
        """Return the errors of the set-up and their effect on the grooves."""
        known, self.worked_ahead = self.worked_ahead, None
        return known if isinstance(known, list) else self.work_ahead()(plan)

    @property
    def takes_long(self) -> bool:
        """True if the pattern has so many positions that planning would delay the response to keys."""
        job = self.entered
        return isinstance(job, PatternJob) and sum(len(layer.positions) for layer in job.layers) > _MANY_POSITIONS

    def work_ahead(self) -> Callable[[Plan], list[Figure]]:
        """Return a function that calculates the effects of set-up errors and their picture.

        It runs in a worker thread.
        """
        job, errors, lathe, drawn = self.entered, self._errors, self.context.lathe, self._pattern_errors
        unread, view = list(self._unread_errors()), self.query_one(PatternSketch).errors_view

        def figures(plan: Plan) -> list[Figure]:
            drawn.prepare(view)
            effects = chain(
                budget_effects(job, lathe, errors.seen_mm), drawn.effects(), set_up_effects(job, errors, lathe)
            )
            return [*unread, *(Figure(*effect) for effect in effects)]

        return figures

    def tables(self) -> Sequence[ColumnTable]:
        """Return the page that lists the settings of every position."""
        return (ColumnTable(_COLUMNS, id=SETTINGS),)

    def pictures(self) -> Sequence[Widget]:
        """Return the drawing and its legend."""
        return (PatternSketch(id="pattern"), Static(_LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Draw the pattern of the present plan, and list its settings."""
        steps, lathe = [] if self.plan is None else place_steps(self.plan.steps), self.context.lathe
        self.query_one(ColumnTable).show_rows(len(steps), lambda index: setting_row(steps[index], lathe))
        # A thread that plans also makes the picture. No older picture is shown meanwhile.
        self.show_errors(None if self.plan is None else self._pattern_errors)
