"""Refusals and assumptions of runout checks, layers and depths are in the unit of the lathe."""

from typing import Any

import pytest

from core.lathe.lathe import Indicator, Lathe
from core.lathe.reader import lathe_from
from core.operations.dividing.plates import COMMON_PLATES
from core.operations.patterns.form_values import open_field_answer
from core.operations.runout.job import graduation_of
from core.operations.runout.moves import shims_mm
from core.operations.runout.readings import reading_mm
from core.values.errors import PlanError
from tests.core.counted import Counted
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import layers_problems
from tui.runout.reading_entry import ReadingEntry

MM_PER_INCH = 25.4


def _lathe(unit: str, **more: Any) -> Lathe:
    per_turn, graduation = ("0.1 in", "0.001 in") if unit == "in" else ("4 mm", "0.05 mm")
    slide = {"per_turn": per_turn, "graduation": graduation, "reads": "travel"}
    table = {"ratio": 40, "dial_graduation": "1 arcmin", "plates": [list(plate) for plate in COMMON_PLATES]}
    dials = {"cross_slide": slide, "carriage": slide, "boring_head": slide}
    data = {"format": 1, "name": "Bench", "dial": dials, "rotary_table": table, **more}
    return lathe_from(data, "bench.toml")


@pytest.mark.parametrize(("unit", "graduation_mm"), [("mm", 0.01), ("in", 0.0005 * MM_PER_INCH)])
def test_indicator_readings_are_in_the_lathes_unit_if_the_lathe_file_has_no_indicator(
    unit: str, graduation_mm: float
) -> None:
    """A graduation of 0.01 mm or 0.0005 in is assumed, and readings without a unit are in this unit.

    Both facts are shown.
    """
    lathe = _lathe(unit)
    assert graduation_of(lathe) == pytest.approx(graduation_mm)
    entry = ReadingEntry(lathe)
    assert entry.unit == unit
    # Readings are not counted in a graduation that is only assumed.
    assert "marks" not in entry.units
    plan = Counted(lathe, "runout", positions=4).state.plan
    (said,) = (caution for caution in plan.cautions if "[indicator]" in caution)
    assert figures(said) == {"0.0005" if unit == "in" else "0.01"}
    assert f"taken as {unit}," in said


def test_indicator_readings_are_counted_in_the_graduations_of_the_lathes_indicator() -> None:
    """On an inch lathe, an indicator graduated in 0.01 mm reads in millimetres, even for numbers without a unit."""
    lathe = _lathe("in", indicator={"graduation": "0.01 mm"})
    assert lathe.indicator == Indicator(graduation_mm=0.01)
    assert ReadingEntry(lathe).units == ("mm", "marks", "in")
    assert reading_mm("3", "marks", graduation_of(lathe)) == pytest.approx(0.03)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_refusal_to_move_a_bar_too_far_gives_sizes_in_the_unit_of_the_lathe(unit: str) -> None:
    """The move is half an inch to the side, for a bar of 0.4 in radius."""
    with pytest.raises(PlanError) as refused:
        shims_mm((0.0, 12.7), 10.16, _lathe(unit).length_text)
    assert (" mm" in refused.value.message) == (unit == "mm")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_refusal_of_a_pattern_layer_gives_sizes_in_the_unit_of_the_lathe(unit: str) -> None:
    """The layers come from a job file, and from an open quantity that the form works out."""
    layer = {"count": 60, "offset": "0.3 in", "meet": "grooves", "depth": "0.05 in"}
    _, problems = layers_problems(_lathe(unit), layer, tip_angle="120 deg")
    (problem,) = problems
    assert (" mm" in problem.message) == (unit == "mm")
    with pytest.raises(PlanError) as refused:
        open_field_answer("points", {"offset": "0.3 in", "circle_radius": "0.5 in"}, {}, "in" if unit == "in" else "mm")
    assert ("0.5000 in" if unit == "in" else "12.7 mm") in refused.value.message
    with pytest.raises(PlanError) as too_near:
        open_field_answer(
            "points",
            {"count": 6, "circle_radius": "0.1 in"},
            {"height_error": "0.5 in"},
            "in" if unit == "in" else "mm",
        )
    assert ("0.5000 in" if unit == "in" else "12.7 mm") in too_near.value.message


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_refusal_of_an_impossible_depth_uses_the_unit_of_the_depth_dial(unit: str) -> None:
    """The depth measured at a position is ten times too large."""
    run = Counted(_lathe(unit), "divide", divisions=4, depth="0.02 in", cut="0.01 in", depth_dial="cross_slide")
    while run.cursor.action != "cut":
        run.done()
    run.done()
    with pytest.raises(PlanError) as refused:
        run.revise("measured", depth_mm=5.08)
    assert ("0.2000 in" if unit == "in" else "5.08 mm") in refused.value.message
