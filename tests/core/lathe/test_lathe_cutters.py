"""Cutters in set-up are added, changed and deleted by name. The lathe file has a list of them."""

from pathlib import Path
from typing import Any

import pytest

from core.lathe.keys.cutters import MOST_CUTTERS
from core.lathe.keys.entry import KIND
from core.lathe.lathe import Cutter
from core.lathe.reader import read_lathe
from core.lathe.set_up.chapters import (
    CUTTERS,
    chapters_of,
    cutter_chapter,
    cutter_chapters,
    first_problem,
    problem_words,
    section_problems,
    summary,
)
from core.lathe.set_up.cutters import as_list, by_name, cutter_name
from core.lathe.set_up.draft import Draft, read_draft, save_draft
from core.lathe.set_up.saving import lathe_as_answered, save_answers, unfinished
from core.lathe.set_up.unusual import unusual_answers
from core.lathe.writer import write_lathe
from core.values.errors import CoreError

WIDE = {"name": "wide", "tip_angle": "120 deg", "tip_flat": "0.2 mm"}
FINE = {"name": "fine", "tip_angle": "60 deg", "reach": "4 mm"}
LATHE = {"format": 1, "name": "Bench", "cutter": [WIDE, FINE]}


def told(draft: Draft, name: str, **answers: Any) -> Draft:
    """Return the draft with answers about a cutter. `point` is the shape of its point."""
    chapter = cutter_chapter(name)
    for key, value in answers.items():
        question = next(one for one in chapter.questions if one.key == (KIND if key == "point" else key))
        draft = draft.answered(chapter, question, value)
    return draft


def test_cutters_stored_by_name_are_converted_to_a_list_and_back() -> None:
    """The order of cutters stays. A lathe without cutters has no key for them."""
    named = by_name(LATHE)
    assert list(named["cutter"]) == ["wide", "fine"] and "name" not in named["cutter"]["wide"]
    assert as_list(named) == LATHE
    assert as_list({"cutter": {}}) == {} and by_name({"name": "x"}) == {"name": "x"}


def test_a_cutter_can_be_added_changed_and_deleted(tmp_path: Path) -> None:
    """The file has each answer, and nothing else changes."""
    path = write_lathe(tmp_path / "lathe.toml", LATHE)
    draft = told(read_draft(path), "round", point="round", tip_angle="90 deg", tip_radius="0.4 mm")
    draft = save_answers(draft).draft
    assert [cutter.name for cutter in read_lathe(path).cutters] == ["wide", "fine", "round"]
    draft = save_answers(told(draft, "wide", point="sharp", reach="3 mm")).draft
    assert read_lathe(path).cutters[0] == Cutter("wide", 120, reach_mm=3)
    draft = save_answers(draft.without(("cutter", "fine"))).draft
    assert [cutter.name for cutter in read_lathe(path).cutters] == ["wide", "round"]
    draft = save_answers(draft.without(("cutter", "wide"))).draft
    draft = save_answers(draft.without(("cutter", "round"))).draft
    assert read_lathe(path).cutters == () and "cutter" not in path.read_text(encoding="utf-8")
    assert draft.open_answers == ()


def test_an_incomplete_cutter_stays_in_the_draft_of_the_lathe(tmp_path: Path) -> None:
    """The other cutters are saved. After its angle is answered, this cutter is in the file too."""
    path = write_lathe(tmp_path / "lathe.toml", LATHE)
    draft = told(read_draft(path), "deep", reach="9 mm")
    save_draft(draft)
    kept = save_answers(told(read_draft(path), "wide", reach="5 mm"))
    assert [cutter.name for cutter in read_lathe(path).cutters] == ["wide", "fine"]
    assert read_lathe(path).cutters[0].reach_mm == 5
    (waits,) = unfinished(kept.draft)
    assert waits.startswith('Cutter "deep", not answered: ')
    save_answers(told(read_draft(path), "deep", tip_angle="30 deg"))
    assert read_lathe(path).cutters[-1] == Cutter("deep", 30, reach_mm=9)


def test_the_summary_of_cutters_lists_each_name_with_its_point_angle() -> None:
    """All cutters are in one row of the list. Each cutter has a row with all its answers."""
    tables = by_name(LATHE)
    assert CUTTERS in chapters_of(tables)
    assert summary(CUTTERS, tables["cutter"]) == "wide 120 deg, fine 60 deg"
    assert summary(CUTTERS, {}) == "not answered"
    wide, fine = cutter_chapters(tables)
    assert summary(wide, tables["cutter"]["wide"]) == "point 120 deg, flat 0.2 mm"
    assert [question.key for question in fine.asked(tables["cutter"]["fine"])] == [KIND, "tip_angle", "reach"]
    assert lathe_as_answered(Draft(path=Path("x"), filed=tables)).cutters[1] == Cutter("fine", 60, reach_mm=4)


def test_wrong_and_unusual_answers_about_a_cutter_are_reported() -> None:
    """Wrong answers get the sentence of the file's reader. A tip angle of 5 deg is unusual."""
    chapter = cutter_chapter("odd")
    assert [problem.key for problem in section_problems(chapter.section, {"reach": "1 mm"})] == ["tip_angle"]
    assert [problem.key for problem in section_problems(CUTTERS.section, {"odd": {"tip_angle": "0 deg"}})] == [
        "tip_angle"
    ]
    problem = first_problem(chapter, {"tip_angle": "200 deg"})
    assert problem is not None and "175" in problem_words(chapter, {"tip_angle": "200 deg"}, problem)
    assert len(unusual_answers(chapter, {"tip_angle": "5 deg"})) == 1
    assert unusual_answers(chapter, {"tip_angle": "60 deg"}) == ()


@pytest.mark.parametrize("text", ["", "  ", "wide", " wide ", "~kind"])
def test_an_empty_or_already_used_cutter_name_is_refused(text: str) -> None:
    """A name that starts with ~ is refused too."""
    with pytest.raises(CoreError):
        cutter_name(text, by_name(LATHE)["cutter"])


def test_more_cutters_than_a_lathe_file_may_have_are_refused() -> None:
    """Control characters in a name are replaced."""
    assert cutter_name(" deep\x1b ", {}) == "deep\ufffd"
    with pytest.raises(CoreError, match=str(MOST_CUTTERS)):
        cutter_name("one more", {str(number): {} for number in range(MOST_CUTTERS)})
