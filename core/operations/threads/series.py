"""Which standard threads have a pitch: for a thread that was only measured."""

from fractions import Fraction

from core.operations.threads.ba import ba_series
from core.operations.threads.bsp import bsp_series
from core.operations.threads.inch_series import inch_threads
from core.operations.threads.metric import metric_series
from core.operations.threads.trapezoidal import trapezoidal_series
from core.values.quantities import MM_PER_INCH


def standard_threads_with_pitch(pitch_mm: float, *, within_mm: float = 0.0005) -> list[str]:
    """Return the designations of all standard threads of a pitch, series by series, by size.

    pitch_mm: [mm]; within_mm: how far off the pitch may be [mm].

    >>> standard_threads_with_pitch(0.81)
    ['BA 2']
    """
    return [name for name, pitch in _all_threads() if abs(float(pitch) - pitch_mm) <= within_mm]


def _all_threads() -> list[tuple[str, Fraction]]:
    """Return designation and pitch [mm] of each thread of each standard series."""
    inch = [(thread.name, MM_PER_INCH / thread.tpi) for thread in inch_threads()]
    return [*metric_series(), *inch, *bsp_series(), *ba_series(), *trapezoidal_series()]
