"""Questions about the work that the counter asks at a step. Operations declare them."""

from collections.abc import Callable
from typing import Literal, NamedTuple

from core.inputs import RunInput
from core.values.errors import QuantityError
from core.values.quantities import read_quantity


class EnteredSize(NamedTuple):
    """A size that the user typed [mm], and its error [mm]; None if no error was asked for."""

    size_mm: float
    error_mm: float | None = None
    edges_mm: tuple[float, float] | None = None
    """Outer and inner edge, if the size was entered as both."""


class SizeAsked(NamedTuple):
    """A question for one size of the work."""

    what: str
    """What is measured: one of the names in core.inputs.Measured."""
    choice: str
    """What the question is called in a list of questions."""
    question: str
    read: Callable[[str], EnteredSize]
    """Reads the text that the user typed; raises CoreError if it cannot be that size."""
    words: Callable[[float], str]
    """Returns in words what was measured [mm], for the log."""
    detail: tuple[str, ...] = ()
    must_be_chosen: bool = False
    """True if a number typed at once, or sent by an instrument, never means this size."""


class AskedFirst(NamedTuple):
    """A question to ask before the sizes at both ends."""

    name: str
    field: Literal["wire_mm", "major_mm"]
    """The field of core.inputs.Measured that holds the answer."""
    question: str
    detail: tuple[str, ...] = ()


class EndsAsked(NamedTuple):
    """A question for a size at the shoulder end and, if it was measured there too, at the free end."""

    what: str
    choice: str
    name: str
    """What is measured, as a question calls it: "size over the wires"."""
    read: Callable[[str], EnteredSize]
    detail: Callable[[float | None], tuple[str, ...]]
    """Returns the lines below the question, which depend on the answers before it [mm]."""
    before: AskedFirst | None = None


class PlacesAsked(NamedTuple):
    """A question for the diameters at two places along the work."""

    choice: str
    questions: tuple[str, str]
    """One question for each place, the place nearer to the free end first."""
    at_mm: tuple[float, float]
    """How far each place is from the free end."""
    read: Callable[[str], EnteredSize]
    words: Callable[[float, float], str]
    """Returns in words what was measured [mm], for the log."""
    detail: tuple[str, ...] = ()


class ChoiceAsked(NamedTuple):
    """A question with a few answers to choose from. Each answer is an input of the run."""

    choice: str
    question: str
    answers: tuple[tuple[str, RunInput], ...]
    default: int
    """The number of the answer that the cursor starts on, from 0."""
    words: str
    """What the log says before the chosen answer; "" for nothing."""


class ValueAsked(NamedTuple):
    """A question for a value that the job leaves open. The answer is logged as a parameter of the run."""

    choice: str
    """The name of the question in a list to choose from."""
    question: str
    read: Callable[[str], str]
    """Returns a typed value with its unit; raises CoreError for a text that cannot be that value."""
    entered: Callable[[str], RunInput]
    """Returns the input of the run for such a value."""
    name: str
    """Its name in the log line: "over the other bar"."""
    label: str = "Size"
    """What the field is called."""
    unit: str = ""
    """Unit of a bare number."""
    detail: tuple[str, ...] = ()


Asked = SizeAsked | EndsAsked | PlacesAsked | ChoiceAsked | ValueAsked


def read_length(text: str, unit: str, *, above_zero: bool = True) -> EnteredSize:
    """Return a length that was typed; a bare number is in `unit`. Raises QuantityError.

    >>> read_length("1 in", "mm")
    EnteredSize(size_mm=25.4, error_mm=None, edges_mm=None)
    """
    example = f"such as {'1.2 in' if unit == 'in' else f'28.5 {unit}'}"
    if not text.strip():
        raise QuantityError(f"Nothing is entered. Enter a size, {example}.")
    bare = text.strip()[-1].isdecimal()
    value = read_quantity(f"{text} {unit}" if bare else text, "length").value
    if above_zero and value <= 0:
        raise QuantityError(f"The size must be above 0. Enter one, {example}.")
    return EnteredSize(float(value))
