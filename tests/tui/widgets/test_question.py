"""Questions are answered from a keyboard or a number pad alone, and never by a held key."""

import time
from collections.abc import Callable, Sequence
from typing import Any, ClassVar

import pytest
from textual.binding import Binding, BindingType
from textual.events import Key
from textual.pilot import Pilot
from textual.screen import Screen

from core.values.quantities import length_mm
from tests.conftest import MakeApp
from tests.tui.made_up import Under
from tests.tui.painted import painted
from tui.app import HalfnutApp
from tui.help import HelpScreen
from tui.widgets.base_screen import BaseScreen
from tui.widgets.message_line import MessageLine
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import OneOf, QuestionScreen, Typed, YesNo

NOTHING = "nothing yet"
HOSTILE = "[bold]x[/] \x1b]0;t\x07 \u202e"


class Asking(BaseScreen[None]):
    """A screen that asks a question after F5, Enter or Space, like the counter. It records answers and counts."""

    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "ask", "Ask"),
        Binding("enter,space", "count", "Count"),
        Binding("asterisk,1,0", "count", "Count"),
    ]

    def __init__(self, question: QuestionScreen[Any], *, ask_by_enter: bool = False) -> None:
        super().__init__()
        self._question = question
        self._ask_by_enter = ask_by_enter
        self.answer: object = NOTHING
        self.counted: list[bool] = []

    def action_ask(self) -> None:
        """Ask the question."""
        self.app.push_screen(self._question, self._answered)

    def action_count(self) -> None:
        """Count a pass, or ask the question if the counting key asks it."""
        self.counted.append(self.context.presses.latest_is_alone())
        if self._ask_by_enter and self.answer == NOTHING:
            self.action_ask()

    def _answered(self, answer: object) -> None:
        self.answer = answer


def _asking(app: HalfnutApp) -> Asking:
    found = app.screen_stack[0]
    assert isinstance(found, Asking)
    return found


async def _ask(make: MakeApp, question: Callable[[], QuestionScreen[Any]], *answers: Sequence[str]) -> list[object]:
    """Ask a question once for each series of answer keys. Return the answers."""
    app = make(opening=lambda: Asking(question()))
    found = []
    async with app.run_test(size=(80, 24)) as pilot:
        for keys in answers:
            asking = Asking(question())
            app.push_screen(asking)
            await pilot.press("f5")
            await pilot.pause()
            await pilot.press(*keys)
            await pilot.pause()
            assert not asking.counted
            found.append(asking.answer)
            while len(app.screen_stack) > 1:
                app.pop_screen()
            await pilot.pause()
    return found


async def test_a_yes_or_no_question_can_be_answered_by_digits_letters_or_arrows(make: MakeApp) -> None:
    """1, 0, letters, arrows and Enter answer. Esc or * cancels. The harmless answer is selected first."""
    cases: list[tuple[list[str], bool | None]] = [
        (["1"], True),
        (["0"], False),
        (["y"], True),
        (["n"], False),
        (["enter"], False),
        (["up", "enter"], True),
        (["minus", "enter"], True),
        (["subtract", "enter"], True),
        (["escape"], None),
        (["asterisk"], None),
        (["multiply"], None),
    ]
    found = await _ask(make, lambda: YesNo("Moved?"), *(keys for keys, _ in cases))
    assert found == [answer for _, answer in cases]


async def test_an_answer_in_a_list_can_be_chosen_by_its_number_or_by_moving_the_selection(make: MakeApp) -> None:
    """A number key answers immediately, + and - or arrows move the selection, and other keys do nothing."""
    options = [f"step {number}" for number in range(1, 13)]
    cases: list[tuple[list[str], object]] = [
        (["3"], 2),
        (["enter"], 1),
        (["plus", "plus", "enter"], 3),
        (["end", "enter"], 11),
        (["asterisk"], None),
        (["7"], 6),
        (["0", "x"], NOTHING),
    ]
    found = await _ask(make, lambda: OneOf("Which?", options, default=1), *(keys for keys, _ in cases))
    assert found == [answer for _, answer in cases]
    assert await _ask(make, lambda: OneOf("Which?", ["a", "b"]), ["3"]) == [NOTHING]


