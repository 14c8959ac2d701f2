"""Deleting lathes: the tests check the files that remain on disk."""

from pathlib import Path

import pytest

from core.lathe.set_up.chapters import chapters_of
from core.lathe.set_up.draft import draft_path, read_draft, save_draft
from core.lathe.set_up.in_use import use_lathe
from core.lathe.set_up.lathes import lathes_in, remove_lathe
from core.lathe.writer import write_lathe
from core.values.errors import FileError
from core.values.files import read_toml

SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def lathe_with_answer(path: Path) -> Path:
    """Save a lathe and a draft with one answer about it."""
    write_lathe(path, read_toml(SAMPLES / "metric_lathe.toml"))
    draft = read_draft(path)
    chapter = next(chapter for chapter in chapters_of(draft.tables) if chapter.title == "Tailstock")
    per_turn = next(question for question in chapter.questions if question.key == "per_turn")
    save_draft(draft.answered(chapter, per_turn, "7 mm"))
    assert draft_path(path).exists()
    return path


def test_deleting_a_lathe_deletes_its_file_and_draft(tmp_path: Path) -> None:
    """Files of other lathes stay."""
    first, second = (lathe_with_answer(tmp_path / name) for name in ("lathe.toml", "second.toml"))
    remove_lathe(second)
    assert sorted(path.name for path in tmp_path.rglob("*") if path.is_file()) == ["lathe.json", "lathe.toml"]
    assert [(lathe.path, lathe.has_draft) for lathe in lathes_in(tmp_path)] == [(first, True)]


def test_the_lathe_in_use_cannot_be_deleted(tmp_path: Path) -> None:
    """All its files stay. Another lathe can be deleted."""
    first, second = (lathe_with_answer(tmp_path / name) for name in ("lathe.toml", "second.toml"))
    use_lathe(second)
    with pytest.raises(FileError, match=r"second\.toml"):
        remove_lathe(second)
    assert second.exists() and draft_path(second).exists()
    remove_lathe(first)
    assert [(lathe.path, lathe.in_use) for lathe in lathes_in(tmp_path)] == [(second, True)]


def test_a_draft_without_a_lathe_file_is_listed_among_the_lathes(tmp_path: Path) -> None:
    """A damaged or empty draft is not listed."""
    path = lathe_with_answer(tmp_path / "lathe.toml")
    path.unlink()
    (draft_path(path).parent / "broken.json").write_text("{")
    assert [(lathe.path, lathe.has_file, lathe.has_draft) for lathe in lathes_in(tmp_path)] == [(path, False, True)]
