"""The card as an HTML page, read by a general parser: complete, closed, escaped, without script or network."""

import json
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path

import pytest

from core.jobs.job import Job, parse_job, read_job
from core.pages.html_page import card_html
from core.pages.settings_page import settings_of

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
JOBS = ["sundial_arbor", "gnomon_screw", "sundial_lid", "gnomon_plate", "hour_lines", "engraving_fixture"]
_VOID = {"meta", "input", "br"}
"""Elements that have no end tag (HTML living standard, 13.1.2)."""
HOSTILE = '</style><script>x()</script><img src="http://example.org/a">\x1b[2J & "'


class Page(HTMLParser):
    """Reads a page and notes its contents."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag, and that it is open."""
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Close the last open tag, which must be this tag."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def sample(name: str) -> Job:
    """Return a sample job."""
    return read_job(SAMPLES / f"{name}.toml")


@pytest.mark.parametrize("name", JOBS)
def test_the_html_card_loads_nothing_from_outside_its_own_file(name: str) -> None:
    """Every tag is closed, nothing is loaded from anywhere, and there is no script."""
    page = Page(card_html(sample(name)))
    assert page.open == []
    names = {tag for tag, _ in page.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "use", "image"}
    for _, attributes in page.tags:
        assert not attributes.keys() & {"src", "href", "xlink:href", "onclick", "onload", "style"}
    # The only address on the page is the name of SVG, which no browser loads.
    assert "http" not in card_html(sample(name)).replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")


@pytest.mark.parametrize("name", JOBS)
def test_every_step_is_on_the_html_card_with_a_box_to_tick(name: str) -> None:
    """Each step's words are on the page. Steps, changes and settings have a box each."""
    its_job = sample(name)
    html = card_html(its_job)
    page = Page(html)
    text = " ".join(page.texts)
    for operation in its_job.operations:
        for step in operation.plan.steps:
            assert step.text in text
    boxes = sum(tag == "input" and attributes["type"] == "checkbox" for tag, attributes in page.tags)
    steps = sum(len(operation.plan.steps) for operation in its_job.operations)
    settings = sum(len(table.rows) for operation in its_job.operations for table in settings_of(operation))
    assert boxes >= steps + settings > 0


@pytest.mark.parametrize(
    ("name", "drawings"), [("sundial_lid", 1), ("gnomon_plate", 1), ("hour_lines", 1), ("gnomon_screw", 2)]
)
def test_drawings_on_the_html_card_are_valid_svg_with_sizes_in_millimetres(name: str, drawings: int) -> None:
    """Every drawing is sound XML with a size in mm: a pattern, or a thread and its compound, and dials."""
    html = card_html(sample(name))
    found = [f"<svg{part.partition('</svg>')[0]}</svg>" for part in html.split("<svg")[1:]]
    assert len(found) > drawings
    for drawing in found:
        root = ET.fromstring(drawing)
        assert root.attrib["width"].endswith("mm") and float(root.attrib["width"].removesuffix("mm")) <= 180


_MEAN_WIDTH = 0.6
"""The mean width of digits and small letters of a wide sans-serif font, as a share of its size (from memory)."""


@pytest.mark.parametrize("name", [*JOBS, "socket_arbor", "sundial_post"])
def test_every_label_on_the_html_card_lies_inside_its_drawing(name: str) -> None:
    """A browser cuts off what lies outside the view box."""
    labels = 0
    for part in card_html(sample(name)).split("<svg")[1:]:
        root = ET.fromstring(f"<svg{part.partition('</svg>')[0]}</svg>")
        left, _, width, _ = map(float, root.attrib["viewBox"].split())
        for label in root.findall("{http://www.w3.org/2000/svg}text[@font-size]"):
            needed = len(label.text or "") * _MEAN_WIDTH * float(label.attrib["font-size"])
            start = (
                float(label.attrib["x"])
                - {"start": 0, "middle": needed / 2, "end": needed}[label.attrib.get("text-anchor", "start")]
            )
            assert left - 1e-6 <= start and start + needed <= left + width + 1e-6, label.text
            labels += 1
    assert labels


def test_the_html_card_lists_angle_turns_and_slide_setting_of_every_position() -> None:
    """The lid, worked out by hand: position 2 of the middle ring is at 30 deg, on a table of 4 deg a turn."""
    page = card_html(sample("sundial_lid"))
    assert "<td>2</td><td>30°00&#x27;</td><td>7 turns 2°00&#x27;</td>" in page
    # 9 mm on a cross-slide of 2 mm a turn that reads travel is 4 turns and 1 mm.
    assert "slide always 4 turns and 1.00 mm" in page


def test_markup_in_names_is_escaped_on_the_html_card() -> None:
    """Markup in a title, a name, a material or a text is shown and never acts."""
    text = f"""
format = 1
title = {json.dumps(HOSTILE)}
material = {json.dumps(HOSTILE)}
[[operation]]
kind = "by_hand"
name = {json.dumps(HOSTILE)}
text = {json.dumps(HOSTILE)}
"""
    html = card_html(parse_job(text, SAMPLES / "any.toml"))
    page = Page(html)
    assert not {tag for tag, _ in page.tags} & {"script", "img"}
    assert "\x1b" not in html
    assert sum('<img src="http://example.org/a">' in data for data in page.texts) >= 4


def test_a_long_text_is_printed_completely_on_the_html_card() -> None:
    """The text has 500 characters, the most for a step by hand, and is printed to its end."""
    long = "deburr " * 71 + "end"
    text = f'format = 1\ntitle = "x"\n[[operation]]\nkind = "by_hand"\nname = "x"\ntext = "{long}"\n'
    assert long in card_html(parse_job(text, SAMPLES / "any.toml"))
