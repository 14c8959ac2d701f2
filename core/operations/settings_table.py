"""A list of the settings of rotary table, slide and boring head at every position of a division or of a pattern's
layer.
"""

from collections.abc import Sequence
from typing import NamedTuple


class SettingsTable(NamedTuple):
    """A list of settings as text. A value that is the same at every position is shown once, above the list."""

    title: str
    """The name of the list, such as "Layer 2"; "" if there is only one list."""
    same: tuple[tuple[str, str], ...]
    """(name, value) of each setting that is the same at every position."""
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def settings_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> SettingsTable:
    """Return a list of settings without empty columns. A value that is the same in all rows is moved from its column to
    `same`.

    The first column has the number of the position and is always kept.

    >>> settings_table("", ["no.", "slide", "to"], [["1", "5 mm", ""], ["2", "5 mm", ""]])
    SettingsTable(title='', same=(('slide', '5 mm'),), columns=('no.',), rows=(('1',), ('2',)))
    """
    values = [{row[index] for row in rows} for index in range(len(columns))]
    # A single position has nothing to compare, so every value stays in its row.
    equal = [len(held) == 1 and len(rows) > 1 for held in values]
    kept = [index for index, held in enumerate(values) if index == 0 or (held != {""} and not equal[index])]
    return SettingsTable(
        title=title,
        same=tuple(
            (columns[index], rows[0][index]) for index in range(1, len(columns)) if equal[index] and rows[0][index]
        ),
        columns=tuple(columns[index] for index in kept),
        rows=tuple(tuple(row[index] for index in kept) for row in rows),
    )
