"""Declares the keys of a dial in a lathe file."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from core.lathe.keys.entry import DIAL, DIAL_UNIT, READOUT, Key, Option, Part, Question, ValueForm, as_read, exact
from core.lathe.lathe import dial_words
from core.values.dials import Dial, Unit
from core.values.fields import Table
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, Quantity

COMMENTS = {
    "boring_head": (
        "The boring head (or fly cutter) in the spindle. Its dial shows changes of the radius, not the radius itself."
    )
}
"""The comment above each dial in a lathe file, by the dial's name."""


_DIRECTIONS = {
    "cross_slide": ("the slide", "towards the axis", "away from the axis"),
    "compound": ("the slide", "towards the work", "away from the work"),
    "carriage": ("the carriage", "towards the chuck", "towards the tailstock"),
    "tailstock": ("the quill", "towards the chuck", "back into the tailstock"),
    "quill": ("the quill", "towards the chuck", "back into the tailstock"),
    "boring_head": ("the tool", "to a larger circle", "to a smaller circle"),
}
"""The part that moves, and the meaning of "in" and "out" for it, by the dial's name."""
_OTHER_DIRECTIONS = ("it", 'the direction that you call "in"', "the other direction")
_SENSE_FINDINGS = {"cross_slide": "by_cut", "boring_head": "by_circle"}
_SENSE_PICTURES = {"cross_slide": "sense", "boring_head": "circles"}
_THERE = (DIAL, READOUT)
_HEAD = "boring_head"
_TURN_MM, _FINE_TURN_MM = (0.25, 60), (0.5, 10.2)
_MARK_MM, _FINE_MARK_MM = (0.001, 1), (0.001, 0.26)
_FINE = frozenset({"cross_slide", "compound"})
"""Names of the dials whose marks are usually finer than those of other dials."""


def the(name: str) -> str:
    """Return the name of a dial with "the" before it, for use in a sentence.

    >>> the("cross_slide")
    'the cross-slide'
    """
    return f"the {dial_words(name)}"


def _travel_or_diameter_help(name: str) -> tuple[str, ...]:
    if name == "cross_slide":
        return (
            "Measure a diameter, go in by {0.5 mm|20 thou} on the dial, cut, and measure again. If the diameter "
            "is {1 mm|40 thou} smaller, the answer is travel. If it is {0.5 mm|20 thou} smaller, the answer is "
            "diameter.",
        )
    if name == "boring_head":
        return (
            "Cut a circle and measure its diameter. Move the head by {0.5 mm|20 thou} and cut another circle. If "
            "this circle is {1 mm|40 thou} larger, the answer is travel. If it is {0.5 mm|20 thou} larger, the "
            "answer is diameter.",
        )
    return (
        "This dial seldom reads diameter. To check, set an indicator against the slide. If the slide "
        "moves as far as the numbers say, the answer is travel. If the slide moves half as far, the answer is "
        "diameter.",
    )


def _clockwise(name: str) -> Question:
    what, inwards, outwards = _DIRECTIONS.get(name, _OTHER_DIRECTIONS)
    return Question(
        label="clockwise",
        asked=f"Turn the handle of {the(name)} clockwise. Which way does {what} go?",
        how=("Judge the direction while you face the handle.",),
        picture="handle",
        options=(
            Option(words=f"In, {inwards}", value="in", short="in"),
            Option(words=f"Out, {outwards}", value="out", short="out"),
            Option(words="Not known yet", value=None),
        ),
        when=(DIAL,),
    )


def _most_speed(name: str) -> Question | None:
    if name != _HEAD:
        return None
    return Question(
        label="at most",
        asked="What is the highest speed that the maker of the boring head allows?",
        how=(
            "The speed is marked on the head or given in its manual. If you leave this empty, the program "
            "suggests no speed.",
        ),
        picture="head",
        example="empty if not known",
        usual=(10, 6000),
        when=_THERE,
        late=True,
    )


