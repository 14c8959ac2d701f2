"""What a user tells a run besides "done": the open steps are planned again from it.

Each is a frozen record. `input_as_data` and `input_from_data` are the one codec between them and the logbook,
whose rows name a cause and what was entered with it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, get_args

from core.errors import EventError, PlanError
from core.lathe import dial_words
from core.plain_text import quoted

Fit = Literal["won't start", "tight", "fits", "loose"]
"""How a gauge or mating part goes on."""
MovedPart = Literal["tool", "work", "half nuts", "other"]
"""What was moved before a thread is picked up again."""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A size of the work; of a thread at the shoulder end, where both ends were measured."""

    what: str
    """What was measured, as the operation names it: "size", "to go", "depth", "circle", "crest", "pitch diameter",
    "over wires" or "over one wire"."""
    size_mm: float
    free_end_mm: float | None = None
    """The same at the free end; None where it was not measured."""
    wire_mm: float | None = None
    """Diameter of the measuring wires; None: the planned ones."""
    major_mm: float | None = None
    """Diameter over the crests, for a size over one wire."""
    reading_error_mm: float | None = None
    """How far the reading may be out; None where that is not asked."""

    @property
    def sizes_mm(self) -> tuple[float, ...]:
        """One size or two, the shoulder end first."""
        return (self.size_mm,) if self.free_end_mm is None else (self.size_mm, self.free_end_mm)


@dataclass(frozen=True, kw_only=True)
class DiametersMeasured:
    """Diameters at two places along the work, which tell its taper."""

    at_mm: tuple[float, float]
    """Where they were measured, from the free end; the nearer to it first."""
    diameters_mm: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class GaugeTried:
    """A gauge or the mating part was tried."""

    fit: Fit


@dataclass(frozen=True, kw_only=True)
class SetTo:
    """A dial was set otherwise than planned."""

    dial: str
    position: Fraction
    """Where it stands, counted from its zero [its own unit; the rotary table: degrees]."""
    shown: str
    """What it shows there, as it was read."""


@dataclass(frozen=True, kw_only=True)
class ExtraSpringPass:
    """One more pass at the depth of the last is wanted."""


@dataclass(frozen=True, kw_only=True)
class Moved:
    """Work, tool, slide or dial was moved: the place is found again."""

    size: Measured | None = None
    """What the work measures now; None where the operation does not ask."""


@dataclass(frozen=True, kw_only=True)
class PickedUp:
    """Something of a thread's set-up was moved: the thread is picked up again."""

    moved: MovedPart


@dataclass(frozen=True, kw_only=True)
class ReadingsTaken:
    """A round of readings of the indicator is complete; one tuple for each plane that was read."""

    readings_mm: tuple[tuple[float, ...], ...]
    again_mm: tuple[tuple[float, ...], ...] = ()
    """Readings of the same turn taken a second time; empty where it was read once."""
    closing_mm: tuple[float | None, ...] = ()
    """What the first mark read at the end of the turn; empty where no plane has one."""


@dataclass(frozen=True, kw_only=True)
class TurnAgain:
    """The same turn is to be read once more, nothing having been moved."""


@dataclass(frozen=True, kw_only=True)
class Edited:
    """Job or lathe file were changed, and the rest goes by what they say now."""

    basis: Mapping[str, Any]
    """Fields of RunBasis that are replaced, as plain data."""


RunInput = (
    Measured
    | DiametersMeasured
    | GaugeTried
    | SetTo
    | ExtraSpringPass
    | Moved
    | PickedUp
    | ReadingsTaken
    | TurnAgain
    | Edited
)


def nothing_planned_from(entered: RunInput) -> PlanError:
    """Return the refusal of an input that an operation cannot be planned from.

    >>> nothing_planned_from(GaugeTried(fit="tight")).message
    'nothing can be planned from a trial of the fit here. Write a note instead'
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
        case ReadingsTaken() | TurnAgain():
            words = "readings of an indicator"
        case _:
            words = "this"
    return PlanError(f"nothing can be planned from {words} here. Write a note instead")


_AT_BOTH_ENDS = {"pitch diameter", "over wires", "over one wire"}
_OLD_FITS: Mapping[str, Fit] = {"does not go": "tight", "goes": "fits"}
"""Words of the first version."""


def input_as_data(entered: RunInput) -> tuple[str, dict[str, Any]]:
    """Return an input as the logbook has it: a cause, and what was entered with it.

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
        case ExtraSpringPass():
            return "spring", {}
        case Moved():
            return "moved", {} if entered.size is None else _measured_as_data(entered.size)
        case PickedUp():
            return "picked up", {"moved": entered.moved}
        case ReadingsTaken():
            planes = {
                "readings_mm": entered.readings_mm,
                "again_mm": entered.again_mm,
                "closing_mm": entered.closing_mm,
            }
            return "measured", {key: _by_plane(values) for key, values in planes.items() if values}
        case TurnAgain():
            return "measured", {"again": True}
        case Edited():
            return "edited", dict(entered.basis)


