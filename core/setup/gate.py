"""Whether a part of the lathe is there at all: asked first, where it need not be."""

from collections.abc import Mapping
from typing import Any

from core.setup.question import KIND, NONE, WHOLE, Option, Question

THERE = "there"


def is_there(table: Mapping[str, Any]) -> bool:
    """Tell whether a part is there: said so, or some of it told."""
    return bool(table) and table.get(KIND) != NONE


def gate(asked: str, yes: str, no: str, picture: str) -> Question:
    """Return the question whether a part is there at all."""
    return Question(
        key=KIND,
        label="",
        asked=asked,
        picture=picture,
        options=(
            Option(words=yes, value=THERE),
            Option(words=no, value=NONE, short="none", removes=(WHOLE,)),
            Option(words="Not told yet", value=None),
        ),
        implied=lambda table: THERE if is_there(table) else None,
    )
