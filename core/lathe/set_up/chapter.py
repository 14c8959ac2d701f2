"""The questions to one part of a lathe: to the keys of its table, and to what set-up alone keeps."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from core.lathe.keys.entry import Question

KeyPath = tuple[str, ...]
"""Where a value stands in a lathe's tables: ("dial", "compound", "per_turn")."""

OWN_KEY = "~"
"""Begins the keys that only set-up keeps and no lathe file holds, such as the unit that a dial is engraved in."""
KIND = "~kind"
UNIT = "~unit"


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
        """Return the questions that make sense with the answers so far."""
        known = next((question.value_in(table) for question in self.questions if question.key == KIND), None)
        return tuple(question for question in self.questions if question.applies(known, table))
