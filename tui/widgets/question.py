"""Questions to the user: yes or no, one of a list, or a text or quantity.

Every question is a screen on top of another: `await app.push_screen_wait(YesNo(...))` in a worker, or
`app.push_screen(YesNo(...), answered)`. A number pad is enough to answer it, unless it asks for text. The answer is
None if the user cancels. A question changes nothing itself; the caller acts on the answer.
"""

from collections.abc import Callable, Sequence
from typing import ClassVar, Generic, NamedTuple, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widget import Widget

from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of
from tui.widgets.base_screen import HEIGHTS, WIDTHS, Body, take_size
from tui.widgets.caution_list import CautionList
from tui.widgets.key_bar import KeyBar
from tui.widgets.line_list import LineList
from tui.widgets.message_line import MessageLine

Answer = TypeVar("Answer")
Value = TypeVar("Value")

_LONGEST_QUESTION = 600
_LETTERS = "abcdefghij"
_DIGITS = "123456789"
_DIGITS_AND_LETTERS = _DIGITS + "abcdefghijklmnopqrstuvwxyz"


class Sentence(Widget):
    """Shows a sentence, wrapped to the width of the widget."""

    def __init__(self, sentence: str, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._sentence = clean(sentence, _LONGEST_QUESTION)

    def show(self, sentence: str) -> None:
        """Show another sentence in place of the present one."""
        self._sentence = clean(sentence, _LONGEST_QUESTION)
        self.refresh(layout=True)

    def render(self) -> Content:
        """Return the sentence as text for the screen, wrapped."""
        return Content("\n".join(self._lines(self.size.width)))

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return the number of rows that the sentence needs."""
        return len(self._lines(width))

    def _lines(self, columns: int) -> list[str]:
        return wrapped(glyphs_of(self.app).text(self._sentence), columns)


class QuestionScreen(ModalScreen[Answer | None], Generic[Answer]):
    """A question on top of another screen. Esc, or * on the number pad, cancels it."""

    HORIZONTAL_BREAKPOINTS = WIDTHS
    VERTICAL_BREAKPOINTS = HEIGHTS
    HELP = "This page asks a question. Answer it, or cancel with Esc. Nothing changes before you answer."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "escape,asterisk,multiply",
            "cancel",
            "Cancel",
            key_display="Esc or *",
            tooltip="Cancel the question. Nothing changes.",
        ),
        Binding("pageup", "scroll_known(-1)", "Page up", show=False, priority=True, tooltip="Scroll the details up."),
        Binding(
            "pagedown", "scroll_known(1)", "Page down", show=False, priority=True, tooltip="Scroll the details down."
        ),
        Binding("f1", "app.help", "Help"),
        Binding("f12", "app.convert", "Convert", show=False, tooltip="Convert the text in the field."),
    ]

    def __init__(self, question: str, *, detail: Sequence[str] = (), cautions: Sequence[str] = ()) -> None:
        super().__init__()
        self.title = question
        self._question, self._detail, self._cautions = question, detail, cautions
        self._answered = False

    def compose(self) -> ComposeResult:
        """Yield the question, its details, the field or list for the answer, and the keys."""
        take_size(self)
        with Container(id="question"):
            yield Sentence(self._question, id="asked")
            with Body():
                yield from self.compose_known()
            yield from self.compose_answer()
            yield MessageLine()
            yield KeyBar()

    def on_mount(self) -> None:
        """Arrange the rows again whenever the message changes."""
        self.watch(self.query_one(MessageLine), "sentence", self.on_resize, init=False)

    def on_resize(self) -> None:
        """Keep the question and the keys visible on a small screen. The details scroll."""
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        box = next(iter(self.query("#question")), None)
        if box is None:
            # The question was answered before it was painted.
            return
        others = sum(
            widget.styles.margin.height + (0 if isinstance(widget, Body) else widget.outer_size.height)
            for widget in box.children
        )
        frame = box.outer_size.height - box.size.height
        body, room = box.query_one(Body), max(self.size.height - others - frame, 1)
        before, body.styles.max_height = body.styles.max_height, room
        if before is None or before.value != room:
            # The widgets below may get their full height only after there is room for them.
            self.call_after_refresh(self._fit)

    def compose_known(self) -> ComposeResult:
        """Yield the details of the question."""
        for sentence in self._detail:
            yield Sentence(sentence)
        if self._cautions:
            yield CautionList(self._cautions)

    def compose_answer(self) -> ComposeResult:
        """Yield the list or the field in which the user answers."""
        yield from ()

    def action_scroll_known(self, pages: int) -> None:
        """Scroll the details by `pages` pages, if they do not all fit."""
        known = self.query_one("#question").query_one(Body)
        known.scroll_relative(y=pages * max(known.size.height - 1, 1), animate=False)

    def give(self, answer: Answer | None) -> None:
        """Close the question with an answer; None means that the user cancelled.

        A second call does nothing, so a bouncing key cannot answer twice.
        """
        if not self._answered and self.is_current:
            self._answered = True
            self.dismiss(answer)

    def show_refusal(self, sentence: str) -> None:
        """Show a sentence that says why the answer cannot be used."""
        self.query_one(MessageLine).show_message(sentence)

    def action_cancel(self) -> None:
        """Cancel the question."""
        self.give(None)


class Listed(QuestionScreen[Answer]):
    """A question with a list of answers. Each answer may have a key of its own."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose", "Choose", tooltip="Give the selected answer."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Select the next answer (same as the Down key)."),
        Binding(
            "minus,subtract",
            "move(-1)",
            "Previous",
            show=False,
            tooltip="Select the previous answer (same as the Up key).",
        ),
    ]

    def __init__(
        self,
        question: str,
        answers: Sequence[tuple[str, str, Answer]],
        *,
        default: int = 0,
        detail: Sequence[str] = (),
        cautions: Sequence[str] = (),
    ) -> None:
        """Make the question. Each item of `answers` is a tuple (key, words, answer); the key "" means no key.

        `default` is the index of the answer that is selected first. That answer should be harmless.
        """
        super().__init__(question, detail=detail, cautions=cautions)
        self._answers = tuple(answers)
        self._keys = {key: index for index, (key, _, _) in enumerate(self._answers) if key}
        self._default = default

    def compose_answer(self) -> ComposeResult:
        """Yield the list of answers."""
        yield LineList([f"{key:1}  {clean(words)}" for key, words, _ in self._answers])

    def on_mount(self) -> None:
        """Select the default answer."""
        self.query_one(LineList).cursor = self._default

    def on_key(self, event: Key) -> None:
        """If an answer has the pressed key, close the question with this answer."""
        if event.character is not None and (key := event.character.lower()) in self._keys:
            event.stop()
            self._answer(self._keys[key])

    def action_choose(self) -> None:
        """Close the question with the selected answer."""
        self._answer(self.query_one(LineList).cursor)

    def action_move(self, step: int) -> None:
        """Move the selection by `step` answers."""
        self.query_one(LineList).action_move(step)

    def _answer(self, index: int) -> None:
        self.give(self._answers[index][2])


