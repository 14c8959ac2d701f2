"""What is prepared before a pattern is cut: the table's zero, and touching off."""

from core.cutting import Infeed, play_words, touch_off_step
from core.dials import Setting
from core.indexing.angle_text import dms_text
from core.indexing.by_dial import TABLE, table_dial
from core.indexing.dividing import Dividing
from core.indexing.words import play_text, sector_words, side_of
from core.lathe import dial_words
from core.plan import AnySetting, PlateSetting, Step


def table_zero_step(dividing: Dividing, extra: dict[str, int], again: bool = False) -> Step:
    """Return the step that sets the table to its zero, play taken up; `again`: on work that was cut already."""
    text = _zero_words(dividing)
    if again:
        text = (
            "The work may have moved: bring the tool into a position already cut and set the table so that "
            f"it shows what that position has. Else {text[0].lower()}{text[1:]}"
        )
    return Step(action="set", text=text, settings=(_zero_setting(dividing),), zeroes=(TABLE,), extra=extra)


def _zero_setting(dividing: Dividing) -> AnySetting:
    if dividing.way == "dial":
        setting: Setting = table_dial(dividing.table).at_marks(0)
        return setting
    return PlateSetting(dial=TABLE, turns=0, holes=0, circle=dividing.circle)


def _zero_words(dividing: Dividing) -> str:
    side, play = side_of(dividing), play_text(dividing.table)
    if dividing.way == "direct":
        return f"Table: latch in notch 0 of the plate with {dividing.circle} notches; the work is at its zero there"
    if dividing.way == "dial":
        return (
            f"Table: {side.up} to 0°00' {side.side}, so that the play{play} is taken up; lock it "
            f"and set its dial to 0. One turn of the handle is {dms_text(360 / dividing.table.ratio)}"
        )
    return (
        f"Table: plate with the {dividing.circle} circle; {side.up} to the table's 0° {side.side}, so that the "
        f"play{play} is taken up, pin in a hole: that is hole 0. Sector arms: {sector_words(dividing)}"
    )


def depth_touch_off(infeed: Infeed, where: str, extra: dict[str, int]) -> Step:
    """Return the step that touches off the dial for depth; its number is among what `touch_off_step` adds."""
    name = dial_words(infeed.dial.name).capitalize()
    step = touch_off_step(infeed.dial, f"{name}: play taken up{play_words(infeed.dial)}, tool just touching {where}")
    return Step(
        action=step.action,
        text=step.text,
        settings=step.settings,
        zeroes=step.zeroes,
        expects=step.expects,
        extra={**step.extra, **extra},
    )
