"""The widgets, by the keys pressed and the screen painted."""

import math
from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widget import Widget

from core.errors import CoreError
from core.lathe_file import stand_in_lathe
from core.plan import Step
from core.quantities import length_mm
from tests.conftest import MakeApp
from tests.tui.painted import foreign, least_contrast, painted
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE, Glyphs
from tui.screens.base import BaseScreen
from tui.terminal import Dots, Terminal
from tui.themes import CONSOLE, DARK, DAYLIGHT, THEME_NAMES
from tui.widgets.big_number import BigNumber, big_lines, pixel_size
from tui.widgets.canvas import Canvas
from tui.widgets.caution_list import CautionList
from tui.widgets.choice_field import ChoiceField
from tui.widgets.figure_list import Figure, FigureList
from tui.widgets.key_bar import KeyItem, key_lines
from tui.widgets.line_list import LineList
from tui.widgets.picture import Picture
from tui.widgets.plan_table import PlanTable
from tui.widgets.progress import progress_text
from tui.widgets.quantity_field import QuantityField
from tui.widgets.wrapping import cut, wrapped

HOSTILE = "[bold]a[/ b[/bold] \x1b]52;c;aGk=\x07\x9b2J \u202egnp.exe [@click=app.quit]x[/]"


class Shown(BaseScreen[None]):
    """A screen with the widgets of one test."""

    TITLE = "Shown"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "possible", "Possible", tooltip="Can be done."),
        Binding("f6", "impossible", "Impossible"),
    ]

    def __init__(self, *widgets: Widget) -> None:
        super().__init__()
        self._widgets = widgets
        self.told: list[object] = []

    def compose_body(self) -> ComposeResult:
        """The widgets."""
        yield from self._widgets

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Make one action impossible."""
        return None if action == "impossible" else True

    def action_possible(self) -> None:
        """Be done."""
        self.told.append("done")

    def action_impossible(self) -> None:
        """Never be done."""
        self.told.append("impossible")

    def on_quantity_field_changed(self, event: QuantityField.Changed) -> None:
        """Keep what was read."""
        self.told.append(event.field.value)

    def on_choice_field_changed(self, event: ChoiceField.Changed) -> None:
        """Keep what was chosen."""
        self.told.append(event.value)


def _ring(canvas: Canvas) -> None:
    canvas.show(-2, 2, -2, 2)
    canvas.circle(0, 0, 1.5, "reference", every=3)
    canvas.label(1.5, 0, "0°")
    canvas.point(0, 0)


def _all_widgets() -> list[Widget]:
    plan = PlanTable()
    plan.styles.height = 4
    number = BigNumber("0.42")
    number.styles.height = 6
    picture = Picture(_ring)
    picture.styles.height = 4
    return [
        QuantityField("Blank, measured", length_mm, text="2x", unit="mm", id="blank"),
        QuantityField("Tip flat", length_mm, hint="0.30 mm"),
        ChoiceField("Side", ["outside", "inside"]),
        FigureList([Figure("pitch diameter", "27.5 mm ±0.002", "over ⌀ 2 wires … at 30°")]),
        CautionList(["slower – or the tool digs in", HOSTILE]),
        number,
        picture,
        plan,
    ]


# The whole, on each kind of terminal.


@pytest.mark.parametrize(
    ("terminal", "safe"),
    [
        (Terminal(charset="ascii", dots="ascii"), ASCII_SAFE),
        (Terminal(charset="console", dots="ascii", sixteen_colours=True), CONSOLE_SAFE),
        (Terminal(charset="ascii", dots="ascii", no_colour=True), ASCII_SAFE),
    ],
)
async def test_only_characters_that_the_terminal_has(make: MakeApp, terminal: Terminal, safe: frozenset[str]) -> None:
    """With every widget on screen, and hostile text among it, nothing is painted that the fonts lack."""
    app = make(terminal=terminal, opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=(80, 40)) as pilot:
        app.screen.query_one(PlanTable).show_plan(_steps(30), stand_in_lathe(), current=3)
        app.say("“never” – said … × 2")
        await pilot.pause()
        assert foreign(app, safe) == set()
        await pilot.press("f1")
        await pilot.pause()
        assert foreign(app, safe) == set()


@pytest.mark.parametrize("look", [DAYLIGHT, DARK])
async def test_everything_painted_stands_out(make: MakeApp, look: str) -> None:
    """WCAG 2.1, success criterion 1.4.6: all text 7 to 1, muted, chosen and wrong included."""
    app = make(opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=(80, 40)) as pilot:
        app.theme = look
        app.screen.query_one(PlanTable).show_plan(_steps(30), stand_in_lathe(), lambda _: "done", current=3)
        await pilot.press("tab", "tab")
        await pilot.pause()
        contrast, text = least_contrast(app)
        assert contrast >= 7, text


async def test_console_look_stands_out(make: MakeApp) -> None:
    """On the console's own palette as well."""
    terminal = Terminal(charset="console", dots="ascii", sixteen_colours=True)
    app = make(terminal=terminal, opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.press("tab", "tab")
        await pilot.pause()
        contrast, text = least_contrast(app)
        assert app.theme == CONSOLE
        assert contrast >= 7, text


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (40, 12), (20, 5), (4, 2), (1, 1)])
async def test_any_size_is_borne(make: MakeApp, size: tuple[int, int]) -> None:
    """From large to nearly nothing: painted, and painted again after growing."""
    app = make(opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=size) as pilot:
        app.screen.query_one(PlanTable).show_plan(_steps(30), stand_in_lathe(), current=3)
        await pilot.press("tab", "f1", "escape", "pagedown")
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert "Shown" in painted(app)


