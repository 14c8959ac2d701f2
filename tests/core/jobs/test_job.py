"""Job files: their content, refused files, and files made to do harm."""

import os
import re
from pathlib import Path

import pytest

from core.jobs.job import parse_job, read_job
from core.lathe.reader import read_lathe
from core.values.errors import FileError

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
TWO_BY_HAND = """format = 1
title = "Two ends"
[[operation]]
kind = "by_hand"
name = "{}"
text = "Chamfer the end."
[[operation]]
kind = "by_hand"
name = "{}"
text = "Chamfer the other end."
"""
THREAD = '[[operation]]\nkind = "thread"\nname = "T"\nthread = "M10"\n'


def job(tmp_path: Path, text: str) -> Path:
    """Write a job file."""
    path = tmp_path / "job.toml"
    path.write_text('format = 1\ntitle = "J"\n' + text)
    return path


def refusals(path: Path) -> tuple[str, ...]:
    """Return the sentences that refuse a file."""
    with pytest.raises(FileError) as refusal:
        read_job(path)
    return refusal.value.messages


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_operation_of_every_sample_job_can_be_planned(path: Path) -> None:
    """Every operation of every sample job has a plan on the lathe that the job names."""
    if "lathe" in path.stem:
        return
    found = read_job(path)
    assert not found.lathe.example
    assert all(operation.plan.steps for operation in found.operations)


def test_the_lathe_option_overrides_the_lathe_that_the_job_names(tmp_path: Path) -> None:
    """--lathe counts first, then the job's lathe, then the user's own, and last the example lathe."""
    metric, inch = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
    plain = job(tmp_path, THREAD)
    assert read_job(plain).lathe.example
    assert read_job(plain, own_lathe=inch).lathe.name == "Nine-inch lathe"
    named = job(tmp_path, f'lathe = "{metric}"\n' + THREAD)
    assert read_job(named, own_lathe=inch).lathe.name == read_lathe(metric).name
    assert read_job(named, lathe_path=inch).lathe.name == "Nine-inch lathe"


REFUSED = [
    ("", "operation"),
    ("operation = []\n", "operation"),
    ("operation = [5]\n", "operation"),
    ('[[operation]]\nkind = "thread"\n', "name"),
    ('[[operation]]\nkind = "dance"\nname = "x"\n', "kind"),
    ('[[operation]]\nkind = "thread"\nname = "x"\n', "thread"),
    (THREAD + 'side = "inside"\nclass = "6g"\n', "class"),
    (THREAD + "passes = 0\n", "passes"),
    (THREAD + "passes = -3\n", "passes"),
    (THREAD + 'blank = "5 mm"\n', "blank"),
    (THREAD + 'tool_flat = "2 mm"\n', "tool_flat"),
    (THREAD + 'lightest_pass = "0.2 mm"\ndeepest_pass = "0.1 mm"\n', "lightest_pass"),
    (THREAD + 'compound_angle = "95 deg"\n', "compound_angle"),
    (THREAD + 'infeed = "straight"\ncompound_angle = "29 deg"\n', "compound_angle"),
    (THREAD + 'tool_flat = "0.1 mm"\ntool_radius = "0.1 mm"\n', "tool_radius"),
    (THREAD + 'form = "60 deg"\n', "form"),
    (THREAD + THREAD, "operation"),
    ('lathe = "nowhere.toml"\n' + THREAD, "lathe"),
    (THREAD + "wire = 5\n", "wire"),
    ('[[operation]]\nkind = "thread"\nname = "x"\nthread = "M10-6H"\nside = "outside"\n', "thread"),
]


@pytest.mark.parametrize(("text", "named"), REFUSED)
def test_the_refusal_of_a_job_names_the_file_the_operation_and_the_key(tmp_path: Path, text: str, named: str) -> None:
    """Each refusal is a single line."""
    messages = refusals(job(tmp_path, text))
    assert any(re.search(rf"(^|\W){re.escape(named)}: ", message) for message in messages), messages
    assert all(message.isprintable() for message in messages)


def test_all_errors_in_a_job_file_are_listed_together(tmp_path: Path) -> None:
    """A bad title, an unknown key, a bad blank and a bad number of passes give four sentences."""
    path = tmp_path / "job.toml"
    path.write_text("format = 1\ntitle = 5\nfoo = 1\n" + THREAD + 'blank = "x"\npasses = 0\n')
    assert len(refusals(path)) == 4


def test_flank_infeed_without_a_compound_dial_is_refused(tmp_path: Path) -> None:
    """Without a compound dial, the refusal of flank infeed advises straight infeed."""
    lathe = tmp_path / "lathe.toml"
    lathe.write_text('format = 1\nname = "Bare"\n[dial.cross_slide]\ngraduation = "0.05 mm"\nreads = "diameter"\n')
    path = job(tmp_path, 'lathe = "lathe.toml"\n' + THREAD + 'infeed = "flank"\n')
    assert any("straight" in message for message in refusals(path))
    straight = job(tmp_path, 'lathe = "lathe.toml"\n' + THREAD)
    assert read_job(straight).operations[0].plan.figures["passes"] > 3


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", ""),
        (b"\x00\x01\x02", "zero byte"),
        (b"title = \xff\xfe", "Line 1"),
        (b"format = 1\ntitle = ", "line 2"),
        (b"a" * 1_000_001, "1000000"),
        (b"x = " + b"[" * 1900 + b"]" * 50, ""),
        (b"x = [\n" * 30_000, ""),
        (b"a.b.c.d.e.f.g.h.i.j = 1", "too many dots"),
        (b'x = "' + b"y" * 3000 + b'"', "2000"),
        (b"x = " + b"9" * 1990, ""),
        (b"d = 2026-99-99", ""),
    ],
)
def test_broken_job_files_are_refused_with_a_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    """Files that are empty, binary, huge, deeply nested or full of dots never cause a traceback."""
    path = tmp_path / "job.toml"
    path.write_bytes(content)
    messages = refusals(path)
    assert any(said in message for message in messages), messages


def test_a_job_path_that_is_not_a_regular_file_is_refused(tmp_path: Path) -> None:
    """A folder, a pipe and a missing file are refused."""
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path, tmp_path / "pipe", tmp_path / "none.toml"):
        (message,) = refusals(path)
        assert path.name in message


def test_control_characters_in_the_name_of_an_operation_are_not_printed(tmp_path: Path) -> None:
    """A name with an escape sequence is printed without that sequence."""
    path = tmp_path / "job.toml"
    path.write_text('format = 1\ntitle = "J"\n[[operation]]\nkind = "x"\nname = "a\\u001b]52;c;eA\\u0007b"\n')
    assert all(message.isprintable() for message in refusals(path))


def test_a_lathe_file_opened_as_a_job_is_refused() -> None:
    """The refusal says that the file is a lathe file."""
    lathe = Path(__file__).parents[3] / "sample_jobs" / "metric_lathe.toml"
    (message,) = refusals(lathe)
    assert lathe.name in message


@pytest.mark.parametrize(
    "other", ["Chamfer ", " Chamfer", "Chamfer\\t", "Cham\\u200bfer", "Chamfer\\u00a0", "\\u202aChamfer"]
)
def test_operation_names_that_look_the_same_are_refused(other: str) -> None:
    """Otherwise two operations could share runs through spaces at the ends or invisible characters in their names."""
    with pytest.raises(FileError, match='Operations 1 and 2 have the same name "Chamfer"'):
        parse_job(TWO_BY_HAND.format("Chamfer", other), Path("job.toml"))
