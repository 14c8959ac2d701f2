"""The declaration of an operation: the functions that read it, count its steps and plan them, and its questions.

Board, form, counter, card and history use only the declaration and never ask for the kind of operation.
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
    from core.operations.patterns.picture import ErrorsToDraw, PatternPicture
    from core.operations.settings_table import SettingsTable
    from core.questions import Asked
    from core.replanning import MeasuredCut
    from core.values.dials import ZeroedDials

WorkPlace = Literal["", "spindle", "rotary table", "mill"]
"""What holds the work, such as the chuck; "" if the operation does not say."""


class Needs(NamedTuple):
    """How the lathe must be set up for an operation. "" and None mean that it is not known or does not matter."""

    place: WorkPlace = ""
    workholding: str = ""
    """How the work is held, if the job says so."""
    tool: str = ""
    compound: str = ""
    """The direction in which the compound points."""
    gears: str = ""
    """Change gears or gearbox levers that give a thread its lead."""
    turns: str = ""
    """The directions of spindle and leadscrew for a thread, unless they are the usual ones."""
    speed_rpm: float | None = None
    stop: str = ""
    """Where the carriage stop is, if the operation uses it: "22 mm from the end face"."""
    feeds: bool = False
    """True for a cut with a feed, for which the gears of a thread are too coarse."""


MovementsOf = Callable[[Any, Lathe], Callable[[Step, "ZeroedDials", tuple[int, int]], tuple[str, ...]] | None]
"""From the checked parameters and the lathe, returns the function that gives the movements of a step.

None: the plan's list of movements is right for every pass.
"""


WORKHOLDING, TOOL, SPEED = "workholding", "tool", "speed"
"""Keys that state how the work is held, which tool cuts it, and how fast the spindle turns."""
SET_UP_KEYS = (WORKHOLDING, TOOL, SPEED)

Figures = Mapping[str, Any]
"""The figures of a plan, by their names on a card."""


DrawingsOf = Callable[[Any, Lathe], Callable[["State", Step], "Drawing | None"]]
"""Returns, for checked parameters and a lathe, the function that draws a step."""


class PatternGroove(NamedTuple):
    """The groove of a pattern."""

    tip_angle_deg: float
    """The included angle of the cutter's point."""
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
    applied: Callable[[Mapping[str, Any]], dict[str, Any]] | None = None
    """Returns that operation's table with a result that is not a key of its own, such as a cutter in a list."""

    def table_with(self, table: Mapping[str, Any]) -> dict[str, Any]:
        """Return an operation's table with this result in it."""
        merged = {**table, **self.parameters}
        return merged if self.applied is None else self.applied(merged)


def _cuts_no_groove(parameters: Any) -> PatternGroove | None:
    return None


def _sets_no_positions(parameters: Any, lathe: Lathe, plan: Plan) -> "tuple[SettingsTable, ...]":
    return ()


def _draws_nothing(parameters: Any, lathe: Lathe) -> "tuple[tuple[str, Drawing], ...]":
    return ()


def _needs_nothing(parameters: Any, lathe: Lathe, figures: Figures) -> Needs:
    return Needs()


def _asks_nothing(parameters: Any, lathe: Lathe, state: "State") -> "tuple[Asked, ...]":
    return ()


def _no_depth_dial(parameters: Any) -> str:
    return ""


def _moved_without_a_question(parameters: Any, lathe: Lathe, state: "State") -> "Asked | None":
    return None


class Operation(NamedTuple):
    """The declaration of an operation. Most of its functions first get what `read` returned."""

    read: Callable[[Table, Lathe], Any]
    """Returns the checked parameters; None if the table has a problem, which the table then holds."""
    steps: Callable[[Any, Lathe, str | None], StepCount]
    """Returns how many steps a plan will have.

    Raises PlanError for values that a new plan may not have. A run that is already started is planned again without
    this check.
    """
    plan: Callable[[Any, Lathe, str | None], Plan]
    replan: Callable[[Any, Lathe, str | None, "Progress", "RunInput"], tuple[Step, ...]]
    """Returns new steps that replace the remaining ones; raises PlanError for an input that it cannot use."""
    questions: Callable[[Any, Lathe, "State"], "tuple[Asked, ...]"] = _asks_nothing
    """Returns the questions on what can be measured or tried at the current step."""
    moved: Callable[[Any, Lathe, "State"], "Asked | None"] = _moved_without_a_question
    """The question that is asked after something was moved; None if no answer is needed."""
    movements: MovementsOf | None = None
    """Returns the movements of each step; None if the movements in the plan suit every pass."""
    figure_names: Mapping[str, str] = MappingProxyType({})
    """Names for figures, on card and board, whose keys do not make a good name."""
    form: Form | None = None
    """How the user enters it; None if it has a screen of its own or cannot be entered."""
    drawings: DrawingsOf | None = None
    """Draws its steps; None if they have no drawings, or one pattern for all (patterns.picture)."""
    pattern: "Callable[[Any, Lathe], PatternPicture] | None" = None
    """The picture of its pattern as set on the lathe's marks; None if it has none."""
    errors: "Callable[[Any, Lathe], ErrorsToDraw] | None" = None
    """The errors of its set-up, to be drawn in the picture of its pattern; None if they cannot be."""
    settings: "Callable[[Any, Lathe, Plan], tuple[SettingsTable, ...]]" = _sets_no_positions
    """The settings of all positions, list by list."""
    overview: "Callable[[Any, Lathe], tuple[tuple[str, Drawing], ...]]" = _draws_nothing
    """Drawings of the whole for a printed page, each with its name."""
    groove: Callable[[Any], PatternGroove | None] = _cuts_no_groove
    """The groove of a pattern, whose width changes if the work runs out."""
    hands_over: "Callable[[Any, Lathe, State], Handover | None] | None" = None
    """Returns the result of a run that another operation of the job can use, None if there is none yet."""
    set_up_keys: tuple[str, ...] = ()
    """The keys of its table that only state the set-up, of WORKHOLDING, TOOL and SPEED."""
    cut_direction: Callable[[Mapping[str, Any], str, bool], str] | None = None
    """Returns the direction of a dial (keys of the job, its name, whether inwards) in words.

    None: in and out are enough.
    """
    measured_cut: "Callable[[Any, Lathe, str | None], MeasuredCut] | None" = None
    """Returns its cut to a depth, by which a measured size is compared with what the dial says. None: it has none."""
    depth_dial: Callable[[Any], str] = _no_depth_dial
    """Returns the dial by which a measured depth is compared, if there is no `measured_cut`; "" for none."""
    needs: Callable[[Any, Lathe, Figures], Needs] = _needs_nothing
    """How the lathe must be set up before the first step; the last argument holds the figures of the plan.

    Operations with the same need must use the same words, because core.jobs.changeover compares them.
    """