class YesNo(Listed[bool]):
    """A question for yes (1 or y) or no (0 or n). The answer is None if the user cancels."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer(True)", "Yes", key_display="1 or y", tooltip="Answer yes."),
        Binding("n", "answer(False)", "No", key_display="0 or n", tooltip="Answer no."),
    ]

    def __init__(
        self,
        question: str,
        *,
        yes: str = "Yes",
        no: str = "No",
        default: bool = False,
        detail: Sequence[str] = (),
        cautions: Sequence[str] = (),
    ) -> None:
        answers = (("1", yes, True), ("0", no, False))
        super().__init__(question, answers, default=0 if default else 1, detail=detail, cautions=cautions)

    def action_answer(self, yes: bool) -> None:
        """Answer yes if `yes` is True, otherwise no."""
        self.give(yes)


class OneOf(Listed[int]):
    """A question with a list of options. Digits choose the first nine; the arrow keys and Enter choose any.

    The answer is the index of the chosen option.
    """

    def __init__(
        self,
        question: str,
        options: Sequence[str],
        *,
        default: int = 0,
        detail: Sequence[str] = (),
        cautions: Sequence[str] = (),
        letters: bool = False,
    ) -> None:
        """Make the question. `default` is the index of the option that is selected first.

        If `letters` is True, the tenth option has the key a, the next option b, and so on. Questions of a counter must
        not use letters, because a pedal may send a letter.
        """
        keys = _DIGITS_AND_LETTERS if letters else _DIGITS
        answers = [(keys[index : index + 1], words, index) for index, words in enumerate(options)]
        super().__init__(question, answers, default=default, detail=detail, cautions=cautions)


class NumberStart(NamedTuple):
    """The start of a number, typed by the user or by an instrument while a list of answers was open."""

    text: str
    is_whole: bool
    """True if the number came from an instrument, with its Enter."""
    is_sure: bool = True
    """False if the number may have been typed by hand."""


class OneOfOrNumber(Listed[int | NumberStart]):
    """A question with a list of options. The user chooses with letters, or with the arrow keys and Enter.

    A digit closes the list and starts a number, which the following question asks for.
    """

    types_digits = True

    def __init__(
        self,
        question: str,
        options: Sequence[str],
        *,
        keys: str = _LETTERS,
        default: int = 0,
        detail: Sequence[str] = (),
    ) -> None:
        """Make the question. `default` is the index of the option that is selected first.

        `keys` contains the letter of each option, in the order of the options.
        """
        answers = [(keys[index : index + 1], words, index) for index, words in enumerate(options)]
        super().__init__(question, answers, default=default, detail=detail)

    def on_key(self, event: Key) -> None:
        """If the pressed key is a digit, close the list. The answer is then a NumberStart with this digit."""
        if event.character is not None and event.character.isdecimal():
            event.stop()
            self.give(NumberStart(event.character, is_whole=False))

    def take_number(self, text: str, *, is_sure: bool) -> None:
        """Close the list, with a number that an instrument typed as the answer.

        `is_sure` is False if the number may have been typed by hand.
        """
        self.give(NumberStart(text, is_whole=True, is_sure=is_sure))


class Typed(QuestionScreen[Value]):
    """A question that asks for a text or a quantity. The answer is what `read` returns for the typed text.

    `read` raises CoreError with a message that is shown at the field. If `unit` is given, a bare number is taken in
    that unit and the * key cancels, so a number pad is enough. `start` is the start of a number, which is already in
    the field. A whole number from an instrument is the answer immediately, if it can be read.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "answer", "Answer", tooltip="Answer with the text in the field."),
    ]

    def __init__(
        self,
        question: str,
        read: Callable[[str], Value],
        *,
        label: str = "Answer",
        text: str = "",
        unit: str = "",
        hint: str = "",
        start: NumberStart | None = None,
        detail: Sequence[str] = (),
        cautions: Sequence[str] = (),
    ) -> None:
        super().__init__(question, detail=detail, cautions=cautions)
        self._start = start
        # The first question after an interruption is a YesNo, which opens sooner without this import.
        from tui.widgets.quantity_field import QuantityField

        self._field = QuantityField(
            label,
            read,
            text=start.text if start else text,
            unit=unit,
            hint=hint,
            required=True,
            leave_out="*" if unit else "",
        )

    def compose_answer(self) -> ComposeResult:
        """Yield the field for the answer."""
        yield self._field

    def on_mount(self) -> None:
        """Focus the field. If `start` was given, the cursor is after the number that it starts.

        A whole number from an instrument is used as the answer immediately.
        """
        if self._start is None:
            self._field.focus()
            return
        self._field.focus_at_end()
        if self._start.is_whole:
            self.call_after_refresh(self.action_answer)

    def action_answer(self) -> None:
        """Close the question with the value that the text stands for, or show why the text cannot be read."""
        self._field.touch()
        if self._field.value is not None and not self._field.error:
            self.give(self._field.value)
