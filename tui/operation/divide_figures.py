"""Words and units for the figures in the form for dividing. This module calculates nothing."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from core.jobs.job import JobOperation
from core.lathe.lathe import Lathe
from core.operations.dividing.division import Dividing, means_of, means_offered
from core.operations.dividing.division_tables import exact_means_text
from core.operations.dividing.handle_dial import smallest_deg
from core.operations.dividing.job import DivideJob
from core.operations.dividing.setting_table import compound_of_step, formula, plate_words, step_text
from core.operations.dividing.steps import Pace, estimated_time_s
from core.operations.dividing.words import sector_words, worst_error_text
from core.operations.form import Choice, Figure
from core.operations.patterns.layers import PatternJob
from core.plan import Plan
from core.run.counter_view import hours_and_minutes
from core.values.angles import amount_text, dms_text

WITH = "with"
Options = tuple[tuple[str, str | None], ...]
Names = Mapping[str, str]
_TIME = "estimated_time_s"
_USUAL: tuple[str, None] = ("usual", None)
"""The first option. Its text names no method, for lack of room; the summary below the form does."""


def means_choice(lathe: Lathe, chosen: object) -> Choice:
    """Return the field in which the user chooses the method of setting the rotary table.

    `chosen`: the method that the job names. The field offers this method even if the rotary table cannot use it.
    """
    usable = () if lathe.rotary_table is None else means_of(lathe.rotary_table)
    named = [str(chosen)] if chosen and chosen not in usable else []
    return Choice(key=WITH, label="Set by", options=(_USUAL, *((means, means) for means in (*usable, *named))))


def means_options(lathe: Lathe, job: DivideJob | PatternJob) -> Options:
    """Return the options for setting the rotary table, each with its worst error, exact methods first."""
    table = lathe.rotary_table
    offered = () if table is None else means_offered(table, job.targets_by_layer_deg)
    return (_USUAL, *((means.words, means.means) for means in offered))


def time_text(plan: Plan, lathe: Lathe, pace: Pace | None) -> str:
    """Return in words the estimated time for all positions.

    `pace`: the user's own pace; None for a rough estimate.
    """
    if pace is None or lathe.rotary_table is None:
        return f"about {hours_and_minutes(round(plan.figures[_TIME] * 1000))}"
    time_s = estimated_time_s(plan.steps, lathe.rotary_table, pace)
    return f"about {hours_and_minutes(round(time_s * 1000))} at your pace"


def time_figure(plan: Plan, lathe: Lathe, pace: Pace | None) -> Figure:
    """Return the estimated time as a figure, with a note that says what the estimate is based on.

    `pace`: the user's own pace; None for a rough estimate.
    """
    by_log = f"median of your last {pace.passes} passes on this lathe" if pace else "roughly"
    return Figure("Time", time_text(plan, lathe, pace), by_log)


def at_pace(operation: JobOperation, pace: Callable[[str, str], Pace | None]) -> tuple[Mapping[str, Any], Names]:
    """Return an operation's figures and their names, with the time at the user's own pace if this is known.

    `pace`: a function that returns the user's pace, given the kind of operation and the lathe's name; None if the pace
    is not known.
    """
    figures, names, lathe = operation.plan.figures, operation.figure_names, operation.plan_input.lathe
    if _TIME not in figures or lathe.rotary_table is None:
        return figures, names
    known = pace(operation.kind, lathe.name)
    if known is None:
        return figures, names
    time_s = estimated_time_s(operation.plan.steps, lathe.rotary_table, known)
    return {**figures, _TIME: time_s}, {**names, _TIME: f"time from your last {known.passes} passes"}


def divide_figures(
    plan: Plan, job: DivideJob, dividing: Dividing, lathe: Lathe, pace: Pace | None = None
) -> Iterator[Figure]:
    """Yield the figures of a division: number of positions, method of setting, errors, and time.

    `pace`: the user's own pace; None for a rough estimate.
    """
    yield Figure("Positions", str(dividing.count), _sense(job))
    yield from _means(dividing)
    if dividing.count > 1:
        even = "nearly the same each time: see SETTINGS" if dividing.worst_error_deg else "each time"
        yield Figure("To the next", step_text(dividing), even if job.divisions else "from the first position")
    if dividing.means == "plate":
        yield Figure("Sector arms", sector_words(dividing))
    compound = compound_of_step(dividing)
    if compound is not None:
        yield Figure(
            "Both circles", formula(compound), "exact: move the pin in the first circle and the plate in the second"
        )
    yield from _errors(plan, lathe)
    if job.divisions is not None:
        yield Figure("Exact by", exact_means_text(dividing.table, job.divisions) or "no method of this table")
    if "passes" in plan.figures:
        yield Figure("Passes", str(plan.figures["passes"]), "cuts in all")
    yield time_figure(plan, lathe, pace)


def set_by_words(dividing: Dividing, job: DivideJob, lathe: Lathe) -> str:
    """Return a sentence with the first movement, the worst error, and the methods that would have no error."""
    error = "all exact"
    if dividing.worst_error_deg != 0:
        error = f"at worst {worst_error_text(dividing, job.radius_mm, lathe)} off"
        ways = "" if job.divisions is None or job.start_deg else exact_means_text(dividing.table, job.divisions)
        error += f" (exact by {ways})" if ways else ""
    first = f"{step_text(dividing)} from the first to the second" if dividing.count > 1 else "one position"
    circle = f" in the {dividing.circle} circle" if dividing.means == "plate" else ""
    return f"{dividing.count} positions by {_WAYS[dividing.means]}: {first}{circle}; {error}."


_WAYS = {"dial": "the dial", "plate": "a plate", "direct": "notches"}


def _sense(job: DivideJob) -> str:
    start = f"from {dms_text(job.start_deg)}, " if job.start_deg else ""
    return f"{start}numbers {'falling' if job.falling else 'rising'}"


def _means(dividing: Dividing) -> Iterator[Figure]:
    table = dividing.table
    turn = f"one turn is {dms_text(360 / table.ratio)}"
    if dividing.means == "dial":
        smallest = smallest_deg(table)
        yield Figure("Set by", "the handle's dial", f"read to {dms_text(smallest, smallest)}; {turn}")
    elif dividing.means == "plate":
        yield Figure("Set by", f"the {dividing.circle} circle", f"{plate_words(dividing)}; {turn}")
    else:
        yield Figure("Set by", f"{dividing.circle} notches", "on the table's own spindle")


def _errors(plan: Plan, lathe: Lathe) -> Iterator[Figure]:
    for name, key in (("Worst error", "worst_error"), ("Spacing error", "worst_neighbour_error")):
        arcsec, length_mm = plan.figures[f"{key}_arcsec"], plan.figures.get(f"{key}_mm")
        note = "" if length_mm is None or not arcsec else f"{lathe.length_text(length_mm)} at the work"
        yield Figure(name, amount_text(arcsec / 3600) if arcsec else "none, all exact", note)
