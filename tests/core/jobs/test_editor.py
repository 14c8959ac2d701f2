"""Changing, removing and moving operations in a job file, read back with Python's own TOML reader."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from core.jobs.editor import change_material, change_operation, move_operation, remove_operation
from core.values.errors import FileError
from tests.core.jobs.test_job import TWO_BY_HAND

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
JOBS = sorted(path for path in SAMPLES.glob("*.toml") if not path.name.endswith("_lathe.toml"))
BY_HAND = """# Mine
format = 1
title = "Dial plate"  # two spaces

# The first one
[[operation]]
kind = "by_hand"
name = "Look"     # at it
text = "Is # it flat?"  # a sign inside

[[operation]]
kind = "turn"
name = "Rim"
from = "40 mm"   # measured
to = "38 mm"
cut = "0.5 mm"
# The last one
[[operation]]
kind = "pattern"
name = "Hours"
blank_diameter = "90 mm"
depth_dial = "carriage"
  [[operation.cutter]]
  name = "point"
  tip_angle = "90 deg"
  [[operation.layer]]
  shape = "circles"
  count = 12      # hours
  offset = "20 mm"
  circle_radius = "6 mm"
  depth = "0.5 mm"
"""


def job_file(tmp_path: Path, text: str = BY_HAND) -> Path:
    """Write a job file."""
    path = tmp_path / "job.toml"
    path.write_bytes(text.encode())
    return path


def operations(path: Path) -> list[dict[str, Any]]:
    """Return the TOML tables of the operations, read by tomllib (TOML 1.0.0)."""
    found: list[dict[str, Any]] = tomllib.loads(path.read_text())["operation"]
    return found


def changed_lines(path: Path, text: str = BY_HAND) -> tuple[list[str], list[str]]:
    """Return the removed text lines, and the added text lines."""
    before, after = text.splitlines(), path.read_text().splitlines()
    return [line for line in before if line not in after], [line for line in after if line not in before]


def test_changing_a_value_changes_only_the_line_of_that_value(tmp_path: Path) -> None:
    """The comment after the value stays, and every other line of the file is unchanged."""
    path = job_file(tmp_path)
    change_operation(path, "Rim", {**operations(path)[1], "from": "40.2 mm"})
    assert changed_lines(path) == (['from = "40 mm"   # measured'], ['from = "40.2 mm"  # measured'])


def test_a_hash_sign_inside_a_quoted_text_is_not_read_as_a_comment(tmp_path: Path) -> None:
    """A text with # inside is replaced as a whole, and the comment after the text is kept."""
    path = job_file(tmp_path)
    change_operation(path, "Look", {**operations(path)[0], "text": "Flat?"})
    assert changed_lines(path)[1] == ['text = "Flat?"  # a sign inside']


def test_adding_and_deleting_keys_leaves_other_lines_unchanged(tmp_path: Path) -> None:
    """All other lines of the operation stay as they are."""
    path = job_file(tmp_path)
    wanted = {**operations(path)[1], "finish": "0.1 mm", "side": "outside"}
    del wanted["cut"]
    wanted["cut"] = "0.25 mm"
    change_operation(path, "Rim", wanted)
    assert operations(path)[1] == wanted
    assert [table["name"] for table in operations(path)] == ["Look", "Rim", "Hours"]
    assert "# The last one" in path.read_text()


def test_layers_are_written_after_the_other_keys_of_an_operation(tmp_path: Path) -> None:
    """A layer can be added, and the lines of unchanged layers stay."""
    path = job_file(tmp_path)
    old = operations(path)[2]
    added = {"shape": "circles", "count": 6, "offset": "10 mm", "meet": "points", "depth": "1 mm"}
    wanted = {**old, "layer": [*old["layer"], added]}
    change_operation(path, "Hours", wanted)
    assert operations(path)[2] == wanted
    assert "# The last one" in path.read_text()


def test_changing_a_value_that_spans_several_lines_rewrites_only_the_operation_that_has_the_value(
    tmp_path: Path,
) -> None:
    """The whole operation is written again, and everything else in the file stays."""
    text = BY_HAND + '\n[[operation]]\nkind = "divide"\nname = "Four"\nangles = [\n  "0 deg",\n  "90 deg",\n]\n'
    path, lathe = job_file(tmp_path, text), SAMPLES / "mixed_lathe.toml"
    wanted = {**operations(path)[3], "angles": ["0 deg", "45 deg"]}
    with pytest.raises(FileError, match="no list"):
        change_operation(path, "Four", {**wanted, "angles": "no list"}, lathe)
    assert path.read_text() == text
    change_operation(path, "Four", {**wanted, "with": "dial"}, lathe)
    assert operations(path)[3] == {**wanted, "with": "dial"}
    assert path.read_text().startswith(BY_HAND)


