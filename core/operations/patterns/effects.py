"""The effect of set-up errors on the width and spacing of a pattern's grooves, in numbers and in words.

The formulas are derived here, not taken from a source.
"""

import math
from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.patterns.geometry import RingShape, effective_offset_mm, turned_by_deg
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.picture import FaceFall, PatternPlace
from core.operations.patterns.tip_lines import envelope_mm, tip_lines
from core.values.angles import dms_text
from core.values.fields import Table
from core.values.quantities import number_text


class HeightEffect(NamedTuple):
    """The effect on a ring of a table axis that is above or below the spindle axis."""

    offset_change_mm: float
    """Growth of the ring. It is small: a height error of 1 mm at 20 mm gives 0.025 mm."""
    turned_by_deg: float
    """Angle by which the whole ring turns. Two rings of different offset turn against each other."""
    spacing_change_mm: float
    """Distance by which neighbouring centres move apart."""


def height_effect(offset_mm: float, count: int, height_error_mm: float) -> HeightEffect:
    """Return the effect of an axis height error [mm] on a ring with a nominal offset [mm]."""
    grows = effective_offset_mm(offset_mm, height_error_mm) - offset_mm
    return HeightEffect(
        offset_change_mm=grows,
        turned_by_deg=turned_by_deg(offset_mm, height_error_mm),
        spacing_change_mm=2 * grows * math.sin(math.pi / count) if count > 1 else 0.0,
    )


def layers_turned_mm(offset_1_mm: float, offset_2_mm: float, height_error_mm: float) -> tuple[float, float]:
    """Return the angle [deg] by which a height error [mm] turns two rings relative to each other, and its arc [mm].

    The arc is measured on the ring with the smaller offset. `offset_1_mm` and `offset_2_mm`: the offsets of the rings.

    >>> angle, length = layers_turned_mm(20, 10, 0.1)
    >>> round(angle, 3), round(length, 3)
    (0.286, 0.05)
    """
    angle = abs(turned_by_deg(offset_1_mm, height_error_mm) - turned_by_deg(offset_2_mm, height_error_mm))
    return angle, math.radians(angle) * min(offset_1_mm, offset_2_mm)


class FaceRunout(NamedTuple):
    """The effect of a face that runs out, if the cutter is touched off where the face is highest."""

    depth_min_mm: float
    """Depth at the lowest part of the face; 0 if the cutter misses it. The greatest depth is the depth set."""
    width_change_mm: float
    """Widest groove minus narrowest, while the cutter touches everywhere."""
    leaves_face: bool
    """Whether the face runs out by more than the depth, so that the cutter misses a patch."""


def face_runout(tir_mm: float, tip_angle_deg: float, depth_mm: float, radius_ratio: float = 1.0) -> FaceRunout:
    """Return the effect of a face runout on a groove. `tir_mm`: the total indicator reading of the face (TIR) [mm].

    `radius_ratio`: the largest radius of the grooves, divided by the radius at which the face was read. The width of
    the groove varies by 2 TIR radius_ratio tan(included angle / 2).

    >>> effect = face_runout(0.05, 120, 0.3)
    >>> round(effect.width_change_mm, 3), round(effect.depth_min_mm, 3)
    (0.173, 0.25)
    """
    lower_mm = tir_mm * radius_ratio
    return FaceRunout(
        depth_min_mm=max(0.0, depth_mm - lower_mm),
        width_change_mm=2 * lower_mm * math.tan(math.radians(tip_angle_deg / 2)),
        leaves_face=depth_mm < lower_mm,
    )


def eccentricity_mm(table_tir_mm: float) -> float:
    """Return the eccentricity of the whole pattern from the runout of the rim on the table: TIR / 2 [mm].

    The border outside the pattern is then wider on one side by the whole TIR.
    """
    return table_tir_mm / 2


class PositionEffect(NamedTuple):
    """The visible effect of a wrong angle at one position."""

    shift_mm: float
    """Distance of the circle from its true place, along the ring."""
    spacing_change_mm: float
    """Change of the gap to each neighbour: one gap gets narrower by this amount, the other wider."""


