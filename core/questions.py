"""The kinds of question about the work that the counter screen can ask. Each operation declares its own questions."""

from collections.abc import Callable
from typing import Literal, NamedTuple

from core.inputs import RunInput
from core.values.errors import QuantityError
from core.values.quantities import read_quantity


class EnteredSize(NamedTuple):
    """A size that the user entered [mm].

    `error_mm` is the uncertainty of the reading [mm]; None if the user was not asked for it.
    """

    size_mm: float
    error_mm: float | None = None
    edges_mm: tuple[float, float] | None = None
    """The diameters over the outer and the inner edge [mm], if the user entered both instead of the size; else None."""


class SizeAsked(NamedTuple):
    """A question for one size of the work."""

    what: str
    """The measured quantity: one of the names in core.inputs.Measured."""
    choice: str
    """The name of the question in a list of questions."""
    question: str
    read: Callable[[str], EnteredSize]
    """Reads the text that the user typed; raises CoreError if the text cannot be this size."""
    words: Callable[[float], str]
    """Returns the measured size in words for the log. Its argument is the size [mm]."""
    detail: tuple[str, ...] = ()
    must_be_chosen: bool = False
    """True if the user must choose this question from the list before typing.

    A number without a choice never answers it.
    """


class AskedFirst(NamedTuple):
    """A question that comes before the questions about the two ends of a thread, such as a question about the wires."""

    name: str
    field: Literal["wire_mm", "major_mm"]
    """The field of core.inputs.Measured that holds the answer."""
    question: str
    detail: tuple[str, ...] = ()


class EndsAsked(NamedTuple):
    """A question about a size of a thread: first at the shoulder end, then at the free end if it was measured too."""

    what: str
    choice: str
    name: str
    """The measured quantity as a question calls it: "size over the wires"."""
    read: Callable[[str], EnteredSize]
    detail: Callable[[float | None], tuple[str, ...]]
    """Returns the rows below the question. Its argument is the answer to the question asked before [mm], or None."""
    before: AskedFirst | None = None


class PlacesAsked(NamedTuple):
    """A question about two diameters, measured at two distances from the free end of the work."""

    choice: str
    questions: tuple[str, str]
    """One question for each place. The place nearer to the free end comes first."""
    at_mm: tuple[float, float]
    """The distance of each place from the free end [mm]."""
    read: Callable[[str], EnteredSize]
    words: Callable[[float, float], str]
    """Returns the two measured diameters in words for the log. Its arguments are the diameters [mm]."""
    detail: tuple[str, ...] = ()


class ChoiceAsked(NamedTuple):
    """A question with a few answers to choose from. Each answer has its text, and the input that it makes."""

    choice: str
    question: str
    answers: tuple[tuple[str, RunInput], ...]
    default: int
    """The number of the answer on which the cursor starts, counted from 0."""
    words: str
    """The words that the log puts before the chosen answer; "" for none."""


class ValueAsked(NamedTuple):
    """A question about a value that is missing from the job. The answer is logged as a parameter of the run."""

    choice: str
    """The name of the question in a list of questions."""
    question: str
    read: Callable[[str], str]
    """Returns a typed value with its unit; raises CoreError for a text that cannot be this value."""
    entered: Callable[[str], RunInput]
    """Returns the input of the run that holds the value."""
    name: str
    """The name of the value in the log: "over the other bar"."""
    label: str = "Size"
    """The label of the field in which the user types."""
    unit: str = ""
    """The unit of a number that is typed without a unit."""
    detail: tuple[str, ...] = ()


Asked = SizeAsked | EndsAsked | PlacesAsked | ChoiceAsked | ValueAsked


def read_length(text: str, unit: str, *, above_zero: bool = True) -> EnteredSize:
    """Return the length that the user entered [mm]. A number without a unit is in `unit`.

    Raises QuantityError for an empty text, for text that is not a length and, if `above_zero` is True, for a length of
    0 or less.

    >>> read_length("1 in", "mm")
    EnteredSize(size_mm=25.4, error_mm=None, edges_mm=None)
    """
    example = f"such as {'1.2 in' if unit == 'in' else f'28.5 {unit}'}"
    if not text.strip():
        raise QuantityError(f"The field is empty. Enter a size, {example}.")
    bare = text.strip()[-1].isdecimal()
    value = read_quantity(f"{text} {unit}" if bare else text, "length").value
    if above_zero and value <= 0:
        raise QuantityError(f"The size must be above 0. Enter a size, {example}.")
    return EnteredSize(float(value))
