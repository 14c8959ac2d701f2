"""Numbers that set-up asks the user to confirm, the first question of a chapter, and gaps of a rotary table.

The usual numbers of lathes are common practice, no source.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.lathe.dial_face import first_to_do
from core.lathe.keys.entry import KIND, UNIT, Question
from core.lathe.reader import read_lathe
from core.lathe.set_up.answers import in_unit, unit_of, value_of
from core.lathe.set_up.chapters import Chapter, chapters_of, first_open
from core.lathe.set_up.draft import Draft, answer_problem
from core.lathe.set_up.unusual import missing_for_work, unusual_answers, unusual_number
from core.values.dials import Dial
from core.values.files import read_toml
from tests.core.figures import figures

SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def chapter_of(name: str) -> Chapter:
    """Return a chapter by its name in a draft."""
    return next(chapter for chapter in chapters_of({}) if chapter.name == name)


def question_of(name: str, key: str) -> Question:
    """Return a question by its chapter and key."""
    return next(question for question in chapter_of(name).questions if question.key == key)


def odd(name: str, key: str, typed: str, unit: str = "mm", **table: Any) -> str:
    """Return the sentence about an answer typed with lengths in `unit`."""
    question = question_of(name, key)
    value = value_of(question, typed, unit_of(question, table, unit))
    return unusual_number(chapter_of(name), question, table, value)


def test_every_question_that_asks_for_a_number_has_a_range_of_usual_answers() -> None:
    """The examples of each question are inside this range, in mm and in inches."""
    for chapter in chapters_of({"dial": {"x": {}}}):
        for question in chapter.questions:
            if question.options or (chapter.name, question.key) in {("", "name"), ("gearbox", "levers")}:
                continue
            assert question.usual, (chapter.name, question.key)
            for unit in ("mm", "in"):
                example = in_unit(question.example, unit).removeprefix("mostly ").removeprefix("such as ")
                if example.startswith("empty") or " or " in example:
                    continue
                bare_in = unit_of(question, {}, unit)
                assert unusual_number(chapter, question, {}, value_of(question, example, bare_in)) == ""


@pytest.mark.parametrize("name", ["metric_lathe", "inch_lathe", "mixed_lathe"])
def test_the_sample_lathes_have_no_unusual_numbers(name: str) -> None:
    """There are three sample lathes."""
    tables = read_toml(SAMPLES / f"{name}.toml")
    for chapter in chapters_of(tables):
        table: Any = tables
        for part in chapter.section:
            table = table.get(part, {})
        for question in chapter.questions:
            assert unusual_number(chapter, question, table, table.get(question.key)) == ""


@pytest.mark.parametrize(
    ("name", "key", "typed", "unit", "both"),
    [
        # 0.9 in are 22.86 mm, 25.4 mm to the inch (NIST SP 811, appendix B).
        ("stock", "wires", "0.9", "in", (0.9, 22.86)),
        ("stock", "wires", "0.024 0.9 0.045", "in", (0.9, 22.86)),
        ("stock", "wires", "0.045", "mm", (0.045, 0.001772)),
        ("stock", "wires", "45", "mm", (45, 1.772)),
        ("", "centre_height", "110", "in", (110, 2794)),
        ("", "centre_height", "4.5", "mm", (4.5, 0.1772)),
        ("leadscrew", "pitch", "8", "mm", (8, 3.175)),
        ("leadscrew", "pitch", "3", "in", (3, 8.467)),
        ("chuck", "jaw_lead", "4", "in", (4, 101.6)),
        ("compound", "scale_graduation", "10", "mm", (10, 600)),
        ("rotary_table", "dial_graduation", "200", "mm", (200, 3.333)),
    ],
)
def test_an_unusual_number_is_shown_in_its_own_unit_and_in_another_unit(
    name: str, key: str, typed: str, unit: str, both: tuple[float, float]
) -> None:
    """The number is shown as it was read, and in the other unit."""
    assert set(both) <= {float(number) for number in figures(odd(name, key, typed, unit))}


@pytest.mark.parametrize(
    ("name", "key", "typed", "table"),
    [
        ("dial.compound", "per_turn", "100", {UNIT: "in"}),
        ("dial.compound", "per_turn", "0.1", {UNIT: "thou"}),
        ("dial.cross_slide", "per_turn", "40", {UNIT: "mm"}),
        ("dial.cross_slide", "graduation", "0.2", {UNIT: "mm", "per_turn": "2 mm"}),
        # Ten turns in place of one.
        ("dial.cross_slide", "lead", "20 mm", {"per_turn": "2 mm"}),
        ("dial.cross_slide", "lead", "1", {"per_turn": "40 thou"}),
        ("dial.carriage", "backlash", "1.8", {UNIT: "mm", "per_turn": "2 mm"}),
        ("spindle", "speeds", "70 11500", {}),
        ("spindle", "reaction_time", "10", {}),
        ("rotary_table", "ratio", "720", {}),
        ("rotary_table", "plates", "15 16 / 210 23", {}),
        ("change_gears", "teeth", "20 1270", {}),
        ("change_gears", "fixed_ratio", "1/20", {}),
    ],
)
def test_a_number_ten_times_too_large_or_too_small_is_reported_as_unusual(
    name: str, key: str, typed: str, table: dict[str, Any]
) -> None:
    """Counts, parts of a turn, and items of a list are checked too."""
    assert odd(name, key, typed, "in" if "thou" in str(table) else "mm", **table)


@pytest.mark.parametrize(
    ("name", "key", "typed", "unit", "table"),
    [
        ("stock", "wires", "0.9 1.1 1.35 mm", "in", {}),
        ("stock", "wires", "0.9, 1.1 mm", "in", {}),
        ("stock", "wires", "35 thou", "mm", {}),
        ("dial.cross_slide", "graduation", "0.001", "mm", {UNIT: "in", "per_turn": "0.1 in"}),
        ("dial.cross_slide", "lead", "1 mm", "mm", {"per_turn": "40 thou"}),
        ("dial.cross_slide", "backlash", "0", "mm", {"per_turn": "2 mm"}),
        ("leadscrew", "pitch", "8", "in", {}),
        ("spindle", "coast_turns", "1,5", "mm", {}),
        ("stock", "wires", "0.9 fathoms", "mm", {}),
    ],
)
def test_ordinary_numbers_are_not_reported_as_unusual(
    name: str, key: str, typed: str, unit: str, table: dict[str, Any]
) -> None:
    """The last unit of a list applies to all its numbers. Unreadable numbers are refused elsewhere."""
    assert odd(name, key, typed, unit, **table) == ""


@pytest.mark.parametrize(
    ("name", "key", "typed", "value"),
    [
        ("rotary_table", "ratio", "72:1", 72),
        ("rotary_table", "ratio", "1 : 72", 72),
        ("change_gears", "fixed_ratio", "1:2", "1/2"),
        ("spindle", "range", "50 - 1200", ["50 rpm", "1200 rpm"]),
        ("spindle", "range", "50 to 1200 rpm", ["50 rpm", "1200 rpm"]),
        ("spindle", "speeds", "70,115,190", ["70 rpm", "115 rpm", "190 rpm"]),
        ("stock", "wires", "1/16 3/32 in", ["1/16 in", "3/32 in"]),
        ("stock", "wires", "0.9,1.1", ["0.9 mm", "1.1 mm"]),
    ],
)
def test_numbers_are_accepted_in_the_forms_engraved_on_machines(name: str, key: str, typed: str, value: Any) -> None:
    """A worm's 72:1, two speeds with a dash, commas without a blank, and fractions of an inch are read."""
    question = question_of(name, key)
    assert value_of(question, typed, unit_of(question, {})) == value
    assert not answer_problem(Draft(path=Path("lathe.toml")), chapter_of(name), question, value)


