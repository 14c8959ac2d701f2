"""The list of the user's lathes.

The user chooses the lathe in use here, and makes, renames, copies or deletes lathes.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key
from textual.widgets import Static

from core.lathe.reader import read_lathe, read_tables
from core.lathe.set_up.chapters import THE_LATHE
from core.lathe.set_up.draft import delete_draft
from core.lathe.set_up.in_use import use_lathe
from core.lathe.set_up.lathes import (
    KnownLathe,
    export_lathe,
    lathe_name,
    lathes_in,
    new_lathe,
    remove_lathe,
    spare_name,
)
from core.values.errors import FileError
from core.values.files import name_of, short_path
from core.values.plain_text import wrapped
from tui.glyphs import glyphs_of
from tui.setup.lathe_draft import LatheDraft, follow, in_use_as, other_lathe
from tui.widgets.base_screen import BaseScreen
from tui.widgets.file_errors import FileErrorsScreen
from tui.widgets.line_list import LineList
from tui.widgets.path_question import PathQuestion, new_file, reading_folder
from tui.widgets.question import OneOf, Typed, YesNo


class LathesScreen(BaseScreen[Path | None]):
    """Lists the lathe files in the user's folder.

    When the screen closes, it returns the file of the lathe to set up; None to stay with the lathe being set up.
    """

    CSS_PATH = "setup.tcss"
    AUTO_FOCUS = ""
    HELP = (
        "This page lists your lathes. Choose a lathe and press Enter to set it up, u to use it or d to delete it, or "
        "press n to make a new lathe. All readings are for the lathe in use, unless a job names its own lathe."
    )
    TERMS = ("lathe file", "draft", "job")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "set_up", "Set up", tooltip="Set up this lathe."),
        Binding("u", "use", "Use", tooltip="Use this lathe from now on."),
        Binding("n", "new", "New", tooltip="Make another lathe, empty or as a copy."),
        Binding("r", "rename", "Rename", tooltip="Give this lathe another name."),
        Binding("x", "export", "Export", tooltip="Copy the file of this lathe to another folder."),
        Binding(
            "d,delete",
            "remove",
            "Delete",
            key_display="d",
            tooltip="Delete this lathe or its waiting answers. The program asks first.",
        ),
        Binding("escape,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next row (same as the Down key)."),
        Binding(
            "minus,subtract", "move(-1)", "Previous", show=False, tooltip="Go to the previous row (same as the Up key)."
        ),
    ]

    def __init__(self, at: Path | None = None) -> None:
        """Select the lathe file `at` first; the lathe in use if `at` is None."""
        super().__init__()
        self.title = "Lathes"
        self._at = at
        self._lathes: tuple[KnownLathe, ...] = ()
        self._is_gone = False
        """True if the lathe that was being set up is deleted or changed."""

    def compose_body(self) -> ComposeResult:
        """Yield a row that names the folder of the lathe files, and the list of lathes."""
        yield Static(id="setup-which", markup=False)
        yield LineList(id="lathes")

    def on_mount(self) -> None:
        """Fill the list of lathes."""
        lines = self.query_one("#lathes", LineList)
        self.set_focus(lines)
        self._show()
        paths = [lathe.path for lathe in self._lathes]
        if self._at in paths:
            lines.cursor = paths.index(self._at)

    def on_resize(self) -> None:
        """Wrap the sentences for the new width."""
        self._show()

    def on_key(self, event: Key) -> None:
        """Clear the message when the next key is pressed."""
        self.show_message("")

    @property
    def _folder(self) -> Path:
        return self.context.paths.config

    @property
    def lathe(self) -> KnownLathe | None:
        """The selected lathe; None if the list is empty."""
        return self._lathes[self.query_one("#lathes", LineList).cursor] if self._lathes else None

    def _show(self) -> None:
        self._lathes = lathes_in(self._folder)
        self.query_one("#lathes", LineList).show([self._line(lathe) for lathe in self._lathes])
        first = (
            f"In {short_path(self._folder)}:" if self._lathes else "No lathe is set up yet. Press n to make a lathe."
        )
        spell = glyphs_of(self.app).text
        parts = [part for part in (first, other_lathe(self.context)) if part]
        lines = [line for part in parts for line in wrapped(spell(part), max(self.size.width - 1, 1))]
        self.query_one("#setup-which", Static).update("\n".join(lines))

    def _line(self, lathe: KnownLathe) -> str:
        sign = glyphs_of(self.app)["done" if lathe.in_use else "open"]
        notes = [
            "in use" if lathe.in_use else "",
            "has errors" if lathe.errors else "edited by hand" if lathe.edited_by_hand else "",
            "" if lathe.has_file else "no file yet",
            "answers wait" if lathe.has_draft else "",
        ]
        note = ", ".join(part for part in notes if part)
        return f"{sign} {lathe.name or lathe.path.name}  ({lathe.path.name}{f': {note}' if note else ''})"

    # Keys

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` rows; up if `step` is negative."""
        self.query_one("#lathes", LineList).action_move(step)

    def action_set_up(self) -> None:
        """Set up the selected lathe. If its file has errors, show the errors instead."""
        lathe = self.lathe
        if lathe is None:
            self.action_new()
        elif lathe.errors:
            self.app.push_screen(FileErrorsScreen(lathe.path, FileError(lathe.errors)))
        else:
            self.dismiss(lathe.path)

    def action_use(self) -> None:
        """Use the selected lathe from now on."""
        lathe = self.lathe
        if lathe is None:
            return
        if not lathe.has_file:
            self.show_message(f"{lathe.path.name} has no file yet. Press Enter and answer the questions about a part.")
            return
        if lathe.errors:
            self.app.push_screen(FileErrorsScreen(lathe.path, FileError(lathe.errors)))
            return
        self._use(lathe.path)

    def _use(self, path: Path) -> None:
        try:
            use_lathe(path)
            said = follow(self.context)
        except FileError as error:
            said = error.messages[0]
        self._show()
        self.show_message(said or f"{path.name} is now in use.")

    def action_new(self) -> None:
        """Ask whether a new lathe starts empty or as a copy, ask for its name, and make it."""
        self.context.ask_in_turn(self._make())

    async def _make(self) -> None:
        known = [lathe for lathe in self._lathes if lathe.has_file and not lathe.errors]
        options = ["Empty, without answers", "A copy of another lathe file"]
        options += [f"A copy of {lathe.name} ({lathe.path.name})" for lathe in known]
        chosen = await self.context.ask(OneOf("How do you want to start the new lathe?", options))
        if chosen is None:
            return
        path = known[chosen - 2].path if chosen > 1 else None
        if chosen == 1:
            path = await self.context.ask(
                PathQuestion("Which lathe file do you want to copy?", read_lathe, text=reading_folder(self.context))
            )
            if path is None:
                return
        try:
            like = read_tables(path) if path else None
        except FileError as error:
            self.show_message(error.messages[0])
            return
        await self._name_new(like)

    async def _name_new(self, like: Mapping[str, Any] | None) -> None:
        name = await self.context.ask(
            Typed("What do you call the new lathe?", lathe_name, label="Name", text=self._spare_name(like))
        )
        if name is None:
            return
        first = not self.context.paths.own_lathe.exists()
        try:
            path = new_lathe(self._folder, name, like)
        except FileError as error:
            self.show_message(error.messages[0])
            return
        counts = None if first else await self.context.ask(YesNo("Do you want to use the new lathe from now on?"))
        if first or counts:
            self._use(path)
        self.dismiss(path)

    def _spare_name(self, like: Mapping[str, Any] | None) -> str:
        return spare_name(str(like["name"]), [lathe.name for lathe in self._lathes]) if like else ""

    def action_rename(self) -> None:
        """Ask for another name for the selected lathe."""
        lathe = self.lathe
        if lathe is None or lathe.errors:
            return
        path = lathe.path

        def answered(name: str | None) -> None:
            if name is not None:
                self._rename(path, name)

        question = Typed("What is the new name of this lathe?", lathe_name, label="Name", text=lathe.name)
        self.app.push_screen(question, answered)

    def _rename(self, path: Path, name: str) -> None:
        try:
            work = LatheDraft(path)
            work.answer(THE_LATHE, THE_LATHE.questions[0], name, 0)
            said = work.save_answers(self.context)
        except FileError as error:
            said = error.messages[0]
        self._show()
        self.show_message(said)

    def action_export(self) -> None:
        """Ask for a path, and copy the file of the selected lathe to it."""
        lathe = self.lathe
        if lathe is None:
            return
        path = lathe.path

        def answered(target: Path | None) -> None:
            if target is None:
                return
            try:
                export_lathe(path, target)
                self.show_message(f"The lathe file has been copied to {name_of(target)}.")
            except FileError as error:
                self.show_message(error.messages[0])

        self.app.push_screen(
            new_file(self.context, "To which file do you want to copy this lathe?", path.name), answered
        )

    def action_remove(self) -> None:
        """Ask whether to delete the selected lathe or only the answers that its file does not contain yet.

        Then delete what the user chooses.
        """
        lathe = self.lathe
        if lathe is not None:
            self.context.ask_in_turn(self._ask_to_remove(lathe))

    async def _ask_to_remove(self, lathe: KnownLathe) -> None:
        used = in_use_as(self.context, lathe.path) if lathe.has_file else ""
        if used and not lathe.has_draft:
            self.show_message(f"{lathe.path.name} {used}, so it cannot be deleted.")
            return
        options = ["Nothing"]
        options += ["Only the waiting answers, not the file"] if lathe.has_draft and lathe.has_file else []
        options += [] if used else [f"The file {lathe.path.name}" if lathe.has_file else "The waiting answers"]
        detail = [f"{lathe.path.name} {used}, so the file stays."] if used else []
        if lathe.has_file and not used:
            detail = [f"Jobs that name {name_of(lathe.path)} can no longer be opened.", "You cannot undo this."]
        question = OneOf(f"What do you want to delete from {lathe.name or lathe.path.name}?", options, detail=detail)
        chosen = await self.context.ask(question)
        if chosen:
            self._remove(lathe.path, whole=not used and chosen == len(options) - 1)

    def _remove(self, path: Path, *, whole: bool) -> None:
        try:
            if whole and path.exists():
                remove_lathe(path)
                said = f"{name_of(path)} has been deleted."
            else:
                delete_draft(path)
                said = f"The waiting answers about {path.name} have been deleted."
        except FileError as error:
            said = error.messages[0]
        self._is_gone = self._is_gone or path == self._at
        self._show()
        self.show_message(said)

    def action_close(self) -> None:
        """Close the page. If the user deleted the lathe that was being set up, set up the lathe in use."""
        self.dismiss(self._still_there() if self._is_gone else None)

    def _still_there(self) -> Path:
        return self._at if self._at is not None and self._at.exists() else self.context.paths.own_lathe
