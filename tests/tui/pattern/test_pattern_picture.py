"""The drawing of a pattern is quick and to scale, and shows states by shape, on a screen and on a card."""

import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from core.operations.patterns.picture import CutPicture, PatternPicture, PatternPlace
from core.run.cut_progress import CutState, PatternProgress
from tui.printing import print_card
from tui.terminal import Dots
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import PatternDrawing, pattern_lines

STATES: tuple[CutState, ...] = ("coming", "started", "cut")
SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def pattern(*layers: tuple[int, float, float], rim: float | None = None) -> PatternPicture:
    """Return layers of (count, offset, circle radius), with positions calculated by numpy."""
    made, reach = list[CutPicture](), rim or 0.0
    for number, (count, offset, radius) in enumerate(layers, start=1):
        places = offset * np.exp(2j * np.pi * np.arange(count) / count)
        made += [
            CutPicture(PatternPlace(number, position), "circle", (place.real, place.imag), radius_mm=radius)
            for position, place in enumerate(places.tolist(), start=1)
        ]
        reach = max(reach, offset + radius)
    return PatternPicture(extent_mm=reach, cuts=tuple(made), rim_mm=rim)


def progress_of_all(picture: PatternPicture, state: CutState, present: PatternPlace | None = None) -> PatternProgress:
    """Return the progress of a pattern whose positions all have one state."""
    return PatternProgress(states=dict.fromkeys((cut.place for cut in picture.cuts), state), present=present)


def drawn(
    drawing: PatternDrawing, size: tuple[int, int], dots: Dots, stands: PatternProgress | None = None
) -> list[str]:
    """Return a drawing as plain lines."""
    canvas = Canvas(*size, dots)
    drawing.draw(canvas, stands)
    return ["".join(run.text for run in line) for line in canvas.lines()]


def braille_dots(lines: Sequence[str]) -> Iterator[complex]:
    """Yield the column and row of every dot, counted from the top left of the dot grid.

    The Unicode Standard, Braille Patterns: bits 0-2 are dots 1-3 (left, downwards), 3-5 dots 4-6 (right), 6 and 7
    the bottom row.
    """
    places = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))
    for row, line in enumerate(lines):
        for column, letter in enumerate(line):
            for bit, (right, down) in enumerate(places):
                if 0x2800 <= ord(letter) <= 0x28FF and (ord(letter) - 0x2800) >> bit & 1:
                    yield complex(2 * column + right, 4 * row + down)


@pytest.mark.parametrize("size", [(40, 20), (80, 20), (30, 40)])
def test_circles_in_the_picture_are_round_and_at_their_planned_positions(size: tuple[int, int]) -> None:
    """Every dot of a circle is within one dot of the circle, for windows of any shape."""
    dots = np.array(list(braille_dots(drawn(PatternDrawing(pattern((1, 20, 10))), size, "braille"))))
    middle = complex(2 * size[0] - 1, 4 * size[1] - 1) / 2
    dot_mm = 60 * 1.02 / (min(2 * size[0], 4 * size[1]) - 1)
    places = (dots - middle).conj() * dot_mm
    near = np.abs(np.abs(places - 20) - 10) < 1.2 * dot_mm
    assert near.sum() > 0.95 * len(dots) and len(dots) > 2 * np.pi * 10 / dot_mm * 0.8


@pytest.mark.parametrize("dots", ["braille", "quadrant", "half"])
def test_positions_still_to_be_cut_are_drawn_fainter_than_cut_positions(dots: Dots) -> None:
    """Later positions have fewer dots, skipped positions none, and the present position a number."""
    picture = pattern((5, 20, 8))
    ink = {}
    for state in STATES:
        lines = drawn(PatternDrawing(picture), (60, 30), dots, progress_of_all(picture, state))
        ink[state] = len(list(braille_dots(lines))) if dots == "braille" else len("".join(lines).replace(" ", ""))
    assert ink["coming"] < ink["started"] <= ink["cut"]
    assert ink["coming"] < 0.6 * ink["cut"]
    nothing = drawn(PatternDrawing(picture), (60, 30), dots, PatternProgress(states={}))
    assert "".join(nothing).strip() == "+"
    at_hand = drawn(PatternDrawing(picture), (60, 30), dots, progress_of_all(picture, "coming", PatternPlace(1, 4)))
    assert "".join(at_hand).count("4") == 1


