"""The closing summary of a run: its wanted and measured sizes [mm], passes, time and notes."""

import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from core.cutting import takes_nothing
from core.events.event import Event
from core.events.replay import replay
from core.events.state import Note, State
from core.inputs import DiametersMeasured, Edited, GaugeTried, Measured, ReadingsTaken, RunInput, input_as_data
from core.lathe.lathe import Lathe
from core.operations.registry import kind_of, parameters_of
from core.plan import Step
from core.record.observations import pass_times
from core.run.event_words import input_words
from core.run.revising import plan_input_of
from core.run.runout_view import runout_view
from core.values.errors import CoreError

_WANTED_FIGURES = (
    "measured",
    "from_mm",
    "to_mm",
    "to_min_mm",
    "to_max_mm",
    "designation",
    "pitch_diameter_max_mm",
    "pitch_diameter_min_mm",
    "over_wires_max_mm",
    "over_wires_min_mm",
    "wire_mm",
    "shoulders",
    "drill_mm",
    "ream_mm",
    "positions",
    "land_percent",
)
"""The figures of a plan that give the wanted result, in the order in which they are shown."""
_WANTED_PARAMETERS = ("tolerance", "depth", "taper")
_LIMITS: Mapping[str, tuple[str, str]] = {
    "size": ("to_min_mm", "to_max_mm"),
    "pitch diameter": ("pitch_diameter_min_mm", "pitch_diameter_max_mm"),
    "over wires": ("over_wires_min_mm", "over_wires_max_mm"),
}
"""For each measured size, the two figures that are its limits."""


class Result(NamedTuple):
    """One result that the user entered in a run: a measurement, a trial with a gauge, or an answer."""

    wall: str
    words: str
    values: Mapping[str, Any]
    """The entered values, as the log has them."""
    sizes_mm: tuple[float, ...] = ()
    limits_mm: tuple[float, float] | None = None
    """The smallest and the largest wanted value; both are the same without limits.

    None if the limits are not known, or if a pass of the same cut came after the measurement.
    """


class PassCount(NamedTuple):
    """The numbers of cutting passes, spring passes, skipped steps, undone steps and open steps in a run."""

    cuts: int
    springs: int
    skipped: int
    undone: int
    still_open: int


@dataclass(frozen=True, kw_only=True)
class ClosingSummary:
    """The summary of a run at its end. If the run is not finished, the summary describes it as it is now."""

    state: State
    lathe: Lathe | None
    """The lathe of the run; None if this version cannot read the lathe."""
    started: str
    ended: str
    """The time of the last event, by the computer's clock."""
    wanted: Mapping[str, Any]
    """The figures of the plan that give the wanted result."""
    asked: Mapping[str, str]
    """The keys of the job that give the wanted result and are not figures."""
    results: tuple[Result, ...]
    measured_last: bool
    """Whether a size was entered after the last pass."""
    figures: tuple[tuple[str, str], ...]
    """The results of the last indicator readings, in words; () for a run without readings."""
    findings: tuple[str, ...]
    """The findings of the measurements, in the counter's words."""
    passes: PassCount
    usual_pass_s: float | None
    """The median time of a pass [s]; None if no pass could be timed."""

    @property
    def notes(self) -> tuple[Note, ...]:
        """Return the notes that the user made during the run."""
        return self.state.notes


def closing_summary(events: Sequence[Event], state: State | None = None) -> ClosingSummary:
    """Return the closing summary of a run. `events`: all events of the run.

    `state`: the state after these events; None to compute it. Raises EventError if an event is not possible at its
    place in the run.
    """
    state = state or replay(events)
    lathe = _lathe_of(state)
    figures = state.plan.figures
    parameters = {**state.plan_input.parameters, **state.plan_input.answered}
    times = [one.seconds for one in pass_times(events) if one.action == "cut"]
    findings = (finding for step in state.steps for finding in step.findings)
    return ClosingSummary(
        state=state,
        lathe=lathe,
        started=events[0].wall,
        ended=events[-1].wall,
        wanted={key: figures[key] for key in _WANTED_FIGURES if key in figures},
        asked={key: parameters[key] for key in _wanted_keys(figures) if isinstance(parameters.get(key), str)},
        results=tuple(_results(state, events, lathe)),
        measured_last=any(seq > _last_cut_seq(state) for seq, entered in state.revisions if _is_result(entered)),
        figures=_figures_of_readings(state),
        findings=tuple(dict.fromkeys(findings)),
        passes=_pass_count(state),
        usual_pass_s=statistics.median(times) if times else None,
    )


