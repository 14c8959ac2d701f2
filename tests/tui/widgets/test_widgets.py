"""The widgets, tested by pressed keys and the painted screen."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.widget import Widget

from core.lathe.reader import example_lathe
from core.operations.form import Figure
from core.values.quantities import length_mm
from tests.conftest import MakeApp
from tests.tui.painted import foreign, least_contrast, painted
from tests.tui.shown import Shown, some_steps
from tui.counter.big_number import BigNumber
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.operation.plan_table import PlanTable
from tui.terminal import Terminal
from tui.themes import CONSOLE, DARK, DAYLIGHT, THEME_NAMES
from tui.widgets.canvas import Canvas
from tui.widgets.caution_list import CautionList
from tui.widgets.choice_field import ChoiceField
from tui.widgets.figure_list import FigureList
from tui.widgets.key_bar import KeyItem, fitted, key_lines
from tui.widgets.line_list import LineList
from tui.widgets.picture import Picture
from tui.widgets.quantity_field import QuantityField

HOSTILE = "[bold]a[/ b[/bold] \x1b]52;c;aGk=\x07\x9b2J \u202egnp.exe [@click=app.quit]x[/]"


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
async def test_widgets_paint_only_characters_that_the_terminal_can_show(
    make: MakeApp, terminal: Terminal, safe: frozenset[str]
) -> None:
    """Every widget is shown with hostile text. No painted character is missing in the terminal's fonts."""
    app = make(terminal=terminal, opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=(80, 40)) as pilot:
        app.screen.query_one(PlanTable).show_plan(some_steps(30), example_lathe())
        app.context.show_message("“never” – said … × 2")
        await pilot.pause()
        assert foreign(app, safe) == set()
        await pilot.press("f1")
        await pilot.pause()
        assert foreign(app, safe) == set()


@pytest.mark.parametrize("look", [DAYLIGHT, DARK])
async def test_all_text_in_both_sets_of_colours_has_a_contrast_of_at_least_seven_to_one(
    make: MakeApp, look: str
) -> None:
    """WCAG 2.1, success criterion 1.4.6: 7 to 1 for all text, including muted, selected and error text."""
    app = make(opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=(80, 40)) as pilot:
        app.theme = look
        app.screen.query_one(PlanTable).show_plan(some_steps(30), example_lathe())
        await pilot.press("tab", "tab")
        await pilot.pause()
        contrast, text = least_contrast(app)
        assert contrast >= 7, text


async def test_all_text_in_the_console_colours_has_a_contrast_of_at_least_seven_to_one(make: MakeApp) -> None:
    """The contrast is measured with the colours of the console's own palette."""
    terminal = Terminal(charset="console", dots="ascii", sixteen_colours=True)
    app = make(terminal=terminal, opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.press("tab", "tab")
        await pilot.pause()
        contrast, text = least_contrast(app)
        assert app.theme == CONSOLE
        assert contrast >= 7, text


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (40, 12), (20, 5), (4, 2), (1, 1)])
async def test_widgets_can_be_painted_at_any_screen_size(make: MakeApp, size: tuple[int, int]) -> None:
    """The screen shrinks to almost nothing and is painted again after growing."""
    app = make(opening=lambda: Shown(*_all_widgets()))
    async with app.run_test(size=size) as pilot:
        app.screen.query_one(PlanTable).show_plan(some_steps(30), example_lathe())
        await pilot.press("tab", "f1", "escape", "pagedown")
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert "Shown" in painted(app)


async def test_markup_in_texts_from_files_is_shown_as_plain_text(make: MakeApp) -> None:
    """Markup from files is shown literally, and no control or direction character is painted."""
    field = QuantityField("Note", str, text=HOSTILE)
    widgets = [field, CautionList([HOSTILE]), FigureList([Figure(HOSTILE, HOSTILE)]), LineList([HOSTILE])]
    app = make(opening=lambda: Shown(*widgets))
    async with app.run_test(size=(160, 30)) as pilot:
        app.context.show_message(HOSTILE)
        app.screen.title = HOSTILE
        await pilot.pause()
        screen = painted(app)
        assert screen.count("[bold]a[/ b[/bold]") >= 5
        assert not set(screen) & set("\x1b\x07\x9b\u202e")


# Header, message, keys, help.


