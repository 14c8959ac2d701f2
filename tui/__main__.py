"""The command-line program `halfnut`. Commands that only print do not import any screen."""

import gc
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from core.values.errors import CoreError, FileError
from core.values.plain_text import clean
from tui.arguments import HELP, Arguments, UsageError, read_arguments

if TYPE_CHECKING:
    from tui.app import HalfnutApp
    from tui.paths import Paths
    from tui.presses import Presses
    from tui.terminal import Terminal, TimeSource
    from tui.widgets.base_screen import Opening

DONE, WRONG, USAGE = 0, 1, 2
_INTERRUPTED = 130
_OBJECTS = 100_000
"""The number of new objects after which a printing command first collects garbage."""


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line and return the exit status.

    The status is 0 for success, 1 for an error, 2 for wrong usage or a missing terminal, and 130 if Ctrl+C interrupted
    the command. If `words` is None, the arguments of this process are used.
    """
    if sys.stdout is None:
        _complain("Standard output is closed, so nothing can be printed or shown.")
        return WRONG
    _never_fail_to_print()
    try:
        arguments = read_arguments(sys.argv[1:] if words is None else words)
        status = _COMMANDS[arguments.command](arguments)
        sys.stdout.flush()
    except UsageError as error:
        _complain(f"{error} See `halfnut --help`.")
        return USAGE
    except FileError as error:
        _complain(*error.messages)
        return WRONG
    except CoreError as error:
        _complain(error.message)
        return WRONG
    except BrokenPipeError:
        return _stop_printing(DONE)
    except OSError as error:
        # Core turns errors of its own files into CoreError. So this error comes from standard output.
        _complain(f"Nothing more can be printed: {error.strerror}.")
        return _stop_printing(WRONG)
    except KeyboardInterrupt:
        return _INTERRUPTED
    return status


def make_app(
    paths: "Paths",
    clock: "TimeSource",
    terminal: "Terminal",
    *,
    job: Path | None = None,
    lathe: Path | None = None,
    opening: "Opening | None" = None,
    presses: "Presses | None" = None,
) -> "HalfnutApp":
    """Return the Textual app, for the command line and for tests.

    `job` and `lathe` are the files given on the command line, or None. `opening` makes the first screen; None opens the
    usual one. `presses` distinguishes held keys from pressed keys; None creates a new object. Raises FileError with
    every error in the job file or the lathe file.
    """
    from dataclasses import replace

    from core.jobs.job import read_job
    from core.lathe.reader import find_lathe
    from tui.app import HalfnutApp

    opened = None if job is None else read_job(job, lathe, paths.own_lathe)
    return HalfnutApp(
        paths=paths,
        clock=clock,
        terminal=terminal,
        lathe=opened.lathe if opened else find_lathe(lathe, paths.own_lathe),
        lathe_path=lathe,
        job=None if opened is None else replace(opened, path=_whole(opened.path)),
        opening=opening,
        presses=presses,
    )


def _screens(arguments: Arguments) -> int:
    from tui.terminal import SYSTEM_CLOCK, complaint

    # The start creates hardly any garbage, but collecting garbage would take a tenth of the time
    # to the first paint. HalfnutApp turns it on again.
    gc.disable()
    from tui.paths import user_paths

    streams = {"standard input": sys.stdin, "standard output": sys.stdout, "standard error": sys.stderr}
    if problem := complaint(streams, os.environ):
        raise UsageError(problem)
    data, jobs, lathe = (path and _whole(path) for path in (arguments.data, arguments.jobs, arguments.lathe))
    paths = user_paths(data, jobs)
    app = make_app(paths, SYSTEM_CLOCK, _terminal(arguments), job=arguments.job, lathe=lathe)
    try:
        app.run()
    except Exception as error:
        # The terminal is already restored. A signal, not a later failure, decides the exit status.
        if not app.ending_by_signal:
            raise
        app.context.faults.keep(error, "while the program was ending")
    app.context.log.close()
    return app.return_code or DONE


def _whole(path: Path) -> Path:
    """Return `path` as an absolute path, or unchanged if the current folder no longer exists.

    A relative path would become invalid if the USB stick with the current folder were removed.
    """
    try:
        return path.absolute()
    except OSError:
        return path


def _terminal(arguments: Arguments) -> "Terminal":
    """Return what this terminal can show, according to its environment variables and the option --charset."""
    from tui.terminal import detect

    utf8_forced = bool(sys.flags.utf8_mode) and os.environ.get("PYTHONUTF8") != "1"
    return detect(os.environ, arguments.charset, utf8_forced=utf8_forced)


def _search_little() -> None:
    """Make garbage collections rare, because a command that prints is short and creates hardly any garbage."""
    gc.set_threshold(_OBJECTS)


def _card(arguments: Arguments) -> int:
    _search_little()
    from tui.paths import user_paths
    from tui.printing import print_card

    assert arguments.job is not None
    own_lathe = user_paths().own_lathe
    print_card(arguments.job, arguments.lathe, own_lathe, arguments.form, lambda: _terminal(arguments).dots)
    return DONE


def _draw(arguments: Arguments) -> int:
    _search_little()
    from tui.paths import user_paths
    from tui.printing import print_drawing

    assert arguments.job is not None
    own_lathe = user_paths().own_lathe
    if note := print_drawing(arguments.job, arguments.lathe, own_lathe, arguments.operation, arguments.out):
        _complain(note)
    return DONE


def _convert(arguments: Arguments) -> int:
    from tui.paths import user_paths
    from tui.printing import print_conversion

    print_conversion(arguments.asked, arguments.lathe, user_paths(arguments.data), arguments.form)
    return DONE


def _log(arguments: Arguments) -> int:
    from tui.printing import back_up_log, merge_log, print_log, verify_log

    if arguments.verify:
        return DONE if verify_log(arguments.data) else WRONG
    if arguments.backup is not None:
        back_up_log(arguments.data, arguments.backup)
        return DONE
    if arguments.merge is not None:
        return DONE if merge_log(arguments.data, arguments.merge) else WRONG
    print_log(arguments.job, arguments.data, arguments.form)
    return DONE


def _summary(arguments: Arguments) -> int:
    from tui.printing import print_summaries

    assert arguments.job is not None
    print_summaries(arguments.job, arguments.data, arguments.form)
    return DONE


def _lathe(arguments: Arguments) -> int:
    from tui.paths import user_paths
    from tui.printing import print_lathe_record

    print_lathe_record(arguments.lathe, user_paths(arguments.data), arguments.form)
    return DONE


def _help(arguments: Arguments) -> int:
    print(HELP, end="")
    return DONE


def _version(arguments: Arguments) -> int:
    from tui.manual import version

    print(f"halfnut {version()}")
    return DONE


def _man(arguments: Arguments) -> int:
    from tui.manual import manual_page
    from tui.paths import user_paths

    print(manual_page(user_paths(arguments.data)), end="")
    return DONE


def _completion(arguments: Arguments) -> int:
    from tui.completion import completion

    print(completion(arguments.shell), end="")
    return DONE


_COMMANDS: dict[str, Callable[[Arguments], int]] = {
    "screens": _screens,
    "card": _card,
    "draw": _draw,
    "convert": _convert,
    "log": _log,
    "summary": _summary,
    "lathe": _lathe,
    "help": _help,
    "version": _version,
    "man": _man,
    "completion": _completion,
}


def _never_fail_to_print() -> None:
    """Make Python print "?" for a character that the locale's encoding lacks, instead of raising an error."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _complain(*sentences: str) -> None:
    for sentence in sentences:
        print(f"halfnut: {clean(sentence, 2000)}", file=sys.stderr)


def _stop_printing(status: int) -> int:
    """Discard further output after standard output has failed, and return `status`.

    Standard output fails if, for example, `| head` has closed the pipe.
    """
    # Python flushes standard output again while it ends. That would raise the same error again.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return status


if __name__ == "__main__":
    sys.exit(main())
