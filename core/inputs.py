"""What a user can enter in a run, other than "done". After such an input, the remaining steps are planned again.

`input_as_data` and `input_from_data` convert these inputs to and from rows of the logbook. A row holds the cause, such
as "measured", and the values that the user entered.
"""

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, Literal, NamedTuple, get_args

from core.lathe.lathe import dial_words
from core.values.errors import EventError, PlanError
from core.values.first_version import FITS
from core.values.plain_text import quoted

Fit = Literal["won't start", "tight", "fits", "loose"]
"""How a gauge or the mating part goes on."""
MovedPart = Literal["tool", "work", "half nuts", "other"]
"""The part of a thread's set-up that was moved before the thread is picked up again."""


class Measured(NamedTuple):
    """A measured size of the work. If a thread was measured at both ends, `size_mm` is the size at the shoulder end."""

    what: str
    """The name that the operation gives to the measured size:

    "size", "to go", "free end", "length", "depth", "hole depth", "circle", "crest", "pitch diameter", "over wires" or
    "over one wire".
    """
    size_mm: float
    free_end_mm: float | None = None
    """The size at the free end [mm]; None if the user did not measure there."""
    wire_mm: float | None = None
    """The diameter of the measuring wires [mm]; None if the user measured with the planned wires."""
    major_mm: float | None = None
    """The diameter over the crests [mm], needed for a size over one wire."""
    reading_error_mm: float | None = None
    """The largest error of the reading [mm]; None if the user was not asked."""
    edges_mm: tuple[float, float] | None = None
    """The outer and inner edge diameters of a trial circle [mm]; None if the circle was measured across groove centres.
    """

    @property
    def sizes_mm(self) -> tuple[float, ...]:
        """The measured sizes [mm]: one size, or the size at the shoulder end followed by the size at the free end."""
        return (self.size_mm,) if self.free_end_mm is None else (self.size_mm, self.free_end_mm)


class DiametersMeasured(NamedTuple):
    """Two diameters, measured at different distances from the free end of the work. Together they show its taper."""

    at_mm: tuple[float, float]
    """The distances of both places from the free end [mm], the nearer place first."""
    diameters_mm: tuple[float, float]


class GaugeTried(NamedTuple):
    """The user tried a gauge or the mating part on the work, and entered how it fits."""

    fit: Fit


class SetTo(NamedTuple):
    """The user set a dial differently from the plan."""

    dial: str
    position: Fraction
    """The position of the dial, counted from its zero, in the dial's own unit. For the rotary table: degrees."""
    shown: str
    """The dial's reading at that position, as text."""


class PositionCutWrong(NamedTuple):
    """The user cut a position of a pattern, but in the wrong place."""

    layer: int
    position: int
    slide: Fraction
    """The position of the slide, counted from its zero, in the unit of its dial."""
    table_deg: Fraction
    """The angle of the table, counted from its zero [deg]."""
    cut_again: bool = False
    """True if the position is cut once more in its right place."""
    shown: str = ""
    """The readings of slide and table at the wrong place, as text."""


class PutBack(NamedTuple):
    """The work was taken off the rotary table and put back, so it now lies differently on the table.

    To find where a point of the work is now, turn the point by `turn_deg` about the work's centre, then add the shift.
    The result is counted from the table's axis.
    """

    shift_mm: tuple[float, float]
    turn_deg: float
    """The angle by which the work was turned, positive anticlockwise on the work [deg]."""
    table_deg: Fraction | None = None
    """The angle at which the table was left, counted from its zero [deg]; None if not known."""
    slide: Fraction | None = None
    """The position at which the slide was left, counted from its zero, in the unit of its dial; None if not known."""


class ExtraSpringPass(NamedTuple):
    """The user asked for one more pass at the depth of the last pass, to remove the metal that sprang away."""


class Moved(NamedTuple):
    """The work, the tool, a slide or a dial was moved, so its position must be found again."""

    size: Measured | None = None
    """The size of the work now; None if the operation does not ask for a size."""


class PickedUp(NamedTuple):
    """Part of a thread's set-up was moved, so the tool must be brought back into the groove of the thread."""

    moved: MovedPart


