"""Reads the input of a `drill` operation: the size of the hole, its depth, and how to drill it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import get_args

from core.lathe.lathe import Lathe, dial_words, how_to_add
from core.operations.drilling.hole import (
    USUAL_POINT_DEG,
    DepthTo,
    Hole,
    HoleTool,
    Tap,
    Tapped,
    ToolKind,
    point_length_mm,
    reamer_lead_mm,
    room_below_thread_mm,
)
from core.operations.threads.designation import read_thread
from core.operations.threads.drills import DRILL_EXAMPLES, Drill, drill_series, read_drill, tapping_drill
from core.operations.threads.thread import Thread
from core.values.errors import QuantityError, ThreadError
from core.values.fields import Table
from core.values.plain_text import quoted
from core.values.wanted_size import WantedSize

DRILLING_DIALS = ("tailstock", "quill")
"""The dials that can feed a drill, the usual dial first."""
NO_STARTER = "none"
STARTERS: tuple[ToolKind, ...] = ("centre drill", "spotting drill")
_BESIDE = {"tapping_drill": "thread", "tap": "thread", "reaming_drill": "ream"}
"""Keys that need another key in the same operation."""
_MOST_PILOTS = 20
_LEAST_POINT_DEG, _MOST_POINT_DEG = 60.0, 179.0
_USUAL_PAST_MM = {"mm": 1.0, "in": 0.04 * 25.4}
"""How far a full diameter goes past the far face, by the lathe's unit; common practice, no source."""
_SHORT_OF_BOTTOM_MM = {"mm": 1.0, "in": 0.04 * 25.4}
"""Distance between a reamer's end and the bottom of the full diameter; common practice, no source."""
_REAMING_MM = ((6.0, 0.1), (13.0, 0.2), (25.0, 0.3), (float("inf"), 0.5))
"""Metal that a reamer removes from the diameter [mm], for sizes up to the first number; common practice, no source."""


@dataclass(frozen=True)
class _Made:
    """What gives the hole its size: the last drill, and the thread to tap or the reamer that may follow."""

    drill: Drill
    thread: Thread | None = None
    ream: WantedSize | None = None


@dataclass(frozen=True)
class _Deep:
    """How deep the hole goes [mm]. `past_mm` is how far the full diameter goes beyond the far face of the work."""

    full_mm: float
    measured_to: DepthTo = "full diameter"
    through_mm: float | None = None
    past_mm: float = 0.0
    thread_mm: float | None = None
    """Depth of full thread; None without a thread, or for a hole through the work."""


def drilling_dials(lathe: Lathe) -> list[str]:
    """Return the names of those dials of a lathe that can feed a drill, the usual one first."""
    return [name for name in DRILLING_DIALS if name in lathe.dials]


def read_hole(table: Table, lathe: Lathe) -> Hole | None:
    """Return the hole of a `drill` operation; None after recording a problem in `table`."""
    before = len(table.problems)
    dial, made = _dial(table, lathe), _made(table)
    point_deg = table.angle("point_angle", least=_LEAST_POINT_DEG, most=_MOST_POINT_DEG) or USUAL_POINT_DEG
    tap = _tap(table)
    deep = _depth(table, lathe, made, point_deg, tap)
    pilots, pecks = _pilots(table, made), _pecks(table, lathe, dial)
    starter, start_mm = _starter(table)
    ream_mm = _ream_depth(table, lathe, made, deep)
    strip_mm = table.length("strip", above=0, most=50)
    speed = table.value("cutting_speed", "surface speed", above=0)
    if len(table.problems) > before or made is None or deep is None or dial is None:
        return None
    tools = _Tools(point_deg, deep, pecks)
    hole = Hole(
        dial=dial,
        drill=made.drill,
        point_angle_deg=point_deg,
        tools=(
            *(
                [HoleTool(starter, starter, starter, 0.0, 0.0, start_mm, start_mm, start_mm)]
                if starter and start_mm
                else []
            ),
            *(tools.drill(pilot) for pilot in pilots),
            tools.drill(made.drill),
            *([tools.reamer(made.ream, ream_mm)] if made.ream and ream_mm else []),
        ),
        starter=None if start_mm else starter,
        depth_to=deep.measured_to,
        through_mm=deep.through_mm,
        strip_mm=strip_mm,
        cutting_speed_m_per_min=speed,
        tapped=None if made.thread is None else Tapped(made.thread, tap, deep.thread_mm),
    )
    return hole if _is_reached(hole, table, lathe) else None


