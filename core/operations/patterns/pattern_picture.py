"""The picture of a pattern on the finished work, drawn from the real marks, holes and notches.

The picture shows the runout of the face, unlike the list of grooves on the card. Lengths in mm.
"""

from collections.abc import Mapping, Sequence

from core.operations.patterns.effects import face_fall
from core.operations.patterns.elements import Element, ElementShape, elements
from core.operations.patterns.layers import CutAsSet, Layer, PatternJob
from core.operations.patterns.picture import CutPicture, CutShape, FaceFall, PatternPicture, PatternPlace


def pattern_picture(job: PatternJob, cuts: Sequence[CutAsSet], *, factor: float = 1.0) -> PatternPicture:
    """Return the picture of a pattern on the finished work, with the errors that the settings do not correct.

    `cuts`: every cut with its real settings. `factor`: the enlargement of the errors; 0 draws no errors. Errors that
    the settings correct are never drawn.
    """
    falls = {layer.number: face_fall(job, layer, factor) for layer in job.layers}
    grooves = elements(job, cuts, factor)
    drawn = tuple(_cut(job.layers[one.layer - 1], one, falls[one.layer]) for one in grooves)
    rim_mm = None if job.blank_diameter_mm is None else job.blank_diameter_mm / 2
    extent_mm = max((cut.outermost_mm for cut in drawn), default=0.0)
    return PatternPicture(max(extent_mm, rim_mm or 0.0), drawn, rim_mm)


_SHAPES: Mapping[ElementShape, CutShape] = {"circle": "circle", "dot": "dot", "slot": "line", "arc": "arc"}


def _cut(layer: Layer, groove: Element, fall: FaceFall | None) -> CutPicture:
    """Return one groove as pictures use it. `fall`: the runout of the face; None for a true face."""
    return CutPicture(
        place=PatternPlace(groove.layer, groove.position),
        shape=_SHAPES[groove.shape],
        at_mm=(groove.x_mm, groove.y_mm),
        half_width_mm=(groove.width_mm or 0.0) / 2,
        radius_mm=groove.radius_mm or 0.0,
        to_mm=(groove.to_x_mm or 0.0, groove.to_y_mm or 0.0),
        centre_mm=(groove.centre_x_mm or 0.0, groove.centre_y_mm or 0.0),
        sweep_deg=groove.sweep_deg or 0.0,
        cutter=layer.cutter,
        depth_mm=groove.depth_mm or 0.0,
        fall=None if layer.cutter is None or not groove.depth_mm else fall,
    )
