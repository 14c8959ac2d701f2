"""All settings of a division or of a layer in one list: what table, slide and head are set to at every position."""

from collections.abc import Sequence
from typing import NamedTuple


class SettingsTable(NamedTuple):
    """A list of settings in words. What is the same at every position is said once, above the list."""

    title: str
    """What it lists: "Layer 2"; "" if there is only one list."""
    same: tuple[tuple[str, str], ...]
    """Name and value of what is the same at every position."""
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def settings_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> SettingsTable:
    """Return a list of settings. The first column, the number, always stays; empty columns are dropped.

    >>> settings_table("", ["no.", "slide", "to"], [["1", "5 mm", ""], ["2", "5 mm", ""]])
    SettingsTable(title='', same=(('slide', '5 mm'),), columns=('no.',), rows=(('1',), ('2',)))
    """
    values = [{row[index] for row in rows} for index in range(len(columns))]
    # A single position has nothing to compare, so that all of it stays in its row.
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
