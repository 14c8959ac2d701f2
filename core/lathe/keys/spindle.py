"""Declares the keys of the spindle and of the chucks."""

from collections.abc import Mapping
from typing import Any

from core.lathe.keys.entry import STEPLESS, STEPS, Key, Option, Part, Question, ValueForm
from core.lathe.lathe import Chuck, Spindle
from core.values.fields import Table

_SPEED_RPM = (10, 6000)


def _check(table: Table, read: Mapping[str, Any]) -> None:
    """Record a problem for each contradiction in the keys of a spindle.

    Every speed must be above 0. A range must begin with its slower speed. A spindle has either speeds or a range.
    """
    speeds, limits = read["speeds"], read["range"]
    if speeds and limits:
        table.problem(
            "range",
            'Both "speeds" and "range" are given. If the speed has steps, delete "range". If not, delete "speeds".',
        )
    if any(speed.value <= 0 for speed in (*speeds, *limits)):
        table.problem("speeds" if speeds else "range", 'Each speed must be above 0 rpm. Enter speeds such as "70 rpm".')
    if limits and limits[0].value >= limits[1].value:
        table.problem(
            "range",
            "The first speed is not the slower of the two. Enter the slowest speed, then the fastest, such as 50 1200.",
        )


SPINDLE = Part(
    section="spindle",
    title="Spindle and speeds",
    field="spindle",
    make=Spindle,
    check=_check,
    keys={
        "speeds": Key(
            form=ValueForm("quantities", "rotation", "rpm", longest=100),
            field="speeds_rpm",
            comment="all speeds; if the speed has no steps, use range instead",
            question=Question(
                asked="Which speeds does the spindle have?",
                how=("Enter all speeds, with a space between them: 70 115 190.",),
                picture="speeds",
                example="such as 70 115 190",
                usual=_SPEED_RPM,
                when=(STEPS,),
            ),
        ),
        "range": Key(
            form=ValueForm("range", "rotation", "rpm"),
            field="range_rpm",
            comment="slowest and fastest speed; if the speed has steps, use speeds instead",
            question=Question(
                label="slowest, fastest",
                asked="What are the slowest and the fastest speed?",
                how=("Enter two numbers, with a space between them: 50 1200.",),
                picture="speeds",
                example="such as 50 1200",
                usual=_SPEED_RPM,
                when=(STEPLESS,),
            ),
        ),
        "reaction_time": Key(
            form=ValueForm("quantity", "time", "s", above=0, most=60),
            field="reaction_time_s",
            comment="time that you want for stopping before a shoulder",
            question=Question(
                label="to react",
                asked="How much time do you want for stopping the carriage before a shoulder?",
                how=(
                    "The threading speed depends on this time. Seeing, deciding and throwing the lever take half "
                    "a second to one second (common practice). Leave this empty for 1 s.",
                ),
                picture="shoulder",
                example="such as 1.0 s",
                usual=(0.2, 5),
            ),
        ),
        "coast_turns": Key(
            form=ValueForm("number", least=0, most=1000),
            field="coast_turns",
            comment="turns that the spindle makes after you switch it off",
            question=Question(
                label="coasts (turns)",
                asked="How many turns does the spindle coast after you switch it off at threading speed?",
                how=(
                    "Mark the chuck, switch the spindle off, and count its turns. Include parts of a turn, such "
                    "as 1.5. "
                    "Leave this empty if you do not know.",
                ),
                picture="shoulder",
                example="such as 1.5",
                usual=(0.05, 20),
            ),
        ),
        "nose": Key(
            form=ValueForm("word", words=("screwed", "flange", "cam")),
            comment='"screwed", "flange" or "cam"',
            question=Question(
                label="nose",
                asked="How is a chuck held on the spindle?",
                how=("A screwed-on chuck can unscrew in reverse, or when the spindle is braked.",),
                picture="nose",
                options=(
                    Option(words="Screwed on", value="screwed", short="screwed"),
                    Option(words="On a flange, with screws or nuts", value="flange", short="flange"),
                    Option(words="By cams", value="cam", short="cams"),
                    Option(words="Not known yet", value=None),
                ),
            ),
        ),
        "most_speed": Key(
            form=ValueForm("quantity", "rotation", "rpm", above=0),
            field="most_rpm",
            comment="highest speed that the chuck's maker allows",
            question=Question(
                label="highest chuck speed",
                asked="What is the highest speed that the chuck's maker allows?",
                how=("The speed is marked on the chuck or given in its manual. Leave this empty if you do not know.",),
                picture="nose",
                example="such as 1200 rpm",
                usual=(200, 6000),
            ),
        ),
    },
)

CHUCK = Part(
    section="chuck",
    title="Chucks",
    field="chuck",
    make=Chuck,
    keys={
        "jaw_lead": Key(
            form=ValueForm("quantity", "length", "mm", above=0),
            field="jaw_lead_mm",
            comment="four-jaw: jaw travel for one turn of its screw",
            question=Question(
                label="jaw",
                asked="How far does one turn of the screw move a jaw of your four-jaw chuck?",
                how=(
                    "With this answer, the program shows jaw movements in turns of the key. Leave this empty if "
                    "you do not know.",
                ),
                picture="jaws",
                example="such as {4 mm|0.125 in}",
                measuring="jaw",
                usual=(1, 10.2),
            ),
        ),
        "jaw_face": Key(
            form=ValueForm("word", words=("narrow", "wide")),
            comment='three-jaw: "narrow" tips or "wide" flat faces',
            question=Question(
                label="three-jaw",
                asked="How does a jaw of your three-jaw chuck touch the work?",
                how=("The thickness of a shim under a jaw depends on this answer.",),
                picture="jaws",
                options=(
                    Option(words="With a narrow tip", value="narrow", short="narrow tips"),
                    Option(words="With a wide flat face", value="wide", short="wide faces"),
                    Option(words="Not known yet", value=None),
                ),
            ),
        ),
    },
)
