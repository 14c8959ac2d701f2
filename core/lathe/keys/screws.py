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
            comment='where the slide points when its scale reads 0, to the spindle: "parallel" or "perpendicular"',
            question=Question(
                label="0 is",
                asked=(
                    "Swivel the compound (top slide) until its scale reads 0. From above, which way does the "
                    "slide point?"
                ),
                how=("The angle you set for a thread or taper depends on it. A wrong answer spoils the part.",),
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
        ),
        "scale_graduation": Key(
            form=ValueForm("quantity", "angle", "deg", above=0, most=45),
            field="graduation_deg",
            comment="between two marks",
            question=Question(
                label="marks",
                asked="How much is one mark of that scale?",
                how=("Leave this empty for 1 degree.",),
                picture="protractor",
                example="such as 1 deg",
                usual=(Fraction(1, 12), 5),
            ),
        ),
        "scale_end": Key(
            form=ValueForm("quantity", "angle", "deg", above=0, most=360),
            field="end_deg",
            comment="the largest angle engraved",
            question=Question(
                label="to",
                asked="What is the largest angle on that scale?",
                how=("Leave this empty if it goes all round or you do not know.",),
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
                how=("The distance from one crest to the next. Press F4 to work it out from ten turns.",),
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
        table.problem("teeth", "Missing. Enter the teeth of each wheel, such as 14 15 16.")
    elif len(teeth) != len(lines):
        table.problem(
            "lines",
            f"The dial has {counted(len(teeth), 'wheel')}, but lines for {len(lines)}. Enter lines for each wheel, "
            "such as 2 3 4.",
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
            comment="wheels to choose from, by tooth count",
            question=Question(
                label="wheels",
                asked="How many teeth does the wheel on the leadscrew have? If there are several wheels, enter all.",
                how=("Put a space between them: 14 15 16.",),
                picture="thread_dial",
                example="such as 14 15 16",
                usual=(8, 80),
                when=(THERE,),
            ),
        ),
        "lines": Key(
            form=ValueForm("wholes", least=1, most=100),
            comment="evenly spaced lines on the dial, for each wheel",
            question=Question(
                label="lines",
                asked="How many evenly spaced lines does the dial have for each of these wheels?",
                how=("In the same order, one number for each wheel.",),
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
        table.problem("teeth", f"There are {len(read['teeth'])} wheels. Enter at most {MOST_GEARS}.")


def _change_gears(teeth: tuple[int, ...] = (), **fields: Any) -> ChangeGears | None:
    return ChangeGears(teeth=teeth, **fields) if teeth else None


CHANGE_GEARS = Part(
    section="change_gears",
    title="Change gears",
    comment="The change gears you have.",
    field="change_gears",
    make=_change_gears,
    check=_check_gears,
    keys={
        "teeth": Key(
            form=ValueForm("wholes", least=8, most=400),
            comment="by tooth count; enter two alike twice",
            question=Question(
                asked="Which change gears do you have, by number of teeth?",
                how=("Each as often as you have it: 20 20 25 30 127. Leave this empty if there are none.",),
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
                    "Mark the chuck and the first gear. Turn the chuck once by hand and count. Leave this empty "
                    "for 1/1.",
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
    """Return the lever positions of the pitches, one text for each pitch.

    >>> _levers("A 1, A 2,B 1")
    ('A 1', 'A 2', 'B 1')
    """
    return tuple(part.strip() for part in text.split(",") if part.strip())


def _check_pitches(table: Table, read: Mapping[str, Any]) -> None:
    if any(pitch.value <= 0 for pitch in read["pitches"] or ()):
        table.problem("pitches", 'One pitch is not above 0. Enter pitches such as "1.5 mm" or "20 tpi".')
    levers, pitches = read["levers"], read["pitches"] or ()
    if levers and pitches and len(_levers(levers)) != len(pitches):
        table.problem(
            "levers",
            f"There are {len(pitches)} pitches, but levers for {len(_levers(levers))}. Enter the "
            "levers of each pitch in the same order, such as A 1, A 2, B 1.",
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
            comment="every pitch it cuts",
            question=Question(
                asked="Which pitches does the threading gearbox give?",
                how=(
                    "From the plate on the headstock, those that you use: {0.5 1 1.5|8 16 20}, or 0.5 mm; 20 tpi. "
                    "Leave this empty if there is none.",
                ),
                picture="gearbox",
                example="such as {0.5 1 1.5|8 16 20}",
                usual=(0.1, 6.5),
            ),
        ),
        "levers": Key(
            form=ValueForm("text", longest=400, of=_levers),
            field="gearbox_levers",
            comment="where the levers are for each of these pitches, in the same order, with commas between",
            question=Question(
                label="levers",
                asked="Where are the levers of the gearbox for each of these pitches?",
                how=("From the same plate, in the same order, with commas between: A 1, A 2, B 1. Or leave it empty.",),
                picture="gearbox",
                example="such as A 1, A 2, B 1",
                beside="pitches",
            ),
        ),
    },
)
