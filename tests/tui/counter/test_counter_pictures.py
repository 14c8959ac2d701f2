"""Pictures next to the counter's words: when they appear, and that they hide no words."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.lathe.reader import read_lathe
from core.run.step_pictures import DialPicture
from tests.conftest import MakeApp
from tests.tui.counter.test_counter import Opening, number, opened, press
from tests.tui.painted import foreign, painted
from tui.counter.dial_strip import strip_lines
from tui.counter.screen import CounterScreen
from tui.counter.step_sketch import StepSketch
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE, Glyphs
from tui.terminal import Terminal
from tui.widgets.canvas import Canvas
from tui.widgets.message_line import MessageLine

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
ARBOR, SCREW, HOURS = (SAMPLES / f"{name}.toml" for name in ("sundial_arbor", "gnomon_screw", "hour_lines"))
BLANK, THREAD, FACE = 0, 2, 3
CONSOLE = Terminal(charset="console", dots="ascii", sixteen_colours=True)
ASCII = Terminal(charset="ascii", dots="ascii", no_colour=True)


def sketch(screen: CounterScreen) -> StepSketch | None:
    """Return the visible picture; None if there is none."""
    found = screen.query(StepSketch)
    return found.first() if found and found.first().display else None


def sketched(screen: CounterScreen, app: Any) -> str:
    """Return the painted text of the picture."""
    shown = sketch(screen)
    if shown is None:
        return ""
    region = shown.region
    return "\n".join(line[region.x :] for line in painted(app).splitlines()[region.y : region.bottom])


async def go_to(screen: CounterScreen, pilot: Any, action: str, count: int = 1) -> None:
    """Do all steps before the step with this action and number."""
    while (step := screen.state.cursor) is not None:
        count -= step.action == action
        if not count:
            break
        screen.run.done()
    screen.paint()
    await settled(pilot)


async def settled(pilot: Any) -> None:
    """Wait until the picture belongs to the current step, which takes some frames."""
    await pilot.pause(0.06)


def words(shown: str) -> str:
    """Return painted text as one row, with single spaces."""
    return " ".join(shown.split())


async def test_the_step_that_sets_the_compound_angle_shows_its_picture_without_a_key_press(make: MakeApp) -> None:
    """At 80x24 its picture is next to the words: 61° on this lathe's scale, 29° off square. * hides and shows it."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, THREAD)
        await press(pilot, "space")
        shown = sketched(screen, pilot.app)
        assert "scale 61°" in shown and "29°" in shown and "tailstock" in words(shown) and "cross-slide" in shown
        assert "to 61°" in painted(pilot.app), "the words of the step stay"
        await press(pilot, "asterisk")
        assert sketch(screen) is None
        await press(pilot, "asterisk")
        assert "scale 61°" in sketched(screen, pilot.app)
        await press(pilot, "space")
        assert sketch(screen) is None and screen.state.steps_done == 2


async def test_pressing_the_picture_key_at_a_step_without_a_picture_shows_the_reason(make: MakeApp) -> None:
    """* shows a sentence with the reason. The next step with a picture shows that picture."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, THREAD)
        await press(pilot, "space", "space", "asterisk")
        said = words(str(screen.query_one(MessageLine).render()))
        assert sketch(screen) is None and "picture" in said and said.endswith(".")
        assert words(said) in words(painted(pilot.app))
        await press(pilot, "space")
        assert "* Picture" in painted(pilot.app)


async def test_a_small_screen_draws_the_dial_and_the_cut_only_after_a_key_press(make: MakeApp) -> None:
    """At 80x24 a pass shows the number alone. After *, it also shows the dial at its mark and the cut."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BLANK)
        await go_to(screen, pilot, "cut", 2)
        assert not screen.query(StepSketch), "nothing is made before it is asked for"
        await press(pilot, "asterisk")
        shown = sketched(screen, pilot.app)
        # On a dial of 0.05 mm marks, 2.60 is 26 marks after 1.30. The pass takes the diameter from 28.7 to 27.4 mm.
        assert "2.60" in shown and "1.30" in shown and " 26 " in words(shown)
        assert "28.7" in shown and "27.4" in shown and "wanted" in shown
        assert number(screen) == "2.60" and "clockwise" in painted(pilot.app)
        await press(pilot, "asterisk")
        assert sketch(screen) is None


@pytest.mark.parametrize("job", [(ARBOR, THREAD), (ARBOR, BLANK), (ARBOR, FACE), (SCREW, THREAD - 1), (SCREW, 3)])
@pytest.mark.parametrize("asked", [False, True])
async def test_the_picture_of_a_step_never_hides_its_reading_movements_or_cautions(
    make: MakeApp, job: tuple[Path, int], asked: bool
) -> None:
    """At 80x24, every step of a run shows dial, reading, movements and cautions, with and without the picture."""
    async with make(job=job[0], opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, job[1])
        if asked:
            screen._drawn._asked = True
        pictures = 0
        while (step := screen.state.cursor) is not None:
            screen.paint()
            await pilot.pause()
            found = sketch(screen)
            pictures += found is not None
            left = found.region.x if found else 80
            face = words("\n".join(line[:left] for line in painted(pilot.app).splitlines()))
            for caution in screen.view.cautions:
                assert words(caution) in face.replace("! ", ""), (step.text, left)
            for movement in screen.view.movements:
                assert words(movement) in face, (step.text, left)
            if screen.view.dial is not None:
                assert f"{screen.view.dial.number} {screen.view.dial.unit}" in face and "█" in face
            screen.run.done()
        assert pictures > 5 or not asked


