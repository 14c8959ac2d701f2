"""What errors of the set-up do to what is seen of a pattern, in words with their numbers. Derived."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.patterns.effects import (
    face_runout,
    height_effect,
    layers_turned_mm,
    off_centre_mm,
    position_effect,
    tilt_depth_change_mm,
)
from core.operations.patterns.geometry import RingShape
from core.operations.patterns.job import Layer, PatternJob
from core.values.angles import dms_text
from core.values.fields import Table
from core.values.quantities import number_text

SECOND = Fraction(1, 3600)
USUAL_HEIGHT_MM = 0.1
"""What is reckoned with where the axis height error is 0: an error that is easily left. Common practice, no source."""


class SetUpErrors(NamedTuple):
    """Errors that may be left in a set-up; the usual ones are easily left. Common practice, no source."""

    face_tir_mm: float = 0.05
    """Runout of the face, total indicator reading."""
    face_radius_mm: float | None = None
    """Radius at which the face was read; None: as far out as each layer reaches."""
    table_tir_mm: float = 0.05
    """Runout of the work's rim on the turning table, total indicator reading."""
    position_deg: Fraction = Fraction(1, 60)
    """One position set wrong by this."""
    tilt_deg: float = 0.1
    """Spindle and table axes out of parallel by this."""


KEYS = ("table_runout", "position_error", "tilt")
"""Those that no job holds: they are only reckoned with."""


class Seen(NamedTuple):
    """One effect: of what, how much, and what that means."""

    cause: str
    amount: str
    meaning: str = ""


def read_errors(table: Table) -> SetUpErrors:
    """Read the errors to reckon with; the usual one where a key is not given or wrong."""
    usual = SetUpErrors()
    face, rim = (table.length(key, least=0, most=10) for key in ("face_runout", "table_runout"))
    position = table.quantity("position_error", "angle", least=0, most=10)
    tilt = table.angle("tilt", least=0, most=10)
    return SetUpErrors(
        face_tir_mm=usual.face_tir_mm if face is None else face,
        face_radius_mm=table.length("face_radius", above=0),
        table_tir_mm=usual.table_tir_mm if rim is None else rim,
        position_deg=usual.position_deg if position is None else position.value,
        tilt_deg=usual.tilt_deg if tilt is None else tilt,
    )


def seen(job: PatternJob, errors: SetUpErrors, lathe: Lathe) -> Iterator[Seen]:
    """Yield what each error does to width and spacing of the grooves, layer by layer."""
    yield from _of_height(job, lathe)
    for layer in job.layers:
        yield from _of_face(job, layer, errors, lathe)
    yield Seen(
        f"Rim {lathe.length_text(errors.table_tir_mm)}",
        f"{lathe.length_text(off_centre_mm(errors.table_tir_mm))} off centre",
        f"the border is {lathe.length_text(errors.table_tir_mm)} wider on one side",
    )
    for layer in job.layers:
        yield from _of_position(job.shape(layer), layer.number, errors.position_deg, lathe)
    for layer in job.layers:
        yield from _of_tilt(job, layer, errors.tilt_deg, lathe)


def _of_height(job: PatternJob, lathe: Lathe) -> Iterator[Seen]:
    height = job.height_error_mm or USUAL_HEIGHT_MM
    cause = f"Height {lathe.length_text(height)}"
    for layer in job.layers:
        if layer.offset_mm == 0:
            yield Seen(
                f"{cause}: layer {layer.number}",
                f"{lathe.length_text(abs(height))} off centre",
                "at no offset all of it",
            )
            continue
        effect = height_effect(layer.offset_mm, layer.count, height)
        yield Seen(
            f"{cause}: layer {layer.number}",
            f"turned {number_text(abs(effect.turned_by_deg), 3)} deg",
            f"spacing {_fine(effect.spacing_change_mm, lathe)} wider",
        )
    for one, other in combinations(job.layers, 2):
        if one.offset_mm != other.offset_mm:
            angle, length = layers_turned_mm(one.offset_mm, other.offset_mm, height)
            amount = f"{number_text(angle, 3)} deg against each other"
            yield Seen(
                f"{cause}: layers {one.number}, {other.number}", amount, f"{lathe.length_text(length)} at the smaller"
            )


