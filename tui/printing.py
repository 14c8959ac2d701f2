"""Prints the results of commands, such as the card of a job, a drawing, a conversion or the log."""

import json
import shutil
import sys
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from core.events.state import RunSummary
    from core.jobs.job import JobOperation
    from core.logbook.logbook import Logbook
    from core.pages.log_export import LoggedRun
    from tui.paths import Paths
    from tui.terminal import Dots

_PAGE = 200
_PICTURE_COLUMNS = 56
"""The width of a printed pattern [columns]. It leaves a margin on paper and is wider than on most screens."""


def print_card(
    job: Path, lathe: Path | None, own_lathe: Path | None, form: str, dots: "Callable[[], Dots]" = lambda: "ascii"
) -> None:
    """Print the card of a job as "text", "markdown", "json" or "html".

    Text is as wide as the environment variable COLUMNS says, or else as the terminal. Piped text has the width of a
    page. `lathe` is the file given by --lathe, and `own_lathe` is the file of the user's lathe; each may be None.
    `dots` returns the kind of characters for drawing a pattern, and is called only if the job has a pattern. Raises
    FileError if the job or the lathe has errors.
    """
    from core.jobs.card import card_data
    from core.jobs.job import read_job
    from core.pages.card_page import card_markdown, card_text

    def draw(operation: "JobOperation", columns: int) -> list[str]:
        return _drawn(operation, columns, dots)

    opened = read_job(job, lathe, own_lathe)
    if form == "json":
        page = json.dumps(card_data(opened), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    elif form == "html":
        from core.pages.html_page import card_html

        page = card_html(opened)
    else:
        page = card_markdown(opened, draw) if form == "markdown" else card_text(opened, _columns(), draw)
    print(_printable(page, form), end="")


def _printable(page: str, form: str) -> str:
    """Return a page in characters that can be printed.

    HTML and SVG are returned in ASCII, which fits every encoding. Other formats are unchanged. `form` is the format of
    the page, such as "text" or "html".
    """
    return page.encode("ascii", "xmlcharrefreplace").decode("ascii") if form in {"html", "svg"} else page


def _drawn(operation: "JobOperation", columns: int, dots: "Callable[[], Dots]") -> list[str]:
    """Return the pattern of an operation as text rows of at most `columns` columns; [] if it has no pattern.

    `dots` returns the kind of characters to draw with.
    """
    picture = operation.picture
    if picture is None:
        return []
    from tui.widgets.pattern_drawing import pattern_lines

    return pattern_lines(picture, min(columns, _PICTURE_COLUMNS), dots())


def print_drawing(job: Path, lathe: Path | None, own_lathe: Path | None, number: int | None, out: Path | None) -> str:
    """Draw the pattern of an operation as SVG, to standard output or to the new file `out`.

    `number` is the number of the operation in the job; None means the first operation with a pattern. Return a sentence
    that names the other patterns of the job; "" if there are none. Raises CoreError if there is nothing to draw or if
    the file cannot be written.
    """
    from core.jobs.job import read_job
    from core.pages.pattern_svg import job_drawing
    from core.values.files import write_new

    drawing = job_drawing(read_job(job, lathe, own_lathe), number)
    if out is None:
        print(_printable(drawing.svg, "svg"), end="")
    else:
        write_new(out, drawing.svg.splitlines())
    return drawing.others


def print_conversion(asked: str, lathe: Path | None, paths: "Paths", form: str) -> None:
    """Print a quantity in all its units and as readings of the lathe's dials.

    `asked` is the quantity as the user typed it, and `form` is "text" or "json". Raises CoreError if the quantity
    cannot be converted.
    """
    from core.conversion.answers import as_data, text_lines
    from core.conversion.convert import convert
    from core.lathe.reader import find_lathe

    lathe_used = find_lathe(lathe, paths.own_lathe)
    answer = convert(asked, lathe_used, paths.cache)
    if form == "json":
        print(json.dumps(as_data(answer), ensure_ascii=False, indent=1, allow_nan=False))
        return
    print("\n".join(text_lines(answer)))
    if lathe_used.example and answer.dials:
        print("! These dials belong to an example lathe, not yours. To set up your own lathe, press l on the board.")


def print_log(job: Path | None, data: Path | None, form: str) -> None:
    """Print the log of one job, or of all jobs if `job` is None, newest run first, as "text", "csv" or "json".

    `data` is the folder of the log; None means the usual folder. The log is only read, but a damaged log is first
    repaired and reported on standard error. The job file itself may have been deleted. Raises LogbookError if the log
    cannot be read.
    """
    from core.pages.log_export import as_csv, as_json, as_text

    write = {"text": as_text, "csv": as_csv, "json": as_json}[form]

    def lines(logbook: "Logbook") -> "Iterator[str]":
        runs = logged_runs(logbook, None if job is None else _resolved(job))
        first = next(runs, None)
        if first is None and form == "text":
            yield nothing_logged(job)
        else:
            yield from write(runs if first is None else chain([first], runs))

    _print_from_log(data, lines)


def _print_from_log(data: Path | None, lines: "Callable[[Logbook], Iterator[str]]") -> None:
    """Print the rows that `lines` makes from the log in the folder `data`; None means the usual folder.

    The log is only read, but a damaged log is repaired first. Raises LogbookError if the log cannot be read, or if it
    was repaired after rows had been printed.
    """
    from core.logbook.errors import LogbookDamagedError
    from core.logbook.logbook import Logbook
    from core.values.errors import LogbookError
    from core.values.plain_text import clean
    from tui.paths import user_paths

    printed = 0

    def print_from(logbook: "Logbook") -> None:
        nonlocal printed
        for line in lines(logbook):
            print(line)
            printed += 1

    folder = user_paths(data).data
    try:
        with Logbook.open(folder, read_only=True) as logbook:
            print_from(logbook)
    except LogbookDamagedError as error:
        with Logbook.open(folder) as logbook:
            if not logbook.notices:
                logbook.repair(error.message)
            for notice in logbook.notices:
                print(f"halfnut: {clean(notice, 2000)}", file=sys.stderr)
            if printed:
                raise LogbookError("The log was repaired while it was printed. Print it again.") from error
            print_from(logbook)


def print_summaries(job: Path, data: Path | None, form: str) -> None:
    """Print the summary of the newest run of each operation of a job, in the order in which the runs started.

    `data` is the folder of the log; None means the usual folder. `form` is the format: JSON is a list of summaries, and
    HTML is one page. The job file itself may have been deleted. Raises CoreError if the log cannot be read.
    """
    from core.pages.closing_page import closing_data, closing_report
    from core.pages.report import Report, report_as
    from core.record.closing import closing_summary

    def lines(logbook: "Logbook") -> "Iterator[str]":
        newest: dict[str, RunSummary] = {}
        for info in _listed_runs(logbook, _resolved(job)):
            newest.setdefault(info.origin.op_name if info.origin else info.uid, info)
        runs = [(info, closing_summary(logbook.events(info.uid))) for info in reversed(newest.values())]
        if not runs and form != "json":
            yield nothing_logged(job)
            return
        if form == "json":
            yield json.dumps([closing_data(*run) for run in runs], ensure_ascii=False, indent=1, allow_nan=False)
            return
        reports = [closing_report(*run) for run in runs]
        if form == "html":
            # One page with a heading for each operation.
            parts = [part for report in reports for part in report.named_parts]
            page = report_as(Report("Summary", tuple(parts)), form, dict)
            yield from _printable(page, form).splitlines()
        else:
            for number, report in enumerate(reports):
                yield from [""] if number else []
                yield from report_as(report, form, dict, _columns()).splitlines()

    _print_from_log(data, lines)


def print_lathe_record(lathe: Path | None, paths: "Paths", form: str) -> None:
    """Print what the log and the user's notes say about the lathe in use.

    `lathe` is the file given by --lathe; None means the user's own lathe. `form` is the format, such as "text" or
    "html". Raises CoreError if the lathe file or the log cannot be read.
    """
    from core.lathe.reader import find_lathe
    from core.pages.record_page import record_data, record_report
    from core.pages.report import report_as
    from core.record.lathe_notes import LatheNotes
    from core.record.lathe_record import lathe_record
    from core.record.observations import observe

    lathe_used = find_lathe(lathe, paths.own_lathe)
    notes, problem = LatheNotes(paths.data).read()

    def lines(logbook: "Logbook") -> "Iterator[str]":
        observed = [observe(events, lathe_used.name) for _, events in logged_runs(logbook)]
        record = lathe_record(lathe_used, reversed(observed), notes)
        page = report_as(record_report(record, problem), form, lambda: record_data(record), _columns())
        yield from _printable(page, form).splitlines()

    _print_from_log(paths.data, lines)


def _columns() -> int:
    """Return the width for printing, in columns.

    It is given by the environment variable COLUMNS, or else by the terminal. Piped output has the width of a page.
    """
    from core.pages.card_page import USUAL_COLUMNS

    return shutil.get_terminal_size((USUAL_COLUMNS, 0)).columns


def verify_log(data: Path | None) -> bool:
    """Print every problem of the log in a row of its own. Return True if there is no problem.

    `data` is the folder of the log; None means the usual folder. Raises LogbookError if the log cannot be read.
    """
    from core.logbook.logbook import Logbook
    from core.values.plain_text import counted
    from tui.paths import user_paths

    checked = Logbook.verified(user_paths(data).data)
    for problem in checked.problems:
        print(problem)
    verdict = "all sound" if not checked.problems else counted(len(checked.problems), "problem")
    strays = f", {counted(checked.strays, 'event')} that belong to no run" if checked.strays else ""
    print(f"{counted(checked.runs, 'run')}, {counted(checked.events, 'event')}{strays}: {verdict}")
    if checked.problems:
        print("To repair the log, start halfnut, or print the log with `halfnut log`.")
    return not checked.problems


def back_up_log(data: Path | None, target: Path) -> None:
    """Copy the log to the new file `target`, and the notes on lathes to a new file next to it.

    Passes may be logged during the copy. `data` is the folder of the log; None means the usual folder. Raises CoreError
    if a copy cannot be written.
    """
    from core.logbook.logbook import Logbook
    from core.values.files import name_of
    from tui.paths import user_paths

    with Logbook.open(user_paths(data).data, read_only=True) as logbook:
        copy, *notes = logbook.backup(target)
    print(f"The log has been copied to {name_of(copy)}.")
    for path in notes:
        print(f"The notes on your lathes have been copied to {name_of(path)}.")


def merge_log(data: Path | None, other: Path) -> bool:
    """Merge another machine's log and notes into those of this machine, and print a report.

    `other` is the log or backup of the other machine. `data` is the folder of this machine's log; None means the usual
    folder. Return True if no run was skipped and the notes caused no problem. Raises LogbookError if a log cannot be
    read or written.
    """
    from core.logbook.logbook import Logbook
    from core.logbook.merge import merge
    from core.logbook.other_log import log_at
    from core.logbook.schema import FILE_NAME
    from core.values.plain_text import clean
    from tui.paths import user_paths

    folder = user_paths(data).data
    # Check the file first, so that a file that cannot be merged creates no new log.
    log_at(other, folder / FILE_NAME)
    with Logbook.open(folder) as logbook:
        for notice in logbook.notices:
            print(f"halfnut: {clean(notice, 2000)}", file=sys.stderr)
        report = merge(logbook, other)
    for line in report.lines():
        print(line)
    return not report.counts["skipped"] and not report.notes.problem


def logged_runs(logbook: "Logbook", job_path: str | None = None) -> "Iterator[LoggedRun]":
    """Yield the runs of the job at `job_path`, newest first, each with its events.

    If `job_path` is None, yield the runs of all jobs. Only one run is held in memory at a time.
    """
    for info in _listed_runs(logbook, job_path):
        yield info, logbook.events(info.uid)


def _listed_runs(logbook: "Logbook", job_path: str | None) -> "Iterator[RunSummary]":
    """Yield the runs of the job at `job_path`, newest first, without their events.

    If `job_path` is None, yield the runs of all jobs.
    """
    before: int | None = None
    while page := logbook.runs(job_path, limit=_PAGE, before=before):
        yield from page
        before = page[-1].number


def _resolved(job: Path) -> str:
    """Return the path of a job in the form in which the log stores it."""
    try:
        return str(job.resolve())
    except (OSError, RuntimeError):
        # The symbolic links form a loop, so no job was ever read from this path.
        return str(job.absolute())


def nothing_logged(job: Path | None) -> str:
    """Return a sentence that says that nothing is logged for `job`, or nothing at all if `job` is None."""
    from core.values.files import name_of

    if job is None:
        return "Nothing has been logged yet."
    gone = "" if job.exists() else " There is no such file."
    return f"Nothing has been logged for {name_of(job)}.{gone}"
