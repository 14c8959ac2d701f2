"""The questions of set-up, in chapters. Each chapter is about one part of the lathe."""

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from core.lathe.keys import dial
from core.lathe.keys.cutters import CUTTER
from core.lathe.keys.dial import the
from core.lathe.keys.entry import (
    DIAL,
    FLAT,
    KIND,
    NONE,
    OWN_KEY,
    READOUT,
    ROUND,
    SHARP,
    STEPLESS,
    STEPS,
    THERE,
    UNIT,
    WHOLE,
    Option,
    Part,
    Question,
)
from core.lathe.keys.table import FIRST_LINES, PARTS
from core.lathe.lathe import DIAL_NAMES, LATHE_FORMAT, dial_words
from core.lathe.reader import problems_in
from core.lathe.set_up.answers import dial_unit, in_another_unit, typed_text
from core.lathe.set_up.cutters import as_list
from core.values.fields import Problem
from core.values.plain_text import quoted

KeyPath = tuple[str, ...]
"""The path of a value in a lathe's tables: ("dial", "compound", "per_turn")."""
_PROBE_NAME = "x"


class Chapter(NamedTuple):
    """The questions about one table of the lathe file. `section` is () for the keys before the first table."""

    section: KeyPath
    title: str
    questions: tuple[Question, ...]

    @property
    def name(self) -> str:
        """The name of the chapter in a draft of answers, such as "dial.compound"."""
        return ".".join(self.section)

    @property
    def dial(self) -> str:
        """The name of the dial that the chapter is about; "" if the chapter is not about a dial."""
        return self.section[1] if self.section[:1] == ("dial",) else ""

    def asked(self, table: Mapping[str, Any]) -> tuple[Question, ...]:
        """Return the questions that apply, given the answers in the chapter's table so far."""
        known = next((question.value_in(table) for question in self.questions if question.key == KIND), None)
        return tuple(question for question in self.questions if question.applies(known, table))


_OF_DIALS = ("per_turn", "lead", "clockwise", "backlash", "can_zero")
"""The keys that only a dial has, not a digital readout."""


def is_readout(table: Mapping[str, Any]) -> bool:
    """Return whether the table of a dial describes a digital readout."""
    if KIND in table:
        return bool(table[KIND] == READOUT)
    return "graduation" in table and "per_turn" not in table


def own_questions(section: str, dial: str) -> tuple[Question, ...]:
    """Return the questions about a part whose answers only set-up uses.

    These answers are not written to the lathe file. `section`: the kind of part, such as "dial". `dial`: the name of
    the dial; "" if the part is not a dial.
    """
    if section == "dial":
        return _kind_of_dial(dial), _unit_of_dial(dial)
    return _OF_PARTS.get(section, ())


def _whether_there(asked: str, yes: str, no: str, picture: str) -> Question:
    """Return a question that asks whether the lathe has a part.

    `asked`: the question in words. `yes` and `no`: the answers in words. `picture`: the name of the question's picture.
    """
    return Question(
        key=KIND,
        asked=asked,
        picture=picture,
        options=(
            Option(words=yes, value=THERE),
            Option(words=no, value=NONE, short="none", removes=(WHOLE,)),
            Option(words="Not answered yet", value=None),
        ),
        implied=lambda table: THERE if table and table.get(KIND) != NONE else None,
    )


_SPEEDS = Question(
    key=KIND,
    asked="How do you set the spindle speed?",
    picture="speeds",
    options=(
        Option(words="In steps (belts, gears or a switch)", value=STEPS, removes=("range",)),
        Option(words="Without steps (a knob)", value=STEPLESS, removes=("speeds",)),
        Option(words="Not known yet", value=None),
    ),
    implied=lambda table: STEPS if "speeds" in table else STEPLESS if "range" in table else None,
)

_POINT = Question(
    key=KIND,
    asked="What shape is the point of this cutter?",
    picture="point",
    options=(
        Option(words="Sharp", value=SHARP, short="sharp", removes=("tip_flat", "tip_radius")),
        Option(words="Flat, ground off straight", value=FLAT, removes=("tip_radius",)),
        Option(words="Round", value=ROUND, removes=("tip_flat",)),
        Option(words="Not known yet", value=None),
    ),
    implied=lambda table: (
        FLAT if "tip_flat" in table else ROUND if "tip_radius" in table else SHARP if "tip_angle" in table else None
    ),
)

