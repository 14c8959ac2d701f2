"""The forms for turning, facing and grooving, with their figures and help texts."""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from core.lathe.lathe import CARRIAGE, Lathe, dial_words
from core.operations.fine_infeed import KEY as INFEED_RATIO
from core.operations.fine_infeed import FineInfeed
from core.operations.form import MATERIAL, Choice, Entry, Figure, Form, Row, set_up_rows
from core.operations.lengths import DIAL, RULE, STOP, length_words
from core.operations.pass_words import pass_length_text
from core.operations.size_cut import SizeCut, face_dials
from core.plan import Plan, Step
from core.values.quantities import number_text

_CUTS_HELP = (
    "The roughing cuts are all equally deep, and none is deeper than the deepest cut that you enter. The cut before "
    "the finishing cut is exactly as deep as the finishing cut, so that the tool springs equally in both. You "
    "measure before and after this cut.\n\n"
    "Instead of a single wanted size you can enter a fit, such as 30 g6, or two limits, such as 28.98 to 29.00 mm. "
    "The passes then aim at the middle of the limits, and the last measurement is compared with the limits. Depths "
    "of cuts are on the radius."
)
_LENGTH_HELP = (
    "\n\n"
    "To see where each pass ends, enter the distance from a face to the end of the cut. You touch off on that face. "
    "Each pass then ends at a reading of the carriage dial, at a stop or at a scribed line. With the carriage dial, "
    "all passes but the last stop short of the end by the depth of the finishing cut. The last pass cleans the "
    "shoulder. The edge that touches the face also cuts the shoulder, so the width of a turning tool does not "
    "matter. When you enter a measured length, it corrects the later passes."
)
_FINE_HELP = (
    "\n\n"
    "A fine infeed makes very small depths of cut easy to set. If you enter 10, the compound must move ten marks to "
    "cut one mark deeper. You swing the compound nearly along the surface, to the nearest mark of its scale. The "
    "tool then also moves along the surface. So a fine infeed suits a plain diameter or a face, but no shoulder, "
    "groove, thread or pattern. First cut nearly to size without a fine infeed, because the compound travels ten "
    "times the depth."
)
_TURN_HELP = (
    "This form plans the passes that turn an outside diameter or a bore to the wanted size. Enter the measured "
    "diameter, the wanted diameter and the deepest cut. Press F6 for the figures, F5 to start, F4 to save.\n\n"
    f"{_CUTS_HELP}{_LENGTH_HELP}{_FINE_HELP}"
)
_FACE_HELP = (
    "This form plans the passes that face the end of the work to the wanted length. Enter the deepest cut, and "
    "either the amount to take off or the measured and the wanted length. Press F6 for the figures, F5 to start, F4 "
    "to save.\n\n"
    "You set the depth towards the chuck, either with the carriage or with the compound swung along the bed.\n\n"
    f"{_CUTS_HELP}{_FINE_HELP}"
)
_GROOVE_HELP = (
    "This form plans a groove that you cut in several passes, with the tool fed straight into the work. Enter the "
    "deepest cut, and either the depth or the measured and the wanted diameter. Press F6 for the figures, F5 to "
    "start, F4 to save.\n\n"
    "The tool cuts towards the axis; in a bore it cuts away from the axis. Positions of the cross-slide are measured "
    "on the radius.\n\n"
    f"{_CUTS_HELP}{_LENGTH_HELP} A groove wider than its tool is cut in several plunges. Choose which edge of the "
    "tool is at the face when you set the dial."
)
_BY = "by"
"""The key of a choice that no job file has: how the user states the amount to remove."""
_REMOVE, _LENGTHS = "how much to take off", "length now and wanted"
_DIAMETERS, _DEPTH = "diameter now and wanted", "depth"
_PLACES = "two positions of the slide"
_KEYS: Mapping[str, tuple[str, ...]] = {
    _REMOVE: ("remove",),
    _LENGTHS: ("length_now", "length"),
    _DIAMETERS: ("diameter_now", "diameter"),
    _DEPTH: ("depth",),
    _PLACES: ("from", "to"),
}
_LABELS = {
    "remove": "To take off",
    "length_now": "Length now, measured",
    "length": "Length wanted",
    "diameter_now": "Diameter now, measured",
    "diameter": "Diameter wanted",
    "depth": "Depth",
    "from": "From",
    "to": "To",
}
_WITH_LIMITS = frozenset({"length", "diameter", "depth"})
"""Keys of the fields whose sizes may be two limits or a fit."""
_FACED, _GROOVED = (_REMOVE, _LENGTHS, _PLACES), (_DIAMETERS, _DEPTH, _PLACES)
SET_ON = ("dial", "cross_slide")
"""The key of the choice that names the slide, and the slide that counts without such a choice."""
_SIDE = Choice(key="side", label="Side", options=(("outside", None), ("inside", "inside")))


