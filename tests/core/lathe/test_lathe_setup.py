"""Set-up of the lathe: answers become the lathe file, drafts survive, and edits by hand are kept."""

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.keys.entry import KIND, OWN_KEY, UNIT, Question
from core.lathe.reader import lathe_from, read_lathe
from core.lathe.set_up.answers import sizes_in, typed_text, unit_of, value_of
from core.lathe.set_up.chapters import (
    CUTTERS,
    NOT_ANSWERED,
    Chapter,
    chapters_of,
    cutter_chapters,
    deleted_answers,
    summary,
)
from core.lathe.set_up.cutters import by_name
from core.lathe.set_up.draft import Draft, answer_problem, draft_path, read_draft, save_draft
from core.lathe.set_up.in_use import own_lathe, use_lathe
from core.lathe.set_up.lathes import export_lathe, lathes_in, new_lathe
from core.lathe.set_up.saving import lathe_as_answered, save_answers, unfinished
from core.lathe.set_up.unusual import unusual_answers
from core.lathe.writer import is_untouched, write_lathe
from core.values.errors import FileError
from core.values.files import read_toml
from tests.core.figures import figures

ROOT = Path(__file__).parents[3]
SAMPLES = sorted(ROOT.glob("sample_jobs/*_lathe.toml"))
STAND_IN = ROOT / "core" / "data" / "example_lathe.toml"
EVERY_KEY = ROOT / "tests" / "golden" / "lathes" / "every_key.toml"


def chapter_of(name: str, tables: dict[str, Any] | None = None) -> Chapter:
    """Return a chapter by its name in a draft."""
    return next(chapter for chapter in chapters_of(tables or {}) if chapter.name == name)


def answered(draft: Draft, name: str, **answers: Any) -> Draft:
    """Return the draft with answers to questions of a chapter, in order. Set-up's own keys are _kind and _unit."""
    chapter = chapter_of(name)
    for key, value in answers.items():
        key = key.replace("_", OWN_KEY, 1) if key.startswith("_") else key
        question = next(question for question in chapter.questions if question.key == key)
        draft = draft.answered(chapter, question, value)
    return draft


def typed_anew(question: Question, table: dict[str, Any]) -> Any:
    """Return the value of an answer after the user types or chooses it again."""
    if question.options:
        (option,) = [option for option in question.options if option.value == table[question.key]]
        return option.value
    return value_of(question, typed_text(question, table[question.key]), unit_of(question, table))


@pytest.mark.parametrize("path", [*SAMPLES, STAND_IN, EVERY_KEY], ids=lambda path: path.stem)
def test_entering_every_value_of_a_sample_lathe_in_set_up_recreates_that_lathe(path: Path, tmp_path: Path) -> None:
    """Every key of a sample lathe is answered, question by question."""
    assert SAMPLES
    wanted = read_toml(path)
    draft, named = read_draft(tmp_path / "lathe.toml"), by_name(wanted)
    for chapter in (*chapters_of(named), *cutter_chapters(named)):
        table = {} if chapter == CUTTERS else Draft(path=path, filed=named).table(chapter.section)
        for index, question in enumerate(chapter.questions):
            if question.key in table:
                assert question in chapter.asked(table)
                value = typed_anew(question, table)
                assert answer_problem(draft, chapter, question, value) == ""
                draft = draft.answered(chapter, question, value, index)
        if table:
            assert set(table) - {"format"} <= {question.key for question in chapter.questions} | set(wanted)
    kept = save_answers(draft)
    assert kept.written
    assert read_lathe(tmp_path / "lathe.toml") == lathe_from(wanted, "test")
    assert tomllib.loads((tmp_path / "lathe.toml").read_text(encoding="utf-8")) == wanted
    assert not draft_path(tmp_path / "lathe.toml").exists()


