"""The conversion page: it answers at every key, remembers questions, and sends an answer to the field."""

import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from time import perf_counter

import pytest
from textual.app import App
from textual.binding import Binding
from textual.events import Key
from textual.pilot import Pilot

from core.conversion import unit_lookup
from core.conversion.dimensions import FORCE, Value
from core.conversion.question_history import FILE_NAME
from core.values.quantities import read_quantity
from tests.conftest import MakeApp
from tests.tui.painted import foreign, painted
from tui.app import HalfnutApp
from tui.convert.answer_list import AnswerList
from tui.convert.from_field import ask_conversion
from tui.convert.screen import ConversionScreen
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.paths import Paths
from tui.terminal import Terminal
from tui.widgets.base_screen import BaseScreen
from tui.widgets.message_line import MessageLine
from tui.widgets.plain_input import PlainInput
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import Typed

HOSTILE = "[bold]a[/ b[/bold] [@click=app.quit]x[/] {0} %s"


class FieldScreen(BaseScreen[None]):
    """A screen with two fields and the key that opens the conversion page, as the program binds it."""

    BINDINGS = [Binding("f12", "convert", "Convert", priority=True)]

    def compose_body(self) -> object:  # type: ignore[override]
        """Yield a field for a length and a field for a pitch."""
        yield QuantityField("Blank", lambda text: read_quantity(text, "length"), unit="mm", id="blank")
        yield QuantityField("Pitch", lambda text: read_quantity(text, "pitch"), id="pitch")

    def action_convert(self) -> None:
        """Open the conversion page."""
        ask_conversion(self.app)


def entry(app: App[None]) -> PlainInput:
    """Return the field of the screen on top."""
    return app.screen.query_one(PlainInput)


def sentence(app: App[None]) -> str:
    """Return the message above the keys."""
    return app.screen.query_one(MessageLine).sentence


async def ask(pilot: Pilot[None], text: str) -> None:
    """Put a text into the field as if typed."""
    await pilot.pause()
    entry(pilot.app).value = text
    await pilot.pause()


async def rested(pilot: Pilot[None]) -> None:
    """Wait for the error of the text, which appears after a pause in typing."""
    await pilot.pause(0.35)


async def settled(pilot: Pilot[None]) -> None:
    """Wait until all units are looked up in the background."""
    await rested(pilot)
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


async def test_the_conversion_is_updated_after_every_typed_character(make: MakeApp) -> None:
    """1 1/4 in is 31.75 mm or 1250 thou. On a dial of 2 mm a turn this is 15 turns and 1.75 mm, or 3.5 by diameter."""
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for key in ["1", "space", "1", "slash", "4", "space", "i", "n"]:
            await pilot.press(key)
        await pilot.pause()
        shown = painted(app)
        for words in (
            "31.75 mm",
            "1250 thou",
            "31750",
            "15 turns and 3.50 mm",
            "15 turns and 1.74 mm",
            "1 1/4 in, exa",
        ):
            assert words in shown
        assert sentence(app) == ""


async def test_the_previous_conversion_stays_on_the_screen_while_a_unit_is_being_typed(make: MakeApp) -> None:
    """After a pause in typing, the error of the text is shown."""
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await ask(pilot, "10 mm")
        await ask(pilot, "10 mm + 5 de")
        before = painted(app)
        assert " 10 mm" in before and sentence(app) == ""
        await settled(pilot)
        await rested(pilot)
        assert '"de"' in sentence(app)
        await ask(pilot, "10 mm + 5 deg")
        await rested(pilot)
        assert sentence(app) and '"de"' not in sentence(app)
        assert app.screen.query_one(AnswerList).row is not None
        await ask(pilot, "10 mm + 5 mm")
        assert sentence(app) == ""
        assert " 15 mm" in painted(app)
        await ask(pilot, "")
        assert " 15 mm" not in painted(app)


async def test_an_impossible_conversion_is_refused_with_an_explanation(make: MakeApp) -> None:
    """Among them are texts that would take very long to compute, and texts with markup."""
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        for text in ("9**9**9 mm", "(" * 300, "1 mm" + " + 1 mm" * 60, "5 mm " * 70, HOSTILE, "1/0 mm", "#81"):
            await ask(pilot, "1 mm")
            assert not sentence(app)
            begun = perf_counter()
            await ask(pilot, text)
            await rested(pilot)
            assert perf_counter() - begun < 2
            assert sentence(app), text


