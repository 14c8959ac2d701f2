"""The usual cautions: those of a whole run, which are shown at its start, and those of single steps.

The cautions are common practice, without a published source. The program only gives advice and controls nothing. The
machine's manual, local rules and licensed trades take precedence.
"""

import re
from collections.abc import Collection, Iterable
from dataclasses import replace

from core.lathe.lathe import Lathe
from core.plan import Step
from core.values.quantities import number_text

# Cautions of a whole run. Each caution fits one row of 76 columns on the page that starts a run.

ADVICE = "Advice only. The machine's manual, local rules and licensed trades decide."
AT_THE_MACHINE = (
    "Wear eye protection. No gloves, loose sleeves or loose hair.",
    "Take the chuck key out before you switch on.",
    "Keep keyboard and foot switch clear of work and the lathe's own pedal.",
    "Stop the spindle and isolate its drive to measure, deburr or clear swarf.",
    "Pull swarf with a hook. No fingers there, in a bore or on turning work.",
)
WORK_BY_HAND = "Before you switch on, turn the work once by hand. Lock slides not in use."
STICK_OUT = "Stick-out over 3 diameters springs. Over 4 use a centre, over 10 a steady."
UNSCREWS = "A screwed-on chuck can unscrew in reverse or when the spindle is braked."
INDICATOR_OFF = "Take the indicator and its base off before you switch on."
DUST = "Wear a mask against dust of wood, bronze, iron, shell, bone or horn."
LEAD = "After you handle leaded stock, wash your hands before you eat."
ZINC = "Zinc-coated stock gives off fumes when it is ground or welded."
DRILL_LONG = "Drills wander and whip. Start slowly, peck, withdraw often. Grip them hard."
BRASS_GRABS = "Brass and bronze grab a drill. Stone a flat on each lip. Hold the feed back."
GRINDER = "Keep the guard on, the rest within 3 mm, and the wheel sound and dressed."
WHEEL_STARTS = "Stand aside while the wheel runs up. Stay below its maker's speed limit."

# Cautions of single steps.

STOP_FIRST = "Stop the spindle and isolate its drive."
"""The first words of every step that measures or tries something."""
TOUCH_OFF = "Use paper only with the spindle stopped. Never hold it against turning work."
STRIP_OUT = "Take the strip out before you switch on. Never hold it against turning work."
TOOL_OUT_FIRST = "Withdraw the tool, let the spindle stop, and only then reverse the spindle."
NO_RAG = "Never feel a thread, nor hold rag, brush or emery to it, while it turns."
CHAMFER = "Cut the chamfer with a tool. A file or scraper on turning work catches."
RELIEF = "A grooving tool that springs digs in. Run slowly; set it short, on centre."
BORE = "Keep fingers, rags and brushes out of a turning bore. Hook the swarf out."
STOP_FOR_HANDS = "Stop the spindle before a hand, file or scraper comes near."
STOP_WHEEL = "Switch the grinder off. Let its wheel stop."
"""The first words of every step that sets or measures at a grinder."""
FIND_AGAIN = "Isolate the drive and turn the work once round by hand."
"""The first words of every step that finds a position again after something was moved."""
TURN_BY_HAND = "Isolate the drive and disengage the gears. Turn the spindle by hand only."
BEFORE_POWER = "Before you switch on, turn the work a full turn by hand. Nothing must touch."
SOFT_HAMMER = "Stop the spindle. Tap with a soft hammer, tighten the jaws, remove the key."
SOFT_HAMMER_ON_BOLTS = "Stop the spindle. Tap with a soft hammer, tighten the bolts, read again."
CLAMP = "Clamp the work, never hold it by hand. Lock both slides for each hole."
HAND_ON_HANDLE = "The table turns in the cut. Keep a hand on its handle, never on the work."
COLLET_READY = "Set the cutter short, tighten the drawbar, turn the spindle once by hand."
FEED_ALONG = "Take light passes at one even feed. A cutter that is wound back digs in."
DRILL_HELD = "Grip the drill hard, remove the key, lock the tailstock. A drill can grab."
CENTRE_DRILL = "Centre drills snap. Turn fast, feed little, withdraw to clear the chips."
DRILL_START = "Keep hands on the tailstock while the drill starts. Chips whip and cut."
DRILL_CHIPS = "Stop the spindle to clear chips. Use a brush or hook, never hand or rag."
DRILL_THROUGH = "A drill grabs as it breaks through, most of all in brass. Feed it slowly."
REAM_FORWARD = "Ream slowly with oil. Never turn a reamer backwards, even to withdraw it."
TAP_BY_HAND = "Isolate the drive and tap by hand only. Under power a tap jams and breaks."
SMALL_CUTTER = "Hold a small cutter in its block, never in the fingers: the wheel snatches."
FILE_TEST = "The end of an old drill is sharp: wrap it before you file its shank."
STEEL_SPARKS = "Wood dust catches fire from sparks: clear it away before you grind steel."
CARBIDE_DUST = "Carbide dust harms the lungs: wear a mask, use a green or wet wheel."
WHEEL_STOPS = "Switch the grinder off. Let its wheel stop before you set or measure."
COOL_EDGE = "Grind lightly and let steel cool: a blue or red edge has lost its hardness."
COOL_CARBIDE = "Never dip hot carbide in water: it cracks. Grind lightly, cool it in air."
FINE_EDGE = "The edge is sharp: stone away from it, fingers behind the edge."
HEAD_BY_HAND = "Before you switch on, turn the head once by hand. It must clear the work."
SWITCH_OFF_AND_WITHDRAW = "Switch off at the machine and withdraw the tool by hand."


