"""A pattern as SVG, read by a general XML reader and measured: one unit is one millimetre.

Places and widths are worked out here by the formulas of plane geometry, never by the project's own code.
"""

import math
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from core.jobs.job import Job, parse_job, read_job
from core.operations.registry import picture_of
from core.pages.pattern_svg import SCALE_BAR_MM, job_drawing, pattern_drawing
from core.values.errors import FileError

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = '<script>alert("x")</script> & "rim" ]]> \x1b[31m'

PATTERN = """
format = 1
title = "Plate"
[[operation]]
kind = "pattern"
name = {name}
blank_diameter = "{blank}"
  [[operation.cutter]]
  name = "sharp"
  tip_angle = "90 deg"
  [[operation.layer]]
  shape = "arcs"
  count = 1
  offset = "20 mm"
  through = "{through}"
  depth = "0.5 mm"
"""


def root_of(svg: str) -> ET.Element:
    """Return the drawing as a general XML reader reads it."""
    return ET.fromstring(svg)


def grooves(root: ET.Element) -> list[ET.Element]:
    """Return the grooves of a drawing."""
    (group,) = [part for part in root.iter(f"{SVG}g") if part.get("class") == "grooves"]
    return list(group)


def job(name: str = '"Arc"', blank: str = "60 mm", through: str = "90 deg") -> Job:
    """Return a job with one arc, on the sample lathe that has a rotary table."""
    text = PATTERN.format(name=name, blank=blank, through=through)
    return parse_job(text, SAMPLES / "plate.toml", SAMPLES / "metric_lathe.toml")


def lid() -> ET.Element:
    """Return the drawing of the sample with circles."""
    return root_of(job_drawing(read_job(SAMPLES / "sundial_lid.toml"), None).svg)


def test_one_unit_of_the_svg_drawing_is_one_millimetre() -> None:
    """Width and height in mm are those of the view box. The scale bar is 50 units long."""
    root = lid()
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
    (bar,) = [line for line in root.iter(f"{SVG}line") if line.get("class") == "bar"]
    assert float(bar.attrib["x2"]) - float(bar.attrib["x1"]) == SCALE_BAR_MM == 50
    assert any(text.text == "50 mm" for text in root.iter(f"{SVG}text"))


def test_every_circle_of_a_pattern_is_drawn_with_its_position_radius_and_groove_width() -> None:
    """The ring in the middle has 12 circles of 6.5 mm at 9 mm. A groove 0.4 mm deep is 2 t tan(60 deg) wide."""
    circles = [groove for groove in grooves(lid()) if groove.tag == f"{SVG}circle"]
    middle = [circle for circle in circles if circle.attrib["r"] == "6.5"]
    assert (len(circles), len(middle)) == (8 * 6 + 12, 12)
    for number, circle in enumerate(middle):
        turned = math.radians(30 * number)
        assert float(circle.attrib["cx"]) == pytest.approx(9 * math.cos(turned), abs=6e-5)
        assert float(circle.attrib["cy"]) == pytest.approx(-9 * math.sin(turned), abs=6e-5)
        assert float(circle.attrib["stroke-width"]) == pytest.approx(2 * 0.4 * math.tan(math.radians(60)), abs=6e-5)


def test_the_drawing_of_a_pattern_marks_the_blank_its_centre_and_each_first_position() -> None:
    """The blank is a circle of 40 mm, a cross is in the middle, and each layer has a 1 next to its first position."""
    root = lid()
    (blank,) = [circle for circle in root.iter(f"{SVG}circle") if circle.get("class") == "blank"]
    assert [float(blank.attrib[key]) for key in ("cx", "cy", "r")] == [0, 0, 40]
    groups = {group.get("class"): group for group in root.iter(f"{SVG}g")}
    assert len(groups["centre"]) == 3
    dots = [(float(dot.attrib["cx"]), float(dot.attrib["cy"])) for dot in groups["first"].iter(f"{SVG}circle")]
    assert dots == [(26.5 + 5.2, 0), (9, 0)]
    assert [text.text for text in groups["first"].iter(f"{SVG}text")] == ["1", "1"]


