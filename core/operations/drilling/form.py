"""The form for entering a hole on the spindle's axis, with the figures and the help that the form shows."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from core.lathe.lathe import Lathe, dial_words
from core.operations.drilling.hole import Hole, room_below_thread_mm
from core.operations.drilling.job import NO_STARTER, STARTERS, drilling_dials
from core.operations.drilling.tool_cut import TOOL
from core.operations.form import MATERIAL, Choice, Entry, Figure, Form, Row, set_up_rows
from core.operations.size_cut_form import cuts_of
from core.operations.threads.drills import (
    TappingDrill,
    full_depths,
    height_words,
    nearest_words,
    percent_of_thread,
    tapping_words,
)
from core.plan import Plan

_BY = "by"
"""The key of a choice that only the screen has: drill, thread or reamer as the source of the hole's size."""
_DRILLED, _TAPPED, _REAMED = "drilled", "tapped", "reamed"
_FULL, _POINT, _THROUGH, _THREAD = "full diameter", "point", "through", "thread"
_HELP = (
    "This form plans a hole on the spindle's axis, drilled from the tailstock. You read the depth on the tailstock's "
    "dial or on a scale on its quill. Enter the drill and the depth, or the thread that you want to tap. Press F6 "
    "for the figures, F5 to start, F4 to save.\n\n"
    "For a blind hole, choose whether the depth is measured to the full diameter or to the point. For a hole through "
    "the work, enter the length of the work. The drill continues until its full diameter is through.\n\n"
    "For a tapped hole, the form chooses a stock drill. The hole is deeper than its full thread by the lead of the "
    "last tap, plus one pitch as room for chips (common practice). A taper tap has a lead of 8 pitches, a second tap "
    "4 and a bottoming tap 2.\n\n"
    "Enter a drill as a size (6.8 mm, 13/64 in) or as a name (#7, F). List pilot drills from small to large, such as "
    "4, 8. You touch off separately with each tool. In a hole already started, you touch off by eye, with the "
    "corners of the drill's lips at the face. It is more exact to touch off on a flat strip of known thickness, held "
    "against the face.\n\n"
    "A reamer has a tapered lead at its end and cuts its full size only behind this lead. In a hole through the "
    "work, the form therefore feeds a machine reamer further than the drill's full diameter, by a quarter of the "
    "reamer's diameter (common practice). A hand reamer has a longer lead, so enter your own depth to ream.\n\n"
    "If you enter no peck, each peck is as deep as the drill is wide. If you also enter a last peck, the pecks "
    "become evenly smaller from the first peck to the last."
)


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    made = _TAPPED if "thread" in table else _REAMED if "ream" in table else _DRILLED
    deep = _THROUGH if "through" in table else _THREAD if "thread_depth" in table else ""
    unit, blind = lathe.unit, ("depth_to", (_FULL, _POINT))
    return (
        "Which hole",
        Choice(key=_BY, label="The hole is", options=((_DRILLED, None), (_TAPPED, None), (_REAMED, None)), start=made),
        Entry(key="drill", label="Drill", unit=unit, required=True, applies=(_BY, (_DRILLED,))),
        Entry(key="thread", label="Thread", required=True, hint="(M8, 1/4-20 UNC)", applies=(_BY, (_TAPPED,))),
        Entry(key="tapping_drill", label="Tapping drill", unit=unit, applies=(_BY, (_TAPPED,))),
        _usual_first("tap", "Last tap", ("second", "taper", "bottoming"), table, (_BY, (_TAPPED,))),
        Entry(key="ream", label="Reamer", unit=unit, required=True, limits=True, applies=(_BY, (_REAMED,))),
        Entry(key="reaming_drill", label="Drill before reaming", unit=unit, applies=(_BY, (_REAMED,))),
        Choice(
            key="depth_to",
            label="Depth of",
            options=((_FULL, _FULL), (_POINT, _POINT), (_THROUGH, None), (_THREAD, None)),
            start=deep,
        ),
        Entry(key="depth", label="Depth", unit=unit, required=True, applies=blind),
        Entry(key="through", label="Length of the work", unit=unit, required=True, applies=("depth_to", (_THROUGH,))),
        Entry(key="past", label="Past the far face", unit=unit, applies=("depth_to", (_THROUGH,))),
        Entry(
            key="thread_depth", label="Depth of full thread", unit=unit, required=True, applies=("depth_to", (_THREAD,))
        ),
        Entry(key="ream_depth", label="Depth to ream", unit=unit, applies=(_BY, (_REAMED,))),
        MATERIAL,
        "How to drill",
        _usual_first("dial", "Dial", drilling_dials(lathe), table),
        _usual_first("start_with", "Start with", (*STARTERS, NO_STARTER), table),
        Entry(
            key="start_depth",
            label="Starting depth",
            unit=unit,
            hint="(by eye)",
            applies=("start_with", STARTERS),
        ),
        Entry(key="pilots", label="Pilot drills", unit=unit, hint="(none; such as 4, 8)", listed=True),
        Entry(key="point_angle", label="Point angle", unit="deg", hint="(118 deg)"),
        Entry(key="peck", label="Deepest peck", unit=unit, hint="(one diameter)"),
        Entry(key="last_peck", label="Last peck", unit=unit, hint="(same depth)"),
        Entry(key="strip", label="Touch off on a strip", unit=unit, hint="(no strip)"),
        Entry(key="cutting_speed", label="Cutting speed", unit="m/min" if unit == "mm" else "ft/min", hint="(not set)"),
        *set_up_rows(),
    )