def _wanted_keys(figures: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the keys of the job that state the wanted result.

    If the result has limits of size, the keys include `to`, which holds the size as the user entered it, such as "22
    h7".
    """
    return ("to", *_WANTED_PARAMETERS) if "to_min_mm" in figures else _WANTED_PARAMETERS


def _lathe_of(state: State) -> Lathe | None:
    try:
        return plan_input_of(state.plan_input).lathe
    except CoreError:
        return None


def _figures_of_readings(state: State) -> tuple[tuple[str, str], ...]:
    """Return the results of the last complete set of runout readings in words; () if there is no such set."""
    kind = kind_of(state.plan_input.kind)
    if kind is None or kind.screen != "readings":
        return ()
    try:
        view = runout_view(plan_input_of(state.plan_input), state)
    except CoreError:
        return ()
    # The last set is empty just after a new set was started.
    read = view if view.current_set.complete or view.previous_set is None else replace(view, sets=view.sets[:-1])
    if not read.current_set.complete:
        return ()
    return tuple(
        (
            f"{heading}: {figure.name}" if heading else figure.name,
            figure.value + (f" ({figure.note})" if figure.note else ""),
        )
        for heading, figures in read.figures
        for figure in figures
    )


def _pass_count(state: State) -> PassCount:
    done = [step.action for step in state.done_steps]
    return PassCount(
        cuts=done.count("cut"),
        springs=done.count("spring"),
        skipped=sum(result.status == "skipped" for result in state.results.values()),
        undone=len(state.undone),
        still_open=state.steps_open,
    )


def _results(state: State, events: Sequence[Event], lathe: Lathe | None) -> Iterator[Result]:
    """Yield the measurements, trials and answers that the user entered and did not undo, in order.

    The last answer contains all earlier answers, so only the last one is included. `lathe`: the lathe of the run; None
    if this version cannot read the lathe.
    """
    limits_of = _Limits(state)
    last_answer = max((one.seq for one in state.revisions if _is_answer(one.entered)), default=None)
    for seq, entered in state.revisions:
        if not _is_result(entered) and seq != last_answer:
            continue
        sizes = entered.sizes_mm if isinstance(entered, Measured) else ()
        limits = limits_of.measured_mm(seq, entered) if isinstance(entered, Measured) else None
        words = input_words(entered, lathe)
        yield Result(events[seq].wall, words, input_as_data(entered)[1], sizes, limits)


def _cuts_latest_first(state: State) -> Iterator[tuple[int, Step]]:
    """Yield the passes that took off metal, the latest first, each with the number of its event."""
    for event in state.machine_events_latest_first():
        cut = None if event.undone else event.step
        if cut is not None and cut.action == "cut" and not takes_nothing(cut):
            yield event.seq, cut


def _last_cut_seq(state: State) -> int:
    """Return the number of the event that logged the last pass; 0 if no pass has been cut."""
    return next((seq for seq, _ in _cuts_latest_first(state)), 0)


class _Limits:
    """Finds the limits that apply to each measured size of a run."""

    def __init__(self, state: State) -> None:
        self._figures = state.plan.figures
        self._cuts = list(_cuts_latest_first(state))
        self._parameters: Any = None
        kind = kind_of(state.plan_input.kind)
        self._wanted_mm = kind.operation.wanted_mm if kind else None
        if self._wanted_mm is not None:
            try:
                self._parameters = parameters_of(plan_input_of(state.plan_input))
            except CoreError:
                self._wanted_mm = None

    def measured_mm(self, seq: int, measured: Measured) -> tuple[float, float] | None:
        """Return the smallest and the largest wanted value of a measured size [mm]; None if no limits apply.

        No limits apply if they are not known, or if a later pass was cut to the same limits. `seq`: the number of the
        event that logged the measurement.
        """
        if self._wanted_mm is None:
            return None if self._cuts and self._cuts[0][0] > seq else _limits_mm(measured, self._figures)
        before = next((cut for at, cut in self._cuts if at < seq), None)
        if before is None:
            return None
        limits = self._wanted_mm(self._parameters, before, measured)
        later = (self._wanted_mm(self._parameters, cut, measured) for at, cut in self._cuts if at > seq)
        return None if limits in later else limits


def _is_result(entered: RunInput) -> bool:
    return isinstance(entered, Measured | DiametersMeasured | GaugeTried | ReadingsTaken)


def _is_answer(entered: RunInput) -> bool:
    return isinstance(entered, Edited) and entered.plan_input.keys() == {"answered"}


def _limits_mm(measured: Measured, figures: Mapping[str, Any]) -> tuple[float, float] | None:
    """Return the smallest and the largest wanted value of a measured size [mm]; None if the plan has no such value.

    `figures`: the figures of the plan.
    """
    if measured.what == "over wires" and measured.wire_mm is not None:
        # The limits are for the planned wire.
        return None
    least, most = (figures.get(key) for key in _LIMITS.get(measured.what, ("", "")))
    if least is None and most is None and measured.what == "size":
        least = most = figures.get("to_mm")
    return None if least is None or most is None else (float(least), float(most))
