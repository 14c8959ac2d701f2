"""The common parts of all form fields: the widths of labels and entries, and the keys for moving between fields."""

from typing import NamedTuple

from textual.binding import Binding, BindingType

from tui.glyphs import cut

FIELD_KEYS: list[BindingType] = [
    Binding("up", "app.focus_previous", "Previous field", show=False),
    Binding("down", "app.focus_next", "Next field", show=False),
]

_WIDEST_LABEL = 26
_ENTRY = (12, 24)
"""The fewest and the most columns of an entry."""
_UNIT = 5
"""The columns for the unit. They stay empty without a unit, so that entries are aligned."""


class FieldPlaces(NamedTuple):
    """The widths of the label of a field and of the space for its entry, in columns."""

    label: int
    entry: int

    @property
    def after(self) -> int:
        """The first column after the closing bracket of the entry."""
        return self.label + self.entry + 2


def field_places(columns: int) -> FieldPlaces:
    """Return the widths of the parts of a field that is `columns` wide.

    The label gets its full width before the entry becomes wider than its smallest width.
    """
    least, most = _ENTRY
    entry = min(max(columns - _WIDEST_LABEL - 2 - _UNIT, least), most)
    label = min(_WIDEST_LABEL, max(columns - entry - 2 - _UNIT, 1))
    return FieldPlaces(label, max(min(entry, columns - label - 2), 1))


def label_text(label: str, columns: int, *, focused: bool, pointer: str) -> str:
    """Return a label, cut or padded to `columns` characters. If `focused`, the pointer stands before the label."""
    return f"{pointer if focused else ' '} {cut(label, columns - 3)}".ljust(columns)
