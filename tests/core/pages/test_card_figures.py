"""Figures in words: pitches in the thread's own unit, the user's tool next to the standard's, and complete lists."""

from dataclasses import replace
from typing import Any

import pytest

from core.operations.patterns.form_values import open_field_answer
from core.operations.size_cut import plan_size_cut
from core.operations.turn import read_turn
from core.pages.figure_words import figure_lines, table_rows
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_problems
from tests.core.pages.test_units_shown import INCH
from tests.core.thread_jobs import plan_of

DIAMETER = {"measured": "diameter"}


@pytest.mark.parametrize(
    ("thread", "tpi"),
    [
        # ASME B1.1, table 1: threads per inch of the coarse and fine series.
        ("7/8-9 UNC-2A", "9"),
        ("1 1/8-12 UNF-2A", "12"),
        ("2-4 1/2 UNC-2A", "4.5"),
        # BS 84: 1/2 BSW 12, 3/8 BSF 20. ISO 228-1: G1/2 14, G1 11. ASME B1.5: 3/4-6.
        ("1/2 BSW", "12"),
        ("3/8 BSF", "20"),
        ("G1/2", "14"),
        ("3/4-6 Acme", "6"),
    ],
)
def test_the_pitch_of_an_inch_thread_is_shown_in_threads_per_inch_on_every_lathe(thread: str, tpi: str) -> None:
    """The pitch in the lathe's unit follows. A lead equal to the pitch is not shown."""
    plan_figures = plan_of(thread=thread).figures
    for unit, digits in (("mm", 4), ("in", 4)):
        lines = dict(figure_lines(plan_figures, unit))  # type: ignore[arg-type]
        pitch = 25.4 / float(tpi) if unit == "mm" else 1 / float(tpi)
        behind = f"{pitch:.{digits}f}"
        assert lines["pitch"].startswith(f"{tpi} tpi (")
        assert figures(lines["pitch"]) == {tpi, behind.rstrip("0") if unit == "mm" else behind}
        assert not any("lead, in" in name for name in lines)


def test_the_lead_of_a_multi_start_thread_is_shown_as_well_as_its_pitch() -> None:
    """ISO 965-1, Ph6P3: two starts of 3 mm, in millimetres on either lathe."""
    lines = dict(figure_lines(plan_of(thread="M24xPh6P3").figures, "mm"))
    assert (lines["pitch"], lines["lead for one turn"]) == ("3 mm", "6 mm")


def test_the_pitch_of_a_custom_thread_is_shown_in_the_unit_in_which_it_was_given() -> None:
    """11 tpi is 25.4 / 11 = 2.3091 mm. 2 mm on an inch lathe is 25.4 / 2 = 12.7 tpi."""
    inch = plan_of(form="60 deg", major="1 in", pitch="11 tpi").figures
    assert dict(figure_lines(inch, "mm"))["pitch"] == "11 tpi (2.3091 mm)"
    metric = plan_of(form="60 deg", major="20 mm", pitch="2 mm").figures
    assert dict(figure_lines(metric, "in"))["pitch"] == "2 mm (12.7 tpi)"
    assert dict(figure_lines(metric, "mm"))["pitch"] == "2 mm"


@pytest.mark.parametrize(
    ("tool", "shown"),
    [
        ({"tool_flat": "0.35 mm"}, "flat 0.35 mm"),
        ({"tool_radius": "0.3048 mm"}, "radius 0.3048 mm"),
        ({}, "sharp"),
    ],
)
def test_the_tip_of_the_users_tool_is_shown_beside_the_standard_tip(tool: dict[str, str], shown: str) -> None:
    """M27x3: the root of ISO 965-1 is rounded with 0.14434 P = 0.433 mm."""
    lines = dict(figure_lines(plan_of(thread="M27x3-6g", **tool).figures))
    given, wanted = "your tool's tip", "tip wanted by the standard"
    assert lines[given] == shown and lines[wanted] == "radius 0.433 mm"
    assert list(lines).index(wanted) == list(lines).index(given) + 1


def test_a_long_list_of_figures_is_shortened_everywhere_except_on_the_card() -> None:
    """Elsewhere three of ten trains are shown, with a row that says how many more there are."""
    trains = [{"drivers": [20 + n], "driven": [40], "error_ppm": 0.0} for n in range(10)]
    assert len(list(figure_lines({"change_gears": trains}, whole=True))) == 10
    short = list(figure_lines({"change_gears": trains}))
    assert len(short) == 4 and "gear trains" in short[3][1] and figures(short[3][1]) == {"7"}


