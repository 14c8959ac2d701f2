"""The program's version, and its manual page in roff, the format of `man`."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from core.values.files import short_path
from tui.arguments import COMMANDS, ENDINGS, HELP_KEY, OPTIONS, CommandUsage, option_words
from tui.paths import Paths

_PURPOSE = "plan, count and log lathe work with the readings of your own dials"
_DESCRIPTION = (
    "halfnut helps a turner at the lathe with threads, tapers, runout, even divisions and patterns, one job at a "
    "time. It works out what to set on your own dials, counts each pass with one key, and logs the pass on disk "
    "before it shows the next one.",
    "The program gives advice and controls nothing. Follow the machine's manual and local rules first. Leave work that "
    "is reserved for licensed trades to those trades.",
    HELP_KEY,
)
_EXAMPLES = (
    ("halfnut", "open the program, with your recent jobs and the samples"),
    ("halfnut card lid.toml --format html > lid.html", "make a page of a job that you can print"),
    ('halfnut convert "15 thou"', "see a length in other units and on each dial"),
    ("halfnut log --backup log.sqlite3", "copy the log to a new file"),
)


def version() -> str:
    """Return the program's version, such as "0.1.0"."""
    from importlib import metadata

    try:
        return metadata.version("halfnut")
    except metadata.PackageNotFoundError:
        # The program runs from its source folder without being installed.
        import tomllib

        project = Path(__file__).parents[1] / "pyproject.toml"
        return str(tomllib.loads(project.read_text(encoding="utf-8"))["project"]["version"])


def manual_page(paths: Paths) -> str:
    """Return the manual page in roff. It names the folders that the program uses on this computer."""
    return "\n".join([*_lines(paths), ""])


def _lines(paths: Paths) -> Iterator[str]:
    yield f'.TH HALFNUT 1 "" "halfnut {version()}" "User Commands"'
    yield from (".SH NAME", _text(f"halfnut - {_PURPOSE}"), ".SH SYNOPSIS")
    for place, command in enumerate(COMMANDS):
        yield from [*([".br"] if place else []), _synopsis(command)]
    yield ".SH DESCRIPTION"
    for place, paragraph in enumerate(_DESCRIPTION):
        yield from [*([".PP"] if place else []), _text(paragraph)]
    yield ".SH COMMANDS"
    for command in COMMANDS:
        yield from (".TP", _synopsis(command), _text(_sentence(command.words)))
    yield ".SH OPTIONS"
    for option in OPTIONS:
        value = f" \\fI{_text(option.value)}\\fR" if option.value else ""
        yield from (".TP", f"\\fB{_text(option.name)}\\fR{value}", _text(_sentence(option_words(option))))
    yield from (".SH EXIT STATUS", _text(ENDINGS.removeprefix("Exit status: ")), ".SH FILES")
    yield from _pairs(
        [
            (short_path(paths.data), "the log of all runs, your copies of the samples"),
            (short_path(paths.config), "your lathes, and settings of pedal, instruments and bell"),
            (short_path(paths.documents), "new jobs and exports, unless you enter another folder"),
            (short_path(paths.cache), "units that were looked up; you may delete this folder"),
        ]
    )
    yield ".SH EXAMPLES"
    yield from _pairs(_EXAMPLES)


def _pairs(pairs: Sequence[tuple[str, str]]) -> Iterator[str]:
    for name, words in pairs:
        yield from (".TP", f"\\fB{_text(name)}\\fR", _text(_sentence(words)))


def _synopsis(command: CommandUsage) -> str:
    name = " ".join(filter(None, ("halfnut", command.name)))
    return f"\\fB{name}\\fR \\fI{_text(command.operand)}\\fR"


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _text(words: str) -> str:
    """Return `words` with special characters escaped, so that roff prints them and takes none as a command.

    >>> print(_text("--out C:\\\\x"), _text(".toml"))
    \\-\\-out C:\\ex \\&.toml
    """
    safe = words.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq").replace('"', "\\(dq")
    return f"\\&{safe}" if safe.startswith(".") else safe
