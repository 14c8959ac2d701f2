"""Declares the keys of a lathe's accessories: rotary table, indicator, wires, shims and bars."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from core.lathe.keys.entry import THERE, Key, Option, Part, Question, ValueForm, as_read, exact
from core.lathe.lathe import Indicator, RotaryTable
from core.values.dials import Unit
from core.values.fields import Table
from core.values.plain_text import quoted
from core.values.quantities import Quantity

MOST_CIRCLES = 150
"""The largest number of hole circles on all plates. No user has more, and so few can be tried one by one."""


def _check_table(table: Table, read: Mapping[str, Any]) -> None:
    """Record a problem for each contradiction in the keys of a rotary table.

    A turn of the handle must be a whole number of dial marks, and a dial mark a whole number of vernier steps. A
    vernier needs a dial. All plates may have at most 150 hole circles.
    """
    ratio, dial, vernier = read["ratio"], read["dial_graduation"], read["vernier"]
    circles = sum(len(plate) for plate in read["plates"])
    if circles > MOST_CIRCLES:
        table.problem(
            "plates", f"There are {circles} hole circles. Enter at most {MOST_CIRCLES} for all plates together."
        )
    if ratio is None:
        return
    if vernier is not None and dial is None:
        table.problem("vernier", '"dial_graduation" is missing. Enter "dial_graduation" too, or delete "vernier".')
    if dial is not None and (Fraction(360, ratio) / dial.value).denominator != 1:
        table.problem(
            "dial_graduation",
            f"One turn of the handle, 360/{ratio} deg, is not a whole number of marks of "
            f"{quoted(table.data['dial_graduation'])}. Count the marks in one turn, and divide that angle by "
            "their number.",
        )
    if dial is not None and vernier is not None and (dial.value / vernier.value).denominator != 1:
        table.problem(
            "vernier",
            f"One mark of the dial, {quoted(table.data['dial_graduation'])}, is not a whole number of vernier "
            f"steps of {quoted(table.data['vernier'])}. Enter the smallest reading of the vernier.",
        )


ROTARY_TABLE = Part(
    section="rotary_table",
    title="Rotary table",
    comment="The rotary table or dividing head.",
    field="rotary_table",
    make=RotaryTable,
    check=_check_table,
    keys={
        "ratio": Key(
            form=ValueForm("whole", required=True, least=1, most=1000, of=Fraction),
            comment="handle turns for one turn of the table",
            question=Question(
                label="turns",
                asked="How many turns of the handle make one turn of the table?",
                how=(
                    "The table's manual gives the number, often 40, 60, 72 or 90. Or turn the handle once, and "
                    "divide 360 by the degrees that the table has turned. If you turn the table by hand, without "
                    "a worm, enter 1.",
                ),
                picture="table",
                example="such as 72",
                usual=(1, 180),
                when=(THERE,),
            ),
        ),
        "numbers_rise": Key(
            form=ValueForm("word", words=("clockwise", "anticlockwise")),
            comment="which way the table turns, seen on its face, while its numbers rise",
            question=Question(
                label="numbers rise",
                asked="Turn the handle so that the numbers rise. Which way does the table turn, seen on its face?",
                how=(
                    "Look from the spindle at the face to be cut. Make a mark on its rim, and see which way the "
                    "mark moves. A wrong answer mirrors your patterns.",
                ),
                picture="from_spindle",
                options=(
                    Option(words="Clockwise", value="clockwise", short="clockwise", picture="table_clockwise"),
                    Option(
                        words="Anticlockwise",
                        value="anticlockwise",
                        short="anticlockwise",
                        picture="table_anticlockwise",
                    ),
                    Option(words="Not known yet (clockwise is assumed)", value=None),
                ),
                when=(THERE,),
                late=True,
            ),
        ),
        "dial_graduation": Key(
            form=ValueForm("quantity", "angle", "arcmin", above=0, most=45, of=exact),
            field="dial_graduation_deg",
            comment="table angle for one mark of the handle's dial",
            question=Question(
                label="dial",
                asked="By what angle does the table turn for one mark of the handle's dial?",
                how=(
                    "For a table without a handle, enter one mark of its own scale. Leave this empty if the "
                    "table has only dividing plates.",
                ),
                picture="table",
                example="such as 2 arcmin",
                measuring="table_marks",
                usual=(Fraction(5, 3600), 2),
                when=(THERE,),
            ),
        ),
        "vernier": Key(
            form=ValueForm("quantity", "angle", "arcsec", above=0, most=45, of=exact),
            field="vernier_deg",
            comment="smallest reading of that dial's vernier",
            question=Question(
                label="vernier",
                asked="What is the smallest reading of the vernier on the handle's dial?",
                how=("Leave this empty if the dial has no vernier.",),
                picture="vernier",
                example="such as 10 arcsec",
                usual=(Fraction(1, 3600), Fraction(1, 6)),
                when=(THERE,),
                beside="dial_graduation",
            ),
        ),
        "plates": Key(
            form=ValueForm("plates", least=2, most=1000, longest=40),
            comment="hole circles of each dividing plate",
            question=Question(
                label="plates",
                asked="Which hole circles do your dividing plates have?",
                how=(
                    "Enter the hole circles of each plate, with a / between two plates: 15 16 17 18 / 21 23 27 "
                    "29. Leave "
                    "this empty if you have no plates.",
                ),
                picture="plates",
                example="such as 15 16 17 / 21 23",
                usual=(5, 130),
                when=(THERE,),
            ),
        ),
        "direct": Key(
            form=ValueForm("wholes", least=2, most=1000),
            comment="notches of a direct-index plate on the table's own spindle",
            question=Question(
                label="notches",
                asked="How many notches does the direct-index plate on the table's own spindle have?",
                how=(
                    "If you have several plates, enter the number for each: 24 60. Leave this empty if you have "
                    "no such plate.",
                ),
                picture="plates",
                example="such as 24",
                usual=(3, 180),
                when=(THERE,),
            ),
        ),
        "backlash": Key(
            form=ValueForm("quantity", "angle", "arcmin", least=0, most=45, of=exact),
            field="backlash_deg",
            comment="backlash of the worm, as an angle of the table",
            question=Question(
                label="backlash",
                asked="How much backlash does the worm have, as an angle of the table?",
                how=(
                    "Turn the handle back, and see how far it turns before the table moves. Leave this empty if "
                    "you do not know.",
                ),
                picture="backlash",
                example="such as 3 arcmin",
                measuring="table_backlash",
                usual=(Fraction(1, 3600), 1),
                when=(THERE,),
            ),
        ),
    },
)


def _indicator(graduation: Quantity, **fields: Any) -> Indicator:
    unit: Unit = "in" if graduation.is_inch else "mm"
    return Indicator(graduation_mm=float(graduation.value), unit=unit, **fields)


INDICATOR = Part(
    section="indicator",
    title="Indicator",
    comment="The indicator for reading runout.",
    field="indicator",
    make=_indicator,
    keys={
        "graduation": Key(
            form=ValueForm("quantity", "length", "mm", required=True, above=0, most=1, of=as_read),
            comment="one mark of the indicator",
            question=Question(
                label="marks",
                asked="How much is one mark of the indicator?",
                picture="indicator",
                example="such as {0.01 mm|0.0005 in}",
                usual=(0.0005, 0.1),
            ),
        ),
        "kind": Key(
            form=ValueForm("word", words=("plunger", "lever")),
            comment='"plunger" or "lever"',
            question=Question(
                asked="What kind of indicator do you have?",
                how=(
                    "A lever indicator reads high unless its lever lies along the surface. The program asks for "
                    "the angle of the lever.",
                ),
                picture="indicator",
                options=(
                    Option(words="Dial indicator, with a plunger", value="plunger", short="plunger"),
                    Option(words="Dial test indicator, with a lever", value="lever", short="lever"),
                    Option(words="Not known yet (plunger is assumed)", value=None),
                ),
            ),
        ),
    },
)


def _check_stock(table: Table, read: Mapping[str, Any]) -> None:
    for key in ("wires", "shims", "bars"):
        if any(size.value <= 0 for size in read[key]):
            table.problem(key, 'Each size must be above 0. Enter sizes such as "0.9 mm".')


STOCK = Part(
    section="stock",
    title="Wires, shims, bars",
    comment="The wires, shims and bars that you have.",
    check=_check_stock,
    keys={
        "wires": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="wires_mm",
            comment="diameters of wires for measuring threads",
            question=Question(
                label="wires",
                asked="What are the diameters of your wires for measuring threads?",
                how=(
                    "Put a space between the diameters: {0.9 1.1 1.35|0.024 0.032 0.045}. If you enter units, "
                    "put a semicolon between them: 45 thou; 1.1 mm. Drill shanks can serve as wires.",
                ),
                picture="wires",
                example="such as {0.9 1.35 2.05|0.024 0.032 0.045}",
                usual=(0.15, 6.5),
            ),
        ),
        "shims": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="shims_mm",
            comment="thicknesses of shims and strips",
            question=Question(
                label="shims",
                asked="What are the thicknesses of your shims?",
                how=(
                    "Put a space between the thicknesses: {0.05 0.1 0.2 0.5|0.002 0.005 0.010}. If you enter "
                    "units, put a semicolon between them: 2 thou; 0.1 mm.",
                ),
                picture="shims",
                example="such as {0.05 0.1 0.2|0.002 0.005 0.010}",
                usual=(0.01, 12.6),
            ),
        ),
        "bars": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="bars_mm",
            comment="plates and bars for building up a height; enter a size twice if you have two",
            question=Question(
                label="bars",
                asked="What are the thicknesses of your plates and bars for building up a height?",
                how=(
                    "Put a space between the thicknesses: {6 16 25|0.25 0.5 1}. If you enter units, put a "
                    "semicolon between them: 1/4 in; 6 mm. If you have two bars of one size, enter the size "
                    "twice.",
                ),
                picture="bars",
                example="such as {6 16 25|0.25 0.5 1}",
                usual=(0.5, 300),
            ),
        ),
        "protractor": Key(
            form=ValueForm("quantity", "angle", "deg", above=0, most=5),
            field="protractor_deg",
            comment="one mark of your protractor or grinding rest",
            question=Question(
                label="protractor",
                asked="How much is one mark of the protractor or grinding rest for your cutters?",
                how=(
                    "If you leave this empty, the program assumes 1 degree. Another question asks about the "
                    "compound's scale.",
                ),
                picture="point",
                example="such as 0.5 deg",
                usual=(Fraction(1, 12), 5),
            ),
        ),
    },
)
