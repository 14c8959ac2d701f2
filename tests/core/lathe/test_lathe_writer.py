"""Lathe files written by set-up read back the same, and never replace a file edited by hand."""

import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.lathe.dial_face import show_reading
from core.lathe.reader import EXAMPLE_FILE, example_lathe, lathe_from, read_lathe
from core.lathe.writer import is_untouched, lathe_text, write_lathe
from core.values.errors import FileError, QuantityError
from core.values.files import read_toml
from tests.core.figures import figures

# Every key that a lathe file may hold. SMALL has `range` in place of `speeds`.
FULL: dict[str, Any] = {
    "format": 1,
    "name": 'Bench "lathe" \\ 5½',
    "centre_height": "110 mm",
    "dial": {
        "cross_slide": {
            "per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter", "lead": "2 mm", "backlash": "0.4 mm",
            "clockwise": "in", "numbers": "rise", "can_zero": True, "travel": "120 mm",
        },
        "boring_head": {
            "per_turn": "0.050 in", "graduation": "0.001 in", "reads": "diameter", "most_speed": "2000 rpm",
            "can_zero": False, "least_radius": "3 mm", "most_radius": "25 mm",
        },
        "größe_2": {"graduation": "0.01 mm", "reads": "travel", "numbers": "fall"},
    },
    "compound": {"scale_zero": "parallel", "scale_graduation": "1 deg", "scale_end": "60 deg"},
    "leadscrew": {"pitch": "8 tpi"},
    "thread_dial": {"teeth": [14, 15, 16], "lines": [2, 3, 4]},
    "change_gears": {"teeth": [20, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 127], "fixed_ratio": "1/2"},
    "gearbox": {"pitches": ["0.5 mm", "1 mm", "20 tpi"], "levers": "A 1, A 2, B 1"},
    "spindle": {
        "speeds": ["70 rpm", "115 rpm"], "reaction_time": "1.0 s", "coast_turns": 1.5, "nose": "screwed",
        "most_speed": "1200 rpm",
    },
    "rotary_table": {
        "ratio": 72, "numbers_rise": "clockwise", "dial_graduation": "2 arcmin", "vernier": "10 arcsec",
        "plates": [[15, 16, 17], [21, 23]],
        "direct": [24, 60], "backlash": "3 arcmin",
    },
    "indicator": {"graduation": "0.01 mm", "kind": "lever"},
    "chuck": {"jaw_lead": "4 mm", "jaw_face": "narrow"},
    "stock": {"wires": ["0.9 mm", "1.1 mm"], "shims": ["0.05 mm"], "bars": ["6 mm", "6 mm", "0.25 in"]},
    "cutter": [
        {"name": "wide, [flat]", "tip_angle": "120 deg", "tip_flat": "0.2 mm", "reach": "4 mm"},
        {"name": "fine", "tip_angle": "60 deg"},
    ],
}  # fmt: skip
SMALL: dict[str, Any] = {
    "format": 1,
    "name": "x",
    "spindle": {"range": ["50 rpm", "1200 rpm"]},
    "chuck": {},
    "dial": {},
}


@pytest.mark.parametrize("data", [FULL, SMALL, dict(read_toml(EXAMPLE_FILE))], ids=["full", "small", "example"])
def test_a_written_lathe_file_is_read_back_as_the_same_lathe(data: dict[str, Any], tmp_path: Path) -> None:
    """The file gives the same lathe, the same tables in Python's TOML reader, and has a seal."""
    path = write_lathe(tmp_path / "deep" / "lathe.toml", data)
    text = path.read_text(encoding="utf-8")
    assert read_lathe(path) == lathe_from(data, "test")
    assert tomllib.loads(text) == {key: value for key, value in data.items() if value != {}}
    assert is_untouched(text)


def test_every_key_of_a_lathe_file_is_written_with_a_comment() -> None:
    """The comment is on the key's line, or above it for a list."""
    lines = lathe_text(FULL).split("\n")
    for number, line in enumerate(lines):
        key, equals, value = line.partition(" = ")
        if equals and not line.startswith("#"):
            assert "  # " in value or lines[number - 1].startswith("# "), key