def position_effect(ring: RingShape, error_deg: float) -> PositionEffect:
    """Return the effect of a wrong angle [deg] at one position of a ring.

    The distance to the next centre changes by R delta cos(180/N), with offset R, error delta [rad] and N circles.

    >>> ring = RingShape(count=12, offset_mm=50, circle_radius_mm=5)
    >>> effect = position_effect(ring, 60 / 3600)
    >>> round(effect.shift_mm, 4), round(effect.spacing_change_mm, 4)
    (0.0145, 0.014)
    """
    shift = ring.offset_mm * math.radians(abs(error_deg))
    nearer = shift * math.cos(math.pi / ring.count) if ring.count > 1 else 0.0
    return PositionEffect(shift_mm=shift, spacing_change_mm=nearer)


def tilt_depth_change_mm(circle_radius_mm: float, tilt_deg: float) -> float:
    """Return how much deeper one side of every circle is if the axes of spindle and table are not parallel [mm].

    The difference is 2 r sin t, for a circle radius r and a tilt t.

    >>> round(tilt_depth_change_mm(12, 0.1), 4)
    0.0419
    """
    return 2 * circle_radius_mm * math.sin(math.radians(abs(tilt_deg)))


SECOND = Fraction(1, 3600)
USUAL_HEIGHT_MM = 0.1
"""The height error assumed if none is entered. An error of this size often remains. Common practice, no source."""


_NO_REACH = 1e-6
"""A layer with a smaller outer radius [mm] is one dot on the axis, where face runout has no effect."""
SEEN_MM = 0.1
"""The smallest change of land or gap that the eye can see. Common practice, no source."""


class WrongPosition(NamedTuple):
    """One position that is cut with a wrong setting of table or slide."""

    place: PatternPlace
    table_deg: float = 0.0
    """Excess angle of the table, positive if it moves the position anticlockwise on the work."""
    slide_mm: float = 0.0
    """Excess distance of the slide from the place where the axes meet."""


class SetUpErrors(NamedTuple):
    """The errors that may remain in a set-up. The defaults are usual sizes by common practice, without a source."""

    face_tir_mm: float = 0.05
    """Runout of the face, total indicator reading."""
    face_radius_mm: float | None = None
    """Radius at which the face was read; None: the outer radius of each layer."""
    table_tir_mm: float = 0.05
    """Runout of the work's rim on the turning table, total indicator reading."""
    position_deg: Fraction = Fraction(1, 60)
    """Error of one position."""
    tilt_deg: float = 0.1
    """Angle between spindle and table axes."""
    seen_mm: float = SEEN_MM
    """The smallest change of land or gap that the user sees."""
    wrong: WrongPosition | None = None
    """The position to draw at a wrong setting; None without a wrong position."""


ERROR_KEYS = ("table_runout", "position_error", "slide_error", "wrong_layer", "wrong_position", "tilt", "seen_change")
"""Keys of errors that the user can try on the screen. No job file has these keys."""


class SetUpEffect(NamedTuple):
    """One effect of an error: its cause, its amount and its meaning."""

    cause: str
    amount: str
    meaning: str = ""


def read_errors(table: Table) -> SetUpErrors:
    """Return the errors that a table states. For an empty or invalid entry, the usual size of that error is assumed."""
    usual = SetUpErrors()
    face, rim = (table.length(key, least=0, most=10) for key in ("face_runout", "table_runout"))
    position = table.quantity("position_error", "angle", least=-10, most=10)
    tilt, seen = table.angle("tilt", least=0, most=10), table.length("seen_change", above=0, most=10)
    return SetUpErrors(
        face_tir_mm=usual.face_tir_mm if face is None else face,
        face_radius_mm=table.length("face_radius", above=0),
        table_tir_mm=usual.table_tir_mm if rim is None else rim,
        position_deg=usual.position_deg if position is None else abs(position.value),
        tilt_deg=usual.tilt_deg if tilt is None else tilt,
        seen_mm=usual.seen_mm if seen is None else seen,
        wrong=_read_wrong(table, None if position is None else float(position.value)),
    )


def _read_wrong(table: Table, table_deg: float | None) -> WrongPosition | None:
    """Return the wrong position to draw; None if no position number is entered.

    If the amount is empty, the usual error is assumed. `table_deg`: the entered error of the table's angle [deg]; None
    if none is entered.
    """
    layer, number = (table.whole(key, least=1, most=20_000) for key in ("wrong_layer", "wrong_position"))
    slide_mm = table.length("slide_error", least=-100, most=100)
    if number is None:
        return None
    if table_deg is None:
        table_deg = 0.0 if slide_mm else float(SetUpErrors().position_deg)
    return WrongPosition(PatternPlace(layer or 1, number), table_deg, slide_mm or 0.0)


