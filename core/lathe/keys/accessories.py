"""The keys of what stands beside the lathe: rotary table, indicator, drawer."""

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
"""Hole circles on all plates of a table: more than anyone owns, and few enough to be tried one by one."""


def _check_table(table: Table, read: Mapping[str, Any]) -> None:
    """Check that a handle turn holds whole marks, a mark whole steps of the vernier, and the plates not too many."""
    ratio, dial, vernier = read["ratio"], read["dial_graduation"], read["vernier"]
    circles = sum(len(plate) for plate in read["plates"])
    if circles > MOST_CIRCLES:
        table.problem("plates", f"found {circles} circles; all plates together have at most {MOST_CIRCLES}")
    if ratio is None:
        return
    if vernier is not None and dial is None:
        table.problem("vernier", "is given without dial_graduation; accepted is a vernier on a dial")
    if dial is not None and (Fraction(360, ratio) / dial.value).denominator != 1:
        table.problem(
            "dial_graduation",
            f"found {quoted(table.data['dial_graduation'])}, which does not go a whole number of times into "
            f"one handle turn (360/{ratio} deg); accepted is a graduation that does",
        )
    if dial is not None and vernier is not None and (dial.value / vernier.value).denominator != 1:
        table.problem(
            "vernier",
            f"found {quoted(table.data['vernier'])}, which does not go a whole number of times into "
            f"dial_graduation {quoted(table.data['dial_graduation'])}; accepted is a vernier that does",
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
                    "It stands in its papers: 40, 60, 72, 90. Or see how many degrees one turn moves: 360 by that. A "
                    "table without a worm, turned by hand against its own scale or notches: 1.",
                ),
                picture="table",
                example="such as 72",
                usual=(1, 180),
                when=(THERE,),
            ),
        ),
        "dial_graduation": Key(
            form=ValueForm("quantity", "angle", "arcmin", above=0, most=45, of=exact),
            field="dial_graduation_deg",
            comment="between two marks of the handle's dial, as table angle",
            question=Question(
                label="dial",
                asked="What is it from one mark of the handle's dial to the next, as angle of the table?",
                how=(
                    "Where the table is turned without a handle: on its own scale. Empty where there are plates only.",
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
                asked="To how much does a vernier on that dial read?",
                how=("Empty where there is none.",),
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
                asked="Which hole circles are on the plates?",
                how=("Plate by plate, with a / between them: 15 16 17 18 / 21 23 27 29. Empty where there are none.",),
                picture="plates",
                example="such as 15 16 17 / 21 23",
                usual=(5, 130),
                when=(THERE,),
            ),
        ),
        "direct": Key(
            form=ValueForm("wholes", least=2, most=1000),
            comment="notches of a plate on the spindle itself",
            question=Question(
                label="notches",
                asked="Is there a plate with notches on the spindle itself? With how many?",
                how=("All of them where there are several: 24 60. Empty where there is none.",),
                picture="plates",
                example="such as 24",
                usual=(3, 180),
                when=(THERE,),
            ),
        ),
        "backlash": Key(
            form=ValueForm("quantity", "angle", "arcmin", least=0, most=45, of=exact),
            field="backlash_deg",
            comment="play of the worm, as table angle",
            question=Question(
                label="play",
                asked="How much play has the worm, as angle of the table?",
                how=("How far the handle turns back before the table follows. Empty: not known.",),
                picture="play",
                example="such as 3 arcmin",
                measuring="table_play",
                usual=(Fraction(1, 3600), 1),
                when=(THERE,),
            ),
        ),
    },
)


def _indicator(graduation: Quantity, **told: Any) -> Indicator:
    unit: Unit = "in" if graduation.is_inch else "mm"
    return Indicator(graduation_mm=float(graduation.value), unit=unit, **told)


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
                asked="What is it from one mark of the indicator to the next?",
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
                how=("A lever shows too much where it does not lie along the surface: the program asks its angle.",),
                picture="indicator",
                options=(
                    Option(words="With a plunger that is pushed in", value="plunger", short="plunger"),
                    Option(words="With a lever that swings", value="lever", short="lever"),
                    Option(words="Not known yet (taken as a plunger)", value=None),
                ),
            ),
        ),
    },
)


def _check_stock(table: Table, read: Mapping[str, Any]) -> None:
    for key, sizes in read.items():
        if any(size.value <= 0 for size in sizes):
            table.problem(key, "holds a size that is not above 0 mm")


STOCK = Part(
    section="stock",
    title="Drawer",
    comment="What lies in the drawer.",
    check=_check_stock,
    keys={
        "wires": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="wires_mm",
            comment="wires for measuring over threads",
            question=Question(
                label="wires",
                asked="Which wires for measuring threads are there, by their diameter?",
                how=(
                    "With a blank between them: {0.9 1.1 1.35|0.024 0.032 0.045}, or 45 thou; 1/16 in; 1.1 mm. Shanks "
                    "of drills will do.",
                ),
                picture="wires",
                example="such as {0.9 1.35 2.05|0.024 0.032 0.045}",
                usual=(0.15, 6.5),
            ),
        ),
        "shims": Key(
            form=ValueForm("quantities", "length", "mm"),
            field="shims_mm",
            comment="strips and shims",
            question=Question(
                label="shims",
                asked="Which shims are there, by their thickness?",
                how=("With a blank between them: {0.05 0.1 0.2 0.5|0.002 0.005 0.010}, or 2 thou; 5 thou; 0.1 mm.",),
                picture="shims",
                example="such as {0.05 0.1 0.2|0.002 0.005 0.010}",
                usual=(0.01, 12.6),
            ),
        ),
    },
)
