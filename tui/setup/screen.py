"""The main screen of set-up. It lists the parts of a lathe, each with the answers so far."""

from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Key, ScreenResume
from textual.widgets import Static

from core.lathe.set_up.chapters import (
    CUTTERS,
    NOT_ANSWERED,
    Chapter,
    chapters_of,
    dial_chapter,
    first_open,
    first_problem,
    problem_words,
    summary,
)
from core.lathe.set_up.saving import UNNAMED, unfinished
from core.lathe.set_up.unusual import missing_for_work
from core.values.errors import CoreError, FileError
from core.values.files import short_path
from core.values.plain_text import quoted, sentence, wrapped
from tui.glyphs import cut, glyphs_of, shortened
from tui.setup.lathe_draft import LatheDraft, other_lathe
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.question import Typed

_TITLE_COLUMNS = 20
_LONGEST_DIAL = 40


class SetupScreen(BaseScreen[None]):
    """Lists the parts of one lathe with the user's answers.

    Enter asks the questions about the selected part. The user can answer, skip or change each answer.
    """

    CSS_PATH = "setup.tcss"
    AUTO_FOCUS = ""
    HELP = (
        "This page lists the parts of your lathe with your answers so far. Choose a part and press Enter to answer "
        "its questions; you can skip any question. Start with the cross-slide, the compound and its scale, then "
        "press t to test the dials before the first cut."
    )
    MORE_HELP = (
        "Answers go into a lathe file that you can read and edit. The program never overwrites a file that you edited."
    )
    TERMS = (
        "backlash",
        "carriage",
        "compound",
        "cross-slide",
        "draft",
        "lathe file",
        "rotary table",
        "thread dial",
        "wires",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "ask", "Answer", tooltip="Answer the questions about this part."),
        Binding("t", "test", "Dial test", tooltip="Check how the program reads each dial."),
        Binding(
            "a",
            "add_dial",
            "Add dial",
            tooltip='Add a dial or readout. Give it a name of your own, for example "readout x".',
        ),
        Binding("l", "lathes", "Lathes", tooltip="Use, make, rename, export or delete lathes."),
        Binding(
            "escape,asterisk,multiply",
            "close",
            "Close",
            key_display="Esc",
            tooltip="Close set-up. All answers are saved.",
        ),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next row (same as the Down key)."),
        Binding(
            "minus,subtract", "move(-1)", "Previous", show=False, tooltip="Go to the previous row (same as the Up key)."
        ),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.title = "Set-up"
        self._lathe_draft: LatheDraft | None = None
        self._chapters: tuple[Chapter, ...] = ()

    def compose_body(self) -> ComposeResult:
        """Yield a sentence about the lathe file, and the list of parts."""
        yield Static(id="setup-which", markup=False)
        yield LineList(id="chapters")

    def on_mount(self) -> None:
        """Show the lathe in use. The cursor is on the part with the latest answer."""
        self.set_focus(self.query_one("#chapters"))
        self.show_lathe(self.context.paths.own_lathe)

    def show_lathe(self, path: Path) -> None:
        """Show the lathe that the file at `path` describes. If the file is missing, the lathe has no answers yet."""
        try:
            self._lathe_draft = LatheDraft(path)
        except FileError as error:
            self._lathe_draft, self._chapters = None, ()
            self.query_one("#chapters", LineList).show(())
            self._show_lathe_words(
                [f"{sentence(error.messages[0])} Correct the file in an editor, or press l for another lathe."]
            )
            return
        self._show()
        names = [chapter.name for chapter in self._chapters]
        place = self._lathe_draft.draft.place[0]
        if place in names and self._lathe_draft.draft.open_answers:
            self.query_one("#chapters", LineList).cursor = names.index(place)
        self.show_message(self._waiting_answers_message())

    def _waiting_answers_message(self) -> str:
        """Return a message about earlier answers that the lathe file does not contain yet; "" if there are none."""
        assert self._lathe_draft is not None
        draft = self._lathe_draft.draft
        if draft.note:
            return sentence(draft.note)
        return "Your last answers are saved, but they are not in the lathe file yet." if draft.open_answers else ""

    @property
    def chapter(self) -> Chapter | None:
        """The selected part of the lathe; None if the list is empty."""
        return self._chapters[self.query_one("#chapters", LineList).cursor] if self._chapters else None

    # The list

    def on_resize(self) -> None:
        """Write the rows again for the new width."""
        self._show()

    @on(ScreenResume)
    def _come_back(self) -> None:
        self._show()

    def _show(self) -> None:
        if self._lathe_draft is None or not self.size.width:
            return
        draft = self._lathe_draft.draft
        self._chapters = chapters_of(draft.tables)
        self.title = f"Set-up: {draft.tables.get('name') or UNNAMED}"
        self.query_one("#chapters", LineList).show([self._line(chapter) for chapter in self._chapters])
        self._show_lathe_words(self._which())

    def _line(self, chapter: Chapter) -> Content:
        """Return the row of one part: a sign, the title of the part, and its answers or the first error."""
        assert self._lathe_draft is not None
        glyphs = glyphs_of(self.app)
        table = self._lathe_draft.draft.table(chapter.section)
        words = summary(chapter, table)
        is_told = words not in {NOT_ANSWERED, "none"}
        problem = first_problem(chapter, table) if is_told else None
        lacks = missing_for_work(chapter, table) if is_told else ""
        if problem is not None:
            words = problem_words(chapter, table, problem)
        elif lacks:
            words = f"{words}; {lacks}"
        is_wrong = problem is not None or bool(lacks)
        sign = glyphs["caution" if is_wrong else "open" if words == NOT_ANSWERED else "done"]
        narrow = self.has_class("-narrow")
        title = cut(chapter.title, _TITLE_COLUMNS - 2).ljust(_TITLE_COLUMNS - (2 if narrow else 0))
        room = max(self.size.width - len(title) - 6, 8)
        style = "$text-warning" if is_wrong else "$text-muted" if words == NOT_ANSWERED else ""
        return Content.assemble(f"{sign} ", title, (shortened(glyphs.text(words), room), style))

    def _which(self) -> list[str]:
        """Return sentences about the lathe file: its path, whether it is in use, and whether answers wait for it."""
        assert self._lathe_draft is not None
        path, context = self._lathe_draft.draft.path, self.context
        if not path.exists():
            where = (
                "There is no lathe file yet, so readings are for an example lathe. Choose a part and answer "
                "its questions."
            )
        elif path == context.paths.own_lathe:
            where = f"The lathe file in use is {short_path(path)}."
        else:
            where = f"The lathe file {short_path(path)} is not in use. Press l to see all lathes."
        waiting = unfinished(self._lathe_draft.draft)
        more = f"Not in the file yet: {waiting[0]}" if waiting and not self.has_class("-low") else ""
        return [part for part in (where, self._lathe_draft.notice, other_lathe(context), more) if part]

    def _show_lathe_words(self, sentences: Iterable[str]) -> None:
        spell = glyphs_of(self.app).text
        lines = [line for part in sentences for line in wrapped(spell(part), max(self.size.width - 1, 1))]
        self.query_one("#setup-which", Static).update("\n".join(lines))

    # Keys

    def on_key(self, event: Key) -> None:
        """Clear the message when the next key is pressed."""
        self.show_message("")

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` rows; up if `step` is negative."""
        self.query_one("#chapters", LineList).action_move(step)

    def action_ask(self) -> None:
        """Ask the questions about the selected part, starting with the first unanswered question."""
        from tui.setup.chapter import ChapterScreen
        from tui.setup.cutters import CuttersScreen

        chapter = self.chapter
        if self._lathe_draft is None or chapter is None:
            return
        if chapter == CUTTERS:
            self.app.push_screen(CuttersScreen(self._lathe_draft), self._keep)
            return
        self.app.push_screen(ChapterScreen(self._lathe_draft, chapter, self._start_of(chapter)), self._keep)

    def _start_of(self, chapter: Chapter) -> int:
        """Return the index of the first unanswered question of a part.

        If all questions are answered, return the index of the question at which the user last closed the part, or 0.
        """
        assert self._lathe_draft is not None
        draft = self._lathe_draft.draft
        table = draft.table(chapter.section)
        if (
            first_problem(chapter, table) is not None
            or missing_for_work(chapter, table)
            or summary(chapter, table) == NOT_ANSWERED
        ):
            return first_open(chapter, table)
        name, index = draft.place
        open_here = any(path[:-1] == chapter.section for path, _ in draft.open_answers)
        left_in_it = name == chapter.name and open_here and index + 1 < len(chapter.asked(table))
        return index + 1 if left_in_it else 0

    def _keep(self, asked: str | None) -> None:
        """Save the complete answers of the part `asked` after its page has closed, and put the cursor on this part."""
        if self._lathe_draft is None:
            return
        try:
            done = self._lathe_draft.save_answers(self.context)
        except FileError as error:
            done = f"{sentence(error.messages[0])} Your answers are kept until you correct the error."
        self._show()
        names = [chapter.name for chapter in self._chapters]
        if asked in names:
            self.query_one("#chapters", LineList).cursor = names.index(asked)
        self.show_message(done)

    def action_test(self) -> None:
        """Open the dial test."""
        from tui.setup.dial_test import DialTestScreen

        chapter = self.chapter
        if self._lathe_draft is not None and chapter is not None:
            self.app.push_screen(DialTestScreen(self._lathe_draft, chapter.dial))

    def action_add_dial(self) -> None:
        """Ask for the name of a new dial, then ask the questions about this dial."""
        if self._lathe_draft is not None:
            question = Typed(
                "What is the name of the new dial or readout?",
                self._dial_name,
                label="Name",
                detail=[
                    'A dial named "quill" can feed a drill. With "readout x" and "readout y", a mill can set '
                    "the holes of a bolt circle."
                ],
            )
            self.app.push_screen(question, self._ask_dial)

    def _dial_name(self, text: str) -> str:
        name = text.strip().replace(" ", "_").replace("-", "_")
        if not 0 < len(name) <= _LONGEST_DIAL or not name.replace("_", "").isalnum():
            raise CoreError(
                f'{quoted(text)} cannot be the name of a dial. Use letters, digits and spaces, for example "readout x".'
            )
        return name

    def _ask_dial(self, name: str | None) -> None:
        from tui.setup.chapter import ChapterScreen

        if name is not None and self._lathe_draft is not None:
            self.app.push_screen(ChapterScreen(self._lathe_draft, dial_chapter(name)), self._keep)

    def action_lathes(self) -> None:
        """Show the list of all lathes."""
        from tui.setup.lathes import LathesScreen

        def chosen(path: Path | None) -> None:
            if path is not None:
                self.show_lathe(path)

        self.app.push_screen(LathesScreen(self._lathe_draft.draft.path if self._lathe_draft else None), chosen)

    def action_close(self) -> None:
        """Close set-up. All complete answers are already in the lathe file, and the other answers in the draft."""
        self.dismiss()
