"""The list of lathe keys is complete, and every entry is read, written and asked for."""

import subprocess
import sys
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import MISSING, fields
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.lathe.keys.entry import Part
from core.lathe.keys.table import PARTS
from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.lathe.set_up.chapters import CUTTERS, chapters_of, cutter_chapter
from core.lathe.set_up.measuring import MEASURING_METHODS
from core.lathe.writer import is_untouched, lathe_text
from core.values.dials import Dial
from core.values.errors import FileError
from core.values.files import parse_toml
from tests.core.lathe.test_lathe_writer import FULL

ROOT = Path(__file__).parents[3]
WRITTEN = ROOT / "tests" / "golden" / "lathes"
EARLIER = ROOT / "tests" / "golden" / "earlier_lathes"

# The format page that users rely on, table by table in its order. `speeds` also covers `range`.
FORMAT_PAGE: Mapping[str, str] = {
    "": "format name centre_height",
    "dial": "per_turn graduation reads lead backlash clockwise numbers can_zero travel most_speed least_radius "
    "most_radius",
    "compound": "scale_zero scale_graduation scale_end",
    "leadscrew": "pitch",
    "thread_dial": "teeth lines",
    "change_gears": "teeth fixed_ratio",
    "gearbox": "pitches levers",
    "spindle": "speeds range reaction_time coast_turns nose most_speed",
    "rotary_table": "ratio numbers_rise dial_graduation vernier plates direct backlash",
    "indicator": "graduation kind",
    "chuck": "jaw_lead jaw_face",
    "stock": "wires shims bars protractor",
    "cutter": "name tip_angle tip_flat tip_radius reach",
}
# Keys of that page that the program does not read yet. Remove a key from this list when you add it.
NOT_YET: Mapping[str, set[str]] = {}
# No question asks for the version of the file, nor at most dials for a speed or a radius. A cutter is added by its
# name, and a boring head is not a slide.
NOT_ASKED = {
    ("", "format"), ("dial.compound", "most_speed"), ("dial.compound", "least_radius"),
    ("dial.compound", "most_radius"), ("dial.boring_head", "travel"), ("cutter.fine", "name"),
}  # fmt: skip
# Every key, each with a value other than the default.
EVERY: dict[str, Any] = {
    **deepcopy(FULL),
    "dial": {
        "boring_head": {
            "per_turn": "40 thou", "graduation": "1 thou", "reads": "diameter", "lead": "1 mm", "backlash": "2 thou",
            "clockwise": "in", "numbers": "fall", "can_zero": False, "travel": "30 mm", "most_speed": "2000 rpm",
            "least_radius": "3 mm", "most_radius": "1 in",
        }
    },
    "compound": {"scale_zero": "parallel", "scale_graduation": "0.5 deg", "scale_end": "60 deg"},
    "spindle": FULL["spindle"] | {"reaction_time": "1.5 s"},
    "rotary_table": FULL["rotary_table"] | {"numbers_rise": "anticlockwise"},
    "indicator": {"graduation": "1 thou", "kind": "lever"},
    "stock": FULL["stock"] | {"protractor": "0.5 deg"},
    "cutter": FULL["cutter"][:1],
}  # fmt: skip
ROUND = EVERY | {"cutter": [{"name": "round", "tip_angle": "90 deg", "tip_radius": "0.4 mm"}]}
STEPLESS = EVERY | {"spindle": {"range": ["50 rpm", "1200 rpm"]}}


ENTRIES = [(part, name) for part in PARTS for name in part.keys]


def table_of(data: Any, section: str) -> Any:
    """Return the table of a part. For dials it is that of the boring head, for cutters the first."""
    found = data[section] if section else data
    return found["boring_head"] if section == "dial" else found[0] if section == "cutter" else found


def test_the_keys_of_a_lathe_file_are_exactly_the_documented_ones() -> None:
    """The list has all keys that are built, and no others."""
    page = {section: set(names.split()) - NOT_YET.get(section, set()) for section, names in FORMAT_PAGE.items()}
    assert {part.section: set(part.keys) for part in PARTS} == page


def unfilled(value: Any, name: str) -> Iterator[str]:
    """Yield the fields of a lathe and its parts that have their default value."""
    if isinstance(value, Lathe | Dial):
        defaults = {
            field.name: field.default_factory() if field.default_factory is not MISSING else field.default
            for field in fields(value)
        }
    elif hasattr(value, "_field_defaults"):
        defaults = dict.fromkeys(value._fields, MISSING) | value._field_defaults
    else:
        return
    for field, default in defaults.items():
        held = getattr(value, field)
        if held == default:
            yield f"{name}.{field}"
        for inner in held.values() if isinstance(held, dict) else held if field == "cutters" else [held]:
            yield from unfilled(inner, f"{name}.{field}")


def test_every_field_of_a_lathe_can_be_set_by_a_key_of_the_lathe_file() -> None:
    """Without a key, a field would keep its default. Speeds and range, and flat and round, exclude each other."""
    assert set(unfilled(lathe_from(EVERY, "test"), "lathe")) == {
        "lathe.example", "lathe.spindle.range_rpm", "lathe.cutters.tip_radius_mm",
    }  # fmt: skip
    assert "lathe.spindle.range_rpm" not in set(unfilled(lathe_from(STEPLESS, "test"), "lathe"))
    assert "lathe.cutters.tip_radius_mm" not in set(unfilled(lathe_from(ROUND, "test"), "lathe"))


