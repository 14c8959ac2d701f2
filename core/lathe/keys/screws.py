"""Declares the keys that threads and tapers need: compound scale, leadscrew, thread dial, change gears and gearbox."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from core.lathe.keys.entry import THERE, Key, Option, Part, Question, ValueForm, exact
from core.lathe.lathe import ChangeGears, CompoundScale, ThreadDial
from core.values.fields import Table
from core.values.plain_text import counted
from core.values.quantities import Quantity

MOST_GEARS = 60

COMPOUND = Part(
    section="compound",
    title="Compound's scale",
    comment="The scale that shows how far the compound is swivelled.",
    field="compound",
    make=CompoundScale,
    keys={
        "scale_zero": Key(
            form=ValueForm("word", words=("parallel", "perpendicular"), required=True),
            field="zero",
            comment=('slide at reading 0, to the spindle axis: "parallel" or "perpendicular"'),
            question=Question(
                label="0 is",
                asked=(
                    "Swivel the compound (top slide) until its scale reads 0. Which way does the slide point, "
                    "seen from above?"
                ),
                how=(
                    "The angle that you set for a thread or a taper depends on this answer. A wrong answer "
                    "spoils the part.",
                ),
                picture="square",
                options=(
                    Option(
                        words="Square to the spindle axis",
                        value="perpendicular",
                        short="square to the axis",
                        picture="square",
                    ),
                    Option(
                        words="Along the spindle axis",
                        value="parallel",
                        short="along the axis",
                        picture="along",
                    ),
                    Option(words="Not known yet", value=None),
                ),
            ),
        ),
        "scale_graduation": Key(
            form=ValueForm("quantity", "angle", "deg", above=0, most=45),
            field="graduation_deg",
            comment="one mark of the scale",
            question=Question(
                label="marks",
                asked="How much is one mark of the compound's scale?",
                how=("Leave this empty for 1 degree.",),
                picture="protractor",
                example="such as 1 deg",
                usual=(Fraction(1, 12), 5),
            ),
        ),
        "scale_end": Key(
            form=ValueForm("quantity", "angle", "deg", above=0, most=360),
            field="end_deg",
            comment="largest angle engraved on the scale",
            question=Question(
                label="to",
                asked="What is the largest angle on the compound's scale?",
                how=("Leave this empty if the scale goes all the way round, or if you do not know.",),
                picture="protractor",
                example="such as 60 deg",
                usual=(20, 360),
            ),
        ),
    },
)

LEADSCREW = Part(
    section="leadscrew",
    title="Leadscrew",
    keys={
        "pitch": Key(
            form=ValueForm("quantity", "pitch", "mm", required=True, above=0, of=exact),
            field="leadscrew_mm",
            comment='such as "3 mm" or "8 tpi"',
            question=Question(
                asked="What is the pitch of the leadscrew?",
                how=("The pitch is the distance from one crest to the next. Press F4 to work it out from ten turns.",),
                picture="leadscrew",
                example="such as {3 mm|8 tpi}",
                measuring="leadscrew",
                # An 8 without a unit means threads to the inch far more often than a pitch of 8 mm.
                usual=(0.8, 6.5),
            ),
        ),
    },
)


def _check_wheels(table: Table, read: Mapping[str, Any]) -> None:
    teeth, lines = read["teeth"], read["lines"]
    if any(table.has(key) and not read[key] for key in ("teeth", "lines")):
        # One of the two already has a problem.
        return
    if not teeth and lines:
        table.problem(
            "teeth", "The numbers of teeth are missing. Enter the number of teeth of each wheel, such as 14 15 16."
        )
    elif len(teeth) != len(lines):
        table.problem(
            "lines",
            f"The thread dial has {counted(len(teeth), 'wheel')}"
            f", but you entered lines for {len(lines)}. Enter the number of lines for each wheel, such as 2 3 4.",
        )


def _thread_dial(teeth: tuple[int, ...] = (), lines: tuple[int, ...] = ()) -> ThreadDial | None:
    return ThreadDial(wheels=tuple(zip(teeth, lines, strict=False))) if teeth else None


THREAD_DIAL = Part(
    section="thread_dial",
    title="Thread dial",
    comment="The thread dial on the carriage.",
    field="thread_dial",
    make=_thread_dial,
    check=_check_wheels,
    keys={
        "teeth": Key(
            form=ValueForm("wholes", least=2, most=400),
            comment="teeth of each wheel",
            question=Question(
                label="wheels",
                asked=(
                    "How many teeth does the thread dial's wheel have? If there are several wheels, enter the "
                    "teeth of each wheel."
                ),
                how=("Put a space between the numbers: 14 15 16.",),
                picture="thread_dial",
                example="such as 14 15 16",
                usual=(8, 80),
                when=(THERE,),
            ),
        ),
        "lines": Key(
            form=ValueForm("wholes", least=1, most=100),
            comment="number of evenly spaced lines for each wheel",
            question=Question(
                label="lines",
                asked="How many evenly spaced lines does the thread dial have for each wheel?",
                how=("Enter one number for each wheel, in the same order.",),
                picture="thread_dial",
                example="such as 2 3 4",
                usual=(1, 24),
                when=(THERE,),
            ),
        ),
    },
)


def _check_gears(table: Table, read: Mapping[str, Any]) -> None:
    if len(read["teeth"]) > MOST_GEARS:
        table.problem("teeth", f"There are {len(read['teeth'])} change gears. Enter at most {MOST_GEARS}.")


def _change_gears(teeth: tuple[int, ...] = (), **fields: Any) -> ChangeGears | None:
    return ChangeGears(teeth=teeth, **fields) if teeth else None


CHANGE_GEARS = Part(
    section="change_gears",
    title="Change gears",
    comment="The change gears that you have.",
    field="change_gears",
    make=_change_gears,
    check=_check_gears,
    keys={
        "teeth": Key(
            form=ValueForm("wholes", least=8, most=400),
            comment="teeth of each gear; enter a gear twice if you have two",
            question=Question(
                asked="How many teeth does each of your change gears have?",
                how=(
                    "Enter a gear twice if you have two of them: 20 20 25 30 127. Leave this empty if you have "
                    "no change gears.",
                ),
                picture="gears",
                example="such as 20 25 30 127",
                usual=(12, 150),
            ),
        ),
        "fixed_ratio": Key(
            form=ValueForm("ratio"),
            comment="turns of the first driver for one turn of the spindle",
            question=Question(
                label="first driver",
                asked="How many turns does the first driver make in one turn of the spindle?",
                how=(
                    "Mark the chuck and the first driver. Turn the chuck once by hand, and count the turns of "
                    "the driver. Leave this empty for 1/1.",
                ),
                picture="gears",
                example="such as 1/1 or 1/2",
                usual=(Fraction(1, 8), 8),
                beside="teeth",
            ),
        ),
    },
)


def _pitches_mm(pitches: tuple[Quantity, ...]) -> tuple[Fraction, ...]:
    return tuple(pitch.value for pitch in pitches)


def _levers(text: str) -> tuple[str, ...]:
    """Return the lever positions in a text, one for each pitch of the gearbox. Commas separate them.

    >>> _levers("A 1, A 2,B 1")
    ('A 1', 'A 2', 'B 1')
    """
    return tuple(part.strip() for part in text.split(",") if part.strip())


def _check_pitches(table: Table, read: Mapping[str, Any]) -> None:
    if any(pitch.value <= 0 for pitch in read["pitches"] or ()):
        table.problem("pitches", 'Each pitch must be above 0. Enter pitches such as "1.5 mm" or "20 tpi".')
    levers, pitches = read["levers"], read["pitches"] or ()
    if levers and pitches and len(_levers(levers)) != len(pitches):
        table.problem(
            "levers",
            f"There are {len(pitches)} pitches, but lever positions for {len(_levers(levers))}. Enter the lever "
            "position for each pitch in the same order, such as A 1, A 2, B 1.",
        )


GEARBOX = Part(
    section="gearbox",
    title="Gearbox",
    comment="The pitches that the levers of the gearbox give.",
    check=_check_pitches,
    keys={
        "pitches": Key(
            form=ValueForm("quantities", "pitch", "mm", of=_pitches_mm),
            field="gearbox_mm",
            comment="all pitches that the gearbox cuts",
            question=Question(
                asked="Which pitches can the threading gearbox cut?",
                how=(
                    "The plate on the headstock lists the pitches. Enter those that you use: "
                    "{0.5 1 1.5|8 16 20}, or 0.5 mm; 20 tpi. Leave this empty if there is no gearbox.",
                ),
                picture="gearbox",
                example="such as {0.5 1 1.5|8 16 20}",
                usual=(0.1, 6.5),
            ),
        ),
        "levers": Key(
            form=ValueForm("text", longest=400, of=_levers),
            field="gearbox_levers",
            comment="lever position for each of these pitches, in the same order, separated by commas",
            question=Question(
                label="levers",
                asked="Which position of the gearbox levers gives each of these pitches?",
                how=(
                    "Take the positions from the same plate, in the same order, with commas between them: A 1, "
                    "A 2, B 1. You can leave this empty.",
                ),
                picture="gearbox",
                example="such as A 1, A 2, B 1",
                beside="pitches",
            ),
        ),
    },
)
