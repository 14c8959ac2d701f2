"""The errors of a set-up, true or enlarged, in a pattern's picture and in the figures of every layer.

The settings stay on their marks. Errors that the settings do not correct move each groove by (X, -height error) turned
by the table's angle, less the eccentricity. A picture multiplies the errors by a factor. The formulas are derived here,
not taken from a source. Lengths in mm.
"""

import math
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.dividing.division import FULL_CIRCLE
from core.operations.patterns.effects import SetUpEffect, WrongPosition
from core.operations.patterns.groove_path import Range, depth_range_mm, gap_mm, width_range_mm
from core.operations.patterns.layers import CutAsSet, Layer, PatternJob
from core.operations.patterns.pattern_picture import pattern_picture
from core.operations.patterns.picture import CutPicture, ErrorsView, PatternPicture, PatternPlace
from core.operations.patterns.steps import cuts_on
from core.operations.patterns.tip_lines import nearest_points
from core.values.errors import PlanError
from core.values.plain_text import counted

FACTORS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
"""The factors by which a picture can enlarge errors."""
_SHIFT_SEEN, _FALL_SEEN = 0.06, 0.8
"""The sensible factor moves no groove by more than this part of the picture's radius, and keeps 1/5 of each depth."""
_MOST_SHIFT = 0.5
"""No factor moves a groove by more than this part of the picture's radius."""
_NOTHING_MM = 1e-6
_MOST_SAID = 3
"""The number of layers whose figures fit below a picture."""


class LayerSpread(NamedTuple):
    """The ranges of groove width, gap and depth in one layer; None for an unknown value."""

    layer: int
    width_mm: Range | None
    gap_mm: Range | None
    """Land between neighbouring grooves; below 0 if they overlap. With unknown widths: between their tip lines."""
    depth_mm: Range | None


