"""Setting, Step and Plan: every operation makes a plan of steps, and the counter shows them.

A Plan is frozen and does not know which operation made it. `plan_as_data` and `plan_from_data`
turn it into plain data for the logbook and back.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any, Literal, NamedTuple, cast

from core.step_place import PatternPosition, ReadingPosition, StepPlace, ThreadStart, place_as_data, place_from_data
from core.values.dials import Dial, Setting, Unit
from core.values.errors import PlanError

Action = Literal["set", "cut", "spring", "measure", "index", "read", "check"]

MOST_STEPS = 20_000
INNER_KEYS = frozenset(
    {
        *("must", "start", "pattern_step", "shift_marks", "as_set", "round", "stands", "move", "to_zero", "pass"),
        *("repeat", "along", "shorter_way", "feed_s", "asks", "pace_s", "length_shift_mm"),
    }
)
"""Keys in the `extra` of a step that only the program reads, and that no card shows."""


ALONG = "along"
"""Key in the extra of a pass that feeds along a groove."""
_FINEST_LOGGED = 10**9
"""The largest denominator of a number that a dial has marks for."""


class Expects(StrEnum):
    """What the user can enter at a step. An unknown value, from another version of the program, counts as a size."""

    NOTHING = ""
    READING = "reading"
    SIZE = "size"
    PITCH_DIAMETER = "pitch diameter"
    DEPTH = "depth"
    CIRCLE = "circle"

    @classmethod
    def _missing_(cls, value: object) -> "Expects":
        return cls.SIZE


class StepCount(NamedTuple):
    """How many steps a plan will have, which is known before it is made."""

    steps: int
    key: str = ""
    """The key whose value makes the plan so long."""
    advice: str = ""
    """What the user can enter for fewer steps."""


def refuse_too_many(count: StepCount) -> None:
    """Raise PlanError for more steps than a run can hold.

    >>> refuse_too_many(StepCount(30, "cut", "a deeper cut"))
    """
    if count.steps > MOST_STEPS:
        advice = f"Enter {count.advice}." if count.advice else "Use several operations."
        raise PlanError(f"This takes {count.steps} steps; a run has at most {MOST_STEPS}. {advice}", field=count.key)


class PlateSetting(NamedTuple):
    """One position on a dividing plate, counted from the start: whole turns of the handle, and holes of one circle."""

    dial: str
    turns: int
    holes: int
    circle: int | None
    """The number of holes in the circle; None if `holes` is 0, when any circle will do."""
    move: tuple[int, int] | None = None
    """The turns and holes to move from the position before; None at the first position."""
    compound: Mapping[str, Any] | None = None
    """Two circles of one plate that are used together: {"circles": [15, 20], "holes": [10, 2], "turns": 0}."""


AnySetting = Setting | PlateSetting


_NO_PATTERN = PatternPosition()


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do at the machine, after which the user presses one key.

    Depths are on the radius (of the slide's travel if no diameter is cut). Only `cut` and
    `spring` have them.
    """

    id: int = 0
    """The step's number in the run, which is never used twice."""
    action: Action
    title: str = ""
    """What is done, in two or three words: "Swing the compound". Steps of the first version have no title."""
    text: str
    settings: tuple[AnySetting, ...] = ()
    depth_mm: float | None = None
    removed_mm: float | None = None
    remaining_mm: float | None = None
    cautions: tuple[str, ...] = ()
    """The caution of this step: at most one, and none that an earlier step has (see core.safety.without_repeats)."""
    findings: tuple[str, ...] = ()
    """What a measurement, a trial or a setting has shown, if this step is the first one planned from it."""
    zeroed_dials: tuple[str, ...] = ()
    """The dials that are set to zero at this step, or whose reading then counts as zero."""
    expects: Expects = Expects.NOTHING
    place: StepPlace | None = None
    """Where the step is in a pattern, among readings or in a multi-start thread."""
    required: bool = False
    """True if the step cannot be skipped, because later steps need what is entered here."""
    extra: Mapping[str, Any] = field(default_factory=dict)
    """More figures from the step's operation, such as error_arcsec. The card shows them as they are."""

    @property
    def name(self) -> str:
        """The title; for a step of the first version, its text up to the colon."""
        return self.title or self.text.partition(":")[0]

    @property
    def at(self) -> PatternPosition:
        """Where the step is in a pattern; a PatternPosition with every field None if it is in none."""
        return self.place if isinstance(self.place, PatternPosition) else _NO_PATTERN

    @property
    def feeds_along(self) -> bool:
        """Whether the step feeds along a groove, after one that feeds in at its start."""
        return bool(self.extra.get(ALONG, False))

    @property
    def reading_at(self) -> ReadingPosition | None:
        """Where the step is among readings round a turn; None if it takes no reading."""
        return self.place if isinstance(self.place, ReadingPosition) else None

    @property
    def thread_start(self) -> int | None:
        """The number of the thread's start that the step moves to, from 2; None if it moves to none."""
        return self.place.number if isinstance(self.place, ThreadStart) else None

    def setting(self, dial: str) -> Setting | None:
        """Return the setting of a dial at this step, None if the step does not set that dial."""
        settings = (setting for setting in self.settings if isinstance(setting, Setting))
        return next((setting for setting in settings if setting.dial == dial), None)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """All steps of one operation, with the figures and cautions that go with it."""

    figures: Mapping[str, Any] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    """The cautions of this plan, with its own numbers, the gravest first.

    In runs of the first version they are all cautions.
    """
    general: tuple[str, ...] = ()
    """The cautions that all runs of this kind have: about machine, hands and material."""
    movements: tuple[str, ...] = ()
    """The movements of every cut, in order; () if the operation makes them for each step."""
    steps: tuple[Step, ...]

    def __post_init__(self) -> None:
        """Raise PlanError for a plan without steps, or with more than a run can hold."""
        if not 0 < len(self.steps) <= MOST_STEPS:
            raise PlanError(f"This plan has {len(self.steps)} steps. A run has 1 to {MOST_STEPS}.")