@pytest.mark.parametrize(
    ("chapter", "key", "typed", "stands"),
    [
        ("rotary_table", "plates", "15 16, 17 / 21 23 ; 27", [[15, 16, 17], [21, 23], [27]]),
        ("rotary_table", "plates", "15 16 17, 21 23 27", [[15, 16, 17], [21, 23, 27]]),
        ("rotary_table", "plates", "15, 16, 17", [[15, 16, 17]]),
        ("rotary_table", "direct", "24,60", [24, 60]),
        ("rotary_table", "ratio", "72", 72),
        ("rotary_table", "dial_graduation", "2", "2 arcmin"),
        ("rotary_table", "vernier", "0d0m10s", "0d0m10s"),
        ("spindle", "speeds", "70 115  190", ["70 rpm", "115 rpm", "190 rpm"]),
        ("spindle", "coast_turns", "1,5", 1.5),
        ("stock", "wires", "0,9 1,35", ["0,9 mm", "1,35 mm"]),
        ("stock", "wires", "0.9 mm; 1 1/4 in, 45 thou", ["0.9 mm", "1 1/4 in", "45 thou"]),
        ("stock", "wires", ".5 1", ["0.5 mm", "1 mm"]),
        ("stock", "wires", "45thou 0.9 mm; 1.1 1.35", ["45thou", "0.9 mm", "1.1 mm", "1.35 mm"]),
        ("stock", "shims", "0.05 0.1mm", ["0.05 0.1mm"]),
        ("leadscrew", "pitch", "8 tpi", "8 tpi"),
        ("leadscrew", "pitch", "3", "3 mm"),
        ("change_gears", "teeth", "20 20 25", [20, 20, 25]),
        ("", "name", "Lathe [5/8] 3", "Lathe [5/8] 3"),
    ],
)
def test_typed_answers_become_values_of_the_lathe_file(chapter: str, key: str, typed: str, stands: Any) -> None:
    """Blanks, commas or semicolons separate a list. A bare number gets the unit of its field."""
    question = next(question for question in chapter_of(chapter).questions if question.key == key)
    assert value_of(question, typed, unit_of(question, {})) == stands


def test_sizes_without_a_unit_are_read_as_inches_if_the_cross_slide_dial_is_in_inches() -> None:
    """Bare pitches are in threads to the inch."""
    draft = answered(Draft(path=Path("x")), "dial.cross_slide", per_turn="0.1 in", graduation="1 thou", reads="travel")
    assert sizes_in(draft.tables) == lathe_as_answered(draft).unit == "in"
    pitch, wires = chapter_of("leadscrew").questions[0], chapter_of("stock").questions[0]
    assert value_of(pitch, "8", unit_of(pitch, {}, "in")) == "8 tpi"
    assert value_of(wires, "0.045 .055", unit_of(wires, {}, "in")) == ["0.045 in", "0.055 in"]


@pytest.mark.parametrize(
    ("chapter", "before", "key", "value"),
    [
        ("dial.compound", {}, "per_turn", "4"),
        ("dial.compound", {}, "per_turn", "-4 mm"),
        ("dial.compound", {}, "per_turn", "4 tenths"),
        ("dial.compound", {"per_turn": "4 mm"}, "graduation", "0.3 mm"),
        ("dial.compound", {"per_turn": "4 mm"}, "graduation", "1 thou"),
        ("dial.compound", {"per_turn": "4 mm"}, "backlash", "-0.1 mm"),
        ("dial.boring_head", {}, "most_speed", "fast"),
        ("compound", {}, "scale_graduation", "90 deg"),
        ("leadscrew", {}, "pitch", "8 threads"),
        ("thread_dial", {"teeth": [14, 15]}, "lines", [2]),
        ("change_gears", {}, "teeth", [20, "x"]),
        ("change_gears", {"teeth": [20]}, "fixed_ratio", "0.5"),
        ("gearbox", {}, "pitches", ["1"]),
        ("spindle", {}, "speeds", ["0 rpm"]),
        ("spindle", {}, "range", ["1200 rpm", "50 rpm"]),
        ("spindle", {}, "coast_turns", "some"),
        ("rotary_table", {}, "ratio", "x"),
        ("rotary_table", {"ratio": 72}, "dial_graduation", "7 arcmin"),
        ("rotary_table", {}, "plates", [[1]]),
        ("rotary_table", {}, "plates", [["a"]]),
        ("indicator", {}, "graduation", "2 mm"),
        ("stock", {}, "shims", ["0 mm"]),
        ("", {}, "name", "x" * 81),
        ("", {}, "centre_height", "0 mm"),
    ],
)
def test_a_wrong_answer_in_set_up_gets_the_same_message_as_a_wrong_value_in_a_lathe_file(
    chapter: str, before: dict[str, Any], key: str, value: Any, tmp_path: Path
) -> None:
    """Set-up shows the sentence that the reader gives for this key in a lathe file."""
    draft = answered(Draft(path=tmp_path / "lathe.toml"), chapter, **before)
    asked = chapter_of(chapter)
    question = next(question for question in asked.questions if question.key == key)
    wrong = answer_problem(draft, asked, question, value)
    assert wrong
    tables = {"format": 1, "name": "x", **draft.answered(asked, question, value).tables}
    with pytest.raises(FileError) as refusal:
        lathe_from(tables, "file")
    assert any(message.endswith(f"{key}: {wrong}") for message in refusal.value.messages)


