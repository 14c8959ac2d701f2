"""The screen for one part of the lathe in set-up. It asks the questions one by one, then lists all answers."""

from collections.abc import Callable
from functools import partial
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.events import Key
from textual.reactive import reactive
from textual.widgets import Input, Static

from core.lathe.keys.entry import KIND, Question
from core.lathe.set_up.answers import dial_unit, in_unit, is_bare, sizes_in, typed_text, unit_of, unit_words, value_of
from core.lathe.set_up.chapters import (
    Chapter,
    answers_in_words,
    chapters_of,
    deleted_answers,
    problem_words,
    section_problems,
    without_own_keys,
)
from core.lathe.set_up.draft import answer_problem
from core.lathe.set_up.measuring import MeasuredAnswer
from core.lathe.set_up.unusual import unusual_answers, unusual_number
from core.values.errors import CoreError, FileError
from core.values.plain_text import sentence
from tui.glyphs import glyphs_of
from tui.setup.lathe_draft import LatheDraft
from tui.setup.pictures import PICTURES
from tui.setup.question import QuestionView
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.plain_input import PlainInput
from tui.widgets.question import YesNo

_MEASURE = "Measure it"
_LONGEST_ANSWER = 1_000


class ChapterScreen(BaseScreen[str]):
    """Asks the questions about one part of the lathe one after the other, and saves each answer immediately.

    When the screen closes, it returns the name of the part whose questions were asked last.
    """

    CSS_PATH = "setup.tcss"
    AUTO_FOCUS = ""
    HELP = (
        "This page asks about one part of your lathe, one question at a time. Type or choose the answer and "
        "press Enter, or press Enter alone to skip a question. Press F4 to find an answer by measuring."
    )
    MORE_HELP = (
        "Every answer is saved immediately. Complete answers go into the lathe file when you finish or close the "
        "part. The other answers wait until you open the part again."
    )
    TERMS = (
        "backlash",
        "compound",
        "cross-slide",
        "carriage",
        "diameter dial",
        "draft",
        "lathe file",
        "mark",
        "travel dial",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "answer", "Answer", tooltip="Save the answer. Leave the field empty to skip the question."),
        Binding("f4", "find_out", "Measure", tooltip="Enter measurements. The program works out the answer."),
        Binding("f8", "close", "List", tooltip="Close this part and show the list of parts. All answers are saved."),
        Binding("escape,asterisk,multiply", "back", "Back", key_display="Esc", tooltip="Go back one question."),
        Binding("up", "move(-1)", show=False, priority=True),
        Binding("down", "move(1)", show=False, priority=True),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next answer (same as the Down key)."),
        Binding(
            "minus,subtract",
            "move(-1)",
            "Previous",
            show=False,
            tooltip="Go to the previous answer (same as the Up key).",
        ),
        Binding("pageup", "scroll_known(-1)", show=False, priority=True, tooltip="Scroll up by a page."),
        Binding("pagedown", "scroll_known(1)", show=False, priority=True, tooltip="Scroll down by a page."),
    ]

    can_measure = reactive(False, bindings=True)

    def __init__(self, work: LatheDraft, chapter: Chapter, index: int = 0) -> None:
        """Start with the question number `index`, counted from 0 among the questions that apply now.

        `work`: the draft that receives the answers. `chapter`: the part of the lathe with its questions.
        """
        super().__init__()
        self._lathe_draft, self._chapter, self._index = work, chapter, index
        self._asked_again: object = None
        """An unusual answer that the user has to confirm. The program takes the answer if it is entered again."""
        self._entry = PlainInput(longest=_LONGEST_ANSWER, leave_out="*")

    def compose_body(self) -> ComposeResult:
        """Yield the question with its picture and sentences, and a list of answers or a field for the answer."""
        yield QuestionView(id="setup-question")
        with Horizontal(id="setup-typed"):
            yield Static("", id="setup-before", markup=False)
            yield self._entry
            yield Static("", id="setup-behind", markup=False)
        options = LineList(id="setup-options")
        options.can_search = False
        yield options

    def on_mount(self) -> None:
        """Show the question with which the page starts."""
        self.show_question()

    # The field, for the conversion page

    @property
    def label(self) -> str:
        """The label of the field on the conversion page."""
        return (self.question.label if self.question else "") or self._chapter.title.lower()

    @property
    def unit(self) -> str:
        """The unit of a number that the user types without a unit; "" if there is none."""
        return self._unit(self.question) if self.question else ""

    @property
    def stated(self) -> str:
        """The text in the field, with the field's unit after a number that has no unit."""
        text = self._entry.value
        return f"{text} {self.unit}" if self.unit and is_bare(text) else text

    # The present question

    @property
    def asked(self) -> tuple[Question, ...]:
        """The questions of this part that apply, given the answers so far."""
        return self._chapter.asked(self._lathe_draft.draft.table(self._chapter.section))

    @property
    def question(self) -> Question | None:
        """The question on the screen; None after the last question."""
        asked = self.asked
        return asked[self._index] if self._index < len(asked) else None

    def show_question(self) -> None:
        """Show the present question, with its earlier answer if there is one."""
        with self.app.batch_update():
            self._show_question()

    def _show_question(self) -> None:
        question = self.question
        options, entry = self.query_one("#setup-options", LineList), self._entry
        is_typed = question is not None and not question.options
        self.title = f"{self._chapter.title}: {self._place(question)}"
        self.can_measure = question is not None and bool(question.measuring)
        self.query_one("#setup-typed").display = is_typed
        options.display = not is_typed
        if question is not None and is_typed:
            table = self._lathe_draft.draft.table(self._chapter.section)
            entry.offer(typed_text(question, table.get(question.key)))
            entry.placeholder = self._spelled(question.example)
            self._show_unit(question)
            entry.focus()
        else:
            lines = self._option_lines()
            options.show([f"{number}  {line}" for number, line in enumerate(lines, start=1)])
            options.cursor = self._answered_option()
            options.focus()
        self._show_known(from_top=True)

    def _place(self, question: Question | None) -> str:
        if question is None:
            return "all answered"
        # The number of questions depends on whether the lathe has the part.
        return str(self._index + 1) if question.key == KIND else f"{self._index + 1} of {len(self.asked)}"

    def _option_lines(self) -> list[str]:
        if self.question is None:
            return [words for words, _ in self._ends()]
        return [option.words for option in self.question.options] + ([_MEASURE] if self.can_measure else [])

    def _answered_option(self) -> int:
        """Return the index of the option to select first: the earlier answer, the option for no answer, or 0."""
        if self.question is None:
            return 0
        value = self.question.value_in(self._lathe_draft.draft.table(self._chapter.section))
        option = self.question.option_of(value)
        return 0 if option is None else self.question.options.index(option)

    def _show_unit(self, question: Question) -> None:
        text = self._entry.value
        counts = question.form.name in {"quantities", "range"} or not text.strip() or is_bare(text)
        unit = self._unit(question) if counts else ""
        self.query_one("#setup-before", Static).update(f"{glyphs_of(self.app)['current']} [")
        self.query_one("#setup-behind", Static).update(f"] {unit}" if unit else "]")

    def _unit(self, question: Question) -> str:
        return unit_of(
            question, self._lathe_draft.draft.table(self._chapter.section), sizes_in(self._lathe_draft.draft.tables)
        )

    def _show_known(self, *, from_top: bool) -> None:
        question = self.question
        asked = question.asked if question else "These are your answers about this part."
        sentences = self._how(question) if question else self._answered_lines()
        self.query_one(QuestionView).show(asked, self._picture(), sentences, from_top=from_top)

    def _how(self, question: Question) -> list[str]:
        sentences = [*question.how, unit_words(question, self._unit(question))]
        return [self._spelled(sentence) for sentence in sentences if sentence]

    def _spelled(self, sentence: str) -> str:
        """Return a sentence or picture row in this terminal's characters.

        Examples are in the unit of this part's sizes.
        """
        tables = self._lathe_draft.draft.tables
        table = self._lathe_draft.draft.table(self._chapter.section)
        return in_unit(sentence, dial_unit(table) if self._chapter.dial else sizes_in(tables))

    def _picture(self) -> tuple[str, ...]:
        question = self.question
        if question is None:
            return ()
        cursor = self.query_one("#setup-options", LineList).cursor
        option = question.options[cursor] if cursor < len(question.options) else None
        lines = PICTURES.get((option.picture if option else "") or question.picture, ())
        return tuple(self._spelled(line) for line in lines)

    def _answered_lines(self) -> list[str]:
        """Return the answers, one in each row, then notes on answers that are wrong or unusual."""
        table = self._lathe_draft.draft.table(self._chapter.section)
        words = answers_in_words(self._chapter, table)
        problems = section_problems(self._chapter.section, table) if without_own_keys(table) else ()
        mark = glyphs_of(self.app)["caution"]
        return [
            *(words or ["none"]),
            *(f"{mark} Not in the file yet: {problem_words(self._chapter, table, problem)}" for problem in problems),
            *(f"{mark} {doubt}" for doubt in unusual_answers(self._chapter, table)),
        ]

    # Keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether a key is shown. F4 is shown only if the answer can be found by measuring."""
        if action == "find_out":
            return self.can_measure
        return True

    def on_key(self, event: Key) -> None:
        """Give the answer whose number was pressed."""
        options = self.query_one("#setup-options", LineList)
        if options.display and event.character is not None and event.character in "123456789":
            index = int(event.character) - 1
            if index < options.count:
                event.stop()
                options.cursor = index
                self.action_answer()

    @on(LineList.Moved, "#setup-options")
    def _pointed(self, event: LineList.Moved) -> None:
        event.stop()
        self._show_known(from_top=False)

    @on(Input.Changed)
    def _typing(self, event: Input.Changed) -> None:
        event.stop()
        self.show_message("")
        if (question := self.question) is not None:
            self.work_out(lambda: self._show_unit(question), event.value)

    def action_move(self, step: int) -> None:
        """Select the next or the previous answer.

        If the question has a field, scroll the sentences above it instead.
        """
        options = self.query_one("#setup-options", LineList)
        if options.display:
            options.cursor += step
        else:
            self.query_one(QuestionView).scroll_lines(step)

    def action_scroll_known(self, pages: int) -> None:
        """Scroll the sentences above the answer by `pages` pages."""
        self.query_one(QuestionView).scroll_pages(pages)

    def action_answer(self) -> None:
        """Save the answer and ask the next question. If the answer is wrong, show the reason instead."""
        question = self.question
        self.show_message("")
        if question is None:
            self._ends()[self.query_one("#setup-options", LineList).cursor][1]()
        elif question.options:
            cursor = self.query_one("#setup-options", LineList).cursor
            if cursor == len(question.options):
                self.action_find_out()
            else:
                self._take(question, question.options[cursor].value)
        else:
            self._take_typed(question)

    def _take_typed(self, question: Question) -> None:
        table = self._lathe_draft.draft.table(self._chapter.section)
        text = self._entry.value
        if text == typed_text(question, table.get(question.key)):
            self._go_on(question)
        elif question.key == "per_turn" and not text.strip():
            self.show_message(
                "Enter how much the numbers change in one turn. For a readout, press Esc and choose the readout."
            )
        else:
            self._take(question, value_of(question, text, self._unit(question)))

    def _take(self, question: Question, value: object, *, sure: bool = False) -> bool:
        """Save an answer and ask the next question. If the answer is wrong, show the reason and keep the question.

        `sure`: True if the user has confirmed that earlier answers may be deleted. Return whether the answer was saved.
        """
        wrong = answer_problem(self._lathe_draft.draft, self._chapter, question, value)
        if wrong:
            self._entry.select_all()
            self.show_message(wrong)
            return False
        if self._is_asked_again(question, value):
            return False
        lost = deleted_answers(self._chapter, question, self._lathe_draft.draft.table(self._chapter.section), value)
        if lost and not sure:
            self._confirm_deletion(question, value, lost)
            return False
        try:
            self._lathe_draft.answer(self._chapter, question, value, self._index)
        except CoreError as error:
            self.show_message(f"{sentence(error.message)} The answer was not saved. Correct the error first.")
            return False
        self._go_on(question)
        return True

    def _is_asked_again(self, question: Question, value: object) -> bool:
        """Ask the user to confirm a number if it is unusual and not confirmed yet.

        Return whether the user was asked.
        """
        table = self._lathe_draft.draft.table(self._chapter.section)
        odd = unusual_number(self._chapter, question, table, value)
        again = (question.key, value)
        if not odd or again == self._asked_again:
            self._asked_again = None
            return False
        self._asked_again = again
        if value_of(question, self._entry.value, self._unit(question)) != value:
            # A computed answer goes into the field, so that Enter can confirm it.
            with self._entry.prevent(Input.Changed):
                self._entry.value = typed_text(question, value)
            self._show_unit(question)
        self._entry.select_all()
        self.show_message(f"{odd} Press Enter again to keep this answer, or enter another answer.")
        return True

    def _confirm_deletion(self, question: Question, value: object, lost: tuple[str, ...]) -> None:
        """Ask the user to confirm that an answer deletes the earlier answers `lost`."""

        def answered(sure: bool | None) -> None:
            if sure:
                self._take(question, value, sure=True)

        asked = YesNo("This answer deletes earlier answers. Delete them?", detail=lost)
        self.app.push_screen(asked, answered)

    def _go_on(self, question: Question) -> None:
        keys = [asked.key for asked in self.asked]
        # An answer may remove its own question. The next question then has the same index.
        self._index = keys.index(question.key) + 1 if question.key in keys else min(self._index, len(keys))
        if self.question is None:
            self._keep()
        self.show_question()

    def _keep(self) -> None:
        try:
            self.show_message(self._lathe_draft.save_answers(self.context))
        except FileError as error:
            self.show_message(f"{sentence(error.messages[0])} Your answers are kept until you correct the error.")

    def action_back(self) -> None:
        """Go back one question. From the first question, go to the list of parts."""
        self.show_message("")
        if self._index == 0:
            self.action_close()
            return
        self._index = min(self._index, len(self.asked)) - 1
        self.show_question()

    def action_close(self) -> None:
        """Close this part and show the list of parts."""
        self.dismiss(self._chapter.name)

    def action_find_out(self) -> None:
        """Ask for measurements, and calculate the answer from them."""
        question = self.question
        if question is None or not question.measuring:
            return
        from core.lathe.set_up.measuring import MEASURING_METHODS
        from tui.setup.measuring import MeasureScreen

        def take_finding(result: MeasuredAnswer | None) -> None:
            if result is not None and self._take(question, result.value):
                self.show_message(result.sentence)

        table = self._lathe_draft.draft.table(self._chapter.section)
        self.app.push_screen(
            MeasureScreen(MEASURING_METHODS[question.measuring], table, sizes_in(self._lathe_draft.draft.tables)),
            take_finding,
        )

    # After the last question

    def _ends(self) -> list[tuple[str, Callable[[], Any]]]:
        """Return the choices after the last question: the words of each choice, and the function that it calls."""
        chapters = chapters_of(self._lathe_draft.draft.tables)
        names = [chapter.name for chapter in chapters]
        place = names.index(self._chapter.name) + 1 if self._chapter.name in names else len(names)
        ends: list[tuple[str, Callable[[], Any]]] = []
        if self._chapter.dial and self._testable():
            ends.append(("Test this dial with an indicator", self._test_dial))
        if place < len(chapters):
            following = chapters[place]
            # Each cutter has its own questions. The list leads to them.
            go_on = partial(self._begin, following) if following.questions else partial(self.dismiss, following.name)
            ends.append((f"Next: {following.title}", go_on))
        ends.append(("Back to the list", self.action_close))
        return ends

    def _testable(self) -> bool:
        table = self._lathe_draft.draft.table(self._chapter.section)
        return bool(table.get("graduation")) and not section_problems(self._chapter.section, table)

    def _begin(self, chapter: Chapter) -> None:
        self._chapter, self._index = chapter, 0
        self.show_question()

    def _test_dial(self) -> None:
        from tui.setup.dial_test import DialTestScreen

        self.app.push_screen(DialTestScreen(self._lathe_draft, self._chapter.dial))
