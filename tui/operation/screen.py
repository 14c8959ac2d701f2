"""What the screens of operations share: a form of fields, and beside it what comes of them, at every key."""

from abc import abstractmethod
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from functools import partial
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
from core.values.plain_text import clean, quoted
from tui.glyphs import glyphs_of
from tui.operation.column_table import ColumnTable
from tui.operation.form import OperationForm
from tui.operation.form_pages import FormPages
from tui.operation.results import FIELDS, FIGURES, Figures, OperationResults
from tui.operation.saving import SavedOperation, first_errors, keep_change, keep_in_job, keep_in_new_file, keep_material
from tui.widgets.caution_list import CautionList
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager
from tui.widgets.question import YesNo


class OperationScreen(FormPages):
    """One operation made up on screen: judged by core as a job file would be, planned at every key."""

    # Whole, for screens of other rooms are OperationScreens as well.
    CSS_PATH = Path(__file__).with_name("operation.tcss")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f4", "keep", "Keep", tooltip="Add it to the job, or keep what was changed there; saves the file."),
        Binding("f5", "start", "Start counting", tooltip="Begin at once, without any job file."),
        Binding("f6", "turn(1)", "Next page", tooltip="Figures, steps, pictures, and back to the fields."),
        Binding("f7", "turn(-1)", "Page before", show=False, tooltip="The other way round."),
        Binding("f8", "keep(True)", "New job", show=False, tooltip="Keep it in a new job file."),
        # These see their keys first, so that what is typed right behind one goes into the field that it leads to.
        Binding(
            "enter",
            "enter",
            "Next field",
            show=False,
            priority=True,
            tooltip="Go on to the next field; behind the last one do what is pointed at.",
        ),
        Binding("down", "go(1)", show=False, priority=True),
        Binding("up", "go(-1)", show=False, priority=True),
        Binding("tab", "app.focus_next", show=False, priority=True),
        Binding("shift+tab", "app.focus_previous", show=False, priority=True),
        Binding("escape", "back", "Back", tooltip="Leave; asks where something typed would be lost."),
    ]
    ready = reactive(False, bindings=True)
    """What is typed makes a plan."""
    in_job = reactive("", bindings=True, init=False)
    """The name under which what is typed was just added to the open job; "" once something is changed."""
    changing: str | None = None
    """The name of the operation of the open job that is being changed; None for one that is new."""

    def __init__(self, kind: str, parameters: Mapping[str, Any] | None = None) -> None:
        """`parameters`: an operation's table to begin with, as a job file holds it."""
        super().__init__()
        self.kind, self.initial = kind, dict(parameters or {})
        self.title = OPERATIONS[kind].title
        self.entered: Any = None
        """What core read from the fields; None with `plan` where something is missing or wrong."""
        self.plan: Plan | None = None
        self._unshown: list[Problem] = []
        self._unkept = False
        self._kept_last = SavedOperation.newest(None)

    # What each operation says for itself.

    @abstractmethod
    def rows(self) -> Sequence[Row]:
        """Return headings and fields, in the order in which a turner asks."""

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of the fields that do not apply to what is chosen."""
        return ()

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the fields, filled in with a table."""
        return OperationForm(self.rows(), table)

    @abstractmethod
    def suggested_name(self) -> str:
        """Return a name for the operation as it is planned now."""

    @abstractmethod
    def summary(self, plan: Plan) -> str:
        """Return in a sentence what is to be set."""

    @abstractmethod
    def figures(self, plan: Plan) -> Iterable[Figure]:
        """Return what is wanted first: limits, depth, what to set."""

    def cautions(self, plan: Plan) -> Sequence[str]:
        """Return what this very plan calls for, grave things first."""
        return plan.cautions

    def further_figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the figures that come behind the cautions of this very plan."""
        return ()

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return what counts, key by key, where nothing is typed."""
        return {}

    def offers(self) -> Mapping[str, tuple[tuple[str, str | None], ...]]:
        """Return what is offered under a key now that the fields are read, where that depends on them."""
        return {}

    def pictures(self) -> Sequence[Widget]:
        """Return the pictures, where PAGES has them."""
        return ()

    def tables(self) -> Sequence[ColumnTable]:
        """Return the tables that are pages of their own; PAGES has their ids."""
        return ()

    def show_pictures(self) -> None:
        """Draw what is planned now, or nothing where nothing is."""

    # Layout.

    def compose_body(self) -> ComposeResult:
        """Fields and what to do with them on the left; figures, steps, pictures on the right; a summary below."""
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
        """Plan what the fields hold already, and follow the lathe."""
        self._show_actions()
        self.judge()
        self.query_one(OperationForm).focus_empty()
        self.follow_lathe(self.judge)
        self.follow_log(self._begun)

    # Planning.

    @on(OperationForm.Edited)
    def _edited(self) -> None:
        self._unkept = True
        self.say("")
        self.judge()

    def judge(self) -> None:
        """Read and plan what the fields hold, and show what came of it."""
        self.work_out(self.plan_typed, self.query_one(OperationForm).texts())

    def show_fault(self, sentence: str) -> None:
        """Say it beside the field changed last; nothing is planned then."""
        self.entered, self.plan, self.ready = None, None, False
        self.title = self.changing or OPERATIONS[self.kind].title
        form = self.query_one(OperationForm)
        self._unshown = form.show_last_problem(sentence)
        form.hint({})
        self._show()

    def plan_typed(self) -> None:
        """Read and plan what the fields hold; only `judge` calls it, which is ready for faults."""
        form, problems = self.query_one(OperationForm), list[Problem]()
        form.use(self.unused(form))
        table = Table(self._table(OPERATIONS[self.kind].title), "", problems)
        lathe = self.context.lathe
        self.entered = None if form.missing() else read_operation(table, lathe)
        is_right = self.entered is not None and not problems
        self.plan = plan_of(table, self.entered, self.kind, lathe, self.material) if is_right else None
        self._unshown = form.tell(problems)
        self.title = self.changing or (OPERATIONS[self.kind].title if self.plan is None else self.suggested_name())
        self.ready = self.plan is not None
        self.in_job = self._kept_last.name_in(self.context.job, table.data)
        form.hint({} if self.plan is None else self.hints(self.plan))
        for key, options in self.offers().items():
            form.offer(key, options)
        self._show()

    @property
    def material(self) -> str | None:
        """What is cut, where it is typed."""
        return self.query_one(OperationForm).table().get("material")

    @property
    def plan_input(self) -> PlanInput:
        """What the counter is to plan from."""
        table = self._table(str(self.initial.get("name") or self.suggested_name()))
        return PlanInput(kind=self.kind, parameters=table, lathe=self.context.lathe, material=self.material)

    def _table(self, name: str) -> dict[str, Any]:
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
            results.show(None, (), lathe)
            return
        own = self.cautions(plan)
        stand_in = [EXAMPLE_LATHE_WORDS] if lathe.example else []
        figures = Figures(self.figures(plan), [*stand_in, *own], self.further_figures(plan), plan.general)
        results.show(figures, plan.steps, lathe)

    def show_summary(self) -> None:
        """Say below what is still to be typed or is wrong; or, where the figures are out of sight, what comes of it."""
        words, cautions = "", list[str]()
        form, shown = self.query_one(OperationForm), self._sight.shown(self.page)
        if self.plan is None:
            missing = form.missing()
            words = f"Still to be typed: {', '.join(missing)}" if missing else "What is marked is to be put right."
            cautions = [f"{form.label_of(key)}: {message}".removeprefix(": ") for _, key, message in self._unshown]
        elif FIELDS in shown and FIGURES not in shown:
            words = self.summary(self.plan)
            own = self.cautions(self.plan)
            if own:
                words += f" {len(own)} caution{'s' if len(own) > 1 else ''}: F6"
            cautions = list(own) if self.has_class("-high") else []
        ready = self.query_one("#ready", Static)
        ready.display = bool(words)
        ready.update(Content(glyphs_of(self.app).text(words)))
        self.query_one("#wrong", CautionList).show(cautions)

    def watch_in_job(self) -> None:
        """What was just added to the job need not be added again."""
        self._show_actions()

    def _show_actions(self) -> None:
        self.query_one(ActionList).show([words for words, _ in self._offered_actions()])

    def _offered_actions(self) -> list[tuple[str, Callable[[], None]]]:
        """Return what can be done with what is typed, in words, and what does it."""
        job = self.context.job
        anew = (f"Keep in a new job file ({'F8' if job else 'F4'})", partial(self.action_keep, anew=True))
        if job is not None and self.changing is not None:
            return [(f"Keep the change in the job {clean(job.title, 60)} (F4)", self.action_keep), anew]
        if job is not None and self.in_job:
            return [(f"Back to the job {clean(job.title, 60)} (Esc)", self.action_back), anew]
        kept = [(f"Add to the job {clean(job.title, 60)} (F4)", self.action_keep)] if job else []
        return [("Start counting at once (F5)", self.action_start), *kept, anew]

    # Keys.

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Dim what needs a plan as long as there is none; what stands in a job is begun from the job."""
        if action == "start" and (self.changing is not None or self.in_job):
            return False
        return True if action not in {"start", "keep"} or self.ready else None

    def action_enter(self) -> None:
        """Go on to the next field; behind the last one do what is pointed at."""
        actions = self.query_one(ActionList)
        if not actions.has_focus:
            self.focus_next()
        elif not self.ready:
            self.say("Not yet: this is still to be filled in or put right.")
            self.query_one(OperationForm).focus_wrong()
        else:
            self._offered_actions()[actions.cursor][1]()

    def action_go(self, step: int) -> None:
        """Go to another field, or to another line of what has the keys."""
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
        """Begin to count at once."""

        def begin() -> None:
            if self.plan is not None:
                self.context.start_run(self.plan_input, self.plan)

        self._when_settled(begin)

    def _begun(self) -> None:
        """A run was begun: what was typed is in the log now."""
        self._unkept = False

    def action_keep(self, anew: bool = False) -> None:
        """Add it to the open job; to a new one where none is open, or where that is wanted."""
        in_new_file = anew or self.context.job is None
        self._when_settled(lambda: self.context.ask_in_turn(self._kept(in_new_file)))

    def _when_settled(self, act: Callable[[], object]) -> None:
        """Do something once the keys typed just before have reached their field and were judged."""

        def settled() -> None:
            self.judge()
            if self.ready:
                act()

        self.context.keys.after_refresh(self, settled)

    async def _kept(self, anew: bool) -> None:
        context, job = self.context, self.context.job
        table, material = self._table(self.suggested_name()), self.material
        try:
            if anew or job is None:
                done = await keep_in_new_file(context, table, material)
            elif self.changing is not None:
                done = keep_change(context, job, {**table, "name": self.changing})
                done = f"{done} {await keep_material(context, material)}".strip()
                self.dismiss()
                self.call_after_refresh(context.say, done)
                return
            elif self.in_job:
                done = f"{quoted(self.in_job)} stands in the job already; change something to add another one."
            else:
                done = await keep_in_job(context, job, table)
        except FileError as error:
            self.say(f"Not kept. {first_errors(error)}")
            return
        if done:
            self._unkept = False
            self._kept_last = self._kept_last if self.in_job else SavedOperation.newest(context.job)
            self.judge()
            self._show_actions()
            self.say(f"{done} {await keep_material(context, material)}".strip())

    def action_back(self) -> None:
        """Leave, or ask first where something would be lost."""
        if not self._unkept:
            self.dismiss()
            return
        question = YesNo(
            "Leave this page?",
            yes="Leave it",
            no="Stay here",
            detail=["What was typed here is neither started nor kept in a job, and would be lost."],
        )
        self.app.push_screen(question, self._leave)

    def _leave(self, leave: bool | None) -> None:
        if leave:
            self.dismiss()


class ActionList(LineList):
    """What can be done with what was typed; Up from the first line goes back to the fields."""

    def action_move(self, step: int) -> None:
        """Go up or down, and out at the top."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        else:
            super().action_move(step)
