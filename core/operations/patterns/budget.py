"""The tolerance budget of a pattern: how large each set-up error may be before the eye can see its effect.

The module simulates the machine with one additional error and cuts the pattern with the planned settings. It compares
the gaps between neighbouring grooves, and between grooves and rim, with the planned gaps. It enlarges the error until
one gap changes visibly. The method is derived here, not taken from a source. Lengths in mm.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.patterns.effects import SEEN_MM, SetUpEffect, outer_mm
from core.operations.patterns.elements import elements, exact_cuts
from core.operations.patterns.land import land_percent
from core.operations.patterns.layers import CutAsSet, Layer, PatternJob, Point
from core.values.quantities import number_text

MOST_ERROR_MM = 5.0
"""The largest error tried [mm]. Even a rough check of a set-up finds a larger error."""
_RIM = 0
"""The layer number that means the rim of the blank."""
_MOST_COMPARED = 60_000
"""The most pairs of paths compared in the search for neighbours. More would take too long."""
_BISECTIONS = 12
"""The number of times that the search halves its interval."""
_NO_REACH = 1e-6
_NOTHING_MM, _LAND_PERCENT = 0.001, 0.5
"""Smaller changes of a gap [mm] or of the land [%] are not shown."""

_BEFORE_ROUNDING = "before rounding to marks"
"""Tells the user that these changes come from exact settings, not from settings rounded to marks."""


class Allowance(NamedTuple):
    """The largest size that one set-up error may have before the eye can see its effect."""

    error: str
    """The name of the error: "height error"."""
    most_mm: float | None
    """The largest allowed error; None if even MOST_ERROR_MM changes nothing visibly."""
    does: str
    """The effect of a larger error, in words."""
    read_at_mm: float | None = None
    """The radius at which the face runout is measured; None for other errors."""


class _Line(NamedTuple):
    """The path of the cutter's point for one groove on the work: a circle, or a point if the radius is 0."""

    layer: int
    x_mm: float
    y_mm: float
    radius_mm: float

    def gap_mm(self, other: "_Line", inside: bool) -> float:
        """Return the distance between two paths [mm]; below 0 if the paths cross.

        `inside`: whether one path lies inside the other.
        """
        apart = math.hypot(self.x_mm - other.x_mm, self.y_mm - other.y_mm)
        if inside:
            return abs(self.radius_mm - other.radius_mm) - apart
        return apart - self.radius_mm - other.radius_mm


class _Pair(NamedTuple):
    one: int
    other: int
    inside: bool
    """Whether one path lies inside the other, or nearly so."""


def allowances(job: PatternJob, seen_mm: float = SEEN_MM) -> Iterator[Allowance]:
    """Yield the largest height error, eccentricity and face runout that the pattern allows, each as the only error.

    `seen_mm`: the smallest change of a land or gap that the eye can see [mm]. If the settings correct height error and
    eccentricity, the results are the largest errors that may remain after the correction.
    """
    if not any(layer.cut_positions for layer in job.layers):
        return
    neighbours = _Neighbours(job)
    yield _largest("height error", neighbours.with_height, neighbours, seen_mm)
    yield _eccentricity_allowance(job, seen_mm)
    runouts = [runout for layer in job.layers if (runout := _face_runout(job, layer, seen_mm)) is not None]
    if runouts:
        yield min(runouts, key=lambda runout: math.inf if runout.most_mm is None else runout.most_mm)


def eccentricity_allowed_mm(job: PatternJob) -> float | None:
    """Return the largest eccentricity that may remain after the settings have been corrected [mm].

    Return None if even an eccentricity of MOST_ERROR_MM changes no gap visibly.
    """
    return _eccentricity_allowance(job, SEEN_MM).most_mm


@lru_cache(maxsize=16)
def _eccentricity_allowance(job: PatternJob, seen_mm: float) -> Allowance:
    """Return the largest eccentricity that changes no gap between groove and rim by more than `seen_mm` [mm].

    The result is cached, because both the plan and the form need it.
    """
    # Eccentricity moves all grooves by the same amount, so only their gaps to the rim change.
    neighbours = _Neighbours(job, to_rim=True)
    return _largest("eccentricity", neighbours.with_eccentricity, neighbours, seen_mm)


