"""Setting, Step and Plan. Every operation makes a plan of steps, which the counter screen shows one by one.

A Plan never changes, and does not refer to its operation. `plan_as_data` converts a plan to plain data for the logbook,
and `plan_from_data` converts it back.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any, Literal, NamedTuple, cast

from core.values.dials import Dial, Setting, Unit
from core.values.errors import PlanError

_BOTH, _STRIDE = "start", 1_000_000
"""The oldest key of a place, and the stride that it needs.

In runs of schema 1, one number may hold the number of the step, plus this stride for each mark of its shift.
"""


class PatternPosition(NamedTuple):
    """The position of a step in a pattern. All fields are None if the step belongs to no pattern."""

    step: int | None = None
    """The number of the step in the pattern."""
    shift_marks: int = 0
    """The number of marks by which its dial was shifted after the step was planned."""
    position: int | None = None
    """The number of the position, from 1; None for a set-up step."""
    of: int | None = None
    """The number of positions in the pattern; None if the step goes to no position."""
    layer: int | None = None
    """The number of the layer, from 1; None if the pattern has only one layer."""

    @property
    def where(self) -> tuple[int | None, int | None]:
        """The layer and the position, which together name one place of the pattern."""
        return self.layer, self.position


class ReadingPosition(NamedTuple):
    """The position of an indicator reading: its mark on the work, its turn, and its set of readings."""

    angle_deg: float | None
    """The angle of the mark to read [deg]; None for the first mark again, which closes the turn."""
    plane: int | None = None
    """The number of the plane, from 1; None if only one plane is read."""
    set_of_readings: int | None = None
    """The number of the set of readings.

    None for a turn that is read again, and in runs of the first version.
    """
    repeat: int = 0
    """How many times the turn was read before: 0 for the first time."""

    @property
    def time(self) -> tuple[int | None, int]:
        """The set of readings and the repeat, which together name one turn of the work."""
        return self.set_of_readings, self.repeat


class ThreadStart(NamedTuple):
    """The start of a multi-start thread to which a step changes."""

    number: int


StepPlace = PatternPosition | ReadingPosition | ThreadStart


def place_as_data(place: StepPlace | None) -> dict[str, Any]:
    """Return the position of a step as plain data for the log. Keys that do not apply are left out.

    >>> place_as_data(PatternPosition(step=7, shift_marks=-3, position=2))
    {'position': 2, 'pattern_step': 7, 'shift_marks': -3}
    """
    match place:
        case PatternPosition():
            data = {
                "position": place.position,
                "of": place.of,
                "layer": place.layer,
                "pattern_step": place.step,
                "shift_marks": place.shift_marks or None,
            }
            return {key: value for key, value in data.items() if value is not None}
        case ReadingPosition():
            mark = {"closing": True} if place.angle_deg is None else {"angle_deg": place.angle_deg}
            again = {"again": True, "repeat": place.repeat} if place.repeat else {}
            own = {"plane": place.plane, "round": place.set_of_readings}
            return {**mark, **{key: value for key, value in own.items() if value is not None}, **again}
        case ThreadStart():
            return {"start": place.number}
    return {}


def place_from_data(
    figures: Mapping[str, Any], is_reading: bool, in_pattern: bool
) -> tuple[StepPlace | None, dict[str, Any]]:
    """Return the position of a step from its logged figures, and the figures that do not belong to the position.

    is_reading: True if the step reads the indicator.
    in_pattern: True if the key "start" is the number of a pattern's step, as in the oldest runs; False if it is the
    number of a thread start.
    Raises TypeError or ValueError for figures that cannot be a position.

    >>> place_from_data({"start": 2}, False, False)
    (ThreadStart(number=2), {})
    >>> place_from_data({"start": 2_000_007}, False, True)
    (PatternPosition(step=7, shift_marks=2, position=None, of=None, layer=None), {})
    """
    other = dict(figures)
    if is_reading and ("closing" in other or "angle_deg" in other):
        angle_deg = None if other.pop("closing", False) else float(other.pop("angle_deg"))
        # Runs of the first version do not number the repeats of a turn.
        repeat = (_whole(other, "repeat") or 1) if other.pop("again", False) else 0
        return ReadingPosition(angle_deg, _whole(other, "plane"), _whole(other, "round"), repeat), other
    both = _whole(other, _BOTH)
    if both is not None and not in_pattern:
        return ThreadStart(both), other
    step, shift = _whole(other, "pattern_step"), _whole(other, "shift_marks") or 0
    if both is not None:
        shift, step = divmod(both, _STRIDE)
    place = PatternPosition(step, shift, *(_whole(other, key) for key in ("position", "of", "layer")))
    return (None if place == PatternPosition() else place), other


def _whole(figures: dict[str, Any], key: str) -> int | None:
    """Remove a key from the figures and return its value, a whole number; None if there is no such key.

    Raises TypeError if the value is not a whole number.
    """
    value = figures.pop(key, None)
    if value is not None and type(value) is not int:
        raise TypeError(f"{key}, which must be a whole number")
    return value


Action = Literal["set", "cut", "spring", "measure", "index", "read", "check"]

MOST_STEPS = 20_000
INNER_KEYS = frozenset(
    {
        *("must", "start", "pattern_step", "shift_marks", "as_set", "round", "stands", "move", "to_zero", "pass"),
        *("repeat", "along", "shorter_way", "feed_s", "asks", "pace_s", "length_shift_mm"),
    }
)
"""Keys in the `extra` of a step that only the program reads. No card shows them."""


ALONG = "along"
"""The key in a step's `extra` that says that the pass feeds along a groove."""
_FINEST_LOGGED = 10**9
"""The largest denominator of a number that a dial has marks for."""