async def test_the_up_key_recalls_an_earlier_conversion(make: MakeApp, paths: Paths) -> None:
    """Enter saves a question. Up finds it also after the next start of the program.

    Down leads to the typed text, then to the answers.
    """
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        for text in ("1 1/4 in", "30 H7/g6", "9**9 mm"):
            await ask(pilot, text)
            await pilot.press("enter")
            await pilot.pause()
    assert (paths.data / FILE_NAME).read_text() == "1 1/4 in\n30 H7/g6\n"
    again = make(opening=ConversionScreen)
    async with again.run_test(size=(80, 24)) as pilot:
        await ask(pilot, "8 tpi")
        await pilot.press("up")
        assert entry(again).value == "30 H7/g6"
        await pilot.press("up", "up", "up")
        assert entry(again).value == "1 1/4 in"
        await pilot.pause()
        assert "31.75 mm" in painted(again)
        await pilot.press("down", "down")
        assert entry(again).value == "8 tpi"
        await pilot.press("down", "down", "down")
        await pilot.pause()
        readings = again.screen.query_one(AnswerList)
        assert readings.has_focus
        assert readings.row is not None and readings.row.words.endswith("tpi")
        await pilot.press("up", "up", "up")
        assert entry(again).has_focus


async def test_a_digit_typed_while_a_conversion_is_selected_goes_into_the_text_field(make: MakeApp) -> None:
    """A figure typed while the readings have the keys is not lost."""
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await ask(pilot, "10 mm")
        await pilot.press("tab", "1", "2")
        await pilot.pause()
        assert entry(app).has_focus
        assert entry(app).value == "10 mm12"


