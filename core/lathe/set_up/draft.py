"""What was answered and does not stand in the lathe file yet; kept on disk as one goes.

A draft holds answers only, in the order in which they came, to be laid over what the
file says now: a file that a hand changes meanwhile keeps that change.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from core.lathe.keys.entry import DIAL_UNIT, OWN_KEY, UNIT, WHOLE, Question
from core.lathe.reader import problems_in, read_tables
from core.lathe.set_up.answers import in_another_unit, in_unit
from core.lathe.set_up.chapters import Chapter, KeyPath, section_problems, without_own_keys
from core.lathe.set_up.in_use import DRAFTS_FOLDER
from core.values.errors import FileError
from core.values.fields import Problem
from core.values.files import name_of, read_text, write_text
from core.values.first_version import lathe_path
from core.values.plain_text import clean, quoted

DRAFT_FORMAT = 1
_ENDS = 2

Answers = tuple[tuple[KeyPath, Any], ...]


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A lathe file and the answers to be laid over it. None for a value: the key, or the whole table, is left out."""

    path: Path
    """The lathe file, which need not be there yet."""
    filed: Mapping[str, Any] = field(default_factory=dict)
    """The file's tables as read."""
    answers: Answers = ()
    place: tuple[str, int] = ("", 0)
    """Chapter and question of the last answer."""
    note: str = ""
    """What happened when it was read, "" for nothing."""

    @property
    def tables(self) -> dict[str, Any]:
        """The tables as answered so far, set-up's own keys among them."""
        tables = dict(self.filed)
        for path, value in self.answers:
            _put(tables, path, value)
        return tables

    def table(self, section: KeyPath) -> dict[str, Any]:
        """Return one table as answered so far; for () the first lines of the file."""
        return _table(self.tables, section)

    def answered(self, chapter: Chapter, question: Question, value: Any, index: int = 0) -> "Draft":
        """Return the draft with an answer; what makes no sense beside it is left out."""
        draft = self
        option = question.option_of(value)
        if option is not None and WHOLE in option.removes:
            draft = draft._with(chapter.section, None)
        for key in question.removes(draft.table(chapter.section), value):
            draft = draft._with((*chapter.section, key), None)
        draft = draft._with((*chapter.section, question.key), value)
        return replace(draft, place=(chapter.name, index))

    def _with(self, path: KeyPath, value: Any) -> "Draft":
        """Return the draft with one value; earlier ones under that path count no more."""
        kept = tuple((other, told) for other, told in self.answers if other[: len(path)] != path)
        return replace(self, answers=(*kept, (path, value)))

    def without(self, section: KeyPath) -> "Draft":
        """Return the draft with a whole table left out: of a dial that is no more."""
        return self._with(section, None)

    @property
    def open_answers(self) -> Answers:
        """The answers that change what the file says; set-up's own keys are none of them."""
        tables = self.tables
        return tuple(
            (path, value)
            for path, value in self.answers
            if not path[-1].startswith(OWN_KEY) and _get(tables, path) != _get(self.filed, path)
        )


def read_draft(path: Path) -> Draft:
    """Return the draft of a lathe file, with what the file says now; raises FileError where that has an error.

    A draft that cannot be read is set aside under another name, which its `note` says.
    """
    filed = read_tables(path) if path.exists() else {}
    if filed and (problems := problems_in(filed)):
        raise FileError([f"{name_of(path)}{_where(problem)}" for problem in problems])
    kept = draft_path(path)
    try:
        answers, place = _read(kept) if kept.exists() else ((), ("", 0))
    except (FileError, ValueError, KeyError, TypeError, RecursionError):
        return Draft(path=path, filed=filed, note=_set_aside(kept))
    return Draft(path=path, filed=filed, answers=answers, place=place)


def save_draft(draft: Draft) -> None:
    """Write a draft, whole or not at all; one without answers is removed. Raises FileError."""
    path = draft_path(draft.path)
    if not draft.answers:
        delete_draft(draft.path)
        return
    content = {
        "format": DRAFT_FORMAT,
        "place": list(draft.place),
        "answers": [[list(key), value] for key, value in draft.answers],
    }
    _make_folder(path.parent)
    write_text(path, json.dumps(content, indent=1) + "\n")


