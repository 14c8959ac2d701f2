"""The questions to rotary table, indicator and drawer."""

from core.setup import findings
from core.setup.gate import gate, is_there
from core.setup.question import Chapter, Option, Question

ROTARY_TABLE = Chapter(
    section=("rotary_table",),
    title="Rotary table",
    questions=(
        gate("Is there a rotary table or a dividing head?", "Yes", "No", "table"),
        Question(
            key="ratio",
            label="turns",
            asked="How many turns of the handle make one turn of the table?",
            how=(
                "It stands in its papers: 40, 60, 72, 90. Or see how many degrees one turn moves: 360 by that. A table "
                "without a worm, turned by hand against its own scale or notches: 1.",
            ),
            picture="table",
            form="whole",
            example="such as 72",
            applies=is_there,
        ),
        Question(
            key="dial_graduation",
            label="dial",
            asked="What is it from one mark of the handle's dial to the next, as angle of the table?",
            how=("Where the table is turned without a handle: on its own scale. Empty where there are plates only.",),
            picture="table",
            unit="arcmin",
            example="such as 2 arcmin",
            finding=findings.TABLE_MARKS,
            applies=is_there,
        ),
        Question(
            key="vernier",
            label="vernier",
            asked="To how much does a vernier on that dial read?",
            how=("Empty where there is none.",),
            picture="vernier",
            unit="arcsec",
            example="such as 10 arcsec",
            applies=lambda table: is_there(table) and "dial_graduation" in table,
        ),
        Question(
            key="plates",
            label="plates",
            asked="Which hole circles are on the plates?",
            how=("Plate by plate, with a / between them: 15 16 17 18 / 21 23 27 29. Empty where there are none.",),
            picture="plates",
            form="plates",
            example="such as 15 16 17 / 21 23",
            applies=is_there,
        ),
        Question(
            key="direct",
            label="notches",
            asked="Is there a plate with notches on the spindle itself? With how many?",
            how=("All of them where there are several: 24 60. Empty where there is none.",),
            picture="plates",
            form="wholes",
            example="such as 24",
            applies=is_there,
        ),
        Question(
            key="backlash",
            label="play",
            asked="How much play has the worm, as angle of the table?",
            how=("How far the handle turns back before the table follows. Empty: not known.",),
            picture="play",
            unit="arcmin",
            example="such as 3 arcmin",
            finding=findings.TABLE_PLAY,
            applies=is_there,
        ),
    ),
)

INDICATOR = Chapter(
    section=("indicator",),
    title="Indicator",
    questions=(
        Question(
            key="graduation",
            label="marks",
            asked="What is it from one mark of the indicator to the next?",
            picture="indicator",
            unit="mm",
            example="such as {0.01 mm|0.0005 in}",
        ),
        Question(
            key="kind",
            label="",
            asked="Which kind of indicator is it?",
            how=("A lever shows too much where it does not lie along the surface: the program asks its angle.",),
            picture="indicator",
            options=(
                Option(words="With a plunger that is pushed in", value="plunger", short="plunger"),
                Option(words="With a lever that swings", value="lever", short="lever"),
                Option(words="Not known yet (taken as a plunger)", value=None),
            ),
        ),
    ),
)

STOCK = Chapter(
    section=("stock",),
    title="Drawer",
    questions=(
        Question(
            key="wires",
            label="wires",
            asked="Which wires for measuring threads are there, by their diameter?",
            how=(
                "With a blank between them: {0.9 1.1 1.35|0.024 0.032 0.045}, or 45 thou; 1/16 in; 1.1 mm. Shanks of "
                "drills will do.",
            ),
            picture="wires",
            form="quantities",
            unit="mm",
            example="such as {0.9 1.35 2.05|0.024 0.032 0.045}",
        ),
        Question(
            key="packing",
            label="packing",
            asked="Which packing and shims are there, by their thickness?",
            how=("With a blank between them: {0.05 0.1 0.2 0.5|0.002 0.005 0.010}, or 2 thou; 5 thou; 0.1 mm.",),
            picture="packing",
            form="quantities",
            unit="mm",
            example="such as {0.05 0.1 0.2|0.002 0.005 0.010}",
        ),
    ),
)
