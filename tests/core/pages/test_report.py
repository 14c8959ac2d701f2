"""Reports as text, Markdown and one HTML page: nothing lost, nothing too wide, no markup from outside."""

import xml.etree.ElementTree as ET

import pytest

from core.pages.report import Report, ReportPart, report_as, report_html, report_markdown, report_text
from tests.core.pages.test_html_page import HOSTILE, Page

REPORT = Report(
    f"Lathe {HOSTILE}",
    (
        ReportPart("", ("A sentence that is longer than a narrow page is wide, so that it must be broken.",)),
        ReportPart(f"Part {HOSTILE}", (), (("name", "+0.012 mm ± 0.004 mm"), ("x" * 70, HOSTILE)), (f"! {HOSTILE}",)),
    ),
)


def test_an_html_report_loads_nothing_from_outside_its_own_file() -> None:
    """Every tag is closed. The page has no script, link or picture, and its content policy forbids them."""
    page = Page(report_html(REPORT))
    assert page.open == []
    assert {name for name, _ in page.tags} <= {
        *("html", "head", "meta", "title", "style", "body", "h1", "h2", "p", "ul", "li", "table", "tbody", "tr", "th"),
        "td",
    }
    assert not any("src" in attributes or "href" in attributes for _, attributes in page.tags)
    assert any("default-src 'none'" in str(attributes) for _, attributes in page.tags)
    assert "\x1b" not in report_html(REPORT)
    assert any("+0.012 mm ± 0.004 mm" in text for text in page.texts)
    body = report_html(REPORT).partition("<body>")[2].partition("</body>")[0]
    ET.fromstring(f"<body>{body}</body>")


@pytest.mark.parametrize("columns", [40, 80, 132])
def test_no_row_of_a_text_report_is_wider_than_the_page(columns: int) -> None:
    """A word of 70 letters is broken, and all words are on the page."""
    text = report_text(REPORT, columns)
    assert max(map(len, text.splitlines())) <= columns
    assert "".join(text.split()).count("x" * 70) == 1
    assert "\x1b" not in text


def test_names_and_notes_are_escaped_in_a_markdown_report() -> None:
    """CommonMark 2.4: a backslash before punctuation makes the character plain."""
    hostile = Report("# a", (ReportPart("b", ("[c](http://example.org) <b> *d* `e`",)),))
    lines = report_markdown(hostile).splitlines()
    assert lines[0] == "# \\# a"
    assert lines[-1] == "\\[c\\](http://example.org) \\<b\\> \\*d\\* \\`e\\`"


@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_every_format_of_a_report_contains_a_long_sentence_completely(form: str) -> None:
    """A log with many lathes names all of them in one sentence. A note is as long as the user likes."""
    names = [f"lathe-{number}" for number in range(200)]
    long = Report("Long", (ReportPart("", (", ".join(names),), (("note", ", ".join(names)),)),))
    page = report_as(long, form, dict)
    assert page.count("lathe-199") == 2 and all(name in page for name in names)


def test_a_report_is_written_in_the_requested_format() -> None:
    """JSON holds the data of the report. The data are made only for JSON."""
    assert report_as(REPORT, "json", lambda: {"a": 1}) == '{\n "a": 1\n}\n'
    assert report_as(REPORT, "md", dict) == report_as(REPORT, "markdown", dict) == report_markdown(REPORT)
    assert report_as(REPORT, "text", dict) == report_text(REPORT)