def test_an_incomplete_dial_stays_in_the_draft_of_the_lathe(tmp_path: Path) -> None:
    """All other answers are written. When complete, the dial is written too."""
    path = tmp_path / "lathe.toml"
    draft = answered(read_draft(path), "leadscrew", pitch="3 mm")
    draft = answered(draft, "dial.compound", _kind="dial", per_turn="2 mm", graduation="0.02 mm")
    kept = save_answers(draft)
    assert read_toml(path) == {"format": 1, "name": "My lathe", "leadscrew": {"pitch": "3 mm"}}
    (waits,) = unfinished(kept.draft)
    reads = next(question for question in chapter_of("dial.compound").questions if question.key == "reads")
    assert waits.startswith("Compound") and waits.endswith(reads.asked)
    again = read_draft(path)
    assert again.table(("dial", "compound"))["per_turn"] == "2 mm"
    kept = save_answers(answered(again, "dial.compound", reads="travel"))
    assert read_lathe(path).dials["compound"].per_turn == 2
    assert unfinished(kept.draft) == ()
    assert not draft_path(path).exists()


def test_an_incomplete_change_of_a_dial_leaves_that_dial_in_the_lathe_file_unchanged(tmp_path: Path) -> None:
    """A dial in inches still has marks in mm. The file keeps its dial until both are answered."""
    path = tmp_path / "lathe.toml"
    write_lathe(path, read_toml(ROOT / "sample_jobs" / "metric_lathe.toml"))
    before = path.read_bytes()
    kept = save_answers(answered(read_draft(path), "dial.compound", per_turn="100 thou"))
    assert not kept.written
    assert path.read_bytes() == before
    save_answers(answered(read_draft(path), "dial.compound", graduation="1 thou", backlash=None))
    assert read_lathe(path).dials["compound"].unit == "in"


def test_saving_answers_does_not_replace_a_lathe_file_edited_by_hand(tmp_path: Path) -> None:
    """Every byte stays. The answers go into a new file next to it, which is in use from now on."""
    path = tmp_path / "lathe.toml"
    write_lathe(path, read_toml(STAND_IN))
    changed = path.read_text(encoding="utf-8").replace('pitch = "3 mm"', 'pitch = "2 mm"')
    path.write_text(changed, encoding="utf-8")
    kept = save_answers(answered(read_draft(path), "spindle", nose="screwed"))
    assert path.read_text(encoding="utf-8") == changed
    assert kept.beside == path
    assert kept.draft.path == own_lathe(tmp_path) == tmp_path / "lathe-2.toml"
    assert "lathe-2.toml" in kept.sentence
    new = read_lathe(tmp_path / "lathe-2.toml")
    assert (new.leadscrew_mm, new.spindle.nose) == (2, "screwed")
    save_answers(answered(read_draft(kept.draft.path), "spindle", nose="cam"))
    assert sorted(file.name for file in tmp_path.glob("*.toml")) == ["lathe-2.toml", "lathe.toml"]


def test_edits_by_hand_in_a_lathe_file_are_merged_with_the_answers_in_the_draft(tmp_path: Path) -> None:
    """An edit made while answers wait in the draft is kept, unless the same key was answered."""
    path = tmp_path / "lathe.toml"
    write_lathe(path, read_toml(STAND_IN))
    draft = answered(read_draft(path), "spindle", nose="screwed")
    save_draft(draft)
    path.write_text(path.read_text(encoding="utf-8").replace('pitch = "3 mm"', 'pitch = "2 mm"'), encoding="utf-8")
    lathe = read_lathe(save_answers(draft).draft.path)
    assert (lathe.leadscrew_mm, lathe.spindle.nose) == (2, "screwed")


def test_saving_unchanged_answers_writes_no_file(tmp_path: Path) -> None:
    """Nothing is written, not even next to a file edited by hand."""
    path = tmp_path / "lathe.toml"
    path.write_bytes((ROOT / "sample_jobs" / "metric_lathe.toml").read_bytes())
    draft = answered(read_draft(path), "leadscrew", pitch="3 mm")
    assert not save_answers(draft).written
    assert [file.name for file in tmp_path.iterdir() if file.is_file()] == ["lathe.toml"]