class TurnRead(NamedTuple):
    """The indicator readings of one turn of the work, taken in one plane square to the axis."""

    readings_mm: tuple[float, ...]
    closing_mm: float | None = None
    """The second reading of the first mark, at the end of the turn [mm]; None if it was not taken."""
    plane: int = 1
    repeat: int = 0
    """How many times this turn was read before with nothing moved: 0 for the first time."""


class ReadingsTaken(NamedTuple):
    """The user has taken all indicator readings of a set, which may have several turns."""

    turns: tuple[TurnRead, ...]


ReadingsThatHold = ReadingsTaken | Literal["under way", "none yet"] | None
"""The readings that are still valid after the job was changed.

A complete set; "under way" for a set that continues; "none yet" if nothing was read. None means that the readings are
no longer valid, because the marks were changed or something was moved.
"""


class TurnAgain(NamedTuple):
    """The user asked to read the same turn once more, with nothing moved in between."""


class Edited(NamedTuple):
    """The user changed the job or the lathe file. The remaining steps are planned from the changed file."""

    plan_input: Mapping[str, Any]
    """The changed fields of LoggedPlanInput, as plain data. If the user answered a question, only `answered` is here.
    """
    readings: ReadingsThatHold = None


RunInput = (
    Measured
    | DiametersMeasured
    | GaugeTried
    | SetTo
    | PositionCutWrong
    | PutBack
    | ExtraSpringPass
    | Moved
    | PickedUp
    | ReadingsTaken
    | TurnAgain
    | Edited
)


def nothing_planned_from(entered: RunInput) -> PlanError:
    """Return the error to raise for an input that the operation of a run cannot use.

    >>> nothing_planned_from(GaugeTried(fit="tight")).message
    'This operation cannot use a trial of the fit. Write a note instead.'
    """
    match entered:
        case Measured():
            words = f"this measurement ({entered.what})"
        case DiametersMeasured():
            words = "diameters at two places"
        case GaugeTried():
            words = "a trial of the fit"
        case SetTo():
            words = f"another setting of the {dial_words(entered.dial)}"
        case PositionCutWrong():
            words = "a position cut in the wrong place"
        case PutBack():
            words = "a new position of the work"
        case ReadingsTaken() | TurnAgain():
            words = "indicator readings"
        case _:
            words = "this input"
    return PlanError(f"This operation cannot use {words}. Write a note instead.")


_AT_BOTH_ENDS = {"pitch diameter", "over wires", "over one wire"}
"""Sizes of a thread. The log keeps each of them under the name of the end, even if only one end was measured."""


def input_as_data(entered: RunInput) -> tuple[str, dict[str, Any]]:
    """Return an input as the logbook stores it: its cause, and the values that the user entered.

    >>> input_as_data(Moved(size=Measured(what="size", size_mm=28.5)))
    ('moved', {'size_mm': 28.5})
    """
    match entered:
        case Measured():
            return "measured", _measured_as_data(entered)
        case DiametersMeasured():
            return "measured", {"at_mm": list(entered.at_mm), "diameters_mm": list(entered.diameters_mm)}
        case GaugeTried():
            return "fit", {"fit": entered.fit}
        case SetTo():
            return "set", {"dial": entered.dial, "position": str(entered.position), "shown": entered.shown}
        case PositionCutWrong():
            places = {"slide": str(entered.slide), "table_deg": str(entered.table_deg)}
            return "cut wrong", {**entered._asdict(), **places}
        case PutBack():
            left = {"table_deg": entered.table_deg, "slide": entered.slide}
            places = {name: str(place) for name, place in left.items() if place is not None}
            return "put back", {"shift_mm": list(entered.shift_mm), "turn_deg": entered.turn_deg, **places}
        case ExtraSpringPass():
            return "spring", {}
        case Moved():
            return "moved", {} if entered.size is None else _measured_as_data(entered.size)
        case PickedUp():
            return "picked up", {"moved": entered.moved}
        case ReadingsTaken():
            return "measured", _readings_as_data(entered)
        case TurnAgain():
            return "measured", {"again": True}
        case Edited():
            readings = entered.readings
            data = _readings_as_data(readings) if isinstance(readings, ReadingsTaken) else _READINGS_AS_DATA[readings]
            return "edited", {**entered.plan_input, **data}


