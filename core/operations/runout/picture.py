"""The polar picture of a turn of readings, as coordinates: x to the right, y up. The fitted circle has the radius 1.

The work is seen from the side from which it turns anticlockwise, so the marks follow each other clockwise from the top.
The differences between readings are drawn much larger than true size, with one scale for all turns in a picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin
from statistics import fmean
from typing import NamedTuple

from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob
from core.operations.runout.readings import LengthText
from core.operations.runout.sets_of_readings import Turn
from core.values.quantities import number_text

Point = tuple[float, float]

VIEW_RADIUS = 1.8
"""The largest distance of anything in the picture from its middle."""
_HIGHEST = 0.38
"""The drawn distance from the circle to the reading furthest from the mean, as a part of the radius."""
_RING_APART = 0.15
"""The smallest distance between two rings."""
_TICK = (1.46, 1.66)
_NAMES = 1.7
_SAMPLES = 120
_LEAST_MARKS = 2
"""Readings that differ by fewer graduations than this are drawn as if they differed by this number."""
_TURNING = (0.5, 60.0, 300.0)
"""The arrow that shows the direction in which the work turns: its radius, and the marks of its two ends."""
_STEPS = (1, 2, 5)
_TRUE_TO_SIZE = 1.05
"""A magnification that differs from 1 by less than this counts as 1."""


class DrawnTurn(NamedTuple):
    """One turn of readings as coordinates, ready to be drawn."""

    letter: str
    name: str
    points: tuple[Point, ...]
    fitted: tuple[Point, ...]
    """The fitted circle as a closed line; () if there is no circle yet."""
    high: Point | None
    """The position of the high spot. None if it is not known."""


class PolarView(NamedTuple):
    """The coordinates of all parts of the polar picture."""

    drawn_turns: tuple[DrawnTurn, ...]
    """The turns, with the turn being read first."""
    rings: tuple[float, ...]
    """The radii of the rings. The middle ring, 1, is the mean of the readings."""
    names: tuple[tuple[Point, str], ...]
    """The names of marks: each with its angle, and its jaw if it has one."""
    jaws: tuple[tuple[Point, Point], ...]
    """A line for each jaw, from the outside to the inside."""
    waiting: tuple[Point, ...]
    """The marks that are still to be read."""
    indicator: tuple[Point, Point] | None
    """A line at the mark that is being read."""
    turning: tuple[Point, ...]
    """An arrow that shows the direction in which the work turns. Its head comes last."""
    scale: str
    """The magnification, and the difference between two neighbouring rings, in words."""
    legend: str


@dataclass(frozen=True, kw_only=True)
class TurnToDraw:
    """One turn of readings to draw, with its analysis. The analysis is None if the turn cannot be analysed."""

    letter: str
    name: str
    turn: Turn
    analysis: Analysis | None

    @property
    def shown_mm(self) -> tuple[float, ...]:
        """The readings [mm], corrected for drift and lever angle if the turn has an analysis."""
        return self.turn.readings_mm if self.analysis is None else self.analysis.readings_mm

    @property
    def mean_mm(self) -> float:
        """The mean of the fitted circle [mm]; without an analysis, the mean of the readings, or 0 if there are none."""
        if self.analysis is not None:
            return self.analysis.offset.mean
        return fmean(self.turn.readings_mm) if self.turn.readings_mm else 0.0

    @property
    def furthest_mm(self) -> float:
        """The largest distance of a reading from the mean [mm]."""
        return max((abs(reading - self.mean_mm) for reading in self.shown_mm), default=0.0)


def polar_view(
    turns: Sequence[TurnToDraw],
    job: RunoutJob,
    *,
    mark_deg: float | None,
    graduation_mm: float,
    length_text: LengthText,
) -> PolarView:
    """Return the polar picture of one or more turns of readings.

    turns: the turns to draw, with the turn being read first.
    mark_deg: the mark under the indicator [deg]; None for no mark.
    graduation_mm: graduation of the indicator [mm].
    length_text: returns a length [mm] as text.
    """
    furthest = max([turn.furthest_mm for turn in turns] + [_LEAST_MARKS * graduation_mm])
    per_mm = _HIGHEST / furthest
    ring_marks = _ring_marks(per_mm * graduation_mm)
    apart = ring_marks * graduation_mm * per_mm
    out = int((_HIGHEST + 1e-9) / apart)
    taken = {angle % 360 for angle in turns[0].turn.angles_deg} if turns else set()
    sense = -1.0 if job.surface == "bore" else 1.0
    drawn = tuple(_drawn_turn(turn, sense * per_mm) for turn in turns)
    return PolarView(
        drawn_turns=drawn,
        rings=tuple(1 + step * apart for step in range(-out, out + 1)),
        names=tuple((_place(angle, _NAMES), text) for angle, text in _names(job)),
        jaws=tuple(_tick(angle) for angle in jaws_deg(job)),
        waiting=tuple(_place(angle, 1.0) for angle in job.angles_deg if angle % 360 not in taken),
        indicator=None if mark_deg is None else _tick(mark_deg),
        turning=tuple(_place(_TURNING[1] - step, _TURNING[0]) for step in range(0, 121, 5)),
        scale=_scale_words(ring_marks, graduation_mm, per_mm, job, length_text),
        legend=_legend(drawn, turns[0].turn if turns else None, job),
    )


def jaws_deg(job: RunoutJob) -> tuple[float, ...]:
    """Return the marks at the jaws [deg], in the order of the jaws' numbers; () for work that is not held in jaws."""
    count = {"four jaw": 4, "three jaw": 3}.get(job.workholding or "", 0)
    return tuple(360.0 * jaw / count for jaw in range(count))