def test_answering_that_a_slide_has_a_readout_or_no_dial_deletes_keys_of_the_old_dial(tmp_path: Path) -> None:
    """A missing dial is deleted, and a readout loses its turns. Set-up remembers the answer."""
    path = tmp_path / "lathe.toml"
    write_lathe(path, read_toml(STAND_IN))
    draft = answered(read_draft(path), "dial.carriage", _kind="none")
    draft = answered(draft, "dial.compound", _kind="readout", graduation="0.005 mm")
    draft = save_answers(draft).draft
    lathe = read_lathe(path)
    assert set(lathe.dials) == {"cross_slide", "compound", "tailstock"}
    assert lathe.dials["compound"].per_turn is None
    assert lathe.dials["compound"].clockwise_goes is None
    again = read_draft(path)
    carriage = chapter_of("dial.carriage")
    assert summary(carriage, again.table(carriage.section)) == "none"
    assert summary(chapter_of("chuck"), again.table(("chuck",))) == NOT_ANSWERED
    assert again.open_answers == ()


def test_changing_the_unit_of_a_dial_deletes_its_numbers_in_the_old_unit() -> None:
    """Numbers in mm cannot stay with "thou". The true travel of the screw can, and inches with thou can."""
    chapter = chapter_of("dial.compound")
    unit = next(question for question in chapter.questions if question.key == UNIT)
    table = {"per_turn": "2 mm", "graduation": "0.02 mm", "reads": "travel", "lead": "2 mm", "backlash": "0.1 mm"}
    draft = Draft(path=Path("lathe.toml"), filed={"dial": {"compound": table}})
    assert [figures(words) for words in deleted_answers(chapter, unit, table, "thou")] == [{"2"}, {"0.02"}, {"0.1"}]
    assert answered(draft, "dial.compound", _unit="thou").table(chapter.section) == {
        "reads": "travel",
        "lead": "2 mm",
        UNIT: "thou",
    }
    assert deleted_answers(chapter, unit, table, "mm") == ()
    assert deleted_answers(chapter, unit, {"per_turn": "0.1 in", "graduation": "1 thou"}, "thou") == ()


def test_answering_that_a_slide_has_no_dial_deletes_earlier_answers_about_the_dial() -> None:
    """The answer that there is a dial deletes nothing."""
    chapter = chapter_of("dial.compound")
    table = {KIND: "dial", "per_turn": "2 mm", "graduation": "0.02 mm", "numbers": "rise"}
    kinds = ("dial", "readout", "none", None)
    first = chapter.questions[0]
    gone = {kind: [figures(words) for words in deleted_answers(chapter, first, table, kind)] for kind in kinds}
    assert gone == {
        "dial": [],
        "readout": [{"2"}],
        "none": [{"2"}, {"0.02"}, set()],
        None: [],
    }


def test_a_damaged_draft_of_a_lathe_is_renamed(tmp_path: Path) -> None:
    """A note says so, and set-up continues with the file."""
    path = tmp_path / "lathe.toml"
    write_lathe(path, read_toml(STAND_IN))
    save_draft(answered(read_draft(path), "spindle", nose="screwed"))
    kept = draft_path(path)
    whole = kept.read_text(encoding="utf-8")
    for text in (whole[:-20], "", "[]", json.dumps({"format": 9}), '{"format": 1, "place": [], "answers": [[[], 1]]}'):
        kept.write_text(text, encoding="utf-8")
        draft = read_draft(path)
        assert draft.answers == ()
        assert draft.note
        assert kept.with_suffix(".unreadable").read_text(encoding="utf-8") == text
        assert not kept.exists()


def test_a_draft_of_a_lathe_that_cannot_be_written_is_reported(tmp_path: Path) -> None:
    """A file has the name of the drafts folder."""
    (tmp_path / "drafts").write_text("")
    with pytest.raises(FileError, match="drafts"):
        save_draft(answered(Draft(path=tmp_path / "lathe.toml"), "leadscrew", pitch="3 mm"))


def test_the_list_of_lathes_marks_the_lathe_in_use(tmp_path: Path) -> None:
    """lathe.toml is first and in use. A copy has everything but the name."""
    assert lathes_in(tmp_path / "nowhere") == ()
    first = new_lathe(tmp_path, "Bench lathe", read_toml(STAND_IN))
    second = new_lathe(tmp_path, "Bench lathe", read_toml(first))
    third = new_lathe(tmp_path, "Großes Ding!")
    assert [path.name for path in (first, second, third)] == ["lathe.toml", "bench_lathe.toml", "groes_ding.toml"]
    assert read_lathe(second).dials == read_lathe(first).dials
    assert [lathe.in_use for lathe in lathes_in(tmp_path)] == [False, False, True]
    use_lathe(second)
    assert own_lathe(tmp_path) == second
    use_lathe(first)
    assert own_lathe(tmp_path) == first
    second.write_text("no TOML [")
    (tmp_path / "lathe_in_use").write_text("../../etc/passwd")
    assert own_lathe(tmp_path) == first
    known = {lathe.path.name: lathe for lathe in lathes_in(tmp_path)}
    assert known["bench_lathe.toml"].errors and known["bench_lathe.toml"].edited_by_hand
    assert not known["lathe.toml"].edited_by_hand and not known["lathe.toml"].has_draft