_DUSTY = ("wood", "bronze", "iron", "beryll", "shell", "bone", "horn", "pearl")
_WOODS = re.compile(
    r"\b(apple|ash|beech|birch|box|cherry|cocobolo|ebony|elm|fir|hazel|holly|hornbeam|larch|laburnum|lignum|lime|mahogany|"
    r"maple|mdf|oak|olive|pear|pine|plum|poplar|spruce|sycamore|teak|timber|walnut|wenge|yew)\b"
)
"""Names of woods without "wood" in them. Only whole words count, so that "ash" does not match "washed"."""


def for_material(material: str | None) -> tuple[str, ...]:
    """Return the cautions for a material, found by words in its name; () if no caution is known, or for None.

    >>> for_material("cast bronze") == for_material("English oak") == (DUST,)
    True
    """
    words = (material or "").casefold()
    cautions = []
    if any(name in words for name in _DUSTY) or _WOODS.search(words):
        cautions.append(DUST)
    if any(name in words for name in ("lead", "free-cutting", "free cutting")):
        cautions.append(LEAD)
    if any(name in words for name in ("zinc", "galvan")):
        cautions.append(ZINC)
    return tuple(cautions)


def grabs(material: str | None) -> tuple[str, ...]:
    """Return the caution for a material that pulls the drill in; () for a material that does not, or for None.

    >>> grabs("leaded brass") == (BRASS_GRABS,), grabs("mild steel")
    (True, ())
    """
    words = (material or "").casefold()
    return (BRASS_GRABS,) if any(name in words for name in ("brass", "bronze", "gunmetal")) else ()


def general(material: str | None, *of_its_kind: str) -> tuple[str, ...]:
    """Return the cautions of a whole run: for every machine, for the kind of operation, and for the material.

    `of_its_kind`: the cautions for the kind of operation. The caution about manuals and local rules comes last.
    """
    return tuple(dict.fromkeys((*AT_THE_MACHINE, *of_its_kind, *for_material(material), ADVICE)))


def in_the_chuck(lathe: Lathe) -> tuple[str, ...]:
    """Return the cautions for work in the chuck, including the chuck's highest speed if it is known."""
    most_rpm = lathe.spindle.most_rpm
    limit = "highest speed not known, none suggested"
    if most_rpm is not None:
        limit = f"never above {number_text(most_rpm, 0)} rpm"
    return (
        WORK_BY_HAND,
        f"Chuck: {limit}. Turn unbalanced work slowly.",
        STICK_OUT,
        *([UNSCREWS] if lathe.spindle.nose in {None, "screwed"} else []),
    )


def without_repeats(steps: Iterable[Step], earlier: Collection[str] = ()) -> tuple[Step, ...]:
    """Return the steps with at most one caution each. A caution stays only at the first step that has it.

    Users stop reading a caution that every step repeats. A step with several cautions keeps the first new one. Cautions
    in `earlier` have already been shown, so they are not new.

    >>> steps = [Step(action="measure", text="Measure", cautions=(NO_RAG, BORE))] * 3
    >>> [len(step.cautions) for step in without_repeats(steps)]
    [1, 1, 0]
    """
    known, shown = set(earlier), list[Step]()
    for step in steps:
        new = next(((caution,) for caution in step.cautions if caution not in known), ())
        known.update(new)
        shown.append(step if step.cautions == new else replace(step, cautions=new))
    return tuple(shown)
