"""The declaration of a kind of operation: functions that read it, count its steps, plan it and ask its questions.

Screens, cards and logs use only this declaration. They never check which kind an operation is.
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
    from core.inputs import Measured, RunInput
    from core.operations.patterns.picture import PatternPicture
    from core.operations.settings_table import SettingsTable
    from core.questions import Asked
    from core.replanning import ComparedCut
    from core.values.dials import ZeroedDials

WorkPlace = Literal["", "spindle", "rotary table", "mill"]
"""Where the work is held; "" if the operation does not say."""


class Needs(NamedTuple):
    """The set-up of the lathe that an operation needs. An item is "" or None if it is not known or does not matter."""

    place: WorkPlace = ""
    workholding: str = ""
    """How the work is held; "" if the job does not say."""
    tool: str = ""
    compound: str = ""
    """The direction in which the compound points, in words."""
    gears: str = ""
    """The change gears, or the levers of the gearbox, for the lead of a thread."""
    turns: str = ""
    """The directions of spindle and leadscrew for a thread, if they are not the usual ones."""
    speed_rpm: float | None = None
    stop: str = ""
    """Position of the carriage stop, such as "22 mm from the end face"; "" if the operation uses no stop."""
    feeds: bool = False
    """True for a cut with a feed. The gears of a thread are too coarse for such a cut."""


MovementsOf = Callable[[Any, Lathe], Callable[[Step, "ZeroedDials", tuple[int, int]], tuple[str, ...]] | None]
"""Takes the checked parameters and the lathe, and returns the function that gives a step's movements.

None instead of a function: the plan's own list of movements is right for every pass.
"""


WORKHOLDING, TOOL, SPEED = "workholding", "tool", "speed"
"""Keys of a job that state how the work is held, the tool, and the spindle speed."""
SET_UP_KEYS = (WORKHOLDING, TOOL, SPEED)

Figures = Mapping[str, Any]
"""The figures of a plan, by their keys on a card."""


DrawingsOf = Callable[[Any, Lathe], Callable[["State", Step], "Drawing | None"]]
"""Takes the checked parameters and the lathe, and returns the function that draws a step."""


class PatternGroove(NamedTuple):
    """The cross-section of a pattern's groove: the angle and the flat of the cutter's point, and the depth."""

    tip_angle_deg: float
    """The included angle of the cutter's point [deg]."""
    tip_flat_mm: float
    depth_mm: float


class Handover(NamedTuple):
    """A result of a run that another operation of the same job can use, with the keys of that operation's table."""

    kind: str
    """The kind of operation that can use the result."""
    parameters: Mapping[str, str]
    """Keys of that operation's table, with their new values."""
    words: str
    """The result in words, such as "height error 0.02 mm"."""
    applied: Callable[[Mapping[str, Any]], dict[str, Any]] | None = None
    """Returns that operation's table with a result that is not a key of its own, such as a cutter in a list."""
    to_do: Callable[[Mapping[str, Any]], str] | None = None
    """Returns a sentence on what the user must still change in that operation with the result in it; "" if nothing."""

    def table_with(self, table: Mapping[str, Any]) -> dict[str, Any]:
        """Return a copy of the table of the operation that uses the result, with the result added."""
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


def _unchanged(parameters: Mapping[str, Any], lathe: Lathe) -> Mapping[str, Any]:
    return parameters


def _no_depth_dial(parameters: Any) -> str:
    return ""


def _moved_without_a_question(parameters: Any, lathe: Lathe, state: "State") -> "Asked | None":
    return None


class Operation(NamedTuple):
    """The declaration of one kind of operation. Most of its functions take the result of `read` as their first
    argument.
    """

    read: Callable[[Table, Lathe], Any]
    """Returns the checked parameters; None if an entry of the table is wrong, with the error in `table.problems`."""
    steps: Callable[[Any, Lathe, str | None], StepCount]
    """Returns how many steps a plan will have.

    Raises PlanError for values that a new plan must not have. A run that was already started is planned again without
    this check.
    """
    plan: Callable[[Any, Lathe, str | None], Plan]
    replan: Callable[[Any, Lathe, str | None, "Progress", "RunInput"], tuple[Step, ...]]
    """Returns new steps that replace the remaining ones; raises PlanError for an input that cannot be used."""
    questions: Callable[[Any, Lathe, "State"], "tuple[Asked, ...]"] = _asks_nothing
    """Returns the questions about measurements and trials that the user can answer at the current step."""
    moved: Callable[[Any, Lathe, "State"], "Asked | None"] = _moved_without_a_question
    """Returns the question to ask after something was moved; None if the run needs no answer."""
    movements: MovementsOf | None = None
    """Returns the function for the movements of a step; None if the plan's movements suit every pass."""
    figure_names: Mapping[str, str] = MappingProxyType({})
    """Labels on card and board, for those figures whose key does not read well as a label."""
    form: Form | None = None
    """The form for entering the operation; None if it has a screen of its own or cannot be entered."""
    drawings: DrawingsOf | None = None
    """Returns the function that draws a step; None without drawings, or if all steps share one pattern."""
    pattern: "Callable[[Any, Lathe], PatternPicture] | None" = None
    """Returns the picture of the pattern as set on the lathe's marks; None if the kind has no pattern."""
    errors: "Callable[[Any, Lathe], Any] | None" = None
    """Returns the PatternErrors to draw in the pattern's picture; None if the kind cannot draw errors."""
    has_spring_passes: bool = False
    """True if a cutting pass can be repeated at the same dial reading, as a spring pass."""
    settings: "Callable[[Any, Lathe, Plan], tuple[SettingsTable, ...]]" = _sets_no_positions
    """Returns the settings at all positions, as one or several lists."""
    overview: "Callable[[Any, Lathe], tuple[tuple[str, Drawing], ...]]" = _draws_nothing
    """Returns drawings of the finished work for a printed page, each with its name."""
    groove: Callable[[Any], PatternGroove | None] = _cuts_no_groove
    """Returns the groove of a pattern, whose width changes if the work runs out; None if not known."""
    hands_over: "Callable[[Any, Lathe, State], Handover | None] | None" = None
    """Returns a result that another operation of the job can use; None if there is none yet."""
    set_up_keys: tuple[str, ...] = ()
    """The keys of its table that state only the set-up: some of WORKHOLDING, TOOL and SPEED."""
    cut_direction: Callable[[Mapping[str, Any], str, bool], str] | None = None
    """Returns the direction of a slide in words, from the job's keys, the dial's name and whether it goes in.

    None instead of a function: the words "in" and "out" are enough.
    """
    measured_cut: "Callable[[Any, Lathe, str | None], ComparedCut] | None" = None
    """Returns the cut with which the dials' predictions are compared; None without a cut to a depth."""
    depth_dial: Callable[[Any], str] = _no_depth_dial
    """Returns the dial with which a measured depth is compared, without a `measured_cut`; "" for no dial."""
    wanted_mm: "Callable[[Any, Step, Measured], tuple[float, float] | None] | None" = None
    """Returns the smallest and the largest wanted value of a size that was measured after a pass [mm].

    Both are the same without limits. None instead of a function: the plan's figures hold the limits.
    """
    logged_by_first_version: Callable[[Mapping[str, Any], Lathe], Mapping[str, Any]] = _unchanged
    """Returns the keys and values of a run that the first version logged, with what that version took as usual."""
    needs: Callable[[Any, Lathe, Figures], Needs] = _needs_nothing
    """Returns how the lathe must be set up before the first step, from the plan's figures.

    Operations with the same need must use the same words, because core.jobs.changeover compares the words.
    """