@pytest.mark.parametrize("dots", ["braille", "quadrant", "half", "ascii"])
def test_a_drawing_from_the_cache_equals_a_newly_made_drawing(dots: Dots) -> None:
    """A cached drawing equals a new drawing at the same size and at another size."""
    picture = pattern((12, 20, 8), (7, 9, 4), rim=30)
    kept = PatternDrawing(picture)
    for size in ((50, 24), (50, 24), (31, 12), (50, 24)):
        for fate in ("coming", "cut"):
            stands = progress_of_all(picture, fate, PatternPlace(2, 3))
            assert drawn(kept, size, dots, stands) == drawn(PatternDrawing(picture), size, dots, stands)


def test_circles_drawn_in_plain_characters_are_round() -> None:
    """Every character is within one cell of the circle. The number is in the middle if there is room."""
    shown = drawn(PatternDrawing(pattern((4, 20, 8))), (60, 30), "ascii")
    assert [line.split() for line in shown if "+" in line] == [["*", "3", "*", "+", "*", "1", "*"]]
    # Cells are twice as high as wide: the middle of the canvas is at column 29.5, row 14.5.
    cells = np.array(
        [
            complex(column - 29.5, 2 * (14.5 - row))
            for row, line in enumerate(shown)
            for column, sign in enumerate(line)
            if sign == "*"
        ]
    )
    cell_mm = 56 * 1.02 / 58
    away = np.abs(cells[:, None] * cell_mm - 20 * 1j ** np.arange(4)[None, :]).min(axis=1)
    assert np.all(abs(away - 8) < 1.2 * cell_mm) and len(cells) > 4 * 20


def test_positions_before_during_and_after_their_cut_are_drawn_with_different_characters() -> None:
    """Later: dots; started: +; cut: *; present: # and its number in brackets. Crowded circles have no numbers."""
    picture = pattern((6, 20, 5))
    fates: list[CutState] = ["cut", "cut", "started", "coming", "coming", "coming"]
    states = {PatternPlace(1, number): fate for number, fate in enumerate(fates, start=1)}
    progress = PatternProgress(states=states, present=PatternPlace(1, 4))
    shown = "\n".join(drawn(PatternDrawing(picture), (60, 30), "ascii", progress))
    assert "[4]" in shown and " 6 " in shown
    signs = {sign: shown.count(sign) for sign in "*+#."}
    assert signs["*"] / 2 == pytest.approx(signs["#"], rel=0.3) == pytest.approx(signs["."] / 2, rel=0.3)
    assert signs["+"] - 1 == pytest.approx(signs["#"], rel=0.3)
    crowded = "".join(drawn(PatternDrawing(pattern((120, 20, 3))), (40, 20), "ascii"))
    assert not any(sign.isdigit() for sign in crowded) and "*" in crowded and crowded.isascii()


def one_of_each_shape(half_width: float = 0.0) -> PatternPicture:
    """Return a dot, a slot, a quarter arc and a border, one in each layer."""
    cuts = (
        CutPicture(PatternPlace(1, 1), "dot", (12, 0), half_width),
        CutPicture(PatternPlace(2, 1), "line", (0, 4), half_width, to_mm=(0, 12)),
        CutPicture(PatternPlace(3, 1), "arc", (-8, 0), half_width, sweep_deg=90),
        CutPicture(PatternPlace(4, 1), "arc", (18, 0), half_width, sweep_deg=360),
    )
    return PatternPicture(extent_mm=20, cuts=cuts, rim_mm=None)


def away_mm(place: complex) -> float:
    """Return the distance of a point from the nearest of these four cuts, calculated with complex numbers [mm]."""
    quarter = abs(abs(place) - 8) if np.pi <= np.angle(place) % (2 * np.pi) <= 1.5 * np.pi else 99
    along = abs(place - 1j * np.clip(place.imag, 4, 12))
    return float(min(abs(place - 12), along, quarter, abs(abs(place) - 18)))


@pytest.mark.parametrize("half_width", [0.0, 1.5])
def test_dots_slots_and_arcs_are_drawn_where_they_are_cut(half_width: float) -> None:
    """Every dot is on the middle of a groove, or on the edge of a wide groove. An arc runs anticlockwise."""
    lines = drawn(PatternDrawing(one_of_each_shape(half_width)), (60, 30), "braille", None)
    dot_mm = 40 * 1.02 / 119
    places = [(dot - complex(59.5, 59.5)).conjugate() * dot_mm for dot in braille_dots(lines)]
    for place in places:
        on_edge = abs(away_mm(place) - half_width) < 1.5 * dot_mm
        in_dot = abs(place - 12) < half_width + 3 * dot_mm
        at_end = min(abs(place + 8), abs(place + 8j)) < half_width + dot_mm
        assert on_edge or in_dot or at_end, place
    for there in (3j + 5j, complex(-8 * 0.5**0.5, -8 * 0.5**0.5), 18j, 12 + 0j):
        assert min(abs(abs(place - there) - half_width) for place in places) < 2 * dot_mm


