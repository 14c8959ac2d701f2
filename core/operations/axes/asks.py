"""The questions for the measurements that compare the spindle's axis with another axis, by each of the methods."""

from collections.abc import Sequence

from core import safety
from core.events.state import State
from core.inputs import Moved
from core.lathe.lathe import Lathe
from core.operations.asked_values import AFTER, Ask, AskedAt, answer
from core.operations.axes.job import KEPT, NEAR_FAR, SWEPT, UP_DOWN, AxesJob
from core.questions import Asked, ChoiceAsked

LASTING = frozenset({"spindle_bar", "other_bar", "droop_readings"})
"""Keys of values that no move of the set-up changes."""
FACE_KEPT, ERROR_KEPT = map(AskedAt, KEPT)
"""Name the questions whether to leave the face, or the error measured again, outside the tolerance."""
_AT_PLACE = {
    "up": "at the top",
    "near": "on the side near you",
    "down": "at the bottom",
    "far": "on the side away from you",
}


def kept_question(at: AskedAt, state: State, error_mm: float) -> Asked:
    """Return the question shown if a result is outside the tolerance: correct the error and measure again, or keep it.

    at: the value in question, the face or the error measured again. error_mm: the size of the error [mm].
    """
    title, outside, again = (
        ("Face outside", "The face", "Corrected: sweep the face again")
        if at == FACE_KEPT
        else ("Error outside", "The error", "Measure, and set the height again")
    )
    question = f"{outside} is outside the tolerance. What do you want to do?"
    answers = ((again, Moved()), ("Leave it as it is", answer(state, at, f"{error_mm:.4f} mm")))
    return ChoiceAsked(title, question, answers, 0, "")


def face_asks(job: AxesJob, lathe: Lathe) -> Sequence[Ask]:
    """Return the questions for the four readings of the table's face; () if the job gives no circle on which to sweep
    the face.
    """
    if job.face_circle_mm is None:
        return ()
    circle = lathe.length_text(job.face_circle_mm)
    asks = []
    for place, side in enumerate(SWEPT):
        where = _AT_PLACE[side]
        hold = f"Hold the indicator in the spindle, plunger on the {job.other}'s face"
        first = f"{hold}, on a circle of {circle}. Set the indicator to 0"
        text = f"{safety.STOP_FIRST} {first} {where}" if place == 0 else f"Turn the spindle by hand until it is {where}"
        asks.append(
            Ask(
                AskedAt("face_readings", place),
                f"Sweep the face, {side}",
                f"{text}. Enter the reading. A plunger pushed in reads +",
                f"What does the indicator read on the face, {where}?",
                reads=True,
                cautions=_by_hand(place),
            )
        )
    return asks


def _by_hand(place: int) -> tuple[str, ...]:
    """Return a caution about turning the spindle by hand for the first position of a sweep; () for the other positions.

    `place`: the index of the position.
    """
    return (safety.TURN_BY_HAND,) if place == 0 else ()


def measure_asks(job: AxesJob, lathe: Lathe) -> Sequence[Ask]:
    """Return the questions for the values from which the error is calculated, in the order of measuring."""
    match job.method:
        case "bars":
            return [*_bar_sizes(job), *_bar_heights("", turned=True)]
        case "bars compared":
            return [*_bar_sizes(job), *_differences()]
        case "sweep":
            return [*_droop(), *_sweep(job, "readings", "")]
        case "two circles":
            return _circles("")


def again_asks(job: AxesJob, lathe: Lathe) -> Sequence[Ask]:
    """Return the questions for the values that are measured again after all bolts have been tightened."""
    match job.method:
        case "bars":
            return _bar_heights(AFTER, turned=False)
        case "bars compared":
            return [
                _difference(
                    AFTER,
                    "Compare the bars again",
                    "Carry the indicator from the spindle's bar, where it is set to 0, to the other bar again",
                )
            ]
        case "sweep":
            return _sweep(job, f"readings{AFTER}", " again")
        case "two circles":
            return _circles(AFTER)


def _bar_sizes(job: AxesJob) -> list[Ask]:
    asks, other = [], "the table's chuck" if job.is_table else f"the {job.other}"
    for key, where in (("spindle_bar", "the spindle"), ("other_bar", other)):
        name = f"bar in {where}"
        asks.append(
            Ask(
                AskedAt(key),
                f"Measure the {name}",
                f"{safety.STOP_FIRST} Clamp a straight, round bar in {where}. Measure its diameter where the height "
                "is taken, and enter it",
                f"What is the diameter of the {name}?",
            )
        )
    return asks