def _largest(
    error: str, lines_with: Callable[[float], dict[int, _Line]], neighbours: "_Neighbours", seen_mm: float
) -> Allowance:
    """Return the largest error that changes no gap by more than `seen_mm` [mm], found by bisection.

    `error`: the name of the error. `lines_with` returns the paths, by groove number, that are cut with a given size of
    the error [mm]. `neighbours`: the pairs of paths whose gaps are compared.
    """

    def is_seen(error_mm: float) -> bool:
        return any(neighbours.changes_by_more(lines_with(sign * error_mm), seen_mm) for sign in (1, -1))

    high_mm = seen_mm / 8
    while not is_seen(high_mm):
        high_mm *= 2
        if high_mm > MOST_ERROR_MM:
            return Allowance(error, None, "")
    low_mm = 0.0 if high_mm == seen_mm / 8 else high_mm / 2
    for _ in range(_BISECTIONS):
        middle_mm = (low_mm + high_mm) / 2
        low_mm, high_mm = (low_mm, middle_mm) if is_seen(middle_mm) else (middle_mm, high_mm)
    worst = max(neighbours.worst_change(lines_with(sign * high_mm)) for sign in (1, -1))
    return Allowance(error, low_mm, _what_moves(*neighbours.layers(worst[1])))


def _face_runout(job: PatternJob, layer: Layer, seen_mm: float) -> Allowance | None:
    """Return the largest face runout for one layer; None if the layer's cutter or depth is unknown.

    The cutter touches off where the face is highest, so grooves are shallower and narrower where the face is lower.
    """
    if layer.cutter is None or layer.depth_mm is None:
        return None
    width_mm = layer.cutter.groove_width_mm
    depth_mm = min(position.depth_mm or 0.0 for position in layer.cut_positions)
    furthest_mm = outer_mm(job, layer)
    read_at_mm = job.face_radius_mm or furthest_mm
    # A dot on the table's axis has no radius, so a face runout does not change its depth.
    ratio = furthest_mm / read_at_mm if read_at_mm else 1.0
    if ratio < _NO_REACH:
        return None
    low_mm, high_mm = 0.0, depth_mm
    if width_mm(depth_mm) - width_mm(depth_mm * 1e-6) <= seen_mm:
        return Allowance("face runout", depth_mm / ratio, f"leaves part of layer {layer.number} uncut", read_at_mm)
    for _ in range(_BISECTIONS):
        middle_mm = (low_mm + high_mm) / 2
        is_seen = width_mm(depth_mm) - width_mm(depth_mm - middle_mm) > seen_mm
        low_mm, high_mm = (low_mm, middle_mm) if is_seen else (middle_mm, high_mm)
    does = f"makes grooves of layer {layer.number} narrower on one side"
    return Allowance("face runout", low_mm / ratio, does, read_at_mm)


class _Source(NamedTuple):
    """The slide and table settings for one groove. An error of the machine does not change them."""

    layer: int
    slide_mm: float
    """Slide position towards the operator. For the end of a slot: the position at that end."""
    cosine: float
    """Cosine of the table's angle."""
    sine: float
    radius_mm: float
    is_arc: bool

    def line(self, height_mm: float, to_centre_mm: Point) -> _Line:
        """Return the path that these settings cut on a machine with a height error [mm].

        `to_centre_mm`: the work's centre, counted from the table's axis [mm].
        """
        x_mm = self.slide_mm * self.cosine + height_mm * self.sine - to_centre_mm[0]
        y_mm = self.slide_mm * self.sine - height_mm * self.cosine - to_centre_mm[1]
        if self.is_arc:
            axis_x, axis_y = -to_centre_mm[0], -to_centre_mm[1]
            return _Line(self.layer, axis_x, axis_y, math.hypot(x_mm - axis_x, y_mm - axis_y))
        return _Line(self.layer, x_mm, y_mm, self.radius_mm)


