"""Unwise patterns are accepted, but get one caution more than the same pattern without the fault."""

from pathlib import Path
from typing import Any

import pytest

from tests.core.figures import figures
from tests.core.operations.patterns.outside.checking import disagreements
from tests.core.operations.patterns.outside.job_files import card_of
from tests.core.operations.patterns.outside.test_refused_patterns import CIRCLES, DOTS, LATHE, OPERATION, SLOTS

FINE: dict[str, Any] = LATHE | {
    "dial": LATHE["dial"]
    | {"carriage": {"graduation": "0.01 mm", "reads": "travel"}, "cross_slide": LATHE["dial"]["cross_slide"]}
}


def more_cautions(folder: Path, usual: dict[str, Any], unwise: dict[str, Any]) -> list[str]:
    """Return the cautions that only the unwise pattern has, at the start or at a step."""
    said = [
        {*card["cautions"], *(text for step in card["steps"] for text in step.get("cautions", ()))}
        for card in (card_of(folder, OPERATION | operation, FINE) for operation in (usual, unwise))
    ]
    return sorted(said[1] - said[0])


@pytest.mark.parametrize(
    ("usual", "unwise", "numbers"),
    [
        # Circles that reach to 41 mm, on a blank of 40 mm radius.
        ([CIRCLES], [CIRCLES | {"offset": "33 mm"}], set()),
        ([SLOTS], [SLOTS | {"to": "41 mm"}], set()),
        # A groove of 120 degrees 1.5 mm deep is 5.2 mm wide: wider than a circle of 2.2 mm radius.
        ([CIRCLES], [CIRCLES | {"circle_radius": "2.2 mm", "depth": "1.5 mm", "offset": "30 mm"}], set()),
        # 20 mm between centres, 2 x 9.15 mm and a groove of 1.386 mm: 0.314 mm of land.
        ([CIRCLES], [CIRCLES | {"circle_radius": "9.15 mm"}], {"0.314"}),
        # A shallow dot inside the wider groove of a deep circle, with the same cutter.
        (
            [CIRCLES, DOTS | {"offset": "30 mm"}],
            [CIRCLES | {"depth": "0.8 mm"}, DOTS | {"offset": "28 mm", "depth": "0.1 mm"}],
            set(),
        ),
    ],
)
def test_unwise_patterns_get_a_caution_instead_of_a_refusal(
    usual: list[dict[str, Any]], unwise: list[dict[str, Any]], numbers: set[str], tmp_path: Path
) -> None:
    """The program still plans the pattern."""
    found = more_cautions(tmp_path, {"layer": usual}, {"layer": unwise})
    assert found
    assert not numbers or any(numbers <= figures(text) for text in found), found


def test_a_dot_closer_to_the_table_axis_than_the_height_error_gets_a_caution(tmp_path: Path) -> None:
    """One dot is 0.2 mm from the centre, with the axes 0.3 mm apart. The other dots are corrected. Derived."""
    places = {
        "layer": [{"shape": "dots", "cutter": "wide", "depth": "0.4 mm", "at": [["0.2 mm", "0 mm"], ["9 mm", "0 mm"]]}]
    }
    corrected = {"height_error": "0.3 mm", "correct": True}
    far_enough = {"layer": [places["layer"][0] | {"at": [["5 mm", "0 mm"], ["9 mm", "0 mm"]]}]}
    found = more_cautions(tmp_path, far_enough | corrected, places | corrected)
    assert any("mm" in text for text in found), found
    card = card_of(tmp_path, OPERATION | places | corrected, FINE)
    assert disagreements(OPERATION | places | corrected, FINE, card) == []


def test_slots_whose_eccentricity_cannot_be_corrected_get_a_caution(tmp_path: Path) -> None:
    """Slots run through the table's axis, so an error of 0.25 mm remains, the eccentricity."""
    off = {"eccentricity": "0.25 mm", "eccentric_at": "30 deg", "correct": True}
    found = more_cautions(tmp_path, {"layer": [DOTS]} | off, {"layer": [SLOTS]} | off)
    assert any("0.25" in text for text in found), found


def test_a_border_within_the_boring_heads_range_gets_the_advice_to_use_the_boring_head(tmp_path: Path) -> None:
    """Common practice, no source. Only a border within the head's radii gets the advice to cut circles at offset 0."""
    border = {"shape": "arcs", "cutter": "wide", "count": 1, "through": "360 deg", "depth": "0.4 mm"}
    near, far = ([border | {"offset": offset}] for offset in ("20 mm", "36 mm"))
    assert any("offset 0" in text for text in more_cautions(tmp_path, {"layer": far}, {"layer": near}))
    assert not any("offset 0" in text for text in more_cautions(tmp_path, {"layer": near}, {"layer": far}))
