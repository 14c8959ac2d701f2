"""The question before a run continues: was anything moved, or does the user want to open another run?"""

from typing import TYPE_CHECKING, ClassVar, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from core.safety import INDICATOR_OFF, SWITCH_OFF_AND_WITHDRAW, for_material
from tui.counter.questions import plan_after_move
from tui.counter.run_screen import RunScreen
from tui.widgets.question import Listed, OneOf, Sentence

if TYPE_CHECKING:
    from core.events.state import State

Answer = Literal["moved", "nothing", "other run"]

_CUTTING = {"cut", "spring", "index"}
"""The actions of steps during which the tool may touch the work."""


class WasItMoved(Listed[Answer]):
    """Asks whether the work, the tool, a slide or a dial has been moved since the run was closed.

    Enter never answers No, because Enter also counts passes.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer('moved')", "Yes", show=False, tooltip="Something was moved, or you are not sure."),
        Binding(
            "n,slash,divide",
            "answer('nothing')",
            "Nothing moved",
            key_display="N or /",
            tooltip="Nothing was moved, and no handle was turned without counting. Continue at the same reading.",
        ),
    ]

    def __init__(self, state: "State", *, interrupted: bool, other_runs: str, notices: str) -> None:
        """Ask about the run with this state.

        `interrupted`: True if the run was not closed normally. `other_runs`: the names of the job's other unfinished
        runs; "" for none. `notices`: messages about the log to show first; "" for none.
        """
        answers: list[tuple[str, str, Answer]] = [("1", "Yes, or not sure: find the position again", "moved")]
        if other_runs:
            answers.append(("o", f"Open another run first: {other_runs}", "other run"))
        super().__init__(
            _question(interrupted),
            answers,
            detail=_detail(state, interrupted),
            cautions=[*([notices] if notices else []), *_cautions(state, interrupted)],
        )

    def compose_answer(self) -> ComposeResult:
        """Yield the list of answers to select and confirm with Enter, then the answer No, which only N or / gives."""
        yield from super().compose_answer()
        yield Sentence("  n  No, nothing was moved: continue at the same reading")

    def action_answer(self, answer: Answer) -> None:
        """Close the question with the answer that belongs to the pressed key."""
        self.give(answer)


async def ask_to_continue(counter: RunScreen, notices: str = "") -> None:
    """Ask whether anything has been moved since the run was closed. If the user cancels, log nothing.

    `notices`: messages about the log to show first, such as a message about lost passes; "" for none.
    """
    before, interrupted = counter.state.last_seq, counter.run.left == "interrupted"
    note = f"continued after {'an interruption' if interrupted else 'the run was closed'}; nothing was moved"
    # If the user answers that something was moved and then cancels, the question is asked again.
    while counter.state.last_seq == before:
        names = ", ".join(other.operation.name for other in counter.other_runs)
        question = WasItMoved(counter.state, interrupted=interrupted, other_runs=names, notices=notices)
        answer = await counter.context.ask(question)
        if answer == "moved":
            await plan_after_move(counter)
        elif answer == "nothing":
            counter.attempt(lambda: counter.run.note(note), "nothing was moved")
            _feed_in_again(counter)
        elif answer is None or await open_other_run(counter):
            return


def _feed_in_again(counter: RunScreen) -> None:
    """Repeat the feed in to a groove if the run stopped between the feed in and the feed along.

    It must be repeated because the tool has been withdrawn since then.
    """
    step = counter.state.cursor
    if step is not None and step.feeds_along:
        from core.run.steps_together import interrupted_with

        ids = [step.id for step in interrupted_with(counter.state)]
        if ids:
            counter.attempt(lambda: counter.run.reopen(ids), "nothing was moved; feed in once more")


async def open_other_run(counter: RunScreen) -> bool:
    """Ask for another unfinished run of the job, and replace this counter with the counter of that run.

    Return whether the other run was opened. The run of this counter does not change.
    """
    others = counter.other_runs
    chosen: int | None = 0
    if len(others) > 1:
        words = [f"{other.operation.name}: {other.steps_done} of {other.steps} steps done" for other in others]
        chosen = await counter.context.ask(OneOf("Which run?", words))
    return chosen is not None and await counter.open_instead(others[chosen].operation)


def _question(interrupted: bool) -> str:
    if interrupted:
        return "This run was interrupted. Has the work, the tool, a slide or a dial been moved since then?"
    return "Has the work, the tool, a slide or a dial been moved since this run was closed?"


def _detail(state: "State", interrupted: bool) -> list[str]:
    counts = [
        "No, if you only switched the lathe off, or withdrew the tool by its dial.",
        "Yes, if you opened the chuck or a clamp, or turned a handle without counting.",
    ]
    if interrupted and any(step.action in _CUTTING for step in state.steps):
        return [*counts, "The last pass may be only partly cut. Cutting it again at the same reading does no harm."]
    return counts


def _cautions(state: "State", interrupted: bool) -> list[str]:
    reads = any(step.action == "read" for step in state.steps)
    # The page of cautions is shown only once, at the start, and the run may continue on another day.
    of_material = for_material(state.plan_input.material)
    return [*([SWITCH_OFF_AND_WITHDRAW] if interrupted else []), *([INDICATOR_OFF] if reads else []), *of_material]
