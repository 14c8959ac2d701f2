"""The fields of the pattern form, for one cutter, one layer and the whole pattern, and when each field applies."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from core.lathe.lathe import CARRIAGE, Lathe, dial_words
from core.operations.form import Choice, Entry, Row, set_up_rows
from core.operations.natural_step import INDICATOR
from core.operations.patterns.boring_head import HEAD
from core.operations.patterns.effects import SetUpErrors
from core.operations.patterns.layers import SHAPES, USUAL_DEPTH_DIAL, USUAL_OFFSET_DIAL
from tui.operation.divide_figures import WITH, means_choice

FILL_IN = "=*"
_LONGEST_LIST = 1_000_000
"""The longest text of a list field. A job file holds no longer list, so the form never cuts a list off."""
_entry = partial(Entry, leave_out=FILL_IN)
"""A number field that does not accept the Fill-in key as text."""

_DEPTH_ON, _OFFSET_ON, _HEAD_ON = ("depth_dial", USUAL_DEPTH_DIAL), ("offset_dial", USUAL_OFFSET_DIAL), (HEAD,)
_READ_ON = (INDICATOR,)

# Choices that exist only on screen. A job file does not contain their words.
PLACED, CONDITION, CONDITION_2, MORE, NOSE = "placed", "condition", "condition_2", "more", "nose"
CENTRE, POINT, RINGS, LISTED = "round the centre", "round a point", "in rings of rings", "from a list"
HIDDEN, SHOWN = "empty ones hidden", "shown"
SHARP, FLAT, ROUND = "sharp", "flat", "round"
NO_CONDITION, FAR = "none", "far side"
MEETS: Mapping[str, str] = {"points meet": "points", "grooves meet": "grooves"}
CONDITIONS: Mapping[str, str] = {
    "points overlap by": "overlap",
    "land between": "land",
    "touches neighbour": "touches",
    "inner radius of points": "inner",
    "outer radius of points": "outer",
    "inner radius of edges": "inner_edge",
    "outer radius of edges": "outer_edge",
}
"""The job-file key of each condition that has a value, by its displayed words."""
_CONDITION_WORDS = (NO_CONDITION, *MEETS, *CONDITIONS)
SIZES = ("count", "offset", "circle_radius")
"""The fields that a condition can fill."""
CUTTER_KEYS = ("name", "tip_angle", "tip_flat", "tip_radius", "reach")
LAYER_CHOICES = ("shape", "cutter", PLACED, CONDITION, CONDITION_2, MORE)
SEEN = "seen_change"
"""The key of an on-screen field: the smallest visible change of land or gap. Job files do not hold it."""
FLAGS = ("correct",)
"""The keys of the whole pattern that are true or false in a job file."""


def cutter_rows(unit: str) -> tuple[Row, ...]:
    """Return the fields of one of the pattern's own cutters. `unit`: the unit of a number typed without one."""
    return (
        _entry(key="name", label="Name", hint="(its number in the list)", longest=80),
        _entry(key="tip_angle", label="Included angle of point", unit="deg", hint="(not set)"),
        Choice(key=NOSE, label="Nose", options=tuple((words, None) for words in (SHARP, FLAT, ROUND))),
        _entry(key="tip_flat", label="Flat at the point", unit=unit),
        _entry(key="tip_radius", label="Radius of the nose", unit=unit),
        _entry(key="reach", label="Shank rubs at a depth", unit=unit, hint="(not known)", set_on=_DEPTH_ON),
    )


