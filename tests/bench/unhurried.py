"""Runs the program without the quiet time after a press: `python -m tests.bench.unhurried DATA JOB`."""

import os
import sys
from pathlib import Path

from tui.__main__ import make_app
from tui.paths import user_paths
from tui.presses import Presses
from tui.terminal import SYSTEM_CLOCK, detect

if __name__ == "__main__":
    data, job = (Path(word) for word in sys.argv[1:])
    terminal = detect(os.environ, "auto", utf8_forced=False)
    make_app(user_paths(data), SYSTEM_CLOCK, terminal, job=job, presses=Presses(quiet_s=0.0)).run()