def input_from_data(cause: Any, data: Any) -> RunInput:
    """Return an input from its row in the logbook, which the first version of the program may have written.

    Raises EventError for an unknown cause, and for values that the cause cannot have.

    >>> input_from_data("fit", {"fit": "goes"})
    GaugeTried(fit='fits')
    """
    if cause not in CAUSES:
        raise EventError(
            f"{quoted(cause)} is not a known reason to plan again. Use one of these reasons: {', '.join(CAUSES)}.",
            field="cause",
        )
    if not isinstance(data, Mapping):
        raise EventError(f"{quoted(data)} is not a set of keys with values.", field="given")
    try:
        return _READERS[cause](data)
    except (LookupError, TypeError, ValueError, ArithmeticError) as error:
        raise EventError(
            f'The values of "{cause}" cannot be read. Missing or wrong: {quoted(str(error))}.', field="given"
        ) from None


def _measured_as_data(measured: Measured) -> dict[str, Any]:
    key = measured.what.replace(" ", "_") + "_mm"
    more = {name: getattr(measured, name) for name in ("wire_mm", "major_mm", "reading_error_mm")}
    ends = {"shoulder": measured.size_mm, "free": measured.free_end_mm}
    both = measured.what in _AT_BOTH_ENDS or measured.free_end_mm is not None
    size = _known(ends) if both else measured.size_mm
    edges = {} if measured.edges_mm is None else {"edges_mm": list(measured.edges_mm)}
    return {key: size, **_known(more), **edges}


def _known(values: Mapping[str, float | None]) -> dict[str, float]:
    return {name: value for name, value in values.items() if value is not None}


def _read_measured(data: Mapping[str, Any]) -> Measured | DiametersMeasured | ReadingsTaken | TurnAgain:
    if data.get("again") is True:
        return TurnAgain()
    if "diameters_mm" in data:
        return DiametersMeasured(at_mm=_pair(data["at_mm"]), diameters_mm=_pair(data["diameters_mm"]))
    if "readings_mm" in data:
        return _read_readings(data)
    more = {name: float(data[name]) for name in ("wire_mm", "major_mm", "reading_error_mm") if name in data}
    (key,) = data.keys() - more.keys() - {"edges_mm"}
    size = data[key]
    if not isinstance(size, Mapping):
        size = {"shoulder": _length_mm(size)}
    sizes_mm = [_length_mm(size[end]) for end in ("shoulder", "free") if size.get(end) is not None]
    return Measured(
        what=key.removesuffix("_mm").replace("_", " "),
        size_mm=sizes_mm[0],
        free_end_mm=sizes_mm[1] if len(sizes_mm) > 1 else None,
        edges_mm=_pair(data["edges_mm"]) if data.get("edges_mm") is not None else None,
        **more,
    )


def _length_mm(value: Any) -> float:
    if type(value) not in {int, float}:
        raise ValueError(f"{quoted(value)}, which is not a number")
    return float(value)


def _pair(values: Any) -> tuple[float, float]:
    one, other = values
    return _length_mm(one), _length_mm(other)


def _readings_as_data(taken: ReadingsTaken) -> dict[str, Any]:
    """Return a set of readings as the log stores it: a list for one plane, or a list of two lists for two planes."""
    two_planes = any(turn.plane == 2 for turn in taken.turns)
    repeats = sorted({turn.repeat for turn in taken.turns}) or [0]
    times = [[turn for turn in taken.turns if turn.repeat == repeat] for repeat in repeats]
    readings, closings = [], []
    for time in times:
        by_plane = {turn.plane: turn for turn in time}
        planes = [by_plane.get(plane, TurnRead(())) for plane in (1, 2)]
        readings.append([list(turn.readings_mm) for turn in planes] if two_planes else list(planes[0].readings_mm))
        closings.append([turn.closing_mm for turn in planes] if two_planes else planes[0].closing_mm)
    data: dict[str, Any] = {"readings_mm": readings[0]}
    if len(times) > 1:
        data["again_mm"] = readings[1] if len(times) == 2 else readings[1:]
    closed = [any(turn.closing_mm is not None for turn in time) for time in times]
    if closed[0]:
        data["closing_mm"] = closings[0]
    if any(closed[1:]):
        data["again_closing_mm"] = closings[1] if len(times) == 2 else closings[1:]
    return data


