"""The shells themselves run the printed completion scripts and offer the words that the command line accepts."""

import os
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from tui.arguments import COMMANDS, OPTIONS, UsageError, read_arguments
from tui.completion import completion

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHELLS = ("bash", "zsh", "fish")
# The words typed, the last one up to the cursor, and what a shell is to offer for it.
OFFERED: Mapping[str, tuple[Sequence[str], set[str]]] = {
    "commands": (("c",), {"card", "convert"}),
    "jobs and folders": (("card", ""), {"a lid.toml", "base.toml", "drawings"}),
    "the start of a name with a blank": (("draw", "a"), {"a lid.toml"}),
    "formats of the card": (("card", "--format", ""), {"text", "markdown", "json", "html"}),
    "formats of the log": (("log", "--format", ""), {"text", "csv", "json"}),
    "options of draw": (("draw", "--o"), {"--operation", "--out"}),
    "folders": (("--data", ""), {"drawings"}),
    "kinds of characters": (("card", "base.toml", "--charset", "b"), {"braille", "blocks"}),
    "nothing after a quantity": (("convert", "1 in", ""), set()),
    "an option's value is no command": (("--lathe", "log", "c"), {"card", "convert"}),
}
BASH = """
source "$1"; shift
COMP_WORDS=(halfnut "$@"); COMP_CWORD=$#
$(complete -p halfnut | sed 's/.*-F \\([^ ]*\\).*/\\1/')
for word in "${COMPREPLY[@]}"; do printf '%s\\n' "$word"; done
"""


@pytest.fixture
def jobs(tmp_path: Path) -> Path:
    """Return a folder with two job files (one has a blank in its name), a folder and another file."""
    folder = tmp_path / "jobs"
    (folder / "drawings").mkdir(parents=True)
    for name in ("a lid.toml", "base.toml", "notes.txt"):
        (folder / name).touch()
    return folder


def scripts(folder: Path) -> dict[str, Path]:
    """Write the scripts of all shells, and return their paths."""
    written = {shell: folder / f"completion.{shell}" for shell in SHELLS}
    for shell, path in written.items():
        path.write_text(completion(shell), encoding="utf-8")
    return written


def ran(command: Sequence[str], folder: Path) -> str:
    """Run a shell in a folder without the user's settings. Return its output; any error output fails the test."""
    own = {"PATH": os.environ["PATH"], "HOME": str(folder), "LANG": "C.UTF-8"}
    done = subprocess.run(command, cwd=folder, env=own, capture_output=True, text=True, timeout=30, check=True)
    assert done.stderr == ""
    return done.stdout


@pytest.mark.skipif(not shutil.which("bash"), reason="bash is not installed")
@pytest.mark.parametrize("case", OFFERED)
def test_bash_completion_offers_exactly_the_words_that_the_command_line_accepts(
    jobs: Path, tmp_path: Path, case: str
) -> None:
    """The test calls the completion function as bash does. Names with a blank stay in one piece."""
    words, offered = OFFERED[case]
    printed = ran(["bash", "--norc", "-c", BASH, "bash", str(scripts(tmp_path)["bash"]), *words], jobs)
    assert set(printed.splitlines()) == offered


@pytest.mark.skipif(not shutil.which("bash"), reason="bash is not installed")
def test_bash_completion_completes_a_value_after_an_equals_sign(jobs: Path, tmp_path: Path) -> None:
    """Bash passes --format=j to the completion as three words."""
    words = ["card", "--format", "=", "j"]
    printed = ran(["bash", "--norc", "-c", BASH, "bash", str(scripts(tmp_path)["bash"]), *words], jobs)
    assert printed.splitlines() == ["json"]


