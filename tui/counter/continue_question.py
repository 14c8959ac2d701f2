"""The question before a run continues: was anything moved, or does the user want another run?"""

from typing import TYPE_CHECKING, ClassVar, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from core.safety import INDICATOR_OFF, SWITCH_OFF_AND_WITHDRAW
from tui.counter.questions import plan_after_move
from tui.counter.run_screen import RunScreen
from tui.widgets.question import Listed, OneOf, Sentence

if TYPE_CHECKING:
    from core.events.state import State

Answer = Literal["moved", "nothing", "other run"]

_CUTTING = {"cut", "spring", "index"}
"""Actions of steps at which the tool may be in the work."""


class WasItMoved(Listed[Answer]):
    """Asks whether work, tool, slide or dial was moved. Enter never means no, because it also counts passes."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer('moved')", "Yes", show=False, tooltip="Something was moved, or you are not sure."),
        Binding(
            "n,slash,divide",
            "answer('nothing')",
            "Nothing moved",
            key_display="N or /",
            tooltip="Nothing was moved, and every handle turned was counted: continue at the same reading.",
        ),
    ]

    def __init__(self, state: "State", *, interrupted: bool, other_runs: str, notices: str) -> None:
        """`other_runs` names the other unfinished runs of this job; "" if there are none."""
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
        """Yield the answers that Enter can choose, and below them the one that it cannot."""
        yield from super().compose_answer()
        yield Sentence("  n  No, nothing was moved: continue at the same reading")

    def action_answer(self, answer: Answer) -> None:
        """Give an answer that has a key of its own."""
        self.give(answer)


async def ask_to_continue(counter: RunScreen, notices: str = "") -> None:
    """Ask whether anything was moved since the run was closed. If the user cancels, it is asked next time.

    `notices`: messages of the log to show first, such as passes that were lost with a damaged file.
    """
    before, interrupted = counter.state.last_seq, counter.run.left == "interrupted"
    note = f"continued after {'an interruption' if interrupted else 'the run was closed'}; nothing was moved"
    # The user said that something was moved, then cancelled: the question is asked again.
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
    """Open the feed in to a groove again if the run was left before the feed along: the tool is out of it now."""
    step = counter.state.cursor
    if step is not None and step.feeds_along:
        from core.run.steps_together import interrupted_with

        ids = [step.id for step in interrupted_with(counter.state)]
        if ids:
            counter.attempt(lambda: counter.run.reopen(ids), "nothing was moved; feed in once more")


async def open_other_run(counter: RunScreen) -> bool:
    """Open another run of the job instead of this one. Return whether it was opened; this one does not change."""
    others = counter.other_runs
    chosen: int | None = 0
    if len(others) > 1:
        words = [f"{other.operation.name}: {other.steps_done} of {other.steps} steps done" for other in others]
        chosen = await counter.context.ask(OneOf("Which run?", words))
    return chosen is not None and await counter.open_instead(others[chosen].operation)


def _question(interrupted: bool) -> str:
    if interrupted:
        return "This run was interrupted. Has work, tool, slide or dial been moved since?"
    return "Has work, tool, slide or dial been moved since this run was closed?"


def _detail(state: "State", interrupted: bool) -> list[str]:
    counts = [
        "Switching off or withdrawing the tool by its dial is not moving it.",
        "Opening the chuck or a clamp is, or a handle turned uncounted.",
    ]
    if interrupted and any(step.action in _CUTTING for step in state.steps):
        return [*counts, "The last pass may be half cut. Repeating the same reading is harmless."]
    return counts


def _cautions(state: "State", interrupted: bool) -> list[str]:
    reads = any(step.action == "read" for step in state.steps)
    return [*([SWITCH_OFF_AND_WITHDRAW] if interrupted else []), *([INDICATOR_OFF] if reads else [])]
