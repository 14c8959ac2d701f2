"""The pattern form: the lists of cutters and layers, the fields of the selected ones, and all other fields."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from core.lathe.lathe import Lathe
from core.operations.form import MATERIAL, Choice, Row
from core.operations.patterns.form_values import FieldAnswer
from core.values.errors import PlanError
from core.values.fields import Problem
from tui.glyphs import glyphs_of
from tui.operation.form import FormState, OperationForm
from tui.pattern import fields
from tui.pattern.records import CutterFields, LayerFields, names_of
from tui.widgets.lathe_sides import sides_picture
from tui.widgets.line_list import LineList

_OF_ONE = frozenset({*fields.LAYER_ENTRIES, *fields.LAYER_CHOICES, *fields.CUTTER_KEYS, fields.NOSE})
"""The keys of the fields that show one layer or one cutter."""


def _list_keys(what: str) -> list[BindingType]:
    return [
        Binding("a,insert", f"screen.add_{what}", "Add", show=False),
        Binding("x,delete", f"screen.remove_{what}", "Remove", show=False),
    ]


class RecordList(LineList):
    """A list of layers or cutters, one in each row. The last row adds a layer or cutter.

    The Up key in the first row and the Down key in the last row leave the list.
    """

    def action_move(self, step: int) -> None:
        """Move the selection up or down. From the first or the last row, leave the list."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        elif step > 0 and self.cursor == self.count - 1:
            self.screen.focus_next()
        else:
            super().action_move(step)


class LayerList(RecordList):
    """The list of the pattern's layers."""

    BINDINGS = [
        *_list_keys("layer"),
        Binding("less_than_sign,comma,b", "screen.shift_layer(-1)", "Earlier", show=False),
        Binding("greater_than_sign,full_stop,n", "screen.shift_layer(1)", "Later", show=False),
    ]


class CutterList(RecordList):
    """The list of the pattern's own cutters."""

    BINDINGS = _list_keys("cutter")