def _place(mark_deg: float, radius: float) -> Point:
    """Return the coordinates of a mark [deg] at a radius. Mark 0 is at the top, and the marks rise clockwise."""
    angle = radians(mark_deg)
    return radius * sin(angle), radius * cos(angle)


def _tick(mark_deg: float) -> tuple[Point, Point]:
    return _place(mark_deg, _TICK[1]), _place(mark_deg, _TICK[0])


def _drawn_turn(turn: TurnToDraw, per_mm: float) -> DrawnTurn:
    # per_mm is negative in a bore, where the plunger goes in as the surface comes nearer.
    mean, analysis = turn.mean_mm, turn.analysis
    points = tuple(
        _place(angle, 1 + per_mm * (reading - mean))
        for angle, reading in zip(turn.turn.angles_deg, turn.shown_mm, strict=True)
    )
    fitted: tuple[Point, ...] = ()
    high = None
    if analysis is not None:
        angles = [360 * sample / _SAMPLES for sample in range(_SAMPLES)]
        fitted = tuple(_place(angle, 1 + per_mm * (analysis.offset.at(angle) - mean)) for angle in angles)
        if not analysis.below_indicator:
            high = _place(analysis.high_spot_deg, 1 + per_mm * analysis.eccentricity_mm)
    return DrawnTurn(letter=turn.letter, name=turn.name, points=points, fitted=fitted, high=high)


def _ring_marks(mark: float) -> int:
    """Return the number of graduations from one reference ring to the next: 1, 2, 5, 10, 20 …

    `mark`: the height at which one graduation is drawn, with the circle's radius as 1.
    """
    for power in range(12):
        for step in _STEPS:
            if step * 10**power * mark >= _RING_APART:
                return int(step * 10**power)
    return 10**12


def _names(job: RunoutJob) -> list[tuple[float, str]]:
    """Return the marks that have a label, each with its angle [deg]: the quarters of a turn, and the jaws."""
    jaws = {angle: f"J{number}" for number, angle in enumerate(jaws_deg(job), start=1)}
    marks = sorted({0.0, 90.0, 180.0, 270.0, *jaws})
    return [(mark, f"{number_text(mark, 0)} {jaws.get(mark, '')}".rstrip()) for mark in marks]


def _scale_words(ring_marks: int, graduation_mm: float, per_mm: float, job: RunoutJob, length_text: LengthText) -> str:
    marks = f"{ring_marks} graduation{'s' if ring_marks > 1 else ''}"
    words = f"A ring is {length_text(ring_marks * graduation_mm)} ({marks})"
    if job.diameter_mm is None or job.surface == "face":
        return f"{words}."
    # The mean circle is the work's radius.
    return f"{words}, {drawn_words(per_mm * job.diameter_mm / 2)}."


def drawn_words(times: float) -> str:
    """Return in words how much larger or smaller than true size something is drawn.

    times: drawn size divided by true size, above 0 [-].

    >>> drawn_words(228.4), drawn_words(0.05)
    ('drawn 228 times its size', 'drawn 1/20 of its size')
    """
    if 1 / _TRUE_TO_SIZE < times < _TRUE_TO_SIZE:
        return "drawn true to size"
    if times > 1:
        return f"drawn {number_text(times, 0 if times >= 10 else 1)} times its size"
    return f"drawn {number_text(times, 1) if times > 2 / 3 else f'1/{number_text(1 / times, 0)}'} of its size"


def _legend(drawn: Sequence[DrawnTurn], turn: Turn | None, job: RunoutJob) -> str:
    names = [f"{turn.letter} {turn.name}" for turn in drawn if turn.points]
    names += ["H high spot"] if drawn and drawn[0].high else []
    names += [": still to read"] if turn is None or len(turn.angles_deg) < len(job.angles_deg) else []
    names += ["J jaw"] if jaws_deg(job) else []
    return ", ".join([*names, "arrow: direction of turn"])
