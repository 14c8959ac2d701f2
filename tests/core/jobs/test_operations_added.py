"""Adding operations to job files, checked with Python's own TOML reader and byte by byte."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.jobs.editor import append_operation, lathe_file, new_job, operation_text
from core.jobs.job import read_job
from core.values.errors import FileError
from core.values.files import toml_value

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
BY_HAND = (
    '# Mine\nformat = 1\ntitle =   "Nose"  # two spaces\n\n[[operation]]\nkind = "by_hand"\nname = "A"\ntext = "Look"\n'
)
THREAD = {"kind": "thread", "name": "B", "thread": "M10", "passes": 9}


def job_file(tmp_path: Path, content: str | bytes = BY_HAND) -> Path:
    """Write a job file."""
    path = tmp_path / "job.toml"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@given(st.text())
def test_a_text_written_to_a_job_file_is_read_back_unchanged(text: str) -> None:
    """tomllib reads any written text back without a change (TOML 1.0.0)."""
    assert tomllib.loads(f"key = {toml_value(text)}") == {"key": text}


@given(st.integers(min_value=-(2**63), max_value=2**63 - 1))
def test_a_whole_number_written_to_a_job_file_is_read_back_unchanged(number: int) -> None:
    """Whole numbers of 64 bits, all that TOML promises, come back without a change."""
    assert tomllib.loads(f"key = {toml_value(number)}") == {"key": number}


@pytest.mark.parametrize("value", [True, False])
def test_true_and_false_written_to_a_job_file_are_read_back_unchanged(value: bool) -> None:
    """A pattern's settings have such a value for taking errors out."""
    assert tomllib.loads(f"key = {toml_value(value)}") == {"key": value}


@pytest.mark.parametrize("value", [1.5, None, [None], {"a": 1}])
def test_values_that_a_job_file_cannot_hold_are_refused(value: object) -> None:
    """The refusal comes before anything is written."""
    with pytest.raises(TypeError):
        toml_value(value)


def test_a_lone_surrogate_is_written_to_a_job_file_as_the_replacement_character() -> None:
    """UTF-8 cannot hold a lone surrogate, so the file gets the replacement character."""
    assert tomllib.loads(f"key = {toml_value(chr(0xD800))}") == {"key": "\ufffd"}


@given(st.dictionaries(st.text(min_size=1), st.text() | st.integers(-9, 9), max_size=4))
def test_a_table_written_to_a_job_file_is_read_back_unchanged(table: dict[str, str | int]) -> None:
    """Any TOML table comes back with its keys in order, including unusual keys."""
    read = tomllib.loads(operation_text(table))["operation"][0]
    assert list(read.items()) == list(table.items())


@pytest.mark.parametrize(
    "content",
    [
        BY_HAND.encode(),
        BY_HAND.rstrip("\n").encode(),
        BY_HAND.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + BY_HAND.encode(),
        (BY_HAND + "# the end").encode(),
    ],
    ids=["plain", "no last line end", "CR LF", "byte order mark", "comment at the end"],
)
def test_adding_an_operation_keeps_the_existing_bytes_of_the_file(tmp_path: Path, content: bytes) -> None:
    """The file still starts with the same bytes, followed by one more operation."""
    path = job_file(tmp_path, content)
    job = append_operation(path, THREAD)
    after = path.read_bytes()
    assert after.startswith(content)
    assert (b"\r\n" in after) == (b"\r\n" in content)
    assert b"\n" not in after.replace(b"\r\n", b"") or b"\r\n" not in content
    assert [operation.name for operation in job.operations] == ["A", "B"]
    assert read_job(path).operations[1].plan_input.parameters == THREAD


def test_an_edited_job_file_keeps_its_permissions(tmp_path: Path) -> None:
    """A file that only its owner may read stays private, and no temporary file remains."""
    path = job_file(tmp_path)
    path.chmod(0o600)
    append_operation(path, THREAD)
    assert path.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_editing_through_a_symbolic_link_changes_the_linked_job_file(tmp_path: Path) -> None:
    """The link stays a link, and the linked file gets the new operation."""
    target = job_file(tmp_path)
    link = tmp_path / "link.toml"
    link.symlink_to(target)
    append_operation(link, THREAD)
    assert link.is_symlink()
    assert len(read_job(target).operations) == 2