class PatternForm(OperationForm):
    """The fields of a pattern. The form holds all cutters and layers, and shows the selected cutter and layer."""

    DEFAULT_CSS = """
    PatternForm #sides { height: auto; margin-left: 2; color: $text-muted; }
    PatternForm .list-keys { height: 1; color: $text-muted; }
    """

    def __init__(self, lathe: Lathe, table: Mapping[str, Any], screen_keys: Collection[str]) -> None:
        """Make the fields, filled in from `table`, an operation's keys and values.

        `screen_keys`: the keys of fields that exist only on screen and are not saved in the job.
        """
        self.lathe, self._given = lathe, table
        cutters = [CutterFields.of(one) for one in table.get("cutter", ()) if isinstance(one, Mapping)]
        is_new = not table.get("layer")
        self.cutters: list[CutterFields] = cutters or ([CutterFields.of({})] if is_new and not lathe.cutters else [])
        refs = dict(zip(names_of(cutters), (cutter.ref for cutter in cutters), strict=True))
        layers = [LayerFields.of(layer, refs) for layer in table.get("layer", ()) if isinstance(layer, Mapping)]
        self.layer_fields: list[LayerFields] = layers or [LayerFields()]
        self.at, self.cutter_at = 0, 0
        self.answer: FieldAnswer | None = None
        """The value calculated for the one size that is left empty."""
        self.refusal = ""
        """The reason why no value fits the empty size."""
        self._screen_keys = frozenset(screen_keys)
        self._wrong: set[int] = set()
        self._listed: dict[str, tuple[str, list[str]]] = {}
        whole = {key: value for key, value in table.items() if key not in {"layer", "cutter", "name"}}
        whole |= {key: str(whole[key]).lower() for key in fields.FLAGS if isinstance(whole.get(key), bool)}
        first, point = self.layer_fields[0], self.cutters[0] if self.cutters else CutterFields()
        words = {**first.words, **point.words}
        rows: list[Row] = [
            "The work and the pattern's own cutters",
            fields.blank_row(lathe.unit),
            MATERIAL,
            *_started(fields.cutter_rows(lathe.unit), words),
            "The layers",
            *_started(fields.layer_rows(lathe.unit), words),
            *fields.whole_rows(lathe, whole | {"layer": table.get("layer")}),
        ]
        super().__init__(rows, {**whole, **point.texts, **first.texts})
        self._offer_cutters()

    def compose(self) -> ComposeResult:
        """Yield the fields, with the lists of cutters and layers before the fields of one cutter and one layer."""
        for widget in super().compose():
            if widget is self.entries["name"][1]:
                yield CutterList(id="cutters")
            if widget is self.choices["shape"][1]:
                yield LayerList(id="layers")
                yield Static("  a add, x delete, b move up, n move down", classes="list-keys", markup=False)
                yield Static(id="which", classes="heading", markup=False)
            yield widget
            if widget is self.choices["offset_side"][1]:
                yield Static(id="sides", markup=False)

    def on_mount(self) -> None:
        """List the cutters and the layers."""
        self.list_all()

    # From fields to keys and values.

    def table(self) -> dict[str, Any]:
        """Return the operation's keys and values, with the pattern's own cutters and every layer."""
        self.hold()
        said = super().table()
        aside = _OF_ONE | self._screen_keys
        whole = {key: value for key, value in said.items() if key not in aside}
        whole |= {key: whole[key] == "true" for key in fields.FLAGS if key in whole}
        names, unit = self._own_names, self.lathe.unit
        if cutters := [cutter.table(names[cutter.ref], unit) for cutter in self.cutters if cutter.ref in names]:
            whole["cutter"] = cutters
        return {**whole, "layer": [layer.table(unit, names) for layer in self.layer_fields]}

    def screen_table(self) -> dict[str, Any]:
        """Return the keys and values of the fields that exist only on screen."""
        return {key: value for key, value in super().table().items() if key in self._screen_keys}

    @property
    def present_layer(self) -> LayerFields:
        """The selected layer, which the fields show."""
        return self.layer_fields[self.at]

    @property
    def _own_names(self) -> dict[str, str]:
        """The names of the pattern's own cutters that are filled in, by the cutters' internal references."""
        return {
            cutter.ref: name
            for cutter, name in zip(self.cutters, names_of(self.cutters), strict=True)
            if not cutter.is_empty
        }

    def hold(self) -> None:
        """Copy the contents of the fields to the selected layer and cutter in the lists."""
        texts = {key: self.entries[key][1].text for key in fields.LAYER_ENTRIES}
        words = {key: self.chosen(key) for key in fields.LAYER_CHOICES if key != "cutter"}
        row, choice = self.choices["cutter"]
        words["cutter"] = row.options[choice.index][1] or ""
        self.layer_fields[self.at] = replace(self.present_layer, texts=texts, words=words)
        if self.cutters:
            point = {key: self.entries[key][1].text for key in fields.CUTTER_KEYS}
            held = replace(self.cutters[self.cutter_at], texts=point, words={fields.NOSE: self.chosen(fields.NOSE)})
            self.cutters[self.cutter_at] = held

    def state(self) -> FormState:
        """Return every layer, every cutter and the fields of the whole pattern, to restore them later."""
        self.hold()
        # A field that was never filled in has no text, or an empty text after it was shown.
        records = tuple(
            tuple(replace(one, texts={key: text for key, text in one.texts.items() if text}) for one in held)
            for held in (self.layer_fields, self.cutters)
        )
        state = super().state()
        texts = {key: text for key, text in state.texts.items() if key not in _OF_ONE}
        chosen = {key: words for key, words in state.chosen.items() if key not in _OF_ONE}
        return FormState(texts, chosen, records, shown=(self.at, self.cutter_at))

    def restore(self, state: FormState) -> None:
        """Put back every layer, every cutter and the fields of the whole pattern from an earlier state."""
        layers, cutters = state.records
        self.layer_fields, self.cutters = list(layers), list(cutters)
        super().restore(state)
        at, cutter_at = state.shown
        self._show_layer(at)
        self._show_cutter(cutter_at)

    def place_of(self, key: str) -> str:
        """Return a field's label for use in a sentence.

        The label of a layer's field follows the number of the layer.
        """
        label = super().place_of(key)
        return f"Layer {self.at + 1}, {label[:1].lower()}{label[1:]}" if key in fields.LAYER_ENTRIES else label

    def fit(self) -> set[str]:
        """Mark required fields and offer the cutters to choose from. Return the keys of fields that do not apply."""
        self.hold()
        self._offer_cutters()
        sides = sides_picture(self.chosen("offset_side") == fields.FAR)
        self.query_one("#sides", Static).update(Content(glyphs_of(self.app).text("\n".join(sides))))
        layer, table = self.present_layer, super().table()
        keys = layer.keys
        if len(self.choices["cutter"][0].options) <= 2 and not layer.words["cutter"]:
            keys.discard("cutter")
        keys |= self.cutters[self.cutter_at].keys if self.cutters else set()
        has_depth = any(one.texts.get("depth", "").strip() for one in self.layer_fields)
        kept = {key for key in ("order", "correct") if key in self._given}
        needed = fields.needed_keys(layer.words, layer.texts)
        if self.cutters and not self.cutters[self.cutter_at].is_empty:
            needed |= {"tip_angle", "tip_flat", "tip_radius"} & keys
        if any(digit in str(table.get("eccentricity", "")) for digit in "123456789"):
            needed.add("eccentric_at")
        for key, (row, entry) in self.entries.items():
            if row.required != (key in needed):
                wanted = row._replace(required=key in needed)
                self.entries[key] = (wanted, entry)
                self.rows = tuple(wanted if other is row else other for other in self.rows)
                entry.require(wanted.required)
        return (set(_OF_ONE) - keys) | (fields.whole_unused(table, has_depth) - kept)

    def missing(self) -> list[str]:
        """Return the labels of empty required fields. A value that can be calculated is added in brackets."""
        open_key = self.answer.key if self.answer else None
        return [
            f"{row.label.strip()} (press = for {self.answer.text}: {self.answer.note})"
            if self.answer and row.key == open_key
            else row.label.strip()
            for row, entry in self.entries.values()
            if row.required and entry.display and not entry.value
        ]

    def hint(self, hints: Mapping[str, str]) -> None:
        """Show a hint in each empty field.

        The hint is the value that applies if the field stays empty, or the value calculated for the field.
        """
        solved = {self.answer.key: f"{self.answer.text}: press ="} if self.answer else {}
        super().hint({**hints, **solved})

    # Problems.

    def show_problems(self, problems: Iterable[Problem]) -> list[Problem]:
        """Show problems beside the fields of the selected layer and cutter.

        Return the problems that cannot be shown there. Those of another layer or cutter name this layer or cutter.
        """
        here: list[Problem] = []
        elsewhere: list[Problem] = []
        self._wrong = set()
        for problem in problems:
            what, number = _place_of(problem)
            if what == "layer":
                self._wrong.add(number)
            if not what or number == self._shown_number(what):
                here.append(self._in_own_words(problem, what, number))
            else:
                message = f"{self.label_of(problem.key).strip()}: {self._in_own_words(problem, what, number).message}"
                elsewhere.append(Problem(where="", key=f"{what} {number}", message=message))
        unshown = super().show_problems(here)
        if self.refusal:
            unshown.append(Problem(where="", key="no value fits", message=self.in_field_words(self.refusal)))
        self.list_all()
        return [*unshown, *elsewhere]

    def _shown_number(self, what: str) -> int:
        """Return the number of the selected layer, or of the selected cutter among the filled-in cutters."""
        if what == "layer":
            return self.at + 1
        return sum(not cutter.is_empty for cutter in self.cutters[: self.cutter_at + 1])

    def in_field_words(self, message: str) -> str:
        """Return a message in which the names of fields and conditions replace the keys of a job file."""
        words = {key: choice for choice, key in fields.CONDITIONS.items()}
        words |= {key: self.label_of(key).strip() for key in ("count", "offset", "spread")}
        chosen = self.layer_fields[self.at].words if self.layer_fields else {}
        words["meet"] = next((one for one in chosen.values() if one in fields.MEETS), next(iter(fields.MEETS)))
        for key, name in words.items():
            message = message.replace(f'"{key}"', f'"{name}"')
        return super().in_field_words(message)

    def _in_own_words(self, problem: Problem, what: str, number: int) -> Problem:
        """Return a problem in the words of its field.

        A problem of the condition `meet` moves to the field that it can fill.
        """
        if what != "layer" or number > len(self.layer_fields):
            return problem
        layer = self.layer_fields[number - 1]
        if problem.key == "meet":
            empty = [key for key in fields.SIZES if not layer.texts.get(key, "").strip()]
            return problem._replace(key=(empty or ["circle_radius"])[-1])
        if layer.texts.get(problem.key, "").strip():
            try:
                layer.value(problem.key, self.lathe.unit)
            except PlanError as error:
                return problem._replace(message=error.message)
        return problem

    # The lists.

    def list_all(self) -> None:
        """Show the lists of cutters and layers as they are now."""
        if not self.is_mounted:
            return
        names = dict(zip((cutter.ref for cutter in self.cutters), names_of(self.cutters), strict=True))
        layers = [
            f"{number}: {'! ' if number in self._wrong else ''}{layer.line(self.lathe.unit, self._own_names)}"
            for number, layer in enumerate(self.layer_fields, start=1)
        ]
        which = f"Layer {self.at + 1} of {len(self.layer_fields)}"
        self._show_list(LayerList, which, [*layers, "Add a layer like this one"])
        cutters = [cutter.line(names[cutter.ref], self.lathe.unit) for cutter in self.cutters]
        self._show_list(CutterList, "", [*cutters, "Add a cutter"])
        self.query_one("#which", Static).update(Content(which))

    def _show_list(self, kind: type[RecordList], which: str, lines: list[str]) -> None:
        # A changed list makes Textual arrange the whole screen. Keys in a field must not wait for that.
        if self._listed.get(kind.__name__) != (which, lines):
            self._listed[kind.__name__] = which, lines
            self.query_one(kind).show(lines)

    def turn_to(self, index: int) -> None:
        """Show the layer at an index in the fields."""
        self.hold()
        self._show_layer(index)

    def add_layer(self) -> None:
        """Add a copy of the selected layer after it, and select the copy."""
        self.hold()
        self.layer_fields.insert(self.at + 1, self.present_layer)
        self._show_layer(self.at + 1)

    def remove_layer(self) -> None:
        """Delete the selected layer, unless it is the only layer."""
        if len(self.layer_fields) > 1:
            del self.layer_fields[self.at]
            self._show_layer(min(self.at, len(self.layer_fields) - 1))

    def shift_layer(self, step: int) -> None:
        """Swap the selected layer with the layer below (`step` 1) or above (-1)."""
        self.hold()
        other = self.at + step
        if 0 <= other < len(self.layer_fields):
            self.layer_fields[self.at], self.layer_fields[other] = self.layer_fields[other], self.layer_fields[self.at]
            self._show_layer(other)

    def turn_to_cutter(self, index: int) -> None:
        """Show the cutter at an index in the fields."""
        self.hold()
        self._show_cutter(index)

    def add_cutter(self) -> None:
        """Add a cutter and select it. Before a second cutter is added, layers without a cutter get the first one."""
        self.hold()
        if len(self.cutters) == 1:
            only = self.cutters[0].ref
            self._change_layers(lambda ref: ref or only)
        self.cutters.append(CutterFields.of({}))
        self._show_cutter(len(self.cutters) - 1)

    def remove_cutter(self) -> None:
        """Delete the selected cutter. Layers that named this cutter then name none."""
        if self.cutters:
            self.hold()
            gone = self.cutters.pop(self.cutter_at).ref
            self._change_layers(lambda ref: "" if ref == gone else ref)
            self._show_cutter(max(min(self.cutter_at, len(self.cutters) - 1), 0))

    def _change_layers(self, other_ref: Callable[[str], str]) -> None:
        self.layer_fields = [
            replace(layer, words={**layer.words, "cutter": other_ref(layer.words["cutter"])})
            for layer in self.layer_fields
        ]
        self._offer_cutters()

    def fill_in(self, values: Mapping[str, str]) -> str:
        """Fill empty fields with the calculated `values`, and remove the conditions.

        Return the labels of the filled fields; "" if there are none.
        """
        for key, text in values.items():
            self.entries[key][1].text = text
            self.entries[key][1].focus()
        if values:
            for key in (fields.CONDITION, fields.CONDITION_2):
                self.choices[key][1].value = fields.NO_CONDITION
        return ", ".join(self.label_of(key) for key in values)

    def _show_layer(self, index: int) -> None:
        self.at = index
        layer = self.present_layer
        self._fill(layer.texts, fields.LAYER_ENTRIES)
        for key in fields.LAYER_CHOICES:
            if key != "cutter":
                self.choices[key][1].value = layer.words[key]
        self._offer_cutters()
        self.list_all()
        self.query_one(LayerList).cursor = index

    def _show_cutter(self, index: int) -> None:
        self.cutter_at = index
        cutter = self.cutters[index] if self.cutters else CutterFields()
        self._fill(cutter.texts, fields.CUTTER_KEYS)
        self.choices[fields.NOSE][1].value = cutter.words[fields.NOSE]
        self._offer_cutters()
        self.list_all()
        self.query_one(CutterList).cursor = index

    def _fill(self, texts: Mapping[str, str], keys: Sequence[str]) -> None:
        for key in keys:
            entry = self.entries[key][1]
            if entry.text != texts.get(key, ""):
                entry.text = texts.get(key, "")

    def _offer_cutters(self) -> None:
        """Offer the pattern's and the lathe's cutters to the selected layer.

        The cutter that the layer names is selected.
        """
        names = self._own_names
        own = [(name, ref) for ref, name in names.items()]
        lathe = [
            (cutter.name, f"name {cutter.name}") for cutter in self.lathe.cutters if cutter.name not in names.values()
        ]
        ref = self.present_layer.words["cutter"]
        other = [(ref.removeprefix("name "), ref)] if ref and ref not in {one for _, one in (*own, *lathe)} else []
        only = len(own or lathe) == 1
        options: tuple[tuple[str, str | None], ...] = (
            ("the only one" if only else "not chosen", None),
            *own,
            *lathe,
            *(one for one in other if one[1].startswith("name ")),
        )
        row, field = self.choices["cutter"]
        index = next((at for at, (_, value) in enumerate(options) if (value or "") == ref), 0)
        if options != row.options or index != field.index:
            offered = row._replace(options=options)
            self.choices["cutter"] = (offered, field)
            self.rows = tuple(offered if one is row else one for one in self.rows)
            field.offer([words for words, _ in options], index)


def _started(rows: Sequence[Row], words: Mapping[str, str]) -> list[Row]:
    """Return the fields. Each choice that has a key in `words` starts with the option given there."""
    return [
        row._replace(start=words[row.key]) if isinstance(row, Choice) and row.key != "cutter" else row for row in rows
    ]


def _place_of(problem: Problem) -> tuple[str, int]:
    """Return where a problem belongs: "layer" or "cutter" with its number, or "" and 0 for the whole pattern."""
    for text in (problem.where.rpartition(", ")[2], problem.message.partition(":")[0]):
        word, _, number = text.partition(" ")
        if word in {"layer", "cutter"} and (number.isdecimal() or text == "cutter"):
            return word, int(number or 1)
    return "", 0
