"""The manual page is valid roff and agrees with --help."""

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from core.values.files import short_path
from tests.conftest import MakeApp
from tests.tui.painted import painted
from tui.arguments import COMMANDS, HELP, OPTIONS, read_arguments
from tui.help import places
from tui.manual import manual_page, version
from tui.paths import Paths

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
ARBOR, LATHE = SAMPLES / "sundial_arbor.toml", SAMPLES / "metric_lathe.toml"
# The sections that man(7) and man-pages(7) ask for or name, in their order.
SECTIONS = ["NAME", "SYNOPSIS", "DESCRIPTION", "COMMANDS", "OPTIONS", "EXIT STATUS", "FILES", "EXAMPLES"]
# The requests and macros that a page of man(7) may begin a line with here.
MACROS = {".TH", ".SH", ".TP", ".PP", ".br"}


@pytest.fixture
def page(paths: Paths) -> str:
    """Return the manual page for the folders of this test."""
    return manual_page(paths)


def formatted(page: str) -> str:
    """Return the page as groff formats it for a terminal. Any warning fails the test."""
    command = ["groff", "-man", "-ww", "-Tascii", "-P-cbou", "-rLL=200n"]
    done = subprocess.run(command, input=page, capture_output=True, text=True, timeout=30, check=True)
    assert done.stderr == ""
    return done.stdout


def test_the_manual_page_uses_only_macros_that_the_man_command_knows(page: str) -> None:
    """A row of text that started with a full stop or an apostrophe would count as a command."""
    lines = page.splitlines()
    assert lines[0].startswith('.TH HALFNUT 1 "')
    assert {line.split(" ")[0] for line in lines if line[:1] in {".", "'"}} == MACROS
    assert [line.removeprefix(".SH ") for line in lines if line.startswith(".SH ")] == SECTIONS
    assert re.search(r"^halfnut \\- \S", page, re.MULTILINE)
    assert not re.search(r"\\(?![-e&(f])", page)
    assert page.count("\\fB") + page.count("\\fI") == page.count("\\fR")


@pytest.mark.skipif(not shutil.which("groff"), reason="groff is not installed")
def test_groff_formats_the_manual_page_without_a_warning(page: str, paths: Paths) -> None:
    """The formatted page contains every command and option in the characters that a user types."""
    text = " ".join(formatted(page).split())
    for command in COMMANDS:
        assert " ".join(filter(None, ("halfnut", command.name, command.operand))) in text
    for option in OPTIONS:
        assert " ".join(filter(None, (option.name, option.value))) in text
    assert f"halfnut {version()}" in text
    assert short_path(paths.documents) in text


@pytest.mark.skipif(not shutil.which("mandoc"), reason="mandoc is not installed")
def test_mandoc_finds_no_error_in_the_manual_page(page: str, tmp_path: Path) -> None:
    """mandoc warns only of the missing date. Its rules of style are not checked."""
    path = tmp_path / "halfnut.1"
    path.write_text(page, encoding="utf-8")
    done = subprocess.run(
        ["mandoc", "-T", "lint", "-W", "warning", str(path)], capture_output=True, text=True, timeout=30, check=False
    )
    assert [line for line in done.stdout.splitlines() if "missing date" not in line] == []


def test_the_command_line_accepts_the_examples_of_the_manual_page(page: str) -> None:
    """Each example is read as the command that it names."""
    examples = re.findall(r"\\fB(halfnut.*)\\fR", page.split(".SH EXAMPLES")[1])
    typed = [example.replace("\\-", "-").replace("\\(dq", '"').split(" >")[0] for example in examples]
    commands = [read_arguments(shlex.split(words)[1:]).command for words in typed]
    assert commands == ["screens", "card", "convert", "log"]


def test_the_help_option_prints_rows_of_at_most_110_columns() -> None:
    """Each option appears once in the help."""
    assert max(map(len, HELP.splitlines())) <= 110
    assert [HELP.count(f"\n  {option.name} ") for option in OPTIONS] == [1] * len(OPTIONS)


async def test_the_help_page_names_the_program_version_and_the_paths_of_the_users_files(
    make: MakeApp, paths: Paths
) -> None:
    """Help names the files for log, lathe and settings, and the folders for new jobs and samples."""
    app = make(job=ARBOR, lathe=LATHE)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        named = dict(places(app.context))
        assert re.fullmatch(r"halfnut \d+\.\d+(\.\d+)?", named["version"])
        expected = {
            "open job": ARBOR,
            "new jobs": paths.documents,
            "samples": paths.samples,
            "log": paths.data / "logbook.sqlite3",
            "lathe": LATHE,
            "settings": paths.controls,
        }
        assert all(named[name].startswith(short_path(path)) for name, path in expected.items())
        await pilot.press("f1", "end")
        await pilot.pause()
        assert named["version"] in painted(app) and named["log"] in painted(app)