class Expects(StrEnum):
    """What the user can enter at a step. A kind of entry that only a newer version knows is treated as a size."""

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
    """The number of steps that a plan will have, as counted before the plan is made."""

    steps: int
    key: str = ""
    """The key of the job file whose value makes the plan so long."""
    advice: str = ""
    """What the user can enter to get fewer steps, as a noun with its adjective."""


def refuse_too_many(count: StepCount) -> None:
    """Raise PlanError if a plan would have more steps than a run may have.

    >>> refuse_too_many(StepCount(30, "cut", "a deeper cut"))
    """
    if count.steps > MOST_STEPS:
        advice = f"Enter {count.advice}." if count.advice else "Use several operations."
        raise PlanError(
            f"This takes {count.steps} steps. A run can have at most {MOST_STEPS}. {advice}", field=count.key
        )


class PlateSetting(NamedTuple):
    """One position on a dividing plate, counted from the start of the dividing.

    It consists of full turns of the handle, and of further holes in one hole circle.
    """

    dial: str
    turns: int
    holes: int
    circle: int | None
    """The number of holes in the hole circle; None if `holes` is 0, because any hole circle will do."""
    move: tuple[int, int] | None = None
    """The turns and holes to move from the previous position; None at the first position."""
    compound: Mapping[str, Any] | None = None
    """Two hole circles of one plate that are used together: {"circles": [15, 20], "holes": [10, 2], "turns": 0}."""


AnySetting = Setting | PlateSetting


