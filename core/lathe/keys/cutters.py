"""Declares the keys of a cutter. Lathe files and job files use the same keys for their lists of cutters."""

from collections.abc import Mapping
from typing import Any

from core.lathe.keys.entry import FLAT, ROUND, Key, Part, Question, ValueForm
from core.lathe.lathe import Cutter
from core.values.fields import Table

MOST_CUTTERS = 40
WIDEST_DEG = 175
FLAT_AND_ROUND = 'Both "tip_flat" and "tip_radius" are given. Delete one of them.'
"""The refusal of a point that is flat and round."""


def _check_cutter(table: Table, read: Mapping[str, Any]) -> None:
    """Record a problem if the point of a cutter is given as both flat and round."""
    if table.has("tip_flat") and table.has("tip_radius"):
        table.problem("tip_radius", FLAT_AND_ROUND)


CUTTER = Part(
    section="cutter",
    title="Cutters",
    comment="Cutters for patterns, each ground to a point.",
    field="cutters",
    make=Cutter,
    check=_check_cutter,
    keys={
        "name": Key(
            form=ValueForm("text", required=True, longest=80),
            comment="name of the cutter in jobs",
        ),
        "tip_angle": Key(
            form=ValueForm("quantity", "angle", "deg", required=True, above=0, most=WIDEST_DEG),
            field="tip_angle_deg",
            comment="included angle of the point",
            question=Question(
                label="point",
                asked="What is the included angle of the cutter's point, from flank to flank?",
                how=(
                    "Measure the angle with a protractor, or enter the angle to which the cutter was ground, "
                    "such as 60, 90 or 120 deg.",
                ),
                picture="point",
                example="such as 90 deg",
                usual=(15, 160),
            ),
        ),
        "tip_flat": Key(
            form=ValueForm("quantity", "length", "mm", least=0, most=50),
            field="tip_flat_mm",
            comment="width of a flat at the point",
            question=Question(
                label="flat",
                asked="How wide is the flat at the cutter's point?",
                picture="point",
                example="such as {0.2 mm|0.008 in}",
                usual=(0.02, 6),
                when=(FLAT,),
            ),
        ),
        "tip_radius": Key(
            form=ValueForm("quantity", "length", "mm", least=0, most=50),
            field="tip_radius_mm",
            comment="radius of a round nose",
            question=Question(
                label="nose radius",
                asked="What is the radius of the cutter's round nose?",
                picture="point",
                example="such as {0.4 mm|1/64 in}",
                usual=(0.02, 20),
                when=(ROUND,),
            ),
        ),
        "reach": Key(
            form=ValueForm("quantity", "length", "mm", above=0, most=200),
            field="reach_mm",
            comment="depth at which the shank begins to rub",
            question=Question(
                label="reach",
                asked="How deep can the cutter go before its shank begins to rub?",
                how=("If you leave this empty, the program does not limit the depth.",),
                picture="point",
                example="such as {4 mm|0.15 in}",
                usual=(0.2, 60),
            ),
        ),
    },
)


def cutter_table(cutter: Cutter) -> dict[str, str]:
    """Return a cutter as the keys and values of a job file. Sizes that are 0 or unknown are omitted.

    >>> cutter_table(Cutter("fine", 89.99, tip_flat_mm=0.2))
    {'name': 'fine', 'tip_angle': '89.99 deg', 'tip_flat': '0.2 mm'}
    """
    sizes = {"tip_flat": cutter.tip_flat_mm, "tip_radius": cutter.tip_radius_mm, "reach": cutter.reach_mm}
    written = {key: f"{size_mm:.10g} mm" for key, size_mm in sizes.items() if size_mm}
    return {"name": cutter.name, "tip_angle": f"{cutter.tip_angle_deg:.10g} deg", **written}
