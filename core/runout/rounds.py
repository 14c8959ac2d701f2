"""Rounds of readings: as a run has logged them, sorted by plane and turn, and worked out together."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from core.inputs import ReadingsTaken
from core.plan import Step
from core.runout.analysis import Analysis, analyse
from core.runout.job import RunoutJob
from core.runout.readings import reading_mm
from core.runout.tilt import Tilt


class Turn(NamedTuple):
    """Readings of one turn at one plane, as read [mm]; `closing_mm` at the first mark again, None where not read."""

    angles_deg: tuple[float, ...]
    readings_mm: tuple[float, ...]
    closing_mm: float | None = None
    plane: int = 1
    again: bool = False
    """The second reading of the same turn, nothing having been moved."""

    @property
    def drift_mm(self) -> float:
        """Closing reading less the first."""
        return 0.0 if self.closing_mm is None or not self.readings_mm else self.closing_mm - self.readings_mm[0]


class Findings(NamedTuple):
    """What one round of readings tells: one plane or two."""

    first: Analysis
    second: Analysis | None = None
    tilt: Tilt | None = None

    @property
    def analyses(self) -> tuple[Analysis, ...]:
        """One for each plane read."""
        return (self.first,) if self.second is None else (self.first, self.second)


def given_turns(job: RunoutJob) -> tuple[Turn, ...]:
    """Return the readings that came with the job; its drift is that of each plane's turn."""
    return tuple(
        Turn(angles_deg=job.angles_deg, readings_mm=turn, closing_mm=turn[0] + job.drift_mm, plane=plane)
        for plane, turn in enumerate(job.readings_mm, start=1)
    )


def turns_of(job: RunoutJob, taken: ReadingsTaken) -> list[Turn]:
    """Return the turns of a round that is complete."""
    once, again = (
        [
            Turn(angles_deg=job.angles_deg[: len(readings)], readings_mm=readings, plane=plane, again=is_again)
            for plane, readings in enumerate(planes, start=1)
        ]
        for planes, is_again in ((taken.readings_mm, False), (taken.again_mm, True))
    )
    closings = taken.closing_mm or (None,) * len(once)
    return [*(turn._replace(closing_mm=closing) for turn, closing in zip(once, closings, strict=True)), *again]


def findings(job: RunoutJob, turns: Sequence[Turn], graduation_mm: float) -> Findings:
    """Return what the turns of one round tell, so far as they have come.

    turns: of the first plane at least [-]; graduation_mm: of the indicator [mm].
    Raises PlanError where the first plane's readings cannot be worked out; a second
    plane counts once it has as many readings as there are marks.
    """
    first = plane_analysis(job, turns, 1, graduation_mm)
    complete = any(turn.plane == 2 and len(turn.readings_mm) == len(job.angles_deg) for turn in turns)
    if job.apart_mm is None or not complete:
        return Findings(first=first)
    second = plane_analysis(job, turns, 2, graduation_mm)
    return Findings(first=first, second=second, tilt=Tilt(first=first, second=second, apart_mm=job.apart_mm))


def plane_analysis(job: RunoutJob, turns: Sequence[Turn], plane: int, graduation_mm: float) -> Analysis:
    """Return what the turns of a round tell of one of its planes, so far as they have come.

    turns: of one round [-]; plane: 1 or 2 [-]; graduation_mm: of the indicator [mm].
    Raises PlanError: too few or unfit readings, a slipped indicator.
    """
    once = next((turn for turn in turns if turn.plane == plane and not turn.again), Turn(angles_deg=(), readings_mm=()))
    again = next((turn for turn in turns if turn.plane == plane and turn.again), None)
    if again is not None and again.angles_deg != once.angles_deg:
        again = None
    return analyse(
        once.readings_mm,
        once.angles_deg,
        job,
        graduation_mm=graduation_mm,
        drift_mm=once.drift_mm,
        again_mm=None if again is None else again.readings_mm,
        again_drift_mm=0.0 if again is None else again.drift_mm,
    )


def rounds_of(logged: Iterable[tuple[Step, Any, str | None]], graduation_mm: float) -> tuple[tuple[Turn, ...], ...]:
    """Return the rounds that a run has logged, oldest first, each a turn for every plane and time read.

    logged: steps done, in order, each with the value and unit typed at it [-], a unit
    being one of core.runout.readings.UNITS; graduation_mm: of the indicator [mm].
    A round begins where the plan began one, and where a mark comes by that the round
    before has read already. Raises QuantityError for a value that is no reading.
    """
    rounds: list[dict[tuple[int, bool], dict[float | None, float]]] = [{}]
    latest: Any = None
    for step, value, unit in logged:
        closing = bool(step.extra.get("closing"))
        if value is None or step.expects != "reading" or not (closing or "angle_deg" in step.extra):
            continue
        key = (int(step.extra.get("plane", 1)), bool(step.extra.get("again")))
        mark = None if closing else float(step.extra["angle_deg"])
        begun = step.extra.get("round", latest)
        if mark in rounds[-1].get(key, {}) or begun != latest:
            rounds.append({})
        latest = begun
        rounds[-1].setdefault(key, {})[mark] = reading_mm(_text(value), unit or "mm", graduation_mm)
    return tuple(tuple(_turn(key, marks) for key, marks in found.items()) for found in rounds if found)


def _turn(key: tuple[int, bool], marks: dict[float | None, float]) -> Turn:
    angles = tuple(mark for mark in marks if mark is not None)
    return Turn(
        angles_deg=angles,
        readings_mm=tuple(marks[angle] for angle in angles),
        closing_mm=marks.get(None),
        plane=key[0],
        again=key[1],
    )


def _text(value: Any) -> str:
    """Return a logged value as text that reads back the same; a float never in powers of ten."""
    return f"{float(value):.9f}" if isinstance(value, int | float | Fraction) else str(value)