def _read_readings(data: Mapping[str, Any]) -> ReadingsTaken:
    planes = _depth(data["readings_mm"])
    again, again_closing = data.get("again_mm"), data.get("again_closing_mm")
    times = [(data["readings_mm"], data.get("closing_mm"))]
    if again is not None and _depth(again) == planes:
        times.append((again, again_closing))
    elif again is not None:
        times += zip(again, again_closing or [None] * len(again), strict=True)
    turns = []
    for repeat, (readings, closing) in enumerate(times):
        by_plane = readings if planes == 2 else [readings]
        closings = closing if planes == 2 and closing is not None else [closing] * len(by_plane)
        for plane, (turn, closed) in enumerate(zip(by_plane, closings, strict=False), start=1):
            closing_mm = None if closed is None else float(closed)
            turns.append(TurnRead(tuple(float(reading) for reading in turn), closing_mm, plane, repeat))
    return ReadingsTaken(turns=tuple(turn for turn in turns if turn.readings_mm))


def _depth(value: Any) -> int:
    return 1 + max(map(_depth, value), default=0) if isinstance(value, list | tuple) else 0


_READINGS_AS_DATA: Mapping[str | None, Mapping[str, bool]] = {
    "under way": {"goes_on": True},
    "none yet": {"nothing_read": True},
    None: {},
}


def _read_edited(data: Mapping[str, Any]) -> Edited:
    of_readings = {"readings_mm", "again_mm", "closing_mm", "again_closing_mm", "goes_on", "nothing_read"}
    readings: ReadingsThatHold = None
    if "readings_mm" in data:
        readings = _read_readings(data)
    elif data.get("goes_on") is True:
        readings = "under way"
    elif data.get("nothing_read") is True:
        readings = "none yet"
    return Edited(plan_input={key: value for key, value in data.items() if key not in of_readings}, readings=readings)


def _read_tried(data: Mapping[str, Any]) -> GaugeTried:
    fit = FITS.get(data["fit"], data["fit"])
    if fit not in get_args(Fit):
        raise ValueError(f"{quoted(fit)}, which is not a fit")
    return GaugeTried(fit=fit)


def _read_picked_up(data: Mapping[str, Any]) -> PickedUp:
    moved = data.get("moved", "other")
    if moved not in get_args(MovedPart):
        raise ValueError(f"{quoted(moved)}, which is not a part that can move")
    return PickedUp(moved=moved)


def _read_set(data: Mapping[str, Any]) -> SetTo:
    dial, position = data["dial"], data["position"]
    if not isinstance(dial, str):
        raise TypeError(f"{quoted(dial)}, which is not a dial")
    return SetTo(dial=dial, position=Fraction(str(position)), shown=str(data.get("shown", position)))


def _read_cut_wrong(data: Mapping[str, Any]) -> PositionCutWrong:
    layer, position = data["layer"], data["position"]
    if type(layer) is not int or type(position) is not int:
        raise TypeError(f"{quoted(position)}, which is not a position")
    return PositionCutWrong(
        layer=layer,
        position=position,
        slide=Fraction(str(data["slide"])),
        table_deg=Fraction(str(data["table_deg"])),
        cut_again=data.get("cut_again") is True,
        shown=str(data.get("shown", "")),
    )


def _read_put_back(data: Mapping[str, Any]) -> PutBack:
    left = {name: Fraction(str(data[name])) for name in ("table_deg", "slide") if name in data}
    return PutBack(shift_mm=_pair(data["shift_mm"]), turn_deg=_length_mm(data["turn_deg"]), **left)


def _read_moved(data: Mapping[str, Any]) -> Moved:
    size = _read_measured(data) if data else None
    return Moved(size=size if isinstance(size, Measured) else None)


_READERS: Mapping[str, Callable[[Mapping[str, Any]], RunInput]] = {
    "measured": _read_measured,
    "set": _read_set,
    "cut wrong": _read_cut_wrong,
    "put back": _read_put_back,
    "fit": _read_tried,
    "spring": lambda data: ExtraSpringPass(),
    "moved": _read_moved,
    "picked up": _read_picked_up,
    "edited": _read_edited,
}
CAUSES = tuple(_READERS)
"""The names of inputs in the logbook."""
