"""Tests of the means of setting a table, the counter's large digits, and errors in the unit that is counted."""

from fractions import Fraction
from typing import Any

import pytest

from core.operations.dividing.division import even_targets_deg, means_offered
from core.operations.dividing.division_tables import division_answers
from core.operations.dividing.find_position import find_position, read_notch
from core.operations.dividing.plates import COMMON_PLATES
from core.operations.registry import PlanInput, parameters_of
from core.run.table_reading import read_table_setting
from core.values.errors import FileError
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_job, layers_problems

TABLE: dict[str, Any] = {
    "ratio": 40,
    "dial_graduation": "1 arcmin",
    "plates": [list(plate) for plate in COMMON_PLATES],
    "direct": [24, 60],
}
LAYER: dict[str, Any] = {"offset": "20 mm", "circle_radius": "5 mm"}


@pytest.mark.parametrize(
    ("divisions", "expected"),
    [
        # 24 and 60 notches divide by it exactly. So do the dial's minutes and 40/8 turns.
        (8, {"dial": 0, "plate": 0, "direct": 0}),
        # 40/7 turns are 15 of 21 holes. 360/7 is 51°25.714', at worst 3/7 of a minute off. No notch fits.
        (7, {"plate": 0, "dial": Fraction(3, 7) / 60, "direct": None}),
        # 360/32 is 11°15', exact on the dial. 40/32 is 5 of 20 holes. 24 and 60 have no 32nd notch.
        (32, {"dial": 0, "plate": 0, "direct": None}),
    ],
)
def test_exact_means_of_dividing_are_listed_before_inexact_ones(
    divisions: int, expected: dict[str, Fraction | None]
) -> None:
    """Worked by hand. Each means has its largest error. Means that cannot set the positions are last."""
    table = table_lathe(**TABLE).rotary_table
    assert table is not None
    offered = means_offered(table, (even_targets_deg(divisions),))
    assert {found.means: found.worst_deg for found in offered} == expected
    assert list(expected) == [found.means for found in offered]
    assert [answer.means for answer in division_answers(table, divisions)] == list(expected)


def test_layers_are_set_by_the_entered_means_of_dividing_or_else_by_an_exact_one() -> None:
    """Seven positions are exact by plate but not by dial. A means that the table lacks is refused with its key."""
    lathe = lathe_with(40, minutes=1, plates=True)
    layer = {**LAYER, "count": 7}
    assert layers_job(lathe, layer).means == "plate"
    assert layers_job(lathe, {**layer, "count": 12}).means == "dial"
    assert layers_job(lathe, layer, **{"with": "dial"}).means == "dial"
    _, problems = layers_problems(lathe, layer, **{"with": "direct"})
    assert [problem.key for problem in problems] == ["with"]
    _, problems = layers_problems(lathe_with(40, direct=(24,)), layer, **{"with": "plate"})
    assert [problem.key for problem in problems] == ["with"]


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        # 360/7 = 51°25.714': 5 turns of 9° are 45°, then 6°26'. 102°51' is 11 turns and 3°51', 5 more past 6°26'.
        ({"divisions": 7, "with": "dial"}, ["0°00'", "5 turns 6°26'", "5 turns 3°51'", "5 turns 1°17'"]),
        # 40/7 = 5 15/21: 5 turns and 15 holes for each move.
        ({"divisions": 7, "with": "plate"}, ["0", "5 turns 15", "5 turns 15", "5 turns 15"]),
        # 40/8 = 5 whole turns.
        ({"divisions": 8, "with": "plate"}, ["0", "5", "5", "5"]),
        # 24/8 = 3 notches.
        ({"divisions": 8, "with": "direct"}, ["0", "3", "3", "3"]),
        # Counted from zero, for a start angle: 37°30' is 4 turns and 1°30'.
        ({"divisions": 8, "with": "dial", "start": "37.5 deg"}, ["4 turns 1°30'", "5 turns 1°30'"]),
    ],
)
def test_the_large_text_on_the_counter_shows_the_move_from_the_last_position(
    keys: dict[str, Any], expected: list[str]
) -> None:
    """The moves from the last position by dial, plate and notches match a hand calculation."""
    run = Counted(table_lathe(**TABLE), "divide", **keys)
    shown = []
    for number in range(1, len(expected) + 1):
        run.to_position(number)
        assert run.view.dial is not None
        shown.append(run.view.dial.large)
    assert shown == expected


def test_if_the_table_must_turn_backwards_the_large_number_shows_only_the_reading() -> None:
    """The handle goes past the reading and up again, so no turns are counted."""
    run = Counted(table_lathe(**TABLE), "divide", divisions=36, with_="dial")
    run.to_position(5)
    run.done()
    run.again(3)
    assert run.view.dial is not None
    assert "turn" not in run.view.dial.large


def test_the_error_of_a_wrong_notch_is_stated_in_notches() -> None:
    """With 12 notches, one notch is 30°. With 24, two notches are. The advice for going back counts notches too."""
    for notches, count in ((12, 1), (24, 2)):
        run = Counted(table_lathe(ratio=40, direct=[notches]), "divide", divisions=4, with_="direct")
        run.to_position(2)
        position, shown = read_table_setting(run.lathe, run.cursor, str(notches // 4 + count))
        run.revise("set", dial="rotary_table", position=str(position), shown=shown)
        (finding,) = run.view.findings
        assert figures(finding) == {str(count), "30°00'"}
        (caution,) = run.view.cautions
        assert figures(caution) == {str(count)}
        table = run.lathe.rotary_table
        assert table is not None
        where = find_position(read_notch(str(count), notches), run.state.steps, table)
        assert figures(where.words) == {str(count), "30°00'", "1", "4"}


@pytest.mark.parametrize("divisions", [7, 8, 24])
def test_no_step_shows_an_angle_of_six_degrees_or_more_in_seconds_alone(divisions: int) -> None:
    """Angles of six degrees and more are never shown in seconds of arc."""
    for way in ("dial", "plate", "direct"):
        if way == "direct" and divisions == 7:
            continue
        run = Counted(table_lathe(**TABLE), "divide", divisions=divisions, with_=way)
        texts = " ".join(step.text for step in run.state.steps)
        assert not any(figure.isdecimal() and len(figure) > 4 for figure in figures(texts))


def test_refusing_a_table_without_dial_or_plates_says_where_to_enter_them() -> None:
    """The refusal says what is missing, and where to enter it: on screen first, then in the file."""
    its = table_lathe(ratio=72)
    table = {"kind": "divide", "name": "Marks", "divisions": 12}
    with pytest.raises(FileError, match=r"with: Only the ratio .* dial marks.*set-up"):
        parameters_of(PlanInput(kind="divide", parameters=table, lathe=its))