async def test_a_number_pad_is_enough_to_enter_a_quantity(make: MakeApp) -> None:
    """Digits are enough if the question names the unit. An unreadable entry is not accepted."""
    cases: list[tuple[list[str], object]] = [
        (["3", "0", "full_stop", "5", "2", "enter"], 30.52),
        (["3", "0", "comma", "5", "2", "enter"], 30.52),
        (["1", "space", "1", "slash", "4", "space", "i", "n", "enter"], 31.75),
        (["minus", "1", "enter"], -1.0),
        (["3", "0", "asterisk"], None),
        (["3", "0", "escape"], None),
        (["enter"], NOTHING),
        (["3", "x", "enter"], NOTHING),
    ]
    found = await _ask(make, lambda: Typed("Size?", length_mm, unit="mm"), *(keys for keys, _ in cases))
    assert found == [answer for _, answer in cases]
    # In a text without a unit * is a character like others.
    assert await _ask(make, lambda: Typed("Note?", str), ["a", "asterisk", "question_mark", "enter"]) == ["a*?"]


async def test_an_error_in_the_answer_to_a_question_is_shown_beside_its_field(make: MakeApp) -> None:
    """A refusal is shown below the field. The message of an empty field appears after Enter."""
    app = make(opening=lambda: Asking(Typed("Size?", length_mm, unit="mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f5", "enter")
        await pilot.pause()
        field = app.screen.query_one(QuantityField)
        assert field.error and field.error in painted(app)
        await pilot.press("4", "d", "e", "g")
        await pilot.pause()
        assert field.error.split()[0] in painted(app)


async def test_markup_in_a_question_is_shown_as_plain_text(make: MakeApp) -> None:
    """This holds for texts from files in the question, its answers and its details."""
    app = make(opening=lambda: Asking(OneOf(HOSTILE, [HOSTILE], detail=[HOSTILE], cautions=[HOSTILE])))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f5")
        await pilot.pause()
        screen = painted(app)
        assert screen.count("[bold]x[/]") == 4
        assert not set(screen) & set("\x1b\x07\u202e")


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (20, 5), (6, 3)])
async def test_a_question_and_its_keys_stay_visible_on_a_small_terminal(make: MakeApp, size: tuple[int, int]) -> None:
    """The details between them scroll. The question can be answered at any size."""
    question = YesNo("Moved?", detail=["One sentence that is long enough to need several lines."] * 3)
    app = make(opening=lambda: Asking(question))
    async with app.run_test(size=size) as pilot:
        await pilot.press("f5")
        await pilot.pause()
        if size[0] >= 20:
            assert "Moved?" in painted(app)
            assert "F1" in painted(app)
        await pilot.press("1")
        await pilot.pause()
        assert _asking(app).answer is True


async def test_closing_the_help_page_returns_to_the_question(make: MakeApp) -> None:
    """F1 works in a question and in its field. Esc returns to the question."""
    app = make(opening=lambda: Asking(Typed("Size?", length_mm, unit="mm")))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f5", "f1")
        await pilot.pause()
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape")
        await pilot.press("5", "enter")
        await pilot.pause()
        assert _asking(app).answer == 5.0


# Keys that are still held.


class _Hand:
    """Sends key events at chosen times, like a hand at a keyboard."""

    def __init__(self, app: HalfnutApp, pilot: Pilot[None]) -> None:
        self.app, self.pilot = app, pilot
        # Already past, also where the machine was switched on a minute ago.
        self.now_s = time.monotonic() - 50

    async def press(self, key: str, after_s: float, *, wait: bool = True) -> None:
        """Press a key `after_s` seconds after the previous key. If not `wait`, return before it takes effect."""
        self.now_s += after_s
        event = Key(key, " " if key == "space" else None)
        event.time = self.now_s
        event.set_sender(self.app)
        self.app.post_message(event)
        if wait:
            await self.pilot.pause()
            await self.pilot.pause()


async def test_holding_the_key_that_opened_a_question_does_not_answer_the_question(make: MakeApp) -> None:
    """An Enter held for two seconds only opens the question. A second Enter answers it."""
    question = YesNo("Finished. Another piece?", default=True)
    app = make(quiet_s=0.8, opening=lambda: Asking(question, ask_by_enter=True))
    async with app.run_test(size=(80, 24)) as pilot:
        hand = _Hand(app, pilot)
        await hand.press("enter", 0)
        await hand.press("enter", 0.5, wait=False)
        for _ in range(45):
            await hand.press("enter", 1 / 30)
        assert _asking(app).answer == NOTHING
        assert "Enter is held down" in app.screen.query_one(MessageLine).sentence
        await hand.press("enter", 1.0)
        assert _asking(app).answer is True