@dataclass(frozen=True)
class _Tools:
    """Makes the tools of one hole from the drill's point angle and the hole's depth and pecks."""

    point_deg: float
    deep: _Deep
    pecks: tuple[float | None, float | None]

    def drill(self, drill: Drill) -> HoleTool:
        """Return the `HoleTool` for a drill.

        The full diameter of a pilot drill goes as deep as that of the last drill.
        """
        point_mm = point_length_mm(drill.mm, self.point_deg)
        peck_mm = self.pecks[0] or drill.mm
        depth_mm = self.deep.full_mm + point_mm
        key, name, last_peck_mm = f"{drill.name} drill", f"{drill.text} drill", self.pecks[1] or peck_mm
        return HoleTool("drill", key, name, drill.mm, point_mm, depth_mm, peck_mm, last_peck_mm)

    def reamer(self, size: WantedSize, depth_mm: float) -> HoleTool:
        """Return the `HoleTool` for a reamer of this size, which goes to `depth_mm` in one feed."""
        name = f"{size.text} reamer"
        return HoleTool("reamer", name, name, float(size.lower_mm), 0.0, depth_mm, depth_mm, depth_mm)


# The source of the hole's size.


def _made(table: Table) -> _Made | None:
    """Return the drill, and the thread or reamer if one is given, that set the hole's size; None after recording a
    problem.
    """
    stated = [key for key in ("drill", "thread", "ream") if table.has(key)]
    beside = [key for key in _BESIDE if table.has(key)]
    if not stated:
        table.problem(
            "drill",
            f'Missing. Enter {DRILL_EXAMPLES}. Or enter "thread" for a tapped hole, or "ream" for a reamed hole.',
        )
        return None
    if len(stated) > 1:
        table.problem(
            stated[1], f"{' and '.join(map(quoted, stated))} cannot be used together. Enter only one of them."
        )
        return None
    for key in beside:
        if _BESIDE[key] not in stated:
            table.problem(key, _needs_words(key, _BESIDE[key]))
            return None
    readers: dict[str, Callable[[Table], _Made | None]] = {"drill": _plain, "thread": _to_tap, "ream": _to_ream}
    return readers[stated[0]](table)


def _needs_words(key: str, needs: str) -> str:
    return f'"{key}" applies only together with "{needs}". Enter "{needs}" too, or delete "{key}".'


def _plain(table: Table) -> _Made | None:
    drill = _drill(table, "drill")
    return None if drill is None else _Made(drill)


def _to_tap(table: Table) -> _Made | None:
    text = table.text("thread", longest=60)
    chosen, has_own = _drill(table, "tapping_drill"), table.has("tapping_drill")
    if text is None or (has_own and chosen is None):
        return None
    try:
        thread = read_thread(text, side="inside")
    except ThreadError as error:
        table.problem("thread", error.message)
        return None
    if chosen is None:
        usual = tapping_drill(thread)
        if usual is None:
            table.problem("tapping_drill", f"No stock drill suits {thread.designation}. Enter {DRILL_EXAMPLES}.")
            return None
        return _Made(usual.drill, thread=thread)
    if not thread.minor_basic_mm * 0.9 < chosen.mm < thread.major_basic_mm:
        near = tapping_drill(thread)
        advice = f"Enter {near.drill.text}, or a drill near it." if near else f"Enter {DRILL_EXAMPLES}."
        wrong = "leaves no thread in" if chosen.mm >= thread.major_basic_mm else "is far too small for"
        table.problem("tapping_drill", f"The {chosen.text} drill {wrong} {thread.designation}. {advice}")
        return None
    return _Made(chosen, thread=thread)