def layer_rows(unit: str) -> tuple[Row, ...]:
    """Return the fields of one layer, in the order in which a turner decides about them.

    `unit`: the unit of a number typed without one.
    """
    return (
        Choice(key="shape", label="Shape", options=tuple((shape, shape) for shape in SHAPES)),
        Choice(key="cutter", label="Cutter", options=(("not chosen", None),)),
        Choice(key=PLACED, label="Positions", options=tuple((words, None) for words in (CENTRE, POINT, RINGS, LISTED))),
        _entry(key="repeat", label="Rings", whole=True),
        _entry(key="repeat_offset", label="Rings' own offset", unit=unit, set_on=_OFFSET_ON),
        _entry(key="repeat_start", label="First ring at", unit="deg", hint="(0°)"),
        _entry(key="about", label="Round the point x, y", hint="(0, 0)"),
        _entry(key="at", label="Positions x, y; x, y", hint="such as 10, 0; -3, 12.5", longest=_LONGEST_LIST),
        _entry(key="count", label="Count", whole=True),
        _entry(key="offset", label="Offset", unit=unit, set_on=_OFFSET_ON),
        _entry(key="from", label="Slot from an offset of", unit=unit, set_on=_OFFSET_ON),
        _entry(key="to", label="  to an offset of", unit=unit, set_on=_OFFSET_ON),
        _entry(key="circle_radius", label="Circle radius", unit=unit, set_on=_HEAD_ON),
        Choice(key=CONDITION, label="Condition for a size", options=tuple((words, None) for words in _CONDITION_WORDS)),
        Choice(key=CONDITION_2, label="  second condition", options=tuple((words, None) for words in _CONDITION_WORDS)),
        _entry(key="overlap", label="  Points overlap by", unit=unit),
        _entry(key="land", label="  Land between grooves", unit=unit),
        _entry(key="touches", label="  Touches neighbour no.", whole=True, hint="such as 3"),
        _entry(key="inner", label="  Inner radius, points", unit=unit),
        _entry(key="outer", label="  Outer radius, points", unit=unit),
        _entry(key="inner_edge", label="  Inner radius, edges", unit=unit),
        _entry(key="outer_edge", label="  Outer radius, edges", unit=unit),
        _entry(key="through", label="Angle of the arc", unit="deg"),
        _entry(key="start", label="First position at", unit="deg", hint="(0°)"),
        _entry(
            key="depth",
            label="Depth, or a list",
            unit=unit,
            hint="(not set)",
            longest=_LONGEST_LIST,
            set_on=_DEPTH_ON,
            takes_list=True,
        ),
        _entry(key="cut", label="Deepest cut", unit=unit, hint="(in one cut)", set_on=_DEPTH_ON),
        _entry(key="skip", label="Skipped", hint="(none)", longest=_LONGEST_LIST),
        Choice(key=MORE, label="Rarely used fields", options=((HIDDEN, None), (SHOWN, None))),
        _entry(key="spread", label="Positions spread over", unit="deg", hint="(360°)"),
        _entry(key="offset_step", label="Offset grows by", unit=unit, hint="(0)", set_on=_OFFSET_ON),
        _entry(key="circle_radius_step", label="Circle radius grows by", unit=unit, hint="(0)", set_on=_HEAD_ON),
        _entry(key="depth_step", label="Depth grows by", unit=unit, hint="(0)", set_on=_DEPTH_ON),
    )


LAYER_ENTRIES = tuple(row.key for row in layer_rows("mm") if isinstance(row, Entry))


def layer_keys(words: Mapping[str, str], texts: Mapping[str, str]) -> set[str]:
    """Return the keys of the fields that apply to a layer.

    `words`: the selected option of each choice, by key. `texts`: the text of each field, by key.
    """
    shape = words["shape"]
    listed = shape != "slots" and words[PLACED] == LISTED
    keys, rare = {"shape", "cutter", "depth", "skip", MORE}, set[str]()
    if texts.get("depth", "").strip():
        keys, rare = keys | {"cut"}, rare | {"depth_step"}
    if shape != "slots":
        keys.add(PLACED)
    if listed:
        keys.add("at")
    else:
        keys |= {"count", "start"} | ({"from", "to"} if shape == "slots" else {"offset"})
        rare |= {"spread", "offset_step"}
        if shape != "slots":
            keys |= {POINT: {"about"}, RINGS: {"about", "repeat", "repeat_offset", "repeat_start"}}.get(
                words[PLACED], set()
            )
    if shape == "arcs":
        keys.add("through")
    if shape == "circles":
        keys.add("circle_radius")
        rare.add("circle_radius_step")
        if not listed:
            keys |= _condition_keys(words)
    return keys | {key for key in rare if words[MORE] == SHOWN or texts.get(key, "").strip()}


def _condition_keys(words: Mapping[str, str]) -> set[str]:
    chosen = conditions(words)
    return {CONDITION, *({CONDITION_2} if chosen else ()), *(CONDITIONS[word] for word in chosen if word in CONDITIONS)}


def conditions(words: Mapping[str, str]) -> tuple[str, ...]:
    """Return the conditions selected for a layer, in the words that the form shows.

    `words`: the selected option of each choice, by key.
    """
    first, second = words[CONDITION], words[CONDITION_2]
    if first == NO_CONDITION:
        return ()
    return (first,) if second in {NO_CONDITION, first} else (first, second)


def needed_keys(words: Mapping[str, str], texts: Mapping[str, str]) -> set[str]:
    """Return the keys of a layer's required fields. Each condition makes one of three sizes optional.

    `words`: the selected option of each choice, by key. `texts`: the text of each field, by key.
    """
    needed = {"at", "count", "offset", "from", "to", "circle_radius", "through", "repeat", "repeat_offset"}
    needed |= set(CONDITIONS.values())
    needed &= layer_keys(words, texts)
    empty = {key for key in SIZES if key in needed and not texts.get(key, "").strip()}
    chosen = conditions(words) if CONDITION in layer_keys(words, texts) else ()
    return needed - empty if len(empty) <= len(chosen) else needed