async def test_hostile_text_is_text(make: MakeApp) -> None:
    """Markup of strangers is shown as it is, and no control or direction character comes out."""
    field = QuantityField("Note", str, text=HOSTILE)
    widgets = [field, CautionList([HOSTILE]), FigureList([Figure(HOSTILE, HOSTILE)]), LineList([HOSTILE])]
    app = make(opening=lambda: Shown(*widgets))
    async with app.run_test(size=(160, 30)) as pilot:
        app.say(HOSTILE)
        app.screen.title = HOSTILE
        await pilot.pause()
        screen = painted(app)
        assert screen.count("[bold]a[/ b[/bold]") >= 5
        assert not set(screen) & set("\x1b\x07\x9b\u202e")


# Header, message, keys, help.


async def test_stand_in_lathe_is_said_at_any_width(make: MakeApp) -> None:
    """Every screen says that its numbers are for no lathe of the user's, however narrow it is."""
    app = make(opening=lambda: Shown())
    async with app.run_test(size=(24, 8)) as pilot:
        assert "stand-in lathe" in painted(app).splitlines()[0]
        await pilot.press("f1")
        assert "stand-in lathe" in painted(app).splitlines()[0]


async def test_impossible_keys_are_bracketed_and_do_nothing(make: MakeApp) -> None:
    """A key that makes no sense now stands in brackets, not just in another colour."""
    app = make(opening=lambda: Shown())
    async with app.run_test(size=(80, 24)) as pilot:
        assert "F5 Possible  (F6 Impossible)" in painted(app)
        await pilot.press("f6", "f5")
        assert app.screen.told == ["done"]  # type: ignore[attr-defined]


@given(
    words=st.lists(st.text("abcdefg ", min_size=1, max_size=14), max_size=14),
    columns=st.integers(20, 120),
    rows=st.integers(1, 4),
)
def test_keys_fit_their_lines(words: list[str], columns: int, rows: int) -> None:
    """Keys are never cut off: they fit their lines, and where lines run out the help is pointed at."""
    items = [KeyItem(f"F{number}", word, True) for number, word in enumerate(words)]
    lines = key_lines(items, columns, rows)
    assert len(lines) <= rows
    for line in lines:
        assert len("  ".join(item.text for item in line)) <= columns
    shown = [item for line in lines for item in line]
    assert shown == items or (shown[:-1] == items[: len(shown) - 1] and shown[-1].words == "more")


