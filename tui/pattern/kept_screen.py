"""The page of kept patterns: keep a form's pattern, and open, rename or delete a kept pattern."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import cached_property
from typing import Any, ClassVar, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.reactive import reactive
from textual.screen import Screen
from textual.widgets import Static

from core.jobs.kept_patterns import (
    KeptPattern,
    forget_pattern,
    keep_pattern,
    kept_files,
    kept_under,
    rename_pattern,
)
from core.lathe.lathe import Lathe, RotaryTable
from core.lathe.reader import read_lathe
from core.lathe.set_up.lathes import lathes_in
from core.operations.patterns.fitting import fit_findings, with_own_cutters
from core.values.angles import mark_words
from core.values.errors import CoreError, FileError
from core.values.fields import LONGEST_NAME
from core.values.files import name_of
from core.values.plain_text import as_name, counted, quoted
from core.values.quantities import read_quantity
from tui.glyphs import glyphs_of
from tui.operation.saving import text_up_to
from tui.pattern.kept_list import KeptList
from tui.widgets.base_screen import BaseScreen
from tui.widgets.caution_list import CautionList
from tui.widgets.choice_field import ChoiceField
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import Typed, YesNo

_BLANK = "blank_diameter"
_EMPTY = (
    "No pattern has been kept yet. Open the form of a pattern, press Ctrl+K, then press a and enter a name. You can "
    "then open the kept pattern on this page for other work."
)


class FormPattern(NamedTuple):
    """The pattern of the form from which the page was opened."""

    name: str
    parameters: Mapping[str, Any]


class KeptScreen(BaseScreen[None]):
    """The page that lists the user's kept patterns, each with a small picture."""

    TITLE = "Kept patterns"
    AUTO_FOCUS = "#kept"
    HELP = (
        "This page lists your kept patterns. Select one and press Enter to see how it fits another blank and "
        "your rotary table. Press r to rename a kept pattern, x to delete it, or a to keep the pattern of the form "
        "from which you opened this page."
    )
    MORE_HELP = (
        "A small picture shows some positions of each layer in full and the others as points. Kept patterns are "
        "ordinary job files in one folder. The first row names this folder. A kept pattern includes the cutters that "
        "it uses from the lathe file."
    )
    TERMS = ("layer", "position", "rotary table")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Open", tooltip="See how this pattern fits other work, and open it."),
        Binding("a,insert", "keep", "Keep", tooltip="Keep the pattern that you are editing."),
        Binding("r", "rename", "Rename", tooltip="Give the selected pattern another name."),
        Binding("x,delete", "forget", "Delete", tooltip="Delete the selected pattern and its file."),
        Binding("escape", "close", "Close", tooltip="Close this page."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Select the next pattern (same as the Down key)."),
        Binding(
            "minus,subtract",
            "move(-1)",
            "Previous",
            show=False,
            tooltip="Select the previous pattern (same as the Up key).",
        ),
    ]
    DEFAULT_CSS = """
    KeptScreen #where { height: auto; color: $text-muted; }
    KeptScreen #kept { height: 1fr; }
    """

    count = reactive(0, bindings=True)
    """The number of kept patterns."""

    def __init__(
        self,
        make_form: Callable[[Mapping[str, Any]], Screen[Any]],
        pattern: FormPattern | None = None,
        refusal: str = "",
    ) -> None:
        """Make the page. `make_form` returns the form for a pattern's keys and values.

        `pattern` is the pattern of the form from which the page is opened; None if there is no pattern to keep.
        `refusal` is the reason why the form's pattern cannot be kept; "" if it can be kept, or if there is no form.
        """
        super().__init__()
        self._make_form, self._pattern, self._refusal = make_form, pattern, refusal

    def compose_body(self) -> ComposeResult:
        """Yield the name of the folder, and the list of patterns."""
        yield Static(id="where", markup=False)
        yield KeptList(lambda: self.context.lathe, id="kept")

    def on_mount(self) -> None:
        """Show the folder of kept patterns."""
        self.show_folder()
        self.follow_lathe(self.show_folder)
        if self._refusal:
            self.show_message(self._refusal)

    def show_folder(self, point_at: str = "") -> None:
        """Read the folder again. Select the file with the name `point_at` if there is one."""
        folder, kept = self.context.paths.patterns, self.query_one(KeptList)
        try:
            paths = kept_files(folder)
        except FileError as error:
            paths = []
            self.show_message(error.message)
        kept.show_files(paths)
        self.count = len(paths)
        if names := [path.name for path in paths if path.name == point_at]:
            kept.cursor = [path.name for path in paths].index(names[0])
        where = f"{counted(len(paths), 'file')} in {name_of(folder)}" if paths else _EMPTY
        self.query_one("#where", Static).update(Content(glyphs_of(self.app).text(where)))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether the key for an action is shown: only if the action can do something now."""
        if action in {"open", "rename", "forget"}:
            return self.count > 0
        return self._pattern is not None or bool(self._refusal) if action == "keep" else True

    def action_move(self, step: int) -> None:
        """Move the selection down by `step` patterns; up if `step` is negative."""
        self.query_one(KeptList).action_move(step)

    def action_open(self) -> None:
        """Show how the pattern fits a blank and the lathe, or the reason why the pattern cannot be opened."""
        kept = self.query_one(KeptList).kept
        if kept is None:
            return
        if kept.problem:
            self.show_message(kept.problem)
        else:
            self.context.push_screen(FitScreen(kept), self._opened)

    def _opened(self, parameters: Mapping[str, Any] | None) -> None:
        if parameters is not None:
            self.context.switch_screen(self._make_form(parameters))

    def action_keep(self) -> None:
        """Save the form's pattern under a name, or show why the pattern cannot be kept."""
        if self._pattern is not None:
            self.context.ask_in_turn(self._keep(self._pattern))
        else:
            self.show_message(self._refusal)

    async def _keep(self, pattern: FormPattern) -> None:
        folder = self.context.paths.patterns
        question = Typed("What do you want to call this pattern?", _read_name, label="Name", text=pattern.name)
        name = await self.context.ask(question)
        if name is None:
            return
        replaced = kept_under(folder, name)
        if replaced is not None:
            words = f"A pattern called {quoted(name)} already exists. Replace it?"
            if not await self.context.ask(YesNo(words, detail=[f"Its file is {name_of(replaced)}."])):
                self.show_message("The pattern was not kept. Press a to keep it under another name.")
                return
        try:
            path = keep_pattern(folder, name, with_own_cutters(pattern.parameters, self.context.lathe), replaced)
        except FileError as error:
            self.show_message(error.message)
            return
        self.show_folder(path.name)
        self.show_message(f"{quoted(name)} has been kept.")

    def action_rename(self) -> None:
        """Ask for another name for the selected pattern."""
        kept = self.query_one(KeptList).kept
        if kept is not None and kept.problem:
            self.show_message(kept.problem)
        elif kept is not None:
            self.context.ask_in_turn(self._rename(kept))

    async def _rename(self, kept: KeptPattern) -> None:
        question = f"What do you want to call {quoted(kept.name)}?"
        name = await self.context.ask(Typed(question, _read_name, label="Name", text=kept.name))
        if name is None or name == kept.name:
            return
        try:
            path = rename_pattern(kept.path, name)
        except FileError as error:
            self.show_message(error.message)
            return
        self.show_folder(path.name)
        self.show_message(f"{quoted(kept.name)} is now called {quoted(name)}.")

    def action_forget(self) -> None:
        """Delete the selected pattern if the user confirms."""
        if (kept := self.query_one(KeptList).kept) is not None:
            self.context.ask_in_turn(self._forget(kept))

    async def _forget(self, kept: KeptPattern) -> None:
        detail = [f"This deletes its file {name_of(kept.path)}. Jobs and runs stay as they are."]
        if await self.context.ask(YesNo(f"Delete {quoted(kept.name)}?", detail=detail)):
            try:
                forget_pattern(kept.path)
            except FileError as error:
                self.show_message(error.message)
                return
            self.show_folder()
            self.show_message(f"{quoted(kept.name)} has been deleted.")

    def action_close(self) -> None:
        """Close the page."""
        self.dismiss()


