"""The polar picture of a turn of readings, as places to be drawn: x right, y up, the circle fitted has radius 1.

Seen from the side from which the work turns anticlockwise, so that the marks follow
each other clockwise; the first stands at the top. Readings are drawn much too large,
the same for all turns of one picture.
"""

from collections.abc import Callable, Sequence
from math import cos, radians, sin
from statistics import fmean
from typing import NamedTuple

from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob
from core.operations.runout.sets_of_readings import Turn
from core.values.quantities import number_text

Point = tuple[float, float]
Say = Callable[[float], str]

VIEW_RADIUS = 1.8
"""Everything lies within this distance of the middle."""
_HIGHEST = 0.38
"""What the reading furthest from the mean is drawn as, of the radius."""
_RING_APART = 0.15
"""Least distance of two rings."""
_TICK = (1.46, 1.66)
_NAMES = 1.7
_SAMPLES = 120
_LEAST_MARKS = 2
"""Readings that differ by less than so many graduations are not blown up any further."""
_TURNING = (0.5, 60.0, 300.0)
"""Radius, and marks from which and to which the arrow inside goes."""
_STEPS = (1, 2, 5)
_TRUE_TO_SIZE = 1.05
"""Nearer to 1 than that no eye sees the difference."""


class DrawnTurn(NamedTuple):
    """One turn of readings."""

    letter: str
    name: str
    points: tuple[Point, ...]
    fitted: tuple[Point, ...]
    """The circle fitted, closed; () where there is none yet."""
    high: Point | None
    """The high spot, None where it cannot be told."""


class PolarView(NamedTuple):
    """All that the picture shows."""

    traces: tuple[DrawnTurn, ...]
    """The one being read first."""
    rings: tuple[float, ...]
    """Radii of the rings; the middle one, 1, is the mean of the readings."""
    names: tuple[tuple[Point, str], ...]
    """Marks with their angle, and the jaw there."""
    jaws: tuple[tuple[Point, Point], ...]
    """A line each, from the outside to the inside."""
    waiting: tuple[Point, ...]
    """Marks still to be read."""
    indicator: tuple[Point, Point] | None
    """A line at the mark being read."""
    turning: tuple[Point, ...]
    """An arrow's line, its head last: which way the work turns."""
    scale: str
    """What a ring is worth, and how much too large it is drawn, in words."""
    legend: str


class TurnToDraw(NamedTuple):
    """One turn to be drawn, and what it told, None where nothing yet."""

    letter: str
    name: str
    turn: Turn
    analysis: Analysis | None

    @property
    def shown_mm(self) -> tuple[float, ...]:
        """Readings with drift and cosine taken out, where they were worked out."""
        return self.turn.readings_mm if self.analysis is None else self.analysis.readings_mm

    @property
    def mean_mm(self) -> float:
        """Of the circle fitted, else of the readings."""
        if self.analysis is not None:
            return self.analysis.offset.mean
        return fmean(self.turn.readings_mm) if self.turn.readings_mm else 0.0

    @property
    def furthest_mm(self) -> float:
        """How far a reading lies from the mean at most."""
        return max((abs(reading - self.mean_mm) for reading in self.shown_mm), default=0.0)


def polar_view(
    reads: Sequence[TurnToDraw], job: RunoutJob, *, mark_deg: float | None, graduation_mm: float, say: Say
) -> PolarView:
    """Return the picture of some turns.

    reads: the one being read first [-]; mark_deg: the one under the indicator [deg],
    None where none is wanted; graduation_mm: of the indicator [mm].
    """
    furthest = max([read.furthest_mm for read in reads] + [_LEAST_MARKS * graduation_mm])
    per_mm = _HIGHEST / furthest
    ring_marks = _ring_marks(per_mm * graduation_mm)
    apart = ring_marks * graduation_mm * per_mm
    out = int((_HIGHEST + 1e-9) / apart)
    taken = {angle % 360 for angle in reads[0].turn.angles_deg} if reads else set()
    sense = -1.0 if job.surface == "bore" else 1.0
    traces = tuple(_trace(read, sense * per_mm) for read in reads)
    return PolarView(
        traces=traces,
        rings=tuple(1 + step * apart for step in range(-out, out + 1)),
        names=tuple((_place(angle, _NAMES), text) for angle, text in _names(job)),
        jaws=tuple(_tick(angle) for angle in jaws_deg(job)),
        waiting=tuple(_place(angle, 1.0) for angle in job.angles_deg if angle % 360 not in taken),
        indicator=None if mark_deg is None else _tick(mark_deg),
        turning=tuple(_place(_TURNING[1] - step, _TURNING[0]) for step in range(0, 121, 5)),
        scale=_scale_words(ring_marks, graduation_mm, per_mm, job, say),
        legend=_legend(traces, reads[0].turn if reads else None, job),
    )