def whole_rows(lathe: Lathe, table: Mapping[str, Any]) -> tuple[Row, ...]:
    """Return the fields of the whole pattern that come after the layers. `table`: the operation's keys and values."""
    unit, usual, say = lathe.unit, SetUpErrors(), lathe.length_text
    return (
        "How to set the table",
        means_choice(lathe, table.get(WITH)),
        _choice(
            "order",
            "Order of cuts",
            (("once round at each depth", "round"), ("each to full depth", "position")),
            table,
        ),
        _choice(
            "layer_order",
            "Order of layers",
            (("wide first", "wide first"), ("fewest changes", "fewest changes"), ("as listed", "written")),
            table,
        ),
        _dial_choice("depth_dial", "Depth is set on", USUAL_DEPTH_DIAL, lathe, table),
        _dial_choice("offset_dial", "Offset is set on", USUAL_OFFSET_DIAL, lathe, table),
        _choice("offset_side", "Spindle lies on the", (("near side", "near"), (FAR, "far")), table),
        *set_up_rows(speed=False),
        "Errors of the set-up",
        _entry(key="height_error", label="Table axis too high by", unit=unit, hint="(0)", set_on=_READ_ON),
        _entry(key="eccentricity", label="Work eccentric by", unit=unit, hint="(0)", set_on=_READ_ON),
        _entry(key="eccentric_at", label="  towards", unit="deg", hint="such as 90"),
        _choice("correct", "Corrected by settings", (("no", "false"), ("yes", "true")), table),
        _entry(key="face_runout", label="Face runs out by", unit=unit, hint="(not measured)", set_on=_READ_ON),
        _entry(key="face_radius", label="  read at a radius of", unit=unit, hint="(each layer's)"),
        _entry(key="face_high_at", label="  highest at", unit="deg", hint="(not known)"),
        "What if",
        _entry(key=SEEN, label="Smallest visible change", unit=unit, hint="(0.1 mm)"),
        _entry(key="table_runout", label="Rim runs out by", unit=unit, hint=f"({say(usual.table_tir_mm)})"),
        _entry(key="position_error", label="One position wrong by", unit="arcmin", hint="(1')"),
        _entry(key="wrong_position", label="  drawn at position", whole=True, hint="(none)"),
        _entry(key="wrong_layer", label="  of layer", whole=True, hint="(1)"),
        _entry(key="slide_error", label="  slide too far by", unit=unit, hint="(0)"),
        _entry(key="tilt", label="Axes out of parallel by", unit="deg", hint=f"({usual.tilt_deg:g} deg)"),
    )


def blank_row(unit: str) -> Row:
    """Return the field for the diameter of the blank. `unit`: the unit of a number typed without one."""
    return _entry(key="blank_diameter", label="Diameter of the blank", unit=unit, hint="(not set)")


def _choice(key: str, label: str, options: Sequence[tuple[str, str]], table: Mapping[str, Any]) -> Choice:
    """Return a choice field. Its first option is the default, which is saved only if the job file already states it."""
    first, *others = options
    usual = (first[0], first[1] if key in table else None)
    return Choice(key=key, label=label, options=(usual, *others))


def _dial_choice(key: str, label: str, usual: str, lathe: Lathe, table: Mapping[str, Any]) -> Choice:
    """Return a choice field with the dials of the slides.

    The usual dial is not saved if the pattern came from a job file that names no dial.
    """
    names = sorted((name for name in lathe.dials if name != HEAD), key=lambda name: (name != usual, name != CARRIAGE))
    named = table.get(key)
    if isinstance(named, str) and named not in names:
        names.append(named)
    is_silent = bool(table.get("layer")) and key not in table
    options = tuple((dial_words(name), None if is_silent and name == usual else name) for name in names)
    return Choice(key=key, label=label, options=options or (("none", None),))


def whole_unused(table: Mapping[str, Any], has_depth: bool) -> set[str]:
    """Return the keys of the whole pattern's fields that do not apply.

    `has_depth`: True if at least one layer has a depth.
    """
    unused = set[str]()
    if not has_depth:
        unused |= {"depth_dial", "order"}
    if "wrong_position" not in table:
        unused |= {"wrong_layer", "slide_error"}
    if "face_runout" not in table:
        unused |= {"face_radius", "face_high_at"}
    if "eccentricity" not in table:
        unused.add("eccentric_at")
    if "eccentricity" not in table and "height_error" not in table:
        unused.add("correct")
    return unused
