"""The screen that the forms of all operations share. It plans the operation after every key press."""

from abc import abstractmethod
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from functools import cached_property, partial
from pathlib import Path
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Static

from core.jobs.card import EXAMPLE_LATHE_WORDS
from core.operations.form import Figure, Row
from core.operations.registry import OPERATIONS, PlanInput, plan_of, read_operation
from core.plan import Plan
from core.values.errors import FileError
from core.values.fields import Problem, Table
from core.values.plain_text import counted, quoted
from tui.glyphs import glyphs_of
from tui.operation.form import OperationForm
from tui.operation.latest_work import LatestWork
from tui.operation.results import FIELDS, FIGURES, Figures, OperationResults
from tui.operation.saving import SavedOperation, add_to_job, first_errors, save_as_new_job, save_change, save_material
from tui.operation.varying import VaryingPages
from tui.widgets.caution_list import CautionList
from tui.widgets.column_table import ColumnTable
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager
from tui.widgets.question import YesNo

FILLING_IN = (
    "A number that you type without a unit is taken in the unit shown after the field. If you leave a field empty, "
    "the value in brackets applies. In a field with several words, press + or - to select another word. Press < or > "
    "to change a number by one mark of its dial, one degree, or 1. Press Ctrl+Z to undo up to ten changes, and "
    "Ctrl+Y to redo them."
)
"""Instructions for filling in the fields, shown on the help page of every form."""

PLANNING = "The program is planning the steps. You can keep typing."


