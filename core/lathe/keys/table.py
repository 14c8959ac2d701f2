"""Lists all parts and keys of a lathe file. The reader, the writer and the questions of set-up use this list.

Parts and keys are in the order in which they are written. Each part gives the function that checks it and the function
that makes it. The usual ranges of answers are common practice, without a source. They are wide: a number outside its
range probably has a wrong unit or a lost decimal point. Set-up accepts such a number if the user confirms it.
"""

from typing import Any

from core.lathe.keys import dial
from core.lathe.keys.accessories import INDICATOR, ROTARY_TABLE, STOCK
from core.lathe.keys.cutters import CUTTER
from core.lathe.keys.entry import Key, Part, Question, ValueForm
from core.lathe.keys.screws import CHANGE_GEARS, COMPOUND, GEARBOX, LEADSCREW, THREAD_DIAL
from core.lathe.keys.spindle import CHUCK, SPINDLE
from core.lathe.lathe import LATHE_FORMAT


def _first_lines(format: int, **fields: Any) -> dict[str, Any]:
    return fields


FIRST_LINES = Part(
    section="",
    title="The lathe",
    make=_first_lines,
    keys={
        "format": Key(
            form=ValueForm("whole", required=True, least=LATHE_FORMAT, most=LATHE_FORMAT),
            comment="version of this file format",
        ),
        "name": Key(
            form=ValueForm("text", required=True, longest=80),
            comment="name of the lathe, on every card",
            question=Question(
                asked="What do you call this lathe?",
                how=("The name is on every card and at the top of the screen.",),
                example="such as Bench lathe",
            ),
        ),
        "centre_height": Key(
            form=ValueForm("quantity", "length", "mm", above=0),
            field="centre_height_mm",
            comment="from the bed to the axis of the spindle",
            question=Question(
                label="centre height",
                asked="How high is the spindle axis above the bed?",
                how=("The centre height is half of the largest diameter that can turn over the bed.",),
                picture="centre_height",
                example="such as {110 mm|4 1/2 in}",
                usual=(25, 400),
            ),
        ),
    },
)

PARTS = (
    FIRST_LINES,
    dial.PART,
    COMPOUND,
    LEADSCREW,
    THREAD_DIAL,
    CHANGE_GEARS,
    GEARBOX,
    SPINDLE,
    ROTARY_TABLE,
    INDICATOR,
    CHUCK,
    STOCK,
    CUTTER,
)