class _Neighbours:
    """The pairs of neighbouring grooves in a pattern, and the change of their gaps under an error."""

    def __init__(self, job: PatternJob, *, to_rim: bool = False) -> None:
        """Find the pairs of neighbouring grooves in a pattern.

        `to_rim`: find only the pairs of a groove and the rim.
        """
        self._job = job
        self._sources = _sources(job)
        reach_mm = max(outer_mm(job, layer) for layer in job.layers)
        rim_mm = reach_mm if job.blank_diameter_mm is None else job.blank_diameter_mm / 2
        self._rim = _Line(_RIM, 0.0, 0.0, rim_mm)
        machine = self._machine(0.0, 0.0)
        lines = [source.line(machine.height_error_mm, machine.eccentric_mm) for source in self._sources]
        lines.append(self._rim)
        self.pairs = list(dict.fromkeys(_pairs(lines, to_rim)))
        self._compared = sorted({number for pair in self.pairs for number in pair[:2]})
        self.wanted = {number: lines[number] for number in self._compared}
        self._wanted_gaps = [_gap_mm(self.wanted, pair) for pair in self.pairs]

    def _machine(self, height_mm: float, eccentric_mm: float) -> PatternJob:
        job = self._job
        known_mm = (job.height_error_mm, job.eccentricity_mm) if job.correct else (0.0, 0.0)
        return replace(job, height_error_mm=known_mm[0] + height_mm, eccentricity_mm=known_mm[1] + eccentric_mm)

    def with_height(self, error_mm: float) -> dict[int, _Line]:
        """Return the paths that the planned settings cut if the height error grows by `error_mm`, by groove number."""
        return self._lines(self._machine(error_mm, 0.0), self._sources)

    def with_eccentricity(self, error_mm: float) -> dict[int, _Line]:
        """Return the paths that the planned settings cut if the eccentricity grows by `error_mm`, by groove number."""
        return self._lines(self._machine(0.0, error_mm), self._sources)

    def as_set(self, job: PatternJob) -> dict[int, _Line]:
        """Return the paths that a job's own settings cut on a machine with that job's errors, by groove number."""
        return self._lines(job, _sources(job))

    def _lines(self, machine: PatternJob, sources: Sequence[_Source]) -> dict[int, _Line]:
        height_mm, to_centre_mm, rim = machine.height_error_mm, machine.eccentric_mm, len(sources)
        return {
            number: self._rim if number == rim else sources[number].line(height_mm, to_centre_mm)
            for number in self._compared
        }

    def changes(self, lines: Mapping[int, _Line]) -> Iterator[tuple[float, _Pair]]:
        """Yield the change of each gap from its planned width [mm], with its pair of paths.

        The change is above 0 if the gap grows.
        """
        for pair, wanted_mm in zip(self.pairs, self._wanted_gaps, strict=True):
            yield _gap_mm(lines, pair) - wanted_mm, pair

    def worst_change(self, lines: Mapping[int, _Line]) -> tuple[float, _Pair]:
        """Return the largest change of a gap [mm], regardless of its sign, and the pair of paths beside that gap."""
        return max((abs(change_mm), pair) for change_mm, pair in self.changes(lines))

    def changes_by_more(self, lines: Mapping[int, _Line], most_mm: float) -> bool:
        """Return whether any gap changes by more than `most_mm` [mm].

        `lines`: the paths cut with an error, by groove number.
        """
        return any(change_mm > most_mm or change_mm < -most_mm for change_mm, _ in self.changes(lines))

    def layers(self, pair: _Pair) -> tuple[int, int]:
        """Return the layer numbers of a pair of paths, the lower number first."""
        one, other = sorted((self.wanted[pair.one].layer, self.wanted[pair.other].layer))
        return one, other


def _sources(job: PatternJob) -> list[_Source]:
    cuts = exact_cuts(job)
    ends = [(cut, cut.to_slide_mm) for cut in cuts if cut.to_slide_mm is not None]
    return [_source(job, cut, slide_mm) for cut, slide_mm in (*((cut, cut.slide_mm) for cut in cuts), *ends)]


def _source(job: PatternJob, cut: CutAsSet, slide_mm: float) -> _Source:
    angle = math.radians(cut.angle_deg)
    return _Source(
        cut.layer.number,
        -slide_mm if job.is_far else slide_mm,
        math.cos(angle),
        math.sin(angle),
        cut.circle_radius_mm or 0.0,
        cut.layer.shape == "arcs",
    )


def _what_moves(one: int, other: int) -> str:
    if one == _RIM:
        return f"moves layer {other} towards the rim on one side"
    if one == other:
        return f"changes the gaps within layer {one}"
    return f"moves layers {one} and {other} against each other"


def _where(one: int, other: int) -> str:
    if one == _RIM:
        return f"between layer {other} and the rim"
    return f"within layer {one}" if one == other else f"between layers {one} and {other}"


def _gap_mm(lines: Mapping[int, _Line], pair: _Pair) -> float:
    return lines[pair.one].gap_mm(lines[pair.other], pair.inside)


def _pairs(lines: Sequence[_Line], to_rim: bool) -> Iterator[_Pair]:
    """Yield pairs of neighbouring paths: each path with the nearest paths of every layer.

    "Nearest" is measured once by the gap and once by the distance between the centres. `to_rim`: yield only the pairs
    of a path and the rim. In a large pattern only an evenly spread sample of the paths is compared, because rings and
    spirals look alike everywhere.
    """
    step = max(1, math.ceil(len(lines) ** 2 / _MOST_COMPARED))
    by_layer: dict[int, list[int]] = {}
    for number, line in enumerate(lines):
        by_layer.setdefault(line.layer, []).append(number)
    for layer, numbers in by_layer.items():
        for one in numbers[::step]:
            for other_layer, others in by_layer.items():
                if _RIM in {layer, other_layer} or not to_rim:
                    yield from _nearest(lines, one, others)


