"""The width of a card printed by `halfnut card`: from the terminal, from COLUMNS, or 80 columns in a pipe."""

import os
import subprocess
import sys
from pathlib import Path

import pexpect

ROOT = Path(__file__).parents[3]
CARD = ["-m", "tui", "card", "sample_jobs/gnomon_screw.toml"]
ENVIRONMENT = {name: value for name, value in os.environ.items() if name != "COLUMNS"}


def _widest(text: str) -> int:
    return max(len(line.rstrip()) for line in text.splitlines())


def _piped(**more: str) -> str:
    command = [sys.executable, *CARD]
    done = subprocess.run(
        command, cwd=ROOT, env=ENVIRONMENT | more, capture_output=True, text=True, timeout=60, check=True
    )
    return done.stdout


def test_a_card_printed_on_a_terminal_fits_the_width_of_the_terminal() -> None:
    """The terminal is a real one of 60 columns."""
    child = pexpect.spawn(sys.executable, CARD, cwd=ROOT, env=ENVIRONMENT, dimensions=(24, 60), encoding="utf-8")
    child.expect(pexpect.EOF, timeout=60)
    assert 50 < _widest(child.before or "") <= 60


def test_a_card_printed_to_a_pipe_is_80_columns_wide_by_default() -> None:
    """The terminal's width does not change a piped card. An invalid COLUMNS has no effect."""
    assert 70 < _widest(_piped()) <= 80
    assert 100 < _widest(_piped(COLUMNS="120")) <= 120
    assert 70 < _widest(_piped(COLUMNS="wide")) <= 80
