"""The usual cautions, in one place, for the start of a run and the step concerned.

Common practice, no source. The program advises and controls nothing; the
machine's manual, local rules and, where they apply, licensed trades come first.
"""

import re
from collections.abc import Sequence
from itertools import takewhile

ADVICE = "This is advice only: the machine's manual and local rules come first."

AT_THE_MACHINE = (
    "Eye protection on; no gloves, loose sleeves or loose hair; chuck key out before power.",
    "Keyboard and any foot switch where no arm reaches across the work, clear of the lathe's own pedal.",
)
MEASURE_STOPPED = "Spindle stopped and its drive isolated while you measure, file or clear swarf."
INDICATOR_OFF = "Indicator and its base off before power."
SWITCH_OFF_AND_WITHDRAW = "Switch off at the machine, withdraw the tool by hand."
SOFT_HAMMER = "Tap with a soft hammer, spindle stopped; jaws or screws tight again and chuck key out before power."
TURN_BY_HAND = "Spindle stopped, its drive isolated, out of gear: turn it by hand only."
BY_HAND_FIRST = "Turn the work over by hand once before power; lock the slides that do not move."
TOOL_OUT_FIRST = "Tool out before you reverse; a screwed-on chuck can unscrew in reverse or on a brake."
NO_RAG = "Never feel a thread, nor hold rag, brush or emery to it, with the spindle turning."
DUST = "Dust of wood, bronze and iron: wear a mask."
LEAD = "Leaded stock: wash your hands before you eat."
ZINC = "Zinc-coated stock gives off fumes when it is ground or welded."


_DUSTY = ("wood", "bronze", "iron", "beryll")
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


def own_and_usual(cautions: Sequence[str]) -> tuple[Sequence[str], Sequence[str]]:
    """Return the cautions that a very plan calls for, and the usual ones behind them.

    >>> own_and_usual(["no mark inside the limits", *AT_THE_MACHINE])[0]
    ['no mark inside the limits']
    """
    own = list(takewhile(lambda caution: caution != AT_THE_MACHINE[0], cautions))
    return own, cautions[len(own) :]