class OperationScreen(VaryingPages):
    """The form of one operation.

    After every key press, core checks the entries as it checks a job file, and plans the operation.
    """

    # An absolute path, because subclasses in other packages inherit it.
    CSS_PATH = Path(__file__).with_name("operation.tcss")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f4", "save", "Save", tooltip="Save this operation in the open job or in a new job."),
        Binding("f5", "start", "Start", tooltip="Start this operation now, without a job."),
        Binding("f6", "turn(1)", "Next page", tooltip="Show the next page, such as figures or steps."),
        Binding("f7", "turn(-1)", "Previous page", show=False, tooltip="Show the previous page."),
        Binding("f8", "save(True)", "New job", show=False, tooltip="Save this operation in a new job file."),
        # These bindings have priority, so that text typed right after such a key enters the newly focused field.
        Binding(
            "enter",
            "enter",
            "Next field",
            show=False,
            priority=True,
            tooltip="Go to the next field, or run the selected action.",
        ),
        Binding("down", "go(1)", show=False, priority=True),
        Binding("up", "go(-1)", show=False, priority=True),
        Binding("tab", "app.focus_next", show=False, priority=True),
        Binding("shift+tab", "app.focus_previous", show=False, priority=True),
        Binding("escape", "back", "Close", tooltip="Close this form. You are asked first if entries would be lost."),
    ]
    ready = reactive(False, bindings=True)
    """True if the fields are complete and correct, so that there is a plan."""
    in_job = reactive("", bindings=True, init=False)
    """The name under which the open job holds these fields; "" as soon as a field differs."""
    changing: str | None = None
    """The name of the job's operation that is being changed; None for a new operation."""

    def __init__(self, kind: str, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form for a kind of operation.

        `parameters`: an operation's keys and values as in a job file, which fill the fields; None for a new operation.
        """
        super().__init__()
        self.kind, self.initial = kind, dict(parameters or {})
        self.title = OPERATIONS[kind].title
        self.entered: Any = None
        """The operation read from the fields. Like `plan`, it is None if a field is empty or wrong."""
        self.plan: Plan | None = None
        self.worked_ahead: object = None
        """The result of `work_ahead` for the present plan, if the plan was made in a thread."""
        self._planned_from: tuple[object, ...] = ()
        """The keys and values, lathe and material of the present plan, or of the plan that is being made."""
        self._then: Callable[[], object] | None = None
        """The function to call once the plan is ready; None if nobody waits for the plan."""
        self._unshown: list[Problem] = []
        self._saved_last = SavedOperation.newest(None)

    @cached_property
    def _planner(self) -> LatestWork:
        return LatestWork(self.context)

    # Methods that each kind of operation overrides.

    @abstractmethod
    def rows(self) -> Sequence[Row]:
        """Return the form's headings and fields, in the order in which a turner fills them in."""

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of the fields to hide: those that do not apply to the selected options."""
        return ()

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the form's fields, filled in from an operation's keys and values."""
        return OperationForm(self.rows(), table)

    @abstractmethod
    def suggested_name(self) -> str:
        """Return a suggested name for the operation that is planned now."""

    @abstractmethod
    def summary(self, plan: Plan) -> str:
        """Return a sentence that sums up the plan, such as the number of passes and the last dial reading."""

    @abstractmethod
    def figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the plan's most important figures, such as limits, depth and settings."""

    def cautions(self, plan: Plan) -> Sequence[str]:
        """Return the plan's cautions, the most serious first."""
        return plan.cautions

    def further_figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the plan's less important figures, which the page of figures shows below the cautions."""
        return ()

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return, by field key, the values that the plan uses for empty fields. The form shows these in brackets."""
        return {}

    def offers(self) -> Mapping[str, tuple[tuple[str, str | None], ...]]:
        """Return new options, by field key, for choices whose options depend on other fields."""
        return {}

    def pictures(self) -> Sequence[Widget]:
        """Return the widgets on the page of pictures; () if PAGES has no such page."""
        return ()

    def tables(self) -> Sequence[ColumnTable]:
        """Return the lists that each have a page of their own. PAGES contains the id of each list."""
        return ()

    def show_pictures(self) -> None:
        """Draw the pictures of the present plan; clear them if there is no plan."""

    # Layout.

    def compose_body(self) -> ComposeResult:
        """Yield the fields and actions on the left, the results on the right, and a summary below both."""
        material = self.context.job.material if self.context.job else None
        with Vertical(id="all"):
            with Horizontal():
                with VerticalScroll(id="left", can_focus=False):
                    yield self.make_form({"material": material or "", **self.initial})
                    yield ActionList(id="actions")
                yield OperationResults(self.pictures(), self.tables(), id="right")
            yield Static(id="ready", markup=False)
            yield CautionList(id="wrong")

    def on_mount(self) -> None:
        """Plan the operation from the fields, now and whenever the lathe changes."""
        self._show_actions()
        self.judge()
        self.query_one(OperationForm).focus_empty()
        self.follow_lathe(self.judge)
        self.follow_log(self._begun)

    # Planning.

    @on(OperationForm.Edited)
    def _edited(self, event: OperationForm.Edited) -> None:
        self._unsaved = True
        self.show_message("")
        self.judge(typed_in=event.typed_in)

    def judge(self, typed_in: object = None) -> None:
        """Read the fields, plan the operation and show the result.

        `typed_in` is the field in which the user types; None after any other change.
        """
        self.work_out(self.plan_typed, self.query_one(OperationForm).texts())
        self.note_state(typed_in)

    def show_fault(self, sentence: str) -> None:
        """Remove the plan, and show an unexpected error beside the field that the user changed last."""
        self.entered, self.plan, self.ready = None, None, False
        self.title = self.changing or OPERATIONS[self.kind].title
        form = self.query_one(OperationForm)
        self._unshown = form.show_problem_at_last_change(sentence)
        form.hint({})
        self._show()

    def plan_typed(self) -> None:
        """Read the fields and plan the operation. Call `judge` instead, which also handles unexpected errors."""
        form, problems = self.query_one(OperationForm), list[Problem]()
        form.use(self.unused(form))
        table = Table(self.typed_table(OPERATIONS[self.kind].title), "", problems)
        lathe = self.context.lathe
        self.entered = None if form.missing() else read_operation(table, lathe)
        is_right = self.entered is not None and not problems
        self._planner.drop()
        self._then, self._planned_from = None, (table.data, lathe, self.material)
        if is_right and self.takes_long:
            self._plan_in_thread(table)
            self._show_planned(table, None)
        else:
            self._show_planned(
                table, plan_of(table, self.entered, self.kind, lathe, self.material) if is_right else None
            )

    @property
    def takes_long(self) -> bool:
        """True if planning the present operation takes so long that it must run in a thread."""
        return False

    @property
    def is_planning(self) -> bool:
        """True if all fields are correct and a thread is still making the plan."""
        return self._planner.is_waited_for

    def work_ahead(self) -> Callable[[Plan], object]:
        """Return a function that calculates further results from a plan. It runs in a thread and touches no widget."""
        return lambda plan: None

    def _plan_in_thread(self, table: Table) -> None:
        """Plan the operation in a thread. The form shows no plan meanwhile."""
        entered, lathe, material, ahead = self.entered, self.context.lathe, self.material, self.work_ahead()
        planned: list[tuple[Plan | None, object]] = []

        def work() -> None:
            plan = plan_of(table, entered, self.kind, lathe, material)
            planned.append((plan, None if plan is None else ahead(plan)))

        def done() -> None:
            if self.is_attached:
                plan, self.worked_ahead = planned[0]
                self.work_out(lambda: self._show_planned(table, plan), table.data)
                if self._then is not None:
                    self._when_settled(self._then)

        def failed(sentence: str) -> None:
            if self.is_attached:
                self.show_fault(sentence)

        self._planner.ask(work, done, failed, f"{type(self).__name__}: {table.data}")

    @property
    def _is_current(self) -> bool:
        """True if the present plan, or the plan that is being made, belongs to the present contents of the fields."""
        now = (self.typed_table(OPERATIONS[self.kind].title), self.context.lathe, self.material)
        return (self.plan is not None or self.is_planning) and now == self._planned_from

    def _show_planned(self, table: Table, plan: Plan | None) -> None:
        """Show a plan and the problems of the fields. `plan`: None if there is no plan, or if it is not ready yet."""
        form, self.plan = self.query_one(OperationForm), plan
        self._unshown = form.show_problems(table.problems)
        is_named = self.plan is not None or self.is_planning
        self.title = self.changing or (self.suggested_name() if is_named else OPERATIONS[self.kind].title)
        self.ready = self.plan is not None
        self.in_job = self._saved_last.name_in(self.context.job, table.data)
        form.hint({} if self.plan is None else self.hints(self.plan))
        for key, options in self.offers().items():
            form.offer(key, options)
        self._show()

    @property
    def material(self) -> str | None:
        """The material in the form's field; None if the field is empty."""
        return self.query_one(OperationForm).table().get("material")

    @property
    def plan_input(self) -> PlanInput:
        """The input from which the counter plans a run of this operation."""
        table = self.typed_table(str(self.initial.get("name") or self.suggested_name()))
        return PlanInput(kind=self.kind, parameters=table, lathe=self.context.lathe, material=self.material)

    def typed_table(self, name: str) -> dict[str, Any]:
        """Return the operation's keys and values as the user typed them, with `name` as the operation's name."""
        table = self.query_one(OperationForm).table()
        table.pop("material", None)
        return {"kind": self.kind, "name": name, **table}

    # Showing.

    def _show(self) -> None:
        self._show_results()
        self.show_pictures()
        self.show_summary()

    def _show_results(self) -> None:
        results, lathe, plan = self.query_one(OperationResults), self.context.lathe, self.plan
        if plan is None:
            form = self.query_one(OperationForm)
            wanted = "Fill in the empty fields" if form.missing() else "Correct the marked fields"
            results.show(None, (), lathe, PLANNING if self.is_planning else f"{wanted} first.")
            return
        own = self.cautions(plan)
        stand_in = [EXAMPLE_LATHE_WORDS] if lathe.example else []
        figures = Figures(self.figures(plan), [*stand_in, *own], self.further_figures(plan), plan.general)
        results.show(figures, plan.steps, lathe, "")

    def show_summary(self) -> None:
        """Show, below the form, which fields are empty or wrong.

        If all fields are correct, show a sentence about the plan instead, unless the figures are visible.
        """
        words, cautions = self.problem_words, list[str]()
        form, shown = self.query_one(OperationForm), self._visible.shown(self.page)
        if self.plan is None:
            words = PLANNING if self.is_planning else words
            unshown = [
                (form.label_of(problem.field or problem.key), form.in_field_words(problem.message))
                for problem in self._unshown
            ]
            cautions = [f"{label}: {message}".removeprefix(": ") for label, message in unshown]
        elif FIELDS in shown and FIGURES not in shown:
            words = self.summary(self.plan)
            own = self.cautions(self.plan)
            if own:
                words += f" F6 shows {counted(len(own), 'caution')}."
            cautions = list(own) if self.has_class("-high") else []
        ready = self.query_one("#ready", Static)
        ready.display = bool(words)
        ready.update(Content(glyphs_of(self.app).text(words)))
        self.query_one("#wrong", CautionList).show(cautions)

    @property
    def problem_words(self) -> str:
        """A sentence that says which fields are empty or wrong; "" if all fields are correct."""
        if self.plan is not None or self.is_planning:
            return ""
        missing = self.query_one(OperationForm).missing()
        return f"Fill in: {', '.join(missing)}." if missing else "Correct the marked fields."

    def watch_in_job(self) -> None:
        """Update the list of actions, because an operation that is already saved need not be saved again."""
        self._show_actions()

    def _show_actions(self) -> None:
        self.query_one(ActionList).show([words for words, _ in self._offered_actions()])

    def _offered_actions(self) -> list[tuple[str, Callable[[], None]]]:
        """Return the actions that the form offers now, each with its text and its function."""
        job = self.context.job
        new = (f"Save in a new job file ({'F8' if job else 'F4'})", partial(self.action_save, in_new_job=True))
        if job is not None and self.changing is not None:
            return [("Save in the open job (F4)", self.action_save), new]
        if job is not None and self.in_job:
            return [("Close and return to the job (Esc)", self.action_back), new]
        saved = [("Save in the open job (F4)", self.action_save)] if job else []
        if name := self._saved_last.still_in(job):
            another = partial(self.action_save, as_another=True)
            saved = [
                (f"Save the change in {quoted(name, 40)} (F4)", self.action_save),
                ("Save as another operation", another),
            ]
        return [("Start now (F5)", self.action_start), *saved, new]

    # Keys.

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Disable the keys that can do nothing now, such as F5 without a plan.

        An operation that is saved in a job has no key for starting a run, because runs of a job start on the board.
        """
        if action in {"enter", "go", "turn"}:
            return not self.is_searching
        if action in {"undo", "redo"}:
            return self.has_before if action == "undo" else self.has_after
        if action == "vary":
            return bool(self.is_mounted and self.varied_key)
        if action == "start" and (self.changing is not None or self.in_job):
            return False
        return True if action not in {"start", "save"} or self.ready or self.is_planning else None

    def action_enter(self) -> None:
        """Go to the next field or, in the list of actions, run the selected action."""
        actions = self.query_one(ActionList)
        if not actions.has_focus:
            self.focus_next()
        elif not self.ready and not self.is_planning:
            self.show_message("You cannot do this yet. Fill in or correct this field first.")
            self.query_one(OperationForm).focus_wrong()
        else:
            self._offered_actions()[actions.cursor][1]()

    def action_go(self, step: int) -> None:
        """Go to the next or previous field, or to another row if a list has the focus."""
        focused = self.focused
        if isinstance(focused, LineList):
            focused.action_move(step)
        elif isinstance(focused, Pager):
            focused.action_lines(step)
        elif focused is None:
            self.action_scroll_body(step)
        else:
            (self.focus_next if step > 0 else self.focus_previous)()

    def action_start(self) -> None:
        """Start a run of this operation. The run belongs to no job."""

        def begin() -> None:
            if self.plan is not None:
                self.context.start_run(self.plan_input, self.plan)

        self._when_settled(begin)

    def _begun(self) -> None:
        """Note that a run was started. The log of the run keeps all entries, so closing the form loses none."""
        self._unsaved = False

    def action_save(self, in_new_job: bool = False, as_another: bool = False) -> None:
        """Save the operation in the open job. If this form has saved an operation before, replace that operation.

        Without an open job, or with `in_new_job`, save the operation in a new job. With `as_another`, keep the saved
        operation and add a further one.
        """
        in_new_job = in_new_job or self.context.job is None
        self._when_settled(lambda: self.context.ask_in_turn(self._save(in_new_job, as_another)))

    def _when_settled(self, act: Callable[[], object]) -> None:
        """Call `act` after all typed keys have reached their fields, if the operation can be planned.

        If a thread is still making the plan, call `act` when the plan is ready, unless a field changes before then.
        """

        def settled() -> None:
            if not (self.takes_long and self._is_current):
                self.judge()
            if self.ready:
                act()
            elif self.is_planning:
                self._then = act

        self.context.keys.after_refresh(self, settled)

    async def _save(self, in_new_job: bool, as_another: bool) -> None:
        context, job = self.context, self.context.job
        table, material = self.typed_table(self.suggested_name()), self.material
        saved_before, name = self._saved_last.still_in(job), ""
        try:
            if in_new_job or job is None:
                done = await save_as_new_job(context, table, material)
            elif self.changing is not None:
                done = save_change(context, job, {**table, "name": self.changing})
                done = f"{done} {await save_material(context, material)}".strip()
                self.dismiss()
                self.call_after_refresh(context.show_message, done)
                return
            elif self.in_job:
                done = f"The job already has {quoted(self.in_job)} with these values. Change a field, then save again."
                name = self.in_job
            elif saved_before and not as_another:
                done, name = save_change(context, job, {**table, "name": saved_before}), saved_before
            else:
                done = await add_to_job(context, job, table)
        except FileError as error:
            self.show_message(f"Not saved. {first_errors(error)}")
            return
        if done:
            self._unsaved = False
            self._saved_last = SavedOperation.called(name, context.job) if name else SavedOperation.newest(context.job)
            self.judge()
            self._show_actions()
            self.show_message(f"{done} {await save_material(context, material)}".strip())

    def action_back(self) -> None:
        """Close the form. If unsaved entries would be lost, ask first."""
        if not self._unsaved:
            self.dismiss()
            return
        question = YesNo(
            "Close this form?",
            yes="Close it",
            no="Stay here",
            detail=["You have not started or saved this operation. If you close the form, you lose your entries."],
        )
        self.app.push_screen(question, self._leave)

    def _leave(self, leave: bool | None) -> None:
        if leave:
            self.dismiss()


class ActionList(LineList):
    """The list of a form's actions, such as starting and saving. Up from the first action returns to the fields."""

    can_search = False

    def action_move(self, step: int) -> None:
        """Move the selection up or down. From the first action, Up moves the focus to the fields."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        else:
            super().action_move(step)
