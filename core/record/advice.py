"""Advice about a dial whose errors follow a pattern, such as those of a wrong lathe file or of a drift.

The advice is only shown to the user. The program corrects nothing by itself.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from core.lathe.lathe import Lathe, dial_words
from core.record.lathe_record import DialRecord
from core.record.observations import CutKind, DialDifference
from core.record.statistics import Slope, common_slope
from core.values.dials import Dial
from core.values.quantities import number_text

FEWEST_FOR_ADVICE = 6
"""The smallest number of measurements from which advice is given."""
_LEAST_GROWTH = 0.004
"""The smallest difference between a slide's travel and its dial that is mentioned, as a share of the travel."""
_ROUGHLY = 0.15
"""How near a ratio must be to twice or half, if the cuts are too much alike for a more exact comparison."""


class _Cause(NamedTuple):
    """A usual mistake in how the lathe file describes a dial. It makes the described travel wrong by a known factor."""

    ratio: float
    """The true travel divided by the described travel."""
    near: float
    """The largest distance of a measured ratio from `ratio`, however certain the measured ratio is."""
    widest: float
    """The largest half-width of the interval of the measured ratio."""
    words: str


_INCH_IN_METRIC = 1.016
"""2.54 mm, ten turns to the inch, for a dial of 2.5 mm; 40 thou, which are 1.016 mm, for a screw of 1 mm."""
_INCH_SCREW = "An inch screw with a metric dial has this effect (2.54 mm for 2.5 mm)"
_METRIC_SCREW = "A metric screw with an inch dial has this effect (1 mm marked as 40 thou)"


def advice(record: DialRecord, lathe: Lathe) -> tuple[str, ...]:
    """Return sentences of advice about a dial: that the lathe file may describe it wrongly, or that it drifts.

    Only the measurements since the last adjustment of the lathe count. Return () if they are too few, or if their
    differences from the dial follow no pattern.
    """
    dial, differences = lathe.dials[record.cut.dial], record.latest.differences
    if len(differences) < FEWEST_FOR_ADVICE:
        return ()
    described = _description(dial, differences)
    return (described,) if described else tuple(_drift(differences, lathe, record.cut))


def growth(differences: Sequence[DialDifference], *, through_zero: bool = False) -> Slope | None:
    """Return how the differences between measurement and dial grow with travel [mm per mm].

    Measurements right after a touch-off have an offset of their own: the error of the touch-off. `through_zero`: True
    to fit a line through zero, without any offset. Return None if the measurements are too few to judge.
    """
    known = [(one, one.travel_mm) for one in differences if one.travel_mm is not None]
    groups = [
        [(travel, one.difference_mm) for one, travel in known if one.after_touch_off == touched]
        for touched in (True, False)
    ]
    return common_slope(groups, through_zero=through_zero)


def _description(dial: Dial, differences: Sequence[DialDifference]) -> str:
    """Return a sentence if the slide's travel differs from the dial by a constant factor; "" otherwise."""
    slope = growth(differences)
    if slope is not None and slope.is_sure and abs(slope.slope) > _LEAST_GROWTH:
        for cause in _causes(dial):
            off = abs(1 + slope.slope - cause.ratio)
            if slope.half_width() < cause.widest and off <= max(slope.half_width(), cause.near):
                return _sentence(dial, cause.ratio, cause.words)
        if slope.half_width() < abs(slope.slope) / 2:
            ratio = 1 + slope.slope
            angle = ", and the angle at which it was set" if dial.name == "compound" else ""
            return _sentence(dial, ratio, f"Check its per_turn, lead and reads in the lathe file{angle}")
    rough = growth(differences, through_zero=True)
    if rough is None or rough.half_width() > _ROUGHLY:
        return ""
    for cause in _causes(dial):
        if cause.widest > _ROUGHLY and abs(1 + rough.slope - cause.ratio) < _ROUGHLY:
            return _sentence(dial, cause.ratio, cause.words)
    return ""


def _causes(dial: Dial) -> Iterator[_Cause]:
    reads = 'The lathe file has reads = "{}"; the measurements fit reads = "{}"'
    if dial.lead_mm is not None:
        twice = half = "Check its lead in the lathe file"
    elif dial.reads_diameter:
        twice, half = reads.format("diameter", "travel"), "Check per_turn in the lathe file"
    else:
        twice, half = "Check per_turn in the lathe file", reads.format("travel", "diameter")
    yield _Cause(2.0, 0.02, 0.25, twice)
    yield _Cause(0.5, 0.01, 0.25, half)
    yield _Cause(_INCH_IN_METRIC, 0.002, 0.008, _INCH_SCREW)
    yield _Cause(1 / _INCH_IN_METRIC, 0.002, 0.008, _METRIC_SCREW)


def _sentence(dial: Dial, ratio: float, words: str) -> str:
    name = dial_words(dial.name)
    return (
        f"The slide of the {name} moves {number_text(ratio, 3)} times as far as its dial shows. {words}. "
        "Check the travel with an indicator before you change the file."
    )


def _drift(differences: Sequence[DialDifference], lathe: Lathe, cut: CutKind) -> Iterator[str]:
    """Yield a sentence if the measurements' differences from the dial drift with time by more than chance explains.

    A drift of less than one mark of the dial is not mentioned, because nobody can set the dial more finely.
    """
    places = list(enumerate(differences))
    groups = [
        [(float(place), one.difference_mm) for place, one in places if one.after_touch_off == touched]
        for touched in (True, False)
    ]
    slope = common_slope(groups)
    if slope is None or not slope.is_sure:
        return
    change_mm = slope.slope * (len(differences) - 1)
    if abs(change_mm) < lathe.dials[cut.dial].mark_mm * (2 if cut.on_diameter else 1):
        return
    verb = "grew" if change_mm > 0 else "shrank"
    first, last = differences[0].wall[:10], differences[-1].wall[:10]
    yield (
        f"The differences between dial and measurement drift. From {first} to {last} the cut at the same reading "
        f"{verb} by about {lathe.length_text(abs(change_mm))}. Wear, a loose gib or a different method of measuring "
        "can cause this."
    )