class FitScreen(BaseScreen[Mapping[str, Any]]):
    """The page that shows how a kept pattern fits a blank and a lathe.

    When the page closes, it returns the keys and values for a form; None if the user cancels.
    """

    HELP = (
        "This page shows how a kept pattern fits your blank and your lathe. Enter the diameter of the blank to see "
        "which cuts do not fit the blank, the slide, the boring head or the cutter, and how exactly the rotary table "
        "can be set. Press Enter to open the pattern as a form for the lathe in use."
    )
    TERMS = ("arc second", "dividing plate", "notches", "position", "rotary table")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Open", priority=True, tooltip="Open the pattern as a form with this blank."),
        Binding("escape", "close", "Close", tooltip="Close this page without opening the pattern."),
    ]
    DEFAULT_CSS = """
    FitScreen #fit-lathe, FitScreen #fits { height: auto; }
    FitScreen #fit-lathe { margin-bottom: 1; color: $text-muted; }
    """

    def __init__(self, kept: KeptPattern) -> None:
        super().__init__()
        self.title, self._kept = kept.name, kept

    def compose_body(self) -> ComposeResult:
        """Yield the fields for the blank and the lathe, and the result."""
        yield QuantityField(
            "Diameter of the blank",
            _read_blank,
            text=str(self._kept.parameters.get(_BLANK, "")),
            unit=self.context.lathe.unit,
            hint="(not set)",
            id="blank",
        )
        yield ChoiceField("Set on", [lathe.name for lathe in self._lathes], id="lathe")
        yield Static(id="fit-lathe", markup=False)
        yield CautionList(id="unfit")
        yield Static(id="fits", markup=False)

    def on_mount(self) -> None:
        """Show how the pattern fits, now and whenever the lathe changes."""
        self.query_one(ChoiceField).display = len(self._lathes) > 1
        self.query_one(QuantityField).focus()
        self._judge()
        self.follow_lathe(self._judge)

    @cached_property
    def _lathes(self) -> list[Lathe]:
        """The lathe in use, followed by the user's other lathes."""
        in_use, others = self.context.lathe, list[Lathe]()
        for known in lathes_in(self.context.paths.config):
            # A lathe file with errors cannot be used here. Its own page shows the errors.
            with suppress(FileError):
                others.append(read_lathe(known.path))
        return [in_use, *(lathe for lathe in others if lathe != in_use)]

    @property
    def _lathe(self) -> Lathe:
        index = self.query_one(ChoiceField).index
        return self._lathes[index] if index else self.context.lathe

    @property
    def _table(self) -> dict[str, Any]:
        """The pattern's keys and values, with the entered diameter of the blank."""
        field = self.query_one(QuantityField)
        others = {key: value for key, value in self._kept.parameters.items() if key != _BLANK}
        blank = {_BLANK: field.stated} if field.text.strip() else {}
        return {"kind": "pattern", "name": self._kept.name, **blank, **others}

    @on(QuantityField.Changed)
    @on(ChoiceField.Changed)
    def _judge(self) -> None:
        self.work_out(self._show_findings, self.query_one(QuantityField).text)

    def _show_findings(self) -> None:
        field, lathe, glyphs = self.query_one(QuantityField), self._lathe, glyphs_of(self.app)
        findings = [] if field.error else list(fit_findings(self._table, lathe))
        words = f"{lathe.name}, {_table_words(lathe.rotary_table)}"
        if lathe is not self.context.lathe:
            words += " This lathe is not in use. To use this lathe, press l on the board before you open the pattern."
        self.query_one("#fit-lathe", Static).update(Content(glyphs.text(words)))
        grave = [one for one in findings if one.gravity == "refused"]
        unfit = [f"The pattern does not fit. {one.message}" for one in grave]
        unfit += [one.message for one in findings if one.gravity == "caution"]
        self.query_one("#unfit", CautionList).show(unfit)
        good = [one.message for one in findings if one.gravity == "good"]
        self.query_one("#fits", Static).update(Content(glyphs.text("\n".join(good))))
        self.show_message("The form shows what you must change before you can start." if grave else "")

    def action_open(self) -> None:
        """Close the page with the pattern and the entered blank, so that the pattern opens as a form."""
        field = self.query_one(QuantityField)
        if field.error:
            field.touch()
            self.show_message(field.error)
        else:
            self.dismiss(self._table)

    def action_close(self) -> None:
        """Close the page without opening the pattern."""
        self.dismiss(None)


def _table_words(table: RotaryTable | None) -> str:
    """Return words for the ways in which a rotary table can be set, to follow the lathe's name. None means no table."""
    if table is None:
        return "no rotary table."
    dial = [] if table.dial_graduation_deg is None else [f"dial marks of {mark_words(table.dial_graduation_deg)}"]
    plates = [counted(sum(map(len, table.plates)), "hole circle")] if table.plates else []
    notches = [f"{' or '.join(map(str, table.direct))} notches"] if table.direct else []
    return f"rotary table {table.ratio} to 1 with {', '.join([*dial, *plates, *notches])}."


def _read_name(text: str) -> str:
    name = as_name(text_up_to(text, LONGEST_NAME), LONGEST_NAME)
    if not name:
        raise CoreError('A kept pattern needs a name. Enter a name such as "Lid with two rings".')
    return name


def _read_blank(text: str) -> float:
    """Return the diameter of a blank [mm]. Raise CoreError unless the diameter is greater than 0."""
    diameter_mm = float(read_quantity(text, "length").value)
    if diameter_mm <= 0:
        raise CoreError("The diameter of a blank must be greater than 0. Enter a length such as 80 mm.")
    return diameter_mm
