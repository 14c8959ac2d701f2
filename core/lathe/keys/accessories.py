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
"""Most hole circles on all plates together. No user has more, and this number can still be tried one by one."""


def _check_table(table: Table, read: Mapping[str, Any]) -> None:
    """Report marks that do not divide a turn, vernier steps that do not divide a mark, or too many hole circles."""
    ratio, dial, vernier = read["ratio"], read["dial_graduation"], read["vernier"]
    circles = sum(len(plate) for plate in read["plates"])
    if circles > MOST_CIRCLES:
        table.problem(
            "plates", f"There are {circles} hole circles. Enter at most {MOST_CIRCLES} on all plates together."
        )
    if ratio is None:
        return
    if vernier is not None and dial is None:
        table.problem(
            "vernier", "A vernier needs the marks of its dial beside it. Enter dial_graduation too, or delete vernier."
        )
    if dial is not None and (Fraction(360, ratio) / dial.value).denominator != 1:
        table.problem(
            "dial_graduation",
            f"{quoted(table.data['dial_graduation'])} does not go into one turn of the handle, 360/{ratio} deg, a "
            "whole number of times. Count the marks in a turn: that angle divided by them is one mark.",
        )
    if dial is not None and vernier is not None and (dial.value / vernier.value).denominator != 1:
        table.problem(
            "vernier",
            f"{quoted(table.data['vernier'])} does not go into one mark of the dial, "
            f"{quoted(table.data['dial_graduation'])}, a whole number of times. Enter the vernier's smallest reading.",
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
                    "The table's papers give the number: 40, 60, 72 or 90. Or see how many degrees one turn moves the "
                    "table, and divide 360 by them. For a table without a worm, turned by hand against its scale or "
                    "notches, enter 1.",
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
                    "Look from the spindle at the face that is cut. Make a mark on its rim, and see where the mark "
                    "goes. Patterns come out mirrored if this is wrong.",
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
            comment="between two marks of the handle's dial, as table angle",
            question=Question(
                label="dial",
                asked="How much is one mark of the handle's dial, as angle of the table?",
                how=(
                    "For a table without a handle: one mark of its own scale. Leave this empty if there are "
                    "plates only.",
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
            comment="what its vernier reads to",
            question=Question(
                label="vernier",
                asked="What is the smallest reading of the vernier on that dial?",
                how=("Leave this empty if there is none.",),
                picture="vernier",
                example="such as 10 arcsec",
                usual=(Fraction(1, 3600), Fraction(1, 6)),
                when=(THERE,),
                beside="dial_graduation",
            ),
        ),
        "plates": Key(
            form=ValueForm("plates", least=2, most=1000, longest=40),
            comment="hole circles, plate by plate",
            question=Question(
                label="plates",
                asked="Which hole circles are on the dividing plates?",
                how=(
                    "Plate by plate, with a / between them: 15 16 17 18 / 21 23 27 29. Leave this empty if there "
                    "are none.",
                ),
                picture="plates",
                example="such as 15 16 17 / 21 23",
                usual=(5, 130),
                when=(THERE,),
            ),
        ),
        "direct": Key(
            form=ValueForm("wholes", least=2, most=1000),
            comment="notches of a direct-index plate on the spindle itself",
            question=Question(
                label="notches",
                asked="Does the spindle itself have a direct-index plate? How many notches?",
                how=("If there are several, enter all: 24 60. Leave this empty if there is none.",),
                picture="plates",
                example="such as 24",
                usual=(3, 180),
                when=(THERE,),
            ),
        ),
        "backlash": Key(
            form=ValueForm("quantity", "angle", "arcmin", least=0, most=45, of=exact),
            field="backlash_deg",
            comment="backlash of the worm, as table angle",
            question=Question(
                label="backlash",
                asked="How much backlash does the worm have, as angle of the table?",
                how=("How far the handle turns back before the table moves. Leave this empty if you do not know.",),
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
    comment="The indicator that runout is read with.",
    field="indicator",
    make=_indicator,
    keys={
        "graduation": Key(
            form=ValueForm("quantity", "length", "mm", required=True, above=0, most=1, of=as_read),
            comment="between two marks",
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
                asked="Which kind of indicator is it?",
                how=("A lever shows too much unless it lies along the surface. The program asks for its angle.",),
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
            table.problem(key, 'One size is not above 0. Enter sizes such as "0.9 mm".')


STOCK = Part(
    section="stock",
    title="Wires, shims, bars",
    comment="Wires, shims and bars you have.",
    check=_check_stock,
    keys={
        "wires": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="wires_mm",
            comment="wires for measuring over threads",
            question=Question(
                label="wires",
                asked="Which wires for measuring threads do you have, by diameter?",
                how=(
                    "Put a space between them: {0.9 1.1 1.35|0.024 0.032 0.045}. With units, a semicolon: 45 thou; "
                    "1.1 mm. Drill shanks will do.",
                ),
                picture="wires",
                example="such as {0.9 1.35 2.05|0.024 0.032 0.045}",
                usual=(0.15, 6.5),
            ),
        ),
        "shims": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="shims_mm",
            comment="strips and shims, by thickness",
            question=Question(
                label="shims",
                asked="Which shims do you have, by thickness?",
                how=(
                    "Put a space between them: {0.05 0.1 0.2 0.5|0.002 0.005 0.010}. With units, a semicolon: 2 thou; "
                    "0.1 mm.",
                ),
                picture="shims",
                example="such as {0.05 0.1 0.2|0.002 0.005 0.010}",
                usual=(0.01, 12.6),
            ),
        ),
        "bars": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="bars_mm",
            comment="plates and bars for building up a height; a size twice: two of them",
            question=Question(
                label="bars",
                asked="Which plates and bars do you have for building up a height, by thickness?",
                how=(
                    "Put a space between them: {6 16 25|0.25 0.5 1}. With units, a semicolon: 1/4 in; 6 mm. If you "
                    "have two of a size, enter it twice.",
                ),
                picture="bars",
                example="such as {6 16 25|0.25 0.5 1}",
                usual=(0.5, 300),
            ),
        ),
        "protractor": Key(
            form=ValueForm("quantity", "angle", "deg", above=0, most=5),
            field="protractor_deg",
            comment="between two marks of your protractor or grinding rest",
            question=Question(
                label="protractor",
                asked="How much is one mark of the protractor or rest with which you grind cutters?",
                how=("Leave this empty for 1 degree. The compound has a scale of its own.",),
                picture="point",
                example="such as 0.5 deg",
                usual=(Fraction(1, 12), 5),
            ),
        ),
    },
)
