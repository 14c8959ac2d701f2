"""The input of a `square` operation: what is read along a length, and the readings entered in the job."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, cast

from core.lathe.lathe import Lathe
from core.operations.asked_values import AFTER, REVERSED, AskedAt, readings_of, without_old
from core.values.fields import Table

Method = Literal["along", "facing", "between centres", "ground bar", "chuck bar"]
METHODS: tuple[Method, ...] = ("along", "facing", "between centres", "ground bar", "chuck bar")
READ_ALONG: tuple[Method, ...] = ("along", "facing", "ground bar")
"""Methods that read an indicator at several places. The others measure two turned diameters."""
MOST_PLACES = 50
HOWS = ("tap", "shim")
READ = ("once", "both ways")
"""Whether a square or a bar is read once more, turned over."""


@dataclass(frozen=True, kw_only=True)
class SquareJob:
    """What is read along a length. Lengths in mm; None if not entered."""

    method: Method
    at_mm: tuple[float, ...] = ()
    """Places along the length. For facing they are distances past the centre; on a ground bar they grow towards the
    tailstock."""
    apart_mm: float | None = None
    """Distance of the two turned places."""
    work_length_mm: float | None = None
    """Length between centres, for the tailstock's move."""
    stick_out_mm: float | None = None
    """How far a bar in the chuck sticks out."""
    pivot_mm: float | None = None
    """Place about which the part turns when tapped; None for the first place."""
    tap_mm: float | None = None
    """Place where the part is tapped or shimmed; None if no move is worked out."""
    how: str = "tap"
    tolerance_mm: float | None = None
    """Largest error that may stay, over the length read. Of two diameters: their difference."""
    reverse: bool = False
    """True if everything is read once more with the square turned over, or the bar turned half a turn."""
    lists_mm: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """Readings and diameters measured, by the keys of a job file. The rest is asked in the run."""

    @property
    def key(self) -> str:
        """The key of what is measured."""
        return "readings" if self.method in READ_ALONG else "diameters"

    @property
    def count(self) -> int:
        """Number of values in a set."""
        return len(self.at_mm) if self.method in READ_ALONG else 2

    @property
    def measures_again(self) -> bool:
        """True if something is moved, and read again after it."""
        return self.method != "facing"

    def complete(self, key: str) -> tuple[float, ...] | None:
        """Return a whole set of values, None if some are not known."""
        values = self.lists_mm.get(key, ())
        return tuple(values) if len(values) == self.count else None

    def forgetting(self, asked: Iterable[AskedAt]) -> "SquareJob":
        """Return this job without the values that are to be asked, or asked again."""
        return replace(self, lists_mm=without_old(self.lists_mm, asked))


def read_square(table: Table, lathe: Lathe) -> SquareJob | None:
    """Return a `square` operation from its table; None if a problem was noted. A run asks for missing readings."""
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
        table.problem("at", "A place comes twice. Enter each place once.")
    return places


def _lists(table: Table, job: SquareJob) -> dict[str, tuple[float, ...]]:
    keys = [job.key]
    if job.measures_again:
        keys.append(f"{job.key}{AFTER}")
    if job.method in {"along", "ground bar"}:
        keys.append(f"{REVERSED}{job.key}")
    # If the places are wrong, nobody knows how many readings belong to them.
    most = job.count or MOST_PLACES
    return {key: values for key in keys if (values := readings_of(table, key, most))}


def _note_impossible(table: Table, job: SquareJob) -> None:
    """Note a problem for a tap at the pivot, a diameter not above 0, or a stick-out below the length measured."""
    if job.tap_mm is not None and job.at_mm and job.tap_mm == (job.at_mm[0] if job.pivot_mm is None else job.pivot_mm):
        table.problem("tap", "It cannot be tapped where it turns. Enter a place away from the pivot.")
    if job.key == "diameters":
        for key, values in job.lists_mm.items():
            if min(values) <= 0:
                table.problem(key, "A diameter must be above 0. Enter what you measured.")
    if job.stick_out_mm is not None and job.apart_mm is not None and job.stick_out_mm < job.apart_mm:
        table.problem("stick_out", "The bar sticks out at least as far as the two places are apart. Enter more.")
    if job.work_length_mm is not None and job.apart_mm is not None and job.work_length_mm < job.apart_mm:
        table.problem("work_length", "The two places cannot be further apart than the centres. Enter more.")
