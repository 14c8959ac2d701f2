"""The questions to one dial."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from core.lathe import dial_words
from core.setup import findings
from core.setup.dial_unit import dial_unit, in_another_unit
from core.setup.measuring import Finding
from core.setup.question import DIAL_UNIT, KIND, NONE, UNIT, WHOLE, Chapter, Option, Question

DIAL = "dial"
READOUT = "readout"


class _Ways(NamedTuple):
    """What moving in and out means on a slide."""

    what: str
    inwards: str
    outwards: str


_WAYS = {
    "cross_slide": _Ways("the slide", "towards the axis", "away from the axis"),
    "compound": _Ways("the slide", "towards the work", "away from the work"),
    "saddle": _Ways("the saddle", "towards the chuck", "towards the tailstock"),
    "tailstock": _Ways("the quill", "towards the chuck", "back into the tailstock"),
    "cutter_head": _Ways("the tool", "to a larger circle", "to a smaller circle"),
}
_OTHER = _Ways("it", "the way you call inwards", "the other way")


_OF_DIALS = ("per_turn", "lead", "clockwise", "backlash", "can_zero")
"""What a digital readout has not."""


def dial_chapter(name: str) -> Chapter:
    """Return the questions to the dial of that name in the lathe file."""
    asked = [_kind, _unit, _per_turn, _graduation, _sense, _lead, _clockwise, _rising, _can_zero, _play]
    if name == "cutter_head":
        asked.append(_most_speed)
    return Chapter(
        section=("dial", name),
        title=dial_words(name).capitalize(),
        questions=tuple(question(name) for question in asked),
    )


def is_readout(table: Mapping[str, Any]) -> bool:
    """Tell whether a dial's table is that of a digital readout."""
    if KIND in table:
        return bool(table[KIND] == READOUT)
    return "graduation" in table and "per_turn" not in table


def is_dial(table: Mapping[str, Any]) -> bool:
    """Tell whether a dial's table is that of a dial with turns."""
    return table.get(KIND) == DIAL or (KIND not in table and "per_turn" in table)


def _is_there(table: Mapping[str, Any]) -> bool:
    return is_dial(table) or is_readout(table)


def _the(name: str) -> str:
    return f"the {dial_words(name)}"


def _sense_words(name: str) -> tuple[str, ...]:
    if name == "cross_slide":
        return (
            "To find out, measure a diameter, take {0.5 mm|20 thou} off by the dial, measure again. "
            "{1 mm|40 thou} less: travel. {0.5 mm|20 thou} less: diameter.",
        )
    if name == "cutter_head":
        return (
            "To find out, cut a circle and measure it across, move the head by {0.5 mm|20 thou}, cut another one. "
            "{1 mm|40 thou} larger: travel. {0.5 mm|20 thou} larger: diameter.",
        )
    return ("Hardly ever diameter here. An indicator on the slide tells: it moves as the numbers do, or half.",)


def _sense_finding(name: str) -> Finding:
    return {"cross_slide": findings.BY_CUT, "cutter_head": findings.BY_CIRCLE}.get(name, findings.BY_SLIDE)


def _kind(name: str) -> Question:
    return Question(
        key=KIND,
        label="",
        asked=f"What shows where {_the(name)} stands?",
        picture="dial",
        options=(
            Option(words="A dial: a collar with marks", value=DIAL),
            Option(words="A digital readout", value=READOUT, short="readout", removes=_OF_DIALS),
            Option(words="Nothing, or there is none", value=NONE, short="none", removes=(WHOLE,)),
            Option(words="Not told yet", value=None),
        ),
        implied=lambda table: DIAL if is_dial(table) else READOUT if is_readout(table) else None,
    )


def _unit(name: str) -> Question:
    return Question(
        key=UNIT,
        label="",
        asked=f"What are the numbers on {_the(name)} in?",
        how=("As they are engraved or shown, whatever the screw behind them is.",),
        picture="dial",
        options=(
            Option(words="Millimetres", value="mm"),
            Option(words="Thou: 100 in a turn", value="thou"),
            Option(words="Inches: 0.100 in a turn", value="in"),
        ),
        implied=lambda table: dial_unit(table, unknown=""),
        clashes=in_another_unit,
        applies=_is_there,
    )


