"""Which pages of sentences there are, where they are saved, and what they hold now."""

from collections.abc import Mapping
from pathlib import Path

from tests.core.wording import (
    conversion,
    cutting,
    dividing,
    jobs,
    pattern_figures,
    pattern_refusals,
    record,
    refusals,
    runout,
    runs,
    set_up,
    threads,
)
from tests.core.wording.said import Page

HERE = Path(__file__).parent
COMMAND = "python -m tests.core.wording"
PAGES: Mapping[str, Page] = {
    "jobs": jobs.page,
    "pattern_refusals": pattern_refusals.page,
    "refusals": refusals.page,
    "conversion": conversion.page,
    "cutting": cutting.page,
    "threads": threads.page,
    "dividing": dividing.page,
    "pattern_figures": pattern_figures.page,
    "runout": runout.page,
    "record": record.page,
    "runs": runs.page,
    "set_up": set_up.page,
}


def page_path(name: str) -> Path:
    """Return the path of a page."""
    return HERE / f"{name}.txt"


def kept_names() -> set[str]:
    """Return the names of the pages kept."""
    return {path.stem for path in HERE.glob("*.txt")}


def kept_lines(name: str) -> list[str]:
    """Return a page as it is saved; [] if it is not."""
    path = page_path(name)
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def page_lines(name: str) -> list[str]:
    """Return a page as it is now: each situation, and below it, indented, the sentences."""
    lines = []
    for situation, sentences in PAGES[name]():
        lines.append(_one_line(situation).rstrip())
        lines += [f"    {_one_line(sentence)}".rstrip() for sentence in sentences]
    return lines


def _one_line(text: str) -> str:
    """Return a text on one line, in which a diff shows everything: unprintable characters are escaped."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)
