"""The pattern screen: circles cut by a cutter turning in the spindle, the work offset on the rotary table."""

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
from core.operations.patterns.job import MOST_LAYERS, PatternJob
from core.operations.patterns.picture import picture_from
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
from tui.widgets.pattern_picture import PatternSketch

_MEETINGS: Mapping[str, Meeting] = {**MEETS, "meet at centre": "centre"}
_LEGEND = (
    "To scale, as seen on the work's face. 1: the first circle of each layer; counted anticlockwise. +: table's axis."
)
_FILL_IN = "=*"
_entry = partial(Entry, leave_out=_FILL_IN)
"""A field of this screen's own: the key that fills in is never typed there."""


class PatternScreen(OperationScreen):
    """Makes up one `pattern` operation."""

    HELP = (
        "The cutter turns in the spindle on a radius; the work sits on the rotary table, its axis offset by the "
        "cross-slide, and is divided. Each layer has its own count, offset and radius; the list shows all layers, the "
        "fields below it those of one: a adds a layer, x takes one away, b and n move it before or behind.\n\n"
        "Leave one of circles, offset and radius empty: what it must be so that neighbours' points or grooves meet, or "
        'all circles meet at the centre, stands in the field; = puts it in. Radius "points meet" follows the other two '
        "as you change them.\n\n"
        "Skipped: 4, 8, 12-15, or every 4th, or 3 cut, 2 skipped. The errors at the end are only reckoned with: the "
        "figures say what each would do to the grooves. A wide tip clears much and gives little detail, an acute one "
        "gives fine lines."
    )
    PAGES = (FIELDS, FIGURES, STEPS, PICTURES)
    BINDINGS = [
        Binding(
            "equals_sign,asterisk,multiply",
            "fill_in",
            "Fill in",
            key_display="=",
            priority=True,
            tooltip="Put what was worked out into the field that was left open; * does so too.",
        ),
        *(
            # Said here for the help page; the list of layers takes them.
            Binding(key, f"{action}", words, key_display=key, show=False, tooltip=tooltip)
            for key, action, words, tooltip in (
                ("a", "add_layer", "Add layer", "In the list of layers: add one like the one pointed at."),
                ("x", "remove_layer", "Remove layer", "In the list of layers: take this one away."),
                ("b", "shift_layer(-1)", "Before", "In the list of layers: move this one before the one above."),
                ("n", "shift_layer(1)", "Behind", "In the list of layers: move this one behind the one below."),
            )
        ),
    ]

    solvable = reactive(False, bindings=True)
    """One quantity of the layer at hand was left open, and can be worked out."""

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """`parameters`: the table of a `pattern` operation to begin with."""
        super().__init__("pattern", parameters)

    def rows(self) -> Sequence[Row]:
        """Return the questions in the order in which a turner asks."""
        unit = self.context.lathe.unit
        usual = SetUpErrors()
        say = self.context.lathe.length_text
        return (
            "The cutter's point, and the work",
            _entry(key="tip_angle", label="Tip angle, included", unit="deg", hint="(not given)"),
            _entry(key="tip_flat", label="Flat at the tip", unit=unit, hint="(sharp)"),
            _entry(key="blank_diameter", label="Diameter of the blank", unit=unit, hint="(not given)"),
            _entry(key="height_error", label="Table axis too high by", unit=unit, hint="(level)"),
            _entry(key="face_runout", label="Face runs out by", unit=unit, hint="(not read)"),
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
            "What if (errors to reckon with)",
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
            _entry(key="depth", label="Depth", unit=unit, hint="(not given)"),
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
        """Return the radius where it follows from the others, and how deep where no layer has a depth."""
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
        """Return the means to set the table by, exact ones first."""
        return {WITH: means_options(self.context.lathe, self.entered)} if isinstance(self.entered, PatternJob) else {}

    def plan_typed(self) -> None:
        """Work out what was left open, then read and plan."""
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
        """Go on as everywhere; in the list of layers its fields follow before the next key is looked at."""
        super().action_go(step)
        self._turn_to_pointed()

    @on(LineList.Moved, "#layers")
    def _turn_to_pointed(self) -> None:
        form, pointed = self._form, self.query_one(LayerList).cursor
        if pointed != form.at and pointed < len(form.held_layers):
            form.turn_to(pointed)
            self.judge()

    def action_enter(self) -> None:
        """On the line behind the layers add one; else go on as everywhere."""
        layers = self.query_one(LayerList)
        if layers.has_focus and layers.cursor == len(self._form.held_layers):
            self.action_add_layer()
            self._form.entries["count"][1].focus()
        else:
            super().action_enter()

    def action_add_layer(self) -> None:
        """Add a layer like the one at hand."""
        if len(self._form.held_layers) < MOST_LAYERS:
            self._form.add_layer()
            self._rearranged("")
        else:
            self.say(f"There are {MOST_LAYERS} layers already, which is the most.")

    def action_remove_layer(self) -> None:
        """Take the layer at hand away."""
        if len(self._form.held_layers) == 1:
            self.say("The only layer stays; change its fields.")
            return
        number = self._form.at + 1
        self._form.remove_layer()
        self._rearranged(f"Layer {number} was taken away.")

    def action_shift_layer(self, step: int) -> None:
        """Move the layer at hand before or behind its neighbour."""
        self._form.shift_layer(step)
        self._rearranged("")

    def _rearranged(self, words: str) -> None:
        self._unkept = True
        self.say(words)
        self.judge()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Show the key that fills in only while there is something to fill in."""
        if action == "fill_in":
            return self.solvable
        return super().check_action(action, parameters)

    def action_fill_in(self) -> None:
        """Put what was worked out into its field."""
        label = self._form.fill_in()
        if label:
            self._rearranged(f"{label} is filled in.")

    # What comes of it.

    def suggested_name(self) -> str:
        """Return how many circles there are, layer by layer."""
        return f"Pattern of {circles_text(self.entered)} circles" if isinstance(self.entered, PatternJob) else "Pattern"

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return nothing: every hint stands already."""
        return {}

    def summary(self, plan: Plan) -> str:
        """Return circles, cuts, time."""
        cuts = f"{plan.figures['passes']} cuts, " if "passes" in plan.figures else ""
        return f"{circles_text(self.entered)} circles, {cuts}{time_text(plan)}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return how each layer comes out, and how layers lie to each other."""
        return layer_figures(self.entered, plan, self.context.lathe)

    @property
    def _errors(self) -> SetUpErrors:
        return read_errors(Table({**self._form.table(), **self._form.screen_table()}, "", []))

    def further_figures(self, plan: Plan) -> Iterator[Figure]:
        """Return what errors do to what is seen."""
        return (Figure(*effect) for effect in set_up_effects(self.entered, self._errors, self.context.lathe))

    def pictures(self) -> Sequence[Widget]:
        """Return the pattern, and what it shows."""
        return (PatternSketch(id="pattern"), Static(_LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Draw the pattern that is planned now."""
        self.query_one(PatternSketch).show_pattern(None if self.plan is None else picture_from(self.kind, self.entered))