def test_layers_written_inline_become_separate_toml_tables_when_changed(tmp_path: Path) -> None:
    """TOML tables on the key's own line can be changed too.

    A change of another key leaves these tables on their line.
    """
    layer = {"shape": "circles", "count": 12, "offset": "20 mm", "circle_radius": "6 mm", "depth": "0.5 mm"}
    head, _, _ = BY_HAND.partition("  [[operation.cutter]]")
    one = 'shape = "circles", count = 12, offset = "20 mm", circle_radius = "6 mm", depth = "0.5 mm"'
    text = f"{head}layer = [{{ {one} }}] # one\n"
    path = job_file(tmp_path, text)
    change_operation(path, "Hours", {**operations(path)[2], "blank_diameter": "80 mm"})
    assert changed_lines(path, text) == (['blank_diameter = "90 mm"'], ['blank_diameter = "80 mm"'])
    wanted = {**operations(path)[2], "layer": [{**layer, "count": 6}]}
    change_operation(path, "Hours", wanted)
    assert operations(path)[2] == wanted


@pytest.mark.parametrize("name", ["Hours", "Note"])
def test_comments_that_follow_a_changed_operation_are_kept(tmp_path: Path, name: str) -> None:
    """Comments after the last value survive when TOML tables or a text of several lines are written again."""
    note = '[[operation]]\nkind = "by_hand"\nname = "Note"\ntext = """\n# first\n# last"""\n\n# the end\n'
    path = job_file(tmp_path, BY_HAND + "\n# a tail\n\n" + note)
    old = {table["name"]: table for table in operations(path)}
    new = {"Hours": {"layer": [*old["Hours"]["layer"], *old["Hours"]["layer"]]}, "Note": {"text": "Short."}}
    change_operation(path, name, {**old[name], **new[name]})
    text = path.read_text()
    assert text.endswith('"\n\n# the end\n')
    assert "\n\n# a tail\n\n[[operation]]\n" in text
    assert text.count('# last"""') == (name == "Hours")


def test_a_unicode_line_separator_does_not_end_a_line_of_a_job_file(tmp_path: Path) -> None:
    """TOML ends lines only at line feeds. U+2028 inside a text is a letter like any other."""
    text = BY_HAND.replace('"Is # it flat?"', '"Is\u2028# it flat?"')
    path = job_file(tmp_path, text)
    remove_operation(path, "Rim")
    assert operations(path)[0]["text"] == "Is\u2028# it flat?"


def test_moving_an_operation_past_either_end_of_a_job_changes_nothing(tmp_path: Path) -> None:
    """The file stays the same byte for byte."""
    path = job_file(tmp_path)
    move_operation(path, "Look", -1)
    move_operation(path, "Hours", 2)
    assert path.read_text() == BY_HAND


@pytest.mark.parametrize(("name", "left"), [("Look", ["Rim", "Hours"]), ("Hours", ["Look", "Rim"])])
def test_removing_an_operation_leaves_the_other_operations_unchanged(
    tmp_path: Path, name: str, left: list[str]
) -> None:
    """The others keep their order and their text. A comment right above the removed header goes as well."""
    path = job_file(tmp_path)
    remove_operation(path, name)
    assert [table["name"] for table in operations(path)] == left
    assert ("# The first one" in path.read_text()) == (name != "Look")
    assert path.read_text().startswith('# Mine\nformat = 1\ntitle = "Dial plate"  # two spaces\n')


@pytest.mark.parametrize(
    ("name", "places", "order"),
    [
        ("Look", 1, ["Rim", "Look", "Hours"]),
        ("Hours", -1, ["Look", "Hours", "Rim"]),
        ("Hours", -9, ["Hours", "Look", "Rim"]),
        ("Hours", 1, ["Look", "Rim", "Hours"]),
    ],
)
def test_moving_an_operation_moves_all_of_its_lines(tmp_path: Path, name: str, places: int, order: list[str]) -> None:
    """The lines include the TOML tables inside the operation."""
    path = job_file(tmp_path)
    before = {table["name"]: table for table in operations(path)}
    job = move_operation(path, name, places)
    assert [table["name"] for table in operations(path)] == order
    assert [operation.name for operation in job.operations] == order
    assert {table["name"]: table for table in operations(path)} == before


