"""The card of a job as a page: text to print and tick off at the lathe, or Markdown."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from core.jobs.card import general_cautions, own_cautions
from core.jobs.changeover import Change, job_changes
from core.jobs.job import Job, JobOperation
from core.lathe.lathe import Lathe, dial_words
from core.operations.pass_words import ON_THE_RADIUS, amount_words, on_the_radius
from core.operations.settings_table import SettingsTable
from core.pages.figure_words import TABLES, lines_for, table_rows
from core.pages.settings_page import settings_lines, settings_of, title_of
from core.plan import Step
from core.values.dials import Dial
from core.values.plain_text import wrapped_sizes

DrawPicture = Callable[[JobOperation, int], Sequence[str]]
"""Returns an operation's drawing as rows of text of at most the given columns; no rows if there is no drawing."""

USUAL_COLUMNS = 80
"""The width of a printed page, in columns of text."""
LEAST_COLUMNS = 40
BOX = "[ ]"
"""A box to tick with a pencil."""
_INDENT = "  "
_GAP = 2
_TO_FILL_IN = "________"
_BAR = "\\|"
"""A vertical bar in the form that Markdown needs inside the cell of a table."""


def card_text(job: Job, columns: int = USUAL_COLUMNS, draw: DrawPicture | None = None) -> str:
    """Return the card of a job as text, at most `columns` characters wide. Fewer than 40 columns count as 40.

    `draw`: a function that returns an operation's picture as rows of text; None for a card without pictures.
    """
    page = _Page(max(columns, LEAST_COLUMNS))
    lines = [*page.wrapped(job.title.upper()), ""]
    lines += page.wrapped(f"Lathe: {lathe_words(job.lathe)}", others=_INDENT)
    lines += page.wrapped(f"Material: {job.material}", others=_INDENT) if job.material else []
    general = general_cautions(job)
    if general:
        lines += ["", *page.heading("Before you switch on"), *page.cautions(general)]
    for operation, changes in zip(job.operations, job_changes(job), strict=True):
        picture = draw(operation, page.columns - len(_INDENT)) if draw else ()
        lines += ["", *page.operation(operation, job.lathe, changes, picture)]
    return "\n".join(lines) + "\n"


def lathe_words(lathe: Lathe) -> str:
    """Return the name of a lathe, followed by "(NOT YOURS)" for the example lathe."""
    return lathe.name + (" (NOT YOURS)" if lathe.example else "")


def heading_words(operation: JobOperation) -> str:
    """Return the heading of an operation: its number and its name."""
    return f"{operation.number}. {operation.name}"


def _before_words(changes: Sequence[Change]) -> str:
    return "Before this operation:" if changes else ""


