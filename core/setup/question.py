"""What set-up asks: a question to each key of a lathe file, gathered into chapters."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from core.setup.measuring import Finding

KeyPath = tuple[str, ...]
"""Where a value stands in a lathe's tables: ("dial", "compound", "per_turn")."""

Form = Literal["quantity", "text", "ratio", "whole", "number", "wholes", "quantities", "range", "plates"]
"""What a typed answer is in the file; a "range" is two quantities."""

OWN_KEY = "~"
"""Begins the keys that only set-up keeps and no lathe file holds, such as the unit that a dial is engraved in."""
KIND = "~kind"
UNIT = "~unit"
NONE = "none"
WHOLE = "*"
DIAL_UNIT = "dial"
"""As a question's unit: the one that its dial is engraved in."""


class Option(NamedTuple):
    """One of a few answers."""

    words: str
    value: Any
    """What stands under the key; None leaves the key out."""
    short: str = ""
    """As it stands in the list of chapters; "" for what says nothing there."""
    removes: tuple[str, ...] = ()
    """Keys of the same table that make no sense beside it; (WHOLE,): all of them."""
    picture: str = ""
    """Shown while this answer is pointed at, in place of the question's own."""


def _always(table: Mapping[str, Any]) -> bool:
    return True


def _nothing(table: Mapping[str, Any]) -> None:
    return None


def _no_keys(table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
    return ()


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question to one key. It is either answered by one of `options` or typed."""

    key: str
    label: str
    """The answer in the list of chapters: "one turn" (4 mm)."""
    asked: str
    how: tuple[str, ...] = ()
    """How to find out, a paragraph each."""
    picture: str = ""
    options: tuple[Option, ...] = ()
    form: Form = "quantity"
    unit: str = ""
    """Counts for a bare number."""
    example: str = ""
    finding: Finding | None = None
    """What can be measured instead, and what follows from it."""
    applies: Callable[[Mapping[str, Any]], bool] = field(default=_always)
    """Told the table so far: whether the question makes sense."""
    implied: Callable[[Mapping[str, Any]], Any] = field(default=_nothing)
    """Told a table without the key: the answer that the rest of it gives away, None for none."""
    clashes: Callable[[Mapping[str, Any], Any], tuple[str, ...]] = field(default=_no_keys)
    """Told the table so far and an answer: keys of the table that make no sense beside it."""

    def value_in(self, table: Mapping[str, Any]) -> Any:
        """Return the answer that a table holds or gives away, None for none."""
        return table[self.key] if self.key in table else self.implied(table)

    def removes(self, table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
        """Return the keys told in a table that make no sense beside an answer, which leaves them out."""
        option = self.option_of(value)
        named = (*(option.removes if option else ()), *self.clashes(table, value))
        return tuple(key for key in table if key != self.key and (WHOLE in named or key in named))

    def option_of(self, value: Any) -> Option | None:
        """Return the option that stands for a value, None where none does."""
        return next((option for option in self.options if option.value == value), None)


class Chapter(NamedTuple):
    """The questions to one table of the file, or to its first lines where `section` is ()."""

    section: KeyPath
    title: str
    questions: tuple[Question, ...]

    @property
    def name(self) -> str:
        """What it is called in a draft: "dial.compound"."""
        return ".".join(self.section)

    @property
    def dial(self) -> str:
        """The dial that it is about, "" for none."""
        return self.section[1] if self.section[:1] == ("dial",) else ""

    def asked(self, table: Mapping[str, Any]) -> tuple[Question, ...]:
        """Return the questions that make sense with what is told so far."""
        return tuple(question for question in self.questions if question.applies(table))