def test_an_edit_keeps_the_carriage_return_at_the_end_of_every_line(tmp_path: Path) -> None:
    """A file with carriage returns keeps them in every line after an edit."""
    path = job_file(tmp_path, BY_HAND.replace("\n", "\r\n"))
    change_operation(path, "Rim", {**operations(path)[1], "finish": "0.1 mm"})
    content = path.read_bytes()
    assert content.count(b"\n") == content.count(b"\r\n")


@pytest.mark.parametrize("sample", JOBS, ids=lambda path: path.stem)
def test_writing_unchanged_values_leaves_a_sample_job_file_unchanged(tmp_path: Path, sample: Path) -> None:
    """Each operation of a sample is written with its own values, and the file stays the same byte for byte."""
    for lathe in SAMPLES.glob("*_lathe.toml"):
        (tmp_path / lathe.name).write_bytes(lathe.read_bytes())
    path = tmp_path / "job.toml"
    path.write_bytes(sample.read_bytes())
    for table in operations(path):
        change_operation(path, table["name"], table)
        assert path.read_bytes() == sample.read_bytes()


@pytest.mark.parametrize(
    "text",
    [
        'format = 1\ntitle = "A"\noperation = [{kind = "by_hand", name = "Look", text = "B"}]\n',
        'format = 1\ntitle = "A"\n[["operation"]]\nkind = "by_hand"\nname = "Look"\ntext = "B"\n',
        'format = 1\ntitle = """\n[[operation]]\n"""\n[[operation]]\nkind = "by_hand"\nname = "Look"\ntext = "B"\n',
    ],
)
def test_job_files_that_cannot_be_edited_line_by_line_are_refused(tmp_path: Path, text: str) -> None:
    """A file in another layout stays unchanged, and the refusal tells the user to use a text editor."""
    path = job_file(tmp_path, text)
    with pytest.raises(FileError):
        change_operation(path, "Look", {"kind": "by_hand", "name": "Look", "text": "C"})
    assert path.read_text() == text


def test_a_refused_edit_leaves_the_job_file_unchanged(tmp_path: Path) -> None:
    """The refused edits are a wrong value, a missing name, and removing the only operation."""
    path = job_file(tmp_path)
    with pytest.raises(FileError):
        change_operation(path, "Rim", {**operations(path)[1], "to": "wide"})
    with pytest.raises(FileError):
        remove_operation(path, "Gone")
    assert path.read_text() == BY_HAND
    remove_operation(path, "Look")
    remove_operation(path, "Hours")
    with pytest.raises(FileError):
        remove_operation(path, "Rim")


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_changing_the_material_leaves_the_rest_of_the_job_file_unchanged(tmp_path: Path, ends: str) -> None:
    """A material can be added below the title, changed without losing its comment, and deleted."""
    before = BY_HAND.replace("\n", ends)
    path = job_file(tmp_path, before)
    job = change_material(path, 'brass "A"')
    title = f'title = "Dial plate"  # two spaces{ends}'
    given = before.replace(title, f'{title}material = "brass \\"A\\""{ends}')
    assert path.read_bytes().decode() == given and job.material == 'brass "A"'
    path.write_bytes(given.replace('"A\\""', '"A\\"" # bar end').encode())
    change_material(path, "cast iron")
    changed = before.replace(title, f'{title}material = "cast iron"  # bar end{ends}')
    assert path.read_bytes().decode() == changed
    assert tomllib.loads(changed)["material"] == "cast iron"
    assert change_material(path, None).material is None
    assert path.read_bytes().decode() == before


def test_changing_a_material_that_is_written_on_several_lines_is_refused(tmp_path: Path) -> None:
    """A line inside a title that looks like the material key is ignored."""
    text = BY_HAND.replace('title = "Dial plate"  # two spaces', 'title = """Dial\nmaterial = "x"\nplate"""')
    path = job_file(tmp_path, text)
    assert change_material(path, "brass").material == "brass"
    assert tomllib.loads(path.read_text())["title"] == 'Dial\nmaterial = "x"\nplate'
    text = BY_HAND.replace("format = 1", 'format = 1\nmaterial = """brass\nbar"""')
    path.write_text(text)
    with pytest.raises(FileError):
        change_material(path, "steel")
    assert path.read_text() == text


def test_an_operation_whose_name_ends_in_a_space_can_be_changed(tmp_path: Path) -> None:
    """The editor finds the operation by its name on screen."""
    path = tmp_path / "job.toml"
    path.write_text(TWO_BY_HAND.format("Chamfer ", "Deburr"))
    table = {"kind": "by_hand", "name": "Chamfer", "text": "Chamfer it."}
    assert change_operation(path, "Chamfer", table).operations[0].plan_input.parameters["text"] == "Chamfer it."
    assert [operation.name for operation in remove_operation(path, "Chamfer").operations] == ["Deburr"]
