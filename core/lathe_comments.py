"""What each line of a lathe file means, as it is written beside it."""

HEADING = (
    "# A lathe: its dials and parts. Change what you like: set-up then leaves this file alone",
    "# and writes another beside it.",
    "# Every length, angle and speed has its unit. What you do not know is left out.",
    "",
)

SECTION_COMMENTS = {
    "dial": "The dials, each with its numbers as they are engraved.",
    "dial.cutter_head": "The head that turns a cutter in the spindle; its dial shows changes, not a true zero.",
    "compound": "The scale that shows how far the compound is swivelled.",
    "chasing_dial": "The thread dial on the saddle.",
    "change_gears": "The change gears in the drawer.",
    "gearbox": "What the levers of the gearbox give.",
    "rotary_table": "The rotary table or dividing head.",
    "indicator": "The indicator that runout is read with.",
    "stock": "What lies in the drawer.",
}

DIAL_COMMENTS = {
    "per_turn": "how far the numbers run in one turn; left out for a digital readout",
    "graduation": "between two marks, in the dial's own numbers",
    "reads": '"travel": the numbers are slide travel; "diameter": twice the travel',
    "lead": "true slide travel in one turn, where the engraving is not true",
    "backlash": "play, in the dial's own numbers",
    "clockwise": 'which way the slide goes when the handle is turned clockwise: "in" or "out"',
    "numbers": 'going in, the numbers "rise" or "fall"',
    "can_zero": "false for a collar that cannot be set to zero",
    "most_speed": "the most its maker allows",
}

COMMENTS: dict[str, dict[str, str]] = {
    "": {
        "format": "of this file",
        "name": "as it is shown on every card",
        "centre_height": "from the bed to the axis of the spindle",
    },
    "compound": {
        "scale_zero": 'where the slide points when its scale reads 0, to the spindle: "parallel" or "perpendicular"',
        "scale_graduation": "between two marks",
        "scale_end": "the largest angle engraved",
    },
    "leadscrew": {"pitch": 'such as "3 mm" or "8 tpi"'},
    "chasing_dial": {
        "teeth": "wheels to choose from, by tooth count",
        "lines": "evenly spaced lines on the dial that goes with each wheel",
    },
    "change_gears": {
        "teeth": "by tooth count, each as often as it is there",
        "fixed_ratio": "turns of the first driver for one turn of the spindle",
    },
    "gearbox": {"pitches": "every pitch it cuts"},
    "spindle": {
        "speeds": "all of them; or, without steps, range in its place",
        "range": "slowest and fastest; or, with steps, speeds in its place",
        "reaction_time": "how long you want for stopping short of a shoulder",
        "run_down": "turns the spindle makes after it is switched off",
        "nose": '"screwed", "flange" or "cam"',
        "most_speed": "the chuck maker's limit",
    },
    "rotary_table": {
        "ratio": "handle turns for one turn of the table",
        "dial_graduation": "between two marks of the handle's dial, as table angle",
        "vernier": "what its vernier reads to",
        "plates": "hole circles, plate by plate",
        "direct": "notches of a plate on the spindle itself",
        "backlash": "play of the worm, as table angle",
    },
    "indicator": {"graduation": "between two marks", "kind": '"plunger" or "lever"'},
    "chuck": {
        "jaw_lead": "four-jaw: jaw travel for one turn of its screw",
        "jaw_face": 'three-jaw: "narrow" tips or "wide" flat faces',
    },
    "stock": {"wires": "wires for measuring over threads", "packing": "strips and shims"},
}
