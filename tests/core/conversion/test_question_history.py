"""Questions are kept between starts, up to a limit and always whole. Without the file the program works too."""

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.conversion.question_history import FILE_NAME, MOST_KEPT, QuestionHistory, Recall


def test_questions_are_kept_from_one_start_of_the_program_to_the_next(tmp_path: Path) -> None:
    """The next start finds each question once, the newest last, in a plain text file."""
    path = tmp_path / "new" / FILE_NAME
    first = QuestionHistory(path)
    for asked in ("1 1/4 in", "30 H7/g6", " 1 1/4 in ", ""):
        first.add(asked)
    assert QuestionHistory(path).questions == ("30 H7/g6", "1 1/4 in")
    assert path.read_text(encoding="utf-8") == "30 H7/g6\n1 1/4 in\n"
    assert not first.complaint
    assert [entry.name for entry in path.parent.iterdir()] == [FILE_NAME]


def test_the_oldest_questions_are_dropped_when_the_history_exceeds_its_limit(tmp_path: Path) -> None:
    """Lines that are too long are ignored."""
    path = tmp_path / FILE_NAME
    path.write_text("x" * 500 + "\n" + "".join(f"{count} mm\n" for count in range(MOST_KEPT + 50)))
    asked = QuestionHistory(path)
    assert len(asked.questions) == MOST_KEPT
    assert asked.questions[0] == "50 mm"
    asked.add("5 deg")
    assert len(path.read_text().splitlines()) == MOST_KEPT
    assert QuestionHistory(path).questions[-2:] == (f"{MOST_KEPT + 49} mm", "5 deg")


def test_questions_added_by_another_copy_of_the_program_are_kept(tmp_path: Path) -> None:
    """Two programs write to the same file."""
    path = tmp_path / FILE_NAME
    one, two = QuestionHistory(path), QuestionHistory(path)
    one.add("1 mm")
    two.add("2 mm")
    one.add("3 mm")
    assert QuestionHistory(path).questions == ("1 mm", "2 mm", "3 mm")


@pytest.mark.parametrize("content", [b"\xff\xfe1 mm\n", b"1 mm\n\x00", b"1 mm\n" * 300_000])
def test_a_damaged_history_file_is_not_overwritten(tmp_path: Path, content: bytes) -> None:
    """A sentence names the damaged file. Questions last until the program ends, and the file stays unchanged."""
    path = tmp_path / FILE_NAME
    path.write_bytes(content)
    asked = QuestionHistory(path)
    assert FILE_NAME in asked.complaint and asked.complaint.isprintable()
    asked.add("5 mm")
    assert asked.questions == ("5 mm",)
    assert path.read_bytes() == content


def test_control_characters_in_the_history_file_are_removed_when_the_file_is_read(tmp_path: Path) -> None:
    """Control characters in the file cannot reach the terminal."""
    path = tmp_path / FILE_NAME
    path.write_text("5 mm\x1b[2J\n\u202e6 mm\n", encoding="utf-8")
    assert all(one.isprintable() for one in QuestionHistory(path).questions)
    assert QuestionHistory(path).questions[1] == "6 mm"


def test_a_folder_in_place_of_the_history_file_is_reported(tmp_path: Path) -> None:
    """No question is kept. The same holds for a file in place of the folder."""
    (tmp_path / FILE_NAME).mkdir()
    in_place = QuestionHistory(tmp_path / FILE_NAME)
    assert "folder" in in_place.complaint
    (tmp_path / "file").write_text("in the way")
    behind = QuestionHistory(tmp_path / "file" / FILE_NAME)
    behind.add("5 mm")
    assert behind.complaint
    assert behind.questions == ("5 mm",)


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_an_unwritable_folder_for_the_history_file_is_reported(tmp_path: Path) -> None:
    """Without permission no question is kept."""
    tmp_path.chmod(0o500)
    asked = QuestionHistory(tmp_path / FILE_NAME)
    asked.add("5 mm")
    assert asked.complaint and asked.questions == ("5 mm",)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=40), max_size=6))
def test_every_question_is_stored_as_one_line_of_the_history_file(
    tmp_path_factory: pytest.TempPathFactory, texts: list[str]
) -> None:
    """No line end or other character in a question splits it or damages the file."""
    path = tmp_path_factory.mktemp("asked") / FILE_NAME
    asked = QuestionHistory(path)
    for text in texts:
        asked.add(text)
    assert not asked.complaint
    again = QuestionHistory(path)
    assert again.questions == asked.questions and not again.complaint
    assert len(again.questions) <= len(texts)


def test_going_forward_past_the_newest_question_restores_the_text_being_typed(tmp_path: Path) -> None:
    """Back stops at the oldest question. Forward ends at the text that was being typed."""
    asked = QuestionHistory(tmp_path / FILE_NAME)
    for text in ("1 mm", "2 mm", "3 mm"):
        asked.add(text)
    walk = Recall(asked)
    walk.typed("4 m")
    assert [walk.step(1) for _ in range(4)] == ["3 mm", "2 mm", "1 mm", None]
    walk.typed("1 mm")
    assert walk.is_walking
    assert [walk.step(-1) for _ in range(4)] == ["2 mm", "3 mm", "4 m", None]
    walk.step(1)
    walk.typed("3 mm + 1 in")
    assert not walk.is_walking
    assert (walk.step(1), walk.step(-1)) == ("3 mm", "3 mm + 1 in")
    walk.typed("3 mm")
    assert walk.step(1) == "2 mm"