def _travel(name: str) -> Question | None:
    if name == _HEAD:
        return None
    return Question(
        label="travel",
        asked=f"How far can {the(name)} travel from one end to the other?",
        how=(
            "Wind the slide from stop to stop and measure its travel. "
            "If you leave this empty, the program does not check whether the slide can reach a setting.",
        ),
        picture="travel",
        example="such as {120 mm|5 in}",
        usual=(10, 3000),
        when=_THERE,
        late=True,
    )


def _radius(largest: bool) -> Callable[[str], Question | None]:
    """Return a function that takes the name of a dial and returns the question about the boring head's circle radius.

    The question asks for the largest radius if `largest` is True, otherwise for the smallest. For other dials than the
    boring head the function returns None.
    """

    def question(name: str) -> Question | None:
        if name != _HEAD:
            return None
        return Question(
            label="up to" if largest else "from",
            asked=f"What is the {'largest' if largest else 'smallest'} radius that the boring head can be set to?",
            how=("Measure from the spindle axis to the point of the cutter, with the bar that you use most.",),
            picture="head",
            example="such as {25 mm|1 in}" if largest else "such as {3 mm|1/8 in}",
            usual=(2, 300) if largest else (0.1, 100),
            when=_THERE,
            late=True,
        )

    return question


def _check(table: Table, read: Mapping[str, Any]) -> None:
    """Record a problem for each contradiction in the keys of a dial.

    The smallest radius must not exceed the largest. A turn must be a whole number of marks, with both given in the same
    system of units. `lead` needs `per_turn`.
    """
    graduation, per_turn = read["graduation"], read["per_turn"]
    least, most = read["least_radius"], read["most_radius"]
    if least is not None and most is not None and least.value > most.value:
        table.problem(
            "least_radius",
            f"{quoted(table.data['least_radius'])} is more than most_radius, {quoted(table.data['most_radius'])}. "
            "Enter the smaller radius as least_radius.",
        )
    if graduation is None:
        return
    if per_turn is None:
        if read["lead"] is not None and not table.has("per_turn"):
            table.problem(
                "lead", "per_turn is missing. Enter per_turn too, or delete lead if the dial is a digital readout."
            )
    elif per_turn.is_inch != graduation.is_inch:
        table.problem(
            "graduation",
            f"{quoted(table.data['graduation'])} for one mark and {quoted(table.data['per_turn'])} for one turn "
            "are in different units. Enter both in the unit engraved on the dial.",
        )
    elif (per_turn.value / graduation.value).denominator != 1:
        table.problem(
            "graduation",
            f"One turn, {quoted(table.data['per_turn'])}, is not a whole number of marks of "
            f"{quoted(table.data['graduation'])}. Count the marks in one turn, and divide the turn by their "
            "number.",
        )