def delete_draft(path: Path) -> None:
    """Remove the draft of a lathe file; raises FileError."""
    try:
        draft_path(path).unlink(missing_ok=True)
    except OSError as error:
        reason = clean(error.strerror or "unknown reason")
        raise FileError([f"{name_of(draft_path(path))}: cannot be removed: {reason}"]) from None


def draft_path(path: Path) -> Path:
    """Return where the draft of a lathe file is kept."""
    return path.parent / DRAFTS_FOLDER / f"{path.stem}.json"


def answer_problem(draft: Draft, chapter: Chapter, question: Question, value: Any) -> str:
    """Return what is wrong with an answer, in the words that a lathe file would get; "" where nothing is."""
    if value is None or question.key.startswith(OWN_KEY):
        return ""
    table = draft.answered(chapter, question, value).table(chapter.section)
    if question.form.name == "range" and len(value) != _ENDS:
        return f"found {len(value)} of two numbers; enter the slowest and the fastest speed, such as 50 1200"
    if question.form.unit == DIAL_UNIT and question.key != "backlash" and UNIT in table:
        # An indicator tells backlash in its own unit; all else is read off the dial.
        engraved = str(table[UNIT])
        if question.key in in_another_unit(table, engraved):
            example = in_unit(question.example, engraved).removeprefix("such as ")
            return (
                f"found {quoted(str(value))}, but you said this dial is in {engraved}; enter it so, such as {example}"
            )
    found = [problem for problem in section_problems(chapter.section, table) if problem.key == question.key]
    return found[0].message if found else ""


def _table(tables: Mapping[str, Any], section: KeyPath) -> dict[str, Any]:
    found: Any = tables
    for name in section:
        found = found.get(name, {})
    return dict(found)


def _get(tables: Mapping[str, Any], path: KeyPath) -> Any:
    """Return what stands under a path, of a table what a file can hold; None for nothing."""
    found: Any = tables
    for name in path:
        if not isinstance(found, Mapping) or name not in found:
            return None
        found = found[name]
    return (without_own_keys(found) or None) if isinstance(found, Mapping) else found


def _put(tables: dict[str, Any], path: KeyPath, value: Any) -> None:
    """Set a value in nested tables, or leave it out; a table that becomes empty goes.

    `tables` alone is changed: tables in it are replaced by changed copies.
    """
    first, *rest = path
    if not rest:
        if value is None:
            tables.pop(first, None)
        else:
            tables[first] = value
        return
    inner = dict(tables.get(first, {}))
    _put(inner, tuple(rest), value)
    if inner:
        tables[first] = inner
    else:
        tables.pop(first, None)


def _where(problem: Problem) -> str:
    # A problem that stands in a table begins with ", [table]" where no file is named before it.
    text = str(problem)
    return text if text.startswith(",") else f", {text}"


def _read(path: Path) -> tuple[Answers, tuple[str, int]]:
    """Return what a draft holds; raises for one that is no draft, or a later program's."""
    content = json.loads(read_text(path))
    if content["format"] != DRAFT_FORMAT:
        raise ValueError("format")
    answers = tuple((lathe_path(_texts(key)), value) for key, value in content["answers"])
    if not all(key for key, _ in answers):
        raise ValueError("answers")
    chapter, index = content["place"]
    return answers, (".".join(lathe_path(str(chapter).split("."))), max(int(index), 0))


def _set_aside(path: Path) -> str:
    aside = path.with_suffix(".unreadable")
    try:
        path.replace(aside)
    except OSError as error:
        return f"{name_of(path)} cannot be read as answers of set-up, nor moved: {clean(error.strerror or '')}"
    return f"{name_of(path)} could not be read as answers of set-up; it is kept as {name_of(aside)}"


def _texts(key: Iterable[Any]) -> list[str]:
    return [str(part) for part in key]


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError([f"{name_of(folder)}: cannot be made: {clean(error.strerror or 'unknown reason')}"]) from None