def test_only_drills_close_to_the_tapping_drill_size_are_shown() -> None:
    """M20x1.5 is tapped 18.5 mm. The largest drills numbered and lettered end at 5.8 and 10.5 mm."""
    lines = dict(figure_lines(plan_of(thread="M20x1.5-6H", blank="18.5 mm").figures))
    assert {value for name, value in lines.items() if name.startswith("nearest")} == {
        "23/32 in (18.2563 mm)",
        "47/64 in (18.6531 mm)",
    }
    assert list(lines.values()).count("18.5 mm") == 2  # The bore and the drill.


def test_the_figures_of_a_cut_name_the_quantity_that_is_measured() -> None:
    """ "From 0 mm to 1.8 mm" would not be the size of a face. A face loses 1.8 mm."""
    sizes = {"from_mm": 0.0, "to_mm": 1.8, "passes": 6}
    assert next(iter(figure_lines({**sizes, "measured": "left"}))) == ("to cut off in all", "1.8 mm")
    table = {"kind": "turn", "name": "x", "from": "31 mm", "to": "30 g6", "cut": "0.5 mm"}
    cutting = read_turn(Table(table, "", []), lathe_with())
    assert cutting is not None
    names = [name for name, _ in figure_lines(plan_size_cut(cutting, lathe_with(), None).figures)]
    assert sum("diameter" in name for name in names) == 4
    # Logs of earlier versions do not name the measured quantity.
    assert len(list(figure_lines(sizes))) == 3


def test_the_card_labels_the_middle_of_the_limits_of_size_as_the_exact_aim() -> None:
    """30 g6 is 29.980 to 29.993 mm (ISO 286, from memory). No dial can be set to the middle, 29.9865 mm."""
    shown = dict(figure_lines({"from_mm": 40.0, "to_mm": 29.9865, "to_min_mm": 29.98, "to_max_mm": 29.993, **DIAMETER}))
    assert shown["diameter aimed at, exact"] == "29.9865 mm" and shown["diameter before"] == "40 mm"


def test_the_card_shows_a_shoulder_with_its_fit_and_its_number_in_the_list_of_shoulders() -> None:
    """The shoulder listed second is cut first."""
    listed = [
        {"diameter_mm": 36.0, "ends_at_mm": 40.0, "row": 2},
        {"diameter_mm": 29.9865, "ends_at_mm": 22.0, "row": 1, "wanted": "30 g6"},
    ]
    shown = list(figure_lines({"shoulders": listed}))
    assert shown == [("shoulder 2", "36 mm, ends at 40 mm"), ("shoulder 1", "30 g6, ends at 22 mm")]


def test_an_angle_without_an_exact_decimal_is_shown_in_minutes_and_seconds() -> None:
    """1:20 has a half angle of atan(1/40) = 1.4321 deg = 1 deg 25 min 56 s. 27.5 deg stays as it is."""
    assert dict(figure_lines({"half_angle_deg": 1.4320961842})) == {"half the thread angle": "1°25'56\""}
    assert dict(figure_lines({"half_angle_deg": 27.5})) == {"half the thread angle": "27.5 deg"}


def test_the_fastest_safe_spindle_speed_is_rounded_down() -> None:
    """A higher speed would leave too little time to stop."""
    assert dict(figure_lines({"rpm_most": 95.7835})) == {"fastest speed that leaves time to stop": "95 rpm"}


def test_a_table_of_figures_has_empty_cells_for_missing_values() -> None:
    """Each figure that any entry has is shown once, in order."""
    rows = list(table_rows([{"count": 6, "groove_width_mm": 0.8}, {"count": 4}], "mm"))
    assert [values for _, values in rows] == [["6", "4"], ["0.8 mm", ""]]


def test_a_negative_overlap_is_shown_as_a_gap_without_a_minus_sign() -> None:
    """The overlaps are in the lathe's unit only: 25.4 mm is 1 in."""
    entries = [{"overlap_mm": 25.4}, {"overlap_mm": -25.4}, {"overlap_mm": 1e-9}]
    ((_, inches),) = table_rows(entries, "in")
    assert [figures(value) for value in inches] == [{"1.0000"}, {"1.0000"}, set()]
    assert len(set(inches)) == 3 and not any("-" in value or "mm" in value for value in inches)