def numbered(steps: Sequence[Step], first: int = 1) -> tuple[Step, ...]:
    """Return the steps with ids from `first` on."""
    return tuple(
        step if step.id == number else replace(step, id=number) for number, step in enumerate(steps, start=first)
    )


def plan_as_data(plan: Plan) -> dict[str, Any]:
    """Return a plan as plain data for the logbook."""
    return {
        "figures": dict(plan.figures),
        "cautions": list(plan.cautions),
        "general": list(plan.general),
        "hands": list(plan.movements),
        "steps": [step_as_data(step) for step in plan.steps],
    }


def plan_from_data(data: Mapping[str, Any]) -> Plan:
    """Return the plan that `plan_as_data` turned into data; raises KeyError or TypeError for anything else."""
    return Plan(
        figures=data["figures"],
        cautions=tuple(data["cautions"]),
        general=tuple(data.get("general", ())),
        movements=tuple(data["hands"]),
        steps=steps_from_data(data["steps"]),
    )


def step_as_data(step: Step) -> dict[str, Any]:
    """Return a step as plain data, without keys that do not apply."""
    data: dict[str, Any] = {"id": step.id, "action": step.action, "text": step.text}
    if step.title:
        data["title"] = step.title
    if step.settings:
        data["settings"] = [setting_as_data(setting) for setting in step.settings]
    for key in ("depth_mm", "removed_mm", "remaining_mm"):
        value = getattr(step, key)
        if value is not None:
            data[key] = value
    for key, names in (("cautions", step.cautions), ("findings", step.findings), ("zeroes", step.zeroed_dials)):
        if names:
            data[key] = list(names)
    if step.expects:
        data["expects"] = str(step.expects)
    if figures := figures_as_data(step):
        data["extra"] = figures
    return data


def figures_as_data(step: Step) -> dict[str, Any]:
    """Return place and figures of a step as plain data, for the log and the card."""
    figures = {**place_as_data(step.place), **step.extra}
    return {**figures, "must": True} if step.required else figures


def steps_from_data(data: Sequence[Mapping[str, Any]]) -> tuple[Step, ...]:
    """Return the steps that `step_as_data` turned into data."""
    # A thread moves to another start in a step that sets something; numbered steps of a pattern cut as well.
    in_pattern = any(step["action"] != "set" and "start" in step.get("extra", ()) for step in data)
    return tuple(_step_from_data(step, in_pattern) for step in data)


def _step_from_data(data: Mapping[str, Any], in_pattern: bool) -> Step:
    expects = Expects(data.get("expects", ""))
    is_reading = expects == Expects.READING and data["action"] != "set"
    place, figures = place_from_data(data.get("extra", {}), is_reading, in_pattern)
    return Step(
        id=data["id"],
        action=data["action"],
        title=data.get("title", ""),
        text=data["text"],
        settings=tuple(_setting_from_data(setting) for setting in data.get("settings", ())),
        depth_mm=data.get("depth_mm"),
        removed_mm=data.get("removed_mm"),
        remaining_mm=data.get("remaining_mm"),
        cautions=tuple(data.get("cautions", ())),
        findings=tuple(data.get("findings", ())),
        zeroed_dials=tuple(data.get("zeroes", ())),
        expects=expects,
        place=place,
        required=bool(figures.pop("must", False)),
        extra=figures,
    )


def setting_as_data(setting: AnySetting) -> dict[str, Any]:
    """Return a setting as plain data, for card and log; a readout has no turns."""
    if isinstance(setting, PlateSetting):
        return _plate_as_data(setting)
    data: dict[str, Any] = {"dial": setting.dial, "position": float(setting.position), "unit": setting.unit}
    if setting.turns is not None:
        data |= {"turns": setting.turns, "reading": None if setting.reading is None else float(setting.reading)}
    return data | {"rounding": setting.rounding}


def _plate_as_data(setting: PlateSetting) -> dict[str, Any]:
    data: dict[str, Any] = {"dial": setting.dial, "turns": setting.turns, "holes": setting.holes}
    if setting.circle is not None:
        data["circle"] = setting.circle
    if setting.move is not None:
        data["move"] = {"turns": setting.move[0], "holes": setting.move[1]}
    if setting.compound is not None:
        data["compound"] = dict(setting.compound)
    return data


def _setting_from_data(data: Mapping[str, Any]) -> AnySetting:
    if "holes" in data:
        move = data.get("move")
        return PlateSetting(
            dial=data["dial"],
            turns=data["turns"],
            holes=data["holes"],
            circle=data.get("circle"),
            move=None if move is None else (move["turns"], move["holes"]),
            compound=data.get("compound"),
        )
    return Setting(
        dial=data["dial"],
        unit=cast(Unit, data["unit"]),
        position=_exact(data["position"]),
        turns=data.get("turns"),
        reading=_exact(data["reading"]) if data.get("reading") is not None else None,
        rounding=data["rounding"],
    )


def _exact(logged: float) -> Fraction:
    """Return a number of a dial exactly, from the float that the log holds."""
    return Fraction(logged).limit_denominator(_FINEST_LOGGED)


def at_zero(dial: Dial) -> Setting:
    """Return the setting of a dial at its own zero."""
    return dial.at_marks(0)
