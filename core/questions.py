"""What may be asked about the work at a step, as its operation declares it; the counter asks it."""

from collections.abc import Callable
from typing import Literal, NamedTuple

from core.inputs import RunInput
from core.values.errors import QuantityError
from core.values.quantities import read_quantity


class EnteredSize(NamedTuple):
    """A size that was typed [mm], and how far it may be out; None where that is not asked."""

    size_mm: float
    error_mm: float | None = None


class SizeAsked(NamedTuple):
    """One size of the work."""

    what: str
    """What it is measured as, see core.inputs.Measured."""
    choice: str
    """What it is called where there are several to choose from."""
    question: str
    read: Callable[[str], EnteredSize]
    """Raises CoreError for what cannot be that size."""
    words: Callable[[float], str]
    """Says what was measured [mm], for the line that it is logged."""
    detail: tuple[str, ...] = ()


class AskedFirst(NamedTuple):
    """What is asked before a size at both ends, which alone tells nothing."""

    name: str
    field: Literal["wire_mm", "major_mm"]
    """Where core.inputs.Measured keeps it."""
    question: str
    detail: tuple[str, ...] = ()


class EndsAsked(NamedTuple):
    """A size at the shoulder end and, if it is measured there too, at the free end."""

    what: str
    choice: str
    name: str
    """As it stands within a question: "size over the wires"."""
    read: Callable[[str], EnteredSize]
    detail: Callable[[float | None], tuple[str, ...]]
    """Returns what stands under the question, from what was entered before [mm]."""
    before: AskedFirst | None = None


class PlacesAsked(NamedTuple):
    """Diameters at two places along the work."""

    choice: str
    questions: tuple[str, str]
    """One for each place, the nearer to the free end first."""
    at_mm: tuple[float, float]
    """Where the places are, from the free end."""
    read: Callable[[str], EnteredSize]
    words: Callable[[float, float], str]
    """Says what was measured [mm], for the line that it is logged."""
    detail: tuple[str, ...] = ()


class ChoiceAsked(NamedTuple):
    """One of several answers, each of which is an input."""

    choice: str
    question: str
    answers: tuple[tuple[str, RunInput], ...]
    default: int
    """The answer pointed at, from 0."""
    words: str
    """Goes before the chosen answer where that is logged; "" says it without."""


Asked = SizeAsked | EndsAsked | PlacesAsked | ChoiceAsked


def read_length(text: str, unit: str, *, above_zero: bool = True) -> EnteredSize:
    """Return a length; a bare number counts in `unit`. Raises QuantityError.

    >>> read_length("1 in", "mm")
    EnteredSize(size_mm=25.4, error_mm=None)
    """
    wanted = "a size above 0 is wanted" if above_zero else "a size is wanted"
    if not text.strip():
        raise QuantityError(wanted)
    bare = text.strip()[-1].isdecimal()
    value = read_quantity(f"{text} {unit}" if bare else text, "length").value
    if above_zero and value <= 0:
        raise QuantityError(wanted)
    return EnteredSize(float(value))