def input_from_data(cause: Any, given: Any) -> RunInput:
    """Return the input that a row of the logbook names, in the words of the first version too.

    Raises EventError for a cause that this program does not know, and for what none can have.

    >>> input_from_data("fit", {"fit": "goes"})
    GaugeTried(fit='fits')
    """
    if cause not in _READERS:
        raise EventError(f"{quoted(cause)} is no cause; accepted are {', '.join(CAUSES)}", field="cause")
    if not isinstance(given, Mapping):
        raise EventError(f"what was given must be a table; found {quoted(given)}", field="given")
    try:
        return _READERS[cause](given)
    except (LookupError, TypeError, ValueError, ZeroDivisionError) as error:
        raise EventError(f"what was given with {cause} lacks or garbles {quoted(str(error))}", field="given") from None


def _measured_as_data(measured: Measured) -> dict[str, Any]:
    key = measured.what.replace(" ", "_") + "_mm"
    more = {name: getattr(measured, name) for name in ("wire_mm", "major_mm", "reading_error_mm")}
    ends = {"shoulder": measured.size_mm, "free": measured.free_end_mm}
    size = _known(ends) if measured.what in _AT_BOTH_ENDS else measured.size_mm
    return {key: size, **_known(more)}


def _known(values: Mapping[str, float | None]) -> dict[str, float]:
    return {name: value for name, value in values.items() if value is not None}


def _read_measured(given: Mapping[str, Any]) -> Measured | DiametersMeasured | ReadingsTaken | TurnAgain:
    if given.get("again") is True:
        return TurnAgain()
    if "diameters_mm" in given:
        return DiametersMeasured(at_mm=_pair(given["at_mm"]), diameters_mm=_pair(given["diameters_mm"]))
    if "readings_mm" in given:
        closing = given.get("closing_mm", [])
        return ReadingsTaken(
            readings_mm=_turns(given["readings_mm"]),
            again_mm=_turns(given.get("again_mm", [])),
            closing_mm=tuple(closing) if isinstance(closing, list | tuple) else (closing,),
        )
    more = {name: float(given[name]) for name in ("wire_mm", "major_mm", "reading_error_mm") if name in given}
    (key,) = given.keys() - more.keys()
    size = given[key]
    if not isinstance(size, Mapping):
        size = {"shoulder": _length_mm(size)}
    sizes_mm = [_length_mm(size[end]) for end in ("shoulder", "free") if size.get(end) is not None]
    return Measured(
        what=key.removesuffix("_mm").replace("_", " "),
        size_mm=sizes_mm[0],
        free_end_mm=sizes_mm[1] if len(sizes_mm) > 1 else None,
        **more,
    )


def _length_mm(value: Any) -> float:
    if type(value) not in {int, float}:
        raise ValueError(f"{quoted(value)}, which is no number")
    return float(value)


def _pair(values: Any) -> tuple[float, float]:
    one, other = values
    return _length_mm(one), _length_mm(other)


def _turns(found: Any) -> tuple[tuple[float, ...], ...]:
    """Return the readings of each plane; those of one plane alone are logged as a plain list."""
    planes = found if all(isinstance(turn, list | tuple) for turn in found) else [found]
    return tuple(tuple(float(reading) for reading in turn) for turn in planes)


def _by_plane(values: tuple[Any, ...]) -> Any:
    """Return the one value of one plane, or a list of those of two."""
    plain = [list(value) if isinstance(value, tuple) else value for value in values]
    return plain[0] if len(plain) == 1 else plain


def _read_tried(given: Mapping[str, Any]) -> GaugeTried:
    fit = _OLD_FITS.get(given["fit"], given["fit"])
    if fit not in get_args(Fit):
        raise ValueError(f"{quoted(fit)}, which is no fit")
    return GaugeTried(fit=fit)


def _read_moved(given: Mapping[str, Any]) -> Moved:
    size = _read_measured(given) if given else None
    return Moved(size=size if isinstance(size, Measured) else None)


_READERS: Mapping[str, Callable[[Mapping[str, Any]], RunInput]] = {
    "measured": _read_measured,
    "set": lambda given: SetTo(
        dial=given["dial"], position=Fraction(str(given["position"])), shown=str(given.get("shown", given["position"]))
    ),
    "fit": _read_tried,
    "spring": lambda given: ExtraSpringPass(),
    "moved": _read_moved,
    "picked up": lambda given: PickedUp(moved=given.get("moved", "other")),
    "edited": lambda given: Edited(basis=given),
}
CAUSES = tuple(_READERS)
"""The names that inputs have in the logbook."""