def _nearest(lines: Sequence[_Line], one: int, others: Sequence[int]) -> Iterator[_Pair]:
    """Yield the pair of a path with its nearest path by gap, and the pair with its nearest path by centre distance.

    `one` and `others`: the indexes in `lines` of the path and of the paths to compare it with.
    """
    # This loop runs for every pair of paths, so it contains the formula of `_Line.gap_mm` for speed.
    _, here_x, here_y, here_mm = lines[one]
    hypot, by_gap, by_centre, least_mm = math.hypot, None, None, math.inf
    for other in others:
        if other == one:
            continue
        _, x_mm, y_mm, radius_mm = lines[other]
        apart_mm = hypot(here_x - x_mm, here_y - y_mm)
        outside_mm = abs(apart_mm - here_mm - radius_mm)
        inside_mm = abs(abs(here_mm - radius_mm) - apart_mm)
        inside = inside_mm < outside_mm
        found = (inside_mm if inside else outside_mm), inside, other
        if by_gap is None or found < by_gap:
            by_gap = found
        if apart_mm < least_mm:
            by_centre, least_mm = found, apart_mm
    for nearest in (by_gap, by_centre):
        if nearest is not None:
            yield _Pair(one, nearest[2], nearest[1])


def budget_effects(job: PatternJob, lathe: Lathe, seen_mm: float = SEEN_MM) -> Iterator[SetUpEffect]:
    """Yield the tolerance budget in words, and then the effect of the entered errors, without and with correction.

    `seen_mm`: the smallest change of a land or gap that the eye can see [mm].
    """
    for allowance in allowances(job, seen_mm):
        cause = f"{allowance.error.capitalize()} allowed"
        if allowance.most_mm is None:
            amount = f"more than {lathe.length_text(MOST_ERROR_MM)}"
            yield SetUpEffect(cause, amount, f"even then no gap changes by {lathe.length_text(seen_mm)}")
        else:
            at = "" if allowance.read_at_mm is None else f", read at {lathe.length_text(allowance.read_at_mm)}"
            yield SetUpEffect(cause, f"at most {rounded_down(allowance.most_mm, lathe)}{at}", allowance.does)
    if job.height_error_mm or job.eccentricity_mm:
        yield from _entered(job, lathe)


def rounded_down(length_mm: float, lathe: Lathe) -> str:
    """Return the largest allowed error [mm] as text, rounded down to 0.01 mm, or to 0.0005 in on an inch lathe."""
    step_mm = 0.0127 if lathe.unit == "in" else 0.01
    return lathe.length_text(math.floor(length_mm / step_mm + 0.01) * step_mm)


def _entered(job: PatternJob, lathe: Lathe) -> Iterator[SetUpEffect]:
    """Yield words for the effect of the entered errors on gaps and land, first uncorrected and then corrected."""
    right = replace(job, height_error_mm=0.0, eccentricity_mm=0.0)
    neighbours, say = _Neighbours(right), lathe.length_text
    for correct in (False, True):
        as_set = replace(job, correct=correct)
        changes = list(neighbours.changes(neighbours.as_set(as_set)))
        narrowest, widest = min(changes)[0], max(changes)[0]
        _, worst = max((abs(change_mm), pair) for change_mm, pair in changes)
        cause = f"Errors entered, {'corrected' if correct else 'not corrected'}"
        if max(-narrowest, widest) < _NOTHING_MM:
            yield SetUpEffect(cause, "no gap changes", _BEFORE_ROUNDING)
            continue
        ways = ((-narrowest, "narrower"), (widest, "wider"))
        parts = [f"up to {say(change_mm)} {way}" for change_mm, way in ways if change_mm >= _NOTHING_MM]
        most = f"largest {_where(*neighbours.layers(worst))}, {_BEFORE_ROUNDING}"
        yield SetUpEffect(cause, f"gaps {', '.join(parts)}", f"{most}{_land_words(right, as_set)}")


def _land_words(right: PatternJob, as_set: PatternJob) -> str:
    """Return words for the change of the land if a pattern is cut as `as_set` instead of without errors (`right`).

    Return "" if the change is too small to show, or if the blank's diameter or the width of a groove is unknown.
    """
    if right.blank_diameter_mm is None:
        return ""
    before, now = (land_percent(elements(job, exact_cuts(job)), right.blank_diameter_mm) for job in (right, as_set))
    if before is None or now is None or abs(now - before) < _LAND_PERCENT:
        return ""
    return f"; land {number_text(now, 1)} % instead of {number_text(before, 1)} %"
