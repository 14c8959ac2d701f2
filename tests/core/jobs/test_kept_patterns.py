"""Kept patterns as files, read back by tomllib, under any name and next to any other files."""

import os
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.jobs.job import read_job
from core.jobs.kept_patterns import (
    forget_pattern,
    keep_pattern,
    kept_files,
    kept_under,
    read_kept,
    rename_pattern,
)
from core.values.errors import FileError

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
LID: dict[str, Any] = dict(read_job(SAMPLES / "sundial_lid.toml").operations[0].plan_input.parameters)

ERRORS: dict[str, Any] = {
    "correct": True,
    "height_error": "0.1 mm",
    "eccentricity": "0.05 mm",
    "eccentric_at": "35 deg",
    "face_runout": "0.04 mm",
    "face_radius": "30 mm",
    "face_high_at": "0 deg",
}


def test_a_kept_pattern_is_an_ordinary_job_file(tmp_path: Path) -> None:
    """The pattern reads back without the errors of this clamping, and the file opens as a job."""
    folder = tmp_path / "data" / "patterns"
    path = keep_pattern(folder, "Lid, 2nd try", {**LID, **ERRORS})
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    wanted = {key: value for key, value in LID.items() if key not in ERRORS} | {"name": "Lid, 2nd try"}
    assert (data["format"], data["title"], data["operation"]) == (1, "Lid, 2nd try", [wanted])
    assert read_job(path).operations[0].name == "Lid, 2nd try"
    assert [read_kept(one).parameters for one in kept_files(folder)] == [wanted]
    assert list(folder.iterdir()) == [path]


@pytest.mark.parametrize(
    "name",
    ["Rosace à 8", "蓮", "../../lathe", "a/b", ".hidden", "CON", "x" * 80, '5" disc', "-", "tab\there", "[bold]x"],
)
def test_a_pattern_with_any_name_is_kept_inside_the_folder_of_patterns(tmp_path: Path, name: str) -> None:
    """No name leads outside the folder, hides the file or overwrites another file."""
    folder = tmp_path / "patterns"
    first, second = keep_pattern(folder, name, LID), keep_pattern(folder, name, LID)
    assert first != second and {first, second} == set(kept_files(folder))
    assert all(path.parent == folder and path.name.isascii() for path in (first, second))


@given(name=st.text(min_size=1, max_size=80))
def test_a_pattern_with_any_name_is_written_as_a_valid_file(name: str) -> None:
    """The names include control characters and half surrogates."""
    with TemporaryDirectory() as folder:
        path = keep_pattern(Path(folder), name, LID)
        assert read_kept(path).problem == "" and kept_files(Path(folder)) == [path]


def test_keeping_a_pattern_replaces_the_earlier_pattern_of_the_same_name(tmp_path: Path) -> None:
    """Two different names with the same file name are two patterns."""
    first, second = keep_pattern(tmp_path, "Lid", LID), keep_pattern(tmp_path, "Lid!", LID)
    assert (kept_under(tmp_path, "Lid"), kept_under(tmp_path, "Lid!")) == (first, second)
    assert kept_under(tmp_path, "Base") is None
    keep_pattern(tmp_path, "Lid", {**LID, "blank_diameter": "60 mm"}, replaced=first)
    assert read_kept(first).parameters["blank_diameter"] == "60 mm" and len(kept_files(tmp_path)) == 2
    forget_pattern(first)
    assert kept_files(tmp_path) == [second]


def test_renaming_a_pattern_leaves_the_rest_of_its_file_unchanged(tmp_path: Path) -> None:
    """The comments and the operation stay. The file is named after the new name, and the old file is gone."""
    old = keep_pattern(tmp_path, "Lid", LID)
    old.write_text(f"# mine\n{old.read_text(encoding='utf-8')}# end\n", encoding="utf-8")
    before = old.read_text(encoding="utf-8")
    new = rename_pattern(old, "Base")
    assert new.name == "base.toml" and kept_files(tmp_path) == [new] and read_kept(new).name == "Base"
    assert new.read_text(encoding="utf-8") == before.replace('title = "Lid"', 'title = "Base"')
    assert rename_pattern(new, "Base!") == new and kept_under(tmp_path, "Base!") == new


