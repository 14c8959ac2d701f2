"""The keys of a cutter: those of the lathe file are owned, those of a job are the job's own."""

from collections.abc import Mapping
from typing import Any

from core.lathe.keys.entry import Key, Part, ValueForm
from core.lathe.lathe import Cutter
from core.values.fields import Table

MOST_CUTTERS = 40
WIDEST_DEG = 175


def _check_cutter(table: Table, read: Mapping[str, Any]) -> None:
    """Check that the point is flat or round, not both, and that a round nose and a flat have one size."""
    if table.has("tip_flat") and table.has("tip_radius"):
        table.problem("tip_radius", "Both tip_flat and tip_radius are entered. Keep one of the two.")


CUTTER = Part(
    section="cutter",
    title="Cutters",
    comment="A cutter for patterns, ground to a point.",
    field="cutters",
    make=Cutter,
    check=_check_cutter,
    keys={
        "name": Key(
            form=ValueForm("text", required=True, longest=80),
            comment="by which a job names it",
        ),
        "tip_angle": Key(
            form=ValueForm("quantity", "angle", "deg", required=True, above=0, most=WIDEST_DEG),
            field="tip_angle_deg",
            comment="included angle of the point",
        ),
        "tip_flat": Key(
            form=ValueForm("quantity", "length", "mm", least=0, most=50),
            field="tip_flat_mm",
            comment="width of a flat at the point",
        ),
        "tip_radius": Key(
            form=ValueForm("quantity", "length", "mm", least=0, most=50),
            field="tip_radius_mm",
            comment="radius of a round nose",
        ),
        "reach": Key(
            form=ValueForm("quantity", "length", "mm", above=0, most=200),
            field="reach_mm",
            comment="depth at which the shank begins to rub",
        ),
    },
)
