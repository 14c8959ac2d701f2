"""The keys of a dial."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from core.lathe.keys.entry import DIAL, DIAL_UNIT, READOUT, Key, Option, Part, Question, ValueForm, as_read, exact
from core.lathe.lathe import dial_words
from core.values.dials import Dial, Unit
from core.values.fields import Table
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, Quantity

COMMENTS = {"boring_head": "The head that turns a cutter in the spindle; its dial shows changes, not a true zero."}
"""Written above a dial, by its name."""


_WAYS = {
    "cross_slide": ("the slide", "towards the axis", "away from the axis"),
    "compound": ("the slide", "towards the work", "away from the work"),
    "carriage": ("the carriage", "towards the chuck", "towards the tailstock"),
    "tailstock": ("the quill", "towards the chuck", "back into the tailstock"),
    "boring_head": ("the tool", "to a larger circle", "to a smaller circle"),
}
"""What moves, and what moving in and out means there."""
_OTHER = ("it", "the way you call inwards", "the other way")
_SENSE_FINDINGS = {"cross_slide": "by_cut", "boring_head": "by_circle"}
_SENSE_PICTURES = {"cross_slide": "sense", "boring_head": "circles"}
_THERE = (DIAL, READOUT)
_TURN_MM, _FINE_TURN_MM = (0.25, 60), (0.5, 10.2)
_MARK_MM, _FINE_MARK_MM = (0.001, 1), (0.001, 0.26)
_FINE = frozenset({"cross_slide", "compound"})
"""Dials that are finer than others."""


def the(name: str) -> str:
    """Return a dial's name as it stands in a sentence.

    >>> the("cross_slide")
    'the cross-slide'
    """
    return f"the {dial_words(name)}"


def _sense_words(name: str) -> tuple[str, ...]:
    if name == "cross_slide":
        return (
            "To find out, measure a diameter, take {0.5 mm|20 thou} off by the dial, measure again. "
            "{1 mm|40 thou} less: travel. {0.5 mm|20 thou} less: diameter.",
        )
    if name == "boring_head":
        return (
            "To find out, cut a circle and measure it across, move the head by {0.5 mm|20 thou}, cut another one. "
            "{1 mm|40 thou} larger: travel. {0.5 mm|20 thou} larger: diameter.",
        )
    return ("Hardly ever diameter here. An indicator on the slide tells: it moves as the numbers do, or half.",)


def _clockwise(name: str) -> Question:
    what, inwards, outwards = _WAYS.get(name, _OTHER)
    return Question(
        label="clockwise",
        asked=f"Turn the handle of {the(name)} clockwise: which way does {what} go?",
        how=("Clockwise as you see it, looking at the handle.",),
        picture="handle",
        options=(
            Option(words=f"In, {inwards}", value="in", short="in"),
            Option(words=f"Out, {outwards}", value="out", short="out"),
            Option(words="Not known yet", value=None),
        ),
        when=(DIAL,),
    )


def _most_speed(name: str) -> Question | None:
    if name != "boring_head":
        return None
    return Question(
        label="at most",
        asked="What is the most speed that the maker of the boring head allows?",
        how=("It stands on the head or in its papers. Unknown: leave it empty, and no speed is suggested.",),
        picture="head",
        example="empty: not known",
        usual=(10, 6000),
        when=_THERE,
        late=True,
    )


def _check(table: Table, read: Mapping[str, Any]) -> None:
    """Check what no single key can tell: whole graduations in a turn, one unit, a lead that has turns."""
    graduation, per_turn = read["graduation"], read["per_turn"]
    if graduation is None:
        return
    if per_turn is None:
        if read["lead"] is not None and not table.has("per_turn"):
            table.problem("lead", "is given without per_turn; accepted is both, or neither (a readout)")
    elif per_turn.is_inch != graduation.is_inch:
        table.problem(
            "graduation",
            f"found {quoted(table.data['graduation'])} beside per_turn {quoted(table.data['per_turn'])}; "
            "accepted is one unit for both, the one engraved",
        )
    elif (per_turn.value / graduation.value).denominator != 1:
        table.problem(
            "graduation",
            f"found {quoted(table.data['graduation'])}, which does not go a whole number of times into "
            f"per_turn {quoted(table.data['per_turn'])}; accepted is a graduation that does",
        )


def _dial(*, graduation: Quantity, **told: Any) -> Dial:
    """Return a dial with its own numbers in the unit of its graduation."""
    unit: Unit = "in" if graduation.is_inch else "mm"
    told["graduation"] = graduation
    for field in {"graduation", "per_turn", "backlash"} & told.keys():
        told[field] = _in_unit(told[field], unit)
    return Dial(unit=unit, **told)


def _in_unit(quantity: Quantity, unit: Unit) -> Fraction:
    return quantity.value / MM_PER_INCH if unit == "in" else quantity.value


PART = Part(
    section="dial",
    title="",
    comment="The dials, each with its numbers as they are engraved.",
    field="dials",
    make=_dial,
    check=_check,
    keys={
        "per_turn": Key(
            form=ValueForm("quantity", "length", DIAL_UNIT, above=0, of=as_read),
            comment="how far the numbers run in one turn; left out for a digital readout",
            question=lambda dial: Question(
                label="one turn",
                asked=f"How far do the numbers on {the(dial)} run in one turn of the handle?",
                how=(
                    "Set the collar to 0 and turn the handle once round, to 0 again: count what the numbers went "
                    "through. It is the last number before 0 and the marks that follow it.",
                ),
                picture="turn",
                example="such as {4 mm|100 thou}",
                usual=_FINE_TURN_MM if dial in _FINE else _TURN_MM,
                when=(DIAL,),
            ),
        ),
        "graduation": Key(
            form=ValueForm("quantity", "length", DIAL_UNIT, required=True, above=0, of=as_read),
            comment="between two marks, in the dial's own numbers",
            question=lambda dial: Question(
                label="marks",
                asked=f"How much is it on {the(dial)} from one mark to the next?",
                how=("On a readout: the last step that it shows.", "On a dial the marks in a turn can be counted."),
                picture="marks",
                example="such as {0.02 mm|1 thou}",
                measuring="marks",
                usual=_FINE_MARK_MM if dial in _FINE else _MARK_MM,
                share=("per_turn", Fraction(1, 600), Fraction(1, 15)),
                when=_THERE,
            ),
        ),
        "reads": Key(
            form=ValueForm("word", words=("travel", "diameter"), required=True, of=lambda word: word == "diameter"),
            field="reads_diameter",
            comment='"travel": the numbers are slide travel; "diameter": twice the travel',
            question=lambda dial: Question(
                asked=f"Do the numbers on {the(dial)} count travel or diameter?",
                how=_sense_words(dial),
                picture=_SENSE_PICTURES.get(dial, "slide_sense"),
                options=(
                    Option(words="Travel: how far the slide moves", value="travel", short="travel"),
                    Option(words="Diameter: twice as much", value="diameter", short="diameter"),
                    Option(words="Not known yet", value=None),
                ),
                measuring=_SENSE_FINDINGS.get(dial, "by_slide"),
                when=_THERE,
            ),
        ),
        "lead": Key(
            form=ValueForm("quantity", "length", "mm", above=0, of=exact),
            field="lead_mm",
            comment="true slide travel in one turn, where the engraving is not true",
            question=lambda dial: Question(
                label="one turn truly",
                asked=f"Is the engraving on {the(dial)} true? If not: how far does one turn move the slide?",
                how=(
                    "Leave it empty where it is true, or where you do not know. Some screws are not what their collar "
                    "says: a 1 mm screw marked 40 thou moves 1 mm, not 1.016 mm. F4 works one turn out from ten.",
                ),
                picture="one_turn",
                example="empty: the engraving is true",
                measuring="lead",
                usual=_TURN_MM,
                share=("per_turn", 0.25, 4),
                when=(DIAL,),
            ),
        ),
        "backlash": Key(
            form=ValueForm("quantity", "length", DIAL_UNIT, least=0, of=as_read),
            comment="play, in the dial's own numbers",
            question=lambda dial: Question(
                label="play",
                asked=f"How much play has {the(dial)}, in its own numbers?",
                how=("How far the handle turns back before the slide follows. Leave it empty if you do not know.",),
                picture="play",
                example="empty: not known",
                measuring="play",
                usual=(0.002, 2),
                share=("per_turn", 0, 0.5),
                when=(DIAL,),
                late=True,
            ),
        ),
        "clockwise": Key(
            form=ValueForm("word", words=("in", "out")),
            field="clockwise_goes",
            comment='which way the slide goes when the handle is turned clockwise: "in" or "out"',
            question=_clockwise,
        ),
        "numbers": Key(
            form=ValueForm("word", words=("rise", "fall"), of=lambda word: word == "rise"),
            field="rising_inwards",
            comment='going in, the numbers "rise" or "fall"',
            question=lambda dial: Question(
                label="going in they",
                asked=f"Go in with {the(dial)} ({_WAYS.get(dial, _OTHER)[1]}): what do the numbers do?",
                picture="rising",
                options=(
                    Option(words="They rise: 0, 1, 2", value="rise", short="rise"),
                    Option(words="They fall: 0, 9, 8", value="fall", short="fall"),
                    Option(words="Not known yet (taken as rising)", value=None),
                ),
                when=_THERE,
            ),
        ),
        "can_zero": Key(
            form=ValueForm("flag"),
            comment="false for a collar that cannot be set to zero",
            question=lambda dial: Question(
                asked=f"Can the collar of {the(dial)} be set to 0 where you like?",
                how=("A collar that is fixed is read at touch-off instead: the program then asks what it shows.",),
                picture="collar",
                options=(
                    Option(words="Yes, it slips or has a screw", value=True, short="can be zeroed"),
                    Option(words="No, it is fixed", value=False, short="cannot be zeroed"),
                    Option(words="Not known yet (taken as yes)", value=None),
                ),
                when=(DIAL,),
            ),
        ),
        "most_speed": Key(
            form=ValueForm("quantity", "rotation", "rpm", above=0),
            field="most_rpm",
            comment="the most its maker allows",
            question=_most_speed,
        ),
    },
)