async def test_keys_typed_while_the_conversion_page_opens_reach_its_text_field(make: MakeApp) -> None:
    """Keys pressed right after F12 are not lost while the page is made."""
    app = make(opening=FieldScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.push_screen(ConversionScreen())
        for character in "15 th":
            app.post_message(Key("space" if character == " " else character, character))
        for _ in range(3):
            await pilot.pause()
        assert entry(app).value == "15 th"


async def test_a_damaged_file_of_earlier_conversions_is_reported_only_once(make: MakeApp, paths: Paths) -> None:
    """The page works without the file."""
    paths.data.mkdir(parents=True)
    (paths.data / FILE_NAME).write_bytes(b"\xff\xff")
    app = make(opening=FieldScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(ConversionScreen())
        await pilot.pause()
        assert FILE_NAME in sentence(app)
        await ask(pilot, "10 mm")
        assert sentence(app) == ""
        await pilot.press("enter", "escape")
        await pilot.pause()
        app.push_screen(ConversionScreen())
        await pilot.pause()
        assert sentence(app) == ""
        await pilot.press("up")
        assert entry(app).value == "10 mm"
    assert (paths.data / FILE_NAME).read_bytes() == b"\xff\xff"


async def test_choosing_a_conversion_puts_its_value_into_the_form_field(make: MakeApp) -> None:
    """Half an inch goes in as 12.7 mm, the unit of the field, or as the nearest 1/64 in."""
    app = make(opening=FieldScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        blank = app.screen.query_one("#blank", QuantityField)
        blank.focus()
        await pilot.press("f12")
        await ask(pilot, "1/2 in")
        assert "Blank" in str(app.screen.title) and "Blank" in sentence(app)
        await pilot.press("enter")
        await pilot.pause()
        assert '"12.7 mm"' in sentence(app) and "Blank" in sentence(app)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, FieldScreen)
        assert blank.text == "12.7 mm" and not blank.error
        assert blank.value is not None and blank.value.value == read_quantity("1/2 in", "length").value
        await pilot.press("f12")
        await ask(pilot, "0.51 in")
        await pilot.press("enter", "down", "down", "down", "down", "down", "enter")
        await pilot.pause()
        assert blank.text == "33/64 in" and not blank.error
        assert blank.query_one(PlainInput).has_focus


async def test_the_conversion_page_opens_with_the_text_and_unit_of_the_form_field(make: MakeApp) -> None:
    """This needs a text that can be converted. Esc does not change the field."""
    app = make(opening=FieldScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        blank = app.screen.query_one("#blank", QuantityField)
        blank.focus()
        await pilot.press("1", "0", "f12")
        await pilot.pause()
        assert entry(app).value == "10 mm"
        await pilot.press("f12")
        assert len(app.screen_stack) == len([s for s in app.screen_stack if not isinstance(s, ConversionScreen)]) + 1
        await pilot.press("escape")
        await pilot.pause()
        assert blank.text == "10"
        blank.text = "nothing 1"
        await pilot.press("f12")
        await pilot.pause()
        assert entry(app).value == ""


async def test_choosing_a_conversion_that_no_field_can_use_is_refused(make: MakeApp) -> None:
    """A message says so, and another answer can be chosen."""
    app = make(opening=FieldScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.screen.query_one("#pitch", QuantityField).focus()
        await pilot.press("f12")
        await ask(pilot, "8 tpi")
        await pilot.press("enter", "down", "down", "down")
        await pilot.pause()
        assert sentence(app)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, ConversionScreen)
        await pilot.press("up", "enter")
        await pilot.pause()
        assert isinstance(app.screen, FieldScreen)
        assert app.screen.query_one("#pitch", QuantityField).text == "8 tpi"


async def test_choosing_a_conversion_puts_its_value_into_the_field_of_an_open_question(make: MakeApp) -> None:
    """The question stays open with the answer in its field."""
    app = make(opening=FieldScreen)
    answers: list[object] = []
    async with app.run_test(size=(80, 24)) as pilot:
        question = Typed("Which diameter?", lambda text: read_quantity(text, "length").value, unit="mm")
        app.push_screen(question, answers.append)
        await pilot.pause()
        ask_conversion(app)
        await ask(pilot, "1 in")
        await pilot.press("enter", "enter")
        await pilot.pause()
        assert app.screen is question
        await pilot.press("enter")
        await pilot.pause()
    assert [float(str(float(answer))) for answer in answers] == [25.4]  # type: ignore[arg-type]


async def test_a_conversion_page_opened_without_a_field_returns_no_value(make: MakeApp) -> None:
    """Enter only saves the question, and Esc closes the page with None."""
    app = make(opening=FieldScreen)
    answers: list[object] = []
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.screen.set_focus(None)
        ask_conversion(app)
        await pilot.pause()
        await pilot.press("escape")
        app.push_screen(ConversionScreen("25 m/min at 30 mm"), answers.append)
        await pilot.pause()
        await pilot.press("tab", "enter", "enter")
        await pilot.pause()
        assert isinstance(app.screen, ConversionScreen)
        assert "265.2582 rpm" in painted(app)
        await pilot.press("escape")
        await pilot.pause()
    assert answers == [None]


async def test_an_unknown_unit_is_looked_up_once_in_a_worker_thread(
    make: MakeApp, paths: Paths, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lookup starts after a pause in typing, and no key waits for it."""
    asked: list[str] = []

    def slow(name: str, folder: Path | None) -> Value | None:
        from threading import current_thread, main_thread

        assert current_thread() is not main_thread()
        asked.append(name)
        return {"zog": Value(Fraction(4448221615260500, 10**12), FORCE)}.get(name)

    monkeypatch.setattr(unit_lookup, "pint_unit", slow)
    monkeypatch.setattr(unit_lookup, "kept_units", lambda folder: {})
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for key in ["5", "space", "z", "o", "g"]:
            await pilot.press(key)
        assert asked == []
        for _ in range(2):
            await settled(pilot)
        assert asked[0] == "zog" and "z" not in asked and "zo" not in asked
        assert len(asked) == len(set(asked))


async def test_the_conversion_page_shows_100_psi_in_megapascals(make: MakeApp) -> None:
    """0.6894757 MPa (NIST SP 811, appendix B: 1 psi = 6.894757 E-03 MPa)."""
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await ask(pilot, "100 psi")
        for _ in range(40):
            await settled(pilot)
            if "MPa" in painted(app):
                break
        assert "0.6894757 MPa" in painted(app)


def test_the_conversion_page_opens_without_importing_pint() -> None:
    """Neither the module of the page nor the loading after the first paint imports pint."""
    program = (
        "import sys\n"
        "import tui.convert.screen\n"
        "from core.conversion.convert import warm_up\n"
        "warm_up()\n"
        "print('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, check=True).stdout == b"False\n"


@pytest.mark.parametrize(
    ("size", "charset", "safe"),
    [((80, 24), "ascii", ASCII_SAFE), ((40, 12), "console", CONSOLE_SAFE), ((120, 36), "console", CONSOLE_SAFE)],
)
async def test_the_cursor_reaches_every_conversion_on_every_kind_of_terminal(
    make: MakeApp, size: tuple[int, int], charset: str, safe: frozenset[str]
) -> None:
    """At every size, the cursor reaches every row of every answer, in characters of the terminal."""
    app = make(opening=ConversionScreen, terminal=Terminal(charset=charset))  # type: ignore[arg-type]
    async with app.run_test(size=size) as pilot:
        for text in ("5 µm", "12d30m15s", "30 H7/g6", "20 °C"):
            await ask(pilot, text)
            assert not foreign(app, safe), text
            readings = app.screen.query_one(AnswerList)
            await pilot.press("tab", "end")
            await pilot.pause()
            lines = painted(app).splitlines()
            assert any(line.startswith(("▶", ">")) for line in lines), text
            assert max(len(line) for line in lines) <= size[0]
            assert readings.cursor == readings.count - 1
            await pilot.press("tab")


async def test_changing_the_lathe_updates_the_dial_readings_of_a_conversion(make: MakeApp) -> None:
    """The answer changes while the page is open."""
    from core.lathe.reader import find_lathe

    app = make(opening=ConversionScreen)
    inch = Path(__file__).parents[3] / "sample_jobs" / "inch_lathe.toml"
    async with app.run_test(size=(80, 24)) as pilot:
        await ask(pilot, "1 in")
        before = painted(app)
        app.context.lathe = find_lathe(inch, None)
        await pilot.pause()
        assert isinstance(app, HalfnutApp) and painted(app) != before
        assert "1.000 in" in painted(app) or " 0.000 in" in painted(app)
