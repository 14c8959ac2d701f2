"""The draft of a lathe file: answers of set-up that the file does not contain yet. Each answer is saved immediately.

A draft holds only the answers, in the order in which they were given. They replace values of the lathe file. So if
somebody edits the file in the meantime, other values that they changed are kept.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from core.lathe.keys.entry import DIAL_UNIT, OWN_KEY, UNIT, WHOLE, Question
from core.lathe.reader import lathe_from
from core.lathe.set_up.answers import in_another_unit, in_unit
from core.lathe.set_up.chapters import Chapter, KeyPath, section_problems, without_own_keys
from core.lathe.set_up.cutters import by_name
from core.lathe.set_up.in_use import DRAFTS_FOLDER
from core.values.errors import FileError
from core.values.files import failure, make_folder, name_of, read_text, read_toml, write_text
from core.values.first_version import lathe_path
from core.values.plain_text import clean, quoted

DRAFT_FORMAT = 1
_ENDS = 2

Answers = tuple[tuple[KeyPath, Any], ...]


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A lathe file together with the answers that replace its values. The answer None deletes a key or a table."""

    path: Path
    """The lathe file, which may not exist yet."""
    filed: Mapping[str, Any] = field(default_factory=dict)
    """The tables of the file, with its cutters by name."""
    answers: Answers = ()
    place: tuple[str, int] = ("", 0)
    """The chapter and the question that were answered last."""
    note: str = ""
    """A sentence for the user about a problem in reading the draft; "" if there was none."""

    @property
    def tables(self) -> dict[str, Any]:
        """The tables of the lathe file with the answers so far, including the keys that only set-up uses."""
        tables = dict(self.filed)
        for path, value in self.answers:
            _put(tables, path, value)
        return tables

    def table(self, section: KeyPath) -> dict[str, Any]:
        """Return one table with the answers so far. The section () stands for the keys before the first table."""
        return _table(self.tables, section)

    def answered(self, chapter: Chapter, question: Question, value: Any, index: int = 0) -> "Draft":
        """Return the draft with one more answer, and without the earlier answers that the new answer contradicts.

        `index`: the index of the question in the chapter at which set-up continues later.
        """
        draft = self
        option = question.option_of(value)
        if option is not None and WHOLE in option.removes:
            draft = draft._with(chapter.section, None)
        for key in question.removes(draft.table(chapter.section), value):
            draft = draft._with((*chapter.section, key), None)
        draft = draft._with((*chapter.section, question.key), value)
        return replace(draft, place=(chapter.name, index))

    def _with(self, path: KeyPath, value: Any) -> "Draft":
        """Return the draft with a value at a path. Earlier answers at this path and at paths inside it are removed."""
        kept = tuple((other, answer) for other, answer in self.answers if other[: len(path)] != path)
        return replace(self, answers=(*kept, (path, value)))

    def without(self, section: KeyPath) -> "Draft":
        """Return the draft with a whole table deleted, such as the table of a dial that the user removes."""
        return self._with(section, None)

    @property
    def open_answers(self) -> Answers:
        """The answers that would change the lathe file, without the keys that only set-up uses."""
        tables = self.tables
        return tuple(
            (path, value)
            for path, value in self.answers
            if not path[-1].startswith(OWN_KEY) and _get(tables, path) != _get(self.filed, path)
        )


def read_draft(path: Path) -> Draft:
    """Return the draft for the lathe file at `path`, with the values that the file has now.

    Raises FileError if the lathe file has errors. An unreadable draft is renamed, and `note` of the result tells the
    user.
    """
    tables = read_toml(path) if path.exists() else {}
    filed = by_name(lathe_from(tables, name_of(path)).data) if tables else {}
    kept = draft_path(path)
    try:
        answers, place = _read(kept) if kept.exists() else ((), ("", 0))
    except (FileError, ValueError, KeyError, TypeError, RecursionError):
        return Draft(path=path, filed=filed, note=_set_aside(kept))
    return Draft(path=path, filed=filed, answers=answers, place=place)


