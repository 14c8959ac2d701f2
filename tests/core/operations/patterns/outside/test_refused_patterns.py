"""For files with one fault each, the command ends with status 1 and one sentence per fault, without a traceback."""

from pathlib import Path
from typing import Any

import pytest

from tests.core.operations.patterns.outside.job_files import write_files
from tui.__main__ import main

WIDE = {"name": "wide", "tip_angle": "120 deg"}
FINE = {"name": "fine", "tip_angle": "60 deg", "reach": "2 mm"}
CIRCLES: dict[str, Any] = {
    "shape": "circles", "cutter": "wide", "count": 6, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.4 mm"
}  # fmt: skip
DOTS: dict[str, Any] = {"shape": "dots", "cutter": "wide", "count": 6, "offset": "20 mm", "depth": "0.4 mm"}
SLOTS: dict[str, Any] = {
    "shape": "slots", "cutter": "wide", "count": 6, "from": "20 mm", "to": "24 mm", "depth": "0.4 mm"
}  # fmt: skip
ARCS: dict[str, Any] = DOTS | {"shape": "arcs", "through": "90 deg"}
OPERATION: dict[str, Any] = {"kind": "pattern", "name": "Lid", "blank_diameter": "80 mm", "cutter": [WIDE, FINE]}
LATHE: dict[str, Any] = {
    "dial": {
        "cross_slide": {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter", "travel": "60 mm"},
        "carriage": {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"},
        "boring_head": {
            "per_turn": "1 mm", "graduation": "0.01 mm", "reads": "travel",
            "least_radius": "2 mm", "most_radius": "25 mm",
        },
    },
    "rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin", "plates": [[15, 16, 17, 18, 19, 20]]},
}  # fmt: skip

LAYERS: list[tuple[dict[str, Any], str]] = [
    # Shape and keys of a layer.
    (CIRCLES | {"shape": "hexagons"}, "shape"),
    (CIRCLES | {"shape": 4}, "shape"),
    (CIRCLES | {"colour": "red"}, "colour"),
    (CIRCLES | {"cutter": "blunt"}, "cutter"),
    (CIRCLES | {"cutter": ""}, "cutter"),
    # Counts.
    (CIRCLES | {"count": 0}, "count"),
    (CIRCLES | {"count": -3}, "count"),
    (CIRCLES | {"count": 2.5}, "count"),
    (CIRCLES | {"count": "six"}, "count"),
    (CIRCLES | {"count": True}, "count"),
    (CIRCLES | {"repeat": 0, "repeat_offset": "5 mm"}, "repeat"),
    (CIRCLES | {"repeat": 1.5, "repeat_offset": "5 mm"}, "repeat"),
    (CIRCLES | {"repeat": 3, "repeat_offset": "5"}, "repeat_offset"),
    (DOTS | {"count": 20_001}, "count"),
    # Lengths and angles.
    (CIRCLES | {"offset": "20"}, "offset"),
    (CIRCLES | {"offset": 20}, "offset"),
    (CIRCLES | {"offset": "20 deg"}, "offset"),
    (CIRCLES | {"offset": "-20 mm"}, "offset"),
    (CIRCLES | {"offset": "nan mm"}, "offset"),
    (CIRCLES | {"offset": "1,000.5 mm"}, "offset"),
    (CIRCLES | {"circle_radius": "0 mm"}, "circle_radius"),
    (CIRCLES | {"start": "5 mm"}, "start"),
    (CIRCLES | {"spread": "a turn"}, "spread"),
    (CIRCLES | {"offset_step": "1"}, "offset_step"),
    (CIRCLES | {"circle_radius_step": "1 deg"}, "circle_radius_step"),
    (CIRCLES | {"depth_step": "a bit"}, "depth_step"),
    (CIRCLES | {"about": "5 mm"}, "about"),
    (CIRCLES | {"about": ["5 mm"]}, "about"),
    (CIRCLES | {"about": ["5 mm", "5 mm", "5 mm"]}, "about"),
    (CIRCLES | {"about": ["5 mm", "5 deg"]}, "about"),
    # Steps to a size of 0 or below.
    (CIRCLES | {"circle_radius_step": "-2 mm"}, "circle_radius_step"),
    (CIRCLES | {"depth_step": "-0.1 mm"}, "depth_step"),
    # Depths.
    (CIRCLES | {"depth": "0 mm"}, "depth"),
    (CIRCLES | {"depth": "-0.4 mm"}, "depth"),
    (CIRCLES | {"depth": []}, "depth"),
    (CIRCLES | {"depth": ["0.4 mm", "0.3"]}, "depth"),
    (CIRCLES | {"depth": ["0.4 mm", "0 mm"]}, "depth"),
    (CIRCLES | {"depth": "0.01 mm"}, "depth"),
    (CIRCLES | {"cut": "0 mm"}, "cut"),
    # Skipped positions.
    (CIRCLES | {"skip": [7]}, "skip"),
    (CIRCLES | {"skip": [0]}, "skip"),
    (CIRCLES | {"skip": [2, 2]}, "skip"),
    (CIRCLES | {"skip": "2"}, "skip"),
    (CIRCLES | {"skip": [1, 2, 3, 4, 5, 6]}, "skip"),
    (CIRCLES | {"repeat": 2, "repeat_offset": "5 mm", "skip": [13]}, "skip"),
    # Places.
    (DOTS | {"at": [["5 mm", "5 mm"]]}, "at"),
    ({"shape": "dots", "cutter": "wide", "depth": "0.4 mm", "at": []}, "at"),
    ({"shape": "dots", "cutter": "wide", "depth": "0.4 mm", "at": ["5 mm", "6 mm"]}, "at"),
    ({"shape": "dots", "cutter": "wide", "depth": "0.4 mm", "at": [["5 mm"]]}, "at"),
    ({"shape": "dots", "cutter": "wide", "depth": "0.4 mm", "at": [["5 mm", "6"]]}, "at"),
    ({"shape": "slots", "cutter": "wide", "depth": "0.4 mm", "at": [["5 mm", "6 mm"]]}, "at"),
    # Keys of another shape, and keys that a shape needs.
    (DOTS | {"circle_radius": "5 mm"}, "circle_radius"),
    (DOTS | {"through": "90 deg"}, "through"),
    (DOTS | {"meet": "points"}, "meet"),
    (CIRCLES | {"from": "5 mm"}, "from"),
    (SLOTS | {"offset": "20 mm"}, "offset"),
    (SLOTS | {"about": ["5 mm", "0 mm"]}, "about"),
    ({key: SLOTS[key] for key in SLOTS if key != "to"}, "to"),
    ({key: SLOTS[key] for key in SLOTS if key != "from"}, "from"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "count"}, "count"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "offset"}, "offset"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"}, "circle_radius"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "shape"}, "shape"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "cutter"}, "cutter"),
    ({key: ARCS[key] for key in ARCS if key != "through"}, "through"),
    (SLOTS | {"to": "20 mm"}, "to"),
    (ARCS | {"through": "0 deg"}, "through"),
    (ARCS | {"through": "400 deg"}, "through"),
    (ARCS | {"through": "-90 deg"}, "through"),
    # Conditions.
    (CIRCLES | {"meet": "points"}, "meet"),
    (CIRCLES | {"meet": "edges"}, "meet"),
    (CIRCLES | {"overlap": "1 mm"}, "overlap"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"meet": "points", "outer": "30 mm"}, "outer"),
    ({key: CIRCLES[key] for key in CIRCLES if key not in ("circle_radius", "offset")} | {"meet": "points"}, "offset"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"meet": "points", "spread": "90 deg"}, "meet"),
    (
        {key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"land": "1 mm", "offset_step": "1 mm"},
        "land",
    ),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"touches": 4}, "touches"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"touches": 0}, "touches"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"outer": "15 mm"}, "outer"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "circle_radius"} | {"land": "30 mm"}, "land"),
    ({key: CIRCLES[key] for key in CIRCLES if key != "count"} | {"meet": "points"}, "meet"),
    # Beyond the limits of cutter, slide, head and blank.
    (CIRCLES | {"cutter": "fine", "depth": "2.5 mm"}, "depth"),
    (CIRCLES | {"circle_radius": "26 mm"}, "circle_radius"),
    (CIRCLES | {"circle_radius": "1.5 mm"}, "circle_radius"),
    (CIRCLES | {"circle_radius": "20 mm", "circle_radius_step": "1.2 mm"}, "circle_radius"),
    (DOTS | {"offset": "62 mm"}, "offset"),
    (DOTS | {"offset": "45 mm"}, "offset"),
    (DOTS | {"at": [["45 mm", "0 mm"]], "count": None, "offset": None}, "at"),
    (DOTS | {"count": 300, "repeat": 90, "repeat_offset": "5 mm"}, "20"),
]
OPERATIONS: list[tuple[dict[str, Any], str]] = [
    ({"order": "random"}, "order"),
    ({"layer_order": "any"}, "layer_order"),
    ({"offset_side": "left"}, "offset_side"),
    ({"offset_dial": "tailstock_slide"}, "offset_dial"),
    ({"depth_dial": "quill"}, "depth_dial"),
    ({"with": "eye"}, "with"),
    ({"with": "direct"}, "with"),
    ({"correct": "yes"}, "correct"),
    ({"correct": 1}, "correct"),
    ({"height_error": "0.1"}, "height_error"),
    ({"eccentricity": "-0.1 mm"}, "eccentricity"),
    ({"eccentricity": "0.1 mm", "eccentric_at": "90"}, "eccentric_at"),
    ({"face_runout": "-0.1 mm"}, "face_runout"),
    ({"face_radius": "40 mm"}, "face_radius"),
    ({"face_high_at": "up"}, "face_high_at"),
    ({"blank_diameter": "0 mm"}, "blank_diameter"),
    ({"layer": []}, "layer"),
    ({"layer": [ARCS], "with": "plate"}, "arc"),
    ({"cutter": [WIDE, WIDE]}, "wide"),
    ({"cutter": [{"name": "wide"}]}, "tip_angle"),
    ({"cutter": [{"tip_angle": "90 deg"}]}, "name"),
    ({"cutter": [WIDE | {"tip_angle": "180 deg"}]}, "tip_angle"),
    ({"cutter": [WIDE | {"tip_angle": "0 deg"}]}, "tip_angle"),
    ({"cutter": [WIDE | {"tip_flat": "0.2 mm", "tip_radius": "0.3 mm"}]}, "tip_"),
    ({"cutter": [WIDE | {"tip_radius": "-0.3 mm"}]}, "tip_radius"),
    ({"cutter": [WIDE | {"reach": "0 mm"}]}, "reach"),
    ({"cutter": [WIDE | {"flutes": 2}]}, "flutes"),
]
LATHES: list[tuple[dict[str, Any], str]] = [
    ({"cutter": [{"name": "wide"}]}, "tip_angle"),
    ({"cutter": [WIDE, WIDE]}, "wide"),
    ({"cutter": [WIDE | {"tip_flat": "0.2 mm", "tip_radius": "0.3 mm"}]}, "tip_"),
    ({"cutter": [WIDE | {"reach": "deep"}]}, "reach"),
    ({"cutter": "wide"}, "cutter"),
    ({"dial": {**LATHE["dial"], "boring_head": LATHE["dial"]["boring_head"] | {"least_radius": "30 mm"}}}, "radius"),
    ({"dial": {**LATHE["dial"], "cross_slide": LATHE["dial"]["cross_slide"] | {"travel": "0 mm"}}}, "travel"),
    ({"rotary_table": LATHE["rotary_table"] | {"numbers_rise": "up"}}, "numbers_rise"),
]


