"""Texts that strangers may write, and the readers for them.

Each text must be read, or refused in a sentence, within a limited time.
"""

import json
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from hypothesis import strategies as st

from core.conversion.answers import as_data, text_lines
from core.conversion.convert import convert
from core.jobs.card import card_data
from core.jobs.job import parse_job
from core.lathe.reader import example_lathe, lathe_from
from core.operations.threads.designation import read_thread
from core.pages.card_page import card_markdown, card_text
from core.values.errors import CoreError, FileError
from core.values.files import parse_toml
from core.values.quantities import read_quantity
from tests.trials.program import ROOT

LONGEST_S = 1.0
LONGEST_MESSAGE = 600
SAMPLES = ROOT / "sample_jobs"
JOBS = [path for path in sorted(SAMPLES.glob("*.toml")) if "lathe" not in path.stem]
LATHES = sorted(SAMPLES.glob("*_lathe.toml"))

NASTY = [
    "\x1b]52;c;eA==\x07",
    "\x1b[2J",
    "\u202e",
    "\u200b",
    "\ud800",
    "\x00",
    "[bold]",
    "a[/",
    "[@click=app.bell]x[/]",
    "$(id)",
    "=1+1",
    "..",
    "9**9**9",
    "1e999",
    "1e-999",
    "9" * 400,
    "0." + "0" * 400 + "1",
    "nan",
    "inf",
    "-0",
    "1/0",
    "٣",
    "½",
    "((((((((((((((((((((",
    "10 mm",
    "1 1/4 in",
    "12°30'",
    "8 tpi",
    "M27x3-6g",
    "1/2 BSW",
    "30 H7/g6",
    "tan(89.999999 deg)",
    "a" * 10_000,
]
QUANTITIES = [
    *("29.80 mm", "15 thou", "1 1/4 in", "1-1/4 in", "30 deg", "12°30'", "12d30m15s", "8 tpi", "70 rpm", "1.0 s"),
]
DESIGNATIONS = [
    *("M30x3.5-6g", "M16-4g6g", "M24xPh6P3", "1 1/4-8 UN-2A", "#10-32 UNF", "1/2-12 BSW medium", "G1/2 A", "BA 4"),
    *("Tr40x14P7", "Acme 3/4-6 2G", "M20x2-LH"),
]
EXPRESSIONS = [
    *("1 1/4 in", "25 m/min at 30 mm", "12.5 +0.02 -0.01 mm", "30 H7/g6", "2*(3+4) mm", "atan(0.5)", "1:20"),
    *("sin 30 deg * 100 mm", "pi*25.4 mm"),
]
VALUES = [
    *('"' + text + '"' for text in (*QUANTITIES, *DESIGNATIONS, "0 mm", "-5 mm", "1e300 mm", "1e-300 mm", "90 deg")),
    *('"' + text + '"' for text in ("0 deg", "89.9999 deg", "-360 deg", "1000000 mm", "0.0001 mm", "touch")),
    *("0", "-1", "1", "2", "20000", "99999999999999999999", "1.5", "-1e308", "nan", "inf", "true", '""', "[]", "{}"),
    *("[1, 1]", "[[[[]]]]", '["0 deg", "0 deg"]', "2026-11-25", '"the"', "{ a = 1 }", '"inside"', '"position"'),
]


class Target(NamedTuple):
    """A reader of texts, and the texts that it is tried with."""

    texts: st.SearchStrategy[str]
    read: Callable[[str], object]


def mutated(*samples: str) -> st.SearchStrategy[str]:
    """Return a strategy for nearly correct texts: pieces are removed, doubled, moved or replaced by harmful ones."""
    piece = st.one_of(st.sampled_from(NASTY), st.text(max_size=6), st.sampled_from(list("0123456789./-+ '\"°xX()*,")))
    cut = st.tuples(st.integers(0, 60), st.integers(0, 8), piece)

    def made(sample: str, cuts: list[tuple[int, int, str]]) -> str:
        for place, length, put in cuts:
            place = place % (len(sample) + 1)
            sample = sample[:place] + put + sample[place + length :]
        return sample

    near = st.builds(made, st.sampled_from(samples), st.lists(cut, min_size=1, max_size=4))
    return st.one_of(near, st.text(max_size=60), st.sampled_from(NASTY))


def mutated_file(*paths: Path) -> st.SearchStrategy[str]:
    """Return a strategy for texts of TOML files with values swapped, and rows doubled, removed or made harmful."""
    lines = [path.read_text(encoding="utf-8").splitlines() for path in paths]
    change = st.tuples(st.integers(0, 400), st.sampled_from(["value", "value", "value", "drop", "double", "nasty"]))
    changes = st.lists(st.tuples(change, st.sampled_from(VALUES), st.sampled_from(NASTY)), min_size=1, max_size=5)

    def made(before: list[str], wanted: list[Any]) -> str:
        after = list(before)
        for (number, how), value, nasty in wanted:
            place = number % len(after)
            key, equals, _ = after[place].partition("=")
            if how == "value":
                after[place] = f"{key}= {value}" if equals else after[place]
            elif how == "nasty":
                after[place] = f'{key}= "{nasty}"' if equals else nasty
            else:
                after[place : place + 1] = [after[place]] * (2 if how == "double" else 0)
            after = after or [""]
        return "\n".join(after)

    return st.builds(made, st.sampled_from(lines), changes)


def _read_job(text: str) -> None:
    job = parse_job(text, SAMPLES / "tried.toml")
    json.dumps(card_data(job), allow_nan=False)
    assert "\x1b" not in card_text(job) + card_markdown(job)


def _read_lathe(text: str) -> None:
    data: Mapping[str, Any] = parse_toml(text, SAMPLES / "tried.toml")
    lathe_from(data, "tried")


def _convert(text: str) -> None:
    answer = convert(text, example_lathe(), None)
    json.dumps(as_data(answer), allow_nan=False)
    assert all(line.isprintable() for line in text_lines(answer))


TARGETS: Mapping[str, Target] = {
    "quantity": Target(mutated(*QUANTITIES), lambda text: [_any_quantity(text, kind) for kind in ("length", "angle")]),
    "designation": Target(mutated(*DESIGNATIONS), read_thread),
    "expression": Target(mutated(*EXPRESSIONS, *QUANTITIES, *DESIGNATIONS), _convert),
    "job": Target(mutated_file(*JOBS), _read_job),
    "lathe": Target(mutated_file(*LATHES), _read_lathe),
}


def _any_quantity(text: str, kind: Any) -> object:
    try:
        return read_quantity(text, kind)
    except CoreError as error:
        _check_sentence(error.message)
        return None


def check(target: Target, text: str) -> float:
    """Let a reader read a text. Return the processor time of reading [s].

    Raises AssertionError if the reader misbehaves, or the unexpected error of the reader.
    """
    begun = time.process_time()
    try:
        target.read(text)
    except FileError as error:
        for message in error.messages:
            _check_sentence(message)
    except CoreError as error:
        _check_sentence(error.message)
    taken = time.process_time() - begun
    assert taken < LONGEST_S, f"took {taken:.1f} s"
    return taken


def _check_sentence(message: str) -> None:
    assert message and len(message) < LONGEST_MESSAGE, f"{len(message)} characters: {message[:200]}"
    assert message.isprintable(), ascii(message[:300])
