"""The dials of an operation for a printed page: each with its marks as seen from the handle, at one reading to set."""

from collections.abc import Iterator

from core.drawing import Bounds, Drawing, Name, Stroke
from core.lathe.dial_face import marks_around
from core.lathe.lathe import Lathe, dial_words
from core.plan import Plan, Step
from core.values.dials import Dial, Setting

_EACH_SIDE = 10
_LONG, _SHORT, _ZERO_LINE = 1.6, 0.9, 1.4
"""Lengths of marks and of the zero line above them, where the distance of two marks is 1."""


def dial_drawings(plan: Plan, lathe: Lathe) -> Iterator[tuple[str, Drawing]]:
    """Yield a drawing of every dial with marks that the steps set, at its last reading, with the name of it."""
    last: dict[str, tuple[Step, Setting]] = {}
    for step in plan.steps:
        if step.zeroed_dials:
            continue
        for setting in step.settings:
            if isinstance(setting, Setting):
                last[setting.dial] = step, setting
    for name, (step, setting) in last.items():
        dial = lathe.dials.get(name)
        if dial is not None and dial.per_turn is not None:
            words = f"{dial_words(name).capitalize()} dial at {dial.setting_text(setting)}: {step.name}"
            yield words, dial_drawing(dial, round(dial.marks_at(setting.position)))


def dial_drawing(dial: Dial, marks_inwards: int) -> Drawing:
    """Return a dial with a mark below the zero line, and the marks beside it; marks count inwards from 0."""
    strokes = [Stroke(((0.0, _ZERO_LINE), (0.0, 0.1)), "tool")]
    names = []
    for mark in marks_around(dial, marks_inwards, _EACH_SIDE):
        x = float(mark.offset)
        length = _LONG if mark.long else _SHORT
        strokes.append(Stroke(((x, 0.0), (x, -length))))
        if mark.number:
            names.append(Name(mark.number, (x, -_LONG - 0.6)))
    edge = _EACH_SIDE + 0.5
    strokes.append(Stroke(((-edge, 0.0), (edge, 0.0))))
    return Drawing(bounds=Bounds(-edge, edge, -_LONG - 1.0, _ZERO_LINE), strokes=tuple(strokes), names=tuple(names))
