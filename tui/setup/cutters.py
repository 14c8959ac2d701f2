"""The list of the user's cutters in set-up. The user adds, changes and deletes cutters here."""

from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key, ScreenResume
from textual.widgets import Static

from core.lathe.set_up.chapters import (
    CUTTERS,
    Chapter,
    cutter_chapter,
    cutter_chapters,
    first_open,
    first_problem,
    problem_words,
    summary,
)
from core.lathe.set_up.cutters import cutter_name
from core.values.errors import FileError
from core.values.plain_text import sentence
from tui.glyphs import glyphs_of, shortened
from tui.setup.lathe_draft import LatheDraft
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.question import Typed, YesNo


class CuttersScreen(BaseScreen[str]):
    """Lists the user's cutters. When the screen closes, it returns "cutter", the name of this part of set-up."""

    CSS_PATH = "setup.tcss"
    AUTO_FOCUS = ""
    HELP = (
        "This page lists your cutters for patterns. Choose a cutter and press Enter to change it or d to delete "
        "it, or press a to add a cutter. A pattern that names a cutter uses the width and the greatest depth of "
        "that cutter."
    )
    TERMS = ("lathe file", "draft")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "change", "Change", tooltip="Answer the questions about this cutter."),
        Binding("a,insert", "add", "Add", key_display="a", tooltip="Add a cutter."),
        Binding("d,delete", "remove", "Delete", key_display="d", tooltip="Delete this cutter. The program asks first."),
        Binding("escape,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next row (same as the Down key)."),
        Binding(
            "minus,subtract", "move(-1)", "Previous", show=False, tooltip="Go to the previous row (same as the Up key)."
        ),
    ]

    def __init__(self, work: LatheDraft) -> None:
        super().__init__()
        self.title = "Cutters"
        self._lathe_draft = work

    def compose_body(self) -> ComposeResult:
        """Yield a sentence about the list, and the list of cutters."""
        yield Static("These are your cutters, with the names that patterns use.", id="setup-which", markup=False)
        yield LineList(id="cutters")

    def on_mount(self) -> None:
        """Fill the list of cutters."""
        self.set_focus(self._list)
        self._show()

    def on_resize(self) -> None:
        """Shorten the rows for the new width."""
        self._show()

    def on_key(self, event: Key) -> None:
        """Clear the message when the next key is pressed."""
        self.show_message("")

    def on_screen_resume(self, event: ScreenResume) -> None:
        """Show the changes that the questions about a cutter made."""
        self._show()

    @property
    def _list(self) -> LineList:
        return self.query_one("#cutters", LineList)

    @property
    def _chapters(self) -> tuple[Chapter, ...]:
        return cutter_chapters(self._lathe_draft.draft.tables)

    @property
    def chapter(self) -> Chapter | None:
        """The selected cutter as a part of set-up; None on the last row, which adds a cutter."""
        chapters, cursor = self._chapters, self._list.cursor
        return chapters[cursor] if cursor < len(chapters) else None

    def _show(self) -> None:
        self._list.show([*(self._line(chapter) for chapter in self._chapters), "Add a cutter"])

    def _line(self, chapter: Chapter) -> str:
        table = self._lathe_draft.draft.table(chapter.section)
        problem = first_problem(chapter, table)
        words = summary(chapter, table) if problem is None else problem_words(chapter, table, problem)
        glyphs = glyphs_of(self.app)
        sign = glyphs["done" if problem is None else "caution"]
        return shortened(glyphs.text(f"{sign} {chapter.section[1]}: {words}"), max(self.size.width - 4, 8))

    # Keys

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` rows; up if `step` is negative."""
        self._list.action_move(step)

    def action_change(self) -> None:
        """Ask the questions about the selected cutter. On the last row, add a cutter."""
        if (chapter := self.chapter) is None:
            self.action_add()
        else:
            self._ask(chapter)

    def action_add(self) -> None:
        """Ask for the name of a new cutter, then ask the questions about this cutter."""
        known = self._lathe_draft.draft.table(CUTTERS.section)
        question = Typed(
            "What do you call this cutter?",
            partial(cutter_name, known=known),
            label="Name",
            detail=['Patterns use this name. Enter a word such as "wide" or "fine".'],
        )

        def named(name: str | None) -> None:
            if name is not None:
                self._ask(cutter_chapter(name))

        self.app.push_screen(question, named)

    def _ask(self, chapter: Chapter) -> None:
        from tui.setup.chapter import ChapterScreen

        start = first_open(chapter, self._lathe_draft.draft.table(chapter.section))

        def asked(_: str | None) -> None:
            self._keep()
            names = [one.name for one in self._chapters]
            if chapter.name in names:
                self._list.cursor = names.index(chapter.name)

        self.app.push_screen(ChapterScreen(self._lathe_draft, chapter, start), asked)

    def action_remove(self) -> None:
        """Ask whether to delete the selected cutter, and delete it if the user agrees."""
        chapter = self.chapter
        if chapter is None:
            return

        def answered(sure: bool | None) -> None:
            if sure:
                try:
                    self._lathe_draft.remove(chapter.section)
                except FileError as error:
                    self.show_message(error.messages[0])
                    return
                self._keep()

        detail = ["Jobs that name this cutter can no longer be opened.", "You cannot undo this."]
        self.app.push_screen(YesNo(f"Delete {chapter.title}?", detail=detail), answered)

    def _keep(self) -> None:
        try:
            done = self._lathe_draft.save_answers(self.context)
        except FileError as error:
            done = f"{sentence(error.messages[0])} Your answers are kept until you correct the error."
        self._show()
        self.show_message(done)

    def action_close(self) -> None:
        """Close the page."""
        self.dismiss(CUTTERS.name)
