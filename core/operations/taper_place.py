"""Where a taper starts along the work, counted from a face, and where the compound's feed ends.

The tool is touched off on the face with the compound at its zero. The carriage is then moved to the start of the taper
and locked. The compound's dial shows the end of the taper. Lengths are in mm.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from math import cos, radians
from typing import NamedTuple

from core.cutting import backlash_words, touch_off_step
from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.lengths import (
    DIAL,
    END_FACE,
    RULE,
    SCRIBE,
    CutLength,
    LengthsBy,
    face_touch_off,
    on_a_rule_mm,
    rule_text,
)
from core.plan import Step
from core.safety import STOP_FIRST, TOUCH_OFF
from core.values.dials import Setting, ZeroedDials
from core.values.fields import Table


class TaperPlace(NamedTuple):
    """The position of a taper's small end, counted from a face towards the chuck."""

    starts_mm: float
    by: LengthsBy
    """How the turner finds the position: by carriage dial or rule."""
    face: str

    @property
    def length(self) -> CutLength:
        """The length from the face to the small end."""
        return CutLength(0.0, self.starts_mm, self.by, self.face)


def read_taper_place(table: Table, lathe: Lathe) -> TaperPlace | None:
    """Return where a taper starts; None if the table does not state the start, or if an entry is wrong."""
    before = len(table.problems)
    starts, face = table.length("starts_at", least=0), table.text("zero_face", longest=40)
    by = table.word("lengths_by", (DIAL, RULE)) or (DIAL if CARRIAGE in lathe.dials else RULE)
    if by == DIAL and CARRIAGE not in lathe.dials:
        table.problem("lengths_by", f'This lathe ({lathe.name}) has no carriage dial. Enter "rule".')
    if starts is None and len(table.problems) == before:
        entered = next((key for key in ("zero_face", "lengths_by") if table.has(key)), None)
        if entered:
            table.problem(
                "starts_at",
                f'"{entered}" is entered without "starts_at". Enter how far the small end is from the face, such as '
                "12 mm.",
            )
    if "compound" not in lathe.dials and starts is not None:
        table.problem("starts_at", f'This lathe ({lathe.name}) has no dial on its compound. Delete "starts_at".')
    if starts is None or len(table.problems) > before:
        return None
    return TaperPlace(starts, RULE if by == RULE else DIAL, face or END_FACE)


def zero_steps(place: TaperPlace, lathe: Lathe) -> list[Step]:
    """Return the steps that set the compound's dial to 0 and, if lengths are set by carriage dial, touch off on the
    face.
    """
    compound = lathe.dial("compound")
    text = (
        "Compound: wind it back to where its trial began, then two turns more. Take up the "
        f"backlash{backlash_words(compound)} towards the chuck"
    )
    zero = touch_off_step(compound, text, touches=False)
    return [zero, face_touch_off(place.length, lathe)] if place.by == DIAL else [zero]


def lock_step(place: TaperPlace | None, lathe: Lathe) -> Step:
    """Return the step that locks the carriage with the tool at the taper's start.

    If the job does not state the start, the turner brings the tool just off the free end by eye.
    """
    lock = partial(Step, action="set", title="Lock the carriage")
    if place is None:
        text = "Withdraw the tool. Wind the carriage until the tool is just off the free end. Lock the carriage"
        return lock(text=text)
    if place.by == RULE and not place.starts_mm:
        text = (
            "Withdraw the tool and wind the carriage clear of the work. Keep the compound at its zero. Bring the tool "
            f"in, then wind the carriage until the tool just touches {place.face}. Lock the carriage"
        )
        return lock(text=text, cautions=(TOUCH_OFF,))
    if place.by == RULE:
        line = rule_text(on_a_rule_mm(place.starts_mm, lathe.unit), lathe.unit)
        text = (
            f"Rule: {STOP_FIRST.lower()} Withdraw the tool. Blue the work, scribe a line at {line} from {place.face}. "
            "Keep the compound at its zero. Wind the carriage until the tool's point is on the line. Lock the carriage"
        )
        return Step(action="set", title=SCRIBE, text=text)
    carriage = lathe.dial(CARRIAGE)
    setting = carriage.at_travel(place.starts_mm)
    at = f"{lathe.length_text(place.starts_mm)} from" if place.starts_mm else "level with"
    text = (
        "Withdraw the tool. Wind the carriage back past its reading, then towards the chuck to "
        f"{carriage.setting_text(setting)}, {at} {place.face}. Lock the carriage"
    )
    return lock(text=text, settings=(setting,))


def compound_end(lathe: Lathe, length_mm: float, half_deg: float) -> Setting:
    """Return the setting of the compound's dial at the large end of a taper, counted from 0 at the small end."""
    return lathe.dial("compound").at_travel(length_mm / cos(radians(half_deg)))


def with_compound_end(steps: Sequence[Step], lathe: Lathe, end: Setting) -> list[Step]:
    """Return the steps of a taper, with the compound's setting at the large end added to each pass."""
    words = f"; then feed, at most until the compound reads {lathe.dial('compound').setting_text(end)}"
    return [
        replace(step, text=f"{step.text}{words}", settings=(*step.settings, end))
        if step.action in {"cut", "spring"}
        else step
        for step in steps
    ]


def taper_movements(
    lathe: Lathe, end: Setting, ends_mm: float
) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]]:
    """Return the function that gives the movements of a pass.

    `end`: the compound's setting at the large end. `ends_mm`: the distance of the large end from the face [mm].
    """

    def movements(step: Step, dials: ZeroedDials, starts: tuple[int, int]) -> tuple[str, ...]:
        if step.action not in {"cut", "spring"}:
            return ()
        shown = dials.short_words(end)
        return (
            "Cross-slide to its reading",
            "Feed the compound towards the chuck until the tool leaves the work",
            f"No further than {lathe.length_text(ends_mm)}: compound {shown}",
            "Withdraw the cross-slide, wind the compound back past its zero",
            "Then the key",
        )

    return movements