async def test_help_page_is_made_of_keys_and_words(make: MakeApp) -> None:
    """F1 shows each key with its sentence and the screen's own words; Esc comes back."""

    class Told(Shown):
        HELP = "First this.\n\nThen that."

    app = make(opening=lambda: Told())
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("question_mark")
        page = painted(app)
        for told in ("Help: Shown", "Possible. Can be done.", "F1 or ?", "First this.", "Then that."):
            assert told in page
        await pilot.press("escape")
        assert "F5 Possible" in painted(app)


async def test_help_opens_from_a_field_by_f1_and_question_mark_is_typed(make: MakeApp) -> None:
    """In a field `?` is a character; F1 is help everywhere, and closes it again."""
    app = make(opening=lambda: Shown(QuantityField("Note", str)))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("question_mark")
        assert app.screen.query_one(QuantityField).text == "?"
        await pilot.press("f1")
        assert "Help: Shown" in painted(app)
        await pilot.press("f1")
        assert "Help: Shown" not in painted(app)


async def test_looks_change_and_are_kept(make: MakeApp) -> None:
    """F9 goes round the looks; the next program begins with the one chosen last."""
    app = make(opening=lambda: Shown())
    async with app.run_test() as pilot:
        assert app.theme == THEME_NAMES[0]
        await pilot.press("f9")
        assert app.theme == THEME_NAMES[1]
    assert make(opening=lambda: Shown()).theme == THEME_NAMES[1]


async def test_look_that_cannot_be_kept_is_said(make: MakeApp) -> None:
    """Where nothing can be written the look changes all the same, and the screen says what was not done."""
    app = make(opening=lambda: Shown())
    app.paths.config.parent.mkdir(parents=True, exist_ok=True)
    app.paths.config.write_text("a file where a folder belongs")
    async with app.run_test() as pilot:
        await pilot.press("f9")
        await pilot.pause()
        assert "not kept" in painted(app)


# Numbers as large as they fit.


@pytest.mark.parametrize(
    ("text", "columns", "rows", "high"),
    [("0.42", 76, 18, 15), ("0.42", 52, 12, 10), ("1.58", 52, 12, 10), ("0.150", 56, 12, 10), ("0.42", 30, 12, 5)],
)
def test_digits_are_as_high_as_they_fit(text: str, columns: int, rows: int, high: int) -> None:
    """A reading is at least 10 rows high in the counter's box at 80x24, 5 where there is less room."""
    size = pixel_size(text, columns, rows)
    assert size is not None
    lines = big_lines(text, size)
    assert len(lines) == high
    assert max(map(len, lines)) <= columns


@given(text=st.text("0123456789.-/° '+", min_size=1, max_size=9), columns=st.integers(0, 200), rows=st.integers(0, 60))
def test_digits_never_leave_their_box(text: str, columns: int, rows: int) -> None:
    """Whatever the number and the box, it fits, or it is left to plain text."""
    size = pixel_size(text, columns, rows)
    if size is not None:
        lines = big_lines(text, size)
        assert len(lines) <= rows
        assert {len(line) for line in lines} == {len(lines[0])}
        assert len(lines[0]) <= columns


def test_no_two_digits_are_alike() -> None:
    """Each digit has a shape of its own."""
    assert len({"".join(big_lines(digit, (1, 1))) for digit in "0123456789"}) == 10


async def test_number_falls_back_to_plain_text(make: MakeApp) -> None:
    """What cannot be drawn, or has no room, is written."""
    app = make(opening=lambda: Shown(BigNumber("0.42 in", id="n")))
    async with app.run_test(size=(80, 24)) as pilot:
        number = app.screen.query_one(BigNumber)
        assert "0.42 in" in painted(app)
        number.number = "0.42"
        await pilot.pause()
        assert number.rows_used == 20
        await pilot.resize_terminal(20, 6)
        assert number.rows_used == 1
        assert "0.42" in painted(app)


# Drawing.


