"""The dial settings of every position of an operation as rows of text, with one list for each layer."""

from collections.abc import Iterator, Sequence

from core.jobs.job import JobOperation
from core.operations.registry import operation_of
from core.operations.settings_table import SettingsTable
from core.values.errors import CoreError
from core.values.plain_text import wrapped_sizes

_GAP = "  "
_TITLE = "Settings of every position"


def settings_of(operation: JobOperation) -> tuple[SettingsTable, ...]:
    """Return the lists of settings of an operation, one for each layer; () if the operation has no positions."""
    settings = operation_of(operation.kind).settings
    try:
        return settings(operation.parameters, operation.plan_input.lathe, operation.plan)
    except CoreError:
        return ()


def title_of(table: SettingsTable) -> str:
    """Return the heading of a list of settings, which includes the settings that are the same at every position.

    >>> title_of(SettingsTable("Layer 2", (("slide", "5.00 mm"),), (), ()))
    'Settings of every position, layer 2 (slide always 5.00 mm)'
    """
    layer = f", {table.title.lower()}" if table.title else ""
    same = ", ".join(f"{name} always {value}" for name, value in table.same)
    return f"{_TITLE}{layer}{f' ({same})' if same else ''}"


def settings_lines(operation: JobOperation, columns: int) -> Iterator[str]:
    """Yield all settings of an operation as rows of text, at most `columns` characters wide."""
    for number, table in enumerate(settings_of(operation)):
        if number:
            yield ""
        yield from table_lines(table, columns)


def table_lines(table: SettingsTable, columns: int) -> Iterator[str]:
    """Yield a list of settings as rows of text, at most `columns` characters wide.

    If the columns do not fit side by side, each row is wrapped.
    """
    yield from wrapped_sizes(f"{title_of(table)}:", columns, others=_GAP)
    lines = (table.columns, *table.rows)
    widths = [max(len(row[index]) for row in lines) for index in range(len(table.columns))]
    fits = sum(widths) + len(_GAP) * (len(widths) - 1) <= columns
    for row in lines:
        if fits:
            yield _line(row, widths)
        else:
            yield from wrapped_sizes(_GAP.join(row), columns, others=_GAP * 2)


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    """Return one row of a table as text. The first cell, which is a number, is aligned to the right.

    `widths`: the widths of the columns [characters].
    """
    first, *others = (f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
    return _GAP.join((first.strip().rjust(widths[0]), *others)).rstrip()
