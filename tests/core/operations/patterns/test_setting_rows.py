"""The settings list of a pattern: one row for each position, ends of slots and arcs, and changing dials."""

from fractions import Fraction

from core.operations.dividing.handle_dial import TABLE
from core.operations.patterns.setting_rows import changing_dials, place_steps, setting_row
from core.plan import PatternPosition, PlateSetting, Step
from core.values.dials import Setting
from tests.core.operations.dividing.rotary import lathe_with

LATHE = lathe_with(72, minutes=2)
"""Five degrees to a turn of the handle; its cross-slide is the example lathe's."""


def step(action: str, position: int, *settings: Setting | PlateSetting, layer: int = 1, **extra: str) -> Step:
    """Return a step at a position."""
    place = PatternPosition(position=position, of=3, layer=layer)
    return Step(action=action, text="", settings=settings, place=place, extra=extra)  # type: ignore[arg-type]


def table(angle_deg: Fraction | int) -> Setting:
    """Return the setting of the table's dial at an angle: five degrees are one turn."""
    turns, reading = divmod(Fraction(angle_deg), 5)
    return Setting(TABLE, "deg", Fraction(angle_deg), int(turns), reading, 0.0)


def slide(travel_mm: float) -> Setting:
    """Return the setting of the cross-slide at a travel."""
    return LATHE.dial("cross_slide").at_travel(travel_mm)


def test_the_settings_list_has_one_row_for_each_position_in_the_order_of_cutting() -> None:
    """Six steps in two rounds, layer 2 first, give three rows. 51 degrees are 10 turns and 1 degree."""
    rounds = [
        step("index", 1, table(0), slide(20), layer=2),
        step("index", 1, table(51), slide(20)),
        step("index", 2, table(102), slide(20)),
    ]
    rows = [setting_row(place, LATHE) for place in place_steps([*rounds, *rounds])]
    assert [(row.layer, row.number, row.place) for row in rows] == [
        ("2", "1", "0°00'"),
        ("1", "1", "10 turns 1°00'"),
        ("1", "2", "20 turns 2°00'"),
    ]
    assert rows[1].angle == "51°00'" and {row.slide for row in rows} == {
        LATHE.dial("cross_slide").setting_text(slide(20))
    }
    assert {row.end for row in rows} == {""} and {row.head for row in rows} == {""}


def test_the_settings_list_ends_a_slot_at_a_slide_reading_and_an_arc_at_a_table_reading() -> None:
    """The pass that feeds along gives the end. A pass that only feeds in has no end."""
    depth = LATHE.dial("carriage").at_travel(0.4)
    slot = [
        step("index", 1, table(30), slide(30)),
        step("cut", 1, depth),
        step("cut", 1, depth, slide(36)),
    ]
    arc = [step("index", 1, table(0), slide(42), layer=2), step("cut", 1, depth, table(90), layer=2)]
    slots, arcs = (setting_row(place, LATHE) for place in place_steps([*slot, *arc]))
    assert slots.end == LATHE.dial("cross_slide").setting_text(slide(36)) != slots.slide
    assert (arcs.place, arcs.end) == ("0°00'", "18 turns 0°00'")


def test_the_settings_list_gives_the_number_of_holes_or_notches_in_the_plates_circle() -> None:
    """Examples are two turns and six holes of the 21 circle, and notch 9 of 24."""
    plate = step("index", 1, PlateSetting(TABLE, 2, 6, 21))
    notch = step("index", 2, PlateSetting(TABLE, 0, 9, 24), way="direct")
    places = place_steps([plate, notch])
    assert [setting_row(place, LATHE).place for place in places] == ["2 turns 6 holes of 21", "notch 9 of 24"]


def test_the_dials_whose_settings_change_within_a_layer_are_identified() -> None:
    """A spiral changes the slide between positions, a ring only the table. This also holds with two hole circles."""
    both = PlateSetting(TABLE, 2, 6, 21, compound={"circles": [21, 23], "holes": [1, 2], "turns": 0})
    ring = [step("index", 1, table(0), slide(20)), step("index", 2, both, slide(20))]
    spiral = [step("index", 1, table(0), slide(20)), step("index", 2, table(9), slide(20.5))]
    assert changing_dials(ring) == {TABLE}
    assert changing_dials(spiral) == {TABLE, "cross_slide"}
