"""A run that reads the runout, as a screen follows it: rounds, what they tell so far, the reading wanted now."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from core.events.state import State
from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.operations.registry import PlanInput, parameters_of
from core.operations.runout.analysis import Analysis
from core.operations.runout.findings import PLANES, Told, figure_words, told, told_so_far, waiting_words
from core.operations.runout.job import RunoutJob, graduation_of
from core.operations.runout.picture import PolarView, Read, polar_view
from core.operations.runout.sets_of_readings import Findings, Turn, findings, given_turns, plane_analysis
from core.operations.runout.verdict import verdict
from core.plan import Step
from core.run.readings_taken import rounds_logged, takes_reading
from core.step_place import ReadingPosition
from core.values.errors import PlanError, QuantityError
from core.values.plain_text import sentence


@dataclass(frozen=True, kw_only=True)
class Round:
    """One round of readings, so far as it has come."""

    job: RunoutJob
    turns: tuple[Turn, ...]
    graduation_mm: float

    def turn(self, plane: int) -> Turn:
        """Return the turn of a plane, the first time it was read; an empty one where it was not."""
        found = (turn for turn in self.turns if turn.plane == plane and not turn.again)
        return next(found, Turn(angles_deg=(), readings_mm=(), plane=plane))

    def is_whole(self, plane: int) -> bool:
        """Tell whether every mark of a plane was read."""
        return len(self.turn(plane).readings_mm) == len(self.job.angles_deg)

    @property
    def complete(self) -> bool:
        """Every mark of every plane was read."""
        return all(self.is_whole(plane) for plane in range(1, self.job.planes + 1))

    @cached_property
    def planes(self) -> dict[int, Analysis]:
        """What each plane tells, by its number; one whose readings tell nothing yet is left out."""
        found = {}
        for plane in range(1, self.job.planes + 1):
            try:
                found[plane] = plane_analysis(self.job, self.turns, plane, self.graduation_mm)
            except PlanError:
                continue
        return found

    @cached_property
    def findings(self) -> Findings | None:
        """What both planes tell together; None where the first tells nothing yet."""
        return None if isinstance(self._worked_out, str) else self._worked_out

    @property
    def why_not(self) -> str:
        """Why a complete round tells nothing, "" where it does or is not complete."""
        return self._worked_out if isinstance(self._worked_out, str) and self.complete else ""

    @cached_property
    def _worked_out(self) -> Findings | str:
        try:
            return findings(self.job, self.turns, self.graduation_mm)
        except PlanError as error:
            return error.message


@dataclass(frozen=True, kw_only=True)
class Following:
    """Where a run stands: the round being read, the one before it, the reading wanted now."""

    job: RunoutJob
    lathe: Lathe
    rounds: tuple[Round, ...]
    """Oldest first, the one being read last; one at least."""
    step: Step | None
    """The one at hand, None where all are done."""

    @property
    def reading(self) -> Step | None:
        """The step at hand, where it takes a reading."""
        return self.step if self.step is not None and takes_reading(self.step) else None

    @property
    def reading_at(self) -> ReadingPosition | None:
        """Where that reading is taken."""
        return None if self.step is None else self.step.reading_at

    @property
    def graduation_mm(self) -> float:
        """Between two marks of the indicator."""
        return graduation_of(self.lathe)

    @property
    def now(self) -> Round:
        """The round being read, or read last."""
        return self.rounds[-1]

    @property
    def before(self) -> Round | None:
        """The round that this one is compared with: the last complete one before it."""
        return next((found for found in reversed(self.rounds[:-1]) if found.complete), None)

    @property
    def plane(self) -> int:
        """The plane being read: of the reading wanted now, else the first."""
        return 1 if self.reading_at is None else self.reading_at.plane or 1

    @property
    def mark_deg(self) -> float | None:
        """The mark that belongs under the indicator now."""
        at = self.reading_at
        if at is None:
            return None
        return self.job.angles_deg[0] if at.angle_deg is None else at.angle_deg

    @property
    def repeat(self) -> int:
        """Which time the turn is being read: 0 the first, more where it was read before."""
        return 0 if self.reading_at is None else self.reading_at.repeat

    @property
    def again(self) -> bool:
        """The turn is being read again, nothing having been moved."""
        return self.repeat > 0

    @property
    def time(self) -> int:
        """How often the turn has been read with this time, 1 where it is read for the first."""
        return 1 + len({turn.repeat for turn in self.now.turns if 0 < turn.repeat < self.repeat}) + self.again

    @property
    def taken_mm(self) -> tuple[float, ...]:
        """The readings of the very turn that is being read [mm]."""
        turns = (turn for turn in self.now.turns if turn.plane == self.plane and turn.repeat == self.repeat)
        return next((turn.readings_mm for turn in turns), ())

    @property
    def heading(self) -> str:
        """Which reading of how many is wanted, or which move; "" where the step is of another kind."""
        at = self.reading_at
        if at is None:
            extra = {} if self.step is None else self.step.extra
            return "How it stands" if "stands" in extra else f"To do {extra['move']}" if "move" in extra else ""
        marks = self.job.angles_deg
        parts = ["Closing"]
        if at.angle_deg is not None:
            parts = [f"Read {marks.index(at.angle_deg) + 1} of {len(marks)}"]
        if self.job.planes == 2:
            parts.append(f"plane {self.plane}")
        if self.again:
            parts.append(_TIMES.get(self.time, f"time {self.time}"))
        elif len(self.rounds) > 1:
            parts.append(f"round {len(self.rounds)}")
        return ", ".join(parts)

    @property
    def text(self) -> str:
        """What is to be done now; what the readings tell stands beside it and is not repeated. "" where all is done."""
        if self.step is None:
            return ""
        if "stands" in self.step.extra:
            on = " to what to do" if any(line.kind == "do" for line in self.says) else ""
            return f"All is read: see what it tells; Enter goes on{on}."
        return self.step.text

    @property
    def moves_wait(self) -> bool:
        """The round read last calls for a move, so that the turn is to be read again after it."""
        found = self.now.findings if self.now.complete else None
        wanted = self.job.tolerance_mm
        if found is None or (wanted is not None and verdict(found.analyses, wanted).answer == "within"):
            return False
        return any(line.kind == "do" for line in self.says)

    @cached_property
    def says(self) -> tuple[Told, ...]:
        """What the readings tell so far, the gravest first."""
        now = self.now
        if now.why_not:
            return (Told("asked", sentence(now.why_not)),)
        if now.complete and now.findings is not None:
            complete = (found.findings for found in self.rounds[:-1] if found.complete)
            earlier = [found for found in complete if found is not None]
            return tuple(told(now.findings, earlier, self.job, self.lathe))
        analysis = now.planes.get(self.plane)
        if analysis is None:
            return (Told("known", waiting_words(now.turn(self.plane).readings_mm)),)
        return tuple(told_so_far(analysis, self.job, self.lathe, plane=self.plane))

    @cached_property
    def figures(self) -> tuple[tuple[str, tuple[Figure, ...]], ...]:
        """Figures under a heading, "" where there is only one plane; the plane being read first."""
        found = []
        for plane in sorted(self.now.planes, key=lambda plane: plane != self.plane):
            heading = PLANES[plane - 1].capitalize() if self.job.planes == 2 else ""
            whole = self.now.is_whole(plane)
            found.append((heading, tuple(figure_words(self.now.planes[plane], self.lathe.indicator_text, whole=whole))))
        return tuple(found)

    @cached_property
    def picture(self) -> PolarView:
        """The turn being read, the other plane, and the round before."""
        return polar_view(
            self._reads(),
            self.job,
            mark_deg=self.mark_deg,
            graduation_mm=self.graduation_mm,
            say=self.lathe.indicator_text,
        )

    def _reads(self) -> list[Read]:
        reads = reads_of(self.now, self.plane)
        if self.before is not None:
            turn, analysis = self.before.turn(self.plane), self.before.planes.get(self.plane)
            reads.append(Read(letter="x", name="before", turn=turn, analysis=analysis))
        return reads


def reads_of(taken: Round, plane: int) -> list[Read]:
    """Return the turns of a round as a picture shows them, one plane first."""
    two, other = taken.job.planes == 2, 3 - plane
    name = PLANES[plane - 1] if two else "this turn"
    reads = [Read(letter="o", name=name, turn=taken.turn(plane), analysis=taken.planes.get(plane))]
    if two:
        turn, analysis = taken.turn(other), taken.planes.get(other)
        reads.append(Read(letter=str(other), name=PLANES[other - 1], turn=turn, analysis=analysis))
    return reads


def following(plan_input: PlanInput, state: State) -> Following:
    """Return where a run of kind runout stands; raises FileError where the log holds nonsense."""
    job: RunoutJob = parameters_of(plan_input)
    graduation = graduation_of(plan_input.lathe)
    rounds = [Round(job=job, turns=turns, graduation_mm=graduation) for turns in logged_rounds(plan_input, state)]
    if job.readings_mm:
        rounds.insert(0, Round(job=job, turns=given_turns(job), graduation_mm=graduation))
    if not rounds or _begins_anew(state):
        rounds.append(Round(job=job, turns=(), graduation_mm=graduation))
    return Following(job=job, lathe=plan_input.lathe, rounds=tuple(rounds), step=state.cursor)


_TIMES = {2: "twice", 3: "three times"}
_IS_ADVICE = {"stands", "move"}
"""Steps that belong to the round before them."""


def logged_rounds(plan_input: PlanInput, state: State) -> Sequence[tuple[Turn, ...]]:
    """Return the rounds that a run has logged; () where a value is no reading, which no screen writes."""
    try:
        return rounds_logged(plan_input, state)
    except QuantityError:
        return ()


def _begins_anew(state: State) -> bool:
    """Tell whether the next thing to do is, or leads to, the first reading of another round."""
    coming = next((step for step in state.open_steps() if takes_reading(step) or _IS_ADVICE & set(step.extra)), None)
    at = None if coming is None else coming.reading_at
    if at is None or at.set_of_readings is None:
        return False
    read = (step.reading_at for step in state.done_steps)
    return all(other is None or other.set_of_readings != at.set_of_readings for other in read)
