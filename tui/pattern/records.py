"""The layers and cutters behind the pattern form's fields, and their conversion from and to a job file."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from core.operations.form import with_unit
from core.operations.patterns.field_texts import text_of, value_of
from core.operations.patterns.layers import SHAPES
from core.values.dials import Unit
from core.values.errors import PlanError
from core.values.plain_text import clean
from tui.pattern import fields

_numbers = count(1)
_ONE_OF: Mapping[str, str] = {"circles": "circle", "dots": "dot", "slots": "slot", "arcs": "arc"}
_ANGLES = frozenset({"start", "spread", "repeat_start", "through", "tip_angle"})


def _unit_of(key: str, unit: Unit) -> str:
    return "deg" if key in _ANGLES else unit


@dataclass(frozen=True)
class CutterFields:
    """The fields of one of the pattern's own cutters."""

    texts: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=lambda: {fields.NOSE: fields.SHARP})
    ref: str = ""
    """The internal reference by which layers refer to the cutter. It stays the same if the cutter's name changes."""

    @classmethod
    def of(cls, table: Mapping[str, Any]) -> "CutterFields":
        """Return the fields for a cutter's keys and values in a job file. An empty `table` makes a new cutter."""
        nose = fields.FLAT if "tip_flat" in table else fields.ROUND if "tip_radius" in table else fields.SHARP
        texts = {key: str(table[key]) for key in fields.CUTTER_KEYS if key in table}
        return cls(texts, {fields.NOSE: nose}, f"own {next(_numbers)}")

    @property
    def keys(self) -> set[str]:
        """The keys of the fields that apply to the cutter."""
        nose = {fields.FLAT: {"tip_flat"}, fields.ROUND: {"tip_radius"}}.get(self.words[fields.NOSE], set())
        return {"name", "tip_angle", fields.NOSE, "reach"} | nose

    @property
    def is_empty(self) -> bool:
        """True if all text fields of the cutter are empty. The choice of its point does not count."""
        return not any(self.texts.get(key, "").strip() for key in self.keys if key != fields.NOSE)

    def table(self, name: str, unit: Unit) -> dict[str, Any]:
        """Return the cutter's keys and values for a job file. A number without a unit gets `unit`."""
        texts = ((key, self.texts.get(key, "").strip()) for key in fields.CUTTER_KEYS if key in self.keys)
        sizes = {key: with_unit(text, _unit_of(key, unit)) for key, text in texts if text and key != "name"}
        return {"name": name, **sizes}

    def line(self, name: str, unit: Unit) -> str:
        """Return a description of the cutter for one row of the list."""
        size = {fields.FLAT: ("flat", "tip_flat"), fields.ROUND: ("nose", "tip_radius")}.get(self.words[fields.NOSE])
        table = self.table(name, unit)
        point = f"{size[0]} {table.get(size[1], '?')}" if size else "sharp"
        return clean(f"{name}: {table.get('tip_angle', '?')}, {point}", 200)


def names_of(cutters: Sequence[CutterFields]) -> list[str]:
    """Return the name of each cutter.

    A cutter without a name is called "cutter", or, for example, "cutter 2" if it is the second of several.
    """
    named = [cutter.texts.get("name", "").strip() for cutter in cutters]
    return [name or ("cutter" if len(cutters) == 1 else f"cutter {at}") for at, name in enumerate(named, start=1)]