def _dial(*, graduation: Quantity, **fields: Any) -> Dial:
    """Return the dial that the keys of its table describe. The dial's own unit is the unit of `graduation`."""
    unit: Unit = "in" if graduation.is_inch else "mm"
    fields["graduation"] = graduation
    for name in {"graduation", "per_turn", "backlash"} & fields.keys():
        fields[name] = _in_unit(fields[name], unit)
    return Dial(unit=unit, **fields)


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
            comment="change of the numbers in one turn; not for a digital readout",
            question=lambda dial: Question(
                label="one turn",
                asked=f"By how much do the numbers on {the(dial)} change in one turn of the handle?",
                how=(
                    "Turn the handle one full turn, until 0 comes round again. "
                    "The answer is the last number before 0, plus the value of the marks after that number.",
                ),
                picture="turn",
                example="such as {4 mm|100 thou}",
                usual=_FINE_TURN_MM if dial in _FINE else _TURN_MM,
                when=(DIAL,),
            ),
        ),
        "graduation": Key(
            form=ValueForm("quantity", "length", DIAL_UNIT, required=True, above=0, of=as_read),
            comment="one mark, in the dial's own numbers",
            question=lambda dial: Question(
                label="marks",
                asked=f"How much is one mark on {the(dial)}?",
                how=(
                    "For a readout, enter the smallest step that it shows.",
                    "For a dial, press F4 to work out one mark from the number of marks in one turn.",
                ),
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
                how=_travel_or_diameter_help(dial),
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
            comment="real slide travel in one turn, if the engraving is not true",
            question=lambda dial: Question(
                label="real travel of one turn",
                asked=f"Is the engraving on {the(dial)} true? If not, how far does one turn move the slide?",
                how=(
                    "Leave this empty if the engraving is true, or if you do not know. Some screws do not match "
                    "their dial. For example, a 1 mm screw marked 40 thou moves 1 mm, not 1.016 mm. Press F4 to "
                    "work out one turn from ten turns.",
                ),
                picture="one_turn",
                example="empty if it is true",
                measuring="lead",
                usual=_TURN_MM,
                share=("per_turn", 0.25, 4),
                when=(DIAL,),
            ),
        ),
        "backlash": Key(
            form=ValueForm("quantity", "length", DIAL_UNIT, least=0, of=as_read),
            comment="backlash, in the dial's own numbers",
            question=lambda dial: Question(
                label="backlash",
                asked=f"How much backlash does {the(dial)} have, as its dial shows it?",
                how=(
                    "Turn the handle back, and see how far it turns before the slide moves. Leave this empty if "
                    "you do not know.",
                ),
                picture="backlash",
                example="empty if not known",
                measuring="backlash",
                usual=(0.002, 2),
                share=("per_turn", 0, 0.5),
                when=(DIAL,),
                late=True,
            ),
        ),
        "clockwise": Key(
            form=ValueForm("word", words=("in", "out")),
            field="clockwise_goes",
            comment='which way the slide goes when you turn the handle clockwise: "in" or "out"',
            question=_clockwise,
        ),
        "numbers": Key(
            form=ValueForm("word", words=("rise", "fall"), of=lambda word: word == "rise"),
            field="rising_inwards",
            comment='while the slide goes in, the numbers "rise" or "fall"',
            question=lambda dial: Question(
                label="going in, its numbers",
                asked=f"Move {the(dial)} in ({_DIRECTIONS.get(dial, _OTHER_DIRECTIONS)[1]}). Do its numbers rise "
                "or fall?",
                picture="rising",
                options=(
                    Option(words="They rise: 0, 1, 2", value="rise", short="rise"),
                    Option(words="They fall: 0, 9, 8", value="fall", short="fall"),
                    Option(words="Not known yet (rising is assumed)", value=None),
                ),
                when=_THERE,
            ),
        ),
        "can_zero": Key(
            form=ValueForm("flag"),
            comment="false for a dial that cannot be set to zero",
            question=lambda dial: Question(
                asked=f"Can you set the dial of {the(dial)} to 0 in any position?",
                how=("If the dial is fixed, the program asks for its reading at every touch-off.",),
                picture="collar",
                options=(
                    Option(words="Yes, the dial can be turned", value=True, short="can be zeroed"),
                    Option(words="No, it is fixed", value=False, short="cannot be zeroed"),
                    Option(words="Not known yet (yes is assumed)", value=None),
                ),
                when=(DIAL,),
            ),
        ),
        "travel": Key(
            form=ValueForm("quantity", "length", "mm", above=0),
            field="slide_travel_mm",
            comment="how far the slide can go",
            question=_travel,
        ),
        "most_speed": Key(
            form=ValueForm("quantity", "rotation", "rpm", above=0),
            field="most_rpm",
            comment="highest speed that its maker allows",
            question=_most_speed,
        ),
        "least_radius": Key(
            form=ValueForm("quantity", "length", "mm", above=0),
            field="least_radius_mm",
            comment="smallest radius to which the head can be set",
            question=_radius(largest=False),
        ),
        "most_radius": Key(
            form=ValueForm("quantity", "length", "mm", above=0),
            field="most_radius_mm",
            comment="largest radius to which the head can be set",
            question=_radius(largest=True),
        ),
    },
)
