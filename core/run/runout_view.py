"""The contents of the runout screen: the sets of readings of a run, their findings, and the reading to take now."""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

from core.events.state import State
from core.inputs import ReadingsTaken, ReadingsThatHold
from core.jobs.job import Job
from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.operations.operation import PatternGroove
from core.operations.registry import PlanInput, operation_of, parameters_of
from core.operations.runout.analysis import Analysis
from core.operations.runout.findings import (
    PLANES,
    RunoutFinding,
    figure_words,
    findings_of,
    findings_so_far,
    waiting_words,
)
from core.operations.runout.job import RunoutJob, graduation_of, logged_mark_mm
from core.operations.runout.picture import PolarView, TurnToDraw, polar_view
from core.operations.runout.sets_of_readings import (
    SetAnalysis,
    Turn,
    analyse_set,
    as_readings_taken,
    match_job,
    plane_analysis,
    sort_into_sets,
    turns_in_job,
)
from core.operations.runout.verdict import effects_on_work, verdict
from core.plan import Expects, ReadingPosition, Step
from core.values.errors import CoreError, PlanError, QuantityError
from core.values.plain_text import sentence


@dataclass(frozen=True, kw_only=True)
class SetOfReadings:
    """One set of readings, complete or still being read."""

    job: RunoutJob
    turns: tuple[Turn, ...]
    graduation_mm: float

    def turn(self, plane: int) -> Turn:
        """Return the first turn that was read in a plane; a turn without readings if none has been read there."""
        turns = (turn for turn in self.turns if turn.plane == plane and not turn.is_repeat)
        return next(turns, Turn(angles_deg=(), readings_mm=(), plane=plane))

    def is_whole(self, plane: int) -> bool:
        """Return whether every mark of a plane has been read."""
        return len(self.turn(plane).readings_mm) == len(self.job.angles_deg)

    @property
    def complete(self) -> bool:
        """Return whether every mark of every plane has been read."""
        return all(self.is_whole(plane) for plane in range(1, self.job.planes + 1))

    @cached_property
    def planes(self) -> dict[int, Analysis]:
        """Return the analyses of the planes that have enough readings. The keys are the numbers of the planes."""
        analyses = {}
        for plane in range(1, self.job.planes + 1):
            try:
                analyses[plane] = plane_analysis(self.job, self.turns, plane, self.graduation_mm)
            except PlanError:
                continue
        return analyses

    @cached_property
    def analysis(self) -> SetAnalysis | None:
        """Return the analysis of the whole set; None while the first plane has too few readings."""
        return None if isinstance(self._worked_out, str) else self._worked_out

    @property
    def refusal(self) -> str:
        """Return why a complete set of readings cannot be analysed; "" if it can be, or if the set is not complete."""
        return self._worked_out if isinstance(self._worked_out, str) and self.complete else ""

    @cached_property
    def _worked_out(self) -> SetAnalysis | str:
        try:
            return analyse_set(self.job, self.turns, self.graduation_mm)
        except PlanError as error:
            return error.message