def refusals(folder: Path, capsys: pytest.CaptureFixture[str], operation: dict[str, Any], **lathe: Any) -> list[str]:
    """Return the printed lines about a job. The command ends with status 1 and prints nothing else."""
    path = write_files(folder, [operation], LATHE | lathe)
    status = main(["card", str(path), "--data", str(folder), "--format", "json"])
    printed = capsys.readouterr()
    assert status == 1, f"not refused: {operation}"
    assert printed.out == "" and "Traceback" not in printed.err
    return printed.err.splitlines()


def check_lines(lines: list[str], word: str) -> None:
    """Check that each line is a sentence, and that one line contains the word, which is usually the key."""
    assert lines
    for line in lines:
        assert line.endswith(".") and 20 < len(line) < 600 and line.isprintable(), line
        assert "None" not in line and "Error" not in line and "  " not in line, line
    assert any(word in line.casefold() for line in lines), lines


@pytest.mark.parametrize(("layer", "key"), LAYERS)
def test_the_refusal_of_an_invalid_layer_gives_the_layer_number_and_the_wrong_key(
    layer: dict[str, Any], key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The line names file, operation, layer and key."""
    layer = {name: value for name, value in layer.items() if value is not None}
    lines = refusals(tmp_path, capsys, OPERATION | {"layer": [DOTS, layer]})
    check_lines(lines, key)
    assert len(lines) <= 4, lines
    assert all("its_job.toml" in line and "Lid" in line for line in lines), lines
    assert any("layer 2" in line for line in lines), lines


@pytest.mark.parametrize(("keys", "word"), OPERATIONS)
def test_the_refusal_of_an_invalid_key_in_a_pattern_operation_names_the_key(
    keys: dict[str, Any], word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The line names file, operation and key."""
    lines = refusals(tmp_path, capsys, OPERATION | {"layer": [CIRCLES]} | keys)
    check_lines(lines, word)
    assert all("its_job.toml" in line and "Lid" in line for line in lines), lines


@pytest.mark.parametrize(("keys", "word"), LATHES)
def test_an_invalid_lathe_file_is_refused_with_the_name_of_the_file(
    keys: dict[str, Any], word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The faults are in cutters, travel, radii and the direction of the table in the lathe file."""
    lines = refusals(tmp_path, capsys, OPERATION | {"layer": [CIRCLES]}, **keys)
    check_lines(lines, word)
    assert all("its_lathe.toml" in line for line in lines), lines


def test_an_arc_is_refused_if_the_table_can_be_set_only_by_dividing_plates(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A hand feed from hole to hole would stop the cutter in each hole."""
    table = {"ratio": 40, "plates": [[15, 16, 17, 18, 19, 20]]}
    check_lines(refusals(tmp_path, capsys, OPERATION | {"layer": [ARCS]}, rotary_table=table), "arc")


def test_the_message_about_a_missing_rotary_table_says_how_to_add_the_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pattern needs a rotary table."""
    path = write_files(tmp_path, [OPERATION | {"layer": [CIRCLES]}], {"dial": LATHE["dial"]})
    assert main(["card", str(path), "--data", str(tmp_path)]) == 1
    check_lines(capsys.readouterr().err.splitlines(), "rotary_table")


def test_all_errors_of_a_job_file_are_printed_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three layers with one error each, and one error of the operation, give four lines."""
    layers = [CIRCLES | {"count": 0}, DOTS | {"depth": "0 mm"}, SLOTS | {"to": "5"}]
    lines = refusals(tmp_path, capsys, OPERATION | {"layer": layers, "offset_side": "left"})
    assert len(lines) == 4
    for word in ("layer 1", "layer 2", "layer 3", "offset_side"):
        check_lines(lines, word)


@pytest.mark.parametrize("name", ["\x1b[2J", "[bold]wide[/]", "wide\nfine", "漢" * 200, "w" * 1500])
def test_the_refusal_of_an_unknown_cutter_name_prints_no_control_characters(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The output has no control sequence. A layer that names a missing cutter is refused in one line."""
    escaped = name.replace("\x1b", "\\u001b").replace("\n", "\\n")
    lines = refusals(tmp_path, capsys, OPERATION | {"layer": [CIRCLES | {"cutter": escaped}]})
    check_lines(lines, "cutter")


def test_the_valid_job_file_on_which_the_invalid_job_files_are_based_is_accepted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All wrong files differ from this file in one place only."""
    operation = OPERATION | {"layer": [CIRCLES, DOTS, SLOTS, ARCS]}
    path = write_files(tmp_path, [operation], LATHE)
    assert main(["card", str(path), "--data", str(tmp_path), "--format", "json"]) == 0
    assert capsys.readouterr().err == ""