async def test_a_second_enter_pressed_by_hand_answers_the_question(make: MakeApp) -> None:
    """A second Enter after 0.2 s comes from a hand, because a held key would have repeated earlier."""
    app = make(quiet_s=0.8, opening=lambda: Asking(YesNo("Another piece?", default=True), ask_by_enter=True))
    async with app.run_test(size=(80, 24)) as pilot:
        hand = _Hand(app, pilot)
        await hand.press("enter", 0)
        await hand.press("enter", 0.2)
        await pilot.pause(0.05)
        assert _asking(app).answer is True


async def test_holding_space_types_nothing_into_the_question_that_this_key_has_opened(make: MakeApp) -> None:
    app = make(quiet_s=0.8, opening=lambda: Asking(Typed("Size?", length_mm, unit="mm"), ask_by_enter=True))
    async with app.run_test(size=(80, 24)) as pilot:
        hand = _Hand(app, pilot)
        await hand.press("space", 0)
        for _ in range(10):
            await hand.press("space", 1 / 30)
        assert app.screen.query_one(QuantityField).text == ""


async def test_holding_the_key_that_answered_a_question_counts_no_pass_on_the_screen_below(make: MakeApp) -> None:
    """The answer is an Enter that is held or bounces. The next Enter by hand counts."""
    app = make(quiet_s=0.8, opening=lambda: Asking(YesNo("Moved?")))
    async with app.run_test(size=(80, 24)) as pilot:
        hand = _Hand(app, pilot)
        await hand.press("f5", 0)
        await hand.press("enter", 1.0)
        assert _asking(app).answer is False
        for _ in range(10):
            await hand.press("enter", 1 / 30)
        assert _asking(app).counted == []
        await hand.press("space", 0.9)
        assert _asking(app).counted == [True]


async def test_keys_that_arrive_together_with_an_answer_count_no_pass_on_the_screen_below(make: MakeApp) -> None:
    """The keys come together with the answer, before the question has closed."""
    app = make(quiet_s=0.8, opening=lambda: Asking(YesNo("Moved?")))
    async with app.run_test(size=(80, 24)) as pilot:
        hand = _Hand(app, pilot)
        await hand.press("f5", 0)
        await hand.press("escape", 1.0, wait=False)
        for _ in range(5):
            await hand.press("enter", 0.001, wait=False)
        await pilot.pause()
        await pilot.pause()
        assert _asking(app).answer is None
        assert _asking(app).counted.count(True) == 0


async def test_a_bouncing_switch_counts_only_one_pass(make: MakeApp) -> None:
    """Two presses that arrive together count once."""
    app = make(quiet_s=0.8, opening=lambda: Asking(YesNo("Moved?")))
    async with app.run_test(size=(80, 24)) as pilot:
        hand = _Hand(app, pilot)
        await hand.press("space", 0, wait=False)
        await hand.press("space", 0.004, wait=False)
        await pilot.pause()
        await pilot.pause()
        assert _asking(app).counted == [True, False]


async def test_pasting_text_counts_no_pass(make: MakeApp) -> None:
    """On a screen without a field, pasted text does nothing."""
    from textual.events import Paste

    app = make(quiet_s=0.8, opening=lambda: Asking(YesNo("Moved?")))
    async with app.run_test(size=(80, 24)) as pilot:
        app.post_message(Paste("1 0 y n\n  \n*"))
        await pilot.pause()
        assert _asking(app).counted == []
        assert isinstance(app.screen, Screen) and app.screen is _asking(app)


async def test_answering_a_question_before_it_is_painted_causes_no_error(make: MakeApp) -> None:
    """No work is left for the closed question."""
    question = YesNo("Begin?", cautions=["a caution that is long enough to need its own lines " * 8] * 6)
    async with make(opening=lambda: Asking(question)).run_test(size=(80, 24)) as pilot:
        asking = _asking(pilot.app)
        asking.action_ask()
        # A new size lets the question be laid out once more, after it has been answered.
        await pilot.resize_terminal(60, 20)
        question.dismiss(True)
        await pilot.pause()
        assert asking.answer is True
        assert pilot.app.return_code is None


async def test_a_bouncing_key_answers_only_one_question(make: MakeApp) -> None:
    """Of two presses before the question closes, the first answers. The second closes no other page."""
    app = make(opening=Under)
    async with app.run_test(size=(80, 24)) as pilot:
        answers: list[bool | None] = []
        app.push_screen(YesNo("Sure?"), answers.append)
        await pilot.pause()
        for _ in range(2):
            app.post_message(Key("1", "1"))
        await pilot.pause()
        question = YesNo("And now?")
        app.push_screen(question, answers.append)
        await pilot.pause()
        question.give(False)
        question.give(True)
        await pilot.pause()
        assert answers == [True, False]
        assert isinstance(app.screen, Under)