_OF_PARTS = {
    "thread_dial": (
        _whether_there(
            "Does the carriage have a thread dial indicator, driven by the leadscrew?",
            "Yes",
            "No: the half nuts stay closed",
            "thread_dial",
        ),
    ),
    "spindle": (_SPEEDS,),
    "rotary_table": (_whether_there("Do you have a rotary table or a dividing head?", "Yes", "No", "table"),),
    "cutter": (_POINT,),
}


def _kind_of_dial(name: str) -> Question:
    return Question(
        key=KIND,
        asked=f"What shows the position of {the(name)}?",
        picture="dial",
        options=(
            Option(words="A dial with marks", value=DIAL),
            Option(words="A digital readout", value=READOUT, short="readout", removes=_OF_DIALS),
            Option(words="Nothing, or you do not have one", value=NONE, short="none", removes=(WHOLE,)),
            Option(words="Not answered yet", value=None),
        ),
        implied=lambda table: DIAL if "per_turn" in table else READOUT if is_readout(table) else None,
    )


def _unit_of_dial(name: str) -> Question:
    return Question(
        key=UNIT,
        asked=f"In which unit are the numbers on {the(name)}?",
        how=("Choose the unit that is engraved or shown. The unit of the screw's pitch does not matter.",),
        picture="dial",
        options=(
            Option(words="Millimetres", value="mm"),
            Option(words="Thou: 100 in a turn", value="thou"),
            Option(words="Inches: 0.100 in a turn", value="in"),
        ),
        implied=lambda table: dial_unit(table, unknown=""),
        clashes=in_another_unit,
        when=(DIAL, READOUT),
    )


NOT_ANSWERED = "not answered"
_FIRST_DIALS = ("cross_slide", "compound", "carriage", "tailstock", "boring_head")


def _chapter(part: Part) -> Chapter:
    questions = (*own_questions(part.section, ""), *part.questions())
    return Chapter(section=(part.section,) if part.section else (), title=part.title, questions=questions)


@cache
def dial_chapter(name: str) -> Chapter:
    """Return the chapter with all questions about the dial `name`."""
    questions = (*own_questions("dial", name), *dial.PART.questions(name))
    return Chapter(section=("dial", name), title=dial_words(name).capitalize(), questions=questions)


@cache
def cutter_chapter(name: str) -> Chapter:
    """Return the chapter with all questions about the cutter `name`."""
    questions = (*own_questions(CUTTER.section, ""), *CUTTER.questions())
    return Chapter(section=(CUTTER.section, name), title=f"Cutter {quoted(name)}", questions=questions)


THE_LATHE = _chapter(FIRST_LINES)
"""The questions about the lathe as a whole."""
_PARTS = tuple(_chapter(part) for part in PARTS if part not in (FIRST_LINES, dial.PART, CUTTER))
CUTTERS = Chapter(section=(CUTTER.section,), title=CUTTER.title, questions=())
"""All cutters together. Each cutter has its own questions: see `cutter_chapter`."""


def chapters_of(tables: Mapping[str, Any]) -> tuple[Chapter, ...]:
    """Return all chapters for a lathe.

    These are the chapters that every lathe has, one for each dial that the user added, and one for all cutters.
    """
    assert set(_FIRST_DIALS) == set(DIAL_NAMES)
    others = [name for name in tables.get("dial", {}) if name not in _FIRST_DIALS]
    return (THE_LATHE, *(dial_chapter(name) for name in (*_FIRST_DIALS, *others)), *_PARTS, CUTTERS)


def cutter_chapters(tables: Mapping[str, Any]) -> tuple[Chapter, ...]:
    """Return one chapter for each cutter in the tables of a lathe."""
    return tuple(cutter_chapter(name) for name in tables.get(CUTTER.section, {}))


