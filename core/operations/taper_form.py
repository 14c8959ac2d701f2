"""The form of a taper, with its figures and help."""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.form import Choice, Entry, Figure, Form, Row, set_up_rows
from core.operations.size_cut_form import SET_ON, cut_figures, how_to_cut, lengths_by
from core.operations.swung_compound import SwungCompound, angle_words
from core.operations.taper_angles import taper_scale_words
from core.operations.taper_cut import TaperCut
from core.plan import Plan

_HELP = (
    "This form plans an outside taper that you cut with the swung compound, fed by hand. First turn the blank "
    "parallel to the large diameter, then enter the taper and its length. Press F6 for the figures, F5 to start, F4 "
    "to save.\n\n"
    "The compound is swung to half the taper's angle, and the cross-slide sets the depth. You touch off on the "
    "blank. The taper grows with every pass until it has its full length.\n\n"
    "After roughing, measure the diameter at two lines and enter both diameters. halfnut then shows how far and in "
    "which direction to correct the angle, and plans the remaining depth again. At the end, you coat the taper with "
    "blue and try it in its socket.\n\n"
    "Enter the taper as a ratio on the diameter (1:20), an amount per length (0.6 in per ft), a standard (MT 2, "
    "metric 80) or an angle with its unit (7 deg). With a standard, the form knows the large diameter. If you enter "
    "the length between centres, the form also shows the set-over of the tailstock.\n\n"
    "If you enter how far the small end is from a face, you touch off on that face with the compound at its zero. "
    "You then lock the carriage at the small end. Each pass shows the reading of the compound at the large end."
)
_RATIO, _WHOLE, _SIDE, _SIZE = "ratio or standard", "whole angle", "half angle", "small diameter"


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    diameter = partial(Entry, unit=lathe.unit, set_on=SET_ON, is_across=True)
    start = _SIZE if "small" in table else "" if "of" in table else _RATIO
    return (
        "Which taper",
        Choice(
            key="of",
            label="Given as",
            options=((_RATIO, None), (_WHOLE, "included"), (_SIDE, "half"), (_SIZE, None)),
            start=start,
        ),
        Entry(key="taper", label="Taper", hint="(1:20, MT 2, 7 deg)", required=True, applies=("of", _NOT_SIZE)),
        diameter(key="small", label="Small diameter", required=True, applies=("of", (_SIZE,))),
        diameter(key="large", label="Large diameter", hint="(the standard's)"),
        Entry(key="length", label="Length of the taper", unit=lathe.unit, required=True),
        Entry(key="work_length", label="Length between centres", unit=lathe.unit, hint="(not set)"),
        *how_to_cut(lathe),
        "Where along the work",
        Entry(key="starts_at", label="Small end at", unit=lathe.unit, hint="(not set)", set_on=(CARRIAGE,)),
        Entry(key="zero_face", label="Which face", hint="(the end face)", longest=40),
        lengths_by(lathe, table, stop=False),
        *set_up_rows(),
    )


_NOT_SIZE = (_RATIO, _WHOLE, _SIDE)


def _name(taper: TaperCut, lathe: Lathe) -> str:
    return f"Taper {taper.named or f'{lathe.length_text(taper.large_mm)} to {lathe.length_text(taper.small_mm)}'}"


def _summary(taper: TaperCut, lathe: Lathe, plan: Plan) -> str:
    scale = f", scale {taper_scale_words(lathe.compound, taper.half_deg)}" if lathe.compound else ""
    return f"Compound {angle_words(taper.half_deg)} off the axis{scale}; {plan.figures['passes']} cuts."


def _figures(taper: TaperCut, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    length_text, figures = lathe.length_text, plan.figures
    swung = SwungCompound(half_deg=taper.half_deg, length_mm=taper.length_mm, lathe=lathe)
    yield Figure("Half angle", angle_words(taper.half_deg), f"whole angle {angle_words(2 * taper.half_deg)}")
    if lathe.compound:
        yield Figure("Compound's scale", taper_scale_words(lathe.compound, taper.half_deg))
    yield Figure("Large end", length_text(taper.large_mm), "diameter; turn the blank to it")
    yield Figure("Small end", length_text(taper.small_mm), f"diameter, over {length_text(taper.length_mm)}")
    yield Figure("Compound travels", swung.by_dial(taper.travel_mm), "by its dial")
    per_100 = [figures[f"indicator_per_100_{slide}_mm"] for slide in ("carriage", "compound")]
    notes = "of the carriage, on the finished taper", "of the compound, on a parallel bar"
    for moves_mm, note in zip(per_100, notes, strict=True):
        over = "100 mm" if lathe.indicator_unit == "mm" else "1 in"
        shown_mm = moves_mm if lathe.indicator_unit == "mm" else moves_mm * 25.4 / 100
        yield Figure("Indicator moves", lathe.indicator_text(shown_mm), f"in {over} {note}")
    if taper.tailstock_mm is not None:
        yield Figure("Tailstock instead", length_text(taper.tailstock_mm), "moved towards you")
    if taper.place:
        ends = f"{length_text(taper.place.starts_mm)} to {length_text(taper.ends_mm)}"
        yield Figure("Along the work", ends, f"from {taper.place.face}")
    yield from cut_figures(plan, "cross_slide", lathe)


def _hints(taper: TaperCut, lathe: Lathe) -> Mapping[str, str]:
    return {"finish": lathe.length_text(taper.finish_mm), "large": lathe.length_text(taper.large_mm)}


TAPER_FORM = Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP, hints=_hints)
