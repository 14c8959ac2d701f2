"""Shading of a pattern by depth, compared with depths that numpy calculates for each dot."""

import math

import numpy as np
import pytest
from rich.color import Color

from core.lathe.lathe import Cutter
from core.operations.patterns.picture import CutPicture, PatternPicture, PatternPlace
from core.run.cut_progress import CutState, PatternProgress
from tui.terminal import Terminal
from tui.themes import WOOD_LINE, WOOD_TONES
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import WHOLE, PatternDrawing, View, draw_sparsely
from tui.widgets.wood_shading import WoodShading, manner_of

SHARP = Cutter(name="sharp", tip_angle_deg=120)
GROUND = Color.parse("#ffffff")
GREYS, PLAIN, NO_COLOUR = Terminal(), Terminal(charset="ascii", dots="ascii"), Terminal(no_colour=True)


def ring(count: int = 6, rim_mm: float = 30.0, depth_mm: float = 1.2) -> PatternPicture:
    """Return circles of 8 mm at 15 mm from the centre. Every second circle is half as deep."""
    cuts = []
    for number in range(count):
        place = 15 * np.exp(2j * math.pi * number / count)
        depth = depth_mm / (1 + number % 2)
        half = depth * math.tan(math.radians(60))
        at = float(place.real), float(place.imag)
        cuts.append(
            CutPicture(PatternPlace(1, number + 1), "circle", at, half, radius_mm=8.0, cutter=SHARP, depth_mm=depth)
        )
    return PatternPicture(rim_mm, tuple(cuts), rim_mm)


def shaded(
    picture: PatternPicture, terminal: Terminal, size: tuple[int, int] = (60, 30), view: View = WHOLE
) -> WoodShading:
    """Return the shading of a picture after all grooves are shaded."""
    shading = WoodShading(picture, view, *size, terminal)
    shading.follow(None)
    while not shading.is_done:
        shading.work(1.0)
    return shading


def depths(picture: PatternPicture, shading: WoodShading) -> np.ndarray:
    """Return the depth at every dot, calculated for each dot and groove [mm].

    The cutter is a V of 120 deg, whose flanks rise by tan 30 deg to either side.
    """
    grid = shading.canvas.grid
    columns, rows = np.meshgrid(np.arange(grid.columns), np.arange(grid.rows))
    x, y = grid.left + grid.across * columns, grid.top - grid.down * rows
    deepest = np.zeros_like(x)
    for cut in picture.cuts:
        beside = np.abs(np.hypot(x - cut.at_mm[0], y - cut.at_mm[1]) - cut.radius_mm)
        deepest = np.maximum(deepest, cut.depth_mm - beside / math.tan(math.radians(60)))
    return deepest


def tones(shading: WoodShading) -> np.ndarray:
    """Return the number of the tone at every dot: 0 uncut wood, -1 background, -2 a letter or an outline."""
    known = {Color.parse(tone).triplet: number for number, tone in enumerate(WOOD_TONES)}
    known |= {GROUND.triplet: -1, Color.parse(WOOD_LINE).triplet: -2}
    found = []
    for row in range(shading.canvas.rows):
        pair: tuple[list[int], list[int]] = ([], [])
        for segment in shading.strip(row, GROUND):
            assert segment.style is not None and segment.style.color is not None and segment.style.bgcolor is not None
            for letter in segment.text:
                upper = segment.style.color if letter == "▀" else segment.style.bgcolor
                for line, colour in zip(pair, (upper, segment.style.bgcolor), strict=True):
                    line.append(known[colour.triplet] if letter in "▀ " else -2)
        found += pair
    return np.array(found)


@pytest.mark.parametrize("view", [WHOLE, View(3.0, 10.0, 5.0)])
def test_the_greys_of_wood_shading_become_darker_with_the_depth_of_a_groove(view: View) -> None:
    """Uncut wood is lightest and the background is not shaded.

    A groove's tone agrees with its depth within one step.
    """
    picture = ring()
    shading = shaded(picture, GREYS, view=view)
    seen, wanted = tones(shading), depths(picture, shading)
    grid = shading.canvas.grid
    columns, rows = np.meshgrid(np.arange(grid.columns), np.arange(grid.rows))
    outside = np.hypot(grid.left + grid.across * columns, grid.top - grid.down * rows) > 30
    compared = seen > -2
    assert compared.mean() > 0.99
    assert np.all(seen[compared & (wanted > 0.01)] >= 1)
    assert np.all(seen[compared & (wanted <= -0.01) & ~outside] == 0)
    assert np.all(seen[compared & (wanted <= -0.01) & outside] == -1)
    expected = 1 + np.minimum(np.floor(wanted / 1.2 * 8), 7)
    cut = compared & (wanted > 0.01)
    # A dot at the border of two tones may be in either.
    assert np.abs(seen[cut] - expected[cut]).max() <= 1 and (seen[cut] == expected[cut]).mean() > 0.95
    assert cut.sum() > 500


def test_without_colour_deeper_grooves_are_shaded_with_denser_dots() -> None:
    """Without colour, deep grooves have more dots per square millimetre than shallow ones. Uncut wood has none."""
    picture = ring()
    shading = shaded(picture, NO_COLOUR)
    canvas = Canvas(60, 30, "braille")
    shading.draw(canvas)
    wanted = depths(picture, shading)
    dots = np.array([[canvas.has_dot(i, j) for i in range(canvas.width)] for j in range(canvas.height)])
    shares = [dots[(wanted > low) & (wanted <= low + 0.3)].mean() for low in (0.0, 0.3, 0.6, 0.9)]
    assert shares == sorted(shares) and shares[-1] > 0.85 and shares[0] < 0.5
    grid = shading.canvas.grid
    columns, rows = np.meshgrid(np.arange(grid.columns), np.arange(grid.rows))
    away = np.hypot(grid.left + grid.across * columns, grid.top - grid.down * rows)
    assert not dots[(wanted < -0.01) & (away < 28)].any()


