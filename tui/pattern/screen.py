"""The pattern form: circles cut by a cutter that turns in the spindle, with the work offset on the rotary table."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from textual import on
from textual.binding import Binding
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Static

from core.lathe.lathe import CARRIAGE, dial_words
from core.operations.form import MATERIAL, Choice, Entry, Figure, Row
from core.operations.patterns.effects import ERROR_KEYS, SetUpErrors, read_errors, set_up_effects
from core.operations.patterns.form_values import open_field_answer
from core.operations.patterns.geometry import Meeting
from core.operations.patterns.job import MOST_LAYERS
from core.operations.patterns.layers import PatternJob
from core.operations.registry import picture_from
from core.plan import Plan
from core.values.errors import PlanError
from core.values.fields import Table
from tui.operation.divide_figures import WITH, Options, means_choice, means_options
from tui.operation.form import OperationForm
from tui.operation.results import FIELDS, FIGURES, PICTURES, STEPS
from tui.operation.screen import OperationScreen
from tui.pattern.figures import circles_text, layer_figures, time_text
from tui.pattern.form import A_LENGTH, MEETING, MEETS, RADIUS_IS, LayerFields, LayerList, PatternForm
from tui.widgets.line_list import LineList
from tui.widgets.pattern_sketch import PatternSketch

_MEETINGS: Mapping[str, Meeting] = {**MEETS, "meet at centre": "centre"}
_LEGEND = "To scale, seen on the work's face. 1: first circle of each layer; they count anticlockwise. +: table's axis."
_FILL_IN = "=*"
_entry = partial(Entry, leave_out=_FILL_IN)
"""A field that only this screen has: the key that fills in a value is never typed into it."""


class PatternScreen(OperationScreen):
    """The form of one `pattern` operation."""

    HELP = (
        "This form plans a pattern of circles: a cutter turns in the spindle, and the rotary table divides the work, "
        "offset by the cross-slide. Fill in one layer after the other; each has its own count, offset and radius. "
        "F6 shows figures and the picture, F5 starts, F4 saves."
    )
    MORE_HELP = (
        "The list shows all layers, the fields below it one of them. In the list a adds a layer, x deletes one, "
        "b and n move it up or down.\n\n"
        "Leave one of circles, offset and radius empty: the value at which neighbours' points or grooves meet, or all "
        'circles meet at the centre, is in the field. = puts it in. Radius "points meet" follows the other two '
        "as you change them.\n\n"
        "Skipped: 4, 8, 12-15, or every 4th, or 3 cut, 2 skipped. The errors at the end change no setting: the figures "
        "say what each would do to the grooves. A wide tip clears much and gives little detail; an acute one "
        "gives fine lines."
    )
    TERMS = ("arc second", "boring head", "circle radius", "layer", "offset", "position", "rotary table")
    PAGES = (FIELDS, FIGURES, STEPS, PICTURES)
    BINDINGS = [
        Binding(
            "equals_sign,asterisk,multiply",
            "fill_in",
            "Fill in",
            key_display="=",
            priority=True,
            tooltip="Put the value that was worked out into the empty field (* too).",
        ),
        *(
            # Declared for the help page only: the list of layers handles these keys.
            Binding(key, f"{action}", words, key_display=key, show=False, tooltip=tooltip)
            for key, action, words, tooltip in (
                ("a", "add_layer", "Add layer", "In the list of layers: add one like this."),
                ("x", "remove_layer", "Delete layer", "In the list of layers: delete this one."),
                ("b", "shift_layer(-1)", "Move up", "In the list of layers: move this one up."),
                ("n", "shift_layer(1)", "Move down", "In the list of layers: move this one down."),
            )
        ),
    ]

    solvable = reactive(False, bindings=True)
    """Whether one quantity of the present layer is empty and can be worked out."""

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """`parameters`: the table of a `pattern` operation to start from."""
        super().__init__("pattern", parameters)

    def rows(self) -> Sequence[Row]:
        """Return the questions in the order in which a turner asks."""
        unit = self.context.lathe.unit
        usual = SetUpErrors()
        say = self.context.lathe.length_text
        return (
            "The cutter's point, and the work",
            _entry(key="tip_angle", label="Tip angle, included", unit="deg", hint="(not set)"),
            _entry(key="tip_flat", label="Flat at the tip", unit=unit, hint="(sharp)"),
            _entry(key="blank_diameter", label="Diameter of the blank", unit=unit, hint="(not set)"),
            _entry(key="height_error", label="Table axis too high by", unit=unit, hint="(0)"),
            _entry(key="face_runout", label="Face runs out by", unit=unit, hint="(not measured)"),
            _entry(key="face_radius", label="  read at a radius of", unit=unit, hint="(each layer's)"),
            MATERIAL,
            "The layers",
            *self._of_one_layer(unit),
            "How they are set",
            means_choice(self.context.lathe, self.initial.get(WITH)),
            "How deep at a time",
            Choice(key="depth_dial", label="Depth is set on", options=self._depth_dials()),
            Choice(
                key="order",
                label="Deeper",
                options=(("round by round", self.initial.get("order") and "round"), ("each at once", "position")),
            ),
            "What if (errors of the set-up)",
            _entry(key="table_runout", label="Rim runs out by", unit=unit, hint=f"({say(usual.table_tir_mm)})"),
            _entry(key="position_error", label="One position off by", unit="arcmin", hint="(1')"),
            _entry(key="tilt", label="Axes out of parallel by", unit="deg", hint=f"({usual.tilt_deg:g} deg)"),
        )

    def _of_one_layer(self, unit: str) -> tuple[Row, ...]:
        radius = tuple((words, None) for words in (A_LENGTH, *MEETS))
        return (
            _entry(key="count", label="Circles", whole=True, required=True),
            _entry(key="offset", label="Offset", unit=unit, required=True),
            Choice(key=RADIUS_IS, label="Circle radius is", options=radius, start=self._first_radius()),
            _entry(key="circle_radius", label="Circle radius", unit=unit, required=True),
            Choice(key=MEETING, label="One left empty, so that", options=tuple((words, None) for words in _MEETINGS)),
            _entry(key="start", label="First circle at", unit="deg", hint="(0°)"),
            _entry(key="depth", label="Depth", unit=unit, hint="(not set)"),
            _entry(key="cut", label="Deepest cut", unit=unit, hint="(all at once)"),
            _entry(key="skip", label="Skipped", hint="(none)"),
        )

    def _first_radius(self) -> str:
        layers = [layer for layer in self.initial.get("layer", ()) if isinstance(layer, Mapping)]
        return LayerFields.of(layers[0]).radius_is if layers else A_LENGTH

    def _depth_dials(self) -> tuple[tuple[str, str | None], ...]:
        names = sorted(self.context.lathe.dials, key=lambda name: name != CARRIAGE)
        return tuple((dial_words(name), name) for name in names) or (("none", None),)

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return fields that hold all layers."""
        return PatternForm(self.rows(), table, ERROR_KEYS)

    @property
    def _form(self) -> PatternForm:
        return self.query_one(PatternForm)

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the fields that do not apply: a radius that follows from the others, cuts without a depth."""
        touching = form.chosen(RADIUS_IS) != A_LENGTH
        table = form.table()
        deep = any("depth" in layer for layer in table["layer"])
        unused = {"circle_radius", MEETING} if touching else set()
        if "depth" not in table["layer"][self._form.at]:
            unused.add("cut")
        if form.entries["face_runout"][1].value is None:
            unused.add("face_radius")
        return unused | (set() if deep else {"depth_dial", "order"})

    def offers(self) -> Mapping[str, Options]:
        """Return the ways to set the table, exact ones first."""
        return {WITH: means_options(self.context.lathe, self.entered)} if isinstance(self.entered, PatternJob) else {}

    def plan_typed(self) -> None:
        """Work out the quantity left empty, then read and plan."""
        form, table = self._form, self._form.table()
        form.answer, form.refusal = None, ""
        if form.chosen(RADIUS_IS) == A_LENGTH:
            meeting = _MEETINGS[form.chosen(MEETING)]
            try:
                form.answer = open_field_answer(meeting, table["layer"][form.at], table, self.context.lathe.unit)
            except PlanError as error:
                form.refusal = error.message
        self.solvable = form.answer is not None
        super().plan_typed()

    # Layers.

    def action_go(self, step: int) -> None:
        """Go to another field or line; in the list of layers show the fields of that layer at once."""
        super().action_go(step)
        self._turn_to_pointed()

    @on(LineList.Moved, "#layers")
    def _turn_to_pointed(self) -> None:
        form, pointed = self._form, self.query_one(LayerList).cursor
        if pointed != form.at and pointed < len(form.layer_fields):
            form.turn_to(pointed)
            self.judge()

    def action_enter(self) -> None:
        """On the line after the layers, add a layer. Otherwise do what Enter does in every form."""
        layers = self.query_one(LayerList)
        if layers.has_focus and layers.cursor == len(self._form.layer_fields):
            self.action_add_layer()
            self._form.entries["count"][1].focus()
        else:
            super().action_enter()

    def action_add_layer(self) -> None:
        """Add a layer like the present one."""
        if len(self._form.layer_fields) < MOST_LAYERS:
            self._form.add_layer()
            self._rearranged("")
        else:
            self.show_message(f"A pattern has at most {MOST_LAYERS} layers.")

    def action_remove_layer(self) -> None:
        """Delete the present layer."""
        if len(self._form.layer_fields) == 1:
            self.show_message("This is the only layer. Change its fields instead.")
            return
        number = self._form.at + 1
        self._form.remove_layer()
        self._rearranged(f"Layer {number} is deleted.")

    def action_shift_layer(self, step: int) -> None:
        """Swap the present layer with the one above or below."""
        self._form.shift_layer(step)
        self._rearranged("")

    def _rearranged(self, words: str) -> None:
        self._unsaved = True
        self.show_message(words)
        self.judge()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Show the key that fills in only while there is something to fill in."""
        if action == "fill_in":
            return self.solvable
        return super().check_action(action, parameters)

    def action_fill_in(self) -> None:
        """Put the value that was worked out into its field."""
        label = self._form.fill_in()
        if label:
            self._rearranged(f"{label} is filled in.")

    # Figures and pictures.

    def suggested_name(self) -> str:
        """Return how many circles there are, layer by layer."""
        return f"Pattern of {circles_text(self.entered)} circles" if isinstance(self.entered, PatternJob) else "Pattern"

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return no hints: the form shows its own in every field."""
        return {}

    def summary(self, plan: Plan) -> str:
        """Return the numbers of circles and cuts, and the time, in a sentence."""
        cuts = f"{plan.figures['passes']} cuts, " if "passes" in plan.figures else ""
        return f"{circles_text(self.entered)} circles, {cuts}{time_text(plan)}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the figures of each layer, and how the layers lie relative to each other."""
        return layer_figures(self.entered, plan, self.context.lathe)

    @property
    def _errors(self) -> SetUpErrors:
        return read_errors(Table({**self._form.table(), **self._form.screen_table()}, "", []))

    def further_figures(self, plan: Plan) -> Iterator[Figure]:
        """Return how errors of the set-up change the grooves."""
        return (Figure(*effect) for effect in set_up_effects(self.entered, self._errors, self.context.lathe))

    def pictures(self) -> Sequence[Widget]:
        """Return the drawing, and its legend."""
        return (PatternSketch(id="pattern"), Static(_LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Draw the pattern that is planned now."""
        self.query_one(PatternSketch).show_pattern(None if self.plan is None else picture_from(self.kind, self.entered))
