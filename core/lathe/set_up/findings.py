"""How each thing is found out at the machine: the steps, and what is typed of them."""

from collections.abc import Mapping

from core.lathe.set_up import measuring
from core.lathe.set_up.measuring import Finding, Measured

_TURNS = Measured(key="turns", label="Turns taken", unit="", start="10")

FINDINGS: Mapping[str, Finding] = {
    "by_cut": Finding(
        title="Travel or diameter: by a cut",
        steps=(
            "Take a light cut along a piece in the chuck and measure its diameter, spindle stopped.",
            "Go in by {0.5 mm|20 thou} on this dial, take that cut, and measure again.",
        ),
        measured=(
            Measured(key="before", label="Diameter before"),
            Measured(key="turned", label="Taken off by the dial", unit="dial"),
            Measured(key="after", label="Diameter after"),
        ),
        work_out=measuring.travel_or_diameter,
    ),
    "by_circle": Finding(
        title="Travel or diameter: by two circles",
        steps=(
            "Cut a shallow circle on scrap and measure it across, spindle stopped.",
            "Move the head by {0.5 mm|20 thou} on its dial, cut another circle and measure that.",
        ),
        measured=(
            Measured(key="before", label="First circle across"),
            Measured(key="turned", label="Moved by the dial", unit="dial"),
            Measured(key="after", label="Second circle across"),
        ),
        work_out=measuring.travel_or_diameter,
    ),
    "by_slide": Finding(
        title="Travel or diameter: by an indicator",
        steps=(
            "Spindle stopped. Set an indicator so that it is pushed along the way the slide moves. Take the play up "
            "inwards and note both.",
            "Go on by {0.5 mm|20 thou} on this dial and read the indicator again.",
        ),
        measured=(
            Measured(key="turned", label="Turned by the dial", unit="dial"),
            Measured(key="moved", label="The slide moved"),
        ),
        work_out=measuring.slide_or_double,
    ),
    "lead": Finding(
        title="Is the engraving true?",
        steps=(
            "Take the play up inwards and note where the slide stands: with a long indicator, or with a caliper "
            "against a fixed face. A rule will do where a turn is {3 mm|1/8 in} or more.",
            "Go on inwards by whole turns, ten if there is room, and measure how far the slide has moved.",
        ),
        measured=(_TURNS, Measured(key="moved", label="The slide moved")),
        work_out=measuring.true_lead,
    ),
    "marks": Finding(
        title="What is a mark?",
        steps=("Count the spaces between marks, once round the collar.",),
        measured=(Measured(key="marks", label="Spaces in a turn", unit=""),),
        work_out=measuring.marks_in_a_turn,
    ),
    "table_marks": Finding(
        title="What is a mark of the table's dial?",
        steps=("Count the spaces between marks, once round the dial of the handle.",),
        measured=(Measured(key="marks", label="Spaces in a turn", unit=""),),
        work_out=measuring.marks_of_table,
    ),
    "play": Finding(
        title="How much play?",
        steps=(
            "Spindle stopped. Set an indicator against the slide. Go inwards until it shows 0 and note the dial.",
            "Go on inwards half a turn, come back outwards until the indicator shows 0 again, and note the dial.",
        ),
        measured=(
            Measured(key="inwards", label="Dial, coming inwards", unit="dial"),
            Measured(key="outwards", label="Dial, coming outwards", unit="dial"),
        ),
        work_out=measuring.play_of_dial,
    ),
    "table_play": Finding(
        title="How much play has the worm?",
        steps=(
            "Set an indicator against something bolted to the table, far out. Turn the handle one way until it shows 0 "
            "and note the handle's dial.",
            "Go on half a turn, come back until the indicator shows 0 again, and note the dial.",
        ),
        measured=(
            Measured(key="inwards", label="Dial, first way", unit="arcmin"),
            Measured(key="outwards", label="Dial, coming back", unit="arcmin"),
        ),
        work_out=measuring.play_of_table,
    ),
    "leadscrew": Finding(
        title="Pitch of the leadscrew",
        steps=(
            "Isolate the drive. Close the half nuts and turn the leadscrew by hand until the play is gone; note where "
            "the carriage stands.",
            "Turn the leadscrew ten turns more and measure how far the carriage has moved. Or lay a rule on the screw "
            "and measure over ten crests: ten pitches.",
        ),
        measured=(_TURNS, Measured(key="moved", label="The carriage moved")),
        work_out=measuring.pitch_of_screw,
    ),
    "jaw": Finding(
        title="Travel of a four-jaw chuck's jaw",
        steps=("Spindle stopped. Measure from a jaw to the rim, turn its screw ten turns, measure again.",),
        measured=(_TURNS, Measured(key="moved", label="The jaw moved")),
        work_out=measuring.pitch_of_screw,
    ),
}
"""By name, as the table of lathe keys refers to them."""
