"""The declaration of an operation: functions that read, count, plan and plan it again, and its questions.

Board, form, counter, card and history use only the declaration, never the kind of operation.
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
    from core.values.dials import ZeroedDials

WorkPlace = Literal["", "spindle", "rotary table", "mill"]
"""What holds the work; "" if the operation does not name it."""


class Needs(NamedTuple):
    """What must be set up for an operation; "" and None mean not known, or not important."""

    place: WorkPlace = ""
    workholding: str = ""
    """How the work is held there, if the job says so."""
    tool: str = ""
    compound: str = ""
    """Direction of the compound."""
    gears: str = ""
    """Change gears or gearbox levers that give a thread its lead."""
    turns: str = ""
    """Directions of spindle and leadscrew for a thread, if not the usual ones."""
    speed_rpm: float | None = None
    feeds: bool = False
    """True for a cut with a feed, for which the gears of a thread are too coarse."""


MovementsOf = Callable[[Any, Lathe], Callable[[Step, "ZeroedDials", tuple[int, int]], tuple[str, ...]]]
"""From the checked parameters and the lathe, returns the function that gives the movements of a step."""


Figures = Mapping[str, Any]
"""The figures of a plan, by their names on a card."""


DrawingsOf = Callable[[Any, Lathe], Callable[["State", Step], "Drawing | None"]]
"""From the checked parameters and the lathe, returns the function that draws a step."""


class PatternGroove(NamedTuple):
    """The groove of a pattern."""

    tip_angle_deg: float
    """Included angle of the tip that cuts it."""
    tip_flat_mm: float
    depth_mm: float


class Handover(NamedTuple):
    """A result of a run that another operation of the same job can use."""

    kind: str
    """The kind of operation that can use it."""
    parameters: Mapping[str, str]
    """Keys of that operation's table, with their new values."""
    words: str
    """The result in words: "height error 0.02 mm"."""


def _cuts_no_groove(parameters: Any) -> PatternGroove | None:
    return None


def _needs_nothing(parameters: Any, lathe: Lathe, figures: Figures) -> Needs:
    return Needs()


def _asks_nothing(parameters: Any, lathe: Lathe, state: "State") -> "tuple[Asked, ...]":
    return ()


def _moved_without_a_question(parameters: Any, lathe: Lathe, state: "State") -> "Asked | None":
    return None


class Operation(NamedTuple):
    """The declaration of an operation. The first argument of its functions is what `read` returned."""

    read: Callable[[Table, Lathe], Any]
    """Returns the checked parameters; None if a problem was noted in the table."""
    steps: Callable[[Any, Lathe, str | None], StepCount]
    """Returns how many steps a plan will have; raises PlanError for values that a new plan may not have.

    Runs already started are planned again without it.
    """
    plan: Callable[[Any, Lathe, str | None], Plan]
    replan: Callable[[Any, Lathe, str | None, "Progress", "RunInput"], tuple[Step, ...]]
    """Returns new steps that replace the remaining ones; raises PlanError for an input that it cannot use."""
    questions: Callable[[Any, Lathe, "State"], "tuple[Asked, ...]"] = _asks_nothing
    """Returns the questions on what can be measured or tried at the current step."""
    moved: Callable[[Any, Lathe, "State"], "Asked | None"] = _moved_without_a_question
    """The question after something was moved; None plans again without one."""
    movements: MovementsOf | None = None
    """Gives the movements of each step; None if the plan's list of movements is right for every pass."""
    figure_names: Mapping[str, str] = MappingProxyType({})
    """Names on card and board of figures whose key is not clear enough."""
    form: Form | None = None
    """How it is entered; None if it has a screen of its own, or none."""
    drawings: DrawingsOf | None = None
    """Draws its steps; None if they have no drawings, or one pattern for all (pattern_pictures)."""
    pattern: "Callable[[Any], PatternPicture] | None" = None
    """The picture of its pattern; None if it has none."""
    groove: Callable[[Any], PatternGroove | None] = _cuts_no_groove
    """The groove of a pattern, whose width depends on runout."""
    hands_over: "Callable[[Any, Lathe, State], Handover | None] | None" = None
    """Returns the result of a run that another operation of the job can use, None if there is none yet."""
    cut_direction: Callable[[str, bool], str] | None = None
    """Returns the direction of a dial (its name, whether inwards) in words; None: in and out are enough."""
    needs: Callable[[Any, Lathe, Figures], Needs] = _needs_nothing
    """What must be set up before its first step; the last argument is the figures of its plan.

    Operations with the same need use the same words: core.jobs.changeover compares them.
    """
