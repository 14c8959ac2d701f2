"""A pattern drawn to scale: round, true, told apart by shape, quick; on a card as on a screen."""

import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from core.operations.pattern_pictures import CirclePicture, LayerPicture, PatternPicture
from core.operations.patterns.picture import CutState, PatternPlace, PatternProgress
from tui.printing import print_card
from tui.terminal import Dots
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import PatternDrawing, pattern_lines

STATES: tuple[CutState, ...] = ("coming", "started", "cut")
SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def pattern(*layers: tuple[int, float, float], rim: float | None = None) -> PatternPicture:
    """Return layers of (count, offset, circle radius), placed by numpy."""
    made, reach = [], rim or 0.0
    for number, (count, offset, radius) in enumerate(layers, start=1):
        places = offset * np.exp(2j * np.pi * np.arange(count) / count)
        circles = tuple(
            CirclePicture(position=position, x_mm=float(place.real), y_mm=float(place.imag))
            for position, place in enumerate(places, start=1)
        )
        made.append(LayerPicture(layer=number, radius_mm=radius, half_width_mm=0.0, circles=circles))
        reach = max(reach, offset + radius)
    return PatternPicture(extent_mm=reach, layers=tuple(made), rim_mm=rim)


def progress_of_all(picture: PatternPicture, state: CutState, present: PatternPlace | None = None) -> PatternProgress:
    """Return the progress of a pattern whose positions are all in one state."""
    places = [PatternPlace(layer.layer, circle.position) for layer in picture.layers for circle in layer.circles]
    return PatternProgress(states=dict.fromkeys(places, state), present=present)


def drawn(
    drawing: PatternDrawing, size: tuple[int, int], dots: Dots, stands: PatternProgress | None = None
) -> list[str]:
    """Return a drawing as plain lines."""
    canvas = Canvas(*size, dots)
    drawing.draw(canvas, stands)
    return ["".join(run.text for run in line) for line in canvas.lines()]


def braille_dots(lines: Sequence[str]) -> Iterator[complex]:
    """Yield the place of every dot, in columns from the left and down from the top of the dot grid.

    The Unicode Standard, Braille Patterns: bits 0-2 are dots 1-3 (left, downwards),
    3-5 dots 4-6 (right), 6 and 7 the bottom row.
    """
    places = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))
    for row, line in enumerate(lines):
        for column, letter in enumerate(line):
            for bit, (right, down) in enumerate(places):
                if 0x2800 <= ord(letter) <= 0x28FF and (ord(letter) - 0x2800) >> bit & 1:
                    yield complex(2 * column + right, 4 * row + down)


@pytest.mark.parametrize("size", [(40, 20), (80, 20), (30, 40)])
def test_circles_are_round_and_in_their_places(size: tuple[int, int]) -> None:
    """Every dot of one circle lies on it within a dot, whatever the shape of the window (cells twice as high)."""
    dots = np.array(list(braille_dots(drawn(PatternDrawing(pattern((1, 20, 10))), size, "braille"))))
    middle = complex(2 * size[0] - 1, 4 * size[1] - 1) / 2
    dot_mm = 60 * 1.02 / (min(2 * size[0], 4 * size[1]) - 1)
    places = (dots - middle).conj() * dot_mm
    near = np.abs(np.abs(places - 20) - 10) < 1.2 * dot_mm
    assert near.sum() > 0.95 * len(dots) and len(dots) > 2 * np.pi * 10 / dot_mm * 0.8


@pytest.mark.parametrize("dots", ["braille", "quadrant", "half"])
def test_coming_positions_are_fainter_than_started_and_cut_ones(dots: Dots) -> None:
    """The shape shows it: fewer dots for later positions, none for skipped ones, a number for the current one."""
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
def test_a_cached_drawing_equals_a_fresh_one(dots: Dots) -> None:
    """A cached drawing equals a fresh one, at the same and at another size."""
    picture = pattern((12, 20, 8), (7, 9, 4), rim=30)
    kept = PatternDrawing(picture)
    for size in ((50, 24), (50, 24), (31, 12), (50, 24)):
        for fate in ("coming", "cut"):
            stands = progress_of_all(picture, fate, PatternPlace(2, 3))
            assert drawn(kept, size, dots, stands) == drawn(PatternDrawing(picture), size, dots, stands)


def test_plain_ascii_shows_numbers_and_signs() -> None:
    """Centres are numbers if there is room and dots if not. Cut ones are signs, and the current one is in brackets."""
    picture = pattern((12, 20, 8))
    assert drawn(PatternDrawing(picture), (60, 30), "ascii")[15].split() == ["7", "+", "1"]
    states: dict[PatternPlace, CutState] = {PatternPlace(1, number): "coming" for number in range(1, 13)}
    states |= {PatternPlace(1, number): "cut" for number in range(1, 5)}
    shown = "\n".join(
        drawn(PatternDrawing(picture), (60, 30), "ascii", PatternProgress(states=states, present=PatternPlace(1, 5)))
    )
    assert shown.count("#") == 4 and "[5]" in shown and " 6 " in shown
    crowded = "".join(drawn(PatternDrawing(pattern((120, 20, 3))), (40, 20), "ascii"))
    assert "." in crowded and "10" in crowded and crowded.isascii()


def test_wide_grooves_show_both_edges() -> None:
    """A groove several dots wide is drawn by its edges, to scale."""
    circles = (CirclePicture(position=1, x_mm=0.0, y_mm=0.0),)
    layer = LayerPicture(layer=1, radius_mm=10, half_width_mm=2, circles=circles)
    picture = PatternPicture(extent_mm=12, layers=(layer,))
    dots = np.array(list(braille_dots(drawn(PatternDrawing(picture), (40, 20), "braille"))))
    from_middle = np.abs(dots - complex(39.5, 39.5)) * 12 * 2 * 1.02 / 79
    assert np.all(np.minimum(abs(from_middle - 8), abs(from_middle - 12)) < 0.6)


def test_four_layers_are_redrawn_within_a_frame() -> None:
    """4 layers of 60: one frame at 30 a second, in the processor's time; the first time may take a few."""
    picture = pattern((60, 34, 10), (60, 27, 12), (60, 20, 12), (60, 10, 8), rim=45)
    drawing, taken = PatternDrawing(picture), []
    for number in range(1, 13):
        stands = progress_of_all(picture, "cut", PatternPlace(1, number))
        begun = time.process_time()
        drawn(drawing, (60, 30), "braille", stands)
        taken.append(time.process_time() - begun)
    assert min(taken[1:]) < 1 / 30


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_the_card_shows_the_pattern(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The card uses braille if the terminal has it and plain ASCII if not. In Markdown it is a code block."""
    print_card(SAMPLES / "hour_lines.toml", None, None, form, lambda: "braille")
    fine = capsys.readouterr().out
    print_card(SAMPLES / "hour_lines.toml", None, None, form, lambda: "ascii")
    plain = capsys.readouterr().out
    border = pattern((30, 34, 34 * np.sin(np.pi / 30)))
    assert len(list(braille_dots(fine.splitlines()))) > 2000
    assert not list(braille_dots(plain.splitlines()))
    assert fine.count("```") == plain.count("```") == (6 if form == "markdown" else 0)
    picture = pattern_lines(border, 56, "ascii")
    assert any("10" in line.split() for line in picture)
    part = plain[plain.index("Border") :]
    assert part.count(" 29 ") >= 1 and " 2   2 " in part
