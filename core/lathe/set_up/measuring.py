"""Methods that find an answer of set-up by measuring, for example the backlash of a dial or the pitch of a screw.

All calculations use exact fractions of mm and degrees. The last decimal place of a measurement is taken as its
uncertainty: "10.00 mm" is known to 0.01 mm, and "10 mm" to 1 mm.
"""

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, NamedTuple

from core.lathe.dial_face import lossless_text
from core.values.errors import CoreError, QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, Quantity, mm_text, number_text, read_number, read_quantity

SIZE_UNIT = "size"
_FINEST_SHARE = Fraction(8, 1000)
"""The largest uncertainty of a measured turn, as a share of the turn.

A metric screw engraved in inches (1 mm as 40 thou) is off by 16 thousandths. Half of that must be visible.
"""
_MIXED_UP = (MM_PER_INCH * Fraction(2, 5), MM_PER_INCH * Fraction(5, 2))
"""The range of the factor by which a number in the wrong unit is too large or too small.

The factor is 25.4, or half or twice that if diameter and travel are mixed up too, and a little more if the work
springs.
"""
_DECIMALS = re.compile(r"\d*[.,](\d+)")
_PARTS = re.compile(r"\d+/(\d+)")


class MeasuredField(NamedTuple):
    """One number that a measuring method asks the user to enter."""

    key: str
    label: str
    unit: str = SIZE_UNIT
    """Unit of a bare number. "dial": the dial's own unit; "size": the unit in which the user measures; "": no unit."""
    start: str = ""


class MeasuredAnswer(NamedTuple):
    """The result of a measurement: the value for the question's key, and a sentence that explains the value.

    The value None means that the key is removed.
    """

    value: Any
    sentence: str


class _Size(NamedTuple):
    """A measured size. It is shown in mm or in inches, as the user typed it."""

    mm: Fraction
    is_inch: bool

    @property
    def text(self) -> str:
        return self.like(self.mm)

    def like(self, size_mm: Fraction) -> str:
        """Return another size [mm] as text in the unit of this size, rounded to 0.0001 of that unit."""
        if self.is_inch:
            return f"{number_text(size_mm / MM_PER_INCH, 4)} in"
        return mm_text(float(size_mm), 4)


class MeasuringMethod(NamedTuple):
    """A method that finds the answer to a question of set-up by measuring."""

    title: str
    steps: tuple[str, ...]
    """What to do at the machine, in order. "{0.5 mm|20 thou}" has one text for mm and one for inches."""
    measured: tuple[MeasuredField, ...]
    work_out: Callable[[Mapping[str, Any], Mapping[str, str]], MeasuredAnswer]
    """Computes the answer from the table so far and the typed numbers.

    Raises CoreError whose `field` is a key of `measured`.
    """