def set_up_effects(job: PatternJob, errors: SetUpErrors, lathe: Lathe) -> Iterator[SetUpEffect]:
    """Yield the effect of each set-up error on the width and spacing of the grooves, layer by layer.

    An entered face runout is left out here, because `PatternErrors.effects` reports it.
    """
    yield from _of_height(job, lathe)
    for layer in job.layers if not job.face_runout_mm else ():
        yield from _of_face(job, layer, errors, lathe)
    yield SetUpEffect(
        f"Rim {lathe.length_text(errors.table_tir_mm)}",
        f"eccentric by {lathe.length_text(eccentricity_mm(errors.table_tir_mm))}",
        f"the border is {lathe.length_text(errors.table_tir_mm)} wider on one side",
    )
    for layer in job.layers:
        yield _of_position(job, layer, errors.position_deg, lathe)
    for layer in job.layers:
        if layer.with_head:
            yield _of_tilt(layer, errors.tilt_deg, lathe)


def _of_height(job: PatternJob, lathe: Lathe) -> Iterator[SetUpEffect]:
    if job.correct and job.height_error_mm:
        # The tolerance budget shows the remainder of an error that the settings correct.
        return
    height = job.height_error_mm or USUAL_HEIGHT_MM
    cause = f"Height {lathe.length_text(height)}"
    for layer in job.layers:
        yield SetUpEffect(f"{cause}: layer {layer.number}", *_of_height_on(layer, height, lathe))
    for one, other in combinations((layer for layer in job.layers if layer.is_central), 2):
        if one.offset_mm != other.offset_mm:
            angle, length = layers_turned_mm(one.offset_mm, other.offset_mm, height)
            amount = f"{number_text(angle, 3)} deg against each other"
            yield SetUpEffect(
                f"{cause}: layers {one.number}, {other.number}",
                amount,
                f"{lathe.length_text(length)} at the smaller ring",
            )


def _of_height_on(layer: Layer, height_mm: float, lathe: Lathe) -> tuple[str, str]:
    """Return the effect of an axis height error [mm] on one layer in words: first its amount, then its meaning."""
    if not layer.is_central:
        return f"moved {lathe.length_text(abs(height_mm))}", "each position, square to its own offset"
    if layer.offset_mm == 0:
        return f"eccentric by {lathe.length_text(abs(height_mm))}", "at offset 0 the whole error shows"
    effect = height_effect(layer.offset_mm, layer.count, height_mm)
    turned = f"turned {number_text(abs(effect.turned_by_deg), 3)} deg"
    if not layer.is_even_ring:
        return turned, ""
    return turned, f"spacing {_fine(effect.spacing_change_mm, lathe)} wider"