def test_the_card_says_whether_two_layers_of_a_pattern_touch_cross_or_lie_apart() -> None:
    """Each case has its own words.

    Circles touch at the angle with cos = (1.25^2 + 1 - 0.5^2) / 2.5, which is 22.33 deg.
    """
    pair = {"layers": [1, 2], "gap_mm": 0.93, "crossing_pairs": 4, "touch_at_deg": 22.3316}
    lines = [
        dict(figure_lines({"between_layers": [{**pair, "lie": lie}]})) for lie in ("apart", "inside", "touch", "cross")
    ]
    assert [figures(line["layers 1 and 2"]) for line in lines] == [
        {"0.93", "22.33"},
        {"0.93", "22.33"},
        {"22.33"},
        {"4", "22.33"},
    ]


def test_the_refusal_of_a_layer_gives_sizes_in_the_unit_of_the_lathe() -> None:
    """By hand: half the spacing is 0.5 in x sin(180/200) = 0.00785 in. 0.03 in deep at 90 degrees is 0.06 in wide."""
    layer: dict[str, Any] = {"count": 200, "offset": "0.5 in", "meet": "grooves", "depth": "0.03 in"}
    inch = replace(INCH, rotary_table=lathe_with().rotary_table)
    assert inch.unit == "in"
    (problem,) = [one for one in layers_problems(inch, layer, tip_angle="90 deg")[1] if "sin(" in str(one)]
    assert {"0.0079", "0.0300", "1.9099", "0.0157"} <= figures(str(problem)) and " mm" not in str(problem)
    with pytest.raises(PlanError, match=r"0\.6000 in.*0\.5000 in") as error:
        open_field_answer("points", {"offset": "0.5 in", "circle_radius": "0.6 in"}, {}, "in")
    assert "mm" not in error.value.message
    with pytest.raises(PlanError, match=r"0\.1000 in apart") as error:
        open_field_answer("centre", {"count": 6, "circle_radius": "0.1 in"}, {"height_error": "0.2 in"}, "in")
    assert " mm" not in error.value.message


def test_the_limit_in_a_refusal_is_given_in_the_unit_that_the_user_typed() -> None:
    """ "-1 in" must be more than 0 in, not more than 0 mm. 25.4 mm are 1 in."""
    problems: list[Problem] = []
    table = Table({"a": "-1 in", "b": "-1 mm", "c": "900 thou", "d": "2 in"}, "", problems)
    table.length("a", above=0)
    table.length("b", above=0)
    table.length("c", least=25.4)
    table.length("d", most=25.4)
    assert [one.message.rstrip(".").rpartition(" ")[2] for one in problems] == ["in", "mm", "in", "in"]
    assert [figures(one.message) for one in problems][2] == {"900", "1"}


def test_a_pitch_is_not_shown_in_millimetres_alone_on_an_inch_lathe() -> None:
    """The figures, and the step that checks them, have no value in millimetres without inches."""
    plan = plan_of(INCH, thread="1/2-13 UNC")
    assert "mm" not in dict(figure_lines(plan.figures, "in"))["pitch"]


def test_limits_of_size_shown_in_inches_are_rounded_inward() -> None:
    """30 g6 is 29.980 to 29.993 mm (ISO 286-1): 1.18031 to 1.18083 in, so 1.1804 to 1.1808. 1.1803 would be too small.

    Limits given in inches stay unchanged.
    """
    for wanted, least, most in (
        ("30 g6", "1.1804 in (29.98 mm)", "1.1808 in (29.993 mm)"),
        ("1.1803 to 1.1809 in", "1.1803 in (29.9796 mm)", "1.1809 in (29.9949 mm)"),
    ):
        table = {"kind": "turn", "name": "x", "from": "31 mm", "to": wanted, "cut": "0.5 mm"}
        cutting = read_turn(Table(table, "", []), lathe_with())
        assert cutting is not None
        lines = dict(figure_lines(plan_size_cut(cutting, lathe_with(), None).figures, "in"))
        assert (lines["diameter wanted, at least"], lines["diameter wanted, at most"]) == (least, most)
