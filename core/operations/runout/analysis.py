"""Analyses one turn of readings: offset, high spot, lobes, roundness, and the uncertainty of each of these."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import atan, cos, degrees, fsum, radians, sin, sqrt
from typing import NamedTuple

from core.operations.runout.harmonics import Harmonics, determines, fit
from core.operations.runout.job import RunoutJob, Surface
from core.operations.runout.readings import check_drift, check_readings, corrected, repeatability_mm, suspects

FOR_OVAL, FOR_THREE_LOBES = 5, 7
"""The fewest readings that can show oval work, and those that can show three lobes, in addition to the offset."""
LARGEST_SHARE = 0.9
"""An offset larger than this part of the radius is a mistake in a reading or in the diameter."""
LEAST_HIGH_SPOT_DEG = 1.0
"""The closest angle to which people mark work or turn a chuck by hand [deg]. Common practice, no source."""

Vector = tuple[float, float]
"""A distance in two components: towards mark 0 and towards mark 90 [mm]."""


class Lobes(NamedTuple):
    """The part of the readings that repeats a whole number of times in a turn, such as twice for oval work."""

    height_mm: float
    """Height from the lowest to the highest point [mm]."""
    high_deg: float
    """The first mark at which this part is highest [deg]. The other high marks follow at equal angles."""
    error_mm: float
    """Standard error of the height [mm]. This error comes from the error of a reading."""


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """The result of one turn of readings. Lengths are in mm. Angles are marks on the work [deg]."""

    surface: Surface
    angles_deg: tuple[float, ...]
    readings_mm: tuple[float, ...]
    """The readings, corrected for drift and lever angle. If the turn was read several times, their mean."""
    graduation_mm: float
    graduation_error_mm: float
    """Standard error of a reading from the graduation alone, after the lever's cosine."""
    drift_mm: float
    repeatability_mm: float | None
    """Standard deviation of one reading. None if the turn was read only once."""
    times: int
    """The number of times that the turn was read."""
    offset: Harmonics
    """The circle that fits the readings best: their mean, and the part that repeats once in a turn."""
    limacon_mm: tuple[float, ...]
    """The amount that a large offset adds to each reading of round work; () if too small to matter."""
    oval: Lobes | None
    three_lobes: Lobes | None
    wobble_deg: float | None
    """The angle by which a face is off square to the axis."""
    suspects: tuple[int, ...]
    larger_than_work: bool
    """True if the offset is impossible for the diameter that was entered."""

    @property
    def tir_mm(self) -> float:
        """The total indicator reading (TIR) [mm]."""
        return max(self.readings_mm) - min(self.readings_mm)

    @property
    def eccentricity_mm(self) -> float:
        """The eccentricity [mm]: half the height of the part of the readings that repeats once in a turn."""
        return self.offset.amplitude(1)

    @property
    def high_spot_deg(self) -> float:
        """The mark at which the fitted circle is nearest to the indicator [deg]. The plunger is furthest in there."""
        return self.offset.high_deg(1)

    @property
    def reading_error_mm(self) -> float:
        """The standard error of a reading [mm]: from the graduation or from the repeatability, whichever is larger."""
        # A mean of several readings scatters less. The error of the graduation is the same every time.
        seen = 0.0 if self.repeatability_mm is None else self.repeatability_mm / sqrt(self.times)
        return max(self.graduation_error_mm, seen)

    @property
    def eccentricity_error_mm(self) -> float:
        """The part of the eccentricity's standard error that comes from the graduation alone [mm].

        The error of a reading (GUM F.2.2.1) is carried through the least-squares fit.
        """
        return self.graduation_error_mm * self.offset.errors()[0]

    @property
    def error_mm(self) -> float:
        """The standard error of the eccentricity [mm], calculated from the standard error of a reading."""
        return self.reading_error_mm * self.offset.errors()[0]

    @property
    def high_spot_error_deg(self) -> float | None:
        """The standard error of the high spot's angle [deg]; None if the indicator cannot show the offset."""
        if self.below_indicator:
            return None
        return degrees(self.reading_error_mm * self.offset.errors()[1] / self.eccentricity_mm)

    @property
    def high_spot_within_deg(self) -> float | None:
        """The largest likely angle between the calculated and the true high spot, in either direction [deg].

        It is twice the standard error, but at least 1 degree; None if the offset is too small for the indicator to
        show. The true high spot is within this angle in nineteen cases out of twenty, or in nine out of ten if the
        offset is barely visible.
        Source: GUM 6.2.1 with k = 2. The standard error is the error across the offset divided by the offset.
        """
        error_deg = self.high_spot_error_deg
        return None if error_deg is None else max(2 * error_deg, LEAST_HIGH_SPOT_DEG)

    @property
    def below_indicator(self) -> bool:
        """True if the offset is less than twice its standard error. Its size and direction are then unknown."""
        return self.eccentricity_mm < 2 * self.error_mm

    @cached_property
    def residuals_mm(self) -> tuple[float, ...]:
        """The difference between each reading and the fitted circle [mm], caused by the work's form and by scatter."""
        extra = self.limacon_mm or (0.0,) * len(self.readings_mm)
        return tuple(
            reading - more - self.offset.at(angle)
            for reading, more, angle in zip(self.readings_mm, extra, self.angles_deg, strict=True)
        )

    @property
    def out_of_roundness_mm(self) -> float | None:
        """The highest minus the lowest reading about the least-squares circle [mm]; None for fewer than four readings.

        Source: ISO 12181-1.
        """
        if len(self.readings_mm) < 4:
            return None
        return max(self.residuals_mm) - min(self.residuals_mm)

    @property
    def work_centre_mm(self) -> Vector:
        """The position of the work's centre relative to the spindle's axis: towards mark 0 and towards mark 90 [mm].

        In a bore, the plunger is pushed in furthest where the surface is nearest to the axis, so the centre lies on the
        opposite side.
        """
        sense = -1.0 if self.surface == "bore" else 1.0
        a, b = self.offset.waves[1]
        return sense * a, sense * b

    def tir_after_mm(self, centre_mm: Vector) -> float:
        """Return the total indicator reading to expect [mm] if the work's centre were at `centre_mm` [mm]."""
        x, y = centre_mm
        after = [
            form + x * cos(radians(angle)) + y * sin(radians(angle))
            for form, angle in zip(self._as_outside_mm(), self.angles_deg, strict=True)
        ]
        return max(after) - min(after)

    def _as_outside_mm(self) -> list[float]:
        return [-form if self.surface == "bore" else form for form in self.residuals_mm]