def how_to_cut(lathe: Lathe) -> tuple[Row, ...]:
    """Return the fields that every cut in passes has: the material, the deepest cut and the finishing cut."""
    return (
        MATERIAL,
        "How to cut",
        Entry(key="cut", label="Deepest cut", unit=lathe.unit, required=True, set_on=SET_ON),
        Entry(key="finish", label="Finishing cut", unit=lathe.unit, set_on=SET_ON),
    )


def where_along(lathe: Lathe, table: Mapping[str, Any], *, groove: bool = False) -> tuple[Row, ...]:
    """Return the fields for the start and the end of a cut along the axis. All of them may stay empty.

    `groove`: True for a groove.
    """
    # A usual value stays in the table if the table states it.
    edges = (("left, by the chuck", "left" if "touched_edge" in table else None), ("right", "right"))
    rows: tuple[Row, ...] = (
        "Where along the work",
        Entry(key="ends_at", label="Ends at, from the face", unit=lathe.unit, hint="(not set)", set_on=(CARRIAGE,)),
        Entry(key="starts_at", label="Starts at", unit=lathe.unit, hint="(the face)", set_on=(CARRIAGE,)),
        Entry(key="zero_face", label="Which face", hint="(the end face)", longest=40),
        lengths_by(lathe, table),
    )
    if not groove:
        return rows
    return (
        *rows,
        Entry(key="tool_width", label="Width of the tool", unit=lathe.unit, hint="(not set)"),
        Choice(key="touched_edge", label="Edge at the face", options=edges),
    )


def lengths_by(lathe: Lathe, table: Mapping[str, Any], *, stop: bool = True) -> Choice:
    """Return the choice of how lengths are set: by carriage dial, stop or rule. The lathe's usual method comes first.

    `stop`: False omits the stop.
    """
    ways = [*([DIAL] if CARRIAGE in lathe.dials else []), *([STOP] if stop else []), RULE]
    usual = DIAL if CARRIAGE in lathe.dials else RULE
    stated = "lengths_by" in table
    ordered = sorted(ways, key=lambda way: way != usual)
    options = tuple((way, None if way == usual and not stated else way) for way in ordered)
    return Choice(key="lengths_by", label="Lengths by", options=options)


def _turn_rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    diameter = partial(Entry, unit=lathe.unit, required=True, set_on=SET_ON, is_across=True)
    return (
        "Which diameter",
        _SIDE,
        diameter(key="from", label="Diameter now, measured"),
        diameter(key="to", label="Diameter wanted", limits=True),
        *how_to_cut(lathe),
        *_fine_infeed(lathe, table),
        *where_along(lathe, table),
        *set_up_rows(),
    )


def _face_rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    slide = _slide(face_dials(lathe), table)
    return (
        "Which slide, and how much",
        slide,
        *_amount_rows(_FACED, lathe, table),
        *_fine_infeed(lathe, table),
        *set_up_rows(),
    )


def _groove_rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    # Two diameters already show whether the cut is outside or inside.
    side = _SIDE._replace(applies=(_BY, (_DEPTH, _PLACES)))
    return (
        "Which slide, and how much",
        _slide(list(lathe.dials), table),
        side,
        *_amount_rows(_GROOVED, lathe, table),
        *where_along(lathe, table, groove=True),
        *set_up_rows(),
    )


def _fine_infeed(lathe: Lathe, table: Mapping[str, Any]) -> tuple[Row, ...]:
    if "compound" not in lathe.dials and INFEED_RATIO not in table:
        return ()
    return (Entry(key=INFEED_RATIO, label="Fine infeed ratio", hint="(not used)", whole=True),)


def _slide(names: Sequence[str], table: Mapping[str, Any]) -> Choice:
    """Return the choice of the slide that cuts. If no dial of the lathe fits, the only option is "none".

    `names`: the dials whose slides can make the cut.
    """
    dial = str(table.get("dial", ""))
    # A tailstock carries no turning tool, but a job may name its dial.
    names = [name for name in names if name not in {"tailstock", "quill"} or name == dial]
    options = tuple((dial_words(name), name) for name in names) or (("none", None),)
    return Choice(key="dial", label="Slide", options=options, start=dial_words(dial) if dial in names else "")