def _bar_heights(end: str, *, turned: bool) -> list[Ask]:
    asks = []
    for key, name in (("over_spindle_bar", "spindle's bar"), ("over_other_bar", "other bar")):
        again = " again" if end else ""
        text = (
            f"{safety.STOP_FIRST} Measure from the same surface over the top of the {name}{again}, with a height gauge"
        )
        question = f"How high is the top of the {name}{' now' if end else ''}?"
        asks.append(
            Ask(
                AskedAt(f"{key}{end}"),
                f"Height over the {name}{again}",
                f"{text}. Enter the height",
                question,
                cautions=(safety.TURN_BY_HAND,) if turned and key == "over_spindle_bar" else (),
            )
        )
        if turned:
            asks.append(
                Ask(
                    AskedAt(f"{key}_turned"),
                    f"The {name}, half a turn on",
                    f"{safety.STOP_FIRST} Turn the {name} half a turn by hand and measure over it once more. "
                    "The mean of both is free of the bar's own runout. Enter the height",
                    f"How high is the top of the {name}, half a turn on?",
                    required=False,
                )
            )
    return asks


def _differences() -> list[Ask]:
    carry = (
        f"{safety.STOP_FIRST} Set an indicator on a base to 0 on top of the spindle's bar. Slide its base over the "
        "same surface to the other bar"
    )
    turn = (
        "Turn both bars half a turn by hand. Set the indicator to 0 on the spindle's bar and carry it to the other "
        "bar once more"
    )
    return [
        _difference("", "Compare the bars", carry),
        _difference("_turned", "Compare half a turn on", turn, required=False),
    ]


def _difference(end: str, title: str, text: str, *, required: bool = True) -> Ask:
    return Ask(
        AskedAt(f"difference{end}"),
        title,
        f"{text}. Enter its reading. A higher bar pushes the plunger in and reads +",
        "What does the indicator read over the other bar?",
        reads=True,
        required=required,
        cautions=(safety.TURN_BY_HAND,) if not end else (),
    )


def _droop() -> list[Ask]:
    bar = "a stiff bar in the spindle that turns with it"
    return [
        Ask(
            AskedAt("droop_readings", 0),
            "Droop, up",
            f"{safety.STOP_FIRST} Hold the indicator in the spindle by the arm you will sweep with, its plunger on "
            f"{bar}. Set the indicator to 0 above the bar. Enter the reading",
            "What does the indicator read above the bar?",
            reads=True,
            cautions=(safety.TURN_BY_HAND,),
        ),
        Ask(
            AskedAt("droop_readings", 1),
            "Droop, down",
            "Turn the spindle half a turn by hand, until the indicator is below the bar. The reading now "
            "comes only from the indicator's own weight. Enter the reading",
            "What does the indicator read below the bar?",
            reads=True,
        ),
    ]


def _sweep(job: AxesJob, key: str, again: str) -> list[Ask]:
    inside = f"the {job.other}'s bore" if job.surface == "bore" else f"the rim round the {job.other}'s axis"
    asks = []
    for place, side in enumerate(SWEPT):
        where = _AT_PLACE[side]
        text = f"Turn the spindle by hand until the indicator is {where}"
        if place == 0:
            text = f"{safety.STOP_FIRST} Set the plunger on {inside}, indicator {where}, and set the indicator to 0"
        asks.append(
            Ask(
                AskedAt(key, place),
                f"Sweep {side}{again}",
                f"{text}. Enter the reading. A plunger pushed in reads +",
                f"What does the indicator read {where}?",
                reads=True,
                cautions=_by_hand(place),
            )
        )
    return asks


def _circles(end: str) -> list[Ask]:
    again = " again" if end else ""
    stop = f"{safety.STOP_FIRST} "
    one = [
        Ask(
            AskedAt("circle"),
            "Measure the first circle",
            f"{stop}Measure the diameter over the edges of the circle's groove, and enter it",
            "What is the diameter of the circle?",
        )
    ]
    sizes = [
        Ask(
            AskedAt(f"over_both_{key}{end}"),
            f"Over both circles, {words}{again}",
            f"{stop}Measure over both circles together, {how}, to the same edges of the grooves. Enter the size",
            f"How much do both circles measure together, {how}?",
        )
        for key, words, how in (("up", "upright", "from top to bottom"), ("level", "level", "from side to side"))
    ]
    sides = [
        Ask(
            AskedAt(f"last_circle{key}{end}"),
            f"{title}{again}",
            f"{stop}Look in which direction the last circle lies from the first. {of} The table has carried the first "
            "circle round by half a turn",
            f"Does the circle cut last lie {' or '.join(choices)}?",
            choices=choices,
        )
        for key, title, choices, of in (
            ("", "Which circle is higher", UP_DOWN, "Is it higher or lower?"),
            ("_level", "Which circle is nearer", NEAR_FAR, "Is it nearer to you or further away?"),
        )
    ]
    return [*([] if end else one), sizes[0], sides[0], sizes[1], sides[1]]