@dataclass(frozen=True, kw_only=True)
class RunoutView:
    """The contents of the runout screen: the current set of readings, the previous set, and the reading to take now."""

    job: RunoutJob
    lathe: Lathe
    sets: tuple[SetOfReadings, ...]
    """The sets of readings, oldest first. There is at least one. The set being read is the last."""
    step: Step | None
    """The current step; None if all steps are done."""

    @property
    def reading(self) -> Step | None:
        """Return the current step if it takes an indicator reading; otherwise None."""
        return self.step if self.step is not None and takes_reading(self.step) else None

    @property
    def reading_at(self) -> ReadingPosition | None:
        """Return the plane and mark at which the current step takes its reading; None if the step takes none."""
        return None if self.step is None else self.step.reading_at

    @property
    def graduation_mm(self) -> float:
        """Return the graduation of the indicator [mm]."""
        return graduation_of(self.lathe)

    @property
    def current_set(self) -> SetOfReadings:
        """Return the set of readings being taken; the last set if none is being taken."""
        return self.sets[-1]

    @property
    def previous_set(self) -> SetOfReadings | None:
        """Return the last complete set before the current set, to be compared with it; None if there is none."""
        return next((earlier for earlier in reversed(self.sets[:-1]) if earlier.complete), None)

    @property
    def plane(self) -> int:
        """Return the number of the plane in which the next reading is taken; 1 if no reading is due."""
        return 1 if self.reading_at is None else self.reading_at.plane or 1

    @property
    def mark_deg(self) -> float | None:
        """Return the mark on the work that must now be under the indicator [deg]; None if no reading is due."""
        at = self.reading_at
        if at is None:
            return None
        return self.job.angles_deg[0] if at.angle_deg is None else at.angle_deg

    @property
    def repeat(self) -> int:
        """Return the number of the present repeat of the turn; 0 the first time that the turn is read."""
        return 0 if self.reading_at is None else self.reading_at.repeat

    @property
    def again(self) -> bool:
        """Return whether the present turn is being read again, with no move of the work in between."""
        return self.repeat > 0

    @property
    def times(self) -> int:
        """Return how many times the present turn has been read, including this time."""
        return 1 + len({turn.repeat for turn in self.current_set.turns if 0 < turn.repeat < self.repeat}) + self.again

    @property
    def turn_readings_mm(self) -> tuple[float, ...]:
        """Return the readings that have been taken so far in the present turn [mm]."""
        turns = (turn for turn in self.current_set.turns if turn.plane == self.plane and turn.repeat == self.repeat)
        return next((turn.readings_mm for turn in turns), ())

    @property
    def heading(self) -> str:
        """Return the heading for the current step: which reading to take, such as "Read 2 of 4", or which move to make.

        Return "" for other steps.
        """
        at = self.reading_at
        if at is None:
            extra = {} if self.step is None else self.step.extra
            return "Result" if "stands" in extra else f"Correct {extra['move']}" if "move" in extra else ""
        marks = self.job.angles_deg
        parts = ["Closing"]
        if at.angle_deg is not None:
            parts = [f"Read {marks.index(at.angle_deg) + 1} of {len(marks)}"]
        if self.job.planes == 2:
            parts.append(f"plane {self.plane}")
        if self.again:
            parts.append(_TIMES.get(self.times, f"time {self.times}"))
        elif len(self.sets) > 1:
            parts.append(f"set {len(self.sets)}")
        return ", ".join(parts)

    @property
    def text(self) -> str:
        """Return the instruction for the current step; "" if all steps are done.

        The findings are shown beside the instruction, so the instruction does not repeat them.
        """
        if self.step is None:
            return ""
        if "stands" in self.step.extra:
            moves = " with the moves" if any(line.kind == "do" for line in self.findings) else ""
            return f"All readings have been taken. Look at the result, then press Enter to continue{moves}."
        return self.step.text

    @property
    def move_advised(self) -> bool:
        """Return whether the last complete set of readings showed that the work must be moved."""
        analysis = self.current_set.analysis if self.current_set.complete else None
        wanted = self.job.tolerance_mm
        if analysis is None or (wanted is not None and verdict(analysis.analyses, wanted).answer == "within"):
            return False
        return any(line.kind == "do" for line in self.findings)

    @cached_property
    def findings(self) -> tuple[RunoutFinding, ...]:
        """Return what the readings of the current set show so far. Likely mistakes in readings come first."""
        current = self.current_set
        if current.refusal:
            return (RunoutFinding("asked", sentence(current.refusal)),)
        if current.complete and current.analysis is not None:
            complete = (earlier.analysis for earlier in self.sets[:-1] if earlier.complete)
            earlier = [analysis for analysis in complete if analysis is not None]
            return tuple(findings_of(current.analysis, earlier, self.job, self.lathe))
        analysis = current.planes.get(self.plane)
        if analysis is None:
            return (RunoutFinding("known", waiting_words(current.turn(self.plane).readings_mm)),)
        return tuple(findings_so_far(analysis, self.job, self.lathe, plane=self.plane))

    @cached_property
    def figures(self) -> tuple[tuple[str, tuple[Figure, ...]], ...]:
        """Return the figures of each plane with their heading, starting with the plane being read.

        If there is only one plane, its heading is "".
        """
        figures = []
        for plane in sorted(self.current_set.planes, key=lambda plane: plane != self.plane):
            heading = PLANES[plane - 1].capitalize() if self.job.planes == 2 else ""
            whole = self.current_set.is_whole(plane)
            figures.append(
                (heading, tuple(figure_words(self.current_set.planes[plane], self.lathe.indicator_text, whole=whole)))
            )
        return tuple(figures)

    @cached_property
    def picture(self) -> PolarView:
        """Return the polar picture of the present turn, with the other plane and the previous set of readings."""
        return polar_view(
            self._turns_to_draw(),
            self.job,
            mark_deg=self.mark_deg,
            graduation_mm=self.graduation_mm,
            length_text=self.lathe.indicator_text,
        )

    def _turns_to_draw(self) -> list[TurnToDraw]:
        turns = turns_to_draw(self.current_set, self.plane)
        if self.previous_set is not None:
            turn, analysis = self.previous_set.turn(self.plane), self.previous_set.planes.get(self.plane)
            turns.append(TurnToDraw(letter="x", name="before", turn=turn, analysis=analysis))
        return turns


def turns_to_draw(readings: SetOfReadings, plane: int) -> list[TurnToDraw]:
    """Return the turns of a set of readings in the form in which they are drawn, with the turns of `plane` first."""
    two, other = readings.job.planes == 2, 3 - plane
    name = PLANES[plane - 1] if two else "this turn"
    turns = [TurnToDraw(letter="o", name=name, turn=readings.turn(plane), analysis=readings.planes.get(plane))]
    if two:
        turn, analysis = readings.turn(other), readings.planes.get(other)
        turns.append(TurnToDraw(letter=str(other), name=PLANES[other - 1], turn=turn, analysis=analysis))
    return turns


