"""The fields of a pattern: those of all layers, a list of the layers, and one layer's fields at a time."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from core.operations.form import Row
from core.operations.patterns.form_values import FieldAnswer, read_skip
from core.operations.patterns.geometry import Meeting
from core.values.errors import PlanError
from core.values.fields import Problem
from core.values.plain_text import clean
from tui.operation.form import OperationForm
from tui.widgets.line_list import LineList

LAYER_ENTRIES = ("count", "offset", "circle_radius", "start", "depth", "cut", "skip")
_CUTTER_ENTRIES = ("tip_angle", "tip_flat")
_NAME_OF_CUTTER = "cutter"
RADIUS_IS, MEETING = "radius_is", "meeting"
A_LENGTH = "a length"
MEETS: Mapping[str, Meeting] = {"points meet": "points", "grooves meet": "grooves"}
"""What may define the radius, by the words of its choice."""
_LAYER_KEYS = (*LAYER_ENTRIES, RADIUS_IS, MEETING)


@dataclass(frozen=True)
class LayerFields:
    """One layer as its fields hold it."""

    texts: Mapping[str, str] = field(default_factory=dict)
    """The text of each field."""
    radius_is: str = A_LENGTH
    table: Mapping[str, Any] = field(default_factory=dict)
    """The layer's table as a job file holds it."""

    @classmethod
    def of(cls, table: Mapping[str, Any]) -> "LayerFields":
        """Return the fields of a layer from its table in a job file."""
        texts = {key: str(table[key]) for key in LAYER_ENTRIES if key in table}
        skip = table.get("skip")
        if isinstance(skip, list | tuple):
            texts["skip"] = ", ".join(str(number) for number in skip)
        radius_is = next((words for words, meet in MEETS.items() if meet == table.get("meet")), A_LENGTH)
        return cls(texts, radius_is, dict(table))

    @property
    def words(self) -> str:
        """The layer in a line."""
        table = self.table
        radius = self.radius_is if "meet" in table else f"radius {table.get('circle_radius', '?')}"
        parts = [f"{table.get('count', '?')} at {table.get('offset', '?')}, {radius}"]
        parts += [f"from {table['start']}"] if "start" in table else []
        parts += [f"{table['depth']} deep"] if "depth" in table else []
        skip = table.get("skip")
        parts += [f"{len(skip)} skipped"] if isinstance(skip, list) and skip else []
        return clean(", ".join(parts), 200)


