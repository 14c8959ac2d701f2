"""The commands, keys and screens in the README exist."""

import re
from pathlib import Path

from core.jobs.job import read_job
from tests.tui.pictures.taking import with_pictures
from tui.arguments import HELP
from tui.counter.screen import CounterScreen

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_readme_help_and_movements_agree_when_to_press_the_key() -> None:
    """All three say: withdraw the tool, carriage back, and only then the key."""
    rule = "Withdraw the tool, bring the carriage back, then press Space"
    assert rule in " ".join(README.split()) and rule in CounterScreen.HELP


def test_the_first_paragraph_states_the_purpose() -> None:
    """The first paragraph says what the program is for."""
    first = README.split("\n\n")[1]
    assert "lathe" in first and "dials" in first and "pass" in first


def test_both_start_commands_are_single_lines_that_work_alone() -> None:
    """Each makes its own .venv, and the job that it opens exists and can be planned."""
    commands = re.findall(r"^python3 -m venv \.venv && .+$", README, re.MULTILINE)
    assert len(commands) == 2
    job = re.search(r"halfnut (sample_jobs/\S+)", commands[0])
    assert job is not None
    assert read_job(ROOT / job[1]).operations


def test_every_counter_key_in_the_readme_exists() -> None:
    """Every key in the README's table is bound in the counter."""
    bound = {key for binding in CounterScreen.BINDINGS for key in binding.key.split(",")}  # type: ignore[union-attr]
    names = {"-": "minus", "*": "asterisk", "/": "slash", "Esc": "escape"}
    names |= {key: key.lower() for key in ("Space", "Enter", "Backspace")}
    rows = re.findall(r"^\| (\S+(?: or \S+)?) \|", README, re.MULTILINE)
    keys = [key for row in rows for key in row.split(" or ") if key not in {"key", "---", "F1"}]
    assert keys and all(names.get(key, key) in bound for key in keys)


def test_every_option_in_the_readme_is_in_the_help() -> None:
    """Each option and command that the README names is in --help."""
    for word in re.findall(r"`(?:halfnut (\w+)|(--\w+))", README):
        name = word[0] or word[1]
        assert name in HELP or name == "JOB"


def test_screens_in_the_readme_match_the_saved_pictures() -> None:
    """`python -m tests.tui.pictures` writes them; each main screen is there."""
    assert README.count("<!-- screen: ") >= 8
    assert with_pictures(README) == README
