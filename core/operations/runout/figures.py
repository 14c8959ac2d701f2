"""The figures of a runout operation, as its card prints them."""

from collections.abc import Callable, Mapping
from typing import Any

from core.lathe.lathe import Lathe
from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob
from core.operations.runout.moves import moves
from core.operations.runout.sets_of_readings import Findings
from core.operations.runout.tilt import taper_mm, tilt_moves
from core.operations.runout.verdict import verdict


def runout_figures(found: Findings, job: RunoutJob, lathe: Lathe) -> dict[str, Any]:
    """Return the figures of one round of readings; what does not apply is left out."""
    first = found.first
    figures: dict[str, Any] = {
        **_of_a_plane(first),
        "eccentricity_error_mm": first.eccentricity_error_mm,
        "out_of_roundness_mm": first.out_of_roundness_mm,
        "ovality_mm": None if first.oval is None else first.oval.height_mm,
        "three_lobe_mm": None if first.three_lobes is None else first.three_lobes.height_mm,
        "wobble_deg": first.wobble_deg,
        "moves": [move.as_data() for move in moves(first, job, lathe)] or None,
    }
    if job.tolerance_mm is not None:
        figures["verdict"] = verdict(found.analyses, job.tolerance_mm).answer
    if found.second is not None:
        figures["second_plane"] = _of_a_plane(found.second)
    if found.tilt is not None:
        figures["tilt_deg"] = found.tilt.tilt_deg
        figures["tilt_moves"] = [move.as_data() for move in tilt_moves(found.tilt, job, lathe)] or None
        if job.workholding == "between centres":
            figures["taper_mm"] = taper_mm(found.tilt)
    return {key: value for key, value in figures.items() if value is not None}


def move_words(move: Mapping[str, Any], say: Callable[[float], str]) -> str:
    """Return a move as the figures hold it, in words.

    >>> move_words({"where": "jaw 1", "how": "press", "angle_deg": 0, "amount_mm": 0.08}, "{} mm".format)
    'press jaw 1 in by 0.08 mm'
    """
    where, amount = str(move["where"]), say(move["amount_mm"])
    if move["how"] == "shim":
        return f"shim {amount} {'behind the work at' if where.startswith('mark') else 'under'} {where}"
    return f"press {where} in by {amount}" if move["how"] == "press" else f"tap at {where} towards the axis by {amount}"


def _of_a_plane(analysis: Analysis) -> dict[str, float]:
    figures = {"tir_mm": analysis.tir_mm, "eccentricity_mm": analysis.eccentricity_mm}
    # Without an offset there is no direction to give.
    return figures | ({"high_spot_deg": analysis.high_spot_deg} if analysis.eccentricity_mm > 1e-9 else {})
