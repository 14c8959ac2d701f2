"""What the forms of all operations share: the fields, and beside them the plan, made again at every key."""

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
    "A bare number has the unit after its field. A value in brackets in an empty field is used if you type nothing. "
    "+ and - change a choice. < and > change a number by a mark of its dial, a degree, or 1. Ctrl+Z undoes the "
    "last ten changes one by one, Ctrl+Y redoes them."
)
"""How to fill in the fields, for the help page of a form."""

_PLANNING = "The plan is being worked out. You can keep typing."


class OperationScreen(VaryingPages):
    """The form of one operation. It is checked like a job file and planned at every key."""

    # The full path, as screens of other packages are OperationScreens too.
    CSS_PATH = Path(__file__).with_name("operation.tcss")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f4", "save", "Save", tooltip="Save it in the job, or in a new job."),
        Binding("f5", "start", "Start", tooltip="Start it now, without a job file."),
        Binding("f6", "turn(1)", "Next page", tooltip="Show figures, steps, pictures, then the fields again."),
        Binding("f7", "turn(-1)", "Page before", show=False, tooltip="Show the page before."),
        Binding("f8", "save(True)", "New job", show=False, tooltip="Save it in a new job file."),
        # These bindings come first, so that text typed right after such a key goes into the field that it leads to.
        Binding(
            "enter",
            "enter",
            "Next field",
            show=False,
            priority=True,
            tooltip="Go to the next field; after the last one do what you point at.",
        ),
        Binding("down", "go(1)", show=False, priority=True),
        Binding("up", "go(-1)", show=False, priority=True),
        Binding("tab", "app.focus_next", show=False, priority=True),
        Binding("shift+tab", "app.focus_previous", show=False, priority=True),
        Binding("escape", "back", "Close", tooltip="Close this form; asks if something would be lost."),
    ]
    ready = reactive(False, bindings=True)
    """True if a plan can be made from the fields."""
    in_job = reactive("", bindings=True, init=False)
    """The name under which the open job has just saved these fields; "" once a field has changed."""
    changing: str | None = None
    """The name of the job's operation that is being changed; None for a new operation."""

    def __init__(self, kind: str, parameters: Mapping[str, Any] | None = None) -> None:
        """`parameters`: an operation's table, as in a job file, that fills the fields at first."""
        super().__init__()
        self.kind, self.initial = kind, dict(parameters or {})
        self.title = OPERATIONS[kind].title
        self.entered: Any = None
        """The operation read from the fields; None, as `plan` is, if something is missing or wrong."""
        self.plan: Plan | None = None
        self.worked_ahead: object = None
        """What `work_ahead` has worked out for the present plan, if the plan took long."""
        self._planned_from: tuple[object, ...] = ()
        """What the present plan was made from, or is being made from: table, lathe, material."""
        self._then: Callable[[], object] | None = None
        """What to do once the plan is there."""
        self._unshown: list[Problem] = []
        self._saved_last = SavedOperation.newest(None)

    @cached_property
    def _planner(self) -> LatestWork:
        return LatestWork(self.context)

    # What each kind of operation has of its own.

    @abstractmethod
    def rows(self) -> Sequence[Row]:
        """Return headings and fields, in the order in which a turner asks."""

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of the fields that do not apply to the present choices."""
        return ()

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the fields, filled in from a table."""
        return OperationForm(self.rows(), table)

    @abstractmethod
    def suggested_name(self) -> str:
        """Return a name for the operation that is planned now."""

    @abstractmethod
    def summary(self, plan: Plan) -> str:
        """Return a sentence that says what to set."""

    @abstractmethod
    def figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the figures that the user needs first: limits, depth, what to set."""

    def cautions(self, plan: Plan) -> Sequence[str]:
        """Return the cautions of the present plan, the gravest first."""
        return plan.cautions

    def further_figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the figures to show after the cautions."""
        return ()

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return, by key, the values that apply if the user types nothing."""
        return {}

    def offers(self) -> Mapping[str, tuple[tuple[str, str | None], ...]]:
        """Return, by key, the options of those choices that depend on other fields."""
        return {}

    def pictures(self) -> Sequence[Widget]:
        """Return the pictures of the operation, if PAGES includes a page for them."""
        return ()

    def tables(self) -> Sequence[ColumnTable]:
        """Return the tables that have pages of their own, whose ids are in PAGES."""
        return ()

    def show_pictures(self) -> None:
        """Draw the present plan; draw nothing if there is none."""

    # Layout.

    def compose_body(self) -> ComposeResult:
        """Yield fields and actions on the left, figures, steps and pictures on the right, a summary below."""
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
        """Plan what is in the fields, now and whenever the lathe changes."""
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
        """Read and plan the fields, and show what comes of it. `typed_in`: the field that the user types in."""
        self.work_out(self.plan_typed, self.query_one(OperationForm).texts())
        self.note_state(typed_in)

    def show_fault(self, sentence: str) -> None:
        """Show a fault of the program beside the field that was changed last. There is then no plan."""
        self.entered, self.plan, self.ready = None, None, False
        self.title = self.changing or OPERATIONS[self.kind].title
        form = self.query_one(OperationForm)
        self._unshown = form.show_problem_at_last_change(sentence)
        form.hint({})
        self._show()

    def plan_typed(self) -> None:
        """Read and plan the fields. Only `judge` calls this, as it handles faults of the program."""
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
        """Whether the operation read from the fields takes so long to plan that keys would wait."""
        return False

    @property
    def is_planning(self) -> bool:
        """Whether all fields are right, and their plan is still to come."""
        return self._planner.is_waited_for

    def work_ahead(self) -> Callable[[Plan], object]:
        """Return a function that works out what showing a plan needs. It runs in a thread and uses no widget."""
        return lambda plan: None

    def _plan_in_thread(self, table: Table) -> None:
        """Plan in a thread. Until the plan is there, none is shown."""
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
        """Whether the plan, or the one that is still to come, is for what is in the fields now."""
        now = (self.typed_table(OPERATIONS[self.kind].title), self.context.lathe, self.material)
        return (self.plan is not None or self.is_planning) and now == self._planned_from

    def _show_planned(self, table: Table, plan: Plan | None) -> None:
        """Show a plan and the problems of its table; None if there is no plan, or not yet."""
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
        """The material that is typed in its field."""
        return self.query_one(OperationForm).table().get("material")

    @property
    def plan_input(self) -> PlanInput:
        """What the counter plans a run from."""
        table = self.typed_table(str(self.initial.get("name") or self.suggested_name()))
        return PlanInput(kind=self.kind, parameters=table, lathe=self.context.lathe, material=self.material)

    def typed_table(self, name: str) -> dict[str, Any]:
        """Return the operation's table as it is typed, under a name."""
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
            results.show(None, (), lathe, _PLANNING if self.is_planning else "")
            return
        own = self.cautions(plan)
        stand_in = [EXAMPLE_LATHE_WORDS] if lathe.example else []
        figures = Figures(self.figures(plan), [*stand_in, *own], self.further_figures(plan), plan.general)
        results.show(figures, plan.steps, lathe)

    def show_summary(self) -> None:
        """Say below the form which fields are empty or wrong.

        If all are right and the figures are out of sight, show the result in a sentence.
        """
        words, cautions = self.problem_words, list[str]()
        form, shown = self.query_one(OperationForm), self._visible.shown(self.page)
        if self.plan is None:
            words = _PLANNING if self.is_planning else words
            unshown = [(form.label_of(key), form.in_field_words(message)) for _, key, message in self._unshown]
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
        """Which fields are empty or wrong, in a sentence; "" if all are right."""
        if self.plan is not None or self.is_planning:
            return ""
        missing = self.query_one(OperationForm).missing()
        return f"Fill in: {', '.join(missing)}." if missing else "Correct the marked fields."

    def watch_in_job(self) -> None:
        """Offer saving again only once the fields differ from what is in the job."""
        self._show_actions()

    def _show_actions(self) -> None:
        self.query_one(ActionList).show([words for words, _ in self._offered_actions()])

    def _offered_actions(self) -> list[tuple[str, Callable[[], None]]]:
        """Return what the user can do with the form: words, and a function for each."""
        job = self.context.job
        new = (f"Save in a new job file ({'F8' if job else 'F4'})", partial(self.action_save, in_new_job=True))
        if job is not None and self.changing is not None:
            return [("Save in the open job (F4)", self.action_save), new]
        if job is not None and self.in_job:
            return [("Close, back to the job (Esc)", self.action_back), new]
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
        """Disable keys that need a plan if there is none. An operation of a job is started from the board."""
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
        """Go to the next field; after the last one, do what is pointed at."""
        actions = self.query_one(ActionList)
        if not actions.has_focus:
            self.focus_next()
        elif not self.ready and not self.is_planning:
            self.show_message("Not yet. Fill in or correct this field first.")
            self.query_one(OperationForm).focus_wrong()
        else:
            self._offered_actions()[actions.cursor][1]()

    def action_go(self, step: int) -> None:
        """Go to another field, or to another line of a list."""
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
        """Start a run of this operation, outside any job."""

        def begin() -> None:
            if self.plan is not None:
                self.context.start_run(self.plan_input, self.plan)

        self._when_settled(begin)

    def _begun(self) -> None:
        """Note that a run was started, so that the fields are in the log now."""
        self._unsaved = False

    def action_save(self, in_new_job: bool = False, as_another: bool = False) -> None:
        """Save the operation in the open job. What this form has saved there before is changed.

        If no job is open, or if the user asks for it, save it in a new job. `as_another`: keep what was saved, and add
        this to it.
        """
        in_new_job = in_new_job or self.context.job is None
        self._when_settled(lambda: self.context.ask_in_turn(self._save(in_new_job, as_another)))

    def _when_settled(self, act: Callable[[], object]) -> None:
        """Call `act` if a plan can be made, once the keys typed just before have reached their field.

        If the plan takes long, `act` is called when it is there, unless a field is changed before.
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
                done = f"The job already has {quoted(self.in_job)}. Change a field to save the change."
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
        """Close the form, after asking if something would be lost."""
        if not self._unsaved:
            self.dismiss()
            return
        question = YesNo(
            "Close this form?",
            yes="Close it",
            no="Stay here",
            detail=["What you typed is neither started nor saved in a job. It would be lost."],
        )
        self.app.push_screen(question, self._leave)

    def _leave(self, leave: bool | None) -> None:
        if leave:
            self.dismiss()


class ActionList(LineList):
    """What the user can do with the form, as a list. Up from its first line goes back to the fields."""

    can_search = False

    def action_move(self, step: int) -> None:
        """Go up or down; from the first line, go up to the fields."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        else:
            super().action_move(step)
