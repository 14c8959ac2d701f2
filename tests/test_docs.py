"""The commands, keys and screens in README.md exist."""

import re
from pathlib import Path

from core.jobs.job import read_job
from tests.tui.pictures.taking import with_pictures
from tui.arguments import HELP
from tui.counter.screen import CounterScreen

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readme_and_the_counter_help_state_the_same_rule_for_pressing_space() -> None:
    """The rule: withdraw the tool, bring the carriage back, then press Space."""
    rule = "Withdraw the tool, bring the carriage back, then press Space"
    assert rule in " ".join(README.split()) and rule in CounterScreen.HELP


def test_the_first_paragraph_of_the_readme_mentions_lathe_dials_and_pass() -> None:
    """A newcomer learns the purpose of the program from the first paragraph."""
    first = README.split("\n\n")[1]
    assert "lathe" in first and "dials" in first and "pass" in first


def test_both_install_commands_in_the_readme_create_a_virtual_environment() -> None:
    """Each command is one line. The first one opens a sample job, which can be planned."""
    commands = re.findall(r"^python3 -m venv \.venv && .+$", README, re.MULTILINE)
    assert len(commands) == 2
    job = re.search(r"halfnut (sample_jobs/\S+)", commands[0])
    assert job is not None
    assert read_job(ROOT / job[1]).operations


def test_every_counter_key_listed_in_the_readme_has_an_action_in_the_counter() -> None:
    """README.md lists the keys in the first column of a table."""
    bound = {key for binding in CounterScreen.BINDINGS for key in binding.key.split(",")}  # type: ignore[union-attr]
    names = {"-": "minus", "*": "asterisk", "/": "slash", "Esc": "escape"}
    names |= {key: key.lower() for key in ("Space", "Enter", "Backspace")}
    rows = re.findall(r"^\| (\S+(?: or \S+)?) \|", README, re.MULTILINE)
    keys = [key for row in rows for key in row.split(" or ") if key not in {"key", "---", "F1"}]
    assert keys and all(names.get(key, key) in bound for key in keys)


def test_every_command_and_option_in_the_readme_is_listed_by_the_help_option() -> None:
    """The commands of halfnut in README.md are listed too."""
    for word in re.findall(r"`(?:halfnut (\w+)|(--\w+))", README):
        name = word[0] or word[1]
        assert name in HELP or name == "JOB"


def test_the_screens_in_the_readme_match_the_saved_pictures() -> None:
    """README.md contains at least eight screens, each with the text saved by `python -m tests.tui.pictures`."""
    assert README.count("<!-- screen: ") >= 8
    assert with_pictures(README) == README
