"""Builds layers divided on a table with marks of half a minute, for the figures and cautions of a whole pattern."""

from fractions import Fraction
from typing import Any

from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.division import divide
from core.operations.dividing.steps import DividedCut
from core.operations.patterns.cautions import pattern_cautions
from core.operations.patterns.elements import exact_cuts
from core.operations.patterns.figures import pattern_figures
from core.operations.patterns.layers import PatternJob

TABLE = RotaryTable(ratio=Fraction(72), dial_graduation_deg=Fraction(1, 120))


def patterns(job: PatternJob) -> list[DividedCut]:
    """Return the divided positions of every layer in a job."""
    return [
        DividedCut(dividing=divide(TABLE, "dial", targets), skip=layer.skip, layer=layer.number)
        for layer, targets in zip(job.layers, job.targets_by_layer_deg, strict=True)
    ]


def figures_of(job: PatternJob, lathe: Lathe, **changes: int) -> dict[str, Any]:
    """Return the figures of a pattern with exact dial settings, without its steps."""
    return pattern_figures(job, exact_cuts(job), patterns(job), [], {layer.number: [] for layer in job.layers}, changes)


def cautions_of(job: PatternJob, lathe: Lathe) -> list[str]:
    """Return the cautions of a pattern."""
    return list(pattern_cautions(job, patterns(job), lathe))
