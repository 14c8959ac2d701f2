"""The answer to a question, in two forms: figures under JSON keys, and rows of text with units."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from core.conversion.dial_readings import DialReading
from core.operations.threads.drills import Drill
from core.values.words import Row


class NearDrill(NamedTuple):
    """A drill close in size to a length, and the drill's diameter minus that length [mm]."""

    drill: Drill
    difference_mm: float


@dataclass(frozen=True, kw_only=True)
class Conversion:
    """One question and its answer in every unit."""

    asked: str
    kind: str
    """The kind of answer: "length", "angle", "pitch", "speed", "limits", "fit", "number", or a word such as "force"."""
    figures: Mapping[str, Any]
    """Figures by key. Each key ends with its unit; floats are not rounded."""
    rows: tuple[Row, ...]
    dials: tuple[DialReading, ...] = ()
    drills: tuple[NearDrill, ...] = ()
    threads: tuple[str, ...] = ()
    """The standard threads with this pitch; () if the question is not about a pitch."""
    field_text: str = ""
    """The whole answer as text that a field accepts; "" if no field accepts it."""


def as_data(answer: Conversion) -> dict[str, Any]:
    """Return an answer as plain data for JSON."""
    data: dict[str, Any] = {"asked": answer.asked, "kind": answer.kind, **answer.figures}
    if answer.dials:
        data["dials"] = [reading.as_data() for reading in answer.dials]
    if answer.drills:
        data["drills"] = [
            {"name": near.drill.name, "mm": near.drill.mm, "difference_mm": near.difference_mm}
            for near in answer.drills
        ]
    if answer.threads:
        data["threads"] = list(answer.threads)
    return data


def text_lines(answer: Conversion) -> list[str]:
    """Return an answer as rows of text for a terminal. The first row repeats the question."""
    width = max((len(row.label) for row in answer.rows), default=0)
    return [
        f"{answer.asked}  ({answer.kind})",
        *(f"  {row.label:<{width}}  {row.words}" for row in answer.rows),
    ]
