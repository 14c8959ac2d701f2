"""Big digits and pictures fill their room and are true to scale, and curves do not erase each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import MakeApp
from tests.tui.painted import painted
from tests.tui.shown import Shown
from tui.counter.big_number import BigNumber, big_lines, pixel_size, turns_above
from tui.terminal import Dots
from tui.widgets.canvas import Canvas
from tui.widgets.lathe_sides import sides_picture

# Numbers as large as they fit.


@pytest.mark.parametrize(
    ("text", "columns", "rows", "high"),
    [("0.42", 76, 18, 15), ("0.42", 52, 12, 10), ("1.58", 52, 12, 10), ("0.150", 56, 12, 10), ("0.42", 30, 12, 5)],
)
def test_big_digits_are_as_high_as_the_available_space_allows(text: str, columns: int, rows: int, high: int) -> None:
    """At 80x24 a reading in the counter is at least 10 rows high. With less room it is 5 rows high."""
    size = pixel_size(text, columns, rows)
    assert size is not None
    lines = big_lines(text, size)
    assert len(lines) == high
    assert max(map(len, lines)) <= columns


@given(text=st.text("0123456789.-/° '+", min_size=1, max_size=9), columns=st.integers(0, 200), rows=st.integers(0, 60))
def test_big_digits_never_extend_beyond_the_available_space(text: str, columns: int, rows: int) -> None:
    """Any number fits any box, or is shown as plain text."""
    size = pixel_size(text, columns, rows)
    if size is not None:
        lines = big_lines(text, size)
        assert len(lines) <= rows
        assert {len(line) for line in lines} == {len(lines[0])}
        assert len(lines[0]) <= columns


def test_no_two_big_digits_look_alike() -> None:
    assert len({"".join(big_lines(digit, (1, 1))) for digit in "0123456789"}) == 10


async def test_a_number_without_enough_room_for_big_digits_is_shown_as_plain_text(make: MakeApp) -> None:
    """A number that cannot be drawn or has no room is shown as text."""
    app = make(opening=lambda: Shown(BigNumber("0.42 in", id="n")))
    async with app.run_test(size=(80, 24)) as pilot:
        number = app.screen.query_one(BigNumber)
        assert "0.42 in" in painted(app)
        number.number = "0.42"
        await pilot.pause()
        assert number.rows_used == 20
        await pilot.resize_terminal(20, 6)
        await pilot.pause()
        assert number.rows_used == 1
        assert "0.42" in painted(app)


# Drawing.


def _dots(canvas: Canvas) -> "np.ndarray[tuple[int, ...], np.dtype[np.float64]]":
    """Return the (column, row) of each dot of a braille canvas, decoded with the Unicode chart.

    Unicode, braille patterns U+2800: bits 0 to 2 are the left column from the top, bits 3 to 5 the right column, and
    bits 6 and 7 the last row.
    """
    places = {0: (0, 0), 1: (0, 1), 2: (0, 2), 3: (1, 0), 4: (1, 1), 5: (1, 2), 6: (0, 3), 7: (1, 3)}
    found = []
    for row, runs in enumerate(canvas.lines()):
        for column, character in enumerate("".join(run.text for run in runs)):
            bits = ord(character) - 0x2800 if character != " " else 0
            found += [
                (2 * column + across, 4 * row + down) for bit, (across, down) in places.items() if bits >> bit & 1
            ]
    return np.array(found, dtype=np.float64)


def test_a_circle_is_drawn_round_and_without_gaps() -> None:
    """Each dot is within one dot of the radius, on all sides and without gaps (checked with numpy)."""
    canvas = Canvas(40, 20, "braille")
    canvas.show(-10, 10, -10, 10)
    canvas.circle(0, 0, 8)
    places = _dots(canvas) - (np.array([canvas.width, canvas.height]) - 1) / 2
    radius = np.hypot(places[:, 0], places[:, 1])
    assert abs(radius * canvas.dot - 8).max() <= canvas.dot
    angles = np.sort(np.arctan2(places[:, 1], places[:, 0]))
    assert np.diff(angles).max() <= 1.6 / (8 / canvas.dot)


@pytest.mark.parametrize("dots", ["braille", "quadrant", "half", "ascii"])
@pytest.mark.parametrize("cell_aspect", [1.8, 2.0, 2.2])
def test_a_square_is_drawn_as_wide_as_it_is_high(dots: Dots, cell_aspect: float) -> None:
    """A square is as wide as it is high on the screen, for every kind of dot and shape of cell."""
    canvas = Canvas(60, 30, dots, cell_aspect)
    canvas.show(-10, 10, -10, 10)
    canvas.polyline([(-9, -9), (9, -9), (9, 9), (-9, 9)], closed=True)
    rows = ["".join(run.text for run in runs) for runs in canvas.lines()]
    used = [row for row in rows if row.strip()]
    width = max(len(row.rstrip()) for row in used) - min(len(row) - len(row.lstrip()) for row in used)
    # Between the middles of the outermost cells, each of which may be off by half a cell.
    assert len(used) - 1 == pytest.approx((width - 1) / cell_aspect, abs=1)


def test_a_second_curve_does_not_erase_the_dots_of_the_first() -> None:
    """A second curve adds its dots to the first, even in the same cell."""
    alone, both = Canvas(10, 5, "braille"), Canvas(10, 5, "braille")
    for canvas in (alone, both):
        canvas.show(-10, 10, -10, 10)
        canvas.circle(0, 0, 8, "reference")
    both.line(-10, -10, 10, 10)
    before = {tuple(place) for place in _dots(alone)}
    assert before < {tuple(place) for place in _dots(both)}


@given(
    numbers=st.tuples(st.floats(), st.floats(), st.floats(), st.floats()),
    size=st.tuples(st.integers(1, 30), st.integers(1, 15)),
    dots=st.sampled_from(["braille", "quadrant", "half", "ascii"]),
)
def test_infinite_or_huge_coordinates_do_not_change_the_size_of_a_drawing(
    numbers: tuple[float, float, float, float], size: tuple[int, int], dots: Dots
) -> None:
    """The drawing keeps its size."""
    canvas = Canvas(*size, dots)
    canvas.show(-10, 10, -10, 10)
    x, y, third, fourth = numbers
    canvas.line(x, y, third, fourth)
    canvas.circle(x, y, third)
    canvas.point(x, y)
    canvas.label(x, y, "label", "left")
    lines = ["".join(run.text for run in runs) for runs in canvas.lines()]
    assert [len(line) for line in lines] == [size[0]] * size[1]


def test_a_label_beyond_the_edge_of_a_drawing_is_moved_inside() -> None:
    canvas = Canvas(12, 3, "ascii")
    canvas.show(-1, 1, -1, 1)
    canvas.label(50, 50, "jaw 1")
    assert "".join(run.text for run in canvas.lines()[0]).endswith("jaw 1")


def test_a_polar_curve_is_drawn_at_the_radius_given_for_each_angle() -> None:
    """An eccentric profile r + e cos(a - a0) is highest at a0."""
    canvas = Canvas(60, 30, "braille")
    canvas.show(-12, 12, -12, 12)
    canvas.polar(0, 0, lambda angle: 9 + 2 * math.cos(math.radians(angle - 90)))
    places = _dots(canvas) - (np.array([canvas.width, canvas.height]) - 1) / 2
    assert -places[:, 1].min() * canvas.dot == pytest.approx(11, abs=canvas.dot)
    assert places[:, 1].max() * canvas.dot == pytest.approx(7, abs=canvas.dot)


def test_an_arc_is_drawn_anticlockwise_from_its_start() -> None:
    """All dots of a quarter circle from 90 deg lie on the circle and within its angles (checked with numpy)."""
    canvas = Canvas(40, 20, "braille")
    canvas.show(-10, 10, -10, 10)
    canvas.arc(0, 0, 8, 90, 90)
    places = (_dots(canvas) - (np.array([canvas.width, canvas.height]) - 1) / 2) * canvas.dot
    assert abs(np.hypot(places[:, 0], places[:, 1]) - 8).max() <= canvas.dot
    assert places[:, 0].max() <= canvas.dot and (-places[:, 1]).min() >= -canvas.dot
    assert len(places) > 0.8 * 8 * math.pi / 2 / canvas.dot


def test_the_picture_of_the_near_and_far_sides_agrees_with_the_work_coordinates() -> None:
    """x points to the right, towards the operator. So near is right of the table's axis, and far is left of it."""
    for is_far in (False, True):
        (face,) = (line for line in sides_picture(is_far) if "far" in line and "near" in line)
        assert (face.index("o", face.index("│")) < face.index("+")) == is_far
        assert face.index("far") < face.index("near")


def test_whole_turns_are_shown_above_the_reading_if_this_makes_the_digits_larger() -> None:
    """Two lines of five rows need a blank row between them, so eleven rows. With fewer rows one line is drawn."""
    text = "3 turns 3°00'"
    assert turns_above(text, 57, 11) == "3 turns\n3°00'"
    assert turns_above(text, 57, 10) == text
    assert turns_above("1 3/8", 20, 30) == "1 3/8"
    lines = big_lines(turns_above(text, 57, 11), (2, 1))
    assert len(lines) == 11 and not lines[5].strip()
