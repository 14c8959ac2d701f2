"""What set-up asks of a part before its keys: whether and how it is there, and what a dial's numbers are in."""

from collections.abc import Mapping
from typing import Any

from core.lathe.keys.dial import the
from core.lathe.keys.entry import DIAL, NONE, READOUT, STEPLESS, STEPS, THERE, WHOLE, Option, Question
from core.lathe.set_up.chapter import KIND, UNIT
from core.lathe.set_up.dial_unit import dial_unit, in_another_unit

_OF_DIALS = ("per_turn", "lead", "clockwise", "backlash", "can_zero")
"""What a digital readout has not."""


def is_readout(table: Mapping[str, Any]) -> bool:
    """Tell whether a dial's table is that of a digital readout."""
    if KIND in table:
        return bool(table[KIND] == READOUT)
    return "graduation" in table and "per_turn" not in table


def own_questions(section: str, dial: str) -> tuple[Question, ...]:
    """Return the questions to a part that no key of the lathe file holds the answer to."""
    if section == "dial":
        return _kind_of_dial(dial), _unit_of_dial(dial)
    return _OF_PARTS.get(section, ())


def _gate(asked: str, yes: str, no: str, picture: str) -> Question:
    """Return the question whether a part is there at all."""
    return Question(
        key=KIND,
        asked=asked,
        picture=picture,
        options=(
            Option(words=yes, value=THERE),
            Option(words=no, value=NONE, short="none", removes=(WHOLE,)),
            Option(words="Not told yet", value=None),
        ),
        implied=lambda table: THERE if table and table.get(KIND) != NONE else None,
    )


_SPEEDS = Question(
    key=KIND,
    asked="How is the speed of the spindle set?",
    picture="speeds",
    options=(
        Option(words="In steps: belts, gears, a switch", value=STEPS, removes=("range",)),
        Option(words="Without steps: a knob", value=STEPLESS, removes=("speeds",)),
        Option(words="Not known yet", value=None),
    ),
    implied=lambda table: STEPS if "speeds" in table else STEPLESS if "range" in table else None,
)

_OF_PARTS = {
    "thread_dial": (
        _gate(
            "Has the carriage a thread dial indicator (a dial that turns on the leadscrew)?",
            "Yes",
            "No: the half nuts stay closed",
            "thread_dial",
        ),
    ),
    "spindle": (_SPEEDS,),
    "rotary_table": (_gate("Is there a rotary table or a dividing head?", "Yes", "No", "table"),),
}


def _kind_of_dial(name: str) -> Question:
    return Question(
        key=KIND,
        asked=f"What shows where {the(name)} stands?",
        picture="dial",
        options=(
            Option(words="A dial: a collar with marks", value=DIAL),
            Option(words="A digital readout", value=READOUT, short="readout", removes=_OF_DIALS),
            Option(words="Nothing, or there is none", value=NONE, short="none", removes=(WHOLE,)),
            Option(words="Not told yet", value=None),
        ),
        implied=lambda table: DIAL if "per_turn" in table else READOUT if is_readout(table) else None,
    )


def _unit_of_dial(name: str) -> Question:
    return Question(
        key=UNIT,
        asked=f"What are the numbers on {the(name)} in?",
        how=("As they are engraved or shown, whatever the screw behind them is.",),
        picture="dial",
        options=(
            Option(words="Millimetres", value="mm"),
            Option(words="Thou: 100 in a turn", value="thou"),
            Option(words="Inches: 0.100 in a turn", value="in"),
        ),
        implied=lambda table: dial_unit(table, unknown=""),
        clashes=in_another_unit,
        when=(DIAL, READOUT),
    )
