"""The command line: arguments, exit status, error messages of one line, and no needless imports."""

import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tui.arguments import UsageError, read_arguments

ROOT = Path(__file__).parents[2]
JOB = """
format = 1
title = "Pin"
[[operation]]
kind = "turn"
name = "Turn the pin"
from = "12 mm"
to = "10 mm"
cut = "0.5 mm"
finish = "0.1 mm"
"""


def test_command_line_arguments_are_read_in_every_allowed_form() -> None:
    """Commands, a job alone, options with "=" or a blank, and negative quantities are read."""
    assert read_arguments([]).command == "screens"
    assert read_arguments(["pin.toml"]).job == Path("pin.toml")
    card = read_arguments(["--lathe=l.toml", "card", "pin.toml", "--format", "json"])
    assert (card.command, card.lathe, card.form) == ("card", Path("l.toml"), "json")
    assert read_arguments(["convert", "-0.5 mm"]).asked == "-0.5 mm"
    assert read_arguments(["card", "--", "--odd.toml"]).job == Path("--odd.toml")
    assert read_arguments(["log", "--backup", "b.db"]).backup == Path("b.db")
    assert read_arguments(["log", "--verify"]).verify
    assert read_arguments(["log", "--merge", "b.db"]).merge == Path("b.db")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["card"], "card"),
        (["log", "--backup", "b.db", "--verify"], "--backup"),
        (["log", "job.toml", "--verify"], "job.toml"),
        (["log", "--backup", "b.db", "--format", "json"], "--format"),
        (["card", "a", "b"], '"b"'),
        (["convert", "1", "1/4", "in"], "convert"),
        (["--colour"], "--charset"),
        (["card", "a", "--format", "xml"], "markdown"),
        (["a", "--format", "json"], "card"),
        (["--lathe"], "--lathe"),
        (["--lathe="], "--lathe"),
        (["--charset", "utf"], "braille"),
        (["card", "a", "--verify"], "log"),
        (["--data", "a", "--data", "b"], "--data"),
    ],
)
def test_wrong_usage_of_the_command_line_is_reported_in_one_sentence(words: list[str], told: str) -> None:
    """The sentence says what the command line accepts instead."""
    with pytest.raises(UsageError, match=told):
        read_arguments(words)


@pytest.mark.parametrize("option", ["--data", "--jobs"])
def test_a_file_given_as_the_folder_for_data_or_jobs_is_refused(option: str, tmp_path: Path) -> None:
    """The sentence names the option and asks for a folder."""
    file = tmp_path / "notes.txt"
    file.touch()
    with pytest.raises(UsageError, match=f"{option} needs a folder"):
        read_arguments([option, str(file)])
    assert read_arguments([option, str(tmp_path / "new")])


def _run(*words: str, **more: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "tui", *words]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False, **more)  # type: ignore[call-overload,no-any-return]


def test_starting_the_screens_without_a_terminal_is_refused() -> None:
    """The exit status is 2, and one line is printed."""
    done = _run(stdin=subprocess.DEVNULL)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)


def test_wrong_usage_of_the_command_line_ends_with_exit_status_2() -> None:
    """One line goes to standard error and nothing else is printed. Control characters are not printed."""
    done = _run("--\x1b]0;owned\x07x")
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert "\x1b" not in done.stderr and "\x07" not in done.stderr


def test_errors_in_a_job_file_end_the_command_with_exit_status_1(tmp_path: Path) -> None:
    """A missing or wrong job gives exit status 1 and one line for each error, without a traceback."""
    assert _run("card", str(tmp_path / "none.toml")).returncode == 1
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(JOB.replace('"12 mm"', '"12"').replace('"0.1 mm"', '"0.1 kg"'))
    done = _run("card", str(wrong))
    assert (done.returncode, done.stdout) == (1, "")
    assert len(done.stderr.splitlines()) == 2
    assert "Traceback" not in done.stderr


