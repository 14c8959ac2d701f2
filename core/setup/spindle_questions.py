"""The questions to spindle and chucks."""

from collections.abc import Mapping
from typing import Any

from core.setup import findings
from core.setup.question import KIND, Chapter, Option, Question

STEPS, STEPLESS = "steps", "stepless"


def _has_steps(table: Mapping[str, Any]) -> bool:
    return bool(table.get(KIND, STEPS if "speeds" in table else "") == STEPS)


def _is_stepless(table: Mapping[str, Any]) -> bool:
    return bool(table.get(KIND, STEPLESS if "range" in table else "") == STEPLESS)


SPINDLE = Chapter(
    section=("spindle",),
    title="Spindle and speeds",
    questions=(
        Question(
            key=KIND,
            label="",
            asked="How is the speed of the spindle set?",
            picture="speeds",
            options=(
                Option(words="In steps: belts, gears, a switch", value=STEPS, removes=("range",)),
                Option(words="Without steps: a knob", value=STEPLESS, removes=("speeds",)),
                Option(words="Not known yet", value=None),
            ),
            implied=lambda table: STEPS if "speeds" in table else STEPLESS if "range" in table else None,
        ),
        Question(
            key="speeds",
            label="",
            asked="Which speeds are there?",
            how=("All of them, with a blank between: 70 115 190.",),
            picture="speeds",
            form="quantities",
            unit="rpm",
            example="such as 70 115 190",
            applies=_has_steps,
        ),
        Question(
            key="range",
            label="slowest, fastest",
            asked="Which are the slowest and the fastest speed?",
            how=("Two numbers with a blank between: 50 1200.",),
            picture="speeds",
            form="range",
            unit="rpm",
            example="such as 50 1200",
            applies=_is_stepless,
        ),
        Question(
            key="reaction_time",
            label="to react",
            asked="How long do you want for stopping short of a shoulder?",
            how=(
                "The speed for threading follows from it. To see, decide, and throw the lever takes half a second "
                "to one second (common practice). Empty: 1 s.",
            ),
            picture="shoulder",
            unit="s",
            example="such as 1.0 s",
        ),
        Question(
            key="run_down",
            label="runs on (turns)",
            asked="How many turns does the spindle still make after it is switched off at threading speed?",
            how=("Mark the chuck, switch off, count. Parts of a turn too: 1.5. Empty: not known.",),
            picture="shoulder",
            form="number",
            example="such as 1.5",
        ),
        Question(
            key="nose",
            label="nose",
            asked="How is a chuck held on the spindle?",
            how=("A chuck that is screwed on can come off in reverse, or when the spindle is braked.",),
            picture="nose",
            options=(
                Option(words="Screwed on", value="screwed", short="screwed"),
                Option(words="On a flange, with screws or nuts", value="flange", short="flange"),
                Option(words="By cams", value="cam", short="cams"),
                Option(words="Not known yet", value=None),
            ),
        ),
        Question(
            key="most_speed",
            label="chuck at most",
            asked="What is the most speed that the chuck's maker allows?",
            how=("It stands on the chuck or in its papers. Empty: not known.",),
            picture="nose",
            unit="rpm",
            example="such as 1200 rpm",
        ),
    ),
)

CHUCK = Chapter(
    section=("chuck",),
    title="Chucks",
    questions=(
        Question(
            key="jaw_lead",
            label="jaw",
            asked="Four-jaw chuck: how far does one turn of its screw move a jaw?",
            how=("The move of a jaw is then told in turns of its key. Empty: not known.",),
            picture="jaws",
            unit="mm",
            example="such as {4 mm|0.125 in}",
            finding=findings.JAW,
        ),
        Question(
            key="jaw_face",
            label="three-jaw",
            asked="Three-jaw chuck: how does the face of a jaw touch the work?",
            how=("How thick a packing has to be depends on it.",),
            picture="jaws",
            options=(
                Option(words="With a narrow tip", value="narrow", short="narrow tips"),
                Option(words="With a wide flat face", value="wide", short="wide faces"),
                Option(words="Not known yet", value=None),
            ),
        ),
    ),
)
