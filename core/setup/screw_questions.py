"""The questions to what threads are cut with: compound's scale, leadscrew, chasing dial, gears, gearbox."""

from core.setup import findings
from core.setup.gate import gate, is_there
from core.setup.question import Chapter, Option, Question

COMPOUND = Chapter(
    section=("compound",),
    title="Compound's scale",
    questions=(
        Question(
            key="scale_zero",
            label="0 is",
            asked="Swivel the compound until its own scale reads 0. Seen from above, which way does the slide point?",
            how=("The angle to set for a thread or a taper depends on it: a wrong answer spoils the part.",),
            picture="square",
            options=(
                Option(
                    words="Square to the axis, as cross-slide",
                    value="perpendicular",
                    short="square to the axis",
                    picture="square",
                ),
                Option(
                    words="Along the spindle axis, as the bed",
                    value="parallel",
                    short="along the axis",
                    picture="along",
                ),
                Option(words="Not known yet", value=None),
            ),
        ),
        Question(
            key="scale_graduation",
            label="marks",
            asked="What is it from one mark of that scale to the next?",
            how=("Empty: taken as 1 degree.",),
            picture="protractor",
            unit="deg",
            example="mostly 1 deg",
        ),
        Question(
            key="scale_end",
            label="to",
            asked="How far is that scale engraved? The largest angle on it.",
            how=("Empty: not known to end.",),
            picture="protractor",
            unit="deg",
            example="such as 60 deg",
        ),
    ),
)

LEADSCREW = Chapter(
    section=("leadscrew",),
    title="Leadscrew",
    questions=(
        Question(
            key="pitch",
            label="",
            asked="What is the pitch of the leadscrew?",
            how=("From one crest to the next. F4 works it out from ten turns.",),
            picture="leadscrew",
            unit="mm",
            example="such as {3 mm|8 tpi}",
            finding=findings.LEADSCREW,
        ),
    ),
)

CHASING_DIAL = Chapter(
    section=("chasing_dial",),
    title="Chasing dial",
    questions=(
        gate(
            "Has the saddle a chasing dial (a thread dial that turns on the leadscrew)?",
            "Yes",
            "No: the half nuts stay closed",
            "chasing",
        ),
        Question(
            key="teeth",
            label="wheels",
            asked="How many teeth has the wheel that runs on the leadscrew? All of them where there are several.",
            how=("With a blank between them: 14 15 16.",),
            picture="chasing",
            form="wholes",
            example="such as 14 15 16",
            applies=is_there,
        ),
        Question(
            key="lines",
            label="lines",
            asked="How many evenly spaced lines has the dial that goes with each of these wheels?",
            how=("In the same order, one number for each wheel.",),
            picture="chasing",
            form="wholes",
            example="such as 2 3 4",
            applies=is_there,
        ),
    ),
)

CHANGE_GEARS = Chapter(
    section=("change_gears",),
    title="Change gears",
    questions=(
        Question(
            key="teeth",
            label="",
            asked="Which change gears are there, by their teeth?",
            how=("Each as often as you have it: 20 20 25 30 127. Empty where there are none.",),
            picture="gears",
            form="wholes",
            example="such as 20 25 30 127",
        ),
        Question(
            key="fixed_ratio",
            label="first driver",
            asked="How many turns does the first driver make in one turn of the spindle?",
            how=("Mark the chuck and the first gear of the train, turn the chuck by hand and count. Empty: 1/1.",),
            picture="gears",
            form="ratio",
            example="such as 1/1 or 1/2",
            applies=lambda table: bool(table.get("teeth")),
        ),
    ),
)

GEARBOX = Chapter(
    section=("gearbox",),
    title="Gearbox",
    questions=(
        Question(
            key="pitches",
            label="",
            asked="Which pitches do the levers of a threading gearbox give?",
            how=(
                "From the plate on the headstock, as far as you want them: {0.5 1 1.5|8 16 20}, or 0.5 mm; 20 tpi. "
                "Empty where there is none.",
            ),
            picture="gearbox",
            form="quantities",
            unit="mm",
            example="such as {0.5 1 1.5|8 16 20}",
        ),
    ),
)
