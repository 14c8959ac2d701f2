"""Saves the answers of set-up in the lathe file, one table at a time.

Answers in incomplete tables stay in the draft.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from core.lathe.keys import dial
from core.lathe.keys.cutters import CUTTER
from core.lathe.keys.entry import KIND, NONE, OWN_KEY
from core.lathe.lathe import LATHE_FORMAT, Lathe
from core.lathe.reader import lathe_from
from core.lathe.set_up.chapters import (
    KeyPath,
    chapters_of,
    cutter_chapters,
    first_problem,
    problem_words,
    section_problems,
    without_own_keys,
)
from core.lathe.set_up.cutters import as_list
from core.lathe.set_up.draft import Answers, Draft, delete_draft, read_draft, save_draft
from core.lathe.set_up.in_use import own_lathe, use_lathe
from core.lathe.writer import write_lathe
from core.values.files import short_path
from core.values.plain_text import quoted

UNNAMED = "My lathe"
_TABLES_BY_NAME = (dial.PART.section, CUTTER.section)


class Saved(NamedTuple):
    """The result of saving: the file that was written, and the answers that this file does not contain yet."""

    draft: Draft
    """The answers still to be saved. The path of this draft is the file that was written."""
    written: bool
    beside: Path | None = None
    """The file that was not replaced because it was edited by hand. None if there is no such file."""

    @property
    def sentence(self) -> str:
        """A sentence that tells the user where the answers were saved; "" if nothing was written."""
        if not self.written:
            return ""
        where = quoted(short_path(self.draft.path), 100)
        if self.beside is None:
            return f"Saved in {where}."
        return (
            f"{quoted(self.beside.name)} was edited by hand, so set-up did not change it. Your answers are in a "
            f"new file next to it, {where}."
        )


def save_answers(draft: Draft) -> Saved:
    """Write every complete and valid table to the lathe file. All other answers stay in the draft.

    Tables without new answers stay unchanged. If the file was edited by hand, a new file is written next to it. If the
    edited file was in use, the new file is used from now on. Raises FileError if a file cannot be written. Even after
    an error, no answer is lost.
    """
    draft = replace(read_draft(draft.path), answers=draft.answers, place=draft.place)
    wanted = _complete(draft)
    is_empty = not draft.filed and not _has_content(wanted)
    if not draft.open_answers or wanted == draft.filed or is_empty:
        draft = replace(draft, answers=_left(draft, draft.filed))
        save_draft(draft)
        return Saved(draft=draft, written=False)
    counts = own_lathe(draft.path.parent) == draft.path
    target = write_lathe(draft.path, as_list(wanted))
    left = Draft(path=target, filed=wanted, answers=_left(draft, wanted), place=draft.place)
    save_draft(left)
    if target == draft.path:
        return Saved(draft=left, written=True)
    if counts:
        use_lathe(target)
    delete_draft(draft.path)
    return Saved(draft=left, written=True, beside=draft.path)


def lathe_as_answered(draft: Draft) -> Lathe:
    """Return the lathe that the lathe file would describe after saving the answers of a draft."""
    return lathe_from(as_list(_complete(draft)), "set-up")


def unfinished(draft: Draft) -> tuple[str, ...]:
    """Return one sentence for each part whose answers cannot be written to the lathe file yet.

    The sentence gives the reason.
    """
    tables = draft.tables
    sentences = []
    for chapter in (*chapters_of(tables), *cutter_chapters(tables)):
        table = draft.table(chapter.section)
        waiting = any(path[:-1] == chapter.section for path, _ in draft.open_answers)
        problem = first_problem(chapter, table) if waiting and without_own_keys(table) else None
        sentences += [f"{chapter.title}, {problem_words(chapter, table, problem)}"] if problem else []
    return tuple(sentences)


def _complete(draft: Draft) -> dict[str, Any]:
    """Return the tables to write: each with its new answers if all of them are valid, otherwise as in the file."""
    filed = replace(draft, answers=())
    first = {"format": LATHE_FORMAT, "name": UNNAMED}
    wanted = first | _first_lines(draft)
    if section_problems((), wanted):
        wanted = first | _first_lines(filed)
    for section in _sections(draft.tables, draft.filed):
        table = without_own_keys(draft.table(section))
        if table and section_problems(section, table):
            table = filed.table(section)
        if table:
            _set(wanted, section, table)
    return wanted


def _first_lines(draft: Draft) -> dict[str, Any]:
    return {key: value for key, value in without_own_keys(draft.table(())).items() if not isinstance(value, Mapping)}


def _sections(*lathes: Mapping[str, Any]) -> Iterator[KeyPath]:
    """Yield the path of every table in the tables of one or more lathes, each path once.

    Each dial and cutter has its own path.
    """
    seen: dict[KeyPath, None] = {}
    for tables in lathes:
        for name, table in tables.items():
            if name in _TABLES_BY_NAME and isinstance(table, Mapping):
                seen.update(dict.fromkeys((name, inner) for inner in table))
            elif isinstance(table, Mapping):
                seen[(name,)] = None
    yield from seen


def _set(tables: dict[str, Any], section: KeyPath, table: dict[str, Any]) -> None:
    if len(section) == 1:
        tables[section[0]] = table
    else:
        tables.setdefault(section[0], {})[section[1]] = table


def _has_content(tables: Mapping[str, Any]) -> bool:
    return any(key not in {"format", "name"} for key in tables) or tables.get("name") != UNNAMED


def _left(draft: Draft, written: Mapping[str, Any]) -> Answers:
    """Return the answers that stay in the draft after saving.

    These are answers in incomplete tables, and answers that a lathe file cannot hold, such as "I have no rotary table".
    `written`: the tables of the lathe file after saving.
    """
    still_open = replace(draft, filed=written).open_answers
    tables = {path[:-1] for path, _ in still_open}
    return tuple(
        (path, value)
        for path, value in draft.answers
        if (path, value) in still_open
        or (path[-1].startswith(OWN_KEY) and path[:-1] in tables)
        or (path[-1] == KIND and value == NONE)
    )
