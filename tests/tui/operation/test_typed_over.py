"""Typing replaces the text that a field shows, unless an arrow key has moved the cursor in it first."""

from core.values.quantities import length_mm
from tests.conftest import MakeApp
from tests.tui.painted import painted
from tests.tui.setup_keys import keys, set_up
from tests.tui.shown import Shown
from tui.convert.screen import ConversionScreen
from tui.setup.chapter import ChapterScreen
from tui.setup.dial_test import DialTestScreen
from tui.widgets.plain_input import PlainInput
from tui.widgets.quantity_field import QuantityField


async def test_typing_in_a_filled_form_field_replaces_its_text(make: MakeApp) -> None:
    """The first character replaces the whole text. After an arrow key it is inserted at the cursor."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, text="25 mm", unit="mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        field = app.screen.query_one(QuantityField)
        await pilot.press("7")
        assert field.text == "7"
        field.text = "12 mm"
        await pilot.press("left", "1")
        assert field.text == "112 mm"
        field.text = "12"
        await pilot.press("right", "5")
        assert field.text == "125"


async def test_typing_at_a_question_of_set_up_replaces_the_earlier_answer(make: MakeApp) -> None:
    """Typing 5 replaces the earlier answer 4 mm. Enter alone keeps the earlier answer."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "1", "=4", "enter", "=0.05", "enter", "escape", "escape")
        screen = pilot.app.screen
        assert isinstance(screen, ChapterScreen) and screen.stated == "4 mm"
        await pilot.press("5")
        assert screen.stated == "5 mm"
        await pilot.press("enter")
        assert screen.stated == "0.05 mm"
        await pilot.press("end", "1", "escape")
        assert screen.stated == "5 mm"


async def test_typing_on_the_dial_test_page_replaces_the_example_reading(make: MakeApp) -> None:
    """The text is replaced for the first dial and after changing to the next dial."""
    async with set_up(make) as pilot:
        dial = ["enter", "1", "1", "=4", "enter", "=0.05", "enter", "1", "f8"]
        await keys(pilot, "down", *dial, "down", *dial, "t")
        screen = pilot.app.screen
        assert isinstance(screen, DialTestScreen)
        field = screen.query_one("#reading", QuantityField)
        await pilot.press("2")
        assert field.text == "2"
        await pilot.press("enter")
        assert field.text not in {"", "2"}
        await pilot.press("3")
        assert field.text == "3"


async def test_typing_on_the_conversion_page_replaces_the_text_with_which_the_page_opened(make: MakeApp) -> None:
    """Typing replaces the text the page opened with. After scrolling the answers, typing adds to the text."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, text="25 mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f12")
        await pilot.pause()
        assert isinstance(app.screen, ConversionScreen)
        entry = app.screen.query_one(PlainInput)
        assert entry.value == "25 mm"
        await pilot.press(*"1 in")
        assert entry.value == "1 in"
        assert "25.4 mm" in painted(app)
        await pilot.press("tab", "plus", "1")
        assert entry.value == "1 in+1"


async def test_typing_after_scrolling_the_conversions_adds_to_the_text_of_the_field(make: MakeApp) -> None:
    """After scrolling the answers, the next character is added to the text."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, text="25 mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f12")
        await pilot.pause()
        await pilot.press("tab", "asterisk", "2")
        assert app.screen.query_one(PlainInput).value == "25 mm*2"


async def test_typing_replaces_a_value_that_the_conversion_page_put_into_the_field(make: MakeApp) -> None:
    """The next key replaces a text that F12 put into the field."""
    app = make(opening=lambda: Shown(QuantityField("Blank", length_mm, text="1 in", unit="mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f12", "enter", "enter")
        await pilot.pause()
        field = app.screen.query_one(QuantityField)
        assert field.text not in {"1 in", ""}
        await pilot.press("7")
        assert field.text == "7"