@pytest.mark.parametrize("dots", ["braille", "quadrant", "half", "ascii"])
@pytest.mark.parametrize("shape", range(4))
def test_shapes_look_different_before_during_and_after_their_cut_even_without_colour(shape: int, dots: Dots) -> None:
    """Each shape is drawn differently before, during and after its cut."""
    picture = one_of_each_shape()._replace(cuts=one_of_each_shape().cuts[shape : shape + 1])
    shown = [drawn(PatternDrawing(picture), (40, 20), dots, progress_of_all(picture, state)) for state in STATES]
    assert len({"\n".join(lines) for lines in shown}) == 3


def test_a_cut_made_in_the_wrong_place_is_drawn_as_an_x_in_that_place() -> None:
    """An x is drawn where the position was cut, and nothing where it was planned."""
    picture = pattern((4, 20, 5)).with_moved({PatternPlace(1, 2): (3.0, 8.0)})
    shown = drawn(PatternDrawing(picture), (60, 30), "ascii", progress_of_all(picture, "cut"))
    assert "".join(shown).count("x") == 1
    (row,) = (number for number, line in enumerate(shown) if "x" in line)
    cell_mm = 50 * 1.02 / 58
    assert shown[row].index("x") == pytest.approx(29.5 + 3 / cell_mm, abs=1)
    assert row == pytest.approx(14.5 - 8 / cell_mm / 2, abs=1)
    assert not "".join(shown[:4]).strip()


def test_a_drawing_updated_after_each_cut_equals_a_newly_made_drawing() -> None:
    """Positions are cut one by one and one is undone. Each drawing equals a drawing from nothing."""
    picture = pattern((9, 20, 8), rim=30)
    kept = PatternDrawing(picture)
    states: dict[PatternPlace, CutState] = {cut.place: "coming" for cut in picture.cuts}
    changes: list[tuple[int, CutState]] = [(1, "started"), (2, "cut"), (1, "cut"), (2, "started"), (3, "cut")]
    for number, state in changes:
        states[PatternPlace(1, number)] = state
        progress = PatternProgress(dict(states), PatternPlace(1, number))
        assert drawn(kept, (40, 20), "braille", progress) == drawn(
            PatternDrawing(picture), (40, 20), "braille", progress
        )


def test_both_edges_of_a_wide_groove_are_drawn() -> None:
    """A groove several dots wide is drawn by its edges, to scale."""
    cut = CutPicture(PatternPlace(1, 1), "circle", (0.0, 0.0), 2, radius_mm=10)
    picture = PatternPicture(extent_mm=12, cuts=(cut,))
    dots = np.array(list(braille_dots(drawn(PatternDrawing(picture), (40, 20), "braille"))))
    from_middle = np.abs(dots - complex(39.5, 39.5)) * 12 * 2 * 1.02 / 79
    assert np.all(np.minimum(abs(from_middle - 8), abs(from_middle - 12)) < 0.6)


def test_redrawing_1200_circles_takes_less_than_a_thirtieth_of_a_second() -> None:
    """1,200 circles are redrawn in the processor time of one frame at 30 a second.

    The first drawing may take several.
    """
    picture = pattern((400, 34, 10), (400, 27, 12), (400, 10, 8), rim=45)
    drawing, taken = PatternDrawing(picture), []
    states: dict[PatternPlace, CutState] = {cut.place: "coming" for cut in picture.cuts}
    for number in range(1, 13):
        states[PatternPlace(1, number)] = "cut"
        stands = PatternProgress(dict(states), PatternPlace(1, number + 1))
        begun = time.process_time()
        drawn(drawing, (60, 30), "braille", stands)
        taken.append(time.process_time() - begun)
    assert min(taken[1:]) < 1 / 30


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_a_printed_card_contains_a_picture_of_the_pattern(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The card uses braille if the terminal has it and plain ASCII otherwise.

    In Markdown the picture is a code block.
    """
    print_card(SAMPLES / "hour_lines.toml", None, None, form, lambda: "braille")
    fine = capsys.readouterr().out
    print_card(SAMPLES / "hour_lines.toml", None, None, form, lambda: "ascii")
    plain = capsys.readouterr().out
    border = pattern((30, 34, 34 * np.sin(np.pi / 30)))
    assert len(list(braille_dots(fine.splitlines()))) > 2000
    assert not list(braille_dots(plain.splitlines()))
    assert fine.count("```") == plain.count("```") == (6 if form == "markdown" else 0)
    picture = pattern_lines(border, 56, "ascii")
    assert sum(line.count("*") for line in picture) > 150
    part = plain[plain.index("Border") :]
    assert part.count("*") > 300