async def test_a_large_screen_shows_the_picture_and_the_next_steps_without_a_key_press(make: MakeApp) -> None:
    """At 120x40 the list names the next passes with their readings. Each key press shortens the list by one."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, THREAD)
        await go_to(screen, pilot, "cut")
        shown = sketched(screen, pilot.app)
        assert "0.28" in shown and "wanted" in shown
        face = words("\n".join(line[:75] for line in painted(pilot.app).splitlines()))
        cuts = [step for step in screen.state.steps if step.action == "cut"]
        assert "Pass 2: 0.56 mm Pass 3: 0.76 mm Pass 4: 0.94 mm Pass 5: 1 turn 0.08 mm" in face
        assert screen._face.rows_used >= 10, "the number is as large as on 80 columns"
        assert cuts[1].settings[0].reading == Fraction("0.56")  # type: ignore[union-attr]
        await press(pilot, "space")
        await settled(pilot)
        face = words("\n".join(line[:75] for line in painted(pilot.app).splitlines()))
        assert "Pass 2: " not in face and "Pass 3: 0.76 mm" in face


async def test_a_large_screen_lists_the_next_positions_of_a_dividing_operation(make: MakeApp) -> None:
    """On a large screen the list is below the big number."""
    async with make(job=HOURS, opening=Opening).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, 0)
        await go_to(screen, pilot, "index")
        shown = painted(pilot.app)
        assert "Position 2 at 3°00'" in shown and "Position 3 at 2°00'" in shown


async def test_counting_a_step_on_a_narrow_screen_closes_the_picture(make: MakeApp) -> None:
    """At 40x20 the picture covers the words. After the key, the words of the next step are visible."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(40, 20)) as pilot:
        screen = await opened(pilot, BLANK)
        await go_to(screen, pilot, "cut")
        await press(pilot, "asterisk")
        found = sketch(screen)
        assert found is not None and found.size.width == 39 and "1.30" in sketched(screen, pilot.app)
        await press(pilot, "space")
        assert sketch(screen) is None and number(screen) == "2.60"


@pytest.mark.parametrize(("terminal", "safe"), [(CONSOLE, CONSOLE_SAFE), (ASCII, ASCII_SAFE)])
async def test_plain_terminals_mark_the_parts_of_a_picture_with_signs_instead_of_colours(
    make: MakeApp, terminal: Terminal, safe: frozenset[str]
) -> None:
    """The screen uses only characters of the terminal. Signs mark the metal, the pass and the finished form."""
    async with make(job=ARBOR, opening=Opening, terminal=terminal).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, THREAD)
        assert foreign(pilot.app, safe) == set() and "scale 61" in sketched(screen, pilot.app)
        await go_to(screen, pilot, "cut", 3)
        shown = sketched(screen, pilot.app)
        assert foreign(pilot.app, safe) == set()
        assert all(sign in shown for sign in "=+#*.") and "=: this pass" in words(shown)


# The rows of the dial.


@pytest.mark.parametrize(
    ("charset", "long", "mark"), [("braille", "┼", "▼"), ("console", "┼", "▼"), ("ascii", "|", "v")]
)
def test_the_picture_of_a_dial_places_the_wanted_mark_under_the_zero_line(charset: Any, long: str, mark: str) -> None:
    """On 0.02 mm marks that rise to the left, 0.56 is two marks left of 0.60. The reading 0.50 is three marks right."""
    dial = read_lathe(SAMPLES / "metric_lathe.toml").dials["compound"]
    picture = DialPicture(dial=dial, wanted_marks=28, turns="", now_marks=dial.marks_at(dial.graduation * 25))
    name, zero, marks, numbers, now, far = strip_lines(picture, 40, Glyphs(charset))
    column = zero.index(mark)
    assert zero.split()[0] == "0.56" and "0.56" in name
    assert marks[column] != long and marks[column - 6] == long == marks[column + 9]
    assert numbers.split() == ["0.60", "0.50"] and numbers.index("0.60") < column < numbers.index("0.50")
    assert len(now) - len(now.lstrip()) == column + 9 and "3" in far


def test_a_filled_area_has_no_dots_outside_its_outline() -> None:
    """A square of 10 by 10 in a canvas of 20 by 20 fills a quarter of all dots."""
    for dots, cells in (("braille", (10, 5)), ("ascii", (20, 10))):
        canvas = Canvas(*cells, dots)  # type: ignore[arg-type]
        canvas.show(0, 19, 0, 19)
        canvas.fill([(0, 0), (10, 0), (10, 10), (0, 10)], "cut")
        painted_dots = sum(bits.bit_count() for bits in canvas._cells)
        assert painted_dots == pytest.approx(len(canvas._cells) * (8 if dots == "braille" else 1) / 4, rel=0.35)
        left, right = canvas.cell_at(0, 10)[0], canvas.cell_at(10.9, 10)[0]
        filled = [cell % cells[0] for cell, bits in enumerate(canvas._cells) if bits]
        assert left <= min(filled) and max(filled) <= right
