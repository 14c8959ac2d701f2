"""Grooves drawn in dots on a face that runs out, and how many points are calculated for them."""

import math

import numpy as np
import pytest

from core.lathe.lathe import Cutter
from core.operations.patterns.groove_path import PathPlace, path
from core.operations.patterns.picture import CutPicture, FaceFall, PatternPicture, PatternPlace
from core.run.cut_progress import CutState, PatternProgress
from tui.terminal import Terminal
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import WHOLE, PatternDrawing, View, draw_cut, draw_sparsely
from tui.widgets.small_sketch import small_sketch
from tui.widgets.wood_shading import WoodShading

FALL = FaceFall(0.3, -0.01, 0.0)
SHARP = Cutter(name="sharp", tip_angle_deg=90)


@pytest.fixture
def calculated(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return a list. Each path calculated for a drawing adds its number of points to the list."""
    counts: list[int] = []

    def counting(cut: CutPicture, parts: int) -> list[PathPlace]:
        places = path(cut, parts)
        counts.append(len(places))
        return places

    monkeypatch.setattr("tui.widgets.pattern_drawing.path", counting)
    return counts


def ring(count: int, fall: FaceFall | None) -> PatternPicture:
    """Return circles of 8 mm at 20 mm, 0.4 mm deep. The face falls by up to 0.6 mm."""
    turns = [math.tau * number / count for number in range(count)]
    cuts = [
        CutPicture(
            PatternPlace(1, number), "circle", (20 * math.cos(turn), 20 * math.sin(turn)), 0.4, 8.0,
            cutter=SHARP, depth_mm=0.4, fall=fall,
        )
        for number, turn in enumerate(turns, start=1)
    ]  # fmt: skip
    return PatternPicture(30.0, tuple(cuts), 30.0)


def test_the_centre_lines_of_grooves_are_drawn_in_the_same_place_on_a_face_that_runs_out() -> None:
    """This holds for the sparse drawing, for the outlines of later cuts on wood, and for the small sketch."""
    even, uneven = ring(40, None), ring(40, FALL)
    drawn, coming = [], dict[PatternPlace, CutState]()
    for cut in even.cuts:
        coming[cut.place] = "coming"
    for picture in (even, uneven):
        canvas = Canvas(200, 60, "braille")
        draw_sparsely(canvas, picture, WHOLE)
        shading = WoodShading(picture, WHOLE, 100, 40, Terminal())
        shading.follow(PatternProgress(coming, None))
        drawn.append((canvas.lines(), shading.canvas.lines(), small_sketch(picture, 30, 15, "braille")))
    assert drawn[0] == drawn[1]


def test_no_points_are_calculated_for_grooves_outside_the_view(calculated: list[int]) -> None:
    """Enlarged 16 times about (29.5, 0), only the first of 12 circles is in view."""
    canvas = Canvas(200, 60, "braille")
    PatternDrawing(ring(12, FALL), View(16.0, 29.5, 0.0)).draw(canvas)
    assert any(map(canvas.dots_in, range(canvas.height))) and len(calculated) == 1


@pytest.mark.parametrize("shape", ["circle", "line", "arc", "dot"])
def test_every_groove_that_is_partly_in_view_is_drawn(shape: str) -> None:
    """The test draws 300 grooves at random positions. numpy gives the points of each path."""
    random = np.random.default_rng(7)
    share, seen = np.linspace(0, 1, 2000), 0
    for _ in range(300):
        x, y, to_x, to_y = random.uniform(-12, 12, 4)
        start, end, radius, sweep = complex(x, y), complex(to_x, to_y), random.uniform(0.5, 8), random.uniform(20, 340)
        path = {
            "circle": start + radius * np.exp(2j * np.pi * share),
            "line": start + (end - start) * share,
            "arc": end + (start - end) * np.exp(1j * np.radians(sweep) * share),
            "dot": np.array([start]),
        }[shape]
        cut = CutPicture(
            PatternPlace(1, 1), shape, (x, y), 0.0, radius if shape == "circle" else 0.0,  # type: ignore[arg-type]
            to_mm=(to_x, to_y), centre_mm=(to_x, to_y), sweep_deg=sweep,
        )  # fmt: skip
        canvas = Canvas(60, 30, "braille")
        canvas.show(-4, 4, -4, 4)
        draw_cut(canvas, cut, "cut")
        if np.any((np.abs(path.real) < 3.9) & (np.abs(path.imag) < 3.9)):
            seen += 1
            assert any(map(canvas.dots_in, range(canvas.height)))
    assert seen > 20


def test_a_groove_still_to_be_cut_is_drawn_with_a_quarter_of_its_points(calculated: list[int]) -> None:
    """Points that are not drawn are not calculated either."""
    states: tuple[CutState, ...] = ("cut", "coming")
    for state in states:
        canvas = Canvas(100, 50, "braille")
        canvas.show(-30, 30, -30, 30)
        draw_cut(canvas, ring(1, FALL).cuts[0], state)
    finished, coming = calculated
    assert finished / 4 <= coming <= finished / 4 + 2