def test_text_that_the_user_adds_to_the_file_after_opening_the_job_is_kept(tmp_path: Path) -> None:
    """Text that the user wrote into the file after opening the job is kept."""
    path = job_file(tmp_path)
    read_job(path)
    path.write_text(BY_HAND.replace("Nose", "Nose, second piece"))
    assert append_operation(path, THREAD).title == "Nose, second piece"
    assert path.read_text().startswith(BY_HAND.replace("Nose", "Nose, second piece"))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (BY_HAND + "[[operation]\n", "TOML"),
        (BY_HAND + '[[operation]]\nkind = "thread"\nname = "C"\n', "thread: "),
        (b"\xff\xfe", "not UTF-8"),
        (b"", ""),
        ('format = 1\ntitle = "J"\noperation = [{kind = "by_hand", name = "A", text = "x"}]\n', "TOML"),
    ],
    ids=["broken", "invalid", "binary", "empty", "closed list"],
)
def test_adding_an_operation_to_a_job_file_with_errors_is_refused(
    tmp_path: Path, content: str | bytes, said: str
) -> None:
    """A file that has become invalid is refused and keeps its bytes."""
    path = job_file(tmp_path, content)
    before = path.read_bytes()
    with pytest.raises(FileError) as refusal:
        append_operation(path, THREAD)
    assert any(said in message for message in refusal.value.messages)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("parameters", "said"),
    [
        (THREAD | {"name": "A"}, '"A"'),
        (THREAD | {"blank": "3 mm"}, "blank: "),
        (THREAD | {"colour": "red"}, "colour: "),
        (THREAD | {"thread": 'M10"\nkind = "check'}, "thread: "),
    ],
    ids=["name used", "impossible", "unknown key", "text that would be keys"],
)
def test_an_operation_that_would_make_the_job_invalid_is_not_written(
    tmp_path: Path, parameters: dict[str, object], said: str
) -> None:
    """An operation that would make the job invalid never reaches the file."""
    path = job_file(tmp_path)
    with pytest.raises(FileError) as refusal:
        append_operation(path, parameters)
    assert any(said in message for message in refusal.value.messages)
    assert path.read_text() == BY_HAND


def test_adding_an_operation_does_not_recreate_a_removed_job_file(tmp_path: Path) -> None:
    """The refusal names the removed file, and the program does not create the file again."""
    with pytest.raises(FileError, match=r"gone\.toml"):
        append_operation(tmp_path / "gone.toml", THREAD)
    assert not list(tmp_path.iterdir())


def test_a_new_job_names_its_lathe_file_relative_to_the_jobs_folder(tmp_path: Path) -> None:
    """This holds for a lathe file in the job's folder or below that folder."""
    lathe = tmp_path / "lathe.toml"
    lathe.write_bytes((SAMPLES / "inch_lathe.toml").read_bytes())
    title = 'A 5" disc \\ "A[1]"'
    job = new_job(tmp_path / "one.toml", THREAD, title=title, lathe=lathe, material="brass")
    read = tomllib.loads((tmp_path / "one.toml").read_text())
    assert read == {"format": 1, "title": title, "lathe": "lathe.toml", "material": "brass", "operation": [THREAD]}
    assert job.lathe.name == "Nine-inch lathe"
    (tmp_path / "lathes").mkdir()
    below = lathe.replace(tmp_path / "lathes" / "below.toml")
    new_job(tmp_path / "two.toml", THREAD, title="T", lathe=below)
    assert tomllib.loads((tmp_path / "two.toml").read_text())["lathe"] == "lathes/below.toml"


