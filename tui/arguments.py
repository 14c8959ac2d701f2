"""Reads the command line.

Wrong usage raises UsageError, whose message says what is wrong and what to type instead. The help, the manual page and
the shell completion are generated from COMMANDS and OPTIONS.
"""

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap
from typing import Literal, NamedTuple

from core.values.plain_text import quoted

Command = Literal[
    "screens", "card", "draw", "convert", "log", "summary", "lathe", "help", "version", "man", "completion"
]
Kind = Literal["none", "file", "toml", "folder", "choice", "number"]
"""The kind of value that an option takes: a file, a .toml file, a folder, one of several words, a number, or none."""


class CommandUsage(NamedTuple):
    """One command of the command line, as shown by the help, the manual page and the shell completion."""

    name: str
    """The name that the user types; "" for the command that opens the screens."""
    operand: str
    """The argument after the name, in brackets if it is optional."""
    words: str
    needs: str = ""
    """The description of a required argument; "" if no argument is required."""
    formats: tuple[str, ...] = ()
    """The words that --format accepts for this command."""


class CommandOption(NamedTuple):
    """One option of the command line, as shown by the help, the manual page and the shell completion."""

    name: str
    words: str
    """The description of the option. `{choices}` is replaced by the accepted words."""
    value: str = ""
    """The placeholder for the option's value in the help; "" if the option has no value."""
    kind: Kind = "none"
    only_for: str = ""
    """The only command that accepts the option; "" if several commands accept it."""
    choices: tuple[str, ...] = ()


COMMANDS = (
    CommandUsage("", "[JOB]", "open the program or a job"),
    CommandUsage(
        "card",
        "JOB",
        "print a job's figures, cautions and steps",
        "a job file",
        ("text", "markdown", "json", "html"),
    ),
    CommandUsage("draw", "JOB", "print a pattern as SVG, at true size in millimetres", "a job file"),
    CommandUsage(
        "convert",
        '"1 1/4 in"',
        "convert a quantity to other units and to readings of each dial",
        "a quantity to convert",
        ("text", "json"),
    ),
    CommandUsage("log", "[JOB]", "print the log", formats=("text", "csv", "json")),
    CommandUsage(
        "summary",
        "JOB",
        "print the wanted sizes, measured sizes and times of a job",
        "a job file",
        ("text", "markdown", "json", "html"),
    ),
    CommandUsage(
        "lathe",
        "",
        "compare this lathe's dials with your measurements",
        formats=("text", "markdown", "json", "html"),
    ),
)
OPTIONS = (
    CommandOption("--lathe", "use the lathe in this file", "FILE", "toml"),
    CommandOption("--data", "keep the log, new jobs and exports in this folder", "DIR", "folder"),
    CommandOption("--jobs", "keep your jobs and exports in this folder, for example on a USB stick", "DIR", "folder"),
    CommandOption(
        "--charset",
        "draw screens and pictures with these characters: {choices}",
        "KIND",
        "choice",
        choices=("auto", "ascii", "blocks", "braille"),
    ),
    CommandOption("--format", "{choices}", "FORM", "choice"),
    CommandOption("--operation", "draw: choose the operation by its number", "N", "number", "draw"),
    CommandOption("--out", "draw: write the drawing to a new file", "FILE", "file", "draw"),
    CommandOption("--verify", "log: check every entry of the log", only_for="log"),
    CommandOption("--backup", "log: copy the log to a new file, even while the program runs", "FILE", "file", "log"),
    CommandOption("--merge", "log: add the runs from the log or backup of another computer", "FILE", "file", "log"),
    CommandOption("--man", "print the manual page"),
    CommandOption(
        "--completion",
        "print the script that completes commands in a shell: {choices}",
        "SHELL",
        "choice",
        choices=("bash", "zsh", "fish"),
    ),
    CommandOption("--version", "print the version"),
    CommandOption("--help", "print this help"),
)
ENDINGS = "Exit status: 0 means success, 1 an error in a file or a value, 2 a wrong command or no terminal."
HELP_KEY = "In the program, press F1 on any screen for help."