def first_open(chapter: Chapter, table: Mapping[str, Any]) -> int:
    """Return the index of the first question without a valid answer; 0 if all questions of the chapter have one.

    >>> first_open(THE_LATHE, {"name": "Bench lathe"}), first_open(THE_LATHE, {})
    (1, 0)
    """
    wrong = {problem.key for problem in section_problems(chapter.section, table)}
    questions = enumerate(chapter.asked(table))
    waiting = (at for at, question in questions if question.key in wrong or question.value_in(table) in (None, ""))
    return next(waiting, 0)


def first_problem(chapter: Chapter, table: Mapping[str, Any]) -> Problem | None:
    """Return the first problem in a chapter's table, in the order of the chapter's questions; None if there is none."""
    keys = [question.key for question in chapter.questions]
    problems = section_problems(chapter.section, table)
    return min(
        problems, key=lambda problem: keys.index(problem.key) if problem.key in keys else len(keys), default=None
    )


def summary(chapter: Chapter, table: Mapping[str, Any]) -> str:
    """Return the answers of a chapter in one row of text; "not answered" if there are no answers.

    >>> summary(THE_LATHE, {"name": "Bench lathe", "centre_height": "110 mm"})
    'Bench lathe, centre height 110 mm'
    """
    return ", ".join(answers_in_words(chapter, table)) or NOT_ANSWERED


def answers_in_words(chapter: Chapter, table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the answers of a chapter in words, one text for each answered question, such as "centre height 110 mm"."""
    if chapter == CUTTERS:
        return tuple(f"{name} {answers.get('tip_angle', '')}".strip() for name, answers in table.items())
    words = [word for question in chapter.questions if (word := answer_in_words(question, table))]
    if chapter.dial and KIND not in table and is_readout(table):
        words.insert(0, "readout")
    return tuple(words)


def deleted_answers(chapter: Chapter, question: Question, table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
    """Return, in words, the earlier answers of a chapter that a new answer `value` to a question would delete."""
    removed = question.removes(table, value)
    return tuple(
        word for other in chapter.questions if other.key in removed and (word := answer_in_words(other, table))
    )


def problem_words(chapter: Chapter, table: Mapping[str, Any], problem: Problem) -> str:
    """Return a problem of a chapter in words: the question that is not answered, or the message about a wrong value.

    >>> problem_words(THE_LATHE, {}, Problem(where="", key="name", message="is missing"))
    'not answered: What do you call this lathe?'
    """
    question = next((question for question in chapter.questions if question.key == problem.key), None)
    if question is None:
        return f"{problem.key.replace('_', ' ')}: {problem.message}".strip()
    if problem.key not in table:
        return f"not answered: {question.asked}"
    return f"{question.label or problem.key.replace('_', ' ')}: {problem.message}"


def answer_in_words(question: Question, table: Mapping[str, Any]) -> str:
    """Return the answer to a question with its label, such as "centre height 110 mm"; "" if there is no answer."""
    if question.key not in table:
        return ""
    value = table[question.key]
    option = question.option_of(value)
    if option is not None:
        text = option.short
    elif question.key.startswith(OWN_KEY):
        text = ""
    else:
        text = typed_text(question, value)
    return " ".join(part for part in (question.label, text) if part) if text else ""


def without_own_keys(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table without the keys that only set-up uses, because a lathe file must not contain them."""
    return {key: value for key, value in table.items() if not key.startswith(OWN_KEY)}


def section_problems(section: KeyPath, table: Mapping[str, Any]) -> tuple[Problem, ...]:
    """Return the problems that the lathe file's reader would report for one table of a lathe."""
    if section == CUTTERS.section:
        table = {name: without_own_keys(cutter) for name, cutter in table.items()}
    return problems_in(as_list(_alone(section, without_own_keys(table))))


def _alone(section: KeyPath, table: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables of a lathe that has only one part, so that this part can be checked by itself."""
    lathe: dict[str, Any] = {"format": LATHE_FORMAT, "name": _PROBE_NAME}
    if not section:
        first = {key: value for key, value in table.items() if not isinstance(value, Mapping)}
        return lathe | first
    inner = dict(table)
    for name in reversed(section):
        inner = {name: inner}
    return lathe | inner