@pytest.mark.parametrize(("through", "large"), [("90 deg", 0), ("250 deg", 1)])
def test_an_arc_cut_anticlockwise_is_drawn_anticlockwise_in_the_svg_file(through: str, large: int) -> None:
    """The arc starts at the right, ends at its angle above the axis, and its sweep flag is 0 (SVG 1.1, 8.3.8)."""
    (arc,) = grooves(root_of(job_drawing(job(through=through), None).svg))
    parts = arc.attrib["d"].split()
    assert parts[0] == "M" and list(map(float, parts[1:3])) == [20, 0]
    assert parts[3:8] == ["A", "20", "20", "0", str(large)] and parts[8] == "0"
    turned = math.radians(float(through.removesuffix(" deg")))
    assert float(parts[9]) == pytest.approx(20 * math.cos(turned), abs=6e-5)
    assert float(parts[10]) == pytest.approx(-20 * math.sin(turned), abs=6e-5)


def test_an_arc_of_360_degrees_is_drawn_as_a_circle() -> None:
    """An arc through 360 deg is drawn as a circle about the table's axis."""
    (border,) = grooves(root_of(job_drawing(job(through="360 deg"), None).svg))
    assert border.tag == f"{SVG}circle" and border.attrib["r"] == "20"


def test_slots_and_dots_are_drawn_with_their_true_width() -> None:
    """Slots run from 29 to 35 mm and are 2 x 0.5 x tan(45 deg) plus the flat of 0.1 mm wide.

    Dots are as wide as deep.
    """
    root = root_of(job_drawing(read_job(SAMPLES / "gnomon_plate.toml"), None).svg)
    lines = [groove for groove in grooves(root) if groove.tag == f"{SVG}line"]
    assert len(lines) == 24
    for number, line in enumerate(lines):
        turned = math.radians(15 * number)
        ends = [float(line.attrib[key]) for key in ("x1", "y1", "x2", "y2")]
        wanted = [29 * math.cos(turned), -29 * math.sin(turned), 35 * math.cos(turned), -35 * math.sin(turned)]
        assert ends == pytest.approx(wanted, abs=6e-5)
        assert float(line.attrib["stroke-width"]) == pytest.approx(1.1)
    dots = [groove for groove in grooves(root) if groove.get("class") == "dot"]
    assert [float(dot.attrib["r"]) for dot in dots] == pytest.approx([0.65] * 24 + [0.85] * 2)


def test_names_in_an_svg_drawing_are_escaped() -> None:
    """Angle brackets, quotes and control characters of a name are escaped or removed in the file."""
    import json

    drawn = job_drawing(job(name=json.dumps(HOSTILE)), None).svg
    root = root_of(drawn)
    title = root.find(f"{SVG}title")
    assert title is not None and title.text is not None and title.text.startswith('<script>alert("x")</script> & "rim"')
    assert not [part for part in root.iter() if part.tag.endswith("script")]
    assert "\x1b" not in drawn


def test_a_pattern_wider_than_the_paper_is_drawn_smaller_with_a_remark_about_the_scale() -> None:
    """On 100 mm of paper the view box stays in millimetres, and the page states how much smaller the drawing is."""
    operation = job(blank="300 mm").operations[0]
    picture = picture_of(operation.plan_input)
    assert picture is not None
    root = root_of(pattern_drawing(picture, "Plate", most_mm=100.0))
    _, _, width, _ = map(float, root.attrib["viewBox"].split())
    assert root.get("width") == "100mm" and width > 300
    notes = [text.text or "" for text in root.iter(f"{SVG}text")]
    assert any(f"{100 * 100 / width:.0f} %" in note for note in notes)
    assert not any("One unit" in note for note in notes)


def test_drawing_an_operation_without_a_pattern_is_refused() -> None:
    """The job has no pattern, the operation has no pattern, or the number belongs to no operation."""
    with pytest.raises(FileError, match="No operation has a pattern"):
        job_drawing(read_job(SAMPLES / "sundial_arbor.toml"), None)
    with pytest.raises(FileError, match="Draw operation 1"):
        job_drawing(job(), 2)