_WIDEST_WORDS = 86
"""The most columns for the description of an option in the help."""
_OF_WHOLE_LOG = ("--verify", "--backup", "--merge")
"""Options of `halfnut log` that cannot be combined with a job or with each other."""
_FORMATS = {command.name: command.formats for command in COMMANDS if command.name}
_NEEDS = {command.name: command.needs for command in COMMANDS if command.needs}
_CHOICES = {option.name: option.choices for option in OPTIONS if option.choices}


def in_words(choices: Sequence[str]) -> str:
    """Return `choices` as an English list, joined with commas and "or".

    >>> in_words(["text", "csv", "json"])
    'text, csv or json'
    """
    return " or ".join(filter(None, (", ".join(choices[:-1]), choices[-1])))


def option_words(option: CommandOption) -> str:
    """Return the description of an option, with `{choices}` replaced by the words that the option accepts."""
    commands: dict[tuple[str, ...], list[str]] = {}
    for name, words in _FORMATS.items():
        commands.setdefault(words, []).append(name)
    formats = "; ".join(f"{', '.join(names)}: {in_words(words)}" for words, names in commands.items() if words)
    return option.words.format(choices=in_words(option.choices) if option.choices else formats)


def _help_text() -> str:
    """Return the text that --help prints."""
    uses = [" ".join(filter(None, ("halfnut", command.name, command.operand))) for command in COMMANDS]
    named = [" ".join(filter(None, (option.name, option.value))) for option in OPTIONS]
    widest = max(map(len, named))
    lines = [
        f"{'' if number else 'usage:':6} {use:<34} {command.words}"
        for number, (use, command) in enumerate(zip(uses, COMMANDS, strict=True))
    ]
    lines.append("")
    for name, option in zip(named, OPTIONS, strict=True):
        first, *more = wrap(option_words(option), _WIDEST_WORDS)
        lines += [f"  {name:<{widest}}  {first}", *(" " * (widest + 4) + words for words in more)]
    return "\n".join([*lines, "", ENDINGS, HELP_KEY, ""])


HELP = _help_text()


class UsageError(Exception):
    """Raised for a wrong command line. The message says what is wrong and what to type instead."""


class Arguments(NamedTuple):
    """The command, arguments and options that the user typed."""

    command: Command
    job: Path | None = None
    asked: str = ""
    """The quantity to convert, as the user typed it; "" for other commands."""
    lathe: Path | None = None
    data: Path | None = None
    jobs: Path | None = None
    charset: Literal["auto", "ascii", "blocks", "braille"] = "auto"
    form: str = "text"
    verify: bool = False
    backup: Path | None = None
    merge: Path | None = None
    """The log or backup of another machine, to be merged into this machine's log."""
    operation: int | None = None
    """The number of the operation to draw. None means the first operation that has a pattern."""
    out: Path | None = None
    shell: str = ""
    """The shell for which to print the completion script."""


def read_arguments(words: Sequence[str]) -> Arguments:
    """Return the command with its arguments and options, parsed from the words after the program's name.

    Raises UsageError for a wrong command line.

    >>> read_arguments(["card", "job.toml", "--format", "json"]).form
    'json'
    """
    plain, options = _sorted_out(words)
    if "--help" in options:
        return Arguments(command="help")
    if "--version" in options:
        return Arguments(command="version")
    if "--man" in options:
        return Arguments(command="man")
    if (shell := options.get("--completion")) is not None:
        _check_word("--completion", shell, _CHOICES["--completion"])
        return Arguments(command="completion", shell=shell)
    command = plain.pop(0) if plain and plain[0] in _FORMATS else "screens"
    _check(command, plain, options)
    return Arguments(
        command=command,  # type: ignore[arg-type]
        job=Path(plain[0]) if plain and command != "convert" else None,
        asked=plain[0] if command == "convert" else "",
        lathe=_path(options, "--lathe"),
        data=_folder(options, "--data"),
        jobs=_folder(options, "--jobs"),
        charset=options.get("--charset", "auto"),  # type: ignore[arg-type]
        form=options.get("--format", "text"),
        verify="--verify" in options,
        backup=_path(options, "--backup"),
        merge=_path(options, "--merge"),
        operation=_number(options, "--operation"),
        out=_path(options, "--out"),
    )