def test_a_pattern_cannot_be_renamed_to_the_name_of_another_pattern(tmp_path: Path) -> None:
    """Both files stay as they are. A name that only gives the same file name is accepted."""
    lid, base = keep_pattern(tmp_path, "Lid", LID), keep_pattern(tmp_path, "Base", LID)
    before = lid.read_bytes(), base.read_bytes()
    with pytest.raises(FileError, match="already exists"):
        rename_pattern(lid, "Base")
    assert (lid.read_bytes(), base.read_bytes()) == before
    assert rename_pattern(lid, "Base!").name == "base_2.toml" and base.read_bytes() == before[1]


@pytest.mark.parametrize("title", ['title = """\nLid"""', '"title" = "Lid"'])
def test_renaming_a_pattern_whose_title_is_not_on_a_line_of_its_own_is_refused(tmp_path: Path, title: str) -> None:
    """The sentence says where to change the title. The file stays as it is."""
    path = keep_pattern(tmp_path, "Lid", LID)
    text = path.read_text(encoding="utf-8").replace('title = "Lid"', title)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match="text editor"):
        rename_pattern(path, "Base")
    assert kept_files(tmp_path) == [path] and path.read_text(encoding="utf-8") == text


def test_unusable_files_among_kept_patterns_are_listed_with_a_reason(tmp_path: Path) -> None:
    """None of these files breaks the list, and a valid file next to them still opens."""
    sound = keep_pattern(tmp_path, "Lid", LID)
    (tmp_path / "a_lathe.toml").write_bytes((SAMPLES / "metric_lathe.toml").read_bytes())
    (tmp_path / "b_random.toml").write_bytes(os.urandom(500) + b"\0")
    (tmp_path / "c_cut.toml").write_bytes(sound.read_bytes()[:60])
    (tmp_path / "d_folder.toml").mkdir()
    (tmp_path / "e_link.toml").symlink_to("/nowhere")
    (tmp_path / "f_empty.toml").touch()
    (tmp_path / "g_odd.toml").write_text('format = 1\ntitle = 5\noperation = [3, {kind = "pattern"}]\n')
    (tmp_path / "h_screw.toml").write_bytes((SAMPLES / "gnomon_screw.toml").read_bytes())
    (tmp_path / "notes.txt").write_text("not a job")
    kept = {path.name: read_kept(path) for path in kept_files(tmp_path)}
    assert len(kept) == 9 and "notes.txt" not in kept
    assert [name for name, one in kept.items() if not one.problem] == ["g_odd.toml", "lid.toml"]
    assert all(one.problem.endswith(".") and str(tmp_path) not in one.problem for one in kept.values() if one.problem)


def test_a_pattern_file_from_the_first_version_can_be_opened(tmp_path: Path) -> None:
    """The rings of the first version become a pattern."""
    old = 'format = 1\ntitle = "Old"\n[[operation]]\nkind = "rings"\nname = "R"\ndepth_dial = "saddle"\n'
    (tmp_path / "old.toml").write_text(
        old + "  [[operation.ring]]\ncount = 6\noffset = '20 mm'\ncutter_radius = '8 mm'\n"
    )
    kept = read_kept(tmp_path / "old.toml")
    assert kept.problem == "" and kept.parameters["kind"] == "pattern" and kept.parameters["depth_dial"] == "carriage"


def test_a_file_in_place_of_the_folder_of_patterns_is_refused(tmp_path: Path) -> None:
    """A missing folder is accepted, because it does not exist before the user keeps a first pattern."""
    assert kept_files(tmp_path / "none") == []
    (tmp_path / "taken").touch()
    for act in (lambda: kept_files(tmp_path / "taken"), lambda: keep_pattern(tmp_path / "taken", "Lid", LID)):
        with pytest.raises(FileError):
            act()