def bare_patches(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    """Yield a caution, with numbers, for each layer whose cutter misses part of a face that runs out."""
    if job.face_runout_mm is None:
        return
    errors = SetUpErrors(face_tir_mm=job.face_runout_mm, face_radius_mm=job.face_radius_mm)
    for layer in job.layers:
        lower_mm = _lower_mm(job, layer, errors)
        depths_mm = [position.depth_mm for position in layer.cut_positions if position.depth_mm is not None]
        if depths_mm and min(depths_mm) < lower_mm:
            yield (
                f"Layer {layer.number}: part of the groove stays uncut. "
                f"{_lower_words(lower_mm, min(depths_mm), lathe).capitalize()}. Cut deeper, or set the face true."
            )


def layer_depths_mm(job: PatternJob, layer: Layer) -> tuple[float | None, float | None]:
    """Return the smallest and the greatest depth of a layer [mm]; (None, None) if no depth is entered.

    The cutter is touched off where the face under the layer is highest. The smallest depth is therefore the smallest
    wanted depth minus the face runout, but never below 0.
    """
    depths_mm = [position.depth_mm for position in layer.cut_positions if position.depth_mm is not None]
    if not depths_mm:
        return None, None
    errors = SetUpErrors(face_tir_mm=job.face_runout_mm or 0.0, face_radius_mm=job.face_radius_mm)
    return max(0.0, min(depths_mm) - _lower_mm(job, layer, errors)), max(depths_mm)


def face_fall(job: PatternJob, layer: Layer, factor: float = 1.0) -> FaceFall | None:
    """Return the fall of the face below the place where a layer's cutter is touched off; None if the face runs true.

    The cutter is touched off where the face under the layer is highest. The high side is at 0 deg unless another angle
    is entered. `factor`: the enlargement of the runout in the picture; for 0, the result is None.
    """
    reach_mm = outer_mm(job, layer) if job.face_runout_mm else 0.0
    if not job.face_runout_mm or reach_mm < _NO_REACH or not factor:
        return None
    errors = SetUpErrors(face_tir_mm=job.face_runout_mm, face_radius_mm=job.face_radius_mm)
    half_mm, angle = factor * _lower_mm(job, layer, errors) / 2, math.radians(job.face_high_at_deg or 0.0)
    return FaceFall(half_mm, -half_mm / reach_mm * math.cos(angle), -half_mm / reach_mm * math.sin(angle))


def _lower_mm(job: PatternJob, layer: Layer, errors: SetUpErrors) -> float:
    return errors.face_tir_mm * _radius_ratio(job, layer, errors)


def _radius_ratio(job: PatternJob, layer: Layer, errors: SetUpErrors) -> float:
    return 1.0 if errors.face_radius_mm is None else outer_mm(job, layer) / errors.face_radius_mm


def outer_mm(job: PatternJob, layer: Layer) -> float:
    """Return the largest distance of a layer's tip lines from the centre of the work [mm]."""
    return job.shape(layer).outer_mm if layer.is_even_ring else envelope_mm(tip_lines(job, layer))[1]


def _lower_words(lower_mm: float, depth_mm: float, lathe: Lathe) -> str:
    return f"the face is up to {lathe.length_text(lower_mm)} lower, the cut {lathe.length_text(depth_mm)} deep"


def _of_face(job: PatternJob, layer: Layer, errors: SetUpErrors, lathe: Lathe) -> Iterator[SetUpEffect]:
    if layer.cutter is None or layer.depth_mm is None:
        return
    say, depth_mm = lathe.length_text, layer.depth_mm
    effect = face_runout(errors.face_tir_mm, layer.cutter.tip_angle_deg, depth_mm, _radius_ratio(job, layer, errors))
    cause = f"Face {say(errors.face_tir_mm)}: layer {layer.number}"
    if effect.leaves_face:
        yield SetUpEffect(
            cause, "part of the groove stays uncut", _lower_words(_lower_mm(job, layer, errors), depth_mm, lathe)
        )
        return
    width = layer.cutter.groove_width_mm
    yield SetUpEffect(
        cause,
        f"groove {say(width(effect.depth_min_mm))} to {say(width(depth_mm))}",
        f"{say(effect.depth_min_mm)} to {say(depth_mm)} deep, touched off at the highest place",
    )


def _of_position(job: PatternJob, layer: Layer, error_deg: Fraction, lathe: Lathe) -> SetUpEffect:
    cause = f"Position {dms_text(error_deg, SECOND)}: layer {layer.number}"
    if not layer.is_even_ring:
        outermost_mm = max(math.hypot(position.x_mm, position.y_mm) for position in layer.positions)
        shift_mm = outermost_mm * math.radians(abs(error_deg))
        return SetUpEffect(cause, f"{lathe.length_text(shift_mm)} out of place", "the outermost position")
    shape = job.shape(layer)
    effect = position_effect(shape, float(error_deg))
    gaps = lathe.length_text(effect.spacing_change_mm)
    return SetUpEffect(
        cause,
        f"{lathe.length_text(effect.shift_mm)} out of place",
        f"one gap {gaps} wider, the other narrower" if shape.count > 1 else "",
    )


def _of_tilt(layer: Layer, tilt_deg: float, lathe: Lathe) -> SetUpEffect:
    deeper = tilt_depth_change_mm(largest_circle_mm(layer), tilt_deg)
    wider = ""
    if layer.cutter is not None:
        wider = (
            f"its groove {lathe.length_text(face_runout(deeper, layer.cutter.tip_angle_deg, deeper).width_change_mm)} "
            "wider there"
        )
    cause = f"Tilt {number_text(tilt_deg, 3)} deg: layer {layer.number}"
    return SetUpEffect(cause, f"one side {lathe.length_text(deeper)} deeper", wider)


def largest_circle_mm(layer: Layer) -> float:
    """Return the radius of the largest circle in a layer [mm]; 0 for a layer without circles."""
    return max(position.circle_radius_mm or 0.0 for position in layer.positions)


def _fine(length_mm: float, lathe: Lathe) -> str:
    return "less than a micrometre" if abs(length_mm) < 0.001 else lathe.length_text(length_mm)