class LayerList(LineList):
    """The layers, one a line, followed by a line that adds one. Up and Down leave the list at its ends."""

    BINDINGS = [
        Binding("a,insert", "screen.add_layer", "Add", show=False),
        Binding("x,delete", "screen.remove_layer", "Remove", show=False),
        Binding("less_than_sign,comma,b", "screen.shift_layer(-1)", "Earlier", show=False),
        Binding("greater_than_sign,full_stop,n", "screen.shift_layer(1)", "Later", show=False),
    ]

    def action_move(self, step: int) -> None:
        """Go up or down, and out at either end."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        elif step > 0 and self.cursor == self.count - 1:
            self.screen.focus_next()
        else:
            super().action_move(step)


class PatternForm(OperationForm):
    """Holds every layer. The fields are those of the layer that the list points at."""

    DEFAULT_CSS = """
    PatternForm #layer-keys { height: 1; color: $text-muted; }
    """

    def __init__(self, rows: Sequence[Row], table: Mapping[str, Any], screen_keys: Collection[str]) -> None:
        """`screen_keys`: fields that are for the screen alone and not in the operation's table."""
        given = [LayerFields.of(layer) for layer in table.get("layer", ()) if isinstance(layer, Mapping)]
        self.layer_fields: list[LayerFields] = given or [LayerFields()]
        self.at = 0
        self.answer: FieldAnswer | None = None
        """The value worked out for the one field that is left empty."""
        self.refusal = ""
        """Why no value fits in the empty field."""
        self._screen_keys = frozenset(screen_keys)
        self._wrong: set[int] = set()
        self._listed: tuple[str, list[str]] | None = None
        cutters = [cutter for cutter in table.get("cutter", ()) if isinstance(cutter, Mapping)]
        cutter = cutters[0] if cutters else {}
        self._name_of_cutter = str(cutter.get("name", _NAME_OF_CUTTER))
        point = {key: cutter[key] for key in _CUTTER_ENTRIES if key in cutter}
        own = {key: value for key, value in table.items() if key not in {"layer", "cutter"}}
        super().__init__(rows, {**own, **point, **self.layer_fields[0].texts})

    def compose(self) -> ComposeResult:
        """The fields, with the list of layers before those of one layer."""
        for widget in super().compose():
            if widget is self.entries["count"][1]:
                yield LayerList(id="layers")
                yield Static("  a add, x delete, b move up, n move down", id="layer-keys", markup=False)
                yield Static(id="which", classes="heading", markup=False)
            yield widget

    def on_mount(self) -> None:
        """List the layers."""
        self.list_layers()

    # What the fields say.

    def table(self) -> dict[str, Any]:
        """Return the operation's table, its cutter and every layer in it."""
        self.hold()
        said = super().table()
        aside = {*_LAYER_KEYS, *_CUTTER_ENTRIES, *self._screen_keys}
        own = {key: value for key, value in said.items() if key not in aside} | {"layer_order": "written"}
        if point := {key: said[key] for key in _CUTTER_ENTRIES if key in said}:
            own["cutter"] = [{"name": self._name_of_cutter, **point}]
        return {**own, "layer": [dict(layer.table) for layer in self.layer_fields]}

    def screen_table(self) -> dict[str, Any]:
        """Return the values of the fields that are for the screen alone."""
        return {key: value for key, value in super().table().items() if key in self._screen_keys}

    def hold(self) -> None:
        """Store the fields of the present layer in the list of layers."""
        said = super().table()
        table = {"shape": "circles"} | {key: said[key] for key in LAYER_ENTRIES if key in said}
        radius_is = self.chosen(RADIUS_IS)
        if radius_is != A_LENGTH:
            table["meet"] = MEETS[radius_is]
        if "skip" in table:
            # Otherwise core refuses the text itself; the message beside the field says what to type.
            with suppress(PlanError):
                table["skip"] = self._skip(table)
        texts = {key: self.entries[key][1].text for key in LAYER_ENTRIES}
        self.layer_fields[self.at] = LayerFields(texts, radius_is, table)

    @staticmethod
    def _skip(table: Mapping[str, Any]) -> list[int]:
        count = table.get("count")
        return list(read_skip(str(table["skip"]), count if isinstance(count, int) else 9999))

    def missing(self) -> list[str]:
        """Return the labels of the fields to fill in. If a field's value can be worked out, add that value."""
        open_label = self.label_of(self.answer.key) if self.answer else None
        return [
            f"{label} (press = for {self.answer.text}: {self.answer.note})"
            if self.answer and label == open_label
            else label
            for label in super().missing()
        ]

    def hint(self, hints: Mapping[str, str]) -> None:
        """Show in empty fields the values that are used, and the one that was worked out."""
        solved = {self.answer.key: f"{self.answer.text}: press ="} if self.answer else {}
        super().hint({**hints, **solved})

    def show_problems(self, problems: Iterable[Problem]) -> list[Problem]:
        """Show problems beside the fields of the present layer. Return the others, with the numbers of their layers."""
        here: list[Problem] = []
        elsewhere: list[Problem] = []
        self._wrong = set()
        for problem in problems:
            layer = _layer_of(problem)
            if layer is not None:
                self._wrong.add(layer)
            if layer is None or layer == self.at + 1:
                here.append(self._in_own_words(problem))
            else:
                message = f"{self.label_of(problem.key)}: {problem.message}"
                elsewhere.append(Problem(where="", key=f"layer {layer}", message=message))
        unshown = super().show_problems(here)
        if self.refusal:
            unshown.append(Problem(where="", key="no value fits", message=self.refusal))
        self.list_layers()
        return [*unshown, *elsewhere]

    def _in_own_words(self, problem: Problem) -> Problem:
        if problem.key == "meet":
            return problem._replace(key="circle_radius")
        said = OperationForm.table(self)
        if problem.key != "skip" or "skip" not in said:
            return problem
        try:
            self._skip(said)
        except PlanError as error:
            return problem._replace(message=error.message)
        return problem

    # The layers.

    def list_layers(self) -> None:
        """Show the list of layers."""
        if not self.is_mounted:
            return
        layers = [
            f"{number}: {'! ' if number in self._wrong else ''}{layer.words}"
            for number, layer in enumerate(self.layer_fields, start=1)
        ]
        which = f"Layer {self.at + 1} of {len(self.layer_fields)}"
        if (which, layers) != self._listed:
            # Another list lays out the whole screen, which a key in a field need not wait for.
            self._listed = which, layers
            self.query_one(LayerList).show([*layers, "Add a layer like this one"])
            self.query_one("#which", Static).update(Content(which))

    def turn_to(self, index: int) -> None:
        """Show another layer in the fields."""
        self.hold()
        self._show_layer(index)

    def add_layer(self) -> None:
        """Add a copy of the present layer after it, and go there."""
        self.hold()
        self.layer_fields.insert(self.at + 1, self.layer_fields[self.at])
        self._show_layer(self.at + 1)

    def remove_layer(self) -> None:
        """Delete the present layer, unless it is the only one."""
        if len(self.layer_fields) > 1:
            del self.layer_fields[self.at]
            self._show_layer(min(self.at, len(self.layer_fields) - 1))

    def shift_layer(self, step: int) -> None:
        """Swap the present layer with the one above or below."""
        self.hold()
        other = self.at + step
        if 0 <= other < len(self.layer_fields):
            self.layer_fields[self.at], self.layer_fields[other] = self.layer_fields[other], self.layer_fields[self.at]
            self._show_layer(other)

    def fill_in(self) -> str:
        """Put the value that was worked out into its field. Return the field's label."""
        if self.answer is None:
            return ""
        entry = self.entries[self.answer.key][1]
        entry.text = self.answer.text
        entry.focus()
        return self.label_of(self.answer.key)

    def _show_layer(self, index: int) -> None:
        self.at = index
        layer = self.layer_fields[index]
        for key in LAYER_ENTRIES:
            self.entries[key][1].text = layer.texts.get(key, "")
        self.choices[RADIUS_IS][1].value = layer.radius_is
        self.list_layers()
        self.query_one(LayerList).cursor = index


def _layer_of(problem: Problem) -> int | None:
    """Return the number of the layer that a problem is about; None if it is about all layers."""
    for text in (problem.where.rpartition(", ")[2], problem.message.partition(":")[0]):
        word, _, number = text.partition(" ")
        if word == "layer" and number.isdecimal():
            return int(number)
    return None
