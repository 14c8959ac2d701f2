"""Reads the command line. Wrong usage raises UsageError with what is wrong and what to type."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal, NamedTuple

from core.values.plain_text import quoted

Command = Literal["screens", "card", "draw", "convert", "log", "summary", "lathe", "help", "version"]

HELP = """\
usage: halfnut [JOB]                      open the program, or a job
       halfnut card JOB                   print a job's figures, cautions and steps
       halfnut draw JOB                   print a pattern as SVG, at true size in millimetres
       halfnut convert "1 1/4 in"         print a quantity in other units and on each dial
       halfnut log [JOB]                  print what was logged
       halfnut summary JOB                print what each operation came to: wanted, measured, time
       halfnut lathe                      print what this lathe does: dials beside measurements

  --lathe FILE      use this lathe
  --data DIR        the folder of the log, new jobs and exports
  --charset KIND    draw screens and pictures with: auto, ascii, blocks or braille
  --format FORM     card, summary, lathe: text, markdown, json or html; convert: text or json;
                    log: text, csv or json
  --operation N     draw: the operation with this number
  --out FILE        draw: write to a new file
  --verify          log: check every entry of the log
  --backup FILE     log: copy the log to a new file, even while the program runs
  --version         print the version
  --help            print this

Exit status: 0 done, 1 a file or value is wrong, 2 wrong usage or no terminal.
In the program, F1 is help on every screen.
"""

_FORMATS: dict[str, tuple[str, ...]] = {
    "card": ("text", "markdown", "json", "html"),
    "draw": (),
    "convert": ("text", "json"),
    "log": ("text", "csv", "json"),
    "summary": ("text", "markdown", "json", "html"),
    "lathe": ("text", "markdown", "json", "html"),
}
_NEEDS = {"card": "a job file", "draw": "a job file", "summary": "a job file", "convert": "a quantity to convert"}
_CHARSETS = ("auto", "ascii", "blocks", "braille")
_WITH_VALUE = ("--lathe", "--data", "--charset", "--format", "--operation", "--out", "--backup")
_FLAGS = ("--verify", "--version", "--help")
_ONLY_FOR = {"--verify": "log", "--backup": "log", "--operation": "draw", "--out": "draw"}


class UsageError(Exception):
    """The command line is wrong. The message says what is wrong and what to type."""


class Arguments(NamedTuple):
    """The command and options of one command line."""

    command: Command
    job: Path | None = None
    asked: str = ""
    """The quantity to convert."""
    lathe: Path | None = None
    data: Path | None = None
    charset: Literal["auto", "ascii", "blocks", "braille"] = "auto"
    form: str = "text"
    verify: bool = False
    backup: Path | None = None
    operation: int | None = None
    """The number of the operation to draw; None: the first one that has a pattern."""
    out: Path | None = None


def read_arguments(words: Sequence[str]) -> Arguments:
    """Return the command and its options from the words after the program's name; raises UsageError.

    >>> read_arguments(["card", "job.toml", "--format", "json"]).form
    'json'
    """
    plain, options = _sorted_out(words)
    if "--help" in options:
        return Arguments(command="help")
    if "--version" in options:
        return Arguments(command="version")
    command = plain.pop(0) if plain and plain[0] in _FORMATS else "screens"
    _check(command, plain, options)
    return Arguments(
        command=command,  # type: ignore[arg-type]
        job=Path(plain[0]) if plain and command != "convert" else None,
        asked=plain[0] if command == "convert" else "",
        lathe=_path(options, "--lathe"),
        data=_path(options, "--data"),
        charset=options.get("--charset", "auto"),  # type: ignore[arg-type]
        form=options.get("--format", "text"),
        verify="--verify" in options,
        backup=_path(options, "--backup"),
        operation=_number(options, "--operation"),
        out=_path(options, "--out"),
    )


def _sorted_out(words: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """Return the words that are no options, and the options with their values."""
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
            raise UsageError(f"{name} is there twice. Write it once.")
        if name in _FLAGS and not equals:
            options[name] = ""
        elif name in _WITH_VALUE:
            if not equals and not pending:
                raise UsageError(f"{name} needs a value after it.")
            options[name] = value if equals else pending.pop(0)
        else:
            known = ", ".join((*_WITH_VALUE, *_FLAGS))
            raise UsageError(f"There is no option {quoted(word)}. Use {known}.")
    return plain, options


def _check(command: str, plain: Sequence[str], options: dict[str, str]) -> None:
    """Raise UsageError for words or options that the command does not take, and for those it needs and lacks."""
    if command in _NEEDS and not plain:
        raise UsageError(f"{command} needs {_NEEDS[command]} after it.")
    if command == "lathe" and plain:
        raise UsageError(f"{quoted(plain[0])} after lathe is one too many. Use --lathe FILE for another lathe.")
    if len(plain) > 1:
        hint = ' Put it in quotes: halfnut convert "1 1/4 in".' if command == "convert" else ""
        raise UsageError(f"{quoted(plain[1])} after {quoted(plain[0])} is one too many.{hint}")
    for name, only in _ONLY_FOR.items():
        if name in options and command != only:
            raise UsageError(f"{name} goes with `halfnut {only}` only.")
    if "--format" in options:
        _check_word("--format", options["--format"], _FORMATS.get(command, ()), command)
    _check_word("--charset", options.get("--charset", "auto"), _CHARSETS, command)


def _check_word(name: str, word: str, accepted: Sequence[str], command: str) -> None:
    if not accepted:
        takes = [command for command, words in _FORMATS.items() if words]
        raise UsageError(f"{name} goes with `halfnut {'`, `halfnut '.join(takes)}` only.")
    if word not in accepted:
        raise UsageError(f"{name} cannot be {quoted(word)}. With {command} use {', '.join(accepted)}.")


def _path(options: dict[str, str], name: str) -> Path | None:
    value = options.get(name)
    if value is None:
        return None
    if not value:
        raise UsageError(f"{name} needs a name after it.")
    return Path(value)


def _number(options: dict[str, str], name: str) -> int | None:
    value = options.get(name)
    if value is None:
        return None
    if not (value.isascii() and value.isdecimal() and len(value) <= 6 and int(value) > 0):
        raise UsageError(f"{name} cannot be {quoted(value)}. Use the number of an operation, such as 1.")
    return int(value)
