"""What is measured of a pattern on the table: a depth in words, and sizes that nobody can have measured."""

from collections.abc import Callable
from typing import Any

from core.cutting import Infeed
from core.events.state import State
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.depth import refuse_impossible_depth
from core.operations.dividing.job import DivideJob
from core.operations.patterns.head import refuse_impossible_circle
from core.operations.patterns.job import PatternJob
from core.plan import Expects, Step
from core.questions import Asked, EnteredSize, SizeAsked, read_length
from core.values.dials import Setting

_NOTHING_MM = 5e-7


def table_questions(job: DivideJob | PatternJob, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return what can be measured of a pattern: the trial circle where that comes next, else the depth."""
    step = state.cursor
    if step is not None and step.expects == Expects.CIRCLE:
        return (
            _length_asked(
                "circle",
                "Type the circle across its groove centres",
                "How large is the trial circle, from groove centre to groove centre?",
                lambda circle_mm: check_circle(job, lathe, state, circle_mm),
                lambda circle_mm: f"trial circle {lathe.length_text(circle_mm)}",
                lathe,
            ),
        )
    return (
        _length_asked(
            "depth",
            "Type the depth that was measured",
            "How deep is it cut now?",
            lambda depth_mm: check_depth(job, lathe, state, depth_mm),
            lambda depth_mm: depth_found_words(job, lathe, state, depth_mm),
            lathe,
        ),
    )


def _length_asked(
    what: str, choice: str, question: str, check: Callable[[float], None], words: Callable[[float], str], lathe: Lathe
) -> SizeAsked:
    def read(text: str) -> EnteredSize:
        found = read_length(text, lathe.unit)
        check(found.size_mm)
        return found

    return SizeAsked(what, choice, question, read, words)


def depth_found_words(job: DivideJob | PatternJob, lathe: Lathe, state: State, measured_mm: float) -> str:
    """Return a measured depth in words, against what the pass it was measured at was to reach.

    measured_mm: depth found [mm]. Less than half a mark from the depth wanted in the
    end nothing can be set for, which is said.
    """
    say, cut = lathe.length_text, _last_cut(state)
    found = f"depth {say(measured_mm)}"
    setting = None if cut is None else _setting(cut)
    if cut is None or setting is None:
        return found
    wanted_mm, half_mm = _wanted_mm(job, cut), Infeed(dial=lathe.dial(setting.dial)).mark_mm / 2
    is_near = abs(wanted_mm - measured_mm) < half_mm - _NOTHING_MM
    aim_mm = wanted_mm if is_near or (cut.remaining_mm or 0.0) < _NOTHING_MM else cut.depth_mm or 0.0
    short_mm = aim_mm - measured_mm
    if abs(short_mm) < _NOTHING_MM:
        return f"{found}, as wanted"
    found += f", {say(abs(short_mm))} {'short of' if short_mm > 0 else 'deeper than'} {say(aim_mm)}"
    if is_near:
        return f"{found}: within half a mark of the {dial_words(setting.dial)} ({say(half_mm)}), nothing to set for it"
    return found


def check_depth(job: DivideJob | PatternJob, lathe: Lathe, state: State, measured_mm: float) -> None:
    """Refuse a depth [mm] that the pass taken last cannot have cut; raises PlanError."""
    cut = _last_cut(state)
    setting = None if cut is None else _setting(cut)
    if cut is not None and setting is not None:
        infeed = Infeed(dial=lathe.dial(setting.dial))
        refuse_impossible_depth(infeed, _wanted_mm(job, cut), cut.depth_mm or 0.0, measured_mm, lathe.length_text)


def check_circle(job: DivideJob | PatternJob, lathe: Lathe, state: State, measured_mm: float) -> None:
    """Refuse a trial circle [mm across] that is none of the layer at hand; raises PlanError."""
    number = next((step.at.layer for step in state.open_steps() if step.at.layer), None)
    if number is not None and isinstance(job, PatternJob):
        refuse_impossible_circle(job.layers[number - 1], lathe, measured_mm)


def _setting(cut: Step) -> Setting | None:
    return next((one for one in cut.settings if isinstance(one, Setting)), None)


def _last_cut(state: State) -> Step | None:
    """Return the pass that was taken last; None where none was."""
    done = (state.step(trace.results_before[0][0]) for trace in reversed(state.undo_stack) if trace.kind == "done")
    return next((step for step in done if step is not None and step.action == "cut"), None)


def _wanted_mm(job: DivideJob | PatternJob, cut: Step) -> float:
    """Return the depth wanted in the end at the position of a pass [mm], its mark's rounding left aside."""
    wanted: Any = job.layers[(cut.at.layer or 1) - 1] if isinstance(job, PatternJob) else job.depth
    return float(wanted.depth_mm)