def test_a_lathe_file_from_another_folder_is_copied_into_the_folder_of_the_job(tmp_path: Path) -> None:
    """The copy is made once. A different file with the same name is never overwritten."""
    stick, far = tmp_path / "stick", SAMPLES / "metric_lathe.toml"
    stick.mkdir()
    for name, lathe in (("one", far), ("two", far), ("three", SAMPLES / "inch_lathe.toml")):
        if name == "three":
            (stick / "inch_lathe.toml").write_text("mine")
        new_job(stick / f"{name}.toml", THREAD, title="T", lathe=lathe)
    elsewhere = stick.rename(tmp_path / "other mount")
    assert (elsewhere / "metric_lathe.toml").read_bytes() == far.read_bytes()
    assert (elsewhere / "inch_lathe.toml").read_text() == "mine"
    lathes = {path.stem: read_job(path).lathe.name for path in elsewhere.glob("[ot]*.toml")}
    assert lathes == {"one": "Metric bench lathe", "two": "Metric bench lathe", "three": "Nine-inch lathe"}
    assert len(list(elsewhere.iterdir())) == 6


def test_a_lathe_file_missing_at_its_path_is_looked_for_in_the_folder_of_the_job(tmp_path: Path) -> None:
    """Jobs of earlier versions may hold such a path. If the path leads to a file, that file is the lathe."""
    job, beside, at = job_file(tmp_path), tmp_path / "lathe.toml", tmp_path / "home" / "lathe.toml"
    at.parent.mkdir()
    job.write_text(f'lathe = "{at}"\n{job.read_text()}')
    with pytest.raises(FileError, match=r"no file \".*home/lathe\.toml\"\. Copy \"lathe\.toml\" into"):
        read_job(job)
    beside.write_bytes((SAMPLES / "inch_lathe.toml").read_bytes())
    assert read_job(job).lathe.name == "Nine-inch lathe" and lathe_file(read_job(job)) == beside
    at.write_bytes((SAMPLES / "metric_lathe.toml").read_bytes())
    assert read_job(job).lathe.name == "Metric bench lathe" and lathe_file(read_job(job)) == at


def test_a_new_job_without_lathe_and_material_is_written_without_those_keys(tmp_path: Path) -> None:
    """The file gets no such keys, and the job is planned on the example lathe."""
    job = new_job(tmp_path / "job.toml", THREAD, title="T")
    assert set(tomllib.loads((tmp_path / "job.toml").read_text())) == {"format", "title", "operation"}
    assert job.lathe.example


@pytest.mark.parametrize("there", ["file", "folder", "dangling link"])
def test_a_new_job_never_overwrites_an_existing_file(tmp_path: Path, there: str) -> None:
    """A file name already in use is refused."""
    path = tmp_path / "job.toml"
    if there == "file":
        path.write_text("mine")
    elif there == "folder":
        path.mkdir()
    else:
        path.symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileError):
        new_job(path, THREAD, title="T")
    assert there != "file" or path.read_text() == "mine"


def test_a_new_job_in_a_missing_folder_is_refused(tmp_path: Path) -> None:
    """The refusal is a sentence without a traceback."""
    with pytest.raises(FileError, match=r"job\.toml"):
        new_job(tmp_path / "no" / "job.toml", THREAD, title="T")


def test_a_new_job_with_a_file_name_that_is_too_long_is_refused(tmp_path: Path) -> None:
    """A name longer than the file system allows is refused with a sentence."""
    with pytest.raises(FileError):
        new_job(tmp_path / ("a" * 300 + ".toml"), THREAD, title="T")


def test_a_lathe_file_on_the_command_line_overrides_the_lathe_of_the_job(tmp_path: Path) -> None:
    """The lathe file that the job names comes second."""
    arbor = read_job(SAMPLES / "sundial_arbor.toml")
    assert lathe_file(arbor) == SAMPLES / "metric_lathe.toml"
    assert lathe_file(arbor, tmp_path / "other.toml") == tmp_path / "other.toml"
    assert lathe_file(read_job(job_file(tmp_path))) is None