@pytest.mark.skipif(not shutil.which("fish"), reason="fish is not installed")
@pytest.mark.parametrize("case", ["commands", "formats of the card", "formats of the log", "options of draw"])
def test_fish_completion_offers_exactly_the_words_that_the_command_line_accepts(
    jobs: Path, tmp_path: Path, case: str
) -> None:
    """`complete -C` prints each offered word, with a tab before its description."""
    words, offered = OFFERED[case]
    line = " ".join(["halfnut", *words])
    command = f"source {scripts(tmp_path)['fish']}; complete -C '{line}'"
    printed = ran(["fish", "--no-config", "-c", command], jobs)
    assert {row.split("\t")[0] for row in printed.splitlines()} == offered


@pytest.mark.skipif(not shutil.which("zsh"), reason="zsh is not installed")
def test_zsh_accepts_its_completion_script(tmp_path: Path) -> None:
    """`zsh -n` accepts the script. In a new zsh the command has the completion function."""
    script = scripts(tmp_path)["zsh"]
    ran(["zsh", "-f", "-n", str(script)], tmp_path)
    named = f"autoload -Uz compinit && compinit -D -u && source {script} && print ${{_comps[halfnut]}}"
    assert ran(["zsh", "-f", "-c", named], tmp_path).strip() == "_halfnut"


@pytest.mark.parametrize("shell", SHELLS)
def test_each_completion_script_contains_every_command_option_and_choice(shell: str) -> None:
    """In the fish script the options have no dashes."""
    script = completion(shell)
    names = [option.name[2:] if shell == "fish" else option.name for option in OPTIONS]
    choices = [word for option in OPTIONS for word in option.choices]
    formats = [word for command in COMMANDS for word in command.formats]
    words = [*names, *(command.name for command in COMMANDS), *choices, *formats]
    assert [word for word in words if word not in script] == []


def test_completion_for_an_unknown_shell_is_refused() -> None:
    """The sentence lists the known shells."""
    with pytest.raises(UsageError, match="bash, zsh or fish"):
        read_arguments(["--completion", "dos"])
    assert read_arguments(["--completion", "bash"]).shell == "bash"


def installed(home: Path, what: str) -> None:
    """Run the command of README.md that contains `what`, in an empty home folder.

    The command uses the program of this checkout.
    """
    (line,) = [line for line in README.splitlines() if line.startswith("mkdir") and what in line]
    program = f"PYTHONPATH={ROOT} {sys.executable} -m tui"
    ran(["bash", "--norc", "-c", line.replace(".venv/bin/halfnut", program)], home)


@pytest.mark.skipif(not shutil.which("bash"), reason="bash is not installed")
def test_the_readme_commands_install_the_manual_page_and_the_bash_completion(tmp_path: Path) -> None:
    """The first command writes the manual page into man's folder. After the second, a new bash completes `halfnut`."""
    installed(tmp_path, "--man")
    assert (tmp_path / ".local/share/man/man1/halfnut.1").read_text(encoding="utf-8").startswith(".TH HALFNUT 1")
    installed(tmp_path, "--completion bash")
    started = f". {tmp_path / '.bashrc'}; complete -p halfnut"
    assert ran(["bash", "--norc", "-c", started], tmp_path).strip() == "complete -F _halfnut halfnut"


@pytest.mark.skipif(not shutil.which("zsh"), reason="zsh is not installed")
def test_the_readme_command_installs_the_zsh_completion(tmp_path: Path) -> None:
    """The line extends the file that a new zsh reads."""
    installed(tmp_path, "--completion zsh")
    named = f". {tmp_path / '.zshrc'} && print ${{_comps[halfnut]}}"
    assert ran(["zsh", "-f", "-c", named], tmp_path).strip() == "_halfnut"


@pytest.mark.skipif(not shutil.which("fish"), reason="fish is not installed")
def test_the_readme_command_installs_the_fish_completion(tmp_path: Path) -> None:
    """Fish loads the file itself when a command of that name exists."""
    installed(tmp_path, "--completion fish")
    offered = ran(["fish", "-c", "function halfnut; end; complete -C 'halfnut log --v'"], tmp_path)
    assert {row.split("\t")[0] for row in offered.splitlines()} == {"--verify", "--version"}