def _dots(canvas: Canvas) -> "np.ndarray[tuple[int, ...], np.dtype[np.float64]]":
    """Return the (column, row) of each dot of a braille canvas, read off its characters by the Unicode chart.

    Unicode, braille patterns U+2800: bits 0 to 2 are the left column from the top, 3 to 5
    the right one, 6 and 7 the last row.
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


def test_circle_is_round_and_closed() -> None:
    """Each dot of a circle is within a dot of its radius, on all sides, without gaps: reckoned with numpy."""
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
def test_true_to_scale(dots: Dots, cell_aspect: float) -> None:
    """A square is as wide as high on the glass, whatever dots and cells are used."""
    canvas = Canvas(60, 30, dots, cell_aspect)
    canvas.show(-10, 10, -10, 10)
    canvas.polyline([(-9, -9), (9, -9), (9, 9), (-9, 9)], closed=True)
    rows = ["".join(run.text for run in runs) for runs in canvas.lines()]
    used = [row for row in rows if row.strip()]
    width = max(len(row.rstrip()) for row in used) - min(len(row) - len(row.lstrip()) for row in used)
    # Between the middles of the outermost cells, each of which may be off by half a cell.
    assert len(used) - 1 == pytest.approx((width - 1) / cell_aspect, abs=1)


def test_curves_do_not_eat_each_other() -> None:
    """Dots of a second curve are added to those of the first, in the same cell too."""
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
def test_any_number_is_borne(numbers: tuple[float, float, float, float], size: tuple[int, int], dots: Dots) -> None:
    """Neither infinite nor enormous numbers stop a drawing, and it keeps its size."""
    canvas = Canvas(*size, dots)
    canvas.show(-10, 10, -10, 10)
    x, y, third, fourth = numbers
    canvas.line(x, y, third, fourth)
    canvas.circle(x, y, third)
    canvas.point(x, y)
    canvas.label(x, y, "label", "left")
    lines = ["".join(run.text for run in runs) for runs in canvas.lines()]
    assert [len(line) for line in lines] == [size[0]] * size[1]


def test_label_stands_whole_and_inside() -> None:
    """A label at the edge is moved inside rather than cut."""
    canvas = Canvas(12, 3, "ascii")
    canvas.show(-1, 1, -1, 1)
    canvas.label(50, 50, "jaw 1")
    assert "".join(run.text for run in canvas.lines()[0]).endswith("jaw 1")


def test_polar_profile_lies_at_its_radius() -> None:
    """An eccentric profile r + e cos(a - a0) is highest at a0."""
    canvas = Canvas(60, 30, "braille")
    canvas.show(-12, 12, -12, 12)
    canvas.polar(0, 0, lambda angle: 9 + 2 * math.cos(math.radians(angle - 90)))
    places = _dots(canvas) - (np.array([canvas.width, canvas.height]) - 1) / 2
    assert -places[:, 1].min() * canvas.dot == pytest.approx(11, abs=canvas.dot)
    assert places[:, 1].max() * canvas.dot == pytest.approx(7, abs=canvas.dot)


# Fields.


async def test_field_reads_at_every_key_and_says_what_is_wrong(make: MakeApp) -> None:
    """A wrong value is said in words at once; a bare number counts in the unit that stands behind the field."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, unit="in")))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        assert field.value is None and field.error == ""
        await pilot.press("1")
        assert field.value == 25.4
        await pilot.press("x")
        assert field.value is None
        assert '! found "1x"' in painted(app)
        await pilot.press("backspace", "space", "1", "slash", "4")
        assert field.value == 31.75
        assert "found" not in painted(app)
        await pilot.press("space", "m", "m")
        assert field.value == 1.25
        assert app.screen.told[:2] == [25.4, None]  # type: ignore[attr-defined]