def _to_ream(table: Table) -> _Made | None:
    size = table.wanted_size("ream", above=0)
    chosen, has_own = _drill(table, "reaming_drill"), table.has("reaming_drill")
    if size is None or (has_own and chosen is None):
        return None
    reamer_mm = float(size.lower_mm)
    if chosen is None:
        chosen = _drill_before_reaming(reamer_mm, in_inches="in" in size.text or '"' in size.text)
    if chosen is None:
        table.problem("reaming_drill", f"No stock drill suits this reamer. Enter {DRILL_EXAMPLES}.")
        return None
    if chosen.mm >= reamer_mm:
        table.problem(
            "reaming_drill",
            f"The {chosen.text} drill is not smaller than the reamer, {size.text}. Enter a smaller drill.",
        )
        return None
    return _Made(chosen, ream=size)


def _drill_before_reaming(reamer_mm: float, *, in_inches: bool) -> Drill | None:
    """Return the largest stock drill that leaves the usual allowance for a reamer; None if no stock drill does.

    `reamer_mm`: the diameter of the reamer [mm]. `in_inches`: True to choose among inch drills, False among metric
    drills.
    """
    most_mm = reamer_mm - reaming_mm(reamer_mm)
    drills = (drill for series in drill_series().values() for drill in series)
    fitting = [drill for drill in drills if drill.mm <= most_mm + 1e-9 and (drill.series == "metric") != in_inches]
    return max(fitting, key=lambda drill: drill.mm, default=None)


def reaming_mm(reamer_mm: float) -> float:
    """Return how much a reamer of this diameter [mm] usually removes from the diameter of a hole [mm].

    Common practice, no source.

    >>> reaming_mm(12.0)
    0.2
    """
    return next(takes for up_to, takes in _REAMING_MM if reamer_mm <= up_to)


def _drill(table: Table, key: str) -> Drill | None:
    if not table.has(key):
        return None
    try:
        return read_drill(table.data[key])
    except QuantityError as error:
        table.problem(key, error.message)
        return None


def _pilots(table: Table, made: _Made | None) -> list[Drill]:
    """Return the pilot drills, the smallest first; [] if none are entered, or after recording a problem."""
    pilots: list[Drill] = []
    for item in table.items("pilots", 'a list such as ["4 mm", "8 mm"]', least=1, most=_MOST_PILOTS):
        try:
            pilot = read_drill(item)
        except QuantityError as error:
            table.problem("pilots", error.message)
            return []
        if pilots and pilot.mm <= pilots[-1].mm:
            table.problem(
                "pilots",
                f"The {pilot.text} pilot is not larger than the {pilots[-1].text} pilot. List the smallest first.",
            )
            return []
        if made is not None and pilot.mm >= made.drill.mm:
            words = f"A pilot of {pilot.text} is not smaller than the hole's drill, {made.drill.text}"
            table.problem("pilots", f"{words}. Enter a smaller pilot.")
            return []
        pilots.append(pilot)
    return pilots


# The depth of the hole.