def analyse(
    readings_mm: Sequence[float],
    angles_deg: Sequence[float],
    job: RunoutJob,
    *,
    graduation_mm: float,
    drift_mm: float = 0.0,
    again: Sequence[tuple[Sequence[float], float]] = (),
) -> Analysis:
    """Return the analysis of at least three readings at marks on the work.

    readings_mm: readings, above 0 if the plunger moves in [mm].
    angles_deg: the marks [deg].
    graduation_mm: graduation of the indicator [mm].
    drift_mm: closing reading minus the first [mm].
    again: for each further time that the turn was read, the readings and their drift [mm]; () if it was read once.
    Raises PlanError for too few or unsuitable readings, a repeated mark, or an indicator that slipped.

    >>> job = RunoutJob(angles_deg=(0, 90, 180, 270))
    >>> turn = analyse((0.10, 0.02, -0.06, 0.04), job.angles_deg, job, graduation_mm=0.01)
    >>> round(turn.tir_mm, 4), round(turn.eccentricity_mm, 4), round(turn.eccentricity_error_mm, 5)
    (0.16, 0.0806, 0.00204)
    """
    check_readings(readings_mm, angles_deg)
    check_drift(drift_mm, graduation_mm)
    times = [corrected(readings_mm, drift_mm, job.stylus_deg)]
    for more_mm, more_drift_mm in again:
        check_readings(more_mm, angles_deg)
        check_drift(more_drift_mm, graduation_mm)
        times.append(corrected(more_mm, more_drift_mm, job.stylus_deg))
    true_mm = tuple(fsum(at_mark) / len(times) for at_mark in zip(*times, strict=True))
    suspect = suspects(readings_mm, graduation_mm)
    repeatability = repeatability_mm(times) if again else None
    read = _CorrectedTurn(true_mm, tuple(angles_deg), graduation_mm, drift_mm, repeatability, len(times), suspect)
    return _worked_out(read, job)