@dataclass(frozen=True)
class _Page:
    """Writes the parts of a card as rows of text that are at most a fixed number of characters wide."""

    columns: int

    def wrapped(self, sentence: str, *, first: str = "", others: str = "") -> list[str]:
        return wrapped_sizes(sentence, self.columns, first=first, others=others)

    def heading(self, words: str) -> list[str]:
        lines = self.wrapped(words)
        return [*lines, "-" * max(map(len, lines))]

    def cautions(self, sentences: Sequence[str], indent: str = _INDENT) -> Iterator[str]:
        for sentence in sentences:
            yield from self.wrapped(sentence, first=f"{indent}! ", others=f"{indent}  ")

    def operation(
        self, operation: JobOperation, lathe: Lathe, changes: Sequence[Change], picture: Sequence[str]
    ) -> Iterator[str]:
        yield from self.heading(heading_words(operation))
        parts = [
            list(self._figures(operation, lathe)),
            [f"{_INDENT}{line}".rstrip() for line in picture],
            list(self.cautions(own_cautions(operation, lathe))),
            list(self._changes(changes)),
            [f"{_INDENT}{line}".rstrip() for line in settings_lines(operation, self.columns - len(_INDENT))],
            list(self._steps(operation, lathe)),
        ]
        for part in parts:
            if part:
                yield from ("", *part)

    def _changes(self, changes: Sequence[Change]) -> Iterator[str]:
        if changes:
            yield f"{_INDENT}{_before_words(changes)}"
        head = f"{_INDENT}{BOX} "
        for change in changes:
            yield from self.wrapped(change.text, first=head, others=" " * (len(head) + _GAP))

    def _figures(self, operation: JobOperation, lathe: Lathe) -> Iterator[str]:
        figures = operation.plan.figures
        lines = list(lines_for(lathe, untabled(figures), whole=True, names=operation.figure_names))
        width = min(max((len(name) for name, _ in lines), default=0), self.columns // 2)
        hang = " " * (len(_INDENT) + width + _GAP)
        for name, value in lines:
            if len(name) > width:
                yield from self.wrapped(f"{name}{' ' * _GAP}{value}", first=_INDENT, others=_INDENT * 2)
                continue
            # A second row starts below the value, so that it is not read as a part of the name.
            yield from self.wrapped(value, first=f"{_INDENT}{name:<{width}}{' ' * _GAP}", others=hang)
        for key in TABLES & figures.keys():
            yield from ["", *self._table(key, figures[key], lathe)]

    def _table(self, key: str, entries: Sequence[Mapping[str, Any]], lathe: Lathe) -> Iterator[str]:
        """Yield the rows of a table with one column for each entry.

        If the page is too narrow for all columns, the remaining columns follow below. `key`: the figure's key, which
        heads the columns.
        """
        rows = list(table_rows(entries, lathe.unit))
        names = max(len(name) for name, _ in rows)
        cells = max(len(value) for _, values in rows for value in values) + _GAP
        abreast = (self.columns - len(_INDENT) - names) // cells
        if abreast < 1:
            # The page is too narrow for columns, so the entries follow each other.
            abreast, names, cells = 1, 0, 0
        for first in range(0, len(entries), abreast):
            if first:
                yield ""
            shown = slice(first, first + abreast)
            heads = [f"{key[:-1]} {number}" for number in range(1, len(entries) + 1)]
            for name, values in [("", heads), *rows]:
                line = f"{name:<{names}}" + "".join(
                    f"{value:>{cells}}" if cells else f" {value}" for value in values[shown]
                )
                yield from self.wrapped(line, first=_INDENT, others=_INDENT * 2)

    def _steps(self, operation: JobOperation, lathe: Lathe) -> Iterator[str]:
        steps = operation.plan.steps
        if any(amount_words(step, lathe) and on_the_radius(operation.kind, step) for step in steps):
            yield from [*self.wrapped(ON_THE_RADIUS, first=_INDENT, others=_INDENT), ""]
        digits = max(len(str(len(steps))), 2)
        head_columns = len(f"{_INDENT}{BOX} {'':>{digits}}  ")
        amounts = [amount_words(step, lathe) for step in steps]
        # The amount that a short pass takes off has a column of its own.
        cuts = {step.text: amount for step, amount in zip(steps, amounts, strict=True) if step.action == "cut"}
        room = self.columns - head_columns - _GAP - max(map(len, cuts.values()), default=0)
        across = max((len(text) for text in cuts if len(text) <= room), default=0)
        indent = " " * head_columns
        for number, (step, amount) in enumerate(zip(steps, amounts, strict=True), start=1):
            yield from self._step(f"{_INDENT}{BOX} {number:>{digits}}  ", step, amount, across)
            for note in notes(step, lathe):
                yield from self.wrapped(note, first=indent, others=indent)
            yield from self.cautions(step.cautions, indent)

    def _step(self, head: str, step: Step, amounts: str, across: int) -> Iterator[str]:
        """Yield the rows of text for a step.

        `head`: the box to tick and the step's number. `amounts`: the amount of metal that the pass takes off, written
        after the text, or below the text if the row would be too wide; "" for none. `across`: the width of the text
        before the amounts [characters].
        """
        indent = " " * len(head)
        line = f"{head}{step.text:<{across}}{' ' * _GAP}{amounts}"
        if amounts and len(line) <= self.columns:
            yield line
            return
        yield from self.wrapped(step.text, first=head, others=indent)
        if amounts:
            yield from self.wrapped(amounts, first=indent, others=indent)


def untabled(figures: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures of a plan without those that the card shows as tables."""
    return {key: value for key, value in figures.items() if key not in TABLES}


def notes(step: Step, lathe: Lathe) -> Iterator[str]:
    """Yield the rows below a step in which the user can write what was measured or read.

    These are a size, an instrument reading, or the zero reading of a dial that cannot be set to 0.
    """
    if step.action == "measure":
        yield f"Measured: {_TO_FILL_IN}"
    elif step.action == "read" or (step.expects and not step.zeroed_dials):
        yield f"Reads: {_TO_FILL_IN}"
    for name in step.zeroed_dials:
        dial = lathe.dials.get(name)
        if dial is not None and not dial.can_zero:
            yield (
                f"Shows: {_TO_FILL_IN} "
                f"Add this number to each reading of the {dial_words(name)} below. The readings below count "
                f"from 0.{_over_a_turn(dial)}"
            )


def _over_a_turn(dial: Dial) -> str:
    if dial.per_turn is None:
        return ""
    turn = dial.reading_text(dial.per_turn)
    return f" If the sum is {turn} or more, subtract {turn} and turn the handle one turn further."


def card_markdown(job: Job, draw: DrawPicture | None = None) -> str:
    """Return the card of a job as Markdown. The rows are not wrapped.

    `draw`: a function that returns an operation's picture as rows of text; None for a card without pictures.
    """
    lines = [f"# {job.title}", "", f"Lathe: {lathe_words(job.lathe)}"]
    lines += [f"Material: {job.material}"] if job.material else []
    general = general_cautions(job)
    if general:
        lines += ["", "## Before you switch on", *(f"- ! {caution}" for caution in general)]
    for operation, changes in zip(job.operations, job_changes(job), strict=True):
        picture = draw(operation, USUAL_COLUMNS - len(_INDENT)) if draw else ()
        lines += ["", *_markdown_operation(operation, job.lathe, changes, picture)]
    return "\n".join(lines) + "\n"


def _markdown_operation(
    operation: JobOperation, lathe: Lathe, changes: Sequence[Change], picture: Sequence[str]
) -> Iterator[str]:
    figures = operation.plan.figures
    figure_lines = lines_for(lathe, untabled(figures), whole=True, names=operation.figure_names)
    yield f"## {heading_words(operation)}"
    parts = [
        [f"- {name}: {value}" for name, value in figure_lines],
        *(list(_markdown_table(key, figures[key], lathe)) for key in TABLES & figures.keys()),
        ["```", *picture, "```"] if picture else [],
        [f"- ! {caution}" for caution in own_cautions(operation, lathe)],
        [_before_words(changes), "", *(f"- {BOX} {change.text}" for change in changes)] if changes else [],
        *(list(_markdown_settings(table)) for table in settings_of(operation)),
        list(_markdown_steps(operation, lathe)),
    ]
    for part in parts:
        if part:
            yield from ("", *part)


def _markdown_table(key: str, entries: Sequence[Mapping[str, Any]], lathe: Lathe) -> Iterator[str]:
    yield _row(["", *(f"{key[:-1]} {number}" for number in range(1, len(entries) + 1))])
    yield _row(["---", *["---:"] * len(entries)])
    for name, values in table_rows(entries, lathe.unit):
        yield _row([name, *values])


def _markdown_settings(table: SettingsTable) -> Iterator[str]:
    yield from (f"{title_of(table)}:", "")
    yield _row(table.columns)
    yield _row(["---"] * len(table.columns))
    yield from map(_row, table.rows)


def _markdown_steps(operation: JobOperation, lathe: Lathe) -> Iterator[str]:
    steps = operation.plan.steps
    if any(amount_words(step, lathe) and on_the_radius(operation.kind, step) for step in steps):
        yield from (ON_THE_RADIUS, "")
    yield _row(["done", "step", "what", "takes off, to go"])
    yield _row(["---", "---:", "---", "---"])
    for number, step in enumerate(steps, start=1):
        yield _row([BOX, str(number), step.text, amount_words(step, lathe)])
        for note in (*notes(step, lathe), *(f"! {caution}" for caution in step.cautions)):
            yield _row(["", "", note, ""])


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cell.replace('|', _BAR) for cell in cells)} |"