def _depth(table: Table, lathe: Lathe, made: _Made | None, point_deg: float, tap: Tap) -> _Deep | None:
    """Return how deep the hole goes; None after recording a problem.

    `point_deg`: the included angle of the drill's point [deg]. `tap`: the last tap used.
    """
    stated = [key for key in ("depth", "through", "thread_depth") if table.has(key)]
    depth_to = table.word("depth_to", get_args(DepthTo))
    depth, through = table.length("depth", above=0), table.length("through", above=0)
    thread_depth, past = table.length("thread_depth", above=0), table.length("past", least=0)
    if len(stated) != 1:
        together = f"{' and '.join(map(quoted, stated))} cannot be used together. Enter only one of them."
        accepted = 'Missing. Enter "depth" and "depth_to", or "through" (the length of the work), or "thread_depth".'
        table.problem(stated[1] if stated else "depth", together if stated else accepted)
        return None
    for key, needs in (("depth_to", "depth"), ("past", "through")):
        if table.has(key) and needs not in stated:
            table.problem(key, _needs_words(key, needs))
            return None
    if made is None:
        return None
    if through is not None:
        past_mm = _USUAL_PAST_MM[lathe.unit] if past is None else past
        return _Deep(through + past_mm, "point", through, past_mm)
    if thread_depth is not None:
        if made.thread is None:
            table.problem("thread_depth", _needs_words("thread_depth", "thread"))
            return None
        return _Deep(thread_depth + room_below_thread_mm(made.thread.pitch_mm, tap), thread_mm=thread_depth)
    return None if depth is None else _blind(table, lathe, made, depth, depth_to, point_deg, tap)


def _blind(
    table: Table, lathe: Lathe, made: _Made, depth_mm: float, to: str | None, point_deg: float, tap: Tap
) -> _Deep | None:
    if to is None:
        if not table.has("depth_to"):
            table.problem("depth_to", 'Missing. Enter "full diameter" or "point", whichever the depth is measured to.')
        return None
    point_mm = point_length_mm(made.drill.mm, point_deg) if to == "point" else 0.0
    full_mm = depth_mm - point_mm
    if full_mm <= 0:
        depth, point = map(lathe.length_text, (depth_mm, point_mm))
        words = f"A depth of {depth} to the point is less than the length of the point itself, {point}"
        table.problem("depth", f"{words}. Enter a larger depth, or measure the depth to the full diameter.")
        return None
    thread_mm = None
    if made.thread is not None:
        room_mm = room_below_thread_mm(made.thread.pitch_mm, tap)
        thread_mm = full_mm - room_mm
        if thread_mm <= 0:
            words = f"The {tap} tap needs {lathe.length_text(room_mm)} below the full thread"
            table.problem("depth", f"{words}. Enter a deeper hole, or choose a bottoming tap.")
            return None
    return _Deep(full_mm, "point" if to == "point" else "full diameter", thread_mm=thread_mm)


def _tap(table: Table) -> Tap:
    taps: tuple[Tap, ...] = get_args(Tap)
    word = table.word("tap", taps)
    return next((tap for tap in taps if tap == word), "second")


def _ream_depth(table: Table, lathe: Lathe, made: _Made | None, deep: _Deep | None) -> float | None:
    """Return the final depth of a reamer's end [mm]; None without a reamer, or after recording a problem.

    A reamer stops above the bottom of a blind hole. In a hole through the work, it goes past the far face by the length
    of its lead.
    """
    entered = table.length("ream_depth", above=0)
    if made is None or deep is None:
        return None
    if made.ream is None:
        if table.has("ream_depth"):
            table.problem("ream_depth", _needs_words("ream_depth", "ream"))
        return None
    if entered is not None and deep.through_mm is None and entered > deep.full_mm:
        words = f"Reaming {lathe.length_text(entered)} deep goes below the full diameter of the drilled hole"
        table.problem("ream_depth", f"{words}. Enter at most {lathe.length_text(deep.full_mm)}.")
        return None
    if entered is not None:
        return entered
    if deep.through_mm is not None:
        return deep.full_mm + reamer_lead_mm(float(made.ream.lower_mm))
    depth_mm = deep.full_mm - _SHORT_OF_BOTTOM_MM[lathe.unit]
    if depth_mm <= 0:
        table.problem(
            "ream_depth", "The hole is too shallow for a reamer to stop above its bottom. Enter the depth to ream."
        )
        return None
    return depth_mm


# The drilling method.