def test_the_draw_command_names_the_other_operations_with_patterns() -> None:
    """Without a number the first pattern is drawn, and a sentence names the others.

    With a number there is no sentence.
    """
    text = PATTERN.format(name='"One"', blank="60 mm", through="90 deg")
    text += PATTERN.format(name='"Two"', blank="60 mm", through="90 deg").partition('title = "Plate"\n')[2]
    both = parse_job(text, SAMPLES / "plate.toml", SAMPLES / "metric_lathe.toml")
    assert "--operation to draw another: 2 (Two)" in job_drawing(both, None).others
    second = job_drawing(both, 2)
    assert second.others == "" and "<title>Two</title>" in second.svg


SET_WRONG = """
blank_diameter = "60 mm"
height_error = "0.12 mm"
eccentricity = "0.2 mm"
eccentric_at = "30 deg"
face_runout = "{runout}"
face_high_at = "0 deg"
  [[operation.cutter]]
  name = "sharp"
  tip_angle = "90 deg"
  [[operation.layer]]
  shape = "circles"
  count = 7
  offset = "17.013 mm"
  circle_radius = "5.004 mm"
  depth = "0.5 mm"
"""


def set_wrong(runout: str) -> Job:
    """Return a job with errors, and with sizes that lie between marks."""
    head = PATTERN.partition("blank_diameter")[0].format(name='"Ring"')
    text = head + SET_WRONG.format(runout=runout)
    return parse_job(text, SAMPLES / "plate.toml", SAMPLES / "metric_lathe.toml")


def test_the_svg_drawing_the_screen_and_the_card_show_the_same_positions() -> None:
    """Every circle of the file and of the screen is where the card lists it, by the set marks and the errors."""
    operation = set_wrong("0 mm").operations[0]
    listed = operation.plan.figures["elements"]
    picture = picture_of(operation.plan_input)
    assert picture is not None
    circles = grooves(root_of(job_drawing(set_wrong("0 mm"), None).svg))
    assert len(listed) == len(circles) == len(picture.cuts) == 7
    for element, circle, cut in zip(listed, circles, picture.cuts, strict=True):
        place = [element["x_mm"], element["y_mm"], element["radius_mm"]]
        assert [*cut.at_mm, cut.radius_mm] == place
        drawn = [float(circle.attrib[key]) for key in ("cx", "cy", "r")]
        assert drawn == pytest.approx([place[0], -place[1], place[2]], abs=6e-5)
    # 17.013 mm and 5.004 mm lie between marks, so no circle is exactly at these sizes.
    radii = {math.hypot(one["x_mm"] + 0.2 * math.cos(math.pi / 6), one["y_mm"] + 0.1) for one in listed}
    assert all(abs(radius - math.hypot(17.013, 0.12)) > 1e-3 for radius in radii)


def test_the_width_of_a_drawn_groove_follows_the_runout_of_the_face() -> None:
    """Each outline is twice as wide as deep. It is widest towards 0 deg, where the face is high."""
    outlines = grooves(root_of(job_drawing(set_wrong("0.2 mm"), None).svg))
    listed = set_wrong("0.2 mm").operations[0].plan.figures["elements"]
    reach = math.hypot(17.013, 0.12) + 5.004
    assert len(outlines) == 7
    for outline, element in zip(outlines, listed, strict=True):
        loops = [loop.strip(" Z").replace("L", " ").split() for loop in outline.attrib["d"].split("M")[1:]]
        assert len(loops) == 2
        edges = [list(zip(map(float, loop[::2]), map(float, loop[1::2]), strict=True)) for loop in loops]
        for (x1, y1), (x2, y2) in zip(*edges, strict=True):
            middle_x = (x1 + x2) / 2
            depth = 0.5 - 0.1 * (1 - middle_x / reach)
            assert math.dist((x1, y1), (x2, y2)) == pytest.approx(2 * min(depth, 0.5), abs=2e-3)
            away = math.dist((middle_x, -(y1 + y2) / 2), (element["x_mm"], element["y_mm"]))
            assert away == pytest.approx(element["radius_mm"], abs=2e-3)
