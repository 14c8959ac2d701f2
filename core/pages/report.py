"""A report of headings, figures and sentences, as text, Markdown, JSON or one HTML page.

The record of a lathe and the closing summary of a run are such reports.
"""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from core.pages.card_page import LEAST_COLUMNS, USUAL_COLUMNS
from core.pages.html_page import block, caution_list, figures_table, whole_page
from core.pages.svg import LONGEST_TEXT
from core.values.plain_text import clean, wrapped_sizes

_INDENT = "  "
_GAP = 2


class ReportPart(NamedTuple):
    """One part of a report. Its fields are in the order in which they are shown."""

    heading: str
    sentences: tuple[str, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()
    """Names with their values."""
    advice: tuple[str, ...] = ()
    """Sentences to which the user should pay attention."""


class Report(NamedTuple):
    """A title, and the parts below the title."""

    title: str
    parts: tuple[ReportPart, ...]

    @property
    def named_parts(self) -> tuple[ReportPart, ...]:
        """Return the parts with the report's title as the heading of the first part, for a page of several reports."""
        first, *others = self.parts
        return first._replace(heading=self.title), *others


def report_text(report: Report, columns: int = USUAL_COLUMNS) -> str:
    """Return a report as text. No row of text is wider than `columns` (40 or more)."""
    columns = max(columns, LEAST_COLUMNS)
    lines = wrapped_sizes(_plain(report.title).upper(), columns)
    for part in report.parts:
        lines += ["", *part_lines(part, columns)]
    return "\n".join(lines) + "\n"


def part_lines(part: ReportPart, columns: int, mark: str = "!") -> Iterator[str]:
    """Yield the rows of one part: its heading, underlined, then the rest, indented. `mark` is put before advice."""
    if part.heading:
        heading = wrapped_sizes(_plain(part.heading), columns)
        yield from [*heading, "-" * max(map(len, heading))]
    for sentence in part.sentences:
        yield from wrapped_sizes(_plain(sentence), columns, first=_INDENT, others=_INDENT)
    yield from _figure_lines(part.figures, columns)
    for sentence in part.advice:
        yield from wrapped_sizes(_plain(sentence), columns, first=f"{_INDENT}{mark} ", others=f"{_INDENT}  ")


def _figure_lines(figures: Sequence[tuple[str, str]], columns: int) -> Iterator[str]:
    """Yield names with their values in two columns. The value of a long name is below the name."""
    named = [(_plain(name), _plain(value)) for name, value in figures]
    width = min(max((len(name) for name, _ in named), default=0), columns // 2)
    hang = " " * (len(_INDENT) + width + _GAP)
    for name, value in named:
        if len(name) > width:
            yield from wrapped_sizes(name, columns, first=_INDENT, others=_INDENT * 2)
            yield from wrapped_sizes(value, columns, first=_INDENT * 2, others=_INDENT * 2)
        else:
            yield from wrapped_sizes(value, columns, first=f"{_INDENT}{name:<{width}}{' ' * _GAP}", others=hang)


def report_markdown(report: Report) -> str:
    """Return a report as Markdown, without a limit on the length of its rows."""
    lines = [f"# {_escaped(report.title)}"]
    for part in report.parts:
        lines += ["", f"## {_escaped(part.heading)}"] if part.heading else []
        for sentence in part.sentences:
            lines += ["", _escaped(sentence)]
        if part.figures:
            lines += ["", *(f"- {_escaped(name.strip())}: {_escaped(value)}" for name, value in part.figures)]
        if part.advice:
            lines += ["", *(f"- ! {_escaped(sentence)}" for sentence in part.advice)]
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    """Return a text in which Markdown finds no markup: no heading, link, emphasis or HTML.

    Source: CommonMark 0.31, 2.4: a backslash before ASCII punctuation makes the character plain.
    """
    return "".join(f"\\{sign}" if sign in "\\`*_[]<>#|" else sign for sign in _plain(text))


def report_as(report: Report, form: str, data: Callable[[], Mapping[str, Any]], columns: int = USUAL_COLUMNS) -> str:
    """Return a report as "text" ("txt"), "markdown" ("md"), "html" or "json". `data` returns the data for JSON."""
    match form:
        case "json":
            return json.dumps(data(), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
        case "html":
            return report_html(report)
        case "markdown" | "md":
            return report_markdown(report)
    return report_text(report, columns)


def report_html(report: Report) -> str:
    """Return a report as one complete HTML page, without script or network."""
    body = [block("h1", _plain(report.title))]
    for part in report.parts:
        body += [block("h2", part.heading)] if part.heading else []
        body += [block("p", sentence) for sentence in part.sentences]
        body += [figures_table(part.figures)] if part.figures else []
        body += [caution_list(part.advice)] if part.advice else []
    return whole_page(report.title, body)


def _plain(text: str) -> str:
    return clean(text, LONGEST_TEXT)
