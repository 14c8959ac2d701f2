"""Set-up of the lathe: what is asked, chapter by chapter, and what is told already."""

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
from core.values.plain_text import quoted, wrapped
from tui.glyphs import cut, glyphs_of
from tui.setup.lathe_draft import LatheDraft, other_lathe
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.question import Typed

_TITLE_COLUMNS = 20
_LONGEST_DIAL = 40


class SetupScreen(BaseScreen[None]):
    """The chapters of one lathe; Enter asks, and everything can be answered, skipped or changed at any time."""

    CSS_PATH = "setup.tcss"
    AUTO_FOCUS = ""
    HELP = (
        "Each line is a part of the lathe with what is told of it. Enter asks about the part pointed at, in plain "
        "questions; all of them may be skipped and answered later. What is told is kept in a lathe file that can be "
        "read and changed by hand; one that was changed by hand is never written over.\n\n"
        "Begin with the cross-slide, the compound and the compound's scale: without them nothing can be set. Then try "
        "the dials (t) before the first cut."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "ask", "Ask", tooltip="Ask about the part pointed at."),
        Binding("t", "test", "Dial test", tooltip="See what the program believes of each dial."),
        Binding("a", "add_dial", "Another dial", tooltip="A dial of another name, such as a readout's x or y."),
        Binding("l", "lathes", "Lathes", tooltip="Choose another lathe, make a new one, rename, export."),
        Binding("escape,asterisk,multiply", "leave", "Back", key_display="Esc", tooltip="Back; all answers are kept."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="The next line, as Down."),
        Binding("minus,subtract", "move(-1)", "Before", show=False, tooltip="The line before, as Up."),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.title = "Set-up"
        self._work: LatheDraft | None = None
        self._chapters: tuple[Chapter, ...] = ()

    def compose_body(self) -> ComposeResult:
        """What is set up, and its parts."""
        yield Static(id="setup-which", markup=False)
        yield LineList(id="chapters")

    def on_mount(self) -> None:
        """Take up the lathe that counts, and where its questions were left."""
        self.set_focus(self.query_one("#chapters"))
        self.take_up(self.context.paths.own_lathe)

    def take_up(self, path: Path) -> None:
        """Set up the lathe in a file, which need not be there yet."""
        try:
            self._work = LatheDraft(path)
        except FileError as error:
            self._work, self._chapters = None, ()
            self.query_one("#chapters", LineList).show(())
            self._say_which([f"{error.messages[0]}. Mend it in any editor, or choose another lathe (l)."])
            return
        self._show()
        names = [chapter.name for chapter in self._chapters]
        place = self._work.draft.place[0]
        if place in names and self._work.draft.open_answers:
            self.query_one("#chapters", LineList).cursor = names.index(place)
        self.say(self._left_over())

    def _left_over(self) -> str:
        """Say that answers of the last time are here again."""
        assert self._work is not None
        draft = self._work.draft
        if draft.note:
            return f"{draft.note}."
        return "Answers of the last time are not in the lathe file yet; they are here." if draft.open_answers else ""

    @property
    def chapter(self) -> Chapter | None:
        """The part pointed at."""
        return self._chapters[self.query_one("#chapters", LineList).cursor] if self._chapters else None

    # Showing.

    def on_resize(self) -> None:
        """Write the lines for another width."""
        self._show()

    @on(ScreenResume)
    def _come_back(self) -> None:
        self._show()

    def _show(self) -> None:
        if self._work is None or not self.size.width:
            return
        draft = self._work.draft
        self._chapters = chapters_of(draft.tables)
        self.title = f"Set-up: {draft.tables.get('name') or UNNAMED}"
        self.query_one("#chapters", LineList).show([self._line(chapter) for chapter in self._chapters])
        self._say_which(self._which())

    def _line(self, chapter: Chapter) -> Content:
        """Return a chapter's line: a sign, its title, what is told or is wrong."""
        assert self._work is not None
        glyphs = glyphs_of(self.app)
        table = self._work.draft.table(chapter.section)
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
        return Content.assemble(f"{sign} ", title, (cut(glyphs.text(words), room, glyphs["ellipsis"]), style))

    def _which(self) -> list[str]:
        """Say which file this is, whether it counts, and what waits to be written to it."""
        assert self._work is not None
        path, context = self._work.draft.path, self.context
        if not path.exists():
            where = "No lathe file yet, so a stand-in lathe counts. Answer what you know; the rest can wait."
        elif path == context.paths.own_lathe:
            where = f"In {short_path(path)}, which counts."
        else:
            where = f"In {short_path(path)}, which does not count now (l: lathes)."
        waiting = unfinished(self._work.draft)
        more = f"Not in the file yet: {waiting[0]}" if waiting and not self.has_class("-low") else ""
        return [part for part in (where, self._work.notice, other_lathe(context), more) if part]

    def _say_which(self, sentences: Iterable[str]) -> None:
        spell = glyphs_of(self.app).text
        lines = [line for part in sentences for line in wrapped(spell(part), max(self.size.width - 1, 1))]
        self.query_one("#setup-which", Static).update("\n".join(lines))

    # Keys.

    def on_key(self, event: Key) -> None:
        """Keep a sentence no longer than to the next key."""
        self.say("")

    def action_move(self, step: int) -> None:
        """Point at another part."""
        self.query_one("#chapters", LineList).action_move(step)

    def action_ask(self) -> None:
        """Ask about the part pointed at, from where it was left."""
        from tui.setup.chapter import ChapterScreen

        chapter = self.chapter
        if self._work is None or chapter is None:
            return
        self.app.push_screen(ChapterScreen(self._work, chapter, self._start_of(chapter)), self._keep)

    def _start_of(self, chapter: Chapter) -> int:
        """Return the question to begin with: the first one open, or where a complete chapter was left, or the first."""
        assert self._work is not None
        draft = self._work.draft
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
        """Write what is complete once chapters are left, and point at the last one."""
        if self._work is None:
            return
        try:
            done = self._work.save_answers(self.context)
        except FileError as error:
            done = f"{error.messages[0]}. Your answers wait until that is mended."
        self._show()
        names = [chapter.name for chapter in self._chapters]
        if asked in names:
            self.query_one("#chapters", LineList).cursor = names.index(asked)
        self.say(done)

    def action_test(self) -> None:
        """Open the dial test."""
        from tui.setup.dial_test import DialTestScreen

        chapter = self.chapter
        if self._work is not None and chapter is not None:
            self.app.push_screen(DialTestScreen(self._work, chapter.dial))

    def action_add_dial(self) -> None:
        """Ask for the name of another dial, and about it."""
        if self._work is not None:
            question = Typed(
                "What is the other dial called?",
                self._dial_name,
                label="Name",
                detail=["Hole circles are set on a mill's readouts x and y, where they are told."],
            )
            self.app.push_screen(question, self._ask_dial)

    def _dial_name(self, text: str) -> str:
        name = text.strip().replace(" ", "_").replace("-", "_")
        if not 0 < len(name) <= _LONGEST_DIAL or not name.replace("_", "").isalnum():
            raise CoreError(f"found {quoted(text)}; accepted are letters, digits and blanks, at most {_LONGEST_DIAL}")
        return name

    def _ask_dial(self, name: str | None) -> None:
        from tui.setup.chapter import ChapterScreen

        if name is not None and self._work is not None:
            self.app.push_screen(ChapterScreen(self._work, dial_chapter(name)), self._keep)

    def action_lathes(self) -> None:
        """Show all lathes."""
        from tui.setup.lathes import LathesScreen

        def chosen(path: Path | None) -> None:
            if path is not None:
                self.take_up(path)

        self.app.push_screen(LathesScreen(self._work.draft.path if self._work else None), chosen)

    def action_leave(self) -> None:
        """Leave; what is complete is in the file already, the rest in the draft."""
        self.dismiss()