async def test_required_field_is_missed_only_when_it_was_left(make: MakeApp) -> None:
    """An empty field is wrong from the start, but nobody is told before they were in it."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, required=True), ChoiceField("Side", ["a", "b"])))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        assert field.error and "is missing" not in painted(app)
        await pilot.press("down")
        await pilot.pause()
        assert "is missing" in painted(app)


async def test_pasted_text_is_cleaned_and_cut(make: MakeApp) -> None:
    """What is pasted comes in without control characters, on one line, no longer than the field takes."""
    from textual.events import Paste

    app = make(opening=lambda: Shown(QuantityField("Note", str, longest=30)))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        for text in ("", "\n", "a\x1b[2J\u202eb" + 100 * "c" + "\nsecond line"):
            app.post_message(Paste(text))
            await pilot.pause()
        assert len(field.text) == 30
        assert not set(field.text) & set("\x1b\u202e\n")
        assert "second" not in field.text


async def test_what_another_part_found_is_said_until_the_next_key(make: MakeApp) -> None:
    """An error that only the plan finds can be put beside the field concerned."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, text="12 mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        field.say("12 mm is below the root of the thread; accepted is 25 mm and more")
        await pilot.pause()
        assert "below the root" in painted(app)
        await pilot.press("end", "backspace", "m")
        await pilot.pause()
        assert "below the root" not in painted(app)


async def test_message_takes_the_rows_it_needs(make: MakeApp) -> None:
    """A long message goes below its field and is never cut, at 40 columns too."""

    def refuse(text: str) -> float:
        raise CoreError("found nothing that could be used here; accepted is a length such as 29.80 mm or 15 thou")

    app = make(opening=lambda: Shown(QuantityField("Blank", refuse, text="a"), QuantityField("Tip", length_mm)))
    async with app.run_test(size=(40, 14)) as pilot:
        await pilot.pause()
        words = " ".join(painted(app).split())
        assert "accepted is a length such as 29.80 mm or 15 thou Tip" in words


async def test_choice_by_keys(make: MakeApp) -> None:
    """Left, right and Space go round the words; the chosen one is bracketed."""
    app = make(opening=lambda: Shown(ChoiceField("Side", ["outside", "inside"], value="inside")))
    async with app.run_test(size=(80, 24)) as pilot:
        assert "outside [inside]" in painted(app)
        await pilot.press("right", "space", "left")
        assert app.screen.told == ["outside", "inside", "outside"]  # type: ignore[attr-defined]
        assert "[outside]" in painted(app)


async def test_choice_that_has_no_room_says_how_many_there_are(make: MakeApp) -> None:
    """Where the words do not fit the chosen one is shown with its number."""
    words = ["flank, compound set over", "straight, cross-slide alone", "as the tool maker says"]
    app = make(opening=lambda: Shown(ChoiceField("Infeed", words)))
    async with app.run_test(size=(60, 12)) as pilot:
        await pilot.press("right")
        assert "2 of 3" in painted(app)


async def test_up_and_down_go_from_field_to_field(make: MakeApp) -> None:
    """Fields are walked with the arrows too, as on a number pad."""
    app = make(opening=lambda: Shown(QuantityField("One", str), QuantityField("Two", str)))
    async with app.run_test(size=(80, 12)) as pilot:
        await pilot.press("a", "down", "b", "up", "c")
        one, two = app.screen.query(QuantityField)
        assert (one.text, two.text) == ("c", "b")


# Lists.


def _steps(count: int) -> tuple[Step, ...]:
    return tuple(
        Step(
            id=number,
            action="cut",
            text=f"Cut: compound to 0.{number:02}",
            removed_mm=0.1,
            remaining_mm=1.0,
            cautions=("tool out first",) if number == 2 else (),
        )
        for number in range(1, count + 1)
    )


async def test_plan_of_twenty_thousand_steps(make: MakeApp) -> None:
    """Only lines in sight are made; the current step is in sight, pointed out by word and sign."""
    table = PlanTable()
    app = make(opening=lambda: Shown(table))
    async with app.run_test(size=(80, 24)) as pilot:
        table.show_plan(_steps(20_000), stand_in_lathe(), lambda i: "done" if i < 15_000 else "open", 15_000)
        await pilot.pause()
        screen = painted(app)
        assert "15000 ▶ now" in screen
        assert "14999 ■ done" in screen
        assert "takes 0.1 mm, 1 mm to go" in screen
        await pilot.press("end")
        assert "20000 · open" in painted(app)
        await pilot.press("home")
        assert "2 ■ done    !" in painted(app)


