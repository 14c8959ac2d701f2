"""The usual cautions, in one place: those of a whole run, said at its start, and those of one step.

Common practice, no source. The program advises and controls nothing; the
machine's manual, local rules and, where they apply, licensed trades come first.
"""

import re
from collections.abc import Collection, Iterable
from dataclasses import replace

from core.lathe.lathe import Lathe
from core.plan import Step
from core.values.quantities import number_text

# Of a whole run. Each fits one line of the page on which a run is started, 76 columns.

ADVICE = "Advice only. The machine's manual, local rules and licensed trades decide."
AT_THE_MACHINE = (
    "Wear eye protection. No gloves, loose sleeves or loose hair.",
    "Take the chuck key out before power.",
    "Keep keyboard and foot switch clear of work and the lathe's own pedal.",
    "Stop the spindle and isolate its drive to measure, deburr or clear swarf.",
    "Pull swarf with a hook. No fingers there, in a bore or on turning work.",
)
WORK_BY_HAND = "Turn the work once by hand before power. Lock slides that do not move."
STICK_OUT = "Stick-out over 3 diameters springs; over 4 use a centre, over 10 a steady."
UNSCREWS = "A screwed-on chuck can unscrew in reverse or on a brake."
INDICATOR_OFF = "Indicator and its base off before power."
DUST = "Dust of wood, bronze, iron, shell, bone or horn: wear a mask."
LEAD = "Leaded stock: wash your hands before you eat."
ZINC = "Zinc-coated stock gives off fumes when it is ground or welded."

# Of a step.

STOP_FIRST = "Stop the spindle, isolate its drive."
"""Opens the text of every step at which something is measured or tried: it is the first thing done there."""
TOUCH_OFF = "Paper only with the spindle stopped; never hold it by hand on turning work."
TOOL_OUT_FIRST = "Tool out, then let the spindle stop, and only then reverse it."
NO_RAG = "Never feel a thread, nor hold rag, brush or emery to it, while it turns."
CHAMFER = "Cut the chamfer with a tool: a file or scraper on turning work catches."
RELIEF = "Grooving tool: slow, short, on centre. It digs in where anything springs."
BORE = "No finger, rag or brush in a bore while it turns; swarf with a hook."
STOP_FOR_HANDS = "Stop the spindle before a hand, file or scraper comes near."
FIND_AGAIN = "Isolate the drive, turn the work once round by hand."
"""Opens the text of the step at which a place is found again after something was moved."""
TURN_BY_HAND = "Isolate the drive, gears out: turn the spindle by hand only."
BEFORE_POWER = "Before power turn the work once round by hand: nothing must foul."
SOFT_HAMMER = "Tap with a soft hammer, spindle stopped; then jaws tight, chuck key out."
CLAMP = "Clamp the work, never hold it by hand; lock both slides for each hole."
SWITCH_OFF_AND_WITHDRAW = "Switch off at the machine, withdraw the tool by hand."


_DUSTY = ("wood", "bronze", "iron", "beryll", "shell", "bone", "horn", "pearl")
_WOODS = re.compile(
    r"\b(apple|ash|beech|birch|box|cherry|cocobolo|ebony|elm|fir|hazel|holly|hornbeam|larch|laburnum|lignum|lime|mahogany|"
    r"maple|mdf|oak|olive|pear|pine|plum|poplar|spruce|sycamore|teak|timber|walnut|wenge|yew)\b"
)
"""Woods whose names do not say so, as whole words: ash is one, brass is none."""


def for_material(material: str | None) -> tuple[str, ...]:
    """Return what a material adds to the usual cautions.

    >>> for_material("cast bronze") == for_material("English oak") == (DUST,)
    True
    """
    words = (material or "").casefold()
    found = []
    if any(name in words for name in _DUSTY) or _WOODS.search(words):
        found.append(DUST)
    if any(name in words for name in ("lead", "free-cutting", "free cutting")):
        found.append(LEAD)
    if any(name in words for name in ("zinc", "galvan")):
        found.append(ZINC)
    return tuple(found)


def general(material: str | None, *of_its_kind: str) -> tuple[str, ...]:
    """Return the cautions of a whole run: of any machine, its kind and its material; whose rules decide comes last."""
    return tuple(dict.fromkeys((*AT_THE_MACHINE, *of_its_kind, *for_material(material), ADVICE)))


def in_the_chuck(lathe: Lathe) -> tuple[str, ...]:
    """Return the cautions of work that the spindle turns, with the chuck's highest speed where it is known."""
    most_rpm = lathe.spindle.most_rpm
    limit = "highest speed not known here, none suggested"
    if most_rpm is not None:
        limit = f"never above {number_text(most_rpm, 0)} rpm"
    return (
        WORK_BY_HAND,
        f"Chuck: {limit}. Unbalanced work: slow.",
        STICK_OUT,
        *([UNSCREWS] if lathe.spindle.nose in {None, "screwed"} else []),
    )


def thinned(steps: Iterable[Step], said: Collection[str] = ()) -> tuple[Step, ...]:
    """Return the steps with at most one caution each, and none that a step before has said, or that was `said`.

    What every step repeats nobody reads. A step that has several keeps the first that is news.

    >>> steps = [Step(action="measure", text="Measure", cautions=(NO_RAG, BORE))] * 3
    >>> [len(step.cautions) for step in thinned(steps)]
    [1, 1, 0]
    """
    known, found = set(said), list[Step]()
    for step in steps:
        news = next(((caution,) for caution in step.cautions if caution not in known), ())
        known.update(news)
        found.append(step if step.cautions == news else replace(step, cautions=news))
    return tuple(found)