def _usual_first(
    key: str,
    label: str,
    words: Sequence[str],
    table: Mapping[str, Any],
    applies: tuple[str, Collection[str]] | None = None,
) -> Choice:
    """Return a form's choice between `words`. The first word applies if the user chooses none.

    The form writes the first word to the job file only if that file already has it. `table`: the values in the job
    file. `applies`: the key of another choice, and the options with which this choice is shown; None if it is always
    shown.
    """
    first = table.get(key)
    options = tuple((word, word if word != words[0] or word == first else None) for word in words)
    return Choice(key=key, label=label, options=options or (("none", None),), applies=applies)


def _name(hole: Hole, lathe: Lathe) -> str:
    deep = "through" if hole.through_mm else f"{lathe.length_text(hole.full_mm)} deep"
    if hole.tapped is not None:
        return f"Drill for {hole.tapped.thread.designation}, {deep}"
    if hole.reamer is not None:
        return f"Drill and ream {lathe.length_text(hole.reamer.size_mm)}, {deep}"
    return f"Drill {hole.drill.text}, {deep}"


def _hints(hole: Hole, lathe: Lathe) -> Mapping[str, str]:
    hints = {
        "tapping_drill": hole.drill.text,
        "reaming_drill": hole.drill.text,
    }
    if hole.through_mm is not None:
        hints["past"] = lathe.length_text(hole.full_mm - hole.through_mm)
    if hole.reamer is not None:
        hints["ream_depth"] = lathe.length_text(hole.reamer.depth_mm)
    return hints


def _summary(hole: Hole, lathe: Lathe, plan: Plan) -> str:
    pecks = [step for step in cuts_of(plan) if hole.reamer is None or step.extra.get(TOOL) != hole.reamer.key]
    setting = pecks[-1].setting(hole.dial)
    reading = f"{dial_words(hole.dial)} to {lathe.dials[hole.dial].setting_text(setting)}" if setting else ""
    return f"{len(pecks)} peck{'' if len(pecks) == 1 else 's'}, the last of the {hole.last_drill.name}: {reading}."


def _figures(hole: Hole, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    length_text, last = lathe.length_text, hole.last_drill
    if hole.tapped is not None:
        thread = hole.tapped.thread
        yield Figure("Thread", thread.designation, "inside, tapped by hand")
        basis = full_depths(thread)[0]
        drill = TappingDrill(hole.drill, percent_of_thread(hole.drill.mm, thread, basis), basis)
        yield Figure("Tapping drill", tapping_words(thread, drill), height_words(thread, length_text))
        yield Figure("Drills near it", nearest_words(hole.drill.mm))
        if hole.tapped.depth_mm is not None:
            room = length_text(room_below_thread_mm(thread.pitch_mm, hole.tapped.tap))
            yield Figure("Full thread", f"{length_text(hole.tapped.depth_mm)} deep")
            yield Figure(
                "Below thread", room, f"lead of the {hole.tapped.tap} tap and a pitch for chips (common practice)"
            )
    else:
        yield Figure("Drill", hole.drill.text)
    yield Figure("Full diameter", f"{length_text(hole.full_mm)} from the face")
    if hole.through_mm is not None:
        yield Figure(
            "Through",
            length_text(hole.through_mm),
            f"and {length_text(hole.full_mm - hole.through_mm)} past the far face",
        )
    yield Figure(
        "Point",
        length_text(last.point_mm),
        f"long at {hole.point_angle_deg:g}°; the tip goes {length_text(last.depth_mm)} deep",
    )
    if hole.reamer is not None:
        leaves = length_text(hole.reamer.size_mm - hole.drill.mm)
        yield Figure(
            "Reamer",
            hole.reamer.name,
            f"takes {leaves} off the diameter; its end goes {length_text(hole.reamer.depth_mm)} deep",
        )
    for tool in hole.tools:
        cuts = [step for step in cuts_of(plan) if step.extra.get(TOOL) == tool.key]
        setting = cuts[-1].setting(hole.dial)
        count = f"{len(cuts)} peck{'' if len(cuts) == 1 else 's'}" if tool.kind != "reamer" else "one feed"
        reading = f"{dial_words(hole.dial)} to {lathe.dials[hole.dial].setting_text(setting)}" if setting else ""
        rpm = hole.listed_rpm(tool, lathe)
        yield Figure(
            tool.name[:1].upper() + tool.name[1:], reading, f"{count}{'' if rpm is None else f', {rpm:g} rpm'}"
        )


DRILL_FORM = Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP, hints=_hints)