async def test_plan_follows_the_current_step(make: MakeApp) -> None:
    """When a pass is counted the next one comes in sight; a cursor moved by hand stays until then."""
    table = PlanTable()
    app = make(opening=lambda: Shown(table))
    steps = _steps(60)
    async with app.run_test(size=(80, 14)) as pilot:
        table.show_plan(steps, stand_in_lathe(), current=5)
        await pilot.press("end")
        table.show_plan(steps, stand_in_lathe(), current=5)
        await pilot.pause()
        assert table.cursor == 59
        table.show_plan(steps, stand_in_lathe(), current=6)
        await pilot.pause()
        assert table.step is not None and table.step.id == 6
        assert "6 ▶ now" in painted(app)


async def test_list_keeps_its_cursor_on_a_line(make: MakeApp) -> None:
    """The cursor stays inside, also when the list shrinks or is empty."""
    lines = LineList(["a", "b", "c"])
    app = make(opening=lambda: Shown(lines))
    async with app.run_test(size=(40, 12)) as pilot:
        await pilot.press("down", "down", "down", "down")
        assert lines.cursor == 2
        lines.show(["a"])
        assert lines.cursor == 0
        lines.show([])
        await pilot.press("up", "down", "end", "pagedown")
        assert lines.cursor == 0


# Lines of text.


@pytest.mark.parametrize(
    ("done", "total", "columns", "line"), [(7, 20, 29, "[######.............] 7 of 20"), (0, 3, 6, "0 of 3")]
)
def test_progress_in_signs_and_words(done: int, total: int, columns: int, line: str) -> None:
    """Seven of twenty fill seven twentieths (rounded down) of nineteen signs; without room the words stay."""
    assert progress_text(done, total, columns, Glyphs("ascii")) == line


async def test_figures_are_aligned_and_never_cut(make: MakeApp) -> None:
    """Values stand in one column; a value too long for it goes on a line of its own."""
    figures = [Figure("pitch", "3.5 mm"), Figure("set-over, off square to the axis", "29 deg", "largest mark")]
    app = make(opening=lambda: Shown(FigureList(figures)))
    async with app.run_test(size=(80, 12)) as pilot:
        lines = painted(app).splitlines()
        assert lines[1].index("3.5 mm") == lines[2].index("29 deg")
        await pilot.resize_terminal(24, 12)
        await pilot.pause()
        for value in ("3.5 mm", "29 deg", "largest mark"):
            assert value in painted(app)


async def test_cautions_are_marked_and_never_cut(make: MakeApp) -> None:
    """Every caution has its mark and all its words, at any width."""
    caution = "the tool is sharper than the root of the standard and goes 0.245 mm deeper on the radius"
    app = make(opening=lambda: Shown(CautionList([caution, "second"])))
    async with app.run_test(size=(30, 14)) as pilot:
        await pilot.pause()
        screen = painted(app)
        assert screen.count("\n! ") == 2
        assert caution in " ".join(screen.replace("\n! ", "\n").split())


@given(sentence=st.text(max_size=200), columns=st.integers(1, 60))
def test_wrapped_lines_fit_and_lose_no_word(sentence: str, columns: int) -> None:
    """Lines are never longer than asked, and all that is no blank is still there."""
    lines = wrapped(sentence, columns)
    assert all(len(line) <= columns for line in lines)
    assert "".join("".join(lines).split()) == "".join(sentence.split())


@given(text=st.text(max_size=40), columns=st.integers(0, 40))
def test_cut_text_fits(text: str, columns: int) -> None:
    """Text that is cut is never longer than asked, and untouched where it fits."""
    assert len(cut(text, columns)) <= columns
    if len(text) <= columns:
        assert cut(text, columns) == text
