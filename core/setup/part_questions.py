"""The questions to everything of a lathe but its dials."""

from core.setup.question import Chapter, Question
from core.setup.screw_questions import CHANGE_GEARS, CHASING_DIAL, COMPOUND, GEARBOX, LEADSCREW
from core.setup.spindle_questions import CHUCK, SPINDLE
from core.setup.table_questions import INDICATOR, ROTARY_TABLE, STOCK

THE_LATHE = Chapter(
    section=(),
    title="The lathe",
    questions=(
        Question(
            key="name",
            label="",
            asked="What do you call this lathe?",
            how=("The name stands on every card and at the top of the screen.",),
            form="text",
            example="such as Bench lathe",
        ),
        Question(
            key="centre_height",
            label="centre height",
            asked="How high is the spindle axis above the bed?",
            how=("Half of the largest diameter that turns over the bed.",),
            picture="centre_height",
            unit="mm",
            example="such as {110 mm|4 1/2 in}",
        ),
    ),
)
"""The questions to the lathe as a whole."""

PARTS = (
    COMPOUND,
    LEADSCREW,
    CHASING_DIAL,
    CHANGE_GEARS,
    GEARBOX,
    SPINDLE,
    ROTARY_TABLE,
    INDICATOR,
    CHUCK,
    STOCK,
)