class PatternErrors:
    """The errors of one pattern on one lathe, as pictures and as figures."""

    def __init__(self, job: PatternJob, lathe: Lathe, wrong: WrongPosition | None = None) -> None:
        self.job, self.lathe, self.wrong = job, lathe, wrong
        self._as_set: dict[bool, tuple[CutAsSet, ...]] = {}
        """Every cut with its real settings, without and with the correction."""
        # A form asks for the same pictures and sizes at every key.
        self._pictures = lru_cache(maxsize=4)(self._make_picture)
        self._largest = lru_cache(maxsize=2)(self._find_largest)
        self._spreads = lru_cache(maxsize=2)(self._find_spreads)

    @cached_property
    def refusal(self) -> str:
        """A sentence on why the wrong position is not drawn; "" if it is drawn or if none is entered."""
        if self.wrong is None:
            return ""
        number, position = self.wrong.place
        if number > len(self.job.layers):
            return f"Not drawn: layer {number} does not exist. Enter a layer from 1 to {len(self.job.layers)}."
        layer = self.job.layers[number - 1]
        if position > len(layer.positions):
            positions = counted(len(layer.positions), "position")
            return f"Not drawn: layer {number} has {positions}. Enter a position from 1 to {len(layer.positions)}."
        if position in layer.skip:
            return f"Not drawn: position {position} of layer {number} is skipped. Enter a position that is cut."
        return ""

    @property
    def has_errors(self) -> bool:
        """True if the set-up has any error, or if the user has entered a wrong position to draw."""
        job = self.job
        wrong = self.wrong is not None and not self.refusal
        return bool(wrong or job.height_error_mm or job.eccentricity_mm or job.face_runout_mm)

    @property
    def can_be_corrected(self) -> bool:
        """True if the job has an error that the settings of slide and table can correct."""
        return bool(self.job.height_error_mm or self.job.eccentricity_mm)

    def as_seen(self, view: ErrorsView) -> PatternJob:
        """Return the job with its errors corrected or uncorrected, as the view says.

        If the view leaves that open, the job is returned unchanged.
        """
        return self.job if view.corrected is None else replace(self.job, correct=view.corrected)

    def picture(self, view: ErrorsView) -> PatternPicture:
        """Return the picture of the pattern with its errors as the view shows them.

        Raises PlanError if the lathe cannot be set to correct the errors.
        """
        return self._pictures(self.as_seen(view).correct, view.factor)

    def _make_picture(self, corrected: bool, factor: int) -> PatternPicture:
        job = replace(self.job, correct=corrected)
        picture = pattern_picture(job, self._with_wrong(self._cuts(job), factor), factor=factor)
        if self.wrong is None or self.refusal:
            return picture
        cuts = (cut._replace(was_moved=cut.place == self.wrong.place) for cut in picture.cuts)
        return picture._replace(cuts=tuple(cuts))

    def _cuts(self, job: PatternJob) -> tuple[CutAsSet, ...]:
        if job.correct not in self._as_set:
            self._as_set[job.correct] = cuts_on(job, self.lathe)
        return self._as_set[job.correct]

    def _with_wrong(self, cuts: tuple[CutAsSet, ...], factor: float) -> tuple[CutAsSet, ...]:
        wrong = self.wrong
        if wrong is None or self.refusal:
            return cuts
        return tuple(
            _set_wrong(cut, factor * wrong.table_deg, factor * wrong.slide_mm)
            if (cut.layer.number, cut.position.number) == wrong.place
            else cut
            for cut in cuts
        )

    def prepare(self, view: ErrorsView) -> None:
        """Calculate the picture and the sizes of a view in advance, in a worker thread.

        Later calls for the same view then return immediately.
        """
        with suppress(PlanError):
            self.picture(self.lowered(view))
            self.spreads(view)

    def sensible_factor(self, view: ErrorsView) -> int:
        """Return the largest enlargement factor that leaves the pattern recognizable; 1 without errors.

        `view`: the user's present choice of how to show the errors.
        """
        shift_mm, fall = self._largest_mm(view)
        if shift_mm < _NOTHING_MM and not fall:
            return 1
        sensible = [one for one in self.factors(view) if one * shift_mm <= _SHIFT_SEEN and one * fall <= _FALL_SEEN]
        return max(sensible, default=1)

    def factors(self, view: ErrorsView) -> tuple[int, ...]:
        """Return the factors of enlargement at which every groove is still drawn near its real place."""
        shift_mm, _ = self._largest_mm(view)
        return tuple(one for one in FACTORS if one == 1 or one * shift_mm <= _MOST_SHIFT)

    def lowered(self, view: ErrorsView) -> ErrorsView:
        """Return the view, with a smaller enlargement factor if its present factor would move grooves too far."""
        if view.factor == 1:
            return view
        return view._replace(factor=max(one for one in self.factors(view) if one <= view.factor))

    def larger(self, view: ErrorsView) -> ErrorsView:
        """Return the view with the next larger enlargement factor.

        Factor 1 is followed by the sensible factor, and the largest factor is followed by 1.
        """
        if view.factor == 1 and (sensible := self.sensible_factor(view)) > 1:
            return view._replace(factor=sensible)
        return view._replace(factor=next((one for one in self.factors(view) if one > view.factor), 1))

    def sensible(self, view: ErrorsView) -> ErrorsView:
        """Return the view with the sensible factor of enlargement."""
        return view._replace(factor=self.sensible_factor(view))

    def smaller(self, view: ErrorsView) -> ErrorsView:
        """Return the view with the next smaller factor of enlargement, at least 1."""
        return view._replace(factor=max((one for one in self.factors(view) if one < view.factor), default=1))

    def other_way(self, view: ErrorsView) -> ErrorsView:
        """Return the view with the other choice of correction.

        Errors that were shown corrected are then shown uncorrected, and the reverse.
        """
        return view._replace(corrected=not self.as_seen(view).correct)

    def _largest_mm(self, view: ErrorsView) -> Range:
        """Return the largest shift of a groove and the largest fall of the face, each as a ratio.

        The shift is divided by the radius of the picture, and the fall by the depth of the groove.
        """
        return self._largest(self.as_seen(view).correct)

    def _find_largest(self, corrected: bool) -> Range:
        job = replace(self.job, correct=corrected)
        seen = self._pictures(corrected, 1)
        right = pattern_picture(job, self._cuts(job), factor=0.0)
        shifts = (_shift_mm(*pair) for pair in zip(seen.cuts, right.cuts, strict=True))
        falls = (
            2 * cut.fall.at_centre_mm / cut.depth_mm for cut in seen.cuts if cut.fall is not None and cut.depth_mm > 0
        )
        return max(shifts, default=0.0) / (right.extent_mm or 1.0), max(falls, default=0.0)

    def spreads(self, view: ErrorsView) -> tuple[LayerSpread, ...]:
        """Return the ranges of the grooves' width, gap and depth in each layer, with the errors at true size.

        Raises PlanError if the lathe cannot be set to correct the errors.
        """
        return self._spreads(self.as_seen(view).correct)

    def _find_spreads(self, corrected: bool) -> tuple[LayerSpread, ...]:
        cuts = {cut.place: cut for cut in self._pictures(corrected, 1).cuts}
        return tuple(_spread(layer, cuts) for layer in self.job.layers)

    def effects(self) -> Iterator[SetUpEffect]:
        """Yield the groove sizes of each layer in words: without correction, and with correction where possible."""
        say = self.lathe.length_text
        if self.refusal:
            yield SetUpEffect("Wrong position", self.refusal)
        if not self.has_errors:
            return
        for corrected in (False, True) if self.can_be_corrected else (None,):
            how = "" if corrected is None else ", corrected" if corrected else ", not corrected"
            try:
                spreads = self.spreads(ErrorsView(corrected=corrected))
            except PlanError as error:
                yield SetUpEffect(f"Errors{how}", "cannot be set", error.message)
                continue
            for spread in spreads:
                first, *others = spread_words(spread, say) or ["not known"]
                yield SetUpEffect(f"Layer {spread.layer}{how}", first, "; ".join(others))

    def figures(self, view: ErrorsView) -> str:
        """Return sentences with the widths, gaps and depths of the first layers, with the errors at true size."""
        say = self.lathe.length_text
        spreads = self.spreads(view)
        spoken = ((spread.layer, ", ".join(spread_words(spread, say))) for spread in spreads[:_MOST_SAID])
        more = " The form of the pattern lists all layers." if len(spreads) > _MOST_SAID else ""
        return " ".join(f"Layer {number}: {words}." for number, words in spoken if words) + more

    def words(self, view: ErrorsView) -> str:
        """Return one or two sentences on how the picture shows the errors; "" without errors."""
        if not self.has_errors:
            return self.refusal
        drawn = "Errors drawn at true size" if view.factor == 1 else f"Errors enlarged {view.factor} times"
        if self.can_be_corrected:
            drawn += ", corrected by the settings" if self.as_seen(view).correct else ", not corrected"
        high = ""
        if self.job.face_runout_mm and self.job.face_high_at_deg is None:
            high = " No high side is entered, so the face is drawn highest at 0 deg."
        wrong = " The x marks the wrong position." if self.wrong is not None and not self.refusal else ""
        return f"{drawn}.{high}{wrong} {self.refusal}".rstrip()