async def test_the_header_names_the_example_lathe_even_on_a_narrow_screen(make: MakeApp) -> None:
    """At every width the screen says that its numbers do not belong to the user's lathe."""
    app = make(opening=lambda: Shown())
    async with app.run_test(size=(24, 8)) as pilot:
        assert "example lathe" in painted(app).splitlines()[0]
        await pilot.press("f1")
        assert "example lathe" in painted(app).splitlines()[0]


async def test_disabled_keys_are_hidden_and_do_nothing(make: MakeApp) -> None:
    """The key bar shows only keys that do something now."""
    app = make(opening=lambda: Shown())
    async with app.run_test(size=(80, 24)) as pilot:
        assert "F5 Possible" in painted(app) and "Impossible" not in painted(app)
        await pilot.press("f6", "f5")
        assert app.screen.told == ["done"]  # type: ignore[attr-defined]


@given(
    words=st.lists(st.text("abcdefg ", min_size=1, max_size=14), max_size=14),
    columns=st.integers(20, 120),
    rows=st.integers(1, 4),
)
def test_the_key_bar_omits_keys_that_do_not_fit_instead_of_cutting_them_off(
    words: list[str], columns: int, rows: int
) -> None:
    """If there is no room for all keys, the bar refers to the help."""
    items = [KeyItem(f"F{number}", word) for number, word in enumerate(words)]
    lines = key_lines(items, columns, rows)
    assert len(lines) <= rows
    for line in lines:
        assert len("  ".join(item.text for item in line)) <= columns
    shown = [item for line in lines for item in line]
    assert shown == items or (shown[:-1] == items[: len(shown) - 1] and shown[-1].words == "more")


@given(columns=st.integers(20, 120), rows=st.integers(1, 2), own=st.lists(st.sampled_from("abcdef"), max_size=6))
def test_the_keys_for_search_and_actions_add_no_row_to_the_key_bar(columns: int, rows: int, own: list[str]) -> None:
    """They are in the bar only if there is room, and no key of the page is omitted for them."""
    page = [KeyItem(key, "Do something") for key in dict.fromkeys(own)]
    others = [KeyItem("F1", "Help"), KeyItem("F3", "History"), KeyItem("F12", "Convert"), KeyItem("Ctrl+Q", "Quit")]
    with_both = [*page, KeyItem("/", "Search"), *others[:3], KeyItem("Ctrl+P", "Actions"), others[3]]
    before, after = fitted([*page, *others], columns, rows), fitted(with_both, columns, rows)
    assert len(after) == len(before)
    assert all(len("  ".join(item.text for item in line)) <= columns for line in after)
    kept = {item.text for line in before for item in line} - {"F3 History", "F12 Convert"}
    assert kept <= {item.text for line in after for item in line}


async def test_the_help_page_lists_the_keys_and_terms_of_the_screen(make: MakeApp) -> None:
    """F1 shows each key with its explanation, and the terms of the screen. Esc closes the help."""

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


async def test_f1_opens_the_help_even_in_a_field_where_a_question_mark_is_text(make: MakeApp) -> None:
    """F1 opens and closes the help on every screen."""
    app = make(opening=lambda: Shown(QuantityField("Note", str)))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("question_mark")
        assert app.screen.query_one(QuantityField).text == "?"
        await pilot.press("f1")
        assert "Help: Shown" in painted(app)
        await pilot.press("f1")
        assert "Help: Shown" not in painted(app)


async def test_the_set_of_colours_chosen_with_f9_is_saved(make: MakeApp) -> None:
    """F9 goes through the sets of colours. The next start uses the set chosen last."""
    app = make(opening=lambda: Shown())
    async with app.run_test() as pilot:
        assert app.theme == THEME_NAMES[0]
        await pilot.press("f9")
        assert app.theme == THEME_NAMES[1]
    assert make(opening=lambda: Shown()).theme == THEME_NAMES[1]


async def test_a_choice_of_colours_that_cannot_be_saved_is_reported(make: MakeApp) -> None:
    """The colours change anyway. A message says that the choice was not saved."""
    app = make(opening=lambda: Shown())
    app.context.paths.config.parent.mkdir(parents=True, exist_ok=True)
    app.context.paths.config.write_text("a file where a folder belongs")
    async with app.run_test() as pilot:
        await pilot.press("f9")
        await pilot.pause()
        assert "could not be saved" in painted(app)