def _dial(table: Table, lathe: Lathe) -> str | None:
    """Return the name of the dial that feeds the drill; None after recording a problem.

    If the operation names no dial, the lathe's first suitable dial feeds the drill.
    """
    named = table.word("dial", DRILLING_DIALS)
    owned = drilling_dials(lathe)
    if table.has("dial") and named is None:
        return None
    if named is not None and named not in owned:
        table.problem("dial", f"This lathe ({lathe.name}) has no dial named {named}. {_advice(owned)}")
    elif not owned:
        table.problem("dial", f"This lathe ({lathe.name}) has no dial on its tailstock or quill. {_advice(owned)}")
    else:
        return named or owned[0]
    return None


def _advice(owned: list[str]) -> str:
    other = f"Enter {owned[0]}, or " if owned else ""
    advice = f"{other}{how_to_add('[dial.tailstock]')}"
    return f"{advice[0].upper()}{advice[1:]}."


def _starter(table: Table) -> tuple[ToolKind | None, float | None]:
    """Return the tool that starts the hole, and the depth to which the dial feeds this tool [mm].

    The tool is None if nothing starts the hole. The depth is None if no dial is used, because the turner feeds the tool
    by eye.
    """
    word = table.word("start_with", (*STARTERS, NO_STARTER))
    starter = next((kind for kind in STARTERS if kind == (word or STARTERS[0])), None)
    depth = table.length("start_depth", above=0)
    if depth is not None and starter is None:
        table.problem(
            "start_depth",
            '"start_depth" is entered, but no drill to start the hole. Enter "start_with" too, or delete '
            '"start_depth".',
        )
    return starter, depth


def _pecks(table: Table, lathe: Lathe, dial: str | None) -> tuple[float | None, float | None]:
    """Return the deepest peck at the face and the deepest peck at the bottom [mm].

    A peck that is not entered is None.
    """
    peck, last = table.length("peck", above=0), table.length("last_peck", above=0)
    if last is not None and peck is None:
        if not table.has("peck"):
            table.problem(
                "peck", 'Missing, although "last_peck" is entered. Enter the first and deepest peck, such as 5 mm.'
            )
    elif last is not None and peck is not None and last > peck:
        words = f"A last peck of {lathe.length_text(last)} is deeper than the first peck"
        table.problem("last_peck", f"{words}. Enter at most {lathe.length_text(peck)}.")
    if dial is not None:
        mark_mm = lathe.dials[dial].mark_mm
        for key, value in (("peck", peck), ("last_peck", last)):
            if value is not None and value < mark_mm * (1 - 1e-9):
                words = f"A peck of {lathe.length_text(value)} is less than one mark of the {dial_words(dial)}"
                table.problem(key, f"{words}. Enter at least {lathe.length_text(mark_mm)}.")
    return peck, last


def _is_reached(hole: Hole, table: Table, lathe: Lathe) -> bool:
    """Return True if every tool cuts at least one dial mark deep and the slide can travel far enough for every tool.

    Otherwise record a problem in `table` and return False.
    """
    for tool in hole.tools:
        mark_mm = lathe.dials[hole.dial].mark_mm
        if tool.full_mm < mark_mm * (1 - 1e-9):
            key = (
                "start_depth" if tool.kind in STARTERS else "ream_depth" if tool.kind == "reamer" else _depth_key(table)
            )
            words = f"The {tool.name} cuts less deep than one mark of the {dial_words(hole.dial)}"
            table.problem(key, f"{words}. Enter a depth of at least {lathe.length_text(mark_mm)}.")
            return False
    travel_mm = lathe.dials[hole.dial].slide_travel_mm
    if travel_mm is None or hole.deepest_mm <= travel_mm:
        return True
    must, travels, less = map(lathe.length_text, (hole.deepest_mm, travel_mm, hole.deepest_mm - travel_mm))
    words = f"The {dial_words(hole.dial)} travels {travels}, but this hole needs {must}"
    table.problem(
        _depth_key(table), f"{words}. Enter a depth at least {less} smaller, or drill the rest as another operation."
    )
    return False


def _depth_key(table: Table) -> str:
    return next(key for key in ("depth", "through", "thread_depth") if table.has(key))