def _sorted_out(words: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """Return the plain arguments in a list, and the options in a dict of names and values.

    An option without a value has the value "". Raises UsageError for an option that is unknown, is given twice or lacks
    its value.
    """
    plain: list[str] = []
    options: dict[str, str] = {}
    pending = list(words)
    while pending:
        word = pending.pop(0)
        if word == "--":
            return plain + pending, options
        if not word.startswith("-") or word == "-" or not word.lstrip("-")[:1].isalpha():
            # "-0.5 mm" is a quantity, not an option.
            plain.append(word)
            continue
        name, equals, value = word.partition("=")
        name = {"-h": "--help", "-V": "--version"}.get(name, name)
        if name in options:
            raise UsageError(f"{name} is given twice. Give this option only once.")
        option = next((option for option in OPTIONS if option.name == name), None)
        if option is not None and not option.value and not equals:
            options[name] = ""
        elif option is not None and option.value:
            if not equals and not pending:
                raise UsageError(f"{name} needs a value after it.")
            options[name] = value if equals else pending.pop(0)
        else:
            known = ", ".join(option.name for option in OPTIONS)
            raise UsageError(f"There is no option {quoted(word)}. Use one of these: {known}.")
    return plain, options


def _check(command: str, plain: Sequence[str], options: dict[str, str]) -> None:
    """Raise UsageError if a command lacks a required argument, or does not accept an argument or an option.

    `plain` contains the arguments after the command. `options` contains the values of the options under their names.
    """
    if command in _NEEDS and not plain:
        raise UsageError(f"{command} needs {_NEEDS[command]} after it.")
    if command == "lathe" and plain:
        raise UsageError(
            f"{quoted(plain[0])} cannot follow the command lathe. Use --lathe FILE to choose another lathe."
        )
    if len(plain) > 1:
        hint = ' Put it in quotes: halfnut convert "1 1/4 in".' if command == "convert" else ""
        raise UsageError(f"{quoted(plain[0])} and {quoted(plain[1])} are two arguments. Give only one.{hint}")
    for option in OPTIONS:
        if option.name in options and option.only_for not in {"", command}:
            raise UsageError(f"Use {option.name} only with `halfnut {option.only_for}`.")
    for name in _OF_WHOLE_LOG:
        others = [*map(quoted, plain), *(other for other in (*_OF_WHOLE_LOG, "--format") if other in options)]
        if name in options and (others := [other for other in others if other != name]):
            raise UsageError(
                f"{name} applies to the whole log and cannot be combined with {others[0]}. Use one of them at a time."
            )
    if "--format" in options:
        _check_format(options["--format"], command)
    _check_word("--charset", options.get("--charset", "auto"), _CHOICES["--charset"])


def _check_format(word: str, command: str) -> None:
    accepted = _FORMATS.get(command, ())
    if not accepted:
        takes = [command for command, words in _FORMATS.items() if words]
        raise UsageError(f"Use --format only with `halfnut {'`, `halfnut '.join(takes)}`.")
    if word not in accepted:
        raise UsageError(f"--format cannot be {quoted(word)}. With {command}, use one of these: {', '.join(accepted)}.")


def _check_word(name: str, word: str, accepted: Sequence[str]) -> None:
    if word not in accepted:
        raise UsageError(f"{name} cannot be {quoted(word)}. Use {in_words(accepted)}.")


def _path(options: dict[str, str], name: str) -> Path | None:
    value = options.get(name)
    if value is None:
        return None
    if not value:
        raise UsageError(f"{name} needs a name after it.")
    return Path(value)


def _folder(options: dict[str, str], name: str) -> Path | None:
    path = _path(options, name)
    try:
        is_file = path is not None and path.is_file()
    except OSError:
        is_file = False
    if is_file:
        raise UsageError(f"{name} needs a folder, but {quoted(str(path))} is a file. Enter the name of a folder.")
    return path


def _number(options: dict[str, str], name: str) -> int | None:
    value = options.get(name)
    if value is None:
        return None
    if not (value.isascii() and value.isdecimal() and len(value) <= 6 and int(value) > 0):
        raise UsageError(f"{name} cannot be {quoted(value)}. Use the number of an operation, such as 1.")
    return int(value)