def _set_wrong(cut: CutAsSet, table_deg: float, slide_mm: float) -> CutAsSet:
    to_slide_mm = None if cut.to_slide_mm is None else cut.to_slide_mm + slide_mm
    return cut._replace(angle_deg=cut.angle_deg + table_deg, slide_mm=cut.slide_mm + slide_mm, to_slide_mm=to_slide_mm)


def _shift_mm(seen: CutPicture, right: CutPicture) -> float:
    shift_mm = math.dist(seen.at_mm, right.at_mm)
    return max(shift_mm, math.dist(seen.centre_mm, right.centre_mm)) if seen.shape == "arc" else shift_mm


def _spread(layer: Layer, cuts: dict[PatternPlace, CutPicture]) -> LayerSpread:
    own = {position: cut for (number, position), cut in cuts.items() if number == layer.number}
    gaps = [gap_mm(own[one], own[other]) for one, other in neighbours(layer)]
    is_deep = bool(own) and all(cut.depth_mm > 0 for cut in own.values())
    has_width = is_deep and layer.cutter is not None
    return LayerSpread(
        layer.number,
        width_mm=_joined([width_range_mm(cut) for cut in own.values()]) if has_width else None,
        gap_mm=(min(gaps), max(gaps)) if gaps else None,
        depth_mm=_joined([depth_range_mm(cut) for cut in own.values()]) if is_deep else None,
    )


def spread_words(spread: LayerSpread, say: Callable[[float], str]) -> list[str]:
    """Return words for the width, gaps and depth of a layer's grooves, one text each. Unknown values are left out.

    `say` returns a length [mm] as text.
    """

    def between(least_mm: float, greatest_mm: float) -> str:
        one, other = say(least_mm), say(greatest_mm)
        number, _, unit = one.rpartition(" ")
        if one == other:
            return one
        return f"{number if other.endswith(f' {unit}') else one} to {other}"

    words = []
    if spread.width_mm is not None:
        words.append(f"grooves {between(*spread.width_mm)} wide")
    if spread.gap_mm is not None:
        least_mm, greatest_mm = spread.gap_mm
        if greatest_mm <= 0:
            words.append(f"neighbours overlap by {between(-greatest_mm, -least_mm)}")
        else:
            below = " (below 0: overlap)" if least_mm < 0 else ""
            words.append(f"gaps between neighbours {between(least_mm, greatest_mm)}{below}")
    if spread.depth_mm is not None:
        words.append(f"{between(*spread.depth_mm)} deep")
    return words


def _joined(ranges: list[Range]) -> Range:
    return min(least for least, _ in ranges), max(greatest for _, greatest in ranges)


def neighbours(layer: Layer) -> Iterator[tuple[int, int]]:
    """Yield the numbers of every two neighbouring positions of a layer that are both cut.

    In a ring, the neighbour of a position is the next position. In a list of places, it is the nearest position.
    """
    if layer.at_mm:
        places = layer.cut_positions
        nearest = nearest_points([(place.x_mm, place.y_mm) for place in places])
        yield from (
            (here.number, places[index].number)
            for here, index in zip(places, nearest, strict=True)
            if index is not None
        )
        return
    closes = layer.count > 2 and layer.spread_deg == FULL_CIRCLE and not layer.offset_step_mm
    for ring in range(layer.repeat):
        numbers = [ring * layer.count + k for k in range(1, layer.count + 1)]
        pairs = [*pairwise(numbers), *([(numbers[-1], numbers[0])] if closes else [])]
        yield from (pair for pair in pairs if not layer.skip & set(pair))
