"""By which means the table is set: the choice that dividing and layers have alike."""

from core.lathe.lathe import Lathe
from core.operations.dividing.job import DivideJob
from core.operations.dividing.means import ways_of, ways_offered
from core.operations.form import Choice
from core.operations.patterns.job import PatternJob

WITH = "with"
Options = tuple[tuple[str, str | None], ...]
_USUAL: tuple[str, None] = ("usual", None)
"""The summary below says which that is; with all means beside it in sight, its own name has no room."""


def way_choice(lathe: Lathe, given: object) -> Choice:
    """Return the choice among the means that the lathe's table has, and the one a job names though it has not."""
    has = () if lathe.rotary_table is None else ways_of(lathe.rotary_table)
    named = [str(given)] if given and given not in has else []
    return Choice(key=WITH, label="Set by", options=(_USUAL, *((way, way) for way in (*has, *named))))


def way_options(lathe: Lathe, job: DivideJob | PatternJob) -> Options:
    """Return the means, those that divide the job exactly first, each with its worst error."""
    table = lathe.rotary_table
    offered = () if table is None else ways_offered(table, job.patterns_deg)
    return (_USUAL, *((found.words, found.way) for found in offered))