def runout_view(plan_input: PlanInput, state: State) -> RunoutView:
    """Return the contents of the runout screen for a run. Raises FileError if the logged values cannot be read."""
    job: RunoutJob = parameters_of(plan_input)
    graduation = graduation_of(plan_input.lathe)
    sets: list[SetOfReadings] = []
    # No screen writes a value that is not a reading. Such a value in a damaged log hides the sets, but not the run.
    with suppress(QuantityError):
        logged = logged_sets(plan_input, state)
        sets = [SetOfReadings(job=job, turns=turns, graduation_mm=graduation) for turns in logged]
    if job.readings_mm:
        sets.insert(0, SetOfReadings(job=job, turns=turns_in_job(job), graduation_mm=graduation))
    if not sets or _starts_new_set(state):
        sets.append(SetOfReadings(job=job, turns=(), graduation_mm=graduation))
    return RunoutView(job=job, lathe=plan_input.lathe, sets=tuple(sets), step=state.cursor)


_TIMES = {2: "second time", 3: "third time"}
_ADVICE_KEYS = {"stands", "move"}
"""Keys of steps that follow from a set of readings, such as a move of the work."""


def _starts_new_set(state: State) -> bool:
    """Return whether the next reading is the first one of a new set."""
    coming = next((step for step in state.open_steps() if takes_reading(step) or _ADVICE_KEYS & set(step.extra)), None)
    at = None if coming is None else coming.reading_at
    if at is None or at.set_of_readings is None:
        return False
    read = (step.reading_at for step in state.done_steps)
    return all(other is None or other.set_of_readings != at.set_of_readings for other in read)


def takes_reading(step: Step) -> bool:
    """Return whether the user takes an indicator reading at a step."""
    return step.expects == Expects.READING and not step.zeroed_dials


def readings_taken(plan_input: PlanInput, state: State) -> ReadingsTaken | None:
    """Return the set of readings that the last step completed; None if that step completed no set.

    Raises QuantityError for a logged value that is not a reading.
    """
    last = state.last_done
    if last is None or not takes_reading(last):
        return None
    if any(step.expects == Expects.READING for step in state.open_steps()):
        return None
    return as_readings_taken(logged_sets(plan_input, state)[-1])


def readings_still_valid(plan_input: PlanInput, state: State) -> ReadingsThatHold:
    """Return which readings of the last set are still valid after the job was edited.

    Return all readings of a set that is complete, "under way" for a set that can continue, "none yet" if no reading has
    been taken, or None if the marks were changed or the work was moved. Raises QuantityError for a logged value that is
    not a reading.
    """
    done, job = state.done_steps, parameters_of(plan_input)
    read = [at for at, step in enumerate(done) if takes_reading(step) and step.id in state.values]
    moved = any("move" in step.extra for step in done[read[-1] if read else 0 :])
    if not read:
        return None if moved else "none yet"
    coming = [step for step in state.open_steps() if takes_reading(step)]
    if coming:
        return "under way" if _continues(job, state.steps, coming[0]) else None
    if moved:
        return None
    turns = logged_sets(plan_input, state)[-1]
    return as_readings_taken(turns) if match_job(job, turns) else None


def _continues(job: RunoutJob, steps: Iterable[Step], coming: Step) -> bool:
    """Return whether the set being read can continue, because the edited job needs the same marks.

    `steps`: all steps of the run, done and skipped ones too. `coming`: the next step that takes a reading.
    """
    current_time = None if coming.reading_at is None else coming.reading_at.time
    planned = [
        (at.plane or 1, at.angle_deg)
        for at in (step.reading_at for step in steps)
        if at is not None and at.angle_deg is not None and at.time == current_time
    ]
    return planned == [(plane, angle) for plane in range(1, job.planes + 1) for angle in job.angles_deg]


def logged_sets(plan_input: PlanInput, state: State) -> tuple[tuple[Turn, ...], ...]:
    """Return every set of readings that a run logged, oldest first.

    Raises QuantityError for a value that is not a reading.
    """
    logged = [(step, state.results[step.id].value, state.results[step.id].unit) for step in state.done_steps]
    return sort_into_sets(logged, logged_mark_mm(plan_input.lathe))


def deepest_groove(job: Job | None) -> PatternGroove | None:
    """Return the groove of the first pattern in a job that has one: the deepest groove of this pattern.

    Return None if no groove has both a cutter point and a depth.
    """
    for operation in job.operations if job is not None else ():
        try:
            groove = operation_of(operation.kind).groove(parameters_of(operation.plan_input))
        except CoreError:
            continue
        if groove is not None:
            return groove
    return None


def effect_words(analysis: Analysis, lathe: Lathe, groove: PatternGroove | None) -> str:
    """Return, in one row of text, the effect of a runout on a thread, spigot, bore or groove, with numbers."""
    if groove is None:
        return " ".join(effects_on_work(analysis, lathe.indicator_text))
    lines = effects_on_work(
        analysis,
        lathe.indicator_text,
        tip_angle_deg=groove.tip_angle_deg,
        depth_mm=groove.depth_mm,
        tip_flat_mm=groove.tip_flat_mm,
    )
    return " ".join(lines)
