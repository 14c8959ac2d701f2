"""Set-up steps before a divided cut: mounting the dividing plate, setting the table's zero, and touching off."""

from dataclasses import replace

from core.cutting import Infeed, backlash_words, touch_off_step
from core.lathe.lathe import dial_words
from core.operations.dividing.division import Dividing, Position, setting_of
from core.operations.dividing.handle_dial import TABLE, table_dial
from core.operations.dividing.movement import table_move
from core.operations.dividing.words import backlash_text, sector_words, turning_sense
from core.plan import AnySetting, PatternPosition, PlateSetting, Step
from core.safety import STOP_FIRST
from core.values.angles import dms_text
from core.values.dials import Setting

TO_ZERO = "to_zero"
"""Key in the `extra` of a step that turns the table back to its zero."""


def mounting_steps(dividing: Dividing, place: PatternPosition) -> list[Step]:
    """Return the step that mounts the dividing plate on the table before its first use; [] if a dial sets the table."""
    if dividing.means == "dial":
        return []
    if dividing.means == "direct":
        text = f"Put the direct-index plate with {dividing.circle} notches on the table's spindle"
    else:
        text = (
            f"Put dividing plate {dividing.plate} on the table. Its circles are {_circles(dividing)}. "
            f"Set the index pin in the {dividing.circle} circle. "
            f"Sector arms: {sector_words(dividing)}{_both_words(dividing)}"
        )
    return [Step(action="check", title="Mount the plate", text=text, place=place)]


def _circles(dividing: Dividing) -> str:
    plate = dividing.table.plates[(dividing.plate or 1) - 1]
    return ", ".join(str(circle) for circle in plate)


def is_same_circle(one: Dividing, other: Dividing) -> bool:
    """Return whether two divisions are set in the same hole circle of the same plate, or both by the dial."""
    return (one.means, one.plate, one.circle) == (other.means, other.plate, other.circle)


def change_steps(before: Dividing, last: Position, dividing: Dividing, name: str, place: PatternPosition) -> list[Step]:
    """Return the steps that change from the hole circle of one layer to the hole circle of the layer called `name`.

    `before` and `dividing`: the divisions of the earlier and the later layer. `last`: the last position of the earlier
    layer. Two circles have only hole 0 in common, so the table first turns to its zero.
    """
    zero = Position(0, last.wanted_deg * 0, last.set_deg * 0)
    title = f"{name}, table to 0 before you change the {_what(before, dividing)}"
    to_zero = Step(
        action="set",
        title=title,
        text=f"{title}: {table_move(before, zero, last).words}",
        settings=(setting_of(before, zero, last),),
        place=place,
        extra={"way": before.means, TO_ZERO: True},
    )
    change = Step(
        action="check",
        title=_change_title(before, dividing, name),
        text=_change_words(before, dividing, name),
        settings=(_zero_setting(dividing),),
        zeroed_dials=(TABLE,),
        place=place,
    )
    return [to_zero, change]


def _what(before: Dividing, dividing: Dividing) -> str:
    return "circle" if before.plate == dividing.plate else "plate"


def _change_title(before: Dividing, dividing: Dividing, name: str) -> str:
    if dividing.means == "direct":
        return f"{name}, change the plate"
    changes_plate = before.plate != dividing.plate
    return f"{name}, mount plate {dividing.plate}" if changes_plate else f"{name}, pin to the {dividing.circle} circle"


def _change_words(before: Dividing, dividing: Dividing, name: str) -> str:
    title = _change_title(before, dividing, name)
    if dividing.means == "direct":
        return (
            f"{title}: lock the table. Change to the plate with {dividing.circle} notches without turning the table. "
            "The notch that the index pin now drops into is notch 0. If the table turned, find its zero again"
        )
    new = f"{title}: lock the table. Set the index pin to the {dividing.circle} circle"
    if before.plate != dividing.plate:
        new = (
            f"{title}: lock the table. Change to dividing plate {dividing.plate} (circles "
            f"{_circles(dividing)}), with the index pin in the {dividing.circle} circle"
        )
    return (
        f"{new}, without turning the worm. Turn the plate, not the worm, until the pin drops into a hole. This is hole "
        f"0. Sector arms: {sector_words(dividing)}. If the worm moved, find the table's 0 again"
        f"{_both_words(dividing)}"
    )


def _both_words(dividing: Dividing) -> str:
    """Return in words the two hole circles that are exact in combination; "" if one circle is exact, or if no
    pair is.
    """
    both = dividing.both_circles
    if both is None:
        return ""
    plates = (number for number, plate in enumerate(dividing.table.plates, start=1) if set(both) <= set(plate))
    exact = f"Dividing plate {next(plates)} is, with its circles {both[0]} and {both[1]} together"
    return f". This circle is not exact. {exact}"


def table_zero_step(dividing: Dividing, place: PatternPosition, again: bool = False) -> Step:
    """Return the step that sets the table to 0 and takes up the backlash.

    `again`: True if the work may already be partly cut.
    """
    text = _zero_words(dividing)
    if again:
        text = (
            "Isolate the drive. Bring the tool into a position already cut, then set the table to show that position's "
            f"reading. Nothing cut yet? {text}"
        )
    return Step(
        action="set",
        title="Set the table to 0",
        text=text,
        settings=(_zero_setting(dividing),),
        zeroed_dials=(TABLE,),
        place=place,
    )


def _zero_setting(dividing: Dividing) -> AnySetting:
    if dividing.means == "dial":
        setting: Setting = table_dial(dividing.table).at_marks(0)
        return setting
    return PlateSetting(dial=TABLE, turns=0, holes=0, circle=dividing.circle)


def _zero_words(dividing: Dividing) -> str:
    side, backlash = turning_sense(dividing), backlash_text(dividing.table)
    if dividing.means == "direct":
        return (
            f"Table: seat the index pin in notch 0 of the plate with {dividing.circle} notches. The work is then at 0"
        )
    if dividing.means == "dial":
        return (
            f"Table: turn {side.up} to 0°00' {side.side} to take up the backlash{backlash}. Lock the "
            f"table and set its dial to 0. One turn of the handle is {dms_text(360 / dividing.table.ratio)}"
        )
    return (
        f"Table: turn {side.up} to its own 0° {side.side} to take up the backlash{backlash}. Seat the index "
        f"pin in a hole of the {dividing.circle} circle. This is hole 0"
    )


def depth_touch_off(infeed: Infeed, where: str, place: PatternPosition, turned: str = "") -> Step:
    """Return the step that touches off at a place and sets the depth dial to 0.

    `where`: the place in words. `turned`: for a pointed cutter, the part that is turned by hand with the drive isolated
    while the point touches; "" for any other cutter.
    """
    text = f"{dial_words(infeed.dial.name).capitalize()}: take up the backlash{backlash_words(infeed.dial)}, then "
    if turned:
        text = f"{STOP_FIRST} {text}turn the {turned} by hand while you feed in, until the point just touches {where}"
    else:
        text += f"let the tool just touch {where}"
    return replace(touch_off_step(infeed.dial, text), place=place)