def jaws_deg(job: RunoutJob) -> tuple[float, ...]:
    """Return the marks at which jaws sit, by number [deg]; () where the work is not held in jaws."""
    count = {"four jaw": 4, "three jaw": 3}.get(job.workholding or "", 0)
    return tuple(360.0 * jaw / count for jaw in range(count))


def _place(mark_deg: float, radius: float) -> Point:
    """Return where a mark lies: 0 at the top, the others clockwise."""
    angle = radians(mark_deg)
    return radius * sin(angle), radius * cos(angle)


def _tick(mark_deg: float) -> tuple[Point, Point]:
    return _place(mark_deg, _TICK[1]), _place(mark_deg, _TICK[0])


def _trace(read: TurnToDraw, per_mm: float) -> DrawnTurn:
    """Return one turn; `per_mm` is negative in a bore, where the plunger goes in as the surface comes nearer."""
    mean, analysis = read.mean_mm, read.analysis
    points = tuple(
        _place(angle, 1 + per_mm * (reading - mean))
        for angle, reading in zip(read.turn.angles_deg, read.shown_mm, strict=True)
    )
    fitted: tuple[Point, ...] = ()
    high = None
    if analysis is not None:
        angles = [360 * sample / _SAMPLES for sample in range(_SAMPLES)]
        fitted = tuple(_place(angle, 1 + per_mm * (analysis.offset.at(angle) - mean)) for angle in angles)
        if not analysis.below_indicator:
            high = _place(analysis.high_spot_deg, 1 + per_mm * analysis.eccentricity_mm)
    return DrawnTurn(letter=read.letter, name=read.name, points=points, fitted=fitted, high=high)


def _ring_marks(mark: float) -> int:
    """Return how many graduations a ring is worth: 1, 2, 5, 10, 20 …; `mark` is what one is drawn as."""
    for power in range(12):
        for step in _STEPS:
            if step * 10**power * mark >= _RING_APART:
                return int(step * 10**power)
    return 10**12


def _names(job: RunoutJob) -> list[tuple[float, str]]:
    """Return the marks that are named: the quarters, the first, and where jaws sit."""
    jaws = {angle: f"J{number}" for number, angle in enumerate(jaws_deg(job), start=1)}
    marks = sorted({0.0, 90.0, 180.0, 270.0, *jaws})
    return [(mark, f"{number_text(mark, 0)} {jaws.get(mark, '')}".rstrip()) for mark in marks]


def _scale_words(ring_marks: int, graduation_mm: float, per_mm: float, job: RunoutJob, say: Say) -> str:
    marks = f"{ring_marks} graduation{'s' if ring_marks > 1 else ''}"
    words = f"A ring is {say(ring_marks * graduation_mm)} ({marks})"
    if job.diameter_mm is None or job.surface == "face":
        return f"{words}."
    # The mean circle is the work's radius.
    return f"{words}, {drawn_words(per_mm * job.diameter_mm / 2)}."


def drawn_words(times: float) -> str:
    """Return how large something is drawn, as a scale is read on a drawing.

    times: drawn size over true size, more than 0 [-].

    >>> drawn_words(228.4), drawn_words(0.05)
    ('drawn 228 times its size', 'drawn 1/20 of its size')
    """
    if 1 / _TRUE_TO_SIZE < times < _TRUE_TO_SIZE:
        return "drawn true to size"
    if times > 1:
        return f"drawn {number_text(times, 0 if times >= 10 else 1)} times its size"
    return f"drawn {number_text(times, 1) if times > 2 / 3 else f'1/{number_text(1 / times, 0)}'} of its size"


def _legend(traces: Sequence[DrawnTurn], turn: Turn | None, job: RunoutJob) -> str:
    found = [f"{trace.letter} {trace.name}" for trace in traces if trace.points]
    found += ["H high spot"] if traces and traces[0].high else []
    found += [": to be read"] if turn is None or len(turn.angles_deg) < len(job.angles_deg) else []
    found += ["J jaw"] if jaws_deg(job) else []
    return ", ".join([*found, "arrow: the work turns"])