def save_draft(draft: Draft) -> None:
    """Write a draft to the disk, or delete its file if the draft has no answers.

    Raises FileError if writing fails. A failed write leaves no partial file.
    """
    path = draft_path(draft.path)
    if not draft.answers:
        delete_draft(draft.path)
        return
    content = {
        "format": DRAFT_FORMAT,
        "place": list(draft.place),
        "answers": [[list(key), value] for key, value in draft.answers],
    }
    make_folder(path.parent)
    write_text(path, json.dumps(content, indent=1) + "\n")


def delete_draft(path: Path) -> None:
    """Delete the draft that belongs to the lathe file at `path`. Raises FileError if the draft cannot be deleted."""
    try:
        draft_path(path).unlink(missing_ok=True)
    except OSError as error:
        raise failure(draft_path(path), "The file cannot be deleted", error) from None


def draft_path(path: Path) -> Path:
    """Return the path of the draft that belongs to the lathe file at `path`."""
    return path.parent / DRAFTS_FOLDER / f"{path.stem}.json"


def answer_problem(draft: Draft, chapter: Chapter, question: Question, value: Any) -> str:
    """Return a sentence that says what is wrong with an answer; "" if the answer is valid."""
    if value is None or question.key.startswith(OWN_KEY):
        return ""
    table = draft.answered(chapter, question, value).table(chapter.section)
    if question.form.name == "range" and len(value) != _ENDS:
        return "A range needs two numbers. Enter the slowest and the fastest speed, such as 50 1200."
    if question.form.unit == DIAL_UNIT and question.key != "backlash" and UNIT in table:
        # Backlash may be measured with an indicator, in its unit. All other sizes are read on the dial.
        engraved = str(table[UNIT])
        if question.key in in_another_unit(table, engraved):
            example = in_unit(question.example, engraved).removeprefix("such as ")
            return (
                f"{quoted(str(value))} is not in {engraved}, the unit of this dial. Enter a length such as {example}."
            )
    problems = (problem for problem in section_problems(chapter.section, table) if problem.key == question.key)
    return next((problem.message for problem in problems), "")


def _table(tables: Mapping[str, Any], section: KeyPath) -> dict[str, Any]:
    inner: Any = tables
    for name in section:
        inner = inner.get(name, {})
    return dict(inner)


def _get(tables: Mapping[str, Any], path: KeyPath) -> Any:
    """Return the value at a path; None if there is none. A table is returned without the keys that only set-up uses."""
    value: Any = tables
    for name in path:
        if not isinstance(value, Mapping) or name not in value:
            return None
        value = value[name]
    return (without_own_keys(value) or None) if isinstance(value, Mapping) else value


def _put(tables: dict[str, Any], path: KeyPath, value: Any) -> None:
    """Set the value at a path in nested tables; None deletes the value. A table that becomes empty is deleted too.

    Only the mapping `tables` itself is changed. The tables inside it are replaced by changed copies.
    """
    first, *inner_path = path
    if not inner_path:
        if value is None:
            tables.pop(first, None)
        else:
            tables[first] = value
        return
    inner = dict(tables.get(first, {}))
    _put(inner, tuple(inner_path), value)
    if inner:
        tables[first] = inner
    else:
        tables.pop(first, None)


def _read(path: Path) -> tuple[Answers, tuple[str, int]]:
    """Return the answers in a draft's file, and the chapter and question index of the last answer.

    Raises an error if the file is not a draft.
    """
    content = json.loads(read_text(path))
    if content["format"] != DRAFT_FORMAT:
        raise ValueError("format")
    answers = tuple((lathe_path([str(part) for part in key]), value) for key, value in content["answers"])
    if not all(key for key, _ in answers):
        raise ValueError("answers")
    chapter, index = content["place"]
    return answers, (".".join(lathe_path(str(chapter).split("."))), max(int(index), 0))


def _set_aside(path: Path) -> str:
    aside = path.with_suffix(".unreadable")
    try:
        path.replace(aside)
    except OSError as error:
        return (
            f"{name_of(path)} does not contain answers from set-up, and cannot be renamed: "
            f"{clean(error.strerror or '')}."
        )
    return f"{name_of(path)} does not contain answers from set-up. The file was renamed to {name_of(aside)}."