def test_the_help_and_version_options_print_to_standard_output() -> None:
    """Both are printed on standard output with exit status 0. The version is the version in pyproject.toml."""
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    done = _run("--version")
    assert (done.returncode, done.stdout) == (0, f"halfnut {project['version']}\n")
    assert " card JOB" in _run("--help").stdout


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["card", "JOB"], ["card", "JOB", "--format", "json"]])
def test_commands_that_only_print_import_none_of_textual_rich_and_pint(words: list[str], tmp_path: Path) -> None:
    """Help, version and card import none of textual, rich and pint."""
    job = tmp_path / "pin.toml"
    job.write_text(JOB)
    code = (
        "import sys; from tui.__main__ import main; status = main(sys.argv[1:]); "
        "loaded = {'textual', 'rich', 'pint'} & set(sys.modules); sys.exit(f'{loaded}' if loaded else status)"
    )
    command = [sys.executable, "-c", code, *(str(job) if word == "JOB" else word for word in words)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


def test_printing_to_a_closed_pipe_is_not_an_error(tmp_path: Path) -> None:
    """`| head` ends the printing without an error. A full disk is reported as an error."""
    job = tmp_path / "pin.toml"
    job.write_text(JOB)
    card = f"{sys.executable} -m tui card {job}"
    done = subprocess.run(
        ["bash", "-c", f"{card} | true; echo ${{PIPESTATUS[0]}}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("0\n", "")
    with Path("/dev/full").open("w") as full:
        process = subprocess.run(
            [sys.executable, "-m", "tui", "card", str(job)],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert process.returncode == 1
    assert process.stderr.count("\n") == 1 and "Traceback" not in process.stderr
    closed = subprocess.run(
        ["bash", "-c", f"{card} >&-"], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )
    assert closed.returncode == 1
    assert "closed" in closed.stderr


def test_a_card_is_printed_even_if_the_locale_lacks_letters_of_its_title(tmp_path: Path) -> None:
    """Letters of the title that the locale lacks are printed as "?"."""
    job = tmp_path / "pin.toml"
    job.write_text(JOB.replace("Pin", "Öse 漢"), encoding="utf-8")
    done = _run("card", str(job), env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert done.stdout.startswith("?SE ?")


LID = ROOT / "sample_jobs" / "sundial_lid.toml"


def test_the_draw_command_writes_the_same_drawing_to_standard_output_and_to_a_file(tmp_path: Path) -> None:
    """Both drawings are equal. An existing file is not replaced.

    For a job without a pattern the exit status is 1, and one line is printed.
    """
    printed = _run("draw", str(LID), env={**os.environ, "LC_ALL": "C"})
    target = tmp_path / "lid.svg"
    saved = _run("draw", str(LID), "--operation", "1", "--out", str(target))
    assert (printed.returncode, saved.returncode, saved.stdout, saved.stderr) == (0, 0, "", "")
    parsed = [ElementTree.fromstring(printed.stdout), ElementTree.parse(target).getroot()]
    assert ElementTree.tostring(parsed[0]) == ElementTree.tostring(parsed[1])
    target.write_text("mine")
    again = _run("draw", str(LID), "--out", str(target))
    assert (again.returncode, again.stderr.count("\n"), target.read_text()) == (1, 1, "mine")
    for words in ([str(ROOT / "sample_jobs" / "sundial_arbor.toml")], [str(LID), "--operation", "2"]):
        refused = _run("draw", *words)
        assert (refused.returncode, refused.stdout, refused.stderr.count("\n")) == (1, "", 1)


def test_the_html_card_is_printed_in_any_locale() -> None:
    """Letters that a locale lacks are written as character references, so that a browser shows them all."""
    page = _run("card", str(LID), "--format", "html", env={**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0"})
    assert page.returncode == 0 and page.stdout.startswith("<!DOCTYPE html>")
    assert page.stdout.isascii() and "30&#176;00" in page.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["draw"], "job file"),
        (["draw", "a", "--operation", "x"], "--operation"),
        (["draw", "a", "--operation", "0"], "--operation"),
        (["draw", "a", "--format", "html"], "--format"),
        (["card", "a", "--out", "b"], "draw"),
    ],
)
def test_a_wrong_use_of_the_draw_command_is_reported(words: list[str], said: str) -> None:
    """`draw` requires a job, and other commands refuse the options of `draw`."""
    with pytest.raises(UsageError, match=said):
        read_arguments(words)