@pytest.mark.parametrize(("part", "name"), ENTRIES, ids=[f"{part.section}.{name}" for part, name in ENTRIES])
def test_every_key_of_a_lathe_file_is_read_and_is_written_with_its_comment(part: Part, name: str) -> None:
    """Without the key the lathe differs or is refused. Its comment is next to it or above it in the file."""
    whole = STEPLESS if name == "range" else ROUND if name == "tip_radius" else EVERY
    data, comment = deepcopy(whole), part.keys[name].comment
    whole, text = lathe_from(data, "test"), lathe_text(data)
    assert comment and any(
        line.startswith(f"{name} = ") and (f"  # {comment}" in line or f"# {comment}" == before)
        for before, line in zip(text.split("\n"), text.split("\n")[1:], strict=False)
    )
    told = table_of(parse_toml(text, Path("test")), part.section)
    assert told[name] == table_of(data, part.section)[name]
    del table_of(data, part.section)[name]
    try:
        assert lathe_from(data, "test") != whole
    except FileError as refusal:
        assert name in " ".join(refusal.messages)


def test_the_keys_of_a_lathe_file_are_written_in_the_order_of_the_list_of_keys() -> None:
    """Keys follow this order inside each table of the file."""
    written = parse_toml(lathe_text(EVERY), Path("test"))
    for part in PARTS:
        table = table_of(written, part.section).items()
        written_keys = [name for name, value in table if not isinstance(value, dict) and name != "cutter"]
        assert written_keys == [name for name in part.keys if name in written_keys]
    sections = [name for name in written if name not in PARTS[0].keys]
    assert sections == [part.section for part in PARTS[1:]]


@pytest.mark.parametrize("path", sorted(WRITTEN.iterdir()), ids=lambda path: path.stem)
def test_set_up_writes_lathe_files_that_equal_the_recorded_files_exactly(path: Path) -> None:
    """Every character is the same, so the file changes only on purpose."""
    text = path.read_text(encoding="utf-8")
    assert is_untouched(text) and lathe_text(parse_toml(text, path)) == text


@pytest.mark.parametrize("path", sorted(EARLIER.iterdir()), ids=lambda path: path.stem)
def test_a_lathe_file_written_by_an_earlier_version_counts_as_unedited(path: Path) -> None:
    """The file's comments were worded differently. Its seal and its lathe are the same."""
    text = path.read_text(encoding="utf-8")
    assert is_untouched(text)
    assert parse_toml(lathe_text(parse_toml(text, path)), path) == parse_toml(text, path)


def test_set_up_asks_exactly_once_for_every_key_of_a_lathe_file() -> None:
    """The file accepts the options. The keys and methods that a question names exist."""
    for chapter in (*chapters_of({}), cutter_chapter("fine")):
        if chapter == CUTTERS:
            continue
        part = next(part for part in PARTS if part.section == chapter.name.partition(".")[0])
        asked = {question.key: question for question in chapter.questions}
        assert len(asked) == len(chapter.questions)
        known = {
            option.value for question in chapter.questions if question.key == "~kind" for option in question.options
        }
        for name, key in part.keys.items():
            question = asked.get(name)
            if question is None:
                plain_dial = chapter.dial and chapter.dial != "boring_head"
                assert ("dial.compound" if plain_dial else chapter.name, name) in NOT_ASKED
                continue
            offered = {option.value for option in question.options} - {None}
            assert offered == {"word": set(key.form.words), "flag": {True, False}}.get(key.form.name, set())
            assert not key.form.kind or key.form.unit
            assert not question.measuring or question.measuring in MEASURING_METHODS
            assert known >= set(question.when)
            assert {question.beside, question.share[0] if question.share else ""} - {""} <= asked.keys()


def test_reading_a_lathe_file_does_not_import_the_set_up_modules() -> None:
    """Set-up is loaded only when it asks."""
    code = (
        "import sys; from core.lathe.reader import example_lathe; example_lathe(); "
        "sys.exit(any(name.startswith('core.lathe.set_up') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


@pytest.mark.parametrize("pitch", ["-1 mm", "0 mm"])
def test_a_gearbox_pitch_of_0_or_below_is_refused(pitch: str) -> None:
    """A wrong pitch is never silently dropped."""
    data = {"format": 1, "name": "Bench", "dial": {"compound": {"per_turn": "2 mm", "graduation": "0.02 mm"}}}
    with pytest.raises(FileError, match=r"\[gearbox\], pitches: .* must be above 0"):
        lathe_from({**data, "gearbox": {"pitches": ["1 mm", pitch]}}, "bench.toml")


def test_lever_positions_for_fewer_pitches_than_the_gearbox_has_are_refused() -> None:
    """With one entry for two pitches, nobody knows which pitch has it."""
    data = {key: value for key, value in EVERY.items() if key != "gearbox"}
    with pytest.raises(FileError, match=r"\[gearbox\], levers: There are 2 pitches, but lever positions for 1"):
        lathe_from({**data, "gearbox": {"pitches": ["1 mm", "2 mm"], "levers": "A 1"}}, "bench.toml")
    lathe = lathe_from({**data, "gearbox": {"pitches": ["1 mm", "2 mm"], "levers": "A 1, B 2"}}, "bench.toml")
    assert [lathe.levers_for(Fraction(pitch)) for pitch in (1, 2, 3)] == ["A 1", "B 2", ""]