def _per_turn(name: str) -> Question:
    return Question(
        key="per_turn",
        label="one turn",
        asked=f"How far do the numbers on {_the(name)} run in one turn of the handle?",
        how=(
            "Set the collar to 0 and turn the handle once round, to 0 again: count what the numbers went through. "
            "It is the last number before 0 and the marks that follow it.",
        ),
        picture="turn",
        unit=DIAL_UNIT,
        example="such as {4 mm|100 thou}",
        applies=is_dial,
    )


def _graduation(name: str) -> Question:
    return Question(
        key="graduation",
        label="marks",
        asked=f"How much is it on {_the(name)} from one mark to the next?",
        how=("On a readout: the last step that it shows.", "On a dial the marks in a turn can be counted."),
        picture="marks",
        unit=DIAL_UNIT,
        example="such as {0.02 mm|1 thou}",
        finding=findings.MARKS,
        applies=_is_there,
    )


def _sense(name: str) -> Question:
    return Question(
        key="reads",
        label="",
        asked=f"Do the numbers on {_the(name)} count travel or diameter?",
        how=_sense_words(name),
        picture={"cross_slide": "sense", "cutter_head": "circles"}.get(name, "slide_sense"),
        options=(
            Option(words="Travel: how far the slide moves", value="travel", short="travel"),
            Option(words="Diameter: twice as much", value="diameter", short="diameter"),
            Option(words="Not known yet", value=None),
        ),
        finding=_sense_finding(name),
        applies=_is_there,
    )


def _lead(name: str) -> Question:
    return Question(
        key="lead",
        label="one turn truly",
        asked=f"Is the engraving on {_the(name)} true? If not: how far does one turn move the slide?",
        how=(
            "Leave it empty where it is true, or where you do not know. Some screws are not what their collar "
            "says: a 1 mm screw marked 40 thou moves 1 mm, not 1.016 mm. F4 works one turn out from ten.",
        ),
        picture="one_turn",
        unit="mm",
        example="empty: the engraving is true",
        finding=findings.LEAD,
        applies=is_dial,
    )


def _clockwise(name: str) -> Question:
    ways = _WAYS.get(name, _OTHER)
    return Question(
        key="clockwise",
        label="clockwise",
        asked=f"Turn the handle of {_the(name)} clockwise: which way does {ways.what} go?",
        how=("Clockwise as you see it, looking at the handle.",),
        picture="handle",
        options=(
            Option(words=f"In, {ways.inwards}", value="in", short="in"),
            Option(words=f"Out, {ways.outwards}", value="out", short="out"),
            Option(words="Not known yet", value=None),
        ),
        applies=is_dial,
    )


def _rising(name: str) -> Question:
    ways = _WAYS.get(name, _OTHER)
    return Question(
        key="numbers",
        label="going in they",
        asked=f"Go in with {_the(name)} ({ways.inwards}): what do the numbers do?",
        picture="rising",
        options=(
            Option(words="They rise: 0, 1, 2", value="rise", short="rise"),
            Option(words="They fall: 0, 9, 8", value="fall", short="fall"),
            Option(words="Not known yet (taken as rising)", value=None),
        ),
        applies=_is_there,
    )


def _can_zero(name: str) -> Question:
    return Question(
        key="can_zero",
        label="",
        asked=f"Can the collar of {_the(name)} be set to 0 where you like?",
        how=("A collar that is fixed is read at touch-off instead: the program then asks what it shows.",),
        picture="collar",
        options=(
            Option(words="Yes, it slips or has a screw", value=True, short="can be zeroed"),
            Option(words="No, it is fixed", value=False, short="cannot be zeroed"),
            Option(words="Not known yet (taken as yes)", value=None),
        ),
        applies=is_dial,
    )


def _play(name: str) -> Question:
    return Question(
        key="backlash",
        label="play",
        asked=f"How much play has {_the(name)}, in its own numbers?",
        how=("How far the handle turns back before the slide follows. Leave it empty if you do not know.",),
        picture="play",
        unit=DIAL_UNIT,
        example="empty: not known",
        finding=findings.PLAY,
        applies=is_dial,
    )


def _most_speed(name: str) -> Question:
    return Question(
        key="most_speed",
        label="at most",
        asked="What is the most speed that the maker of the cutter head allows?",
        how=("It stands on the head or in its papers. Unknown: leave it empty, and no speed is suggested.",),
        picture="head",
        unit="rpm",
        example="empty: not known",
        applies=_is_there,
    )