def _amount_rows(amounts: Sequence[str], lathe: Lathe, table: Mapping[str, Any]) -> Iterator[Row]:
    entered = next((amount for amount in amounts if any(key in table for key in _KEYS[amount])), amounts[0])
    yield Choice(key=_BY, label="Given as", options=tuple((amount, None) for amount in amounts), start=entered)
    for amount in amounts:
        for key in _KEYS[amount]:
            yield Entry(
                key=key,
                label=_LABELS[key],
                unit=lathe.unit,
                required=True,
                limits=key in _WITH_LIMITS,
                applies=(_BY, (amount,)),
                set_on=SET_ON,
                is_across=amount == _DIAMETERS,
            )
    yield from how_to_cut(lathe)


def _wanted(cutting: SizeCut, lathe: Lathe) -> str:
    return cutting.wanted.text if cutting.wanted else lathe.length_text(cutting.to_mm)


def _turn_name(cutting: SizeCut, lathe: Lathe) -> str:
    # A fit or limits have their own units; else one unit after both sizes is enough.
    start = lathe.length_text(cutting.from_mm) if cutting.wanted else lathe.length_text(cutting.from_mm).split()[0]
    return f"{'Bore' if cutting.outwards else 'Turn'} {start} to {_wanted(cutting, lathe)}"


def _face_name(cutting: SizeCut, lathe: Lathe) -> str:
    if cutting.measured == "length":
        return f"Face to {_wanted(cutting, lathe)}"
    return f"Face off {lathe.length_text(cutting.total_mm)}"


def _groove_name(cutting: SizeCut, lathe: Lathe) -> str:
    if cutting.measured == "diameter":
        return f"Groove to {_wanted(cutting, lathe)}"
    return f"Groove {lathe.length_text(cutting.total_mm)} deep"


def _hints(cutting: SizeCut, lathe: Lathe) -> Mapping[str, str]:
    return {"finish": lathe.length_text(cutting.finish_mm)}


def _summary(cutting: SizeCut, lathe: Lathe, plan: Plan) -> str:
    direction = f" {cutting.direction}" if cutting.direction else ""
    return f"{plan.figures['passes']} cuts{direction}, the last: {_reading(cuts_of(plan)[-1], cutting.dial, lathe)}."


def _figures(cutting: SizeCut, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    length_text, diameters = lathe.length_text, " diameter" if cutting.on_diameter else ""
    yield Figure("From", length_text(cutting.from_mm) + diameters)
    yield Figure("To", cutting.wanted_words(lathe) + diameters)
    yield Figure("To take off", length_text(cutting.total_mm), "on the radius" if cutting.on_diameter else "of travel")
    if cutting.direction:
        yield Figure("First cut goes", cutting.direction)
    if cutting.along:
        yield Figure("Along the work", length_words(cutting.along, lathe))
    if cutting.fine:
        yield Figure("Compound", cutting.fine.direction_words(), _scale_words(cutting.fine))
        yield Figure("Fine infeed", f"{number_text(cutting.fine.ratio, 2)} to 1")
        yield Figure("Compound travel", length_text(plan.figures["compound_travel_mm"]))
        yield Figure("Sideways", length_text(plan.figures["sideways_mm"]), "the tool also moves along the surface")
    yield from cut_figures(plan, cutting.dial, lathe)


def _scale_words(fine: FineInfeed) -> str:
    if fine.scale_reading_deg is None:
        return "set by an indicator"
    return f"its scale reads {number_text(fine.scale_reading_deg, 2)}°"


def cut_figures(plan: Plan, dial: str, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures of a plan's cuts: how many there are, and the settings of the first and the last cut.

    `dial`: the name of the dial that sets the cuts.
    """
    cuts = cuts_of(plan)
    yield Figure("Cuts", str(len(cuts)))
    for name, cut in (("First cut", cuts[0]), ("Finishing cut", cuts[-1])):
        yield Figure(name, _reading(cut, dial, lathe), f"takes {pass_length_text(cut.removed_mm or 0.0, cut, lathe)}")


def cuts_of(plan: Plan) -> list[Step]:
    """Return those steps of a plan that cut."""
    return [step for step in plan.steps if step.action == "cut"]


def _reading(cut: Step, dial: str, lathe: Lathe) -> str:
    setting = cut.setting(dial)
    return f"{dial_words(dial)} to {lathe.dials[dial].setting_text(setting)}" if setting else dial_words(dial)


_form = partial(Form, summary=_summary, figures=_figures, hints=_hints)
TURN_FORM = _form(rows=_turn_rows, name=_turn_name, help=_TURN_HELP)
FACE_FORM = _form(rows=_face_rows, name=_face_name, help=_FACE_HELP)
GROOVE_FORM = _form(rows=_groove_rows, name=_groove_name, help=_GROOVE_HELP)