@pytest.mark.parametrize(
    ("key", "value", "is_wrong"),
    [("per_turn", "4 mm", True), ("per_turn", "0.1 in", False), ("backlash", "0.2 mm", False)],
)
def test_numbers_in_a_unit_other_than_that_of_their_dial_are_reported(key: str, value: str, is_wrong: bool) -> None:
    """A dial in thou has no marks in millimetres. Its backlash may come from an indicator in mm."""
    chapter = chapter_of("dial.compound")
    draft = Draft(path=Path("lathe.toml")).answered(chapter, question_of("dial.compound", UNIT), "thou")
    draft = draft.answered(chapter, question_of("dial.compound", "graduation"), "1 thou")
    assert bool(answer_problem(draft, chapter, question_of("dial.compound", key), value)) is is_wrong


def test_a_range_of_speeds_with_only_one_speed_is_refused() -> None:
    """The refusal uses the words of the question, not those of the file."""
    lone = answer_problem(
        Draft(path=Path("lathe.toml")), chapter_of("spindle"), question_of("spindle", "range"), ["50 rpm"]
    )
    assert "[" not in lone and figures(lone) == {"50", "1200"}


@pytest.mark.parametrize(
    ("name", "table", "key"),
    [
        ("dial.compound", {}, KIND),
        ("dial.compound", {KIND: "dial"}, UNIT),
        ("dial.compound", {KIND: "dial", UNIT: "mm"}, "per_turn"),
        ("dial.compound", {KIND: "dial", UNIT: "mm", "per_turn": "2 mm", "reads": "travel"}, "graduation"),
        ("dial.compound", {"per_turn": "2 mm", "graduation": "0.02 mm", "clockwise": "in"}, "reads"),
        ("dial.compound", {"per_turn": "2 mm", "graduation": "0.03 mm", "reads": "travel"}, "graduation"),
        ("rotary_table", {KIND: "there"}, "ratio"),
        ("rotary_table", {"ratio": 72}, "dial_graduation"),
        ("compound", {"scale_end": "60 deg"}, "scale_zero"),
    ],
)
def test_a_chapter_of_set_up_starts_at_its_first_unanswered_question(
    name: str, table: dict[str, Any], key: str
) -> None:
    """A question with a wrong answer counts as unanswered."""
    chapter = chapter_of(name)
    assert chapter.asked(table)[first_open(chapter, table)].key == key


