"""The input of a `square` operation: what is read along a length, and the readings that the job already has."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, cast

from core.lathe.lathe import Lathe
from core.operations.asked_values import AFTER, REVERSED, AskedAt, readings_of, without_old
from core.values.fields import Table

Method = Literal["along", "facing", "between centres", "ground bar", "chuck bar"]
METHODS: tuple[Method, ...] = ("along", "facing", "between centres", "ground bar", "chuck bar")
READ_ALONG: tuple[Method, ...] = ("along", "facing", "ground bar")
"""Methods that read an indicator at several positions. The other methods measure two turned diameters."""
MOST_PLACES = 50
HOWS = ("tap", "shim")
READ = ("once", "both ways")
"""The choices for a square or bar: read it once, or a second time after turning it over."""


@dataclass(frozen=True, kw_only=True)
class SquareJob:
    """The checked parameters of a `square` operation. Lengths are in mm. A field without an entry is None."""

    method: Method
    at_mm: tuple[float, ...] = ()
    """Positions along the length. For facing they are distances past the centre.

    On a ground bar they grow towards the tailstock.
    """
    apart_mm: float | None = None
    """Distance between the two turned lands."""
    work_length_mm: float | None = None
    """Length between centres, for the tailstock's move."""
    stick_out_mm: float | None = None
    """The length of a bar that is outside the chuck."""
    pivot_mm: float | None = None
    """The position about which the part turns when tapped; None if it turns about the first position."""
    tap_mm: float | None = None
    """The position at which the part is tapped or shimmed. None if no move is calculated."""
    how: str = "tap"
    tolerance_mm: float | None = None
    """Largest error allowed over the length read. For two diameters it is the difference allowed."""
    reverse: bool = False
    """True if everything is read a second time with the square turned over, or with the bar turned by half a turn."""
    lists_mm: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """Readings and measured diameters, by the keys of a job file. The run asks for all others."""

    @property
    def key(self) -> str:
        """The key of the measured values in a job file."""
        return "readings" if self.method in READ_ALONG else "diameters"

    @property
    def count(self) -> int:
        """The number of values in one set of readings or diameters."""
        return len(self.at_mm) if self.method in READ_ALONG else 2

    @property
    def measures_again(self) -> bool:
        """True if the operation moves a part and then measures again."""
        return self.method != "facing"

    def complete(self, key: str) -> tuple[float, ...] | None:
        """Return the complete set of values under a key; None if any value is missing."""
        values = self.lists_mm.get(key, ())
        return tuple(values) if len(values) == self.count else None

    def forgetting(self, asked: Iterable[AskedAt]) -> "SquareJob":
        """Return this job without the values named in `asked`, for which the run must still ask."""
        return replace(self, lists_mm=without_old(self.lists_mm, asked))


def read_square(table: Table, lathe: Lathe) -> SquareJob | None:
    """Return the checked parameters of a `square` operation; None after recording a problem in `table`.

    Readings may be missing. The run asks for them.
    """
    before = len(table.problems)
    method = cast(Method, (table.word("method", METHODS) or "along") if table.has("method") else "along")
    values: dict[str, Any] = {"tolerance_mm": table.length("tolerance", above=0)}
    if method in READ_ALONG:
        values["at_mm"] = _places(table)
    else:
        values["apart_mm"] = table.length("apart", required=True, above=0)
    if method in {"along", "ground bar"}:
        values["reverse"] = table.word("read", READ) == READ[1] or f"{REVERSED}readings" in table.data
    if method == "along":
        values |= {
            "pivot_mm": table.length("pivot"),
            "tap_mm": table.length("tap"),
            "how": table.word("how", HOWS) or "tap",
        }
    if method in {"between centres", "ground bar"}:
        values["work_length_mm"] = table.length("work_length", above=0)
    if method == "chuck bar":
        values["stick_out_mm"] = table.length("stick_out", required=True, above=0)
    job = SquareJob(method=method, **values)
    job = replace(job, lists_mm=_lists(table, job))
    _note_impossible(table, job)
    return None if len(table.problems) > before else job


def _places(table: Table) -> tuple[float, ...]:
    if not table.has("at"):
        table.problem("at", 'Missing. Enter a list such as ["0 mm", "60 mm", "120 mm"].')
        return ()
    places = tuple(float(place.value) for place in table.quantities("at", "length", least=2, most=MOST_PLACES))
    if len(set(places)) < len(places):
        table.problem("at", "A position is in the list twice. Enter each position once.")
    return places


def _lists(table: Table, job: SquareJob) -> dict[str, tuple[float, ...]]:
    keys = [job.key]
    if job.measures_again:
        keys.append(f"{job.key}{AFTER}")
    if job.method in {"along", "ground bar"}:
        keys.append(f"{REVERSED}{job.key}")
    # If the positions are wrong, the right number of readings is not known.
    most = job.count or MOST_PLACES
    return {key: values for key in keys if (values := readings_of(table, key, most))}


def _note_impossible(table: Table, job: SquareJob) -> None:
    """Record a problem for a tap at the pivot, a diameter not above 0, or a bar shorter than the measured length."""
    if job.tap_mm is not None and job.at_mm and job.tap_mm == (job.at_mm[0] if job.pivot_mm is None else job.pivot_mm):
        table.problem("tap", "The part cannot be tapped at its pivot. Enter a position away from the pivot.")
    if job.key == "diameters":
        for key, values in job.lists_mm.items():
            if min(values) <= 0:
                table.problem(key, "A diameter must be above 0. Enter the diameter you measured.")
    if job.stick_out_mm is not None and job.apart_mm is not None and job.stick_out_mm < job.apart_mm:
        table.problem(
            "stick_out", "This stick-out is shorter than the distance between the lands. Enter a longer stick-out."
        )
    if job.work_length_mm is not None and job.apart_mm is not None and job.work_length_mm < job.apart_mm:
        table.problem(
            "work_length",
            "This length is shorter than the distance between the lands. Enter the length between centres.",
        )
