"""Rounds of readings: as a run has logged them, sorted by plane and turn, and worked out together."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from core.inputs import ReadingsTaken, TurnRead
from core.operations.runout.analysis import Analysis, analyse
from core.operations.runout.job import RunoutJob
from core.operations.runout.readings import reading_mm
from core.operations.runout.tilt import Tilt
from core.plan import Step


class Turn(NamedTuple):
    """Readings of one turn at one plane, as read [mm]; `closing_mm` at the first mark again, None where not read."""

    angles_deg: tuple[float, ...]
    readings_mm: tuple[float, ...]
    closing_mm: float | None = None
    plane: int = 1
    repeat: int = 0
    """0 where it is read for the first time, more for each time that it is read again, nothing having been moved."""

    @property
    def is_repeat(self) -> bool:
        """The turn was read before."""
        return self.repeat > 0

    @property
    def drift_mm(self) -> float:
        """Closing reading less the first."""
        return 0.0 if self.closing_mm is None or not self.readings_mm else self.closing_mm - self.readings_mm[0]


class SetAnalysis(NamedTuple):
    """What one round of readings tells: one plane or two."""

    first: Analysis
    second: Analysis | None = None
    tilt: Tilt | None = None

    @property
    def analyses(self) -> tuple[Analysis, ...]:
        """One for each plane read."""
        return (self.first,) if self.second is None else (self.first, self.second)


def turns_in_job(job: RunoutJob) -> tuple[Turn, ...]:
    """Return the readings that came with the job; its drift is that of each plane's turn."""
    return tuple(
        Turn(angles_deg=job.angles_deg, readings_mm=turn, closing_mm=turn[0] + job.drift_mm, plane=plane)
        for plane, turn in enumerate(job.readings_mm, start=1)
    )


def turns_entered(job: RunoutJob, taken: ReadingsTaken) -> list[Turn]:
    """Return the turns of a round that is complete, at the marks of a job."""
    return [
        Turn(angles_deg=job.angles_deg[: len(turn.readings_mm)], **turn._asdict())
        for turn in taken.turns
        if turn.readings_mm
    ]


def analyse_set(job: RunoutJob, turns: Sequence[Turn], graduation_mm: float) -> SetAnalysis:
    """Return what the turns of one round tell, so far as they have come.

    turns: of the first plane at least [-]; graduation_mm: of the indicator [mm].
    Raises PlanError where the first plane's readings cannot be worked out; a second
    plane counts once it has as many readings as there are marks.
    """
    first = plane_analysis(job, turns, 1, graduation_mm)
    complete = any(turn.plane == 2 and len(turn.readings_mm) == len(job.angles_deg) for turn in turns)
    if job.apart_mm is None or not complete:
        return SetAnalysis(first=first)
    second = plane_analysis(job, turns, 2, graduation_mm)
    return SetAnalysis(first=first, second=second, tilt=Tilt(first=first, second=second, apart_mm=job.apart_mm))


def plane_analysis(job: RunoutJob, turns: Sequence[Turn], plane: int, graduation_mm: float) -> Analysis:
    """Return what the turns of a round tell of one of its planes, so far as they have come.

    turns: of one round [-]; plane: 1 or 2 [-]; graduation_mm: of the indicator [mm].
    Raises PlanError: too few or unfit readings, a slipped indicator.
    """
    once = next(
        (turn for turn in turns if turn.plane == plane and not turn.is_repeat), Turn(angles_deg=(), readings_mm=())
    )
    # Of a turn read again only in part nothing can be said of how well it repeats.
    again = [turn for turn in turns if turn.plane == plane and turn.is_repeat and turn.angles_deg == once.angles_deg]
    return analyse(
        once.readings_mm,
        once.angles_deg,
        job,
        graduation_mm=graduation_mm,
        drift_mm=once.drift_mm,
        again=[(turn.readings_mm, turn.drift_mm) for turn in again],
    )


def sort_into_sets(
    logged: Iterable[tuple[Step, Any, str | None]], graduation_mm: float
) -> tuple[tuple[Turn, ...], ...]:
    """Return the rounds that a run has logged, oldest first, each a turn for every plane and time read.

    logged: steps done, in order, each with the value and unit typed at it [-], a unit
    being one of core.operations.runout.readings.UNITS; graduation_mm: of the indicator [mm].
    A round begins where the plan began one, and where a mark comes by that the round
    before has read already, but for a turn that is read again. Raises QuantityError for a value that is no reading.
    """
    rounds: list[dict[tuple[int, int], dict[float | None, float]]] = [{}]
    latest: Any = None
    for step, value, unit in logged:
        at = step.reading_at
        if value is None or at is None:
            continue
        plane, repeat, mark = at.plane or 1, at.repeat, at.angle_deg
        begun = latest if at.set_of_readings is None else at.set_of_readings
        # Runs of the first version number no repeat: a mark that comes by once more begins the next.
        while repeat and mark in rounds[-1].get((plane, repeat), {}):
            repeat += 1
        key = plane, repeat
        if mark in rounds[-1].get(key, {}) or begun != latest:
            rounds.append({})
        latest = begun
        rounds[-1].setdefault(key, {})[mark] = reading_mm(_text(value), unit or "mm", graduation_mm)
    return tuple(tuple(_turn(key, marks) for key, marks in found.items()) for found in rounds if found)


def _turn(key: tuple[int, int], marks: dict[float | None, float]) -> Turn:
    angles = tuple(mark for mark in marks if mark is not None)
    return Turn(
        angles_deg=angles,
        readings_mm=tuple(marks[angle] for angle in angles),
        closing_mm=marks.get(None),
        plane=key[0],
        repeat=key[1],
    )


def _text(value: Any) -> str:
    """Return a logged value as text that reads back the same; a float never in powers of ten."""
    return f"{float(value):.9f}" if isinstance(value, int | float | Fraction) else str(value)


def match_job(job: RunoutJob, turns: Sequence[Turn]) -> bool:
    """Tell whether the turns of a round were read, every one to its end, at the marks and planes of a job."""
    marks = {turn.plane: turn.angles_deg for turn in turns if not turn.is_repeat}
    return marks == dict.fromkeys(range(1, job.planes + 1), job.angles_deg)


def as_readings_taken(turns: Sequence[Turn]) -> ReadingsTaken:
    """Return the turns of a round as a run is told them."""
    return ReadingsTaken(
        turns=tuple(TurnRead(turn.readings_mm, turn.closing_mm, turn.plane, turn.repeat) for turn in turns)
    )
