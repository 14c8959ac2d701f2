"""A report of headings, figures and sentences, written as text, Markdown, JSON or one HTML page.

The record of a lathe and the closing summary of a run are two such reports.
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
    """One part of a report. The fields are shown in the order in which they are defined."""

    heading: str
    sentences: tuple[str, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()
    """Labels and their values."""
    advice: tuple[str, ...] = ()
    """Sentences to which the user should pay attention."""


class Report(NamedTuple):
    """A report: its title, and its parts in order."""

    title: str
    parts: tuple[ReportPart, ...]

    @property
    def named_parts(self) -> tuple[ReportPart, ...]:
        """Return the parts of the report. The first part gets the report's title as its heading.

        A page that shows several reports uses these parts.
        """
        first, *others = self.parts
        return first._replace(heading=self.title), *others


def report_text(report: Report, columns: int = USUAL_COLUMNS) -> str:
    """Return a report as text, at most `columns` characters wide. Fewer than 40 columns count as 40."""
    columns = max(columns, LEAST_COLUMNS)
    lines = wrapped_sizes(_plain(report.title).upper(), columns)
    for part in report.parts:
        lines += ["", *part_lines(part, columns)]
    return "\n".join(lines) + "\n"


def part_lines(part: ReportPart, columns: int, mark: str = "!") -> Iterator[str]:
    """Yield the rows of one part of a report: its underlined heading, then its indented content.

    `columns`: the greatest width [characters]. `mark`: the sign put before each piece of advice.
    """
    if part.heading:
        heading = wrapped_sizes(_plain(part.heading), columns)
        yield from [*heading, "-" * max(map(len, heading))]
    for sentence in part.sentences:
        yield from wrapped_sizes(_plain(sentence), columns, first=_INDENT, others=_INDENT)
    yield from _figure_lines(part.figures, columns)
    for sentence in part.advice:
        yield from wrapped_sizes(_plain(sentence), columns, first=f"{_INDENT}{mark} ", others=f"{_INDENT}  ")


def _figure_lines(figures: Sequence[tuple[str, str]], columns: int) -> Iterator[str]:
    """Yield labels and values in two columns, at most `columns` characters wide.

    The value of a long label is on the row below the label.
    """
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
    """Return a report as Markdown. The rows are not wrapped."""
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
    """Return a text that Markdown shows as it is, without making headings, links, emphasis or HTML of it.

    Source: CommonMark 0.31, 2.4: a backslash before an ASCII punctuation character makes the character literal.
    """
    return "".join(f"\\{sign}" if sign in "\\`*_[]<>#|" else sign for sign in _plain(text))


def report_as(report: Report, form: str, data: Callable[[], Mapping[str, Any]], columns: int = USUAL_COLUMNS) -> str:
    """Return a report in the format `form`: "text" or "txt", "markdown" or "md", "html", or "json".

    `data`: a function that returns the report's data for JSON. `columns`: the greatest width of the text [characters].
    """
    match form:
        case "json":
            return json.dumps(data(), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
        case "html":
            return report_html(report)
        case "markdown" | "md":
            return report_markdown(report)
    return report_text(report, columns)


def report_html(report: Report) -> str:
    """Return a report as a complete HTML page that needs no script and no network."""
    body = [block("h1", _plain(report.title))]
    for part in report.parts:
        body += [block("h2", part.heading)] if part.heading else []
        body += [block("p", sentence) for sentence in part.sentences]
        body += [figures_table(part.figures)] if part.figures else []
        body += [caution_list(part.advice)] if part.advice else []
    return whole_page(report.title, body)


def _plain(text: str) -> str:
    return clean(text, LONGEST_TEXT)
