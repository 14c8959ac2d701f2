"""Types numbers as instruments with a cable do, and presses pedals, in the real program.

    python -m tests.trials.instruments

A number is logged at a step that asks for a measurement, and offered at a pass. It is never read as keys: no pass is
counted that was not pressed, and no question is answered.
"""

import sys
import tempfile
import time
from itertools import product
from pathlib import Path

from tests.trials.program import QUIET_S, Program, begin, count_one, done_on, newest, own_environment

GAPS_S = (0.0, 0.005, 0.03, 0.1)
NUMBERS = ("28.71\r", "28,710\n", "+0028.71\r\n", "28.71 mm\r", "28.71mm\n")
MEASURED_MM = 28.71
BEFORE_MEASURING = 3
"""The number of steps of the first operation before it asks for a measurement."""


def type_in(program: Program, text: str, gap_s: float) -> None:
    """Type a text with a gap of `gap_s` between its characters [s]."""
    if not gap_s:
        program.press(text)
        return
    for character in text:
        program.press(character)
        until = time.monotonic() + gap_s
        program.read(0.0)
        time.sleep(max(until - time.monotonic(), 0.0))


def at_a_pass(program: Program, text: str, gap_s: float) -> list[str]:
    """Type a number at a pass. Return a description of each fault."""
    begin(program, resumed=False)
    count_one(program, 1)
    type_in(program, text, gap_s)
    wrong = []
    if "came from an instrument" not in program.settle(0.5):
        wrong.append(f"it is not offered:\n{program.shown}")
    program.press("\x1b")
    program.settle(0.5)
    if done_on(program.shown) != 1:
        wrong.append(f"{done_on(program.shown)} are counted:\n{program.shown}")
    time.sleep(QUIET_S)
    count_one(program, 2)
    return wrong


def at_a_measurement(program: Program, text: str, gap_s: float) -> list[str]:
    """Type a number at a step that asks for a measurement. Return each fault."""
    begin(program, resumed=False)
    for done in range(1, BEFORE_MEASURING + 1):
        count_one(program, done)
    type_in(program, text, gap_s)
    shown = program.settle(0.5)
    return [] if f"Logged: measured {MEASURED_MM}" in shown else [f"it is not logged:\n{shown}"]


def in_a_question(program: Program, text: str, gap_s: float) -> list[str]:
    """Type a number during a yes-or-no question. Return each fault."""
    begin(program, resumed=False)
    count_one(program, 1)
    program.press("u")
    program.wait_for("been moved?")
    type_in(program, text, gap_s)
    shown = program.settle(0.5)
    wrong = [] if "been moved?" in shown and "28.71" in shown else [f"it is answered:\n{shown}"]
    program.press("\x1b")
    program.settle()
    time.sleep(QUIET_S)
    count_one(program, 2)
    return wrong


def pedal(gap_s: float) -> list[str]:
    """At a pass, hold a pedal that sends Page Down. Return each fault."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "log"
        settings = Path(own_environment(data)["XDG_CONFIG_HOME"]) / "halfnut"
        settings.mkdir(parents=True)
        (settings / "controls.toml").write_text('pedal = "pagedown"\n', encoding="utf-8")
        program = Program(data)
        begin(program, resumed=False)
        for _ in range(30):
            type_in(program, "\x1b[6~", 0.0)
            time.sleep(gap_s)
        program.settle(0.5)
        done = done_on(program.shown)
        program.kill()
        logged = getattr(newest(data), "steps_done", None)
        return [] if done == 1 == logged else [f"{done} are shown and {logged} logged of one press"]


def main() -> int:
    """Print each trial and each fault."""
    failed = tried = 0
    for (name, place), text, gap_s in product(PLACES.items(), NUMBERS, GAPS_S):
        with tempfile.TemporaryDirectory() as folder:
            program = Program(Path(folder) / "log")
            wrong = place(program, text, gap_s)
            program.kill()
        print(f"{text!r} {name}, {gap_s * 1000:g} ms apart: " + ("; ".join(wrong) or "right"), flush=True)
        failed, tried = failed + bool(wrong), tried + 1
    for gap_s in GAPS_S:
        wrong = pedal(gap_s)
        print(f"a pedal held, {gap_s * 1000:g} ms apart: " + ("; ".join(wrong) or "one pass"), flush=True)
        failed, tried = failed + bool(wrong), tried + 1
    print(f"{tried} ways tried, {failed} failed")
    return 1 if failed else 0


PLACES = {"at a pass": at_a_pass, "at a measurement": at_a_measurement, "in a question": in_a_question}


if __name__ == "__main__":
    sys.exit(main())
