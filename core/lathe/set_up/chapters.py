"""All that set-up asks of one lathe, and in a few words what is told already."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from core.lathe.keys import dial
from core.lathe.keys.entry import Part, Question
from core.lathe.keys.table import FIRST_LINES, PARTS
from core.lathe.lathe import DIAL_NAMES, dial_words
from core.lathe.set_up.answers import text_of
from core.lathe.set_up.chapter import KIND, OWN_KEY, Chapter
from core.lathe.set_up.draft import section_problems
from core.lathe.set_up.own_questions import is_readout, own_questions
from core.values.fields import Problem

NOT_TOLD = "not told"
_FIRST_DIALS = ("cross_slide", "compound", "carriage", "tailstock", "boring_head")


def _chapter(part: Part) -> Chapter:
    questions = (*own_questions(part.section, ""), *part.questions())
    return Chapter(section=(part.section,) if part.section else (), title=part.title, questions=questions)


@cache
def dial_chapter(name: str) -> Chapter:
    """Return the questions to the dial of that name in the lathe file."""
    questions = (*own_questions("dial", name), *dial.PART.questions(name))
    return Chapter(section=("dial", name), title=dial_words(name).capitalize(), questions=questions)


THE_LATHE = _chapter(FIRST_LINES)
"""The questions to the lathe as a whole."""
_PARTS = tuple(_chapter(part) for part in PARTS if part not in (FIRST_LINES, dial.PART))


def chapters_of(tables: Mapping[str, Any]) -> tuple[Chapter, ...]:
    """Return the chapters for a lathe: the usual ones, and one to each dial that it has besides."""
    assert set(_FIRST_DIALS) == set(DIAL_NAMES)
    others = [name for name in tables.get("dial", {}) if name not in _FIRST_DIALS]
    return (THE_LATHE, *(dial_chapter(name) for name in (*_FIRST_DIALS, *others)), *_PARTS)


def first_open(chapter: Chapter, table: Mapping[str, Any]) -> int:
    """Return which of the questions that make sense now is the first without a right answer; 0 where all have one.

    >>> first_open(THE_LATHE, {"name": "Bench lathe"}), first_open(THE_LATHE, {})
    (1, 0)
    """
    wrong = {problem.key for problem in section_problems(chapter.section, table)}
    questions = enumerate(chapter.asked(table))
    waiting = (at for at, question in questions if question.key in wrong or question.value_in(table) in (None, ""))
    return next(waiting, 0)


def first_problem(chapter: Chapter, table: Mapping[str, Any]) -> Problem | None:
    """Return what is wrong with a chapter's table, at the question that is asked first; None for nothing."""
    keys = [question.key for question in chapter.questions]
    found = section_problems(chapter.section, table)
    return min(found, key=lambda problem: keys.index(problem.key) if problem.key in keys else len(keys), default=None)


def told(chapter: Chapter, table: Mapping[str, Any]) -> str:
    """Return in a few words what is told of a chapter, "not told" where nothing is.

    >>> told(THE_LATHE, {"name": "Bench lathe", "centre_height": "110 mm"})
    'Bench lathe, centre height 110 mm'
    """
    return ", ".join(told_words(chapter, table)) or NOT_TOLD


def told_words(chapter: Chapter, table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what is told of a chapter, an item to each question that something is told to."""
    words = [word for question in chapter.questions if (word := told_word(question, table))]
    if chapter.dial and KIND not in table and is_readout(table):
        words.insert(0, "readout")
    return tuple(words)


def left_out(chapter: Chapter, question: Question, table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
    """Return, an item each, what is told already and an answer would leave out."""
    removed = question.removes(table, value)
    return tuple(word for other in chapter.questions if other.key in removed and (word := told_word(other, table)))


def problem_words(chapter: Chapter, table: Mapping[str, Any], problem: Problem) -> str:
    """Return what is wrong with a chapter's table: the question that wants an answer, or what the file's reader says.

    >>> problem_words(THE_LATHE, {}, Problem(where="", key="name", message="is missing"))
    'not answered: What do you call this lathe?'
    """
    question = next((question for question in chapter.questions if question.key == problem.key), None)
    if question is None:
        return f"{problem.key.replace('_', ' ')}: {problem.message}".strip()
    if problem.key not in table:
        return f"not answered: {question.asked}"
    return f"{question.label or problem.key.replace('_', ' ')}: {problem.message}"


def told_word(question: Question, table: Mapping[str, Any]) -> str:
    """Return what is told to one question, with its label; "" where nothing is."""
    if question.key not in table:
        return ""
    value = table[question.key]
    option = question.option_of(value)
    if option is not None:
        text = option.short
    elif question.key.startswith(OWN_KEY):
        text = ""
    else:
        text = text_of(question, value)
    return " ".join(part for part in (question.label, text) if part) if text else ""
