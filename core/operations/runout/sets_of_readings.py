"""Sets of readings. A set holds all turns read between one move of the work and the next, at one plane or two."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from core.inputs import ReadingsTaken, TurnRead
from core.operations.runout.analysis import Analysis, analyse
from core.operations.runout.job import RunoutJob
from core.operations.runout.readings import reading_mm
from core.operations.runout.tilt import Tilt
from core.plan import Step


@dataclass(frozen=True, kw_only=True)
class Turn:
    """The uncorrected readings of one turn at one plane [mm].

    `closing_mm` is the last reading, which is taken at the first mark again; None if it has not been taken.
    """

    angles_deg: tuple[float, ...]
    readings_mm: tuple[float, ...]
    closing_mm: float | None = None
    plane: int = 1
    repeat: int = 0
    """How often the turn was read before with nothing moved: 0 for the first time."""

    @property
    def is_repeat(self) -> bool:
        """True if this turn reads the marks of an earlier turn again, with nothing moved."""
        return self.repeat > 0

    @property
    def drift_mm(self) -> float:
        """The closing reading minus the first [mm]; 0 without a closing reading."""
        return 0.0 if self.closing_mm is None or not self.readings_mm else self.closing_mm - self.readings_mm[0]


@dataclass(frozen=True, kw_only=True)
class SetAnalysis:
    """The analyses of one set of readings, at one plane or two."""

    first: Analysis
    second: Analysis | None = None
    tilt: Tilt | None = None

    @property
    def analyses(self) -> tuple[Analysis, ...]:
        """One analysis for each plane that was read."""
        return (self.first,) if self.second is None else (self.first, self.second)


def turns_in_job(job: RunoutJob) -> tuple[Turn, ...]:
    """Return the turns of readings that are part of a job. The job's drift applies to every plane."""
    return tuple(
        Turn(angles_deg=job.angles_deg, readings_mm=turn, closing_mm=turn[0] + job.drift_mm, plane=plane)
        for plane, turn in enumerate(job.readings_mm, start=1)
    )


def turns_entered(job: RunoutJob, taken: ReadingsTaken) -> list[Turn]:
    """Return the turns of a complete set of readings that a run logged. The marks come from the job."""
    return [
        Turn(angles_deg=job.angles_deg[: len(turn.readings_mm)], **turn._asdict())
        for turn in taken.turns
        if turn.readings_mm
    ]


def analyse_set(job: RunoutJob, turns: Sequence[Turn], graduation_mm: float) -> SetAnalysis:
    """Return the analysis of one set of readings, from the turns read so far.

    turns: at least one turn of the first plane.
    graduation_mm: graduation of the indicator [mm].
    Raises PlanError if the readings of a plane cannot be analysed. The second plane is analysed as soon as all its
    marks have been read.
    """
    first = plane_analysis(job, turns, 1, graduation_mm)
    complete = any(turn.plane == 2 and len(turn.readings_mm) == len(job.angles_deg) for turn in turns)
    if job.apart_mm is None or not complete:
        return SetAnalysis(first=first)
    second = plane_analysis(job, turns, 2, graduation_mm)
    return SetAnalysis(first=first, second=second, tilt=Tilt(first=first, second=second, apart_mm=job.apart_mm))


def plane_analysis(job: RunoutJob, turns: Sequence[Turn], plane: int, graduation_mm: float) -> Analysis:
    """Return the analysis of one plane, from the turns of a set read so far.

    plane: 1 or 2.
    graduation_mm: graduation of the indicator [mm].
    Raises PlanError for too few or unsuitable readings, and for an indicator that slipped.
    """
    first = next(
        (turn for turn in turns if turn.plane == plane and not turn.is_repeat), Turn(angles_deg=(), readings_mm=())
    )
    # A turn read again only in part does not show how well it repeats.
    again = [turn for turn in turns if turn.plane == plane and turn.is_repeat and turn.angles_deg == first.angles_deg]
    return analyse(
        first.readings_mm,
        first.angles_deg,
        job,
        graduation_mm=graduation_mm,
        drift_mm=first.drift_mm,
        again=[(turn.readings_mm, turn.drift_mm) for turn in again],
    )


def sort_into_sets(
    logged: Iterable[tuple[Step, Any, str | None]], graduation_mm: float
) -> tuple[tuple[Turn, ...], ...]:
    """Return the sets of readings that a run logged, oldest first.

    A set has one turn for each time that each plane was read. A new set starts where the plan starts one. It also
    starts at a mark that the current set already has, unless the turn is being read again.
    logged: the steps done, in order. Each has the value that was entered and its unit, one of UNITS, or None for mm.
    graduation_mm: graduation of the indicator [mm].
    Raises QuantityError for a value that is not a reading.
    """
    sets: list[dict[tuple[int, int], dict[float | None, float]]] = [{}]
    latest: Any = None
    for step, value, unit in logged:
        at = step.reading_at
        if value is None or at is None:
            continue
        plane, repeat, mark = at.plane or 1, at.repeat, at.angle_deg
        set_id = latest if at.set_of_readings is None else at.set_of_readings
        # Runs of the first version have no number for a repeat. A mark that comes again starts the next turn.
        while repeat and mark in sets[-1].get((plane, repeat), {}):
            repeat += 1
        key = plane, repeat
        if mark in sets[-1].get(key, {}) or set_id != latest:
            sets.append({})
        latest = set_id
        sets[-1].setdefault(key, {})[mark] = reading_mm(_text(value), unit or "mm", graduation_mm)
    return tuple(tuple(_turn(key, marks) for key, marks in turns.items()) for turns in sets if turns)


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
    """Return a logged value as text that parses to the same number. The text has no exponent."""
    return f"{float(value):.9f}" if isinstance(value, int | float | Fraction) else str(value)


def match_job(job: RunoutJob, turns: Sequence[Turn]) -> bool:
    """Return whether the turns of a set cover every mark and plane of a job."""
    marks = {turn.plane: turn.angles_deg for turn in turns if not turn.is_repeat}
    return marks == dict.fromkeys(range(1, job.planes + 1), job.angles_deg)


def as_readings_taken(turns: Sequence[Turn]) -> ReadingsTaken:
    """Return the turns of a set as the input that is logged for a complete set of readings."""
    return ReadingsTaken(
        turns=tuple(TurnRead(turn.readings_mm, turn.closing_mm, turn.plane, turn.repeat) for turn in turns)
    )