@dataclass(frozen=True)
class LayerFields:
    """The fields of one layer."""

    texts: Mapping[str, str] = field(default_factory=dict)
    """The text of each field, including fields that do not apply."""
    words: Mapping[str, str] = field(default_factory=lambda: dict(_NEW_LAYER))
    """The selected words of each choice. For "cutter" it is the internal reference of the cutter, or ""."""
    given: Mapping[str, Any] = field(default_factory=dict)
    """The keys and values with which the form was opened."""

    @classmethod
    def of(cls, table: Mapping[str, Any], refs: Mapping[str, str]) -> "LayerFields":
        """Return the fields for a layer's keys and values in a job file.

        `refs`: the internal references of the pattern's own cutters, by the cutter's name.
        """
        texts = {key: text_of(table[key]) for key in fields.LAYER_ENTRIES if key in table}
        words = dict(_NEW_LAYER)
        if table.get("shape") in SHAPES:
            words["shape"] = table["shape"]
        if isinstance(named := table.get("cutter"), str):
            words["cutter"] = refs.get(named, f"name {named}")
        words[fields.PLACED] = _placed(table)
        meets = [word for word, meet in fields.MEETS.items() if table.get("meet") == meet]
        chosen = [*meets, *(word for word, key in fields.CONDITIONS.items() if key in table)]
        words |= dict(zip((fields.CONDITION, fields.CONDITION_2), chosen, strict=False))
        return cls(texts, words, dict(table))

    @property
    def keys(self) -> set[str]:
        """The keys of the fields that apply to the layer."""
        return fields.layer_keys(self.words, self.texts)

    @property
    def count(self) -> int | None:
        """The number of positions of the layer; None if it is not entered or follows from a condition."""
        if "at" in self.keys:
            return len([part for part in self.texts.get("at", "").split(";") if part.strip()]) or None
        numbers = [self.texts.get(key, "").strip() for key in ("count", "repeat") if key in self.keys]
        if not all(number.isascii() and number.isdecimal() for number in numbers if number) or not numbers[0]:
            return None
        positions = 1
        for number in numbers:
            positions *= int(number or 1)
        return positions

    def value(self, key: str, unit: Unit) -> Any:
        """Return the value of a field as a job file holds it. Raise PlanError if the field's text cannot be read."""
        value = value_of(key, self.texts[key], _unit_of(key, unit), self.count)
        was_list = isinstance(self.given.get(key), list) and isinstance(value, str)
        return [value] if key == "depth" and was_list else value

    def table(self, unit: Unit, cutters: Mapping[str, str]) -> dict[str, Any]:
        """Return the layer's keys and values for a job file. A number without a unit gets `unit`.

        `cutters`: the names of the pattern's own cutters, by internal reference.
        """
        table: dict[str, Any] = {"shape": self.words["shape"]}
        if name := self.cutter(cutters):
            table["cutter"] = name
        keys = self.keys
        for key in fields.LAYER_ENTRIES:
            if key in keys and self.texts.get(key, "").strip():
                table[key] = self.texts[key].strip()
                # Otherwise core refuses the text with a message beside the field.
                with suppress(PlanError):
                    table[key] = self.value(key, unit)
        for word in fields.conditions(self.words) if fields.CONDITION in keys else ():
            table |= {"meet": fields.MEETS[word]} if word in fields.MEETS else {}
        return table

    def cutter(self, cutters: Mapping[str, str]) -> str:
        """Return the name of the layer's cutter; "" if the layer names none.

        `cutters`: the names of the pattern's own cutters, by internal reference.
        """
        ref = self.words["cutter"]
        return cutters.get(ref, ref.removeprefix("name ") if ref.startswith("name ") else "")

    def line(self, unit: Unit, cutters: Mapping[str, str]) -> str:
        """Return a description of the layer for one row of the list.

        `cutters`: the names of the pattern's own cutters, by internal reference.
        """
        table = self.table(unit, cutters)
        shape = self.words["shape"]
        number = str(self.count or "?") if "repeat" not in table else f"{table['repeat']} x {table.get('count', '?')}"
        parts = [f"{number} {_ONE_OF[shape] if number == '1' else shape}{_where(table, shape)}", *self._sizes(table)]
        parts += [f"from {table['start']}"] if "start" in table else []
        if "depth" in table:
            depths = [table["depth"]] if isinstance(table["depth"], str) else table["depth"]
            parts += [f"{' '.join(map(str, depths))} deep"]
        skip = table.get("skip")
        parts += [f"{len(skip)} skipped"] if isinstance(skip, list) and skip else []
        parts += [f"by {table['cutter']}"] if "cutter" in table else []
        return clean(", ".join(parts), 200)

    def _sizes(self, table: Mapping[str, Any]) -> Iterator[str]:
        if "circle_radius" in table:
            yield f"radius {table['circle_radius']}"
        elif self.words["shape"] == "circles" and not fields.conditions(self.words):
            yield "radius ?"
        if fields.CONDITION in self.keys:
            for word in fields.conditions(self.words):
                yield word if word in fields.MEETS else f"{word} {table.get(fields.CONDITIONS[word], '?')}"
        if "through" in table:
            yield f"through {table['through']}"


_NEW_LAYER: Mapping[str, str] = {
    "shape": "circles",
    "cutter": "",
    fields.PLACED: fields.CENTRE,
    fields.CONDITION: fields.NO_CONDITION,
    fields.CONDITION_2: fields.NO_CONDITION,
    fields.MORE: fields.HIDDEN,
}


def _placed(table: Mapping[str, Any]) -> str:
    if "at" in table:
        return fields.LISTED
    if any(key in table for key in ("repeat", "repeat_offset", "repeat_start")):
        return fields.RINGS
    return fields.POINT if "about" in table else fields.CENTRE


def _where(table: Mapping[str, Any], shape: str) -> str:
    if "at" in table:
        return " at listed positions"
    if shape == "slots":
        return f" from {table.get('from', '?')} to {table.get('to', '?')}"
    return f" at {table['offset']}" if "offset" in table else ""
