"""What a kind of operation declares of itself: how it is read, counted, planned and planned again, and what it asks.

Board, form, counter, card and history ask the declaration; none of them looks at a kind.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.form import Form
from core.plan import Plan, Step, StepCount
from core.values.fields import Table

if TYPE_CHECKING:
    from core.cutting import Progress
    from core.drawing import Drawing
    from core.events.state import State
    from core.inputs import RunInput
    from core.operations.pattern_pictures import PatternPicture
    from core.questions import Asked
    from core.values.dials import DialsShown

WorkPlace = Literal["", "spindle", "rotary table", "mill"]
"""What carries the work; "" where an operation does not say."""


class Needs(NamedTuple):
    """What must be set up for an operation; "" and None where it does not say, or where it does not matter."""

    place: WorkPlace = ""
    workholding: str = ""
    """How the work is held there, where the job says it."""
    tool: str = ""
    compound: str = ""
    """Which way the compound lies."""
    gears: str = ""
    """What gives a thread its lead: a train of wheels, or levers."""
    turns: str = ""
    """Which way spindle and leadscrew turn for a thread, where they do not turn as usual."""
    speed_rpm: float | None = None
    feeds: bool = False
    """True for a cut with a feed, for which the gears of a thread are far too coarse."""


MovementsOf = Callable[[Any, Lathe], Callable[[Step, "DialsShown", tuple[int, int]], tuple[str, ...]]]
"""Returns, from the checked parameters and the lathe, what tells the movements of a step: see core.run.movements."""


Figures = Mapping[str, Any]
"""The figures of a plan, by the names that a card has for them."""


DrawingsOf = Callable[[Any, Lathe], Callable[["State", Step], "Drawing | None"]]
"""Returns, from the checked parameters and the lathe, what draws a step: see core.run.step_pictures."""


class PatternGroove(NamedTuple):
    """The groove of a pattern."""

    tip_angle_deg: float
    """Included angle of the tip that cuts it."""
    tip_flat_mm: float
    depth_mm: float


def _cuts_no_groove(found: Any) -> PatternGroove | None:
    return None


def _needs_nothing(found: Any, lathe: Lathe, figures: Figures) -> Needs:
    return Needs()


def _asks_nothing(found: Any, lathe: Lathe, state: "State") -> "tuple[Asked, ...]":
    return ()


def _moved_without_a_question(found: Any, lathe: Lathe, state: "State") -> "Asked | None":
    return None


class Operation(NamedTuple):
    """A kind of operation. Everywhere the first argument is what `read` returned."""

    read: Callable[[Table, Lathe], Any]
    """Returns the checked parameters, None where a problem was noted in the table."""
    steps: Callable[[Any, Lathe, str | None], StepCount]
    """Says from formulas how many steps a plan will have, and refuses (PlanError) what a new plan may not have.

    Runs already started are planned again without it.
    """
    plan: Callable[[Any, Lathe, str | None], Plan]
    replan: Callable[[Any, Lathe, str | None, "Progress", "RunInput"], tuple[Step, ...]]
    """Returns the steps that replace the open ones; raises PlanError for an input that it has no use for."""
    questions: Callable[[Any, Lathe, "State"], "tuple[Asked, ...]"] = _asks_nothing
    """What can be measured or tried at the step at hand."""
    moved: Callable[[Any, Lathe, "State"], "Asked | None"] = _moved_without_a_question
    """What is asked once something was moved; None plans again without a question."""
    movements: MovementsOf | None = None
    """None where the plan's own list of movements serves every pass."""
    figure_names: Mapping[str, str] = MappingProxyType({})
    """What card and board call those figures of its plan whose key is not name enough."""
    form: Form | None = None
    """How it is entered; None where a screen of its own says it, or there is none."""
    drawings: DrawingsOf | None = None
    """What draws its steps; None where they have no drawings, or one pattern for all (pattern_pictures)."""
    pattern: "Callable[[Any], PatternPicture] | None" = None
    """The picture of its pattern; None where it has none."""
    groove: Callable[[Any], PatternGroove | None] = _cuts_no_groove
    """The groove of a pattern that a runout spoils."""
    cut_direction: Callable[[str, bool], str] | None = None
    """Says which way a dial goes (its name, whether inwards) that is set before a cut; None: in and out say it."""
    needs: Callable[[Any, Lathe, Figures], Needs] = _needs_nothing
    """What must be set up before its first step; the last argument are the figures of its plan.

    In words that two operations share where they need the same: core.jobs.changeover compares them.
    """