def test_shaded_grooves_are_visible_in_plain_characters_on_the_bare_console() -> None:
    """On the bare console every cell of a groove has a character for its depth, and uncut wood is blank."""
    picture = ring()
    shading = shaded(picture, PLAIN)
    canvas = Canvas(60, 30, "ascii")
    shading.draw(canvas)
    lines = ["".join(run.text for run in line) for line in canvas.lines()]
    wanted = depths(picture, shading)
    ramp = ":-=+*%#@"
    for row, line in enumerate(lines):
        for column, letter in enumerate(line):
            if letter in "+1" and wanted[row, column] <= 0:
                continue
            assert (letter in " .+1") == (wanted[row, column] <= 0) or letter in "+1" or abs(wanted[row, column]) < 0.01
    deepest = lines[int(np.argmax(wanted.max(axis=1)))]
    assert "@" in deepest and any(letter in "".join(lines) for letter in ramp[:4])


def standing(picture: PatternPicture, state_of: dict[int, CutState], present: int | None = None) -> PatternProgress:
    """Return the progress of a run: the state of each position by its number."""
    states = {cut.place: state_of.get(cut.place.position, "coming") for cut in picture.cuts}
    return PatternProgress(states, None if present is None else PatternPlace(1, present))


def test_wood_shading_is_updated_when_a_pass_is_counted_or_undone() -> None:
    """Shading position by position equals shading all at once. Later positions are broken outlines."""
    picture = ring()
    shading = WoodShading(picture, WHOLE, 60, 30, GREYS)
    shading.follow(standing(picture, {}))
    assert shading.is_done and not (tones(shading) > 0).any()
    assert (tones(shading) == -2).sum() > 20
    shading.follow(standing(picture, {1: "cut"}))
    assert shading.open_grooves == 1
    shading.work(1.0)
    alone = shaded(picture._replace(cuts=picture.cuts[:1]), GREYS)
    assert np.array_equal(tones(shading) > 0, tones(alone) > 0)
    shading.follow(standing(picture, {1: "cut", 2: "cut", 3: "cut"}))
    shading.work(1.0)
    shading.follow(standing(picture, {1: "cut"}))
    shading.work(1.0)
    assert np.array_equal(tones(shading) > 0, tones(alone) > 0)


def test_even_a_time_slice_of_zero_seconds_shades_one_groove() -> None:
    """Even a slice of 0 s adds one groove, so shading always finishes."""
    shading = WoodShading(ring(), WHOLE, 60, 30, GREYS)
    shading.follow(None)
    for left in (5, 4, 3, 2, 1, 0):
        shading.work(0.0)
        assert shading.open_grooves == left


def test_the_kind_of_wood_shading_depends_on_the_terminal() -> None:
    """256 colours give greys, NO_COLOR gives dots of varying density, and the bare console gives characters."""
    console = Terminal(charset="console", dots="ascii", sixteen_colours=True)
    assert [manner_of(terminal) for terminal in (GREYS, NO_COLOUR, console)] == ["greys", "density", "characters"]


def test_changing_the_colours_changes_the_background_of_the_wood_shading() -> None:
    """A row painted on white is painted again on black."""
    shading = shaded(ring(), GREYS)
    white, black = shading.strip(0, GROUND), shading.strip(0, Color.parse("#000000"))
    assert white != black and white == shading.strip(0, GROUND)


def test_a_pattern_of_many_grooves_is_drawn_with_few_dots_until_it_is_shaded() -> None:
    """The drawing takes less than one frame. If there are only few grooves, each keeps all its dots."""
    few, many = ring(6), ring(1200)
    drawn = []
    for picture in (few, many):
        canvas = Canvas(200, 56, "braille")
        draw_sparsely(canvas, picture, WHOLE)
        drawn.append(sum(map(len, map(canvas.dots_in, range(canvas.height)))))
    # A circle of 8 mm is 2 pi 8 mm long, and a dot some 0.27 mm.
    assert drawn[0] > 6 * 2 * math.pi * 8 / 0.3 / 6
    assert drawn[1] < 17_000


@pytest.mark.parametrize("terminal", [GREYS, PLAIN, NO_COLOUR])
@pytest.mark.parametrize("number", [1, 3])
def test_a_wrongly_cut_position_is_an_x_both_in_wood_shading_and_in_lines(terminal: Terminal, number: int) -> None:
    """The x stands at the middle of the wrong circle, in place of the number 1. No x is drawn outside the view."""
    picture = ring()
    cuts = tuple(cut._replace(was_moved=cut.place.position == number) for cut in picture.cuts)
    wrong = picture._replace(cuts=cuts)
    for view, count in ((WHOLE, 1), (View(5.0, 0.0, -15.0), 0)):
        wood = shaded(wrong, terminal, view=view).canvas
        lines = Canvas(60, 30, terminal.dots)
        PatternDrawing(wrong, view).draw(lines)
        for canvas in (wood, lines):
            column, row = canvas.cell_at(*wrong.cuts[number - 1].at_mm)
            written = [run.text for cells in canvas.lines() for run in cells]
            assert "".join(written).count("x") == count
            if count:
                assert canvas.letters_in(row)[column] == "x"
