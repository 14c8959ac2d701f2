"""Counts the published values with a printed source and those from memory, and prints both after the tests."""

from pathlib import Path

import pytest

from tests.published import Printed, printed_rows

TABLES = Path(__file__).parent


def every_row(folder: Path = TABLES) -> list[Printed]:
    """Return the rows of all CSV files in a folder."""
    return [row for path in sorted(folder.glob("*.csv")) for row in printed_rows(path.stem, folder)]


def count_words(folder: Path = TABLES) -> str:
    """Return in words how many rows have a printed source and how many are from memory."""
    rows = every_row(folder)
    remembered = sum(row.from_memory for row in rows)
    return f"published values: {len(rows) - remembered} with a printed source, {remembered} from memory"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the counts below the results of the tests.

    Workers of a parallel run have no terminal and print nothing.
    """
    terminalreporter.write_line(count_words())