def bare_patches(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    """Yield a caution for every layer whose cutter does not reach a face that runs out as read, with the numbers."""
    if job.face_runout_mm is None:
        return
    errors = SetUpErrors(face_tir_mm=job.face_runout_mm, face_radius_mm=job.face_radius_mm)
    for layer in job.layers:
        lower_mm = _lower_mm(job, layer, errors)
        if layer.depth_mm is not None and layer.depth_mm < lower_mm:
            yield (
                f"Layer {layer.number}: a patch stays bare. "
                f"{_lower_words(lower_mm, layer.depth_mm, lathe).capitalize()}: cut deeper, or set the face true."
            )


def least_depth_mm(job: PatternJob, layer: Layer) -> float | None:
    """Return how deep a layer is where the face lies lowest [mm], touched off where it stands highest; not below 0.

    None where no runout of the face or no depth is given.
    """
    if job.face_runout_mm is None or layer.depth_mm is None:
        return None
    errors = SetUpErrors(face_tir_mm=job.face_runout_mm, face_radius_mm=job.face_radius_mm)
    return max(0.0, layer.depth_mm - _lower_mm(job, layer, errors))


def _lower_mm(job: PatternJob, layer: Layer, errors: SetUpErrors) -> float:
    """Return how far below its highest place the face lies within a layer [mm]."""
    return errors.face_tir_mm * _reach(job, layer, errors)


def _reach(job: PatternJob, layer: Layer, errors: SetUpErrors) -> float:
    return 1.0 if errors.face_radius_mm is None else job.shape(layer).outer_mm / errors.face_radius_mm


def _lower_words(lower_mm: float, depth_mm: float, lathe: Lathe) -> str:
    return f"the face is up to {lathe.length_text(lower_mm)} lower, the cut {lathe.length_text(depth_mm)} deep"


def _of_face(job: PatternJob, layer: Layer, errors: SetUpErrors, lathe: Lathe) -> Iterator[Seen]:
    if job.tip is None or layer.depth_mm is None:
        return
    say, depth_mm = lathe.length_text, layer.depth_mm
    effect = face_runout(errors.face_tir_mm, job.tip.angle_deg, depth_mm, _reach(job, layer, errors))
    cause = f"Face {say(errors.face_tir_mm)}: layer {layer.number}"
    if effect.leaves_face:
        yield Seen(cause, "a patch stays bare", _lower_words(_lower_mm(job, layer, errors), depth_mm, lathe))
        return
    width = job.tip.groove_width_mm
    yield Seen(
        cause,
        f"groove {say(width(effect.depth_min_mm))} to {say(width(depth_mm))}",
        f"{say(effect.depth_min_mm)} to {say(depth_mm)} deep, touched off at the highest place",
    )


def _of_position(shape: RingShape, number: int, error_deg: Fraction, lathe: Lathe) -> Iterator[Seen]:
    effect = position_effect(shape, float(error_deg))
    gaps = lathe.length_text(effect.spacing_change_mm)
    yield Seen(
        f"Position {dms_text(error_deg, SECOND)}: layer {number}",
        f"{lathe.length_text(effect.shift_mm)} out of place",
        f"one gap {gaps} wider, the other narrower" if shape.count > 1 else "",
    )


def _of_tilt(job: PatternJob, layer: Layer, tilt_deg: float, lathe: Lathe) -> Iterator[Seen]:
    deeper = tilt_depth_change_mm(layer.circle_radius_mm, tilt_deg)
    wider = ""
    if job.tip is not None:
        wider = (
            f"its groove {lathe.length_text(face_runout(deeper, job.tip.angle_deg, deeper).width_change_mm)} "
            "wider there"
        )
    cause = f"Tilt {number_text(tilt_deg, 3)} deg: layer {layer.number}"
    yield Seen(cause, f"one side {lathe.length_text(deeper)} deeper", wider)


def _fine(length_mm: float, lathe: Lathe) -> str:
    """Return a length that may be less than any dial shows."""
    return "less than a micrometre" if abs(length_mm) < 0.001 else lathe.length_text(length_mm)