_NO_PATTERN = PatternPosition()


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do at the machine. The user presses a key when it is done.

    Depths are on the radius, or along the slide's travel if no diameter is cut [mm]. Only steps with the action `cut`
    or `spring` have depths.
    """

    id: int = 0
    """The step's number in the run, which is never used twice."""
    action: Action
    title: str = ""
    """The step's action in two or three words: "Swing the compound". Steps of the first version have no title."""
    text: str
    settings: tuple[AnySetting, ...] = ()
    depth_mm: float | None = None
    removed_mm: float | None = None
    remaining_mm: float | None = None
    cautions: tuple[str, ...] = ()
    """At most one caution, and none that an earlier step has shown (see core.safety.without_repeats)."""
    findings: tuple[str, ...] = ()
    """Findings from a measurement, a trial or a setting, on the first step that was planned from it."""
    zeroed_dials: tuple[str, ...] = ()
    """The dials that are set to zero at this step, or whose reading counts as zero from here on."""
    expects: Expects = Expects.NOTHING
    place: StepPlace | None = None
    """The step's position in a pattern, among indicator readings or in a multi-start thread; None if it has none."""
    required: bool = False
    """True if the step cannot be skipped, because later steps need the value entered here."""
    extra: Mapping[str, Any] = field(default_factory=dict)
    """More figures from the step's operation, such as error_arcsec. The card shows them unchanged."""

    @property
    def name(self) -> str:
        """The title of the step. A step of the first version has no title, so its text up to the colon is used."""
        return self.title or self.text.partition(":")[0]

    @property
    def at(self) -> PatternPosition:
        """The position of the step in a pattern. All fields are None if the step belongs to no pattern."""
        return self.place if isinstance(self.place, PatternPosition) else _NO_PATTERN

    @property
    def feeds_along(self) -> bool:
        """True if the step feeds along a groove, after an earlier step has fed in at the start of the groove."""
        return bool(self.extra.get(ALONG, False))

    @property
    def reading_at(self) -> ReadingPosition | None:
        """The mark, turn and set of the indicator reading that the step takes; None if the step takes no reading."""
        return self.place if isinstance(self.place, ReadingPosition) else None

    @property
    def thread_start(self) -> int | None:
        """The number of the thread start to which the step changes, 2 or above; None if the step changes no start."""
        return self.place.number if isinstance(self.place, ThreadStart) else None

    def setting(self, dial: str) -> Setting | None:
        """Return the setting of a dial at this step; None if the step does not set that dial."""
        settings = (setting for setting in self.settings if isinstance(setting, Setting))
        return next((setting for setting in settings if setting.dial == dial), None)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """All steps of one operation, with the operation's figures and cautions."""

    figures: Mapping[str, Any] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    """The cautions that hold this plan's own numbers, the gravest first.

    In runs of the first version all cautions are here.
    """
    general: tuple[str, ...] = ()
    """The cautions that every run of this kind of operation has: about machine, hands and material."""
    movements: tuple[str, ...] = ()
    """The movements of every cut, in order; () if the operation gives each step its own movements."""
    steps: tuple[Step, ...]

    def __post_init__(self) -> None:
        """Raise PlanError for a plan without steps, or with more steps than a run may have."""
        if not 0 < len(self.steps) <= MOST_STEPS:
            raise PlanError(f"This plan has {len(self.steps)} steps. A run must have 1 to {MOST_STEPS} steps.")


def numbered(steps: Sequence[Step], first: int = 1) -> tuple[Step, ...]:
    """Return the steps with new ids that count up from `first`."""
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
    """Return a plan from the data that `plan_as_data` made. Raises KeyError or TypeError for other data."""
    return Plan(
        figures=data["figures"],
        cautions=tuple(data["cautions"]),
        general=tuple(data.get("general", ())),
        movements=tuple(data["hands"]),
        steps=steps_from_data(data["steps"]),
    )


def step_as_data(step: Step) -> dict[str, Any]:
    """Return a step as plain data for the logbook. Keys that do not apply to the step are left out."""
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
    """Return the position and the `extra` figures of a step as plain data, for the log and the card."""
    figures = {**place_as_data(step.place), **step.extra}
    return {**figures, "must": True} if step.required else figures


def steps_from_data(data: Sequence[Mapping[str, Any]]) -> tuple[Step, ...]:
    """Return steps from data that `step_as_data` made. Raises KeyError, TypeError or ValueError for other data."""
    # In a thread, only steps with the action "set" have the key "start". In a pattern, steps that cut have this key as
    # well.
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
    """Return a setting as plain data, for the card and the log. A setting of a digital readout has no key for turns."""
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
    return Fraction(logged).limit_denominator(_FINEST_LOGGED)


def at_zero(dial: Dial) -> Setting:
    """Return the setting of a dial at its own zero."""
    return dial.at_marks(0)