def test_an_unedited_lathe_file_is_replaced(tmp_path: Path) -> None:
    """Set-up may replace a file that it wrote itself."""
    path = tmp_path / "lathe.toml"
    assert write_lathe(path, SMALL) == path
    assert write_lathe(path, FULL) == path
    assert read_lathe(path) == lathe_from(FULL, "test")
    assert [file.name for file in tmp_path.iterdir()] == ["lathe.toml"]


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("50 rpm", "60 rpm"),
        lambda text: text + "# my note\n",
        lambda text: "# my note\n" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.rstrip("\n"),
        lambda text: "",
        lambda text: "no TOML [",
        lambda text: EXAMPLE_FILE.read_text(encoding="utf-8"),
    ],
)
def test_a_lathe_file_edited_by_hand_is_kept(change: Any, tmp_path: Path) -> None:
    """Every byte stays, and the new file goes next to it."""
    path = write_lathe(tmp_path / "lathe.toml", SMALL)
    changed = change(path.read_text(encoding="utf-8")).encode()
    path.write_bytes(changed)
    assert write_lathe(path, FULL) == tmp_path / "lathe-2.toml"
    assert write_lathe(path, SMALL) == tmp_path / "lathe-3.toml"
    assert path.read_bytes() == changed
    assert read_lathe(tmp_path / "lathe-2.toml") == lathe_from(FULL, "test")


def test_writing_a_lathe_file_never_replaces_a_folder_a_link_or_a_binary_file(tmp_path: Path) -> None:
    """The lathe file is written next to them."""
    (tmp_path / "a.toml").mkdir()
    (tmp_path / "b.toml").symlink_to(tmp_path / "nowhere")
    (tmp_path / "c.toml").write_bytes(b"\0\xff")
    for name in "abc":
        assert write_lathe(tmp_path / f"{name}.toml", SMALL) == tmp_path / f"{name}-2.toml"
    assert not (tmp_path / "nowhere").exists()


def test_a_lathe_file_with_errors_is_not_written(tmp_path: Path) -> None:
    """All their errors are listed together."""
    bad = {"format": 1, "name": "", "dial": {"compound": {"graduation": "3 deg", "reads": "radius"}}, "wheels": 4}
    with pytest.raises(FileError) as refusal:
        write_lathe(tmp_path / "lathe.toml", bad)
    assert len(refusal.value.messages) >= 4
    assert not list(tmp_path.iterdir())


def test_writing_a_lathe_file_to_a_folder_that_cannot_be_created_is_refused(tmp_path: Path) -> None:
    """The refusal is a sentence, not a traceback."""
    (tmp_path / "config").write_text("")
    with pytest.raises(FileError, match="config: The folder cannot be created"):
        write_lathe(tmp_path / "config" / "lathe.toml", SMALL)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(min_size=1, max_size=80), st.lists(st.integers(8, 400), min_size=1, max_size=60))
def test_any_lathe_name_and_change_gears_are_either_read_back_unchanged_or_refused(name: str, teeth: list[int]) -> None:
    """Names and lists of wheels are drawn at random."""
    data = {"format": 1, "name": name, "change_gears": {"teeth": teeth}}
    try:
        wanted = lathe_from(data, "test")
    except FileError:
        return
    text = lathe_text(data)
    assert lathe_from(tomllib.loads(text), "test") == wanted
    assert is_untouched(text)
    assert all(len(line) < 2000 for line in text.split("\n"))


def test_the_dial_readings_shown_for_a_position_match_a_hand_calculation() -> None:
    """0.42 in marks of 0.02 mm is mark 21. 5.03 on a diameter dial is between marks. A 1 mm screw is marked 40 thou."""
    lathe = example_lathe()
    shown = "\n".join(show_reading(lathe.dials["compound"], "0.42"))
    assert {"0.42", "21", "100", "16.535", "0.84"} <= figures(shown) and "clockwise" in shown
    shown = "\n".join(show_reading(lathe.dials["cross_slide"], "5.03 mm"))
    assert {"1", "1.05", "2.525", "5.05"} <= figures(shown)
    false_engraving = lathe_from(
        {"format": 1, "name": "x", "dial": {"compound": {"per_turn": "40 thou", "graduation": "1 thou",
        "reads": "travel",
                                                         "lead": "1 mm", "numbers": "fall", "clockwise": "out"}}},
        "test",
    ).dials["compound"]  # fmt: skip
    assert false_engraving.mm_per_unit * Fraction(40, 1000) == 1
    shown = "\n".join(show_reading(false_engraving, "20 thou"))
    assert {"0.5", "0.019685"} <= figures(shown) and "out" in shown


@pytest.mark.parametrize("text", ["", "x", "5 deg", "15 thou", "5 mil", "1e9", "999999999"])
def test_a_text_that_is_not_a_dial_position_is_refused(text: str) -> None:
    """The refusal comes before anything is shown."""
    with pytest.raises(QuantityError):
        show_reading(example_lathe().dials["compound"], text)