def test_a_rotary_table_without_marks_plates_or_notches_is_incomplete() -> None:
    """A ratio alone sets no angle. Any one of the three does."""
    chapter = chapter_of("rotary_table")
    assert missing_for_work(chapter, {"ratio": 72}) and unusual_answers(chapter, {"ratio": 72})
    for more in ({"dial_graduation": "2 arcmin"}, {"plates": [[15, 16]]}, {"direct": [24]}):
        assert not missing_for_work(chapter, {"ratio": 72, **more}) and not unusual_answers(
            chapter, {"ratio": 72, **more}
        )
    assert not missing_for_work(chapter, {}) and not missing_for_work(chapter_of("chuck"), {"jaw_lead": "4 mm"})


def test_the_first_instruction_is_to_take_up_backlash_in_the_direction_of_the_reading() -> None:
    """In for a reading inwards, out for one outwards. A fixed dial cannot be zeroed. A readout has no backlash."""
    lathe = read_lathe(SAMPLES / "metric_lathe.toml")
    dial = lathe.dials["cross_slide"]
    assert " in until the backlash" in first_to_do(dial, "0.5") and " out until" in first_to_do(dial, "-0.5")
    assert dial.reading_text(dial.backlash) in first_to_do(dial, "0.5") or not dial.backlash
    fixed = replace(dial, can_zero=False)
    assert "to 0" not in first_to_do(fixed, "0.5")
    readout = Dial(name="x", unit="mm", graduation=dial.graduation)
    assert "backlash" not in first_to_do(readout, "0.5")
