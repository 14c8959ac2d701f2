"""Fields, lists and rows of text, tested by pressed keys and the painted screen."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.lathe.reader import example_lathe
from core.operations.form import Figure
from core.values.errors import CoreError
from core.values.plain_text import wrapped
from core.values.quantities import length_mm
from tests.conftest import MakeApp
from tests.tui.painted import painted
from tests.tui.shown import Shown, some_steps
from tui.glyphs import Glyphs, cut
from tui.operation.plan_table import PlanTable
from tui.widgets.caution_list import CautionList
from tui.widgets.choice_field import ChoiceField
from tui.widgets.figure_list import FigureList
from tui.widgets.line_list import LineList
from tui.widgets.progress import progress_text
from tui.widgets.quantity_field import QuantityField

# Fields.


async def test_the_error_of_a_field_is_updated_after_every_key_press(make: MakeApp) -> None:
    """A number without a unit has the unit shown after the field."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, unit="in")))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        assert field.value is None and field.error == ""
        await pilot.press("1")
        assert field.value == 25.4
        await pilot.press("x")
        assert field.value is None
        assert "! " in painted(app) and '"1x"' in painted(app)
        await pilot.press("backspace", "space", "1", "slash", "4")
        assert field.value == 31.75
        assert not field.error and "! " not in painted(app)
        await pilot.press("space", "m", "m")
        assert field.value == 1.25
        assert app.screen.told[:2] == [25.4, None]  # type: ignore[attr-defined]


async def test_an_empty_required_field_shows_an_error_only_after_the_cursor_leaves_it(make: MakeApp) -> None:
    """The field has the error from the start, but does not show it."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, required=True), ChoiceField("Side", ["a", "b"])))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        assert field.error and field.error not in painted(app)
        await pilot.press("down")
        await pilot.pause()
        assert field.error in painted(app)


async def test_pasted_text_loses_control_characters_and_is_shortened_to_the_fields_limit(make: MakeApp) -> None:
    """A pasted text loses control characters and line breaks, and is shortened to the field's limit."""
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


async def test_an_error_found_by_planning_is_shown_until_the_next_key_press(make: MakeApp) -> None:
    """The screen shows such an error with `show_error`."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, text="12 mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        field.show_error("too-thin")
        await pilot.pause()
        assert "too-thin" in painted(app)
        await pilot.press("end", "backspace", "m")
        await pilot.pause()
        assert "too-thin" not in painted(app)


async def test_a_long_error_message_is_never_cut_off(make: MakeApp) -> None:
    """The message goes below its field, even at 40 columns."""

    message = "a sentence much longer than any line of a small terminal, so that it is wrapped again and again"

    def refuse(text: str) -> float:
        raise CoreError(message)

    app = make(opening=lambda: Shown(QuantityField("Blank", refuse, text="a"), QuantityField("Tip", length_mm)))
    async with app.run_test(size=(40, 14)) as pilot:
        await pilot.pause()
        words = " ".join(painted(app).split())
        assert f"{message} Tip" in words


async def test_the_left_right_and_space_keys_select_another_option_of_a_choice(make: MakeApp) -> None:
    """The selected word is in brackets."""
    app = make(opening=lambda: Shown(ChoiceField("Side", ["outside", "inside"], value="inside")))
    async with app.run_test(size=(80, 24)) as pilot:
        assert "outside [inside]" in painted(app)
        await pilot.press("right", "space", "left")
        assert app.screen.told == ["outside", "inside", "outside"]  # type: ignore[attr-defined]
        assert "[outside]" in painted(app)


async def test_a_choice_too_wide_for_its_row_shows_the_number_of_the_selected_option(make: MakeApp) -> None:
    words = ["flank, compound swung", "straight, cross-slide alone", "as the tool maker says"]
    app = make(opening=lambda: Shown(ChoiceField("Infeed", words)))
    async with app.run_test(size=(60, 12)) as pilot:
        await pilot.press("right")
        assert "2 of 3" in painted(app)


async def test_the_up_and_down_keys_move_between_fields(make: MakeApp) -> None:
    """So the arrows of a number pad are enough to move between fields."""
    app = make(opening=lambda: Shown(QuantityField("One", str), QuantityField("Two", str)))
    async with app.run_test(size=(80, 12)) as pilot:
        await pilot.press("a", "down", "b", "up", "c")
        one, two = app.screen.query(QuantityField)
        assert (one.text, two.text) == ("c", "b")


# Lists.


async def test_a_list_of_20000_steps_creates_only_its_visible_rows(make: MakeApp) -> None:
    """A visible row shows the number of the step, the caution sign and the depth that the step takes off."""
    table = PlanTable()
    app = make(opening=lambda: Shown(table))
    async with app.run_test(size=(80, 24)) as pilot:
        table.show_plan(some_steps(20_000), example_lathe())
        await pilot.press("end")
        screen = painted(app)
        assert "20000 " in screen and "19000 " not in screen
        assert " 0.1 mm" in screen and " 1 mm" in screen
        assert table.step is not None and table.step.id == 20_000
        await pilot.press("home")
        # The caution of step 2 has its sign.
        assert [line.split()[0] for line in painted(app).splitlines() if " ! " in line] == ["2"]


async def test_the_selection_moves_to_an_existing_row_when_a_list_becomes_shorter(make: MakeApp) -> None:
    """The list may become shorter or empty."""
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
def test_progress_is_shown_as_a_count_and_also_as_a_bar_where_there_is_room(
    done: int, total: int, columns: int, line: str
) -> None:
    """For 7 of 20 steps, 7/20 of a bar of 19 signs, rounded down, are full. Without room only the words remain."""
    assert progress_text(done, total, columns, Glyphs("ascii")) == line


async def test_figures_are_aligned_in_columns_and_never_cut_off(make: MakeApp) -> None:
    """All values start in the same column. A value that is too long for the column has a row of its own."""
    figures = [Figure("pitch", "3.5 mm"), Figure("compound angle, off square to the axis", "29 deg", "largest mark")]
    app = make(opening=lambda: Shown(FigureList(figures)))
    async with app.run_test(size=(80, 12)) as pilot:
        lines = painted(app).splitlines()
        assert lines[1].index("3.5 mm") == lines[2].index("29 deg")
        await pilot.resize_terminal(24, 12)
        await pilot.pause()
        for value in ("3.5 mm", "29 deg", "largest mark"):
            assert value in painted(app)


async def test_each_caution_is_marked_with_a_sign_and_never_cut_off(make: MakeApp) -> None:
    """Every caution has its sign and all its words at any width."""
    caution = "the tool is sharper than the root of the standard and goes 0.245 mm deeper on the radius"
    app = make(opening=lambda: Shown(CautionList([caution, "second"])))
    async with app.run_test(size=(30, 14)) as pilot:
        await pilot.pause()
        screen = painted(app)
        assert screen.count("\n! ") == 2
        assert caution in " ".join(screen.replace("\n! ", "\n").split())


@given(sentence=st.text(max_size=200), columns=st.integers(1, 60))
def test_wrapped_rows_fit_their_width_and_lose_nothing_but_blanks(sentence: str, columns: int) -> None:
    """Only blanks are lost."""
    lines = wrapped(sentence, columns)
    assert all(len(line) <= columns for line in lines)
    assert "".join("".join(lines).split()) == "".join(sentence.split())


@given(text=st.text(max_size=40), columns=st.integers(0, 40))
def test_shortened_text_fits_into_the_given_number_of_columns(text: str, columns: int) -> None:
    """Text that fits already is unchanged."""
    assert len(cut(text, columns)) <= columns
    if len(text) <= columns:
        assert cut(text, columns) == text