def travel_or_diameter(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Determine whether a dial counts travel or diameter, from the diameters of the work before and after a cut."""
    before, after = (read_typed(typed, key, "length") for key in ("before", "after"))
    changed = _Size(abs(before.value - after.value), before.is_inch and after.is_inch)
    return _sense(changed, typed, "The diameter changed by", diameter_for=1, travel_for=2)


def slide_or_double(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Determine whether a dial counts travel or diameter, from an indicator's reading of the movement of the slide."""
    moved = read_typed(typed, "moved", "length")
    size = _Size(abs(moved.value), moved.is_inch)
    return _sense(size, typed, "The slide moved", diameter_for=Fraction(1, 2), travel_for=1)


def true_lead(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Return the true travel of the slide in one turn of a dial, from the measured travel of several turns.

    The answer's value is None if the travel agrees with the engraved numbers. Raises CoreError if the measurement is
    too inexact, or shows that the answer about travel or diameter is wrong.
    """
    per_turn = _answered_length(table, "per_turn")
    engraved_mm = per_turn.value / 2 if table.get("reads") == "diameter" else per_turn.value
    lead, unsure_mm = _travel_of_a_turn(typed)
    lead_mm = lead.mm
    if unsure_mm > engraved_mm * _FINEST_SHARE:
        raise QuantityError(
            f"{quoted(typed['moved'])} "
            "is not exact enough, because it gives the travel of one turn only to within "
            f"{lead.like(unsure_mm)}. Measure more exactly, or over more turns.",
            field="moved",
        )
    words = f"One turn moves the slide by {lead.text}, and the numbers say {lead.like(engraved_mm)}"
    if abs(lead_mm - engraved_mm) <= unsure_mm:
        return MeasuredAnswer(value=None, sentence=(f"{words}. According to this measurement, the engraving is true."))
    doubled = engraved_mm * (2 if table.get("reads") == "diameter" else Fraction(1, 2))
    if abs(lead_mm - doubled) <= unsure_mm:
        other = "travel" if table.get("reads") == "diameter" else "diameter"
        raise CoreError(
            f"{words}. So the numbers count {other}. Go back and change your answer about travel or diameter.",
            field="moved",
        )
    taken, why = _likely_screw(lead_mm, unsure_mm)
    return MeasuredAnswer(value=taken, sentence=f"{words}. The engraving is not true. {why}")


def pitch_of_screw(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Return the pitch of a screw, from the measured travel of several turns."""
    lead, unsure_mm = _travel_of_a_turn(typed)
    taken, why = _likely_screw(lead.mm, unsure_mm)
    return MeasuredAnswer(value=taken, sentence=f"The travel of one turn is {lead.text}. {why}")


def marks_in_a_turn(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Return the graduation of a dial (the size of one mark), from the number of marks in one turn."""
    per_turn = _answered_length(table, "per_turn")
    count = _whole(typed, "marks", most=2000)
    number = lossless_text(per_turn.number / count)
    return MeasuredAnswer(
        value=f"{number} {per_turn.unit}",
        sentence=f"One turn of {table['per_turn']} has {count} marks, so one mark is {number} {per_turn.unit}.",
    )


def marks_of_table(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Return the angle that the rotary table turns for one mark of its handle's dial, in minutes of arc.

    The angle is computed from the number of marks in one turn of the handle.
    """
    turn_arcmin = _turn_of_table_deg(table, "marks") * 60
    count = _whole(typed, "marks", most=2000)
    mark = lossless_text(turn_arcmin / count)
    return MeasuredAnswer(
        value=f"{mark} arcmin",
        sentence=(f"One turn of {lossless_text(turn_arcmin)} arcmin has {count} marks, so one mark is {mark} arcmin."),
    )


def backlash_of_dial(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Return the backlash of a dial, from two of its readings at the same position of the slide.

    The user takes one reading after moving the slide inwards, and the other after moving the slide outwards.
    """
    first, second = (read_typed(typed, key, "length") for key in ("inwards", "outwards"))
    turn = _answered_length(table, "per_turn")
    backlash = _round_the_turn(first.value - second.value, turn.value)
    number = backlash / (turn.value / turn.number)
    text = f"{lossless_text(number)} {turn.unit}"
    return MeasuredAnswer(value=text, sentence=f"The two readings differ by {text}, which is the backlash.")


def backlash_of_table(table: Mapping[str, Any], typed: Mapping[str, str]) -> MeasuredAnswer:
    """Return the backlash of a rotary table, from two readings of its handle's dial at the same position of the table.

    The user takes the two readings after turning the table in opposite directions.
    """
    first, second = (read_typed(typed, key, "angle") for key in ("inwards", "outwards"))
    backlash = _round_the_turn(first.value - second.value, _turn_of_table_deg(table, "inwards"))
    minutes = lossless_text(backlash * 60)
    text = f"{minutes} arcmin"
    return MeasuredAnswer(value=text, sentence=f"The two readings differ by {text}, which is the backlash.")


def _turn_of_table_deg(table: Mapping[str, Any], field: str) -> Fraction:
    """Return the angle that the rotary table turns for one turn of its handle [deg].

    Raises CoreError for the form field `field` if the angle is not known.
    """
    ratio = table.get("ratio")
    if not isinstance(ratio, int) or isinstance(ratio, bool) or ratio < 1:
        raise CoreError(
            "First enter how many turns of the handle make one turn of the table. Go back to that question.",
            field=field,
        )
    return Fraction(360, ratio)


def read_typed(typed: Mapping[str, str], key: str, kind: Any) -> Quantity:
    """Return the quantity that the user typed into the form field `key`.

    Raises QuantityError for that field if the text is not a quantity of the kind `kind`.
    """
    try:
        return read_quantity(typed[key], kind)
    except QuantityError as error:
        raise QuantityError(error.message, field=key) from None


def _sense(
    changed: "_Size", typed: Mapping[str, str], what: str, *, diameter_for: Fraction | int, travel_for: int
) -> MeasuredAnswer:
    turned = read_typed(typed, "turned", "length")
    if not turned.value:
        raise QuantityError("0 means that you did not turn the dial. Enter how far you turned it.", field="turned")
    # The amount by which the dial was turned, in the dial's own unit.
    on_dial = f"{lossless_text(abs(turned.number))} {turned.unit}"
    words = f"{what} {changed.text} for {on_dial} on the dial"
    share = changed.mm / abs(turned.value)
    for value, wanted in (("diameter", diameter_for), ("travel", travel_for)):
        # Travel and diameter differ by a factor of 2. Even a cut that springs by a fifth shows which is which.
        if Fraction(4, 5) <= share / wanted <= Fraction(5, 4):
            return MeasuredAnswer(value=value, sentence=f"{words}. The dial counts {value}.")
    inches = share and any(_MIXED_UP[0] <= ratio <= _MIXED_UP[1] for ratio in (share, 1 / share))
    advice = (
        "One size seems to be in inches and another in millimetres. Enter the unit after each number."
        if inches
        else "Measure again, with the backlash taken up in the same direction both times."
    )
    raise CoreError(
        f"{words}. These amounts are not equal, and one is not twice the other. {advice}",
        field="turned",
    )


def _travel_of_a_turn(typed: Mapping[str, str]) -> tuple["_Size", Fraction]:
    """Return the measured travel of the slide in one turn, and the uncertainty of this travel [mm]."""
    turns = _whole(typed, "turns", most=200)
    moved = read_typed(typed, "moved", "length")
    if not moved.value:
        raise QuantityError("0 means that nothing moved. Enter the travel that you measured.", field="moved")
    unit_mm = moved.value / moved.number
    return _Size(abs(moved.value) / turns, moved.is_inch), _last_place(typed["moved"]) * unit_mm / turns


def _last_place(text: str) -> Fraction:
    """Return the value of the last decimal place of a written number: 1/100 for "10.00 mm"."""
    if parts := _PARTS.search(text):
        return Fraction(1, int(parts[1]))
    decimals = _DECIMALS.search(text)
    return Fraction(1, 10 ** len(decimals[1])) if decimals else Fraction(1)


def _likely_screw(lead_mm: Fraction, unsure_mm: Fraction) -> tuple[str, str]:
    """Return a screw's lead as text, and a sentence that explains the choice.

    A common lead is chosen if it differs from the measured lead by at most `unsure_mm`, the uncertainty.
    """
    quarters = Fraction(round(lead_mm * 4), 4)
    to_the_inch = max(round(MM_PER_INCH / lead_mm), 1)
    usual = [(quarters, mm_text(float(quarters))), (MM_PER_INCH / to_the_inch, f"1/{to_the_inch} in")]
    near_mm, text = min(usual, key=lambda screw: abs(screw[0] - lead_mm))
    if near_mm and abs(near_mm - lead_mm) <= unsure_mm:
        return text, f"This agrees with a common screw of {text}, so the program uses {text}."
    text = mm_text(float(lead_mm), 4)
    return text, f"No common screw has this pitch, so the program uses {text} as measured."


def _round_the_turn(difference: Fraction, turn: Fraction) -> Fraction:
    """Return the difference between two readings of a dial, taken in the shorter direction round the dial.

    `turn`: the change of the dial's number in one full turn.
    """
    apart = abs(difference) % turn
    return min(apart, turn - apart)


def _whole(typed: Mapping[str, str], key: str, most: int) -> int:
    text = typed[key].strip()
    try:
        number = read_number(text)
    except QuantityError as error:
        raise QuantityError(error.message, field=key) from None
    if number.denominator != 1 or not 1 <= number <= most:
        raise QuantityError(
            f"{quoted(text)} is not a whole number from 1 to {most}. Enter a number such as {min(10, most)}.", field=key
        )
    return int(number)


def _answered_length(table: Mapping[str, Any], key: str) -> Quantity:
    """Return the length that the user gave as an earlier answer. Raises CoreError if the answer is missing or wrong."""
    try:
        length = read_quantity(table.get(key), "length")
    except QuantityError:
        length = None
    if length is None or length.value <= 0:
        raise CoreError("First enter by how much the numbers change in one turn. Go back to that question.")
    return length


_TURNS = MeasuredField(key="turns", label="Turns", unit="", start="10")

MEASURING_METHODS: Mapping[str, MeasuringMethod] = {
    "by_cut": MeasuringMethod(
        title="Travel or diameter, found by a cut",
        steps=(
            "Take a light cut along a piece in the chuck. Stop the spindle and measure the diameter.",
            "Go in by {0.5 mm|20 thou} on this dial and take another cut. Stop the spindle and measure again.",
        ),
        measured=(
            MeasuredField(key="before", label="Diameter before"),
            MeasuredField(key="turned", label="Turned on the dial", unit="dial"),
            MeasuredField(key="after", label="Diameter after"),
        ),
        work_out=travel_or_diameter,
    ),
    "by_circle": MeasuringMethod(
        title="Travel or diameter, found by two circles",
        steps=(
            "Cut a shallow circle on scrap. Stop the spindle and measure the circle's diameter.",
            "Move the head by {0.5 mm|20 thou} on its dial and cut another circle. Stop the spindle and measure "
            "its diameter.",
        ),
        measured=(
            MeasuredField(key="before", label="First diameter"),
            MeasuredField(key="turned", label="Turned on the dial", unit="dial"),
            MeasuredField(key="after", label="Second diameter"),
        ),
        work_out=travel_or_diameter,
    ),
    "by_slide": MeasuringMethod(
        title="Travel or diameter, found by an indicator",
        steps=(
            "Stop the spindle. Set an indicator against the slide, in line with its travel. Take up the backlash "
            "inwards and note both readings.",
            "Go in by another {0.5 mm|20 thou} on this dial and read the indicator again.",
        ),
        measured=(
            MeasuredField(key="turned", label="Turned on the dial", unit="dial"),
            MeasuredField(key="moved", label="The slide moved"),
        ),
        work_out=slide_or_double,
    ),
    "lead": MeasuringMethod(
        title="Is the engraving true?",
        steps=(
            "Stop the spindle. Take up the backlash inwards. Note the position of the slide with a long "
            "indicator, or with a caliper against a fixed face. A rule is good enough if one turn is {3 mm|1/8 "
            "in} or more.",
            "Go in by several more whole turns, by ten turns if there is room. Measure how far the slide has moved.",
        ),
        measured=(_TURNS, MeasuredField(key="moved", label="The slide moved")),
        work_out=true_lead,
    ),
    "marks": MeasuringMethod(
        title="How much is one mark?",
        steps=("Count the spaces between the marks, all the way round the dial.",),
        measured=(MeasuredField(key="marks", label="Spaces in one turn", unit=""),),
        work_out=marks_in_a_turn,
    ),
    "table_marks": MeasuringMethod(
        title="How much is one mark of the handle's dial?",
        steps=("Count the spaces between the marks, all the way round the handle's dial.",),
        measured=(MeasuredField(key="marks", label="Spaces in one turn", unit=""),),
        work_out=marks_of_table,
    ),
    "backlash": MeasuringMethod(
        title="How much backlash does the dial have?",
        steps=(
            "Stop the spindle. Set an indicator against the slide. Go in until the indicator shows 0. Note the dial's "
            "reading.",
            "Go in another half turn. Come back out until the indicator shows 0 again. Note the dial's reading.",
        ),
        measured=(
            MeasuredField(key="inwards", label="Reading, coming in", unit="dial"),
            MeasuredField(key="outwards", label="Reading, coming out", unit="dial"),
        ),
        work_out=backlash_of_dial,
    ),
    "table_backlash": MeasuringMethod(
        title="How much backlash does the worm have?",
        steps=(
            "Stop the spindle. Set an indicator against a block that is bolted to the table, far from its "
            "centre. Turn the handle until the indicator shows 0. Note the reading of the handle's dial.",
            "Turn the handle another half turn the same way. Turn the handle back until the indicator shows 0 "
            "again. Note the dial's "
            "reading.",
        ),
        measured=(
            MeasuredField(key="inwards", label="Reading, first direction", unit="arcmin"),
            MeasuredField(key="outwards", label="Reading, coming back", unit="arcmin"),
        ),
        work_out=backlash_of_table,
    ),
    "leadscrew": MeasuringMethod(
        title="Pitch of the leadscrew",
        steps=(
            "Isolate the drive. Close the half nuts and turn the leadscrew by hand until the backlash is taken up. "
            "Note the position of the carriage.",
            "Turn the leadscrew ten more turns and measure how far the carriage has moved. Or measure ten "
            "pitches with a rule, from one crest of the screw to the tenth crest after it.",
        ),
        measured=(_TURNS, MeasuredField(key="moved", label="The carriage moved")),
        work_out=pitch_of_screw,
    ),
    "jaw": MeasuringMethod(
        title="Jaw travel of a four-jaw chuck",
        steps=(
            "Stop the spindle and isolate its drive. Measure from a jaw to the rim of the chuck. Turn the screw "
            "of that jaw "
            "ten turns and measure again.",
        ),
        measured=(_TURNS, MeasuredField(key="moved", label="The jaw moved")),
        work_out=pitch_of_screw,
    ),
}
"""The measuring methods by the names used in the list of lathe keys."""