def test_an_exported_lathe_file_is_an_exact_copy(tmp_path: Path) -> None:
    """The copy is still sealed. An existing file is never replaced."""
    path = new_lathe(tmp_path, "x", read_toml(STAND_IN))
    export_lathe(path, tmp_path / "out.toml")
    assert (tmp_path / "out.toml").read_bytes() == path.read_bytes()
    assert is_untouched((tmp_path / "out.toml").read_text(encoding="utf-8"))
    with pytest.raises(FileError, match=r"out\.toml"):
        export_lathe(path, tmp_path / "out.toml")


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "travel", "lead": "1 mm"}, "4 mm"),
        ({"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"}, "rare on this dial"),
        ({"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "travel", "backlash": "3.7 mm"}, "3.7 mm"),
        ({"per_turn": "40 thou", "graduation": "1 thou", "reads": "travel"}, "metric screw"),
        ({"per_turn": "40 thou", "graduation": "1 thou", "reads": "travel", "lead": "1 mm"}, ""),
        ({"per_turn": "100 thou", "graduation": "1 thou", "reads": "travel"}, ""),
        ({"per_turn": "200 thou", "graduation": "1 thou", "reads": "travel"}, ""),
        ({"per_turn": "0.1 mm", "graduation": "0.001 mm", "reads": "travel"}, "0.1 mm"),
        ({"per_turn": "4 in", "graduation": "10 thou", "reads": "travel"}, "4 in"),
        ({"per_turn": "2 mm", "graduation": "0.02 thou", "reads": "travel"}, ""),
        ({"graduation": "0.01 mm", "reads": "travel"}, ""),
        ({"graduation": "0.01 mm"}, ""),
    ],
)
def test_unusual_answers_about_a_lathe_must_be_confirmed(table: dict[str, Any], words: str) -> None:
    """Examples are a lead that is far off, backlash of almost a turn, and 40 thou that may be 1 mm."""
    found = unusual_answers(chapter_of("dial.compound"), table)
    assert [words in sentence for sentence in found] == ([True] if words else [])


@pytest.mark.parametrize(
    ("chapter", "table", "words"),
    [
        ("", {"name": "Lathe", "centre_height": "4 1/2 mm"}, "4 1/2 mm"),
        ("", {"name": "Lathe", "centre_height": "4 1/2 in"}, ""),
        ("leadscrew", {"pitch": "8 mm"}, "8 mm"),
        ("leadscrew", {"pitch": "4 tpi"}, ""),
        ("gearbox", {"pitches": ["20 tpi", "8 mm", "1 mm"]}, "8 mm"),
        ("gearbox", {"pitches": ["20 fathoms"]}, ""),
    ],
)
def test_a_size_that_was_probably_meant_in_inches_must_be_confirmed(
    chapter: str, table: dict[str, Any], words: str
) -> None:
    """4 1/2 mm probably means inches, and a pitch of 8 mm probably means 8 threads per inch."""
    found = unusual_answers(chapter_of(chapter), table)
    assert [words in sentence for sentence in found] == ([True] if words else [])


QUESTIONS = [(chapter.name, question) for chapter in chapters_of({}) for question in chapter.questions]
KEYS = st.sampled_from([(name, question.key) for name, question in QUESTIONS if not question.options])
TEXTS = st.text(max_size=30) | st.sampled_from(["4 mm", "1 in", "72", "2", "1 2 3"])


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.tuples(KEYS, TEXTS), max_size=8))
def test_no_typed_answer_makes_the_lathe_file_invalid(answers: list[tuple[tuple[str, str], str]]) -> None:
    """Any text is refused with a sentence or becomes a lathe that can be read."""
    draft = Draft(path=Path("lathe.toml"))
    for (name, key), text in answers:
        chapter = chapter_of(name)
        question = next(question for question in chapter.questions if question.key == key)
        value = value_of(question, text, unit_of(question, draft.table(chapter.section)))
        if not answer_problem(draft, chapter, question, value):
            draft = draft.answered(chapter, question, value)
    assert lathe_as_answered(draft).name
    json.dumps(draft.tables)