class _CorrectedTurn(NamedTuple):
    """One turn of corrected readings, with their known errors."""

    true_mm: tuple[float, ...]
    angles_deg: tuple[float, ...]
    graduation_mm: float
    drift_mm: float
    repeatability_mm: float | None
    times: int
    suspects: tuple[int, ...]


def _worked_out(read: _CorrectedTurn, job: RunoutJob) -> Analysis:
    true_mm, angles, graduation_mm, drift_mm, repeatability, times, suspect = read
    error_mm = graduation_mm / sqrt(12) * cos(radians(job.stylus_deg))
    offset, limacon, impossible = _circle(true_mm, angles, job, error_mm)
    round_mm = [reading - more for reading, more in zip(true_mm, limacon or (0.0,) * len(true_mm), strict=True)]
    seen_mm = max(error_mm, (repeatability or 0.0) / sqrt(times))
    return Analysis(
        surface=job.surface,
        angles_deg=angles,
        readings_mm=true_mm,
        graduation_mm=graduation_mm,
        graduation_error_mm=error_mm,
        drift_mm=drift_mm,
        repeatability_mm=repeatability,
        times=times,
        offset=offset,
        limacon_mm=limacon,
        oval=_lobes(angles, round_mm, (1, 2), FOR_OVAL, seen_mm),
        three_lobes=_lobes(angles, round_mm, (1, 2, 3), FOR_THREE_LOBES, seen_mm),
        wobble_deg=_wobble_deg(offset, job),
        suspects=suspect,
        larger_than_work=impossible,
    )


def _circle(
    readings_mm: Sequence[float], angles_deg: Sequence[float], job: RunoutJob, error_mm: float
) -> tuple[Harmonics, tuple[float, ...], bool]:
    """Return the fitted circle, the effect of its offset on each reading [mm], and whether the offset is impossible.

    The effects are () if the indicator cannot show them, if the diameter is unknown, or if a face was read. A round bar
    of radius R that is eccentric by e reads e cos t + sqrt(R² - e² sin² t) - R at the angle t from the high spot. This
    looks oval by e² / 2R. In a bore the square root has the opposite sign. `error_mm`: the standard error of a reading
    [mm].
    """
    plain = fit(angles_deg, readings_mm)
    if job.diameter_mm is None or job.surface == "face":
        return plain, (), False
    radius = job.diameter_mm / 2
    eccentricity = plain.amplitude(1)
    if eccentricity > LARGEST_SHARE * radius:
        return plain, (), True
    if eccentricity**2 / (2 * radius) <= error_mm:
        return plain, (), False
    sense, circle = -1.0 if job.surface == "bore" else 1.0, plain
    extra: tuple[float, ...] = ()
    for _ in range(50):
        high, off = circle.high_deg(1), min(circle.amplitude(1), radius)
        extra = tuple(
            sense * (sqrt(radius**2 - (off * sin(radians(angle - high))) ** 2) - radius) for angle in angles_deg
        )
        before = circle
        circle = fit(angles_deg, [reading - more for reading, more in zip(readings_mm, extra, strict=True)])
        if abs(circle.amplitude(1) - before.amplitude(1)) < 1e-13:
            break
    return circle, extra, False


def _lobes(
    angles_deg: Sequence[float], readings_mm: Sequence[float], orders: Sequence[int], least: int, error_mm: float
) -> Lobes | None:
    """Return the lobes of the highest order in `orders`; None if readings at these marks cannot show them.

    `orders`: the harmonics to fit. `least`: the smallest number of readings that shows these lobes. `error_mm`: the
    standard error of a reading [mm].
    """
    if len(angles_deg) < least or not determines(angles_deg, orders):
        return None
    waves = fit(angles_deg, readings_mm, orders)
    order = orders[-1]
    variance = (waves.covariance[-1][-1] + waves.covariance[-2][-2]) / 2
    return Lobes(
        height_mm=2 * waves.amplitude(order),
        high_deg=waves.high_deg(order),
        error_mm=2 * error_mm * sqrt(variance),
    )


def _wobble_deg(offset: Harmonics, job: RunoutJob) -> float | None:
    if job.surface != "face" or job.diameter_mm is None:
        return None
    return degrees(atan(2 * offset.amplitude(1) / job.diameter_mm))
